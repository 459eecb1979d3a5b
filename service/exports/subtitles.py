"""Subtitles of what was said, and chapters, as WebVTT and SRT. Pure.

Two lines of at most 42 characters, and no more characters a second than can be read: 17 where there is time, never more
than 20 (common practice of broadcasters' subtitle guidelines, from memory). A name is not parted where it fits a line.
WebVTT: W3C candidate recommendation of 4 April 2019; SRT has no standard: as SubRip writes it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from moondesk.service.programme.spoken_times import TimedSentence

LINE, LINES = 42, 2
#: Characters a second: wanted, and at most.
EASY_CPS, MOST_CPS = 17.0, 20.0
#: How long one stands, and the gap to the next (two frames at 25 a second), seconds. From memory, common practice.
LEAST_S, MOST_S, GAP_S = 1.0, 7.0, 0.08
#: A sentence of fewer characters goes together with the next one.
SHORT = 18

#: A word, or a character of a script without spaces with the marks that may not begin a line after it.
_TOKEN = re.compile(r"[぀-ヿ㐀-鿿][。、！？」』）ー]*|[^\s぀-ヿ㐀-鿿]+")
#: After these no line ends, where it can be helped.
_LEADING = frozenset(
    [
        "a",
        "an",
        "the",
        "of",
        "in",
        "on",
        "at",
        "to",
        "by",
        "for",
        "from",
        "with",
        "and",
        "or",
        "but",
        "nor",
        "as",
        "than",
        "that",
        "which",
        "is",
        "are",
        "was",
        "its",
        "his",
        "her",
        "their",
        "our",
        "your",
        "my",
        "no",
        "not",
        "we",
        "you",
        "it",
        "he",
        "she",
        "they",
        "i",
        "и",
        "в",
        "във",
        "на",
        "за",
        "от",
        "до",
        "с",
        "със",
        "по",
        "при",
        "към",
        "че",
        "или",
        "но",
        "а",
        "като",
        "който",
        "която",
        "което",
        "които",
        "е",
        "са",
        "не",
        "се",
        "си",
        "го",
        "я",
        "ги",
        "му",
        "ми",
        "ти",
    ]
)


@dataclass(frozen=True)
class Caption:
    """lines: one or two; begin, end: seconds."""

    begin: float
    end: float
    lines: tuple[str, ...]

    @property
    def characters(self) -> int:
        return sum(map(len, self.lines)) + len(self.lines) - 1


def captions_of(sentences: Sequence[TimedSentence], names: Collection[str] = ()) -> tuple[Caption, ...]:
    """names: that are kept together."""
    parts: list[tuple[float, float, tuple[str, ...]]] = []
    for begin, end, text in _joined(sentences):
        cut = split(text, names)
        total, at = sum(len(" ".join(lines)) for lines in cut), 0
        for lines in cut:
            size = len(" ".join(lines))
            parts.append((begin + (end - begin) * at / total, begin + (end - begin) * (at + size) / total, lines))
            at += size
    return _paced(parts)


def _joined(sentences: Sequence[TimedSentence]) -> list[tuple[float, float, str]]:
    """Sentences of a paragraph, very short ones with the next."""
    found: list[tuple[float, float, str]] = []
    before: TimedSentence | None = None
    for s in sentences:
        if (
            before is not None
            and found
            and len(found[-1][2]) < SHORT
            and (s.item, s.paragraph) == (before.item, before.paragraph)
            and s.begin - before.end < 1
        ):
            found[-1] = (found[-1][0], s.end, f"{found[-1][2]} {s.text}")
        else:
            found.append((s.begin, s.end, s.text))
        before = s
    return found


def _paced(parts: Sequence[tuple[float, float, tuple[str, ...]]]) -> tuple[Caption, ...]:
    """Each stands long enough to be read, and none before the one before it is gone."""
    found: list[Caption] = []
    for n, (begin, end, lines) in enumerate(parts):
        size = sum(map(len, lines)) + len(lines) - 1
        begin = max(begin, found[-1].end + GAP_S if found else 0.0)
        following = parts[n + 1][0] - GAP_S if n + 1 < len(parts) else float("inf")
        wanted = begin + max(LEAST_S, size / EASY_CPS)
        least = begin + max(LEAST_S, size / MOST_CPS)
        # milliseconds are what the files hold: rounded up, so that no rate grows by it
        stop = max(least, min(max(wanted, end), following))
        found.append(Caption(round(begin, 3), round(min(stop, begin + max(MOST_S, least - begin)) + 0.0005, 3), lines))
    return tuple(found)


# --- lines ------------------------------------------------------------------------------------------------------------


def split(text: str, names: Collection[str] = ()) -> tuple[tuple[str, ...], ...]:
    """A sentence as captions of one or two lines, broken where it breathes."""
    tokens = _tokens(text, names)
    count = len(tokens)

    @cache
    def best(begin: int) -> tuple[float, int]:
        """(cost, where the first caption ends) of the rest."""
        if begin == count:
            return 0.0, count
        found = (float("inf"), count)
        for end in range(begin + 1, count + 1):
            lines = _lay(tokens[begin:end])
            if lines is None:
                break
            rest = 0.0 if end == count else _break_cost(tokens, end)
            size = sum(map(_width, lines))
            # every caption costs, and one that is nearly empty costs more: two equal ones read better than 80 and 4
            cost = 40 + rest + max(0.0, 30 - size) + best(end)[0]
            if cost < found[0]:
                found = (cost, end)
        return found

    captions, at = [], 0
    while at < count:
        end = best(at)[1]
        captions.append(_lay(tokens[at:end]) or ("".join(tokens[at:end]).strip(),))
        at = end
    return tuple(captions)


def _tokens(text: str, names: Collection[str]) -> list[str]:
    """Words with the space before them; names that fit a line are one word, what fits none is cut."""
    kept = " ".join(text.split())
    for name in sorted((n for n in names if " " in n and len(n) <= LINE - 12), key=len, reverse=True):
        kept = kept.replace(name, name.replace(" ", "\ue000"))
    tokens = []
    for match in _TOKEN.finditer(kept):
        space = " " if match.start() and kept[match.start() - 1] == " " else ""
        word = match[0].replace("\ue000", " ")
        for at in range(0, len(word), LINE - 2):
            tokens.append((space if at == 0 else "") + word[at : at + LINE - 2])
    return tokens


def _lay(tokens: Sequence[str]) -> tuple[str, ...] | None:
    """One line, or two that are nearly equal and break well; None where they do not fit."""
    whole = "".join(tokens).strip()
    if _width(whole) <= LINE:
        return (whole,)
    if _width(whole) > LINES * LINE + 1:
        return None
    choices = []
    for at in range(1, len(tokens)):
        first, second = "".join(tokens[:at]).strip(), "".join(tokens[at:]).strip()
        if max(_width(first), _width(second)) <= LINE:
            uneven = abs(_width(first) - _width(second))
            choices.append((uneven + 1.5 * _break_cost(tokens, at), first, second))
    return min(choices)[1:] if choices else None


def _break_cost(tokens: Sequence[str], at: int) -> float:
    """How bad it is to break before a token."""
    last = tokens[at - 1].strip()
    if re.search(r"[.!?…。！？]$", last):
        return 0.0
    if re.search(r"[,;:–—、]$", last):
        return 2.0
    if re.sub(r"\W", "", last).casefold() in _LEADING or re.fullmatch(r"\d[\d.,]*", last):
        return 14.0
    return 6.0 if re.sub(r"\W", "", tokens[at]).casefold() in _LEADING else 8.0


def _width(text: str) -> int:
    """Characters as a screen has them: one of East Asia is as wide as two."""
    return sum(2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


# --- files ------------------------------------------------------------------------------------------------------------


def as_vtt(captions: Iterable[Caption]) -> str:
    blocks = [
        f"{n}\n{_clock(c.begin, '.')} --> {_clock(c.end, '.')}\n" + "\n".join(map(_safe, c.lines))
        for n, c in enumerate(captions, 1)
    ]
    return "\n\n".join(["WEBVTT", *blocks]) + "\n"


def as_srt(captions: Iterable[Caption]) -> str:
    blocks = [
        f"{n}\n{_clock(c.begin, ',')} --> {_clock(c.end, ',')}\n" + "\n".join(c.lines)
        for n, c in enumerate(captions, 1)
    ]
    return "\n\n".join(blocks) + "\n"


def _safe(line: str) -> str:
    return line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _clock(seconds: float, point: str) -> str:
    ms = round(seconds * 1000)
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}{point}{ms % 1000:03d}"
