"""Finding pictures among all that are stored: by words, by what they show, by who sent them. Ids out, newest first."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from moondesk.checks.evening import time_to_state
from moondesk.service.store.letter_facts import part_value, rows_with
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.rows import NOT_USABLE, time_text
from moondesk.service.store.storage import Storage

if TYPE_CHECKING:
    from moondesk.records import Annotation, FeatureMark

#: A feature is in good light in a picture, so that it can be looked for, from this chance that it is made out.
GOOD_LIGHT = 0.5
#: Of a picture's features so many, the most prominent, are offered as a choice; all of them are found.
LEADING = 24
MOST_WORDS = 8


@dataclass(frozen=True, kw_only=True)
class PictureFilter:
    """What is looked for; what is left at its default is not asked. edition_id None: in all editions.

    words: all of them must stand in the sender's name, place, subject, equipment, file name, what is best seen, or the
    letter; case does not count. or_feature: what shows this one is found besides. feature: its exact name. left_before: the
    number of an edition; what came in for earlier ones and was picked for none, see `_LEFT`.
    """

    edition_id: int | None = None
    words: str = ""
    or_feature: str = ""
    feature: str = ""
    place: str = ""
    first_time: bool = False
    left_before: int | None = None


# What nobody has ever picked, of earlier editions; taken out of a rundown is set aside. Never what is no picture of the
# Moon. The editions are found by their number, a few of thousands.
_LEFT = f"""
    s.edition_id in (select id from editions where number < ?)
    and p.id not in (select picture_id from rundown_items)
    and p.id not in (select q.version_of from rundown_items i join pictures q on q.id = i.picture_id
                     where q.version_of is not null)
    and p.refused is null and p.sha256 is not null
    and coalesce((select status from annotations where picture_id = p.id order by id desc limit 1), '')
        not in ({NOT_USABLE})
"""


def find(storage: Storage, wanted: PictureFilter, most: int) -> tuple[int, ...]:
    """Pictures that fit, the last received first, at most so many; of several versions the best alone."""
    values: list[object] = []
    said = ["p.version_of is null"]
    if wanted.left_before is not None:
        said.append(_LEFT)
        values.append(wanted.left_before)
    elif wanted.edition_id is not None:
        said.append("s.edition_id = ?")
        values.append(wanted.edition_id)
    words = wanted.words.casefold().split()[:MOST_WORDS]
    if words:
        named = " or p.id in (select picture_id from shown where feature = ?)" if wanted.or_feature else ""
        each = " and ".join(f"(instr(p.words, ?) > 0 or s.id in ({rows_with(word)}))" for word in words)
        said.append(f"({each}{named})")
        values += [v for word in words for v in (word, part_value(word))]
        values += [wanted.or_feature] if wanted.or_feature else []
    if wanted.place:
        said.append("lower(s.place_name) = lower(?)")
        values.append(wanted.place)
    if wanted.feature:
        said.append("p.id in (select picture_id from shown where feature = ?)")
        values.append(wanted.feature)
    if wanted.first_time:
        said.append(f"not {_SENT_BEFORE}")
    rows = storage.read(
        f"""
        select p.id from pictures p join submissions s on s.id = p.submission_id
        where {" and ".join(said)}
        order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc, p.position limit ?
        """,
        [*values, most],
    )
    return tuple(row["id"] for row in rows)


def count_left(storage: Storage, before: int, most: int) -> int:
    """How many pictures are left of the editions before a number, counted up to so many."""
    (row,) = storage.read(
        f"""
        select count(*) as n from (select 1 from pictures p join submissions s on s.id = p.submission_id
                                   where p.version_of is null and {_LEFT} limit ?)
        """,
        [before, most],
    )
    return int(row["n"])


# An address that sent before; where there is none nobody can tell, and nobody is a newcomer.
_SENT_BEFORE = """(s.sender_address = '' or exists (
    select 1 from submissions earlier where earlier.sender_address = s.sender_address collate nocase
    and earlier.id < s.id))"""


def newcomers(storage: Storage, picture_ids: Sequence[int]) -> frozenset[int]:
    """Those of the pictures whose sender never sent before."""
    rows = storage.read(
        f"""
        select p.id from pictures p join submissions s on s.id = p.submission_id
        where p.id in (select value from json_each(?)) and not {_SENT_BEFORE}
        """,
        [json.dumps(list(picture_ids))],
    )
    return frozenset(row["id"] for row in rows)


def places(storage: Storage, edition_id: int | None) -> tuple[str, ...]:
    """Names of the places that something came from, in order."""
    rows = storage.read(
        "select distinct place_name from submissions where place_name <> '' "
        "and (:edition is null or edition_id = :edition) order by place_name collate nocase limit 200",
        {"edition": edition_id},
    )
    return tuple(row["place_name"] for row in rows)


def features_to_choose(storage: Storage, edition_id: int | None) -> tuple[tuple[str, int | None], ...]:
    """Prominent features in good light in some picture, by name, with the number of an edition's pictures.

    Of all editions the names alone: to count them would mean to look at every feature of every picture.
    """
    if edition_id is None:
        rows = storage.read(
            """
            with recursive names (feature) as (
                select min(feature) from shown
                union all select (select min(feature) from shown where feature > names.feature) from names
                where feature is not null)
            select feature, null as n from names where feature is not null
            """
        )
    else:
        rows = storage.read(
            """
            select feature, count(*) as n from submissions s join pictures p on s.id = p.submission_id
            join shown on p.id = picture_id and leading where s.edition_id = ? and p.version_of is null
            group by feature order by feature
            """,
            [edition_id],
        )
    return tuple((row["feature"], row["n"]) for row in rows)


def keep_shown(storage: Storage, picture_id: int, annotation: Annotation) -> None:
    """Within a transaction: note what a picture shows in good light and when that was, in the place of what was noted
    before."""
    storage.execute("delete from shown where picture_id = ?", [picture_id])
    seen = {m.feature.name: m for m in sorted(marks_shown(annotation), key=lambda m: m.prominence)}
    leading = sorted(seen, key=lambda name: -seen[name].prominence)[:LEADING]
    sun = annotation.pose.sub_solar_lon_deg if annotation.pose else 0.0
    for name, mark in sorted(seen.items()):
        # the place under the Sun moves west: what lies west of it has its morning
        morning = (mark.feature.lon_deg - sun + 180) % 360 - 180 < 0
        storage.execute(
            "insert into shown (feature, picture_id, leading, sun_deg, morning) values (?, ?, ?, ?, ?)",
            [name, picture_id, int(name in leading), mark.sun_altitude_deg, int(morning)],
        )
    time = time_to_state(annotation) if annotation.sure else None
    storage.execute(
        "update pictures set sky_utc = ? where id = ?", [time_text(time.utc) if time is not None else None, picture_id]
    )


def marks_shown(annotation: Annotation) -> list[FeatureMark]:
    """Only where the placement is sure: the name of a feature must not lead to a picture that may not show it."""
    return [m for m in annotation.features if m.seen >= GOOD_LIGHT] if annotation.sure else []


def keep_words(storage: Storage, picture_ids: Iterable[int]) -> None:
    """Within a transaction: note the words by which pictures are looked for, as they stand now."""
    for p in list_by_id(storage, list(picture_ids)):
        arrival, summary = p.picture.submission.arrival, p.summary
        credits = [s.value for s in arrival.suggestions if s.field == "credit"]
        told = (
            arrival.sender_name,
            arrival.credit_line,
            *credits,
            arrival.place_name,
            arrival.subject,
            arrival.equipment,
            p.picture.enclosure.given_name,
            *(summary.best_seen if summary else ()),
        )
        storage.execute(
            "update pictures set words = ? where id = ?", [" ".join(filter(None, told)).casefold(), p.picture.id]
        )


def progress(storage: Storage, since_utc: str) -> tuple[int, int]:
    """How many pictures were placed since a time (ISO 8601, UTC), and a number that grows with each."""
    (row,) = storage.read(
        "select count(*) as n, (select max(id) from annotations) as latest from annotations where made_utc >= ?",
        [since_utc],
    )
    return int(row["n"]), int(row["latest"] or 0)
