"""The rundown of each edition: which pictures stand in it, in which order, and what was changed by whom.

Two people work in it at once. Each change names the version that its maker saw; what others changed since is looked up
in the history, and only where it is the same item's same field (or place) nothing is done and both are told. Nothing is
deleted: what is taken out keeps its place and all that was typed, until its sender is forgotten.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from types import MappingProxyType
from typing import Any

from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.store import aired
from moondesk.service.store.messages import words_of
from moondesk.service.store.rows import NOT_USABLE, text_time, time_text
from moondesk.service.store.rundown_items import (
    DEFAULT_SECONDS,
    FIELDS,
    MOST_ITEMS,
    Added,
    Clash,
    Rundown,
    RundownChange,
    RundownChangedError,
    RundownItem,
    Value,
    merge,
    move_after,
    value_text,
)
from moondesk.service.store.storage import Storage

GONE = "Go back to the rundown; what its sender takes back is gone for good."
# A better version may have come in after the pick; the same picture may have been on air in an edition before.
_ITEMS = """
    select i.*, p.version_of,
           (select json_group_array(number) from (
                select distinct e.number from pictures q
                join rundown_items was on was.picture_id = q.id and was.aired_utc is not null
                join editions e on e.id = was.edition_id
                where (q.id in (p.id, p.version_of) or q.version_of = p.id) and e.number < mine.number
                order by e.number)) as aired_before
    from rundown_items i join pictures p on p.id = i.picture_id join editions mine on mine.id = i.edition_id
"""


def rundown(storage: Storage, edition_id: int) -> Rundown:
    """An edition's rundown; an empty one where nothing was picked yet."""
    rows = storage.read("select * from rundowns where edition_id = ?", [edition_id])
    head: dict[str, Any] = rows[0] if rows else {"version": 0, "seconds": None, "withdrawn": 0}
    items = [_item(row) for row in storage.read(_ITEMS + " where i.edition_id = ? order by i.position", [edition_id])]
    out = sorted((i for i in items if i.out_utc), key=lambda i: (i.out_utc, i.id), reverse=True)
    return Rundown(
        edition_id=edition_id,
        version=head["version"],
        seconds=head["seconds"],
        items=tuple(i for i in items if i.out_utc is None),
        out=tuple(out),
        withdrawn=head["withdrawn"],
    )


def item_of(storage: Storage, item_id: int) -> RundownItem | None:
    """An item of whichever edition's rundown."""
    rows = storage.read(_ITEMS + " where i.id = ?", [item_id])
    return _item(rows[0]) if rows else None


def just_in(storage: Storage, edition_id: int, most: int = 3) -> tuple[int, ...]:
    """Pictures that came in last for an edition, are placed, and were never picked for it; the newest first."""
    rows = storage.read(
        f"""
        select p.id from submissions s join pictures p on p.submission_id = s.id
        join annotations a on a.id = (select max(id) from annotations where picture_id = p.id)
        where s.edition_id = :id and p.version_of is null and p.refused is null
        and a.status not in ({NOT_USABLE})
        and not exists (select 1 from rundown_items i join pictures q on q.id = i.picture_id
                        where i.edition_id = :id and p.id in (q.id, q.version_of))
        order by s.id desc, p.position limit :most
        """,
        {"id": edition_id, "most": most},
    )
    return tuple(row["id"] for row in rows)


def mark(storage: Storage, edition_id: int) -> str:
    """A text that is another one after whatever changes what a rundown's page shows: itself, consents, placings, copies
    and corrections of its pictures, and what has just come in."""
    (row,) = storage.read(
        """
        with mine as (select p.id, p.submission_id, p.version_of from rundown_items i
                      join pictures p on p.id = i.picture_id where i.edition_id = :id and i.out_utc is null)
        select coalesce((select version from rundowns where edition_id = :id), 0) as version,
               (select max(id) from consents where submission_id in (select submission_id from mine)) as consents,
               (select max(id) from annotations where picture_id in (select id from mine)) as annotations,
               (select group_concat(version_of) from mine) as versions,
               (select count(*) + count(undone_utc) from decisions d join pictures q on q.id = d.picture_id
                where q.submission_id in (select submission_id from mine)) as decisions
        """,
        {"id": edition_id},
    )
    return ".".join(str(value or 0) for value in (*row.values(), *just_in(storage, edition_id)))


def history(storage: Storage, edition_id: int, most: int = 12, since: int = 0) -> tuple[RundownChange, ...]:
    """The newest changes first, at most so many, after a version."""
    rows = storage.read(
        "select * from rundown_changes where edition_id = ? and version > ? order by id desc limit ?",
        [edition_id, since, most],
    )
    return tuple(_change(row) for row in rows)


def picked_ids(storage: Storage, edition_id: int) -> frozenset[int]:
    """Ids of the pictures that stand in a rundown, and of the best versions of them: for marks elsewhere."""
    rows = storage.read(
        "select p.id, p.version_of from rundown_items i join pictures p on p.id = i.picture_id "
        "where i.edition_id = ? and i.out_utc is null",
        [edition_id],
    )
    return frozenset(k for row in rows for k in (row["id"], row["version_of"]) if k is not None)


def places(storage: Storage, picture_ids: Sequence[int]) -> dict[int, tuple[int, int]]:
    """Of pictures that stand in a rundown: the number of its edition, the last one's, and their item in it."""
    rows = storage.read(
        """
        select i.picture_id, e.number, i.id from rundown_items i join editions e on e.id = i.edition_id
        where i.out_utc is null and i.picture_id in (select value from json_each(?)) order by e.number
        """,
        [json.dumps(list(picture_ids))],
    )
    return {row["picture_id"]: (row["number"], row["id"]) for row in rows}


def features_on_air(storage: Storage, most: int) -> tuple[str, ...]:
    """What the pictures that stand in rundowns lead with, the last edition's first; each name once."""
    rows = storage.read(
        """
        select f.feature, max(i.edition_id) as edition from rundown_items i
        join shown f on f.picture_id = i.picture_id and f.leading = 1
        where i.out_utc is null group by f.feature order by edition desc, count(*) desc, f.feature limit ?
        """,
        [most],
    )
    return tuple(row["feature"] for row in rows)


# --- changes ----------------------------------------------------------------------------------------------------------


def add(storage: Storage, edition_id: int, picture_id: int, who: str, now: datetime) -> Added:
    """Put a picture, the best of its versions, at the end. One that stands there stays where it is; one that was taken
    out is put back at the end with all that was typed. Raises NotStoredError, BadInputError."""
    with _noted_change(storage, edition_id, who, now) as note:
        best = _best(storage, picture_id)
        rows = storage.read(
            """
            select i.id, i.picture_id, i.out_utc from rundown_items i join pictures p on p.id = i.picture_id
            where i.edition_id = ? and ? in (i.picture_id, p.version_of) order by i.out_utc is not null, i.id
            """,
            [edition_id, best],
        )
        order = _order(storage, edition_id)
        if rows and rows[0]["out_utc"] is None:
            item_id, how, best = rows[0]["id"], "already", rows[0]["picture_id"]
        elif rows:
            item_id, how, best = rows[0]["id"], "back", rows[0]["picture_id"]
            storage.execute("update rundown_items set out_utc = null, out_by = null where id = ?", [item_id])
            _renumber(storage, move_after(order, item_id, next((k for k in reversed(order) if k != item_id), 0)))
            note(item_id, "put_back", None, None)
        else:
            if len(order) >= MOST_ITEMS:
                raise BadInputError(
                    f"A rundown holds {MOST_ITEMS} pictures at most, those taken out among them.",
                    "Put back one that was taken out, or use the next edition.",
                )
            storage.execute(
                """
                insert into rundown_items (edition_id, picture_id, position, seconds, credit_line, pronunciation, note,
                                           added_by, added_utc) values (?, ?, ?, ?, null, '', '', ?, ?)
                """,
                [edition_id, best, len(order) + 1, DEFAULT_SECONDS, who, time_text(now)],
            )
            item_id, how = int(storage.read("select last_insert_rowid() as id")[0]["id"]), "added"
            note(item_id, "added", None, None)
        now_there = rundown(storage, edition_id)
    place = next(n for n, i in enumerate(now_there.items, 1) if i.id == item_id)
    return Added(item_id=item_id, picture_id=best, place=place, version=now_there.version, how=how)  # type: ignore[arg-type]


def edit(
    storage: Storage, edition_id: int, item_id: int, typed: Mapping[str, Value], seen: int, who: str, now: datetime
) -> tuple[str, ...]:
    """Write what somebody typed who saw version `seen`; the fields that were changed by it.

    Raises RundownChangedError where another changed one of the same fields, or took the item out, with what to show.
    """
    if set(typed) - set(FIELDS):
        raise ValueError(f"an item has no {sorted(set(typed) - set(FIELDS))[0]}")
    with _noted_change(storage, edition_id, who, now) as note:
        item = _one(storage, edition_id, item_id)
        found = merge(item, typed, _since(storage, edition_id, seen, item_id))
        if item.out_utc is not None:
            raise RundownChangedError(
                f"{item.out_by} has taken this picture out meanwhile; nothing was changed.",
                "Put it back, then save again; what you typed is kept below.",
                (),
                found.merged,
            )
        if found.clashes:
            names = " and ".join(dict.fromkeys(c.who for c in found.clashes))
            raise RundownChangedError(
                f"{names} has changed the same meanwhile; nothing was changed.",
                "Both are shown below: save again to put yours in its place.",
                found.clashes,
                found.merged,
            )
        for field, value in found.wanted.items():
            storage.execute(f"update rundown_items set {field} = ? where id = ?", [value, item_id])
            note(item_id, field, item.value(field), value)
    return tuple(found.wanted)


def move(storage: Storage, edition_id: int, item_id: int, after_id: int, seen: int, who: str, now: datetime) -> bool:
    """Let an item stand right after another one, or first (0); False where it does already.

    Moves of other items go together with it. Raises RundownChangedError where another moved the same item.
    """
    with _noted_change(storage, edition_id, who, now) as note:
        item = _one(storage, edition_id, item_id)
        if after_id:
            _one(storage, edition_id, after_id)
        if item.out_utc is not None:
            raise RundownChangedError(
                f"{item.out_by} has taken this picture out meanwhile; it was not moved.",
                "Put it back first, if it is to stand.",
            )
        order = _order(storage, edition_id)
        if after_id == item_id:
            return False
        standing = [i.id for i in rundown(storage, edition_id).items]
        wanted = move_after(order, item_id, after_id)
        if [k for k in wanted if k in standing] == standing:
            return False  # it is there, or only what was taken out lies between
        before = order[order.index(item_id) - 1] if order[0] != item_id else 0
        theirs = [c for c in _since(storage, edition_id, seen, item_id) if c.what in ("moved", "put_back")]
        if theirs:
            mine, place = [k for k in wanted if k in standing].index(item_id) + 1, standing.index(item_id) + 1
            raise RundownChangedError(
                f"{theirs[-1].who} has moved the same picture to place {place} meanwhile; you wanted place {mine}.",
                "It was left there. Move it again if it is to stand elsewhere.",
                (Clash("place", mine, place, theirs[-1].who),),
            )
        _renumber(storage, wanted)
        note(item_id, "moved", before, after_id)
    return True


def take_out(storage: Storage, edition_id: int, item_id: int, seen: int, who: str, now: datetime) -> bool:
    """Take an item out; False where it is out already. Raises RundownChangedError where another edited it meanwhile."""
    with _noted_change(storage, edition_id, who, now) as note:
        if _one(storage, edition_id, item_id).out_utc is not None:
            return False
        theirs = [c for c in _since(storage, edition_id, seen, item_id) if c.what in (*FIELDS, "put_back", "aired")]
        if theirs:
            raise RundownChangedError(
                f"{theirs[-1].who} has changed this picture's entry meanwhile; it was not taken out.",
                "Look at it as it is now, and take it out again if it is still to go.",
            )
        storage.execute("update rundown_items set out_utc = ?, out_by = ? where id = ?", [time_text(now), who, item_id])
        note(item_id, "taken_out", None, None)
    return True


def put_back(storage: Storage, edition_id: int, item_id: int, who: str, now: datetime) -> bool:
    """Put an item back where it stood; False where it stands."""
    with _noted_change(storage, edition_id, who, now) as note:
        if _one(storage, edition_id, item_id).out_utc is None:
            return False
        storage.execute("update rundown_items set out_utc = null, out_by = null where id = ?", [item_id])
        note(item_id, "put_back", None, None)
    return True


def take_better(storage: Storage, edition_id: int, item_id: int, who: str, now: datetime) -> bool:
    """Put the best version of an item's picture in its place; False where it is that, or was on air."""
    with _noted_change(storage, edition_id, who, now) as note:
        item = _one(storage, edition_id, item_id)
        if item.better_id is None or item.aired_utc is not None:
            return False  # what was on air was the picture as it is
        if storage.read(
            "select 1 from rundown_items where edition_id = ? and picture_id = ?", [edition_id, item.better_id]
        ):
            raise RundownChangedError(
                "The better version has an entry of its own in this rundown.", "Take one of the two out."
            )
        storage.execute("update rundown_items set picture_id = ? where id = ?", [item.better_id, item_id])
        note(item_id, "picture_id", item.picture_id, item.better_id)
    return True


def set_time(storage: Storage, edition_id: int, seconds: int | None, seen: int, who: str, now: datetime) -> bool:
    """Note how much time the programme has for pictures. Raises RundownChangedError where another did meanwhile."""
    with _noted_change(storage, edition_id, who, now) as note:
        is_now = rundown(storage, edition_id).seconds
        theirs = [c for c in _since(storage, edition_id, seen, None) if c.what == "time"]
        if seconds == is_now:
            return False
        if theirs:
            raise RundownChangedError(
                f"{theirs[-1].who} has set the time for pictures meanwhile; it was left so.",
                "Set it again if it is to be another.",
                (Clash("time", seconds, is_now, theirs[-1].who),),
            )
        storage.execute("update rundowns set seconds = ? where edition_id = ?", [seconds, edition_id])
        note(None, "time", is_now, seconds)
    return True


def note_aired(
    storage: Storage,
    edition_id: int,
    item_ids: Iterable[int],
    when: datetime | None,
    who: str,
    now: datetime,
    kept: Mapping[int, aired.AsAired] = MappingProxyType({}),
) -> int:
    """Note when items were on air (None: they were not); how many that changed. The senders' receipts say it too.

    kept: of items, what goes into the history; nothing but the time for others.
    """
    changed = 0
    with _noted_change(storage, edition_id, who, now) as note:
        for item_id in item_ids:
            item = _one(storage, edition_id, item_id)
            if (item.aired_utc is None) == (when is None):
                continue
            storage.execute("update rundown_items set aired_utc = ? where id = ?", [time_text(when), item_id])
            storage.execute(
                "update pictures set aired_utc = (select max(aired_utc) from rundown_items "
                "where picture_id = pictures.id) where id = ?",
                [item.picture_id],
            )
            aired.strike(storage, edition_id, item_id)
            if when is not None:
                aired.add(storage, edition_id, item, when, kept.get(item_id, aired.AsAired()))
            note(item_id, "aired", time_text(item.aired_utc), time_text(when))
            changed += 1
    return changed


def erase_items(storage: Storage, picture_ids_sql: str, values: Sequence[Any]) -> None:
    """Within a transaction, before pictures are erased: their items go with all their history; the rundown keeps only
    that something was withdrawn, and where it stood in one, its version is raised so that open pages notice."""
    gone = f"picture_id in ({picture_ids_sql})"
    storage.execute(
        f"""
        update rundowns set version = version + 1, withdrawn = withdrawn + n from (
            select edition_id as edition, count(*) as n from rundown_items where {gone} and out_utc is null
            group by edition_id) where edition_id = edition
        """,
        values,
    )
    storage.execute(f"delete from rundown_changes where item_id in (select id from rundown_items where {gone})", values)
    storage.execute(f"delete from rundown_items where {gone}", values)


# --- inside -----------------------------------------------------------------------------------------------------------


@contextmanager
def _noted_change(storage: Storage, edition_id: int, who: str, now: datetime) -> Iterator[Callable[..., None]]:
    """A transaction in which changes are noted; each raises the version once."""
    if not who.strip():
        raise ValueError("a change names who made it")
    with storage.writing() as execute:
        if not storage.read("select 1 from editions where id = ?", [edition_id]):
            raise NotStoredError("There is no such edition.", "Go back to the list.")
        execute("insert or ignore into rundowns (edition_id) values (?)", [edition_id])

        def note(item_id: int | None, what: str, before: Value, after: Value) -> None:
            execute("update rundowns set version = version + 1 where edition_id = ?", [edition_id])
            execute(
                "insert into rundown_changes (edition_id, version, item_id, what, before, after, who, when_utc) "
                "select edition_id, version, ?, ?, ?, ?, ?, ? from rundowns where edition_id = ?",
                [item_id, what, value_text(before), value_text(after), who, time_text(now), edition_id],
            )

        yield note


def _one(storage: Storage, edition_id: int, item_id: int) -> RundownItem:
    for row in storage.read(_ITEMS + " where i.edition_id = ? and i.id = ?", [edition_id, item_id]):
        return _item(row)
    raise NotStoredError("This picture is not in the rundown any more.", GONE)


def _best(storage: Storage, picture_id: int) -> int:
    rows = storage.read(
        "select p.id, p.refused from pictures p where p.id = "
        "(select coalesce(version_of, id) from pictures where id = ?)",
        [picture_id],
    )
    if not rows:
        raise NotStoredError(f"There is no picture {picture_id}.", "Go back to the list.")
    if rows[0]["refused"]:
        raise BadInputError(
            f"This cannot be picked: {words_of(rows[0]['refused'])}", "Ask its sender for another file."
        )
    return int(rows[0]["id"])


def _order(storage: Storage, edition_id: int) -> list[int]:
    return [
        row["id"]
        for row in storage.read("select id from rundown_items where edition_id = ? order by position, id", [edition_id])
    ]


def _renumber(storage: Storage, order: Sequence[int]) -> None:
    storage.execute(
        "update rundown_items set position = key + 1 from json_each(?) where rundown_items.id = value",
        [json.dumps(order)],
    )


def _since(storage: Storage, edition_id: int, seen: int, item_id: int | None) -> list[RundownChange]:
    rows = storage.read(
        "select * from rundown_changes where edition_id = ? and version > ? and item_id is ? order by id",
        [edition_id, seen, item_id],
    )
    return [_change(row) for row in rows]


def _item(row: dict[str, Any]) -> RundownItem:
    return RundownItem(
        id=row["id"],
        picture_id=row["picture_id"],
        position=row["position"],
        seconds=row["seconds"],
        credit_line=row["credit_line"],
        pronunciation=row["pronunciation"],
        note=row["note"],
        added_by=row["added_by"],
        added_utc=datetime.fromisoformat(row["added_utc"]),
        out_utc=text_time(row["out_utc"]),
        out_by=row["out_by"] or "",
        aired_utc=text_time(row["aired_utc"]),
        better_id=row["version_of"],
        aired_before=tuple(json.loads(row["aired_before"])),
    )


def _change(row: dict[str, Any]) -> RundownChange:
    return RundownChange(
        version=row["version"],
        item_id=row["item_id"],
        what=row["what"],
        before=row["before"],
        after=row["after"],
        who=row["who"],
        when_utc=datetime.fromisoformat(row["when_utc"]),
    )
