"""An edition's rundown as files: PDF, CSV and JSON, the same whether the desk or the command line asks."""

from __future__ import annotations

import base64
from contextlib import suppress
from typing import TYPE_CHECKING, Literal

from moondesk.service.errors import BadInputError, DeskError, NotStoredError
from moondesk.service.exports.air_planning import made_plan
from moondesk.service.exports.rundown_sheet import SheetItem, as_csv, as_json, sheet_of
from moondesk.service.jobs.missing_pictures import drawn_of
from moondesk.service.programme.air_plan import MAKING, AirPlan
from moondesk.service.programme.editions import edition_view
from moondesk.service.store.media import Media
from moondesk.service.store.rundowns import rundown

if TYPE_CHECKING:
    from moondesk.service.jobs.frame_files import Run
    from moondesk.service.programme.evenings import Calendar
    from moondesk.service.settings.config import Config
    from moondesk.service.store.records import Edition
    from moondesk.service.store.storage import Storage

Kind = Literal["pdf", "csv", "json"]
KINDS: dict[Kind, str] = {"pdf": "application/pdf", "csv": "text/csv", "json": "application/json"}
#: A file is waited for until all its frames are made, seconds.
PATIENCE_S = 600.0


class NoPrinterError(DeskError):
    """The extra that writes PDF is not installed, or the system lacks what it wants."""


def rundown_file(storage: Storage, config: Config, calendar: Calendar, edition: Edition, run: Run, kind: Kind) -> bytes:
    """Raises NoPrinterError."""
    plan = made_plan(storage, config, calendar, edition, run, "hd", PATIENCE_S)
    items = sheet_items(storage, config, edition, plan)
    if kind == "csv":
        return as_csv(items).encode()
    if kind == "json":
        return as_json(edition.plan.number, config.programme.name, items).encode()
    return _as_pdf(storage, config, calendar, edition, plan, items, run)


def sheet_items(storage: Storage, config: Config, edition: Edition, plan: AirPlan) -> tuple[SheetItem, ...]:
    pictures = {i.id: i.picture_id for i in rundown(storage, edition.id).items}
    return sheet_of(plan, pictures, edition.plan.air_utc, config.programme.zone)


def _as_pdf(
    storage: Storage,
    config: Config,
    calendar: Calendar,
    edition: Edition,
    plan: AirPlan,
    items: tuple[SheetItem, ...],
    run: Run,
) -> bytes:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    try:
        import weasyprint
    except (ImportError, OSError) as error:  # OSError: without the system's Pango
        raise NoPrinterError(
            "PDF wants a printer that is not installed.",
            "Install it with: pip install 'moondesk[pdf]' (and the system's Pango); or print the "
            "rundown's page from the browser.",
        ) from error
    fetcher = weasyprint.urls.URLFetcher(allowed_protocols={"data"})  # nothing of the network or the disk
    media = Media(config.data_dir)
    pages = Environment(
        loader=PackageLoader("moondesk.service.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    text = pages.get_template("paper.html").render(
        programme=config.programme.name,
        edition=edition_view(edition, calendar),
        items=items,
        left_out=(*plan.left_out, *((sender, MAKING) for sender in plan.making)),
        pictures={i.picture_id: _inside(storage, media, run, i.picture_id) for i in items},
    )
    return weasyprint.HTML(string=text, url_fetcher=fetcher).write_pdf()  # type: ignore[no-any-return]


def _inside(storage: Storage, media: Media, run: Run, picture_id: int) -> str:
    """A thumbnail as part of the text; "" where there is none."""
    path = None
    with suppress(NotStoredError, BadInputError):
        path = drawn_of(storage, media, run, picture_id, "thumbnail")
    return f"data:image/jpeg;base64,{base64.b64encode(path.read_bytes()).decode()}" if path else ""
