"""Placing in worker processes, and what is made of a placed picture."""
