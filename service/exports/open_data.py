"""What goes out as open data: of the pictures that may be shown, what was measured and who is to be credited.

No address, no place, no words of a mail and no original: the picture in a FITS file is the store's own, rebuilt from
pixels. What may not be shown is in no file; only its number is told.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from moondesk.checks.evening import time_to_state
from moondesk.exports.geojson import feature_collection
from moondesk.exports.json_line import json_line
from moondesk.records import Annotation, NotFound
from moondesk.service.csv_safe import csv_text
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.exports.science_files import fits_bytes
from moondesk.service.jobs.missing_pictures import at_hand
from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.store.aired import appearances
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.editions import list_editions
from moondesk.service.store.inbox import PictureFilter, find
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedPicture
from moondesk.service.studio import Studio

#: Pictures that are looked through.
MOST = 100_000


@dataclass(frozen=True, kw_only=True)
class ExportRow:
    """One picture; None where it is not known. credit: "" where the sender asks not to be named, or has said nothing.

    evening, day_number: by the programme's rule; aired: numbers of editions; angles and pixels as in
    `moondesk.records`.
    """

    picture: int
    submission: int
    edition: int
    credit: str
    status: str
    sure: bool
    taken_utc: str | None
    taken_from: str
    clock: str
    evening: str | None
    day_number: int | None
    width: int
    height: int
    disc_x: float | None
    disc_y: float | None
    disc_radius: float | None
    mirrored: bool | None
    north_screen_deg: float | None
    sub_observer_lat_deg: float | None
    sub_observer_lon_deg: float | None
    sub_solar_lat_deg: float | None
    sub_solar_lon_deg: float | None
    illuminated_fraction: float | None
    sigma_pct_radius: float | None
    best_seen: tuple[str, ...]
    aired: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Exported:
    """row: for the lists; annotation: to make files of."""

    row: ExportRow
    annotation: Annotation
    sha256: str
    derived_key: str


@dataclass(frozen=True)
class Found:
    """ids: pictures that may be shown and are placed, in order; withheld: how many may not; waiting: are not yet
    placed."""

    ids: tuple[int, ...]
    withheld: int
    waiting: int


def rows_of_edition(studio: Studio, edition_id: int | None) -> Found:
    """What an export of an edition (None: of all) holds; of several versions of a picture the best alone."""
    may, withheld, waiting = [], 0, 0
    for listed in list_by_id(studio.storage, find(studio.storage, PictureFilter(edition_id=edition_id), MOST)):
        if reasons_not_to_air(listed, studio.config.entry_terms):
            withheld += 1
        elif listed.summary is None or listed.picture.enclosure.sha256 is None:
            waiting += 1
        else:
            may.append(listed.picture.id)
    return Found(tuple(sorted(may)), withheld, waiting)


def export_pictures(studio: Studio, ids: Iterable[int]) -> Iterator[Exported]:
    """One picture after the other, each asked again whether it may be shown: an export takes its time."""
    storage = studio.storage
    numbers = {e.id: e.plan.number for e in list_editions(storage)}
    aired: dict[int, list[int]] = {}
    for one in appearances(storage):
        aired.setdefault(one.picture_id, []).append(one.edition_number)
    for picture_id in ids:
        listed = next(iter(list_by_id(storage, [picture_id])), None)
        stored = (
            read_annotation(storage, picture_id)
            if listed and not reasons_not_to_air(listed, studio.config.entry_terms)
            else None
        )
        if listed is None or stored is None or listed.picture.enclosure.sha256 is None:
            continue
        row = _row(
            listed,
            stored.annotation,
            studio.calendar,
            numbers[listed.picture.submission.edition_id],
            tuple(sorted(set(aired.get(picture_id, ())))),
        )
        yield Exported(row, stored.annotation, listed.picture.enclosure.sha256, stored.derived_key)


def _row(listed: ListedPicture, a: Annotation, calendar: Calendar, edition: int, aired: tuple[int, ...]) -> ExportRow:
    line = json_line("picture", "", a)  # the published rounding
    pose, disc, edge = line["pose"] or {}, line["limb"] or {}, line["terminator"] or {}
    time = time_to_state(a)
    evening = calendar.evening(time.utc) if time is not None else None
    observer, sun = pose.get("sub_observer", (None, None)), pose.get("sub_solar", (None, None))
    return ExportRow(
        picture=listed.picture.id,
        submission=listed.picture.submission.id,
        edition=edition,
        credit=credit_of(listed.picture.submission.arrival).name,
        status=a.status,
        sure=a.sure,
        taken_utc=line["taken"]["utc"],
        taken_from=line["taken"]["source"] or "",
        clock=a.clock.verdict,
        evening=evening.date.isoformat() if evening else None,
        day_number=evening.day_number if evening else None,
        width=a.width,
        height=a.height,
        disc_x=disc.get("x"),
        disc_y=disc.get("y"),
        disc_radius=disc.get("radius"),
        mirrored=pose.get("mirrored"),
        north_screen_deg=pose.get("north_screen_deg"),
        sub_observer_lat_deg=observer[0],
        sub_observer_lon_deg=observer[1],
        sub_solar_lat_deg=sun[0],
        sub_solar_lon_deg=sun[1],
        illuminated_fraction=edge.get("illuminated_fraction"),
        sigma_pct_radius=pose.get("sigma_pct_radius"),
        best_seen=listed.summary.best_seen if listed.summary else (),
        aired=aired,
    )


def as_csv(rows: Iterable[ExportRow]) -> str:
    """One line a picture; lists by semicolons."""
    return csv_text(
        tuple(ExportRow.__dataclass_fields__),
        (
            [
                "; ".join(map(str, v)) if isinstance(v, tuple) else str(v).lower() if isinstance(v, bool) else v
                for v in asdict(row).values()
            ]
            for row in rows
        ),
    )


def json_head(programme: str, withheld: int, now: datetime) -> dict[str, Any]:
    """What a list says of itself. withheld: pictures that may not be shown and are not in it."""
    return {
        "programme": programme,
        "made_utc": now.isoformat(timespec="seconds"),
        "withheld": withheld,
        "conventions": "Pixels: x right, y down, (0, 0) the centre of the top-left one. Longitude east positive, "
        "mean-Earth frame. Screen angles from up, counter-clockwise. Errors in percent of the "
        "disc's radius.",
    }


def json_of(one: Exported) -> dict[str, Any]:
    """A picture's row with its placement as `moondesk place` tells it."""
    line = json_line(f"picture {one.row.picture}", "", one.annotation)
    return {**asdict(one.row), "placement": {k: v for k, v in line.items() if k not in ("file", "sha256")}}


def geojson_of(one: Exported) -> str | NotFound:
    made = feature_collection(one.annotation)
    if isinstance(made, NotFound):
        return made
    return json.dumps({**made, "picture": one.row.picture, "credit": one.row.credit}, ensure_ascii=False)


def fits_of(one: Exported, media: Media) -> bytes | NotFound:
    try:
        photo = at_hand(media, at_once, one.sha256, one.derived_key, one.annotation)
    except (NotStoredError, BadInputError) as error:
        return NotFound("export", str(error), error.advice)
    if photo is None:
        return NotFound("export", "Its picture is not at hand any more.", "Place it anew.")
    return at_once(fits_bytes, photo.read_bytes(), one.annotation, one.row.credit)
