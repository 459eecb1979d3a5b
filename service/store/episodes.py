"""What is said of each edition: the items of its running order with their texts, and what was changed by whom.

Two people work in it at once. Each change names the version that its maker saw; where another changed the same field of
the same item since, nothing is done and both are told. All changes of one version are taken back together. Nothing is
deleted, until a sender is forgotten: then what names them goes, from the texts and from what could be taken back.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.store.episode_items import (
    FIELDS,
    MOST_ITEMS,
    EpisodeChangedError,
    EpisodeItem,
    ItemDraft,
    KeptEpisode,
    Source,
    move_to,
    names_any,
    own_sentences,
    read_sources,
    sources_text,
    without,
    words_of_names,
)
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

if TYPE_CHECKING:
    from moondesk.script.records import OrderTemplate

#: What one person types into one text within this time is one change.
TYPING = timedelta(minutes=2)
#: Who changes what names somebody that is forgotten.
NOBODY = "an erasure"


def episode(storage: Storage, edition_id: int) -> KeptEpisode:
    """An edition's episode; an empty one where nothing was written yet."""
    rows = storage.read("select * from episodes where edition_id = ?", [edition_id])
    head: dict[str, Any] = rows[0] if rows else {}
    items = [_item(row) for row in _rows(storage, edition_id)]
    numbered = storage.read("select number, item_id from episode_pictures where edition_id = ?", [edition_id])
    return KeptEpisode(
        edition_id=edition_id,
        version=head.get("version", 0),
        words_per_minute=head.get("words_per_minute"),
        template=head.get("template", ""),
        spoken_utc=text_time(head.get("spoken_utc")),
        items=tuple(i for i in items if not i.out),
        out=tuple(i for i in items if i.out),
        numbers={row["number"]: row["item_id"] for row in numbered},
    )


def spoken_before(storage: Storage, number: int) -> tuple[tuple[int, KeptEpisode], ...]:
    """(edition's number, episode) of those that were spoken in editions before this one, the oldest first."""
    rows = storage.read(
        "select e.id, e.number from episodes p join editions e on e.id = p.edition_id "
        "where p.spoken_utc is not null and e.number < ? order by e.number",
        [number],
    )
    return tuple((row["number"], episode(storage, row["id"])) for row in rows)


def number_pictures(storage: Storage, edition_id: int, item_ids: Sequence[int]) -> dict[int, int]:
    """The numbers by which marks call items of the rundown, by item; those that have none get the next."""
    with storage.writing():
        kept = storage.read("select number, item_id from episode_pictures where edition_id = ?", [edition_id])
        found = {row["item_id"]: row["number"] for row in kept if row["item_id"] is not None}
        last = max((row["number"] for row in kept), default=0)
        for item_id in item_ids:
            if item_id not in found:
                last += 1
                found[item_id] = last
                storage.insert("episode_pictures", {"edition_id": edition_id, "number": last, "item_id": item_id})
    return found


@dataclass(frozen=True)
class LastChange:
    """What an undo would take back. fields: by item; who made it."""

    version: int
    who: str
    fields: tuple[tuple[int | None, str], ...]


def last_change(storage: Storage, edition_id: int) -> LastChange | None:
    rows = storage.read(
        """
        select * from episode_changes where edition_id = :id and version = (
            select max(version) from episode_changes where edition_id = :id and undoes is null and who <> :nobody
            and version not in (select undoes from episode_changes where edition_id = :id and undoes is not null))
        order by id
        """,
        {"id": edition_id, "nobody": NOBODY},
    )
    if not rows:
        return None
    return LastChange(rows[0]["version"], rows[0]["who"], tuple((r["item_id"], r["field"]) for r in rows))


# --- changes ----------------------------------------------------------------------------------------------------------


def change_item(
    storage: Storage, edition_id: int, item_id: int, values: dict[str, Any], seen: int, who: str, now: datetime
) -> int:
    """Write fields of an item (kind, title, text, seconds) that somebody typed who saw version `seen`; the version then.

    Raises EpisodeChangedError where another changed one of the same since.
    """
    if set(values) - set(FIELDS):
        raise ValueError(f"an item has no {sorted(set(values) - set(FIELDS))[0]}")
    with _changing(storage, edition_id, who, now) as change:
        item = _one(storage, edition_id, item_id)
        for name, value in values.items():
            if getattr(item, name) == value:
                continue
            _refuse_clash(storage, edition_id, item_id, (name, "out"), seen, _text(getattr(item, name)))
            if name == "text" and change.goes_on(item_id):
                change.extend(item_id, value)
            else:
                change.note(item_id, name, getattr(item, name), value)
    return episode(storage, edition_id).version


def write_items(
    storage: Storage,
    edition_id: int,
    drafts: Sequence[ItemDraft],
    seen: int,
    who: str,
    now: datetime,
    template: str | None = None,
    over_own: bool = False,
) -> int:
    """Write composed texts into items, or make items of them, in one change; the version then.

    template: the running order that they make, in the order of the drafts: other items follow it where they have a text
    of their own, else they are taken out. over_own: also over sentences that nobody composed; without it such an item
    is left alone.
    """
    with _changing(storage, edition_id, who, now) as change:
        made: list[int] = []
        for draft in drafts:
            if not draft.id:
                made.append(change.add(draft))
                continue
            item = _one(storage, edition_id, draft.id)
            made.append(item.id)
            if item.out:
                change.note(item.id, "out", "1", "0")
            if draft.text == item.text or (own_sentences(item.text, item.sources) and not over_own):
                continue
            _refuse_clash(storage, edition_id, item.id, ("text",), seen, item.text)
            change.note(item.id, "text", item.text, draft.text)
            change.note(item.id, "sources", sources_text(item.sources), sources_text(draft.sources))
        if template is not None:
            kept = episode(storage, edition_id)
            if kept.template != template:
                change.note(None, "template", kept.template, template)
            rest = [i for i in kept.items if i.id not in made]
            for item in rest:
                if not item.text.strip():
                    change.note(item.id, "out", "0", "1")
            order = [k for k in _order(storage, edition_id) if k not in made]
            change.order([*made, *order])
    return episode(storage, edition_id).version


def add_item(storage: Storage, edition_id: int, draft: ItemDraft, after_id: int, who: str, now: datetime) -> int:
    """A new item after another one (0: before all); its id."""
    with _changing(storage, edition_id, who, now) as change:
        item_id = change.add(draft)
        order = _order(storage, edition_id)
        if after_id in order or after_id == 0:
            change.order(move_to(order, item_id, after_id))
    return item_id


def move_item(
    storage: Storage, edition_id: int, item_id: int, after_id: int, seen: int, who: str, now: datetime
) -> bool:
    """Let an item stand right after another one, or first (0); False where it does already."""
    with _changing(storage, edition_id, who, now) as change:
        _one(storage, edition_id, item_id)
        if after_id:
            _one(storage, edition_id, after_id)
        if after_id == item_id:
            return False
        order = _order(storage, edition_id)
        wanted = move_to(order, item_id, after_id)
        standing = [i.id for i in episode(storage, edition_id).items]
        if [k for k in wanted if k in standing] == standing:
            return False
        _refuse_clash(storage, edition_id, None, ("order",), seen, None)
        change.order(wanted)
    return True


def set_out(storage: Storage, edition_id: int, item_id: int, out: bool, seen: int, who: str, now: datetime) -> bool:
    """Take an item out with its text, or put it back where it stood; False where it is so."""
    with _changing(storage, edition_id, who, now) as change:
        item = _one(storage, edition_id, item_id)
        if item.out == out:
            return False
        if out:
            _refuse_clash(storage, edition_id, item_id, FIELDS, seen, item.text)
        change.note(item_id, "out", str(int(item.out)), str(int(out)))
    return True


def set_rate(storage: Storage, edition_id: int, words_per_minute: int, who: str, now: datetime) -> bool:
    """How many words a minute are spoken."""
    with _changing(storage, edition_id, who, now) as change:
        kept = episode(storage, edition_id)
        if kept.words_per_minute == words_per_minute:
            return False
        change.note(None, "words_per_minute", kept.words_per_minute, words_per_minute)
    return True


def last_rate(storage: Storage) -> int | None:
    """The rate of the last edition that has one: whoever speaks tonight most likely spoke then."""
    rows = storage.read(
        "select words_per_minute as rate from episodes p join editions e on e.id = p.edition_id "
        "where words_per_minute is not null order by e.number desc limit 1"
    )
    return rows[0]["rate"] if rows else None


def note_spoken(storage: Storage, edition_id: int, when: datetime | None) -> None:
    """When it was spoken on air; None: it was not."""
    with storage.writing():
        storage.execute("insert or ignore into episodes (edition_id) values (?)", [edition_id])
        storage.execute("update episodes set spoken_utc = ? where edition_id = ?", [time_text(when), edition_id])


def undo(storage: Storage, edition_id: int, version: int, who: str, now: datetime) -> LastChange:
    """Take back what was changed last, which must be that version; what that was."""
    with _changing(storage, edition_id, who, now) as change:
        last = last_change(storage, edition_id)
        if last is None or last.version != version:
            raise EpisodeChangedError(
                "Something else was changed since; nothing was taken back.", "Look at the page as it is now."
            )
        change.undoes = version
        rows = storage.read(
            "select * from episode_changes where edition_id = ? and version = ? order by id desc", [edition_id, version]
        )
        for row in rows:
            change.set_back(row)
    return last


# --- the programme's own running orders -------------------------------------------------------------------------------


def running_orders(storage: Storage) -> tuple[OrderTemplate, ...]:
    from moondesk.script.records import OrderTemplate  # loads the core

    rows = storage.read("select * from running_orders order by name")
    return tuple(
        OrderTemplate(name=row["name"], days=tuple(json.loads(row["days"])), shares=dict(json.loads(row["shares"])))
        for row in rows
    )


def keep_running_order(storage: Storage, order: OrderTemplate, who: str, now: datetime) -> None:
    """One of the same name is replaced."""
    with storage.writing():
        storage.execute(
            "insert or replace into running_orders values (?, ?, ?, ?, ?)",
            [order.name, json.dumps(order.days), json.dumps([*order.shares.items()]), who, time_text(now)],
        )


# --- forgetting -------------------------------------------------------------------------------------------------------


def erase_names(storage: Storage, picture_ids_sql: str, values: Sequence[Any]) -> None:
    """Within a transaction, before pictures are erased: no text names their senders any more, nor could an undo bring
    it back. In editions in which they stand, a sentence goes that holds any word of their names, their place or their
    equipment; in others one that holds a whole name."""
    whole, near = _texts_of(storage, picture_ids_sql, values)
    if not whole:
        return
    single, elsewhere = words_of_names(whole), partial(names_any, whole=whole)
    theirs = {
        row["edition_id"]
        for row in storage.read(
            f"select distinct edition_id from rundown_items where picture_id in ({picture_ids_sql})", values
        )
    }
    for row in storage.read("select * from episode_items"):
        edition_id = row["edition_id"]
        names = partial(names_any, whole=(*whole, *near), single=single) if edition_id in theirs else elsewhere
        item, text, title = _item(row), without(row["text"], names), row["title"]
        sources = tuple(s for s in item.sources if not names(_all_of(s)))
        if names(title):
            title = ""
        if (text, title, sources) == (row["text"], row["title"], item.sources):
            continue
        storage.execute(
            "update episode_items set text = ?, title = ?, sources = ? where id = ?",
            [text, title, sources_text(sources), row["id"]],
        )
        storage.execute("update episodes set version = version + 1 where edition_id = ?", [edition_id])
        storage.execute("delete from episode_changes where item_id = ?", [row["id"]])
        storage.execute(  # whoever has the text open and saves it is told, and does not bring it back
            "insert into episode_changes (edition_id, version, item_id, field, who, when_utc) "
            "select edition_id, version, ?, 'text', ?, '' from episodes where edition_id = ?",
            [row["id"], NOBODY, edition_id],
        )
    for row in storage.read("select id, edition_id, before, after from episode_changes"):
        names = partial(names_any, whole=(*whole, *near), single=single) if row["edition_id"] in theirs else elsewhere
        if names(f"{row['before']} {row['after']}"):
            storage.execute("delete from episode_changes where id = ?", [row["id"]])


def _texts_of(storage: Storage, picture_ids_sql: str, values: Sequence[Any]) -> tuple[list[str], list[str]]:
    """Names of the pictures' senders, by themselves and as credits; and what else a sentence may tell of them."""
    rows = storage.read(
        f"""
        with mine as (select id, submission_id from pictures where id in ({picture_ids_sql}))
        select 1 as name, sender_name as text from submissions where id in (select submission_id from mine)
        union select 1, credit_line from submissions where id in (select submission_id from mine)
        union select 1, value from suggestions where field = 'credit'
              and submission_id in (select submission_id from mine)
        union select 1, credit_line from rundown_items where picture_id in (select id from mine)
        union select 1, json_extract(what, '$.text') from decisions where kind in ('sender_name', 'credit_line')
              and picture_id in (select id from mine)
        union select 0, place_name from submissions where id in (select submission_id from mine)
        union select 0, equipment from submissions where id in (select submission_id from mine)
        """,
        values,
    )
    told = [(row["name"], " ".join(row["text"].split())) for row in rows if row["text"] and row["text"].strip()]
    return [t for name, t in told if name], [t for name, t in told if not name]


def _all_of(source: Source) -> str:
    return " ".join([source.sentence, *(f"{v.shown} {v.exact}" for v in source.values), *source.facts])


# --- inside -----------------------------------------------------------------------------------------------------------


@dataclass
class _Changing:
    """One version in the making."""

    storage: Storage
    edition_id: int
    who: str
    now: datetime
    version: int = 0
    undoes: int | None = None

    def note(self, item_id: int | None, name: str, before: Any, after: Any) -> None:
        if name == "order":
            self._renumber(json.loads(after))
        elif item_id is None:
            self.storage.execute(f"update episodes set {name} = ? where edition_id = ?", [after, self.edition_id])
        else:
            self.storage.execute(f"update episode_items set {name} = ? where id = ?", [after, item_id])
        self._raise()
        self.storage.insert(
            "episode_changes",
            {
                "edition_id": self.edition_id,
                "version": self.version,
                "item_id": item_id,
                "field": name,
                "before": _text(before),
                "after": _text(after),
                "who": self.who,
                "when_utc": time_text(self.now),
                "undoes": self.undoes,
            },
        )

    def add(self, draft: ItemDraft) -> int:
        place = len(_order(self.storage, self.edition_id)) + 1
        if place > MOST_ITEMS:
            raise BadInputError(f"An episode has {MOST_ITEMS} items at most, those taken out among them.", "")
        item_id = self.storage.insert(
            "episode_items",
            {
                "edition_id": self.edition_id,
                "position": place,
                "kind": draft.kind,
                "title": draft.title,
                "text": draft.text,
                "seconds": draft.seconds,
                "sources": sources_text(draft.sources),
            },
        )
        self.note(item_id, "out", "1", "0")  # taken back, it is taken out
        return item_id

    def order(self, ids: Sequence[int]) -> None:
        before = _order(self.storage, self.edition_id)
        if list(ids) != before:
            self.note(None, "order", json.dumps(before), json.dumps(list(ids)))

    def goes_on(self, item_id: int) -> bool:
        """Whether the change before this one is the same person's typing in the same text."""
        rows = self.storage.read(
            "select * from episode_changes where edition_id = ? and version = "
            "(select version from episodes where edition_id = ?)",
            [self.edition_id, self.edition_id],
        )
        if len(rows) != 1 or self.undoes is not None:
            return False
        (row,) = rows
        own = (row["item_id"], row["field"], row["who"], row["undoes"]) == (item_id, "text", self.who, None)
        return own and self.now - datetime.fromisoformat(row["when_utc"]) <= TYPING

    def extend(self, item_id: int, text: str) -> None:
        self.storage.execute("update episode_items set text = ? where id = ?", [text, item_id])
        before = self._raise() - 1
        self.storage.execute(
            "update episode_changes set version = ?, after = ? where edition_id = ? and version = ?",
            [self.version, text, self.edition_id, before],
        )

    def set_back(self, row: dict[str, Any]) -> None:
        value: Any = row["before"]
        if row["field"] == "order":  # of what came since nothing is known there
            since = [k for k in _order(self.storage, self.edition_id) if k not in json.loads(value)]
            value = json.dumps([*json.loads(value), *since])
        elif row["field"] in ("seconds", "words_per_minute", "out") and value is not None:
            value = int(value)
        self.note(row["item_id"], row["field"], row["after"], value)

    def _raise(self) -> int:
        if not self.version:
            self.storage.execute("update episodes set version = version + 1 where edition_id = ?", [self.edition_id])
            (row,) = self.storage.read("select version from episodes where edition_id = ?", [self.edition_id])
            self.version = int(row["version"])
        return self.version

    def _renumber(self, order: Sequence[int]) -> None:
        self.storage.execute(
            "update episode_items set position = key + 1 from json_each(?) where episode_items.id = value",
            [json.dumps(list(order))],
        )


@contextmanager
def _changing(storage: Storage, edition_id: int, who: str, now: datetime) -> Iterator[_Changing]:
    if not who.strip():
        raise ValueError("a change names who made it")
    with storage.writing():
        if not storage.read("select 1 from editions where id = ?", [edition_id]):
            raise NotStoredError("There is no such edition.", "Go back to the list.")
        storage.execute("insert or ignore into episodes (edition_id) values (?)", [edition_id])
        yield _Changing(storage, edition_id, who, now)


def _refuse_clash(
    storage: Storage, edition_id: int, item_id: int | None, names: Sequence[str], seen: int, theirs: str | None
) -> None:
    marks = ", ".join("?" * len(names))
    rows = storage.read(
        f"select who, field from episode_changes where edition_id = ? and version > ? and item_id is ? "
        f"and field in ({marks}) order by id desc",
        [edition_id, seen, item_id, *names],
    )
    if rows:
        who = rows[0]["who"]
        what = {"order": "the order", "out": "whether this item stands"}.get(rows[0]["field"], "the same item")
        raise EpisodeChangedError(
            f"{who[:1].upper()}{who[1:]} has changed {what} meanwhile; nothing was changed.",
            "Look at it as it is now, and do it again if it is still to be.",
            theirs,
            who,
        )


def _one(storage: Storage, edition_id: int, item_id: int) -> EpisodeItem:
    for row in _rows(storage, edition_id):
        if row["id"] == item_id:
            return _item(row)
    raise NotStoredError("This item is not in the episode any more.", "Load the page again.")


def _rows(storage: Storage, edition_id: int) -> list[dict[str, Any]]:
    return storage.read("select * from episode_items where edition_id = ? order by position, id", [edition_id])


def _order(storage: Storage, edition_id: int) -> list[int]:
    return [row["id"] for row in _rows(storage, edition_id)]


def _item(row: dict[str, Any]) -> EpisodeItem:
    return EpisodeItem(
        id=row["id"],
        position=row["position"],
        kind=row["kind"],
        title=row["title"],
        text=row["text"],
        seconds=row["seconds"],
        sources=read_sources(row["sources"]),
        out=bool(row["out"]),
    )


def _text(value: Any) -> str | None:
    return None if value is None else str(value)
