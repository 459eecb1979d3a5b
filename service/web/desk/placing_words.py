"""How far the placing is, in words for pages that wait for it. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Standing:
    """How pictures that a page waits for stand. state: changes whenever the page would; waits: any of them does."""

    picture_ids: tuple[int, ...]
    words: str
    state: str
    waits: bool


def standing_of(picture_ids: tuple[int, ...], states: Mapping[int, str], work: str) -> Standing:
    """states: of each picture, see `store.queue.states`; work: how the placing stands in all, in words."""
    of = [states.get(k, "refused") for k in picture_ids]
    at_work, waiting, placed = (of.count(state) for state in ("leased", "waiting", "placed"))
    if not at_work and not waiting:
        return Standing(picture_ids, "All that could be used were placed." if placed else "", " ".join(of), False)
    if len(of) == 1:
        words = "It is being placed at this moment." if at_work else "It waits to be placed."
    else:
        words = f"{placed} of {len(of)} placed{f', {at_work} at this moment' * bool(at_work)}."
    if work.startswith(f"{at_work + waiting} to be placed"):  # these alone: how many need not be said twice
        rest = work.partition("; " if "; " in work else ". ")[2]
        work = rest[:1].upper() + rest[1:]
    elif work[:1].isdigit():
        work = f"In all {work}"
    return Standing(picture_ids, f"{words} {work}".strip(), " ".join(of), True)


def progress_words(waiting: int, leased: int, last_minute: int, trouble: str = "", command: str = "") -> str:
    """last_minute: pictures placed in the last 60 seconds. trouble: the sentence that says why this desk's own placing
    has stopped. command: what is to be run where the desk does not place by itself; else empty."""
    if not waiting and not leased:
        return trouble
    words = f"{waiting + leased} to be placed"
    if leased:
        words += f", {leased} of them at this moment"
    if last_minute:
        minutes = (waiting + leased) / last_minute
        left = "less than a minute" if minutes < 0.9 else f"about {minutes:.0f} min"
        words += f"; {last_minute} a minute, {left} left"
    elif command and not leased:
        words += f"; nothing is placing them now. In a terminal: {command}"
        return words
    return f"{words}. {trouble}".strip()
