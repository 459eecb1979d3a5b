"""The collection day by day: what a night and a month of many senders give together, and what leaves as files."""
