"""Chapters of an evening, as WebVTT for a player and as text for a video's description. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from moondesk.service.exports.subtitles import Caption, as_vtt
from moondesk.service.programme.spoken_times import SpokenItem, TimedSentence

#: The shortest chapter, seconds: video platforms take no list that has a shorter one (from memory, common practice).
SHORTEST_S = 10.0


@dataclass(frozen=True)
class Chapter:
    begin: float
    title: str


def chapters_of(
    items: Sequence[SpokenItem],
    sentences: Sequence[TimedSentence],
    pictures: Sequence[tuple[float, int, str]],
    programme: str,
) -> tuple[Chapter, ...]:
    """From the items of what was said; where nothing is kept of that, from the pictures as they came on air.

    pictures: (seconds, item of the rundown, whose it is; "" where nobody is named). The first chapter begins with the
    evening, and none is shorter than it may be: what comes sooner goes to the one before.
    """
    begins: dict[int, float] = {}
    for s in sentences:
        begins.setdefault(s.item, s.begin)
    found = [Chapter(begins[n], item.title) for n, item in enumerate(items) if n in begins]
    if not found:
        found = [Chapter(at, name or programme) for at, _, name in pictures]
    kept: list[Chapter] = []
    for chapter in sorted(found, key=lambda c: c.begin):
        if not kept:
            kept.append(replace(chapter, begin=0.0))
        elif chapter.begin - kept[-1].begin < SHORTEST_S:
            kept[-1] = replace(kept[-1], title=kept[-1].title if len(kept) > 1 else chapter.title)
        elif chapter.title and chapter.title != kept[-1].title:
            kept.append(chapter)
    return tuple(kept)


def chapters_vtt(chapters: Sequence[Chapter], length: float) -> str:
    ends = [*(c.begin for c in chapters[1:]), *(max(length, c.begin + SHORTEST_S) for c in chapters[-1:])]
    return as_vtt(Caption(c.begin, end, (_line(c.title),)) for c, end in zip(chapters, ends, strict=True))


def chapters_text(chapters: Sequence[Chapter]) -> str:
    """A line each, as video platforms read them: 0:00, 12:34, 1:02:03."""
    return "".join(f"{_clock(int(c.begin))} {_line(c.title)}\n" for c in chapters)


def _clock(seconds: int) -> str:
    hours, minutes = divmod(seconds // 60, 60)
    return f"{hours}:{minutes:02d}:{seconds % 60:02d}" if hours else f"{minutes}:{seconds % 60:02d}"


def _line(title: str) -> str:
    return " ".join(title.split())
