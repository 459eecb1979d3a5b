"""What goes on air: the page that shows it, the window that drives it, what was not seen to before."""
