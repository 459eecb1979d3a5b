"""Who acts at the desk. While there are no accounts it is whoever sits at this machine."""

from __future__ import annotations

from dataclasses import dataclass

from service.store.accounts import Role


@dataclass(frozen=True)
class Actor:
    """Who does what this request asks for. name: as it stands in records ("by whom") and in the audit list."""

    name: str
    role: Role


#: While no account exists: whoever sits at this machine.
NOBODY_ELSE = Actor("desk", "presenter")


def actor() -> Actor:
    """The one who acts in this request. Call it in any view: a request that nobody may make does not come this far."""
    return NOBODY_ELSE
