"""Frames for air: a placed picture composed for a broadcast, its layers one by one, each inside the safe areas."""
