"""Accuracy runs and benchmarks, by hand: python -m tests.benchmarks.NAME; what they gave stands in RESULTS.md."""
