"""Placements as they were recorded, so that a change of the code that moves one is noticed: numbers and names only."""
