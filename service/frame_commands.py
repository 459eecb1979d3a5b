"""`moondesk frames`: the frames for air of an edition's picks as files, for a vision mixer or a folder on its disk."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path

import click

from service.config import default_data_dir, load_config
from service.console import EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED, errors
from service.options import EXIT_CODES, data_option


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), required=True, help="Folder for the files.")
@click.option("--format", "formats", type=click.Choice(["hd", "uhd", "vertical"]), multiple=True,
              help="1920x1080 (default), 3840x2160 or 1080x1920; may be given several times.")
@click.option("--view", type=click.Choice(["upright", "eye"]), default="upright", show_default=True,
              help="The Moon's north up, or as the eye sees it from the programme's place.")
@click.option("--zoom", default="", metavar="FEATURE", help="A close-up of this feature, with an inset.")
@click.option("--feature", "features", multiple=True, metavar="FEATURE",
              help="A layer for this feature; may be given several times (default: what is best seen).")
@data_option
def frames(edition: int, out: Path, formats: tuple[str, ...], view: str, zoom: str, features: tuple[str, ...],
           data: Path | None) -> None:
    """Write the frames of EDITION's rundown: for each pick the whole frame, its layers with alpha, and one SVG.

    A picture that may not be shown gets no frame; a sentence says why.
    """
    from annotate.records import NotFound
    from service.desk.planning.frame_wanted import frame_of, read_asked
    from service.desk.single.facts import sender_of
    from service.evenings import load_calendar
    from service.store.rundowns import rundown
    from service.store.storage import DATABASE_NAME, Storage
    from service.work.airing import DRAWING, WHOLE, at_once

    folder = data or default_data_dir()
    made = failed = 0
    with errors():
        if not (folder / DATABASE_NAME).is_file():
            click.echo(f"Nothing was taken into {folder} yet.", err=True)
            sys.exit(EXIT_NOTHING)
        config = load_config(folder)
        calendar = load_calendar(config)
        with Storage(folder) as storage:
            found = rundown(storage, storage.edition(edition).id)
            listed = {p.picture.id: p for p in storage.listed_by([i.picture_id for i in found.items])}
            for place, item in enumerate((i for i in found.items if i.picture_id in listed), 1):
                sender = sender_of(listed[item.picture_id].picture.submission.arrival)
                for name in formats or ("hd",):
                    asked = read_asked({"format": name, "view": view, "zoom": zoom}, features)
                    frame = asked if isinstance(asked, NotFound) else frame_of(
                        storage, config, calendar, at_once, item, listed[item.picture_id], asked)
                    if isinstance(frame, NotFound):
                        click.echo(f"{place} {sender}: {frame.reason} {frame.advice}".strip(), err=True)
                        failed += 1
                        continue
                    plain = re.sub(r"[^\w]+", "-", sender).strip("-")
                    target = out / f"{place:02}-{plain}-{name}"
                    (target / "layers").mkdir(parents=True, exist_ok=True)
                    shutil.copyfile(frame.folder / WHOLE, target / "frame.png")
                    shutil.copyfile(frame.folder / DRAWING, target / "frame.svg")
                    for layer in frame.layers:
                        shutil.copyfile(frame.folder / layer.file, target / "layers" / layer.file)
                    for sentence in frame.left_out:
                        click.echo(f"{place} {sender}: {sentence}", err=True)
                    made += 1
                    click.echo(target)
    sys.exit(EXIT_SOME_FAILED if failed else EXIT_OK if made else EXIT_NOTHING)
