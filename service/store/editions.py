"""Editions as they are planned anew: changed, and counted anew when the programme's day rule changes."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.store import audit
from moondesk.service.store.records import Edition, EditionPlan
from moondesk.service.store.rows import time_text

if TYPE_CHECKING:
    from moondesk.service.store.storage import Storage


def add_edition(storage: Storage, plan: EditionPlan, now: datetime, who: str) -> None:
    """Raises BadInputError where the number is taken."""
    if any(e.plan.number == plan.number for e in storage.editions()):
        raise BadInputError(f"There is an edition {plan.number} already.", "Choose another number.")
    storage.add_edition(plan)
    with storage.writing():
        audit.note(storage, now, who, f"edition {plan.number} added")


def change_edition(storage: Storage, before: Edition, plan: EditionPlan, now: datetime, who: str) -> None:
    """Raises BadInputError where the number is another's, or somebody changed the edition since `before` was read."""
    with storage.writing():
        editions = {e.id: e for e in storage.editions()}
        if before.id not in editions:
            raise NotStoredError(f"There is no edition {before.plan.number}.", "Go back to the editions.")
        if editions[before.id] != before:
            raise BadInputError("Somebody changed this edition meanwhile.", "Load its page again.")
        if any(e.plan.number == plan.number and e.id != before.id for e in editions.values()):
            raise BadInputError(f"There is an edition {plan.number} already.", "Choose another number.")
        storage.execute(
            "update editions set number = ?, kind = ?, recording_utc = ?, air_utc = ?, evenings = ?, day_number = ? "
            "where id = ?",
            [
                plan.number,
                plan.kind,
                time_text(plan.recording_utc),
                time_text(plan.air_utc),
                json.dumps([e.isoformat() for e in plan.evenings]),
                plan.day_number,
                before.id,
            ],
        )
        named = f"edition {before.plan.number}" + (f", now {plan.number}," if plan.number != before.plan.number else "")
        audit.note(storage, now, who, f"{named} changed")


def count_anew(storage: Storage, day_of: Callable[[EditionPlan], int | None]) -> None:
    """Set every edition's day number by the rule as it is now."""
    with storage.writing():
        for edition in storage.editions():
            storage.execute("update editions set day_number = ? where id = ?", [day_of(edition.plan), edition.id])
