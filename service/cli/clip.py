"""`moondesk clip`: a tour of one picture as a film with alpha."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import click

from moondesk.checks.evening import time_to_state
from moondesk.drawing.frame import FORMATS
from moondesk.records import ByteArray, NotFound
from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.exports.clip_file import CODECS, RATES, write_clip
from moondesk.service.programme.tour_words import read_tour, rendering_words
from moondesk.service.store.editions import read_edition
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedPicture
from moondesk.service.store.rundown_items import DEFAULT_SECONDS, RundownItem
from moondesk.service.store.rundowns import rundown
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import options_of
from moondesk.service.studio.tours import clip_of
from moondesk.tour.clip import frames, relit_count, relit_frames
from moondesk.tour.relit import MOST_HOURS
from moondesk.tour.views import Tour, View, ViewKind

#: Frames after which a line tells how far it is.
_TOLD_EVERY = 50
#: Seconds in which the light of a picture moves on.
_RELIT_S = 6.0


@click.command(epilog=EXIT_CODES)
@click.argument("which", metavar="PICTURE|EDITION.PLACE")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="File, .mov or .webm.")
@click.option(
    "--tour",
    "words",
    metavar="VIEWS",
    help="Such as: as-sent=3, upright, named=5, close Copernicus=6/3, light Plato=4 (=seconds it stands, /seconds of the "
    "move to it). Without it the one chosen at the desk, else the usual one.",
)
@click.option("--rate", type=click.Choice(list(RATES)), default="25", show_default=True, help="Frames a second.")
@click.option("--codec", type=click.Choice(list(CODECS)), help="ProRes 4444 or VP9, both with alpha; else by the file.")
@click.option("--size", type=click.Choice(list(FORMATS)), default="hd", show_default=True, help="As for frames.")
@click.option(
    "--relit",
    type=click.FloatRange(-MOST_HOURS, MOST_HOURS),
    metavar="HOURS",
    help="Instead of a tour: the picture's own light moving on by so many hours (24: tomorrow evening), said to be a "
    "rendering.",
)
@click.option("--layers-only", is_flag=True, help="Names and lines over nothing, for key and fill.")
@data_option
def command(
    which: str,
    out: Path,
    words: str | None,
    rate: str,
    codec: str | None,
    size: str,
    relit: float | None,
    layers_only: bool,
    data: Path | None,
) -> None:
    """Write a film of one picture: its views and the moves between them.

    PICTURE is its number; EDITION.PLACE, such as 12.3, the third of edition 12's rundown. A picture that may not be shown
    gets no film; a sentence says why.
    """
    tour = read_tour(words) if words is not None else None
    kind = codec or next((name for name, row in CODECS.items() if row.suffix == out.suffix.lower()), None)
    if kind is None or CODECS[kind].suffix != out.suffix.lower():
        raise click.UsageError("The file must end in .mov (prores) or .webm (vp9).")
    if relit is not None and (layers_only or words is not None or relit == 0.0):
        raise click.UsageError("--relit goes without --tour and --layers-only, and wants hours other than 0.")
    if isinstance(tour, NotFound):
        raise click.UsageError(f"{tour.reason} {tour.advice}")
    with errors():
        code = write_film(require_store(data), which, out, tour, rate, kind, size, layers_only, relit)
    sys.exit(code)


def write_film(
    folder: Path,
    which: str,
    out: Path,
    tour: Tour | None,
    rate: str,
    codec: str,
    size: str,
    layers_only: bool,
    relit: float | None = None,
) -> int:
    """The film of a picture; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        studio = Studio(storage, load_config(folder))
        item, listed = _find(storage, which)
        views = tour if relit is None else (View(kind=ViewKind.UPRIGHT),)
        clip = clip_of(studio, item, listed, views, options_of(storage, item.id, size), RATES[rate], layers_only)
    if isinstance(clip, NotFound):
        say(f"{clip.reason} {clip.advice}".strip())
        return EXIT_NOTHING
    shape, drawn, count = clip.format, frames(clip), clip.count
    if relit is not None:
        time = time_to_state(clip.annotation)
        words = studio.language.write(rendering_words(relit, time.utc if time else None, datetime.now(UTC)))
        drawn, count = relit_frames(clip, relit, _RELIT_S, words), relit_count(clip.rate, _RELIT_S)
    write_clip(out, _telling(drawn, count), (shape.width, shape.height), clip.rate, CODECS[codec])
    click.echo(out)
    return EXIT_OK


def _telling(drawn: Iterator[ByteArray], count: int) -> Iterator[ByteArray]:
    for n, frame in enumerate(drawn, 1):
        yield frame
        if n % _TOLD_EVERY == 0:
            say(f"{n} of {count} frames")


def _find(storage: Storage, which: str) -> tuple[RundownItem, ListedPicture]:
    """The rundown's item, or the picture as it would stand in one."""
    edition, dot, place = which.partition(".")
    if not (edition.isascii() and edition.isdigit() and (not dot or (place.isascii() and place.isdigit()))):
        raise BadInputError(f"“{which}” names no picture.", "Write its number, or edition and place, like 12.3.")
    if dot:
        items = rundown(storage, read_edition(storage, int(edition)).id).items
        if not 1 <= int(place) <= len(items):
            raise NotStoredError(f"Edition {edition} has {len(items)} pictures.", "Name the place of one of them.")
        item = items[int(place) - 1]
    else:
        item = RundownItem(
            id=0,
            picture_id=int(edition),
            position=0,
            seconds=DEFAULT_SECONDS,
            credit_line=None,
            pronunciation="",
            note="",
            added_by="",
            added_utc=datetime.now(UTC),
        )
    listed = list_by_id(storage, [item.picture_id])
    if not listed:
        raise NotStoredError(f"There is no picture {item.picture_id}.", "moondesk list shows those that there are.")
    return item, listed[0]
