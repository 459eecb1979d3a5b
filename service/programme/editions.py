"""Which edition is next to air: the desk opens with it, and what comes in goes to it. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from moondesk.service.store.records import Edition


def waiting(editions: Sequence[Edition], now: datetime) -> list[Edition]:
    """Those that are not aired yet, the lowest number first."""
    left = [e for e in editions if e.plan.air_utc is None or e.plan.air_utc > now]
    return sorted(left, key=lambda e: e.plan.number)


def next_to_air(editions: Sequence[Edition], chosen: int | None, now: datetime) -> Edition | None:
    """The chosen number's while it is not aired; else the lowest not aired; else the newest. None: there are none."""
    left = waiting(editions, now)
    picked = [e for e in left if e.plan.number == chosen] or left
    return picked[0] if picked else max(editions, key=lambda e: e.plan.number, default=None)
