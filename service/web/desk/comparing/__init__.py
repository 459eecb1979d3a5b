"""Pictures laid beside one another in one frame of the Moon."""
