"""Copies in the store: what is kept of a picture to find them, which pairs were found, and what a person said of them.

A picture's sketch is written with its annotation and waits until it was compared; the pairs found are written in the
transaction that notes it done, so that a killed program loses none. Pairs that stand (found by the tool as versions and
not parted by a person, or joined by a person) make groups; `pictures.version_of` names the best of each.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, Literal

from moondesk.service.errors import NotStoredError
from moondesk.service.store.messages import message_of
from moondesk.service.store.records import Pair, SketchRow
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

_KEPT = """
    select k.picture_id, p.sha256, s.sender_address, s.sender_name, s.channel,
           substr(k.sketch, 1, :bytes) as sketch,
           k.north_screen_deg, k.mirrored, k.libration_lat_deg, k.libration_lon_deg, k.sub_solar_lon_deg, k.clock
    from sketches k join pictures p on p.id = k.picture_id join submissions s on s.id = p.submission_id
"""
#: Pairs by which two pictures count as one.
_STANDS = "(decided = 'same' or (kind = 'version_of' and decided is null))"


def keep_sketch(storage: Storage, row: SketchRow) -> None:
    """Within a transaction: keep a picture's sketch; it is compared anew only where it has changed."""
    storage.execute(
        """
        insert into sketches (picture_id, sketch, north_screen_deg, mirrored, libration_lat_deg, libration_lon_deg,
                              sub_solar_lon_deg, clock) values (?, ?, ?, ?, ?, ?, ?, ?)
        on conflict (picture_id) do update set compared = iif(sketch = excluded.sketch, compared, 'waits'),
        sketch = excluded.sketch, north_screen_deg = excluded.north_screen_deg, mirrored = excluded.mirrored,
        libration_lat_deg = excluded.libration_lat_deg, libration_lon_deg = excluded.libration_lon_deg,
        sub_solar_lon_deg = excluded.sub_solar_lon_deg, clock = excluded.clock
        """,
        [row.picture_id, row.sketch, *(row.stance or (None,) * 5), row.clock],
    )


def keep_geometry(storage: Storage, row: SketchRow) -> None:
    """Within a transaction: a picture was placed anew from the same pixels; its sketch stays, if there is one."""
    storage.execute(
        """
        update sketches set north_screen_deg = ?, mirrored = ?, libration_lat_deg = ?, libration_lon_deg = ?,
        sub_solar_lon_deg = ? where picture_id = ?
        """,
        [*(row.stance or (None,) * 5), row.picture_id],
    )


def ids_with_sketch(storage: Storage) -> set[int]:
    """Ids of all pictures with a sketch."""
    return {row["picture_id"] for row in storage.read("select picture_id from sketches")}


def sketch_rows(storage: Storage, picture_ids: Sequence[int], sketch_bytes: int = 1 << 30) -> tuple[SketchRow, ...]:
    """What is kept of pictures, by id; of each sketch at most so many bytes."""
    sql = _KEPT + " where k.picture_id in (select value from json_each(:ids)) order by k.picture_id"
    return tuple(
        _sketch_row(row) for row in storage.read(sql, {"bytes": sketch_bytes, "ids": json.dumps(list(picture_ids))})
    )


def waiting_ids(storage: Storage, limit: int, besides: Iterable[int] = ()) -> tuple[int, ...]:
    """Pictures that wait to be compared, at most `limit`, those named left out."""
    left_out = set(besides)
    rows = storage.read(
        "select picture_id from sketches where compared = 'waits' order by picture_id limit ?", [limit + len(left_out)]
    )
    return tuple(row["picture_id"] for row in rows if row["picture_id"] not in left_out)[:limit]


def settle(storage: Storage, picture_id: int, pairs: Sequence[Pair], failed: bool = False) -> bool:
    """Note that a picture was compared, and the pairs found, all or nothing. A pair that is known stays as it is.

    False where the picture is gone, its sender's wish having come between: nothing is noted.
    """
    with storage.writing() as execute:
        if not execute(
            "update sketches set compared = ? where picture_id = ?", ["failed" if failed else "done", picture_id]
        ):
            return False
        for pair in pairs:
            execute(
                """
                insert or ignore into versions (picture_id, other_id, kind, better_id, words, unexplained)
                select :picture, :other, :kind, :better, :words, :unexplained
                where exists (select 1 from pictures where id = :other)
                """,
                {
                    "picture": pair.picture_id,
                    "other": pair.other_id,
                    "kind": pair.kind,
                    "better": pair.better_id,
                    "words": pair.message.kept,
                    "unexplained": pair.unexplained,
                },
            )
        if pairs:
            _regroup(storage, picture_id)
    return True


def pairs_of(storage: Storage, picture_id: int) -> tuple[Pair, ...]:
    """All pairs that a picture is in, the oldest first."""
    rows = storage.read(
        "select * from versions where picture_id = :id or other_id = :id order by id", {"id": picture_id}
    )
    return tuple(_pair(row) for row in rows)


def decide(
    storage: Storage, pair_id: int, decision: Literal["same", "different"] | None, who: str, when: datetime
) -> Pair:
    """Note what a person says of a pair; None takes it back. Raises NotStoredError."""
    with storage.writing() as execute:
        rows = storage.read("select * from versions where id = ?", [pair_id])
        if not rows:
            raise NotStoredError("There is no such pair of pictures any more.", "Go back to the list.")
        execute(
            "update versions set decided = ?, decided_by = ?, decided_utc = ? where id = ?",
            [decision, who, time_text(when), pair_id],
        )
        for picture_id in (rows[0]["picture_id"], rows[0]["other_id"]):  # parted: each in its own group again
            _regroup(storage, picture_id)
        return _pair(storage.read("select * from versions where id = ?", [pair_id])[0])


def group_of(storage: Storage, picture_id: int) -> tuple[int, ...]:
    """Ids of all versions of a picture, itself among them, in order."""
    rows = storage.read(
        f"""
        with recursive standing as (select picture_id as a, other_id as b from versions where {_STANDS}
                                    union select other_id, picture_id from versions where {_STANDS}),
        linked (id) as (select :id union select b from standing join linked on a = linked.id)
        select id from linked order by id
        """,
        {"id": picture_id},
    )
    return tuple(row["id"] for row in rows)


def best_of(storage: Storage, picture_id: int) -> int:
    """The best of all versions of a picture; itself where it is that, or is not there."""
    rows = storage.read("select version_of from pictures where id = ? and version_of is not null", [picture_id])
    return int(rows[0]["version_of"]) if rows else picture_id


def erase_copies(storage: Storage, picture_ids_sql: str, values: Sequence[Any]) -> None:
    """Within a transaction: erase what is kept of pictures; of their versions the best is found anew."""
    touched = {
        row["id"]
        for row in storage.read(
            f"""
        select other_id as id from versions where picture_id in ({picture_ids_sql})
        union select picture_id from versions where other_id in ({picture_ids_sql})
        """,
            [*values, *values],
        )
    }
    storage.execute(
        f"delete from versions where picture_id in ({picture_ids_sql}) or other_id in ({picture_ids_sql})",
        [*values, *values],
    )
    storage.execute(f"delete from sketches where picture_id in ({picture_ids_sql})", values)
    for picture_id in sorted(touched):
        _regroup(storage, picture_id)


def _regroup(storage: Storage, picture_id: int) -> None:
    """Name the best in the group of a picture."""
    members = group_of(storage, picture_id)
    marks = ", ".join("?" * len(members))
    rows = storage.read(
        f"select picture_id, other_id, better_id from versions where {_STANDS} "
        f"and picture_id in ({marks}) and other_id in ({marks})",
        [*members, *members],
    )
    worse = {row["picture_id"] + row["other_id"] - row["better_id"] for row in rows}
    best = min([m for m in members if m not in worse] or members)  # none: the verdicts run in a circle
    storage.execute(f"update pictures set version_of = nullif(?, id) where id in ({marks})", [best, *members])


def _sketch_row(row: dict[str, Any]) -> SketchRow:
    stance = (
        (
            row["north_screen_deg"],
            bool(row["mirrored"]),
            row["libration_lat_deg"],
            row["libration_lon_deg"],
            row["sub_solar_lon_deg"],
        )
        if row["north_screen_deg"] is not None
        else None
    )
    return SketchRow(
        picture_id=row["picture_id"],
        sketch=bytes(row["sketch"]),
        stance=stance,
        clock=row["clock"],
        sha256=row["sha256"] or "",
        sender_address=row["sender_address"],
        sender_name=row["sender_name"],
        channel=row["channel"],
    )


def _pair(row: dict[str, Any]) -> Pair:
    return Pair(
        picture_id=row["picture_id"],
        other_id=row["other_id"],
        kind=row["kind"],
        better_id=row["better_id"],
        message=message_of(row["words"]),
        unexplained=row["unexplained"],
        id=row["id"],
        decided=row["decided"],
        decided_by=row["decided_by"] or "",
        decided_utc=text_time(row["decided_utc"]),
    )
