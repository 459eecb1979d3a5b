"""What is said of a picture: its time, trust, what it is not, what can be made out."""
