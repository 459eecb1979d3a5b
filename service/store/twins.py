"""Pictures that are, or may be, the same as others: whose wish counts for one, counts for the other."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from moondesk.service.store.listings import PICTURES
from moondesk.service.store.records import SentPicture
from moondesk.service.store.rows import picture_of
from moondesk.service.store.storage import Storage


def twins_by_picture(storage: Storage, rows: Sequence[dict[str, Any]]) -> dict[int, tuple[SentPicture, ...]]:
    """By id, of those of a listing's rows that have some; what was parted by a person is none."""
    ids = {row["p_id"]: json.loads(row["twins"]) for row in rows if row["p_id"] is not None and row["twins"] != "[]"}
    if not ids:
        return {}
    sql = PICTURES + " where p.id in (select value from json_each(?))"
    wanted = json.dumps(sorted({k for twins in ids.values() for k in twins}))
    found = {row["p_id"]: picture_of(row) for row in storage.read(sql, [wanted])}
    return {k: tuple(found[t] for t in twins if t in found) for k, twins in ids.items()}
