"""What was decided or done for good, line by line: who, when, what. No personal data but the names of accounts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from moondesk.service.store.messages import StoredMessage, message, message_of
from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage


@dataclass(frozen=True)
class AuditLine:
    """who: an account, "the command line", "the receipt's link"; empty for what the program does by itself (erasing
    after its time)."""

    when_utc: datetime
    who: str
    message: StoredMessage

    @property
    def what(self) -> str:
        return self.message.words()


def note(storage: Storage, when_utc: datetime, who: str, code: str, **values: object) -> None:
    """Add a line, within the transaction that does what it tells. code, values: see `messages`."""
    kept = message(code, **values).kept
    storage.execute("insert into audit (when_utc, who, what) values (?, ?, ?)", [time_text(when_utc), who, kept])


def lines(storage: Storage, limit: int, offset: int = 0) -> tuple[AuditLine, ...]:
    """The newest lines first."""
    rows = storage.read("select when_utc, who, what from audit order by id desc limit ? offset ?", [limit, offset])
    return tuple(AuditLine(datetime.fromisoformat(r["when_utc"]), r["who"], message_of(r["what"])) for r in rows)


def count(storage: Storage) -> int:
    return int(storage.read("select count(*) as n from audit")[0]["n"])
