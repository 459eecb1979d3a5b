"""What the page on air showed, step by step, and between which times an edition was on air.

A step is kept whenever one is made: which of them the audience saw is told by the times, which somebody may note or put
right afterwards. Where a sender is forgotten, only the time of the step stays.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from moondesk.service.store.records import LoggedStep, OnAirTime
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

_FIELDS = ("kind", "item_id", "picture_id", "view", "feature", "layers", "credit")
_OTHER = ("other_item_id", "other_picture_id", "other_credit")


def note_step(storage: Storage, edition_id: int, step: LoggedStep) -> bool:
    """Keep a step; False where it shows the same as the one before it."""
    row = {
        "kind": step.kind,
        "item_id": step.item_id,
        "picture_id": step.picture_id,
        "view": step.view,
        "feature": step.feature,
        "layers": json.dumps(step.layers, ensure_ascii=False),
        "credit": step.credit,
        **{name: getattr(step, name) for name in _OTHER},
    }
    with storage.writing():
        last = storage.read("select * from air_log where edition_id = ? order by id desc limit 1", [edition_id])
        if last and all(last[0][name] == row[name] for name in (*_FIELDS, *_OTHER)):
            return False
        storage.insert("air_log", {"edition_id": edition_id, "begin_utc": time_text(step.begin_utc), **row})
    return True


def steps(storage: Storage, edition_id: int) -> tuple[LoggedStep, ...]:
    """In the order of their times."""
    rows = storage.read("select * from air_log where edition_id = ? order by begin_utc, id", [edition_id])
    return tuple(_step(row) for row in rows)


def on_air_times(storage: Storage, edition_id: int) -> tuple[OnAirTime, ...]:
    """As people noted them, in order."""
    rows = storage.read("select * from air_times where edition_id = ? order by begin_utc, id", [edition_id])
    return tuple(
        OnAirTime(datetime.fromisoformat(row["begin_utc"]), text_time(row["end_utc"]), row["who"]) for row in rows
    )


def go_on_air(storage: Storage, edition_id: int, who: str, now: datetime) -> bool:
    """Note that an edition is on air from now; False where it is."""
    with storage.writing():
        if any(time.end_utc is None for time in on_air_times(storage, edition_id)):
            return False
        told = {"edition_id": edition_id, "begin_utc": time_text(now), "end_utc": None, "who": who}
        storage.insert("air_times", told)
    return True


def go_off_air(storage: Storage, edition_id: int, now: datetime) -> bool:
    """Note that an edition is off air from now; False where it is not on air."""
    with storage.writing():
        if all(time.end_utc is not None for time in on_air_times(storage, edition_id)):
            return False
        storage.execute(
            "update air_times set end_utc = ? where edition_id = ? and end_utc is null", [time_text(now), edition_id]
        )
    return True


def set_on_air_time(storage: Storage, edition_id: int, begin: datetime, end: datetime, who: str) -> None:
    """Put another time in the place of all that were noted. ValueError where it ends before it begins."""
    if end <= begin:
        raise ValueError("it ends before it begins")
    with storage.writing():
        storage.execute("delete from air_times where edition_id = ?", [edition_id])
        told = {"edition_id": edition_id, "begin_utc": time_text(begin), "end_utc": time_text(end), "who": who}
        storage.insert("air_times", told)


def nameless(storage: Storage, picture_ids_sql: str, values: Sequence[Any]) -> None:
    """Within a transaction, before pictures are erased: of their steps only edition and time stay."""
    storage.execute(
        "update air_log set item_id = null, picture_id = null, view = '', feature = '', layers = '[]', credit = '' "
        f"where picture_id in ({picture_ids_sql})",
        values,
    )
    # the layer of the second picture is called by its sender's name
    storage.execute(
        "update air_log set other_item_id = null, other_picture_id = null, other_credit = '', layers = (select "
        "json_group_array(json(value)) from json_each(layers) where json_extract(value, '$[0]') <> 'against') "
        f"where other_picture_id in ({picture_ids_sql})",
        values,
    )


def _step(row: dict[str, Any]) -> LoggedStep:
    return LoggedStep(
        begin_utc=datetime.fromisoformat(row["begin_utc"]),
        kind=row["kind"],
        item_id=row["item_id"],
        picture_id=row["picture_id"],
        view=row["view"],
        feature=row["feature"],
        layers=tuple((kind, title) for kind, title in json.loads(row["layers"])),
        credit=row["credit"],
        **{name: row[name] for name in _OTHER},
    )
