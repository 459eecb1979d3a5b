"""Is it the same picture? What is kept of one, and how two are compared."""
