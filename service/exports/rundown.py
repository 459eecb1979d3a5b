"""An edition's rundown to hold in hand: PDF, CSV and JSON, the same whether the desk or the command line asks.

Only what may go on air is in it; what may not is named with its reason on paper, and is in no file for programs. On
paper a picture has a page, or half of one: its frame with all names, who is to be named and how that is said, what to
say, and room for remarks.
"""

from __future__ import annotations

import base64
import io
import json
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from importlib.resources import files
from typing import Any, Literal

from PIL import Image

from moondesk.service.csv_safe import csv_text
from moondesk.service.errors import DeskError
from moondesk.service.programme.air_plan import MAKING, AirNote, AirPlan
from moondesk.service.programme.editions import edition_view
from moondesk.service.programme.rundown import length_words
from moondesk.service.programme.words import hour_words
from moondesk.service.store.records import Edition
from moondesk.service.store.rundowns import rundown
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import whole_frame
from moondesk.service.studio.plan import make_plan

COLUMNS = ("place", "starts", "length", "sender", "credit", "pronunciation", "note", "notes")
Kind = Literal["pdf", "csv", "json"]
KINDS: dict[Kind, str] = {"pdf": "application/pdf", "csv": "text/csv", "json": "application/json"}
#: Of paper, by what the settings call it.
PAPERS = {"a4": "A4", "letter": "Letter"}
#: Width of a printed frame, pixels: 180 mm at 220 dots an inch.
PRINTED_PX = 1560
#: A file is waited for until all its frames are made, seconds.
PATIENCE_S = 600.0


@dataclass(frozen=True, kw_only=True)
class SheetItem:
    """starts: counted from the first picture, minutes and seconds; at: on the clock, where the edition has an hour."""

    place: int
    item_id: int
    picture_id: int
    starts: str
    at: str
    length: str
    sender: str
    credit: str
    pronunciation: str
    note: str
    story: str
    notes: tuple[AirNote, ...]
    #: Of its frame, see `studio.frames.whole_frame`.
    mark: str = ""


@dataclass(frozen=True)
class PaperForm:
    """size: of PAPERS; two: pictures stand two on a page."""

    size: str = "a4"
    two: bool = False


class NoPrinterError(DeskError):
    """The extra that writes PDF is not installed, or the system lacks what it wants."""


def rundown_file(studio: Studio, edition: Edition, kind: Kind, form: PaperForm | None = None) -> bytes:
    """form: of a PDF; as the settings say without it. Raises NoPrinterError."""
    plan = make_plan(studio, edition, "hd", PATIENCE_S)
    items = sheet_items(studio, edition, plan)
    if kind == "csv":
        return as_csv(items).encode()
    if kind == "json":
        return as_json(edition.plan.number, studio.config.programme.name, items).encode()
    return _as_pdf(studio, edition, plan, items, form or PaperForm(studio.config.programme.paper))


def sheet_items(studio: Studio, edition: Edition, plan: AirPlan) -> tuple[SheetItem, ...]:
    pictures = {i.id: i.picture_id for i in rundown(studio.storage, edition.id).items}
    return sheet_of(plan, pictures, edition.plan.air_utc, studio.calendar.zone)


def _as_pdf(studio: Studio, edition: Edition, plan: AirPlan, items: tuple[SheetItem, ...], form: PaperForm) -> bytes:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    try:
        import weasyprint
        from PIL import ImageFile

        # It lets half pictures pass for whole ones in all of this process, which no picture of the audience may.
        ImageFile.LOAD_TRUNCATED_IMAGES = False
    except (ImportError, OSError) as error:  # OSError: without the system's Pango
        raise NoPrinterError(
            "PDF wants a printer that is not installed.",
            "Install it with: pip install 'moondesk[pdf]' (and the system's Pango); or print the "
            "rundown's page from the browser.",
        ) from error
    fetcher = weasyprint.urls.URLFetcher(allowed_protocols={"data"})  # nothing of the network or the disk
    pages = Environment(
        loader=PackageLoader("moondesk.service.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    text = pages.get_template("paper.html").render(
        programme=studio.config.programme.name,
        edition=edition_view(edition, studio.calendar),
        items=items,
        left_out=(*plan.left_out, *((sender, MAKING) for sender in plan.making)),
        pictures={i.picture_id: _inside(studio, i) for i in items},
        css=files("moondesk.service.web").joinpath("static", "paper.css").read_text(encoding="utf-8"),
        size=form.size,
        two=form.two,
    )
    return weasyprint.HTML(string=text, url_fetcher=fetcher).write_pdf()  # type: ignore[no-any-return]


def _inside(studio: Studio, item: SheetItem) -> str:
    """An item's frame as part of the text; "" where there is none."""
    frame = whole_frame(studio, item.picture_id, item.mark)
    if frame is None:
        return ""
    with Image.open(frame) as image:
        small = image.convert("RGB").resize((PRINTED_PX, round(PRINTED_PX * image.height / image.width)))
    data = io.BytesIO()
    small.save(data, "JPEG", quality=88)
    return f"data:image/jpeg;base64,{base64.b64encode(data.getvalue()).decode()}"


def sheet_of(plan: AirPlan, pictures: dict[int, int], air_utc: datetime | None, zone: str) -> tuple[SheetItem, ...]:
    """pictures: ids of the items' pictures, by item. air_utc: when the first picture is on air."""
    found, at = [], 0
    for place, item in enumerate(plan.items, 1):
        when = hour_words(air_utc + timedelta(seconds=at), zone) if air_utc else ""
        found.append(
            SheetItem(
                place=place,
                item_id=item.id,
                picture_id=pictures[item.id],
                starts=length_words(at),
                at=when,
                length=length_words(item.seconds),
                sender=item.sender,
                credit=item.credit,
                pronunciation=item.pronunciation,
                note=item.note,
                story=item.story,
                notes=item.notes,
                mark=item.layers[0].url.split("/")[2] if item.layers else "",
            )
        )
        at += item.seconds
    return tuple(found)


def as_csv(items: tuple[SheetItem, ...]) -> str:
    """See `csv_safe`."""
    return csv_text(
        COLUMNS,
        (
            (
                item.place,
                item.starts,
                item.length,
                item.sender,
                item.credit,
                item.pronunciation,
                item.note,
                " ".join(sentence for note in item.notes if not note.more for sentence in note.sentences),
            )
            for item in items
        ),
    )


def as_json(edition: int, programme: str, items: tuple[SheetItem, ...]) -> str:
    return json.dumps(
        {"programme": programme, "edition": edition, "items": [_told(item) for item in items]},
        ensure_ascii=False,
        indent=1,
    )


def _told(item: SheetItem) -> dict[str, Any]:
    """What a program gets: not what the desk finds its files by."""
    return {key: value for key, value in asdict(item).items() if key not in ("item_id", "mark")}
