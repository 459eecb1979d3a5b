"""`moondesk frames`: the frames for air of an edition's picks as files, for a vision mixer or a folder on its disk."""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from moondesk.drawing.theme import THEMES
from moondesk.records import NotFound
from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.jobs.frame_files import DRAWING, WHOLE, MadeFrame
from moondesk.service.programme.frame_request import FrameOptions, read_asked
from moondesk.service.store.editions import read_edition
from moondesk.service.store.pictures import list_by_id, list_pictures
from moondesk.service.store.rundown_items import DEFAULT_SECONDS, RundownItem
from moondesk.service.store.rundowns import rundown
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import frame_of, options_of

FORMATS = ("hd", "uhd", "vertical")
#: Pictures of an edition that --all looks through.
MOST = 10_000

#: What is wanted of an item of the rundown, by its id, in a format.
Ask = Callable[[Storage, int, str], FrameOptions | NotFound]


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), required=True, help="Folder for the files.")
@click.option(
    "--format",
    "formats",
    type=click.Choice(FORMATS),
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
@click.option(
    "--theme",
    default=None,
    metavar="THEME",
    help="A look of the house's by its name, or a theme file; else the setting.",
)
@click.option("--all", "every", is_flag=True, help="All pictures of the edition, picked or not.")
@data_option
def command(
    edition: int, out: Path, formats: tuple[str, ...], every: bool, data: Path | None, theme: str | None, **given: Any
) -> None:
    """Write the frames of EDITION's rundown: for each pick the whole frame, its layers with alpha, and one SVG.

    View, close-up and features are those chosen at the desk unless they are given. A picture that may not be shown gets
    no frame; a sentence says why.
    """

    def as_given(_: Storage, __: int, shape: str) -> FrameOptions | NotFound:
        view, zoom = given["view"] or "upright", given["zoom"] or ""
        return read_asked({"format": shape, "view": view, "zoom": zoom}, given["features"])

    chosen_here = given["view"] is not None or given["zoom"] is not None or given["features"]
    with errors():
        code = write_frames(
            require_store(data), edition, out, formats or ("hd",), as_given if chosen_here else options_of, every, theme
        )
    sys.exit(code)


def write_frames(
    folder: Path,
    edition: int,
    out: Path,
    formats: Sequence[str],
    ask: Ask = options_of,
    every: bool = False,
    theme: str | None = None,
) -> int:
    """Frames of the rundown's items, or of every picture of the edition; an exit code. Raises DeskError."""
    made = failed = 0
    with Storage(folder) as storage:
        config = load_config(folder)
        if theme is not None:
            config = replace(
                config, air=replace(config.air, theme=theme if theme in THEMES else str(Path(theme).absolute()))
            )
        studio = Studio(storage, config)
        items = _items(storage, edition, every)
        if not items:
            say(f"Nothing is picked for edition {edition}. Pick at the desk, or add --all.")
        listed = {p.picture.id: p for p in list_by_id(storage, [i.picture_id for i in items])}
        for place, item in enumerate((i for i in items if i.picture_id in listed), 1):
            arrival = listed[item.picture_id].picture.submission.arrival
            # an address is nobody's business on a disk in the studio
            who = re.sub(r"[^\w]+", "-", arrival.sender_name).strip("-")
            name = f"{place:02}-{who or 'picture'}"
            for shape in formats:
                asked = ask(storage, item.id, shape)
                frame = asked if isinstance(asked, NotFound) else frame_of(studio, item, listed[item.picture_id], asked)
                if isinstance(frame, NotFound):
                    say(f"{name}: {frame.reason} {frame.advice}".strip())
                    failed += 1
                    continue
                for sentence in frame.left_out:
                    say(f"{name}: {sentence}")
                click.echo(_copy_files(frame, out / f"{name}-{shape}"))
                made += 1
    return EXIT_SOME_FAILED if failed else EXIT_OK if made else EXIT_NOTHING


def _items(storage: Storage, number: int, every: bool) -> tuple[RundownItem, ...]:
    """The rundown's items; with `every`, also the edition's other pictures, as they would stand there."""
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
            RundownItem(
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


def _copy_files(frame: MadeFrame, target: Path) -> Path:
    """The frame's files under clear names."""
    for folder in ("layers", "spotlight"):
        (target / folder).mkdir(parents=True, exist_ok=True)
        for old in (target / folder).glob("[0-9][0-9]-*.png"):  # of an earlier run, with other layers perhaps
            old.unlink()
    shutil.copyfile(frame.folder / WHOLE, target / "frame.png")
    shutil.copyfile(frame.folder / DRAWING, target / "frame.svg")
    for layer in frame.layers:
        folder = "spotlight" if layer.kind == "spotlight" else "layers"  # all of "layers" lie on each other
        shutil.copyfile(frame.folder / layer.file, target / folder / layer.file)
    return target
