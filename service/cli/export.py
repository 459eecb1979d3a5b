"""`moondesk export`: what was sent and measured as open files, of the pictures that may be shown."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.exports import open_data
from moondesk.service.store.editions import read_edition
from moondesk.service.store.media import write_whole
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio

KINDS = ("csv", "json", "geojson", "fits")


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int, required=False)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), required=True, help="Folder for the files.")
@click.option(
    "--kind",
    "kinds",
    type=click.Choice(KINDS),
    multiple=True,
    help="Lists (csv, json), a file for each picture (geojson, fits); all but fits if none is named.",
)
@data_option
def command(edition: int | None, out: Path, kinds: tuple[str, ...], data: Path | None) -> None:
    """Write EDITION (all editions if none is named) as pictures.csv, pictures.json, and picture-N.geojson and .fits.

    Only what may be shown, without addresses and places. FITS and GeoJSON are made of what is surely placed; their
    coordinates are on the Moon.
    """
    with errors():
        code = write_open_files(require_store(data), edition, out, kinds or ("csv", "json", "geojson"))
    sys.exit(code)


def write_open_files(folder: Path, edition: int | None, out: Path, kinds: Sequence[str]) -> int:
    """The open files of an edition, or of all; an exit code. Raises DeskError."""
    rows, objects, failed = [], [], 0
    config = load_config(folder)
    with Storage(folder) as storage:
        studio = Studio(storage, config)
        found = open_data.rows_of_edition(studio, read_edition(storage, edition).id if edition is not None else None)
        _remove_withdrawn(out, set(open_data.rows_of_edition(studio, None).ids))
        for one in open_data.export_pictures(studio, found.ids):
            rows.append(one.row)
            if "json" in kinds:
                objects.append(open_data.json_of(one))
            for kind in sorted({"geojson", "fits"} & set(kinds)) if one.row.sure else ():
                made = open_data.geojson_of(one) if kind == "geojson" else open_data.fits_of(one, studio.media)
                if isinstance(made, str | bytes):
                    _write(out / f"picture-{one.row.picture}.{kind}", made)
                else:
                    failed += 1
                    say(f"picture {one.row.picture}, {kind}: {made.reason} {made.advice}")
    if "csv" in kinds:
        _write(out / "pictures.csv", open_data.as_csv(rows))
    if "json" in kinds:
        head = open_data.json_head(config.programme.name, found.withheld, datetime.now(UTC))
        _write(out / "pictures.json", json.dumps({**head, "pictures": objects}, ensure_ascii=False, indent=1))
    if found.withheld:
        say(f"{found.withheld} may not be shown and are in no file.")
    if found.waiting:
        say(f"{found.waiting} are not placed yet and are in no file.")
    click.echo(f"{out}: {len(rows)} pictures.")
    return EXIT_SOME_FAILED if failed else EXIT_OK if rows else EXIT_NOTHING


def _write(path: Path, content: str | bytes) -> None:
    write_whole(path, content.encode() if isinstance(content, str) else content, to_hand=True)


def _remove_withdrawn(out: Path, may: set[int]) -> None:
    """Files of an earlier export whose picture may not be shown any more, or is gone. may: ids of all that may."""
    for path in (*out.glob("picture-*.geojson"), *out.glob("picture-*.fits")):
        number = path.stem.removeprefix("picture-")
        if number.isdigit() and int(number) not in may:
            path.unlink()
            say(f"{path.name} of an earlier export was removed: it may not be shown any more.")
