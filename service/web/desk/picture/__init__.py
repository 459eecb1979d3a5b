"""One picture: its page, facts, views, copies, and corrections by hand."""
