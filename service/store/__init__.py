"""The store: all SQL, its records, copies of it, and how a person is forgotten."""
