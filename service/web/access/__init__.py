"""Who may come in: from where, who, with which password; set-up, log-in, one's own account."""
