"""The presenter's pages: the desk."""
