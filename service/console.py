"""What the commands share: lines and bars on the terminal, files to write to, errors as sentences, exit codes."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import click

from service.errors import BadInputError, DeskError

if TYPE_CHECKING:
    from annotate.records import Annotation

EXIT_OK, EXIT_SOME_FAILED, EXIT_USAGE, EXIT_NOTHING = 0, 1, 2, 3


def line_of(name: str, annotation: Annotation, zone: str) -> str:
    """One line for a picture: name, when, status, what is best seen (or why nothing is)."""
    from service.web.words import best_seen, evenings_words, feature_name, status_words, time_words

    fits = evenings_words(annotation.evenings, zone, 2)
    unknown = f"time not known; fits {fits}" if fits else "time not known"
    when = time_words(annotation.time.utc, zone) if annotation.time else unknown
    seen = ", ".join(feature_name(m) for m in best_seen(annotation, 3))
    said = " ".join(filter(None, (seen and f"best seen: {seen}.", annotation.reason)))
    return f"{name:24.24}  {when:44}  {status_words(annotation.status, annotation.sure):16}  {said}".rstrip()


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


def progress(items: Iterator[Any], length: int) -> Iterator[Any]:
    """The items, with a bar on stderr while it is a terminal."""
    if not sys.stderr.isatty() or length < 2:
        yield from items
        return
    with click.progressbar(items, length=length, label="Placing", file=sys.stderr, show_pos=True) as bar:
        for item in bar:
            click.echo("\r\033[K", nl=False, err=True)  # the line of a picture takes the bar's place
            yield item


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
