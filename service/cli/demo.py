"""`moondesk demo`: the sample submissions from arrival to the desk."""

from __future__ import annotations

import shutil
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES
from moondesk.service.cli.console import ended_by_system, errors, say, workers_option
from moondesk.service.cli.kit import sample_kit
from moondesk.service.cli.placing import tell_missing
from moondesk.service.cli.serve import port_option, serve_desk
from moondesk.service.cli.take import take_and_place
from moondesk.service.folders import SHELL
from moondesk.service.languages import LANGUAGES
from moondesk.service.settings.config import LOOPBACK
from moondesk.service.store.settings import keep_settings, load_config
from moondesk.service.store.storage import Storage
from moondesk.service.web.listening import free_port

SAMPLES = "sample_submissions"


def _speak(data: Path, language: str) -> None:
    """Set the language of what goes out as the desk would."""
    if language != "en":
        with Storage(data) as storage:
            keep_settings(storage, {"programme.language": language}, datetime.now(UTC), "moondesk")


@click.command(epilog=EXIT_CODES)
@click.option("--serve/--no-serve", default=True, help="Serve the desk afterwards (default), or stop.")
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default="en",
    show_default=True,
    help="Language of notes, frames and replies; it can be changed at the desk.",
)
@click.option(
    "--kit",
    "kit_into",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Pick the pictures that rank first and write everything that leaves the desk into this folder.",
)
@port_option
@workers_option
def command(serve: bool, language: str, kit_into: Path | None, port: int | None, workers: int | None) -> None:
    """Take the sample submissions into a fresh folder, place them, show them at the desk."""
    samples = find_samples()
    tell_missing()
    if serve:
        with errors():
            free_port(LOOPBACK, port, may_move=True)  # told before the minute's work, not after it
    data, kept = Path(tempfile.mkdtemp(prefix="moondesk-demo-")), False
    with ended_by_system(), errors():
        try:
            say(f"Data folder: {data}{' (removed when the demo ends)' if serve else ''}")
            settings = samples / "programme.toml"
            if settings.is_file():
                shutil.copyfile(settings, data / "moondesk.toml")
            _speak(data, language)
            code = take_and_place([samples], load_config(data, workers), quiet=True)
            if kit_into is not None:
                code = sample_kit(data, kit_into) or code
            if serve:
                serve_desk(data, LOOPBACK, port, may_move=True, workers=workers)
            else:
                click.echo(f"\nTo look at them: moondesk serve --data {data}")
                kept = True
        finally:
            if not kept:
                shutil.rmtree(data, ignore_errors=True)
    sys.exit(code)


def find_samples() -> Path:
    """The sample submissions: in the installed package (see `moondesk.service.building`), or beside it in the source tree."""
    for folder in (SHELL / "samples", SHELL.parent / SAMPLES):
        if folder.is_dir():
            return folder
    raise click.UsageError("The sample submissions are missing from this installation. Install moondesk anew.")
