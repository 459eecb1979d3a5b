"""The Moon itself: its geometry, maps, light and named features."""
