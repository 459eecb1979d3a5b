"""The rundown: what goes on air, in which order, for how long, and what cannot yet."""
