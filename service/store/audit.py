"""What was decided or done for good, line by line: who, when, what. No personal data but the names of accounts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage


@dataclass(frozen=True)
class AuditLine:
    """who: an account, "the command line", "the receipt's link"; empty for what the program does by itself (erasing
    after its time)."""

    when_utc: datetime
    who: str
    what: str


def note(storage: Storage, when_utc: datetime, who: str, what: str) -> None:
    """Add a line, within the transaction that does what it tells."""
    storage.execute("insert into audit (when_utc, who, what) values (?, ?, ?)", [time_text(when_utc), who, what])


def lines(storage: Storage, limit: int, offset: int = 0) -> tuple[AuditLine, ...]:
    """The newest lines first."""
    rows = storage.read("select when_utc, who, what from audit order by id desc limit ? offset ?", [limit, offset])
    return tuple(AuditLine(datetime.fromisoformat(r["when_utc"]), r["who"], r["what"]) for r in rows)


def count(storage: Storage) -> int:
    return int(storage.read("select count(*) as n from audit")[0]["n"])
