"""What came in: the inbox with its groups and order, pictures put in by hand, drafts of replies."""
