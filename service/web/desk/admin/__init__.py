"""The programme: its people, settings and editions, and the list of what was done for good."""
