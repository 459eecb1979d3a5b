"""Pictures as they were sent, with what is known and decided about them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from moondesk.service.errors import NotStoredError
from moondesk.service.store.listings import PICTURES
from moondesk.service.store.records import Counts, ListedPicture, SentPicture
from moondesk.service.store.rows import listed_picture_of, picture_of
from moondesk.service.store.storage import Storage
from moondesk.service.store.twins import twins_by_picture


def read_picture(storage: Storage, picture_id: int, as_sent: bool = False) -> SentPicture:
    """One picture with its submission. as_sent: without what people have decided since. Raises NotStoredError."""
    for row in storage.read(PICTURES + " where p.id = ?", [picture_id]):
        return picture_of({**row, "decisions": "[]"} if as_sent else row)
    raise NotStoredError(f"There is no picture {picture_id}.", "Go back to the list.")


def list_pictures(storage: Storage, edition_id: int, limit: int = 60, offset: int = 0) -> tuple[ListedPicture, ...]:
    """An edition's pictures with their summaries, the last received first; of several versions the best alone."""
    order = "order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc, p.position"
    # which first, then all about them: else all is put together for every picture of the edition, and sorted
    sql = f"""{PICTURES} where p.id in (
        select p.id from pictures p join submissions s on s.id = p.submission_id
        where s.edition_id = ? and p.version_of is null {order} limit ? offset ?) {order}
    """
    return tuple(_with_twins(storage, list(storage.read(sql, [edition_id, limit, offset]))))


def list_by_id(storage: Storage, picture_ids: Sequence[int]) -> tuple[ListedPicture, ...]:
    """Pictures of these ids with their summaries, in their order; what is not there is left out."""
    sql = PICTURES + " where p.id in (select value from json_each(?))"
    rows = list(storage.read(sql, [json.dumps(list(picture_ids))]))
    found = {listed.picture.id: listed for listed in _with_twins(storage, rows)}
    return tuple(found[k] for k in picture_ids if k in found)


def _with_twins(storage: Storage, rows: Sequence[dict[str, Any]]) -> Iterator[ListedPicture]:
    twins = twins_by_picture(storage, rows)
    for row in rows:
        listed = listed_picture_of(row)
        yield replace(listed, twins=twins[row["p_id"]]) if row["p_id"] in twins else listed


def list_picture_ids(storage: Storage, submission_id: int) -> tuple[int, ...]:
    """Ids of a submission's pictures, in their order. Raises NotStoredError."""
    ids = tuple(
        row["id"]
        for row in storage.read("select id from pictures where submission_id = ? order by position", [submission_id])
    )
    if not ids:
        raise NotStoredError("This submission is not here any more.", "Go back to the list.")
    return ids


def neighbours_of(storage: Storage, picture_id: int) -> tuple[int | None, int | None]:
    """Ids of the pictures before and after one in its edition's list."""
    sql = """
        with mine as (select s.edition_id from pictures p join submissions s on s.id = p.submission_id
                      where p.id = :id),
        listed as (
            select p.id, lag(p.id) over list as before, lead(p.id) over list as after
            from pictures p join submissions s on s.id = p.submission_id
            where s.edition_id = (select edition_id from mine) and (p.version_of is null or p.id = :id)
            window list as (order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc, p.position))
        select before, after from listed where id = :id
    """
    for row in storage.read(sql, {"id": picture_id}):
        return row["before"], row["after"]
    return None, None


def count_pictures(storage: Storage, edition_id: int) -> Counts:
    """How many of an edition's pictures stand where; several versions of one count once."""
    sql = f"""
        select count(*) as total,
               coalesce(sum(refused is not null), 0) as refused,
               coalesce(sum(refused is null and status is null), 0) as waiting,
               coalesce(sum(status = 'annotated' and sure), 0) as sure,
               coalesce(sum(status = 'annotated' and not sure), 0) as unsure
        from ({PICTURES} where s.edition_id = ? and p.version_of is null)
    """
    (row,) = storage.read(sql, [edition_id])
    rest = row["total"] - row["refused"] - row["waiting"] - row["sure"] - row["unsure"]
    return Counts(
        total=row["total"],
        sure=row["sure"],
        unsure=row["unsure"],
        not_placed=rest,
        refused=row["refused"],
        waiting=row["waiting"],
    )


def sent_often(storage: Storage, hashes: Sequence[str], times: int) -> frozenset[str]:
    """Which of some files came at least so many times before, each time with another mail."""
    rows = storage.read(
        """
        select sha256 from pictures where sha256 in (select value from json_each(:hashes))
        group by sha256 having count(distinct submission_id) >= :times
        """,
        {"hashes": json.dumps(list(hashes)), "times": times},
    )
    return frozenset(row["sha256"] for row in rows)
