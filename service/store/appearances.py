"""What was on air in earlier editions: by picture and by sender, so that everybody has their turn."""

from __future__ import annotations

from datetime import datetime

from moondesk.service.store.records import Appearance, sender_key
from moondesk.service.store.storage import Storage


def appearances(storage: Storage, last: int | None = None, before: int | None = None) -> tuple[Appearance, ...]:
    """What was on air, the newest edition first.

    last: only in so many editions that had something on air; before: only in editions of lower numbers than this one.
    """
    rows = storage.read(
        """
        with counted as (select id, number from editions where (:before is null or number < :before) and id in
                         (select edition_id from rundown_items where aired_utc is not null)
                         order by number desc limit coalesce(:last, -1))
        select i.picture_id, i.aired_utc, c.number, s.sender_address, s.sender_name, s.place_name from counted c
        join rundown_items i on i.edition_id = c.id and i.aired_utc is not null
        join pictures p on p.id = i.picture_id join submissions s on s.id = p.submission_id
        order by c.number desc, i.position
        """,
        {"last": last, "before": before},
    )
    return tuple(
        Appearance(
            picture_id=row["picture_id"],
            sender=sender_key(row["sender_address"], row["sender_name"]),
            edition_number=row["number"],
            aired_utc=datetime.fromisoformat(row["aired_utc"]),
            place_name=row["place_name"],
        )
        for row in rows
    )
