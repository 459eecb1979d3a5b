"""`moondesk frames`: the frames for air of an edition's picks as files, for a vision mixer or a folder on its disk."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from moondesk.service.cli.console import EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED, errors, stored_in
from moondesk.service.cli.options import EXIT_CODES, data_option
from moondesk.service.settings.config import load_config

if TYPE_CHECKING:
    from moondesk.service.jobs.frame_files import MadeFrame
    from moondesk.service.programme.frame_request import Asked
    from moondesk.service.store.rundown_items import Item
    from moondesk.service.store.storage import Storage

#: Pictures of an edition that --all looks through.
MOST = 10_000


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), required=True, help="Folder for the files.")
@click.option(
    "--format",
    "formats",
    type=click.Choice(["hd", "uhd", "vertical"]),
    multiple=True,
    help="1920x1080 (default), 3840x2160 or 1080x1920; may be given several times.",
)
@click.option(
    "--view",
    type=click.Choice(["upright", "eye"]),
    default=None,
    help="The Moon's north up, or as the eye sees it from the programme's place.",
)
@click.option("--zoom", default=None, metavar="FEATURE", help="A close-up of this feature, with an inset.")
@click.option(
    "--feature",
    "features",
    multiple=True,
    metavar="FEATURE",
    help="A layer for this feature; may be given several times.",
)
@click.option("--all", "every", is_flag=True, help="All pictures of the edition, picked or not.")
@data_option
def frames(
    edition: int,
    out: Path,
    formats: tuple[str, ...],
    view: str | None,
    zoom: str | None,
    features: tuple[str, ...],
    every: bool,
    data: Path | None,
) -> None:
    """Write the frames of EDITION's rundown: for each pick the whole frame, its layers with alpha, and one SVG.

    View, close-up and features are those chosen at the desk unless they are given. A picture that may not be shown gets
    no frame; a sentence says why.
    """
    from moondesk.records import NotFound
    from moondesk.service.programme.frame_request import read_asked
    from moondesk.service.store.pictures import list_by_id
    from moondesk.service.store.storage import Storage
    from moondesk.service.studio import Studio
    from moondesk.service.studio.frames import asked_of, frame_of

    made = failed = 0
    with errors():
        folder = stored_in(data)
        config = load_config(folder)
        with Storage(folder) as storage:
            studio = Studio(storage, config)
            items = _items(storage, edition, every)
            if not items:
                click.echo(f"Nothing is picked for edition {edition}. Pick at the desk, or add --all.", err=True)
            listed = {p.picture.id: p for p in list_by_id(storage, [i.picture_id for i in items])}
            for place, item in enumerate((i for i in items if i.picture_id in listed), 1):
                arrival = listed[item.picture_id].picture.submission.arrival
                # an address is nobody's business on a disk in the studio
                who = re.sub(r"[^\w]+", "-", arrival.sender_name).strip("-")
                name = f"{place:02}-{who or 'picture'}"
                for shape in formats or ("hd",):
                    asked: Asked | NotFound = asked_of(storage, item.id, shape)
                    if view is not None or zoom is not None or features:
                        asked = read_asked({"format": shape, "view": view or "upright", "zoom": zoom or ""}, features)
                    frame = (
                        asked if isinstance(asked, NotFound) else frame_of(studio, item, listed[item.picture_id], asked)
                    )
                    if isinstance(frame, NotFound):
                        click.echo(f"{name}: {frame.reason} {frame.advice}".strip(), err=True)
                        failed += 1
                        continue
                    for sentence in frame.left_out:
                        click.echo(f"{name}: {sentence}", err=True)
                    click.echo(_copied(frame, out / f"{name}-{shape}"))
                    made += 1
    sys.exit(EXIT_SOME_FAILED if failed else EXIT_OK if made else EXIT_NOTHING)


def _items(storage: Storage, number: int, every: bool) -> tuple[Item, ...]:
    """The rundown's items; with `every`, also the edition's other pictures, as they would stand there."""
    from datetime import UTC, datetime

    from moondesk.service.store.editions import read_edition
    from moondesk.service.store.pictures import list_pictures
    from moondesk.service.store.rundown_items import DEFAULT_SECONDS, Item
    from moondesk.service.store.rundowns import rundown

    edition = read_edition(storage, number)
    picked = rundown(storage, edition.id).items
    if not every:
        return picked
    ids = {i.picture_id for i in picked}
    others = [p.picture.id for p in list_pictures(storage, edition.id, MOST) if p.picture.id not in ids]
    now = datetime.now(UTC)
    return (
        *picked,
        *(
            Item(
                id=0,
                picture_id=k,
                position=0,
                seconds=DEFAULT_SECONDS,
                credit_line=None,
                pronunciation="",
                note="",
                added_by="",
                added_utc=now,
            )
            for k in sorted(others)
        ),
    )


def _copied(frame: MadeFrame, target: Path) -> Path:
    """The frame's files under clear names."""
    from moondesk.service.jobs.frame_files import DRAWING, WHOLE

    (target / "layers").mkdir(parents=True, exist_ok=True)
    for old in (target / "layers").glob("[0-9][0-9]-*.png"):  # of an earlier run, with other layers perhaps
        old.unlink()
    shutil.copyfile(frame.folder / WHOLE, target / "frame.png")
    shutil.copyfile(frame.folder / DRAWING, target / "frame.svg")
    for layer in frame.layers:
        shutil.copyfile(frame.folder / layer.file, target / "layers" / layer.file)
    return target
