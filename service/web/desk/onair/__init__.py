"""On air: the page that shows it, the window that drives it, the frames and what was shown."""
