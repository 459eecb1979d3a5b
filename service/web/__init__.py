"""What both web applications stand on; their templates and static files."""
