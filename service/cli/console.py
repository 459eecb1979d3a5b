"""What the commands share: lines and bars on the terminal, files to write to, errors as sentences, exit codes."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import click

from moondesk.service.errors import BadInputError, DeskError

if TYPE_CHECKING:
    from moondesk.records import Annotation

#: Between two lines of progress where they cannot be redrawn.
TELL_SECONDS = 20.0
EXIT_OK, EXIT_SOME_FAILED, EXIT_USAGE, EXIT_NOTHING = 0, 1, 2, 3


def line_of(name: str, annotation: Annotation, zone: str) -> str:
    """One line for a picture: name, when, status, what is best seen (or why nothing is)."""
    from moondesk.records import EveningVerdict
    from moondesk.service.programme.words import best_seen, evenings_words, feature_name, status_words, time_words

    a = annotation
    fits = evenings_words(a.evenings, zone, 2)
    when = f"evening unknown; fits {fits}" if fits else "evening unknown"
    if a.time is not None:
        doubt = {
            EveningVerdict.UNSURE: ", not sure",
            EveningVerdict.TOLD: ", as told" if a.time.source == "told" else ", as its file says",
        }
        when = time_words(a.time.utc, zone) + doubt.get(a.dated.verdict, "")
    seen = ", ".join(feature_name(m) for m in best_seen(annotation, 3))
    said = " ".join(
        filter(
            None,
            (seen and f"best seen: {seen}.", annotation.reason, "" if annotation.time else annotation.dated.reason),
        )
    )
    return f"{name:24.24}  {when:52}  {status_words(annotation.status, annotation.sure):16}  {said}".rstrip()


def picture_names(files: Iterable[Path]) -> dict[Path, str]:
    """A name for each file's pictures: its own, numbered where two files share it."""
    names: dict[Path, str] = {}
    used: set[str] = set()
    for file in files:
        name, k = file.stem, 1
        while name.casefold() in used:
            k += 1
            name = f"{file.stem}-{k}"
        used.add(name.casefold())
        names[file] = name
    return names


@contextmanager
def output(jsonl: str | None) -> Iterator[IO[str] | None]:
    if jsonl is None:
        yield None
    elif jsonl == "-":
        yield sys.stdout
    else:
        try:
            file = open(jsonl, "w", encoding="utf-8")  # noqa: SIM115 (closed below; the error is told here)
        except OSError as error:
            raise BadInputError(f"{jsonl} cannot be written: {error.strerror}.", "Choose another file.") from error
        with file:
            yield file


class Progress:
    """How far a work is: counts, rate, time left, on stderr; one line redrawn on a terminal, else a line now and then.

    clock: seconds, monotonic.
    """

    def __init__(self, total: int, what: str = "placed", clock: Callable[[], float] = time.monotonic) -> None:
        self._total, self._what, self._clock = total, what, clock
        self._done, self._started = 0, clock()
        self._told = self._started
        self._live = sys.stderr.isatty()

    def clear(self) -> None:
        """Make way for another line."""
        if self._live:
            click.echo("\r\033[K", nl=False, err=True)

    def step(self) -> None:
        """One more is done."""
        self._done += 1
        if self._live:
            click.echo(f"\r\033[K{self.line()}", nl=False, err=True)
        elif self._clock() - self._told >= TELL_SECONDS:
            self._told = self._clock()
            click.echo(self.line(), err=True)

    def line(self) -> str:
        """Like "12 of 57 placed, 1.4 a second, 32 s left"."""
        total, seconds = max(self._total, self._done), self._clock() - self._started
        if not self._done or seconds <= 0:
            return f"{self._done} of {total} {self._what}"
        rate = self._done / seconds
        told = f"{rate:.1f} a second" if rate >= 1 else f"{60 * rate:.1f} a minute"
        return f"{self._done} of {total} {self._what}, {told}, {left_words((total - self._done) / rate)} left"


def left_words(seconds: float) -> str:
    """A length of time as one looks at it while waiting: "40 s", "12 min", "3 h 20 min"."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"


def progress(items: Iterator[Any], length: int) -> Iterator[Any]:
    """The items, with a line on stderr that says how far they are."""
    meter = Progress(length)
    for item in items:
        meter.clear()  # what is printed of the item takes its place
        yield item
        meter.step()
    meter.clear()


@contextmanager
def errors() -> Iterator[None]:
    """An expected error as its sentence and the next step, exit code 2; a broken pipe or Ctrl-C without a trace."""
    try:
        yield
    except DeskError as error:
        click.echo(f"{error} {error.advice}".strip(), err=True)
        sys.exit(EXIT_USAGE)
    except KeyboardInterrupt:
        sys.exit(130)


def stored_in(data: Path | None) -> Path:
    """The data folder, in which a store must be already; ends the command where there is none."""
    from moondesk.service.settings.config import default_data_dir
    from moondesk.service.store.storage import DATABASE_NAME

    folder = data or default_data_dir()
    if not (folder / DATABASE_NAME).is_file():
        click.echo(f"Nothing was taken into {folder} yet.", err=True)
        sys.exit(EXIT_NOTHING)
    return folder
