"""`moondesk script`: an edition's script as text with marks."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from moondesk.script.compose import WITHIN
from moondesk.script.marks import write_script
from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK
from moondesk.service.cli.console import errors, say
from moondesk.service.cli.data_folder import data_option, require_store
from moondesk.service.programme.rundown import length_words
from moondesk.service.programme.spoken_text import LEAST_RATE, MOST_RATE, WORDS_A_MINUTE
from moondesk.service.store import episodes
from moondesk.service.store.editions import read_edition
from moondesk.service.store.media import write_whole
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio
from moondesk.service.studio.episode import script_of


@click.command(epilog=EXIT_CODES)
@click.argument("edition", type=int)
@click.option("--minutes", type=click.FloatRange(0.5, 120), default=10.0, show_default=True, help="How long it may be.")
@click.option(
    "--words-per-minute",
    type=click.IntRange(LEAST_RATE, MOST_RATE),
    default=None,
    help="How fast it is spoken; as the last episode was without it.",
)
@click.option(
    "--out", type=click.Path(path_type=Path, dir_okay=False), default=None, help="File to write; else stdout."
)
@data_option
def command(edition: int, minutes: float, words_per_minute: int | None, out: Path | None, data: Path | None) -> None:
    """Write EDITION's script, a text to be spoken: its pictures, one idea, a walk over the Moon, what comes next.

    Marks in square brackets say what goes on air before which sentence. Nothing is kept: the desk does that.
    """
    with errors():
        code = write_script_file(require_store(data), edition, minutes, words_per_minute, out)
    sys.exit(code)


def write_script_file(folder: Path, edition: int, minutes: float, rate: int | None, out: Path | None) -> int:
    """The script as a text; an exit code. Raises DeskError."""
    with Storage(folder) as storage:
        studio = Studio(storage, load_config(folder))
        words_per_minute = rate or episodes.last_rate(storage) or WORDS_A_MINUTE
        asked = read_edition(storage, edition)
        if not asked.plan.evenings:
            say(f"Edition {edition} has no evening yet. Say at the desk which evening it is about.")
            return EXIT_NOTHING
        script = script_of(studio, asked, 60.0 * minutes, words_per_minute)
        text = write_script(script, studio.language.spoken.write) + "\n"
    if out is None:
        click.echo(text, nl=False)
    else:
        write_whole(out, text.encode(), to_hand=True)
        click.echo(out)
    words = f"{script.words} words, {length_words(round(script.seconds))} at {words_per_minute} a minute"
    click.echo(words, err=True)
    if script.seconds < 60.0 * minutes * (1.0 - WITHIN):
        click.echo("There is no more to say of this evening: it is shorter than the time.", err=True)
    return EXIT_OK
