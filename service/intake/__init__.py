"""What arrives, and what it says: folders, mails, tables and archives to submissions."""
