"""What commands share on the terminal: options, lines and bars, errors as sentences, the end by a signal."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

import click

from moondesk.records import Annotation, EveningVerdict
from moondesk.service.cli import EXIT_USAGE
from moondesk.service.errors import DeskError
from moondesk.service.programme.words import best_seen, evenings_words, feature_name, status_words, time_words

#: Between two lines of progress where they cannot be redrawn.
TELL_SECONDS = 20.0

workers_option = click.option(
    "--workers", type=click.IntRange(1, 64), default=None, help="Worker processes (default: one for each core)."
)


def say(sentence: str) -> None:
    """A sentence beside the results."""
    click.echo(sentence, err=True)


def say_when(sentence: str) -> None:
    """The same with the time of day, where the program runs on."""
    say(f"{datetime.now():%H:%M:%S}  {sentence}")


def line_of(name: str, annotation: Annotation, zone: str) -> str:
    """One line for a picture: name, when, status, what is best seen (or why nothing is)."""
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


class ProgressBar:
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
        return f"{self._done} of {total} {self._what}, {told}, {time_left_words((total - self._done) / rate)} left"


def time_left_words(seconds: float) -> str:
    """A length of time as one looks at it while waiting: "40 s", "12 min", "3 h 20 min"."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"


def progress(items: Iterator[Any], length: int) -> Iterator[Any]:
    """The items, with a line on stderr that says how far they are."""
    meter = ProgressBar(length)
    for item in items:
        meter.clear()  # what is printed of the item takes its place
        yield item
        meter.step()
    meter.clear()


def complain(error: DeskError) -> None:
    """What is wrong, and what to do next."""
    say(f"{error} {error.advice}".strip())


@contextmanager
def errors() -> Iterator[None]:
    """An expected error as its sentence and the next step, exit code 2; a broken pipe or Ctrl-C without a trace."""
    try:
        yield
    except DeskError as error:
        complain(error)
        sys.exit(EXIT_USAGE)
    except KeyboardInterrupt:
        sys.exit(130)


@contextmanager
def ended_by_system() -> Iterator[None]:
    """Within it SIGTERM ends the program as Ctrl-C does: all is put away first. A second one ends it at once."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def end(number: int, _: object) -> None:
        signal.signal(number, signal.SIG_DFL)
        sys.exit(128 + number)

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def stop_event() -> threading.Event:
    """Set by Ctrl-C, or when the system ends the program: what is being stored is stored first. A second ends it."""
    stop = threading.Event()

    def ask_to_stop(number: int, _: object) -> None:
        stop.set()
        signal.signal(number, signal.default_int_handler)

    if threading.current_thread() is threading.main_thread():
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, ask_to_stop)
    return stop
