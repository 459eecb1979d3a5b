"""What goes on air: comparing, the rundown, the evenings to come."""
