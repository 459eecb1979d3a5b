"""Accounts, their sessions and their tokens for programs; secrets are kept as hashes only."""

from __future__ import annotations

from typing import Literal

#: A helper works on the pictures; a presenter also decides about people, settings and editions.
Role = Literal["helper", "presenter"]
