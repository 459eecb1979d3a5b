"""Consent in a sender's words: what was said, and what makes it doubtful."""
