"""Editions: added, planned anew, and counted anew when the programme's day rule changes."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.store import audit
from moondesk.service.store.records import Edition, EditionPlan
from moondesk.service.store.rows import edition_of, time_text
from moondesk.service.store.storage import Storage


def add_edition(storage: Storage, plan: EditionPlan, now: datetime, who: str = "") -> Edition:
    """who: "" where the program makes it by itself. Raises BadInputError where the number is taken."""
    with storage.writing():
        _check_number(plan, list_editions(storage))
        edition_id = storage.insert("editions", _row(plan))
        audit.note(storage, now, who, "edition_added", number=plan.number)
    return Edition(edition_id, plan)


def list_editions(storage: Storage) -> tuple[Edition, ...]:
    """All editions, the newest number first."""
    return tuple(edition_of(row) for row in storage.read("select * from editions order by number desc"))


def read_edition(storage: Storage, number: int) -> Edition:
    """The edition of a number. Raises NotStoredError."""
    for row in storage.read("select * from editions where number = ?", [number]):
        return edition_of(row)
    raise NotStoredError(f"There is no edition {number}.", "Go back to the list.")


def change_edition(storage: Storage, before: Edition, plan: EditionPlan, now: datetime, who: str) -> None:
    """Raises BadInputError where the number is another's, or somebody changed the edition since `before` was read."""
    with storage.writing():
        editions = {e.id: e for e in list_editions(storage)}
        if before.id not in editions:
            raise NotStoredError(f"There is no edition {before.plan.number}.", "Go back to the editions.")
        if editions[before.id] != before:
            raise BadInputError("Somebody changed this edition meanwhile.", "Load its page again.")
        _check_number(plan, (e for e in editions.values() if e.id != before.id))
        row = _row(plan)
        columns = ", ".join(f"{name} = ?" for name in row)
        storage.execute(f"update editions set {columns} where id = ?", [*row.values(), before.id])
        if plan.number == before.plan.number:
            audit.note(storage, now, who, "edition_changed", number=plan.number)
        else:
            audit.note(storage, now, who, "edition_renumbered", number=before.plan.number, now=plan.number)


def count_anew(storage: Storage, day_of: Callable[[EditionPlan], int | None]) -> None:
    """Set every edition's day number by the rule as it is now."""
    with storage.writing():
        for edition in list_editions(storage):
            storage.execute("update editions set day_number = ? where id = ?", [day_of(edition.plan), edition.id])


def _check_number(plan: EditionPlan, others: Iterable[Edition]) -> None:
    if any(e.plan.number == plan.number for e in others):
        raise BadInputError(f"There is an edition {plan.number} already.", "Choose another number.")


def _row(plan: EditionPlan) -> dict[str, Any]:
    return {
        "number": plan.number,
        "kind": plan.kind,
        "recording_utc": time_text(plan.recording_utc),
        "air_utc": time_text(plan.air_utc),
        "evenings": json.dumps([e.isoformat() for e in plan.evenings]),
        "day_number": plan.day_number,
    }
