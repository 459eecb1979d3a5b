"""How many forms the upload page turned away, by hour and reason: nobody's name, a number for the desk."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage


def add(storage: Storage, now: datetime, counts: Mapping[str, int]) -> None:
    """Count further ones. counts: by reason."""
    hour = time_text(now.replace(minute=0, second=0, microsecond=0))
    with storage.writing():
        for reason, count in counts.items():
            storage.execute(
                "insert into turned_away values (?, ?, ?) on conflict (hour_utc, reason) do update set "
                "count = count + excluded.count",
                [hour, reason, count],
            )


def since(storage: Storage, begin: datetime) -> Mapping[str, int]:
    """By reason, of the hours that ended after `begin`."""
    hour = time_text(begin.replace(minute=0, second=0, microsecond=0))
    rows = storage.read(
        "select reason, sum(count) as count from turned_away where hour_utc >= ? group by reason order by reason",
        [hour],
    )
    return {row["reason"]: row["count"] for row in rows}
