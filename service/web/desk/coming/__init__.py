"""The evenings to come."""
