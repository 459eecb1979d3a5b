"""Frames that are not one picture's own: several pictures in one, what the light has changed, the Moon to come."""
