"""Shared by all tests. Lying in the package `tests`, it makes `from tests.scenes import ...` work everywhere."""
