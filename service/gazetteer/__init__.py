"""Towns of the world by their names in any script, offline: see `towns`."""
