"""The tour of a picture in the rundown: its views in their order, as somebody chose them."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime

from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage
from moondesk.tour.views import Tour, View, ViewKind


def kept_tour(storage: Storage, item_id: int) -> Tour:
    """As somebody chose it; empty where nobody has."""
    rows = storage.read("select views from tours where item_id = ?", [item_id])
    told = json.loads(rows[0]["views"]) if rows else []
    return tuple(View(**{**view, "kind": ViewKind(view["kind"])}) for view in told)


def compared_with(storage: Storage, edition_id: int) -> frozenset[int]:
    """Items, of this rundown or others, that pictures of an edition's rundown are compared with in their tours."""
    rows = storage.read(
        "select t.views from tours t join rundown_items i on i.id = t.item_id where i.edition_id = ?", [edition_id]
    )
    numbers = (view.get("against", 0) for row in rows for view in json.loads(row["views"]))
    return frozenset(n for n in numbers if n)


def keep_tour(storage: Storage, item_id: int, tour: Tour, who: str, now: datetime) -> None:
    """The last choice counts; an empty one takes it back."""
    with storage.writing():
        if not tour:
            storage.execute("delete from tours where item_id = ?", [item_id])
            return
        views = json.dumps([asdict(view) for view in tour], ensure_ascii=False)
        storage.execute("insert or replace into tours values (?, ?, ?, ?)", [item_id, views, who, time_text(now)])
