"""What stands about a stretch of a letter, as signs to be weighed: its sentence, and the words to its sides. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from moondesk.service.lexicons.lexicon import Lexicon
from moondesk.service.lexicons.patterns import WORD

#: Words to each side that are told with their place, and characters to each side that are looked at.
BESIDE, REACH = 3, 160
#: Letters of a word that stand for it in all its forms; of a script without spaces, letters to each side.
STEM, SIGNS = 5, 6
_TOKEN = re.compile(rf"{WORD}+|[,.;:!?()\n\u2026\u0964\u3002\u3001\u060c\u061f\uff1a-]")
_STOPS = re.compile(r"[.!?;\n\u0964\u3002\u061f]")


def sentence_at(text: str, start: int, end: int) -> tuple[int, int]:
    """Where the sentence begins and ends that a stretch stands in."""
    first = max((m.end() for m in _STOPS.finditer(text, max(0, start - REACH * 2), start)), default=None)
    last = _STOPS.search(text, end)
    return max(0, start - REACH * 2) if first is None else first, min(
        last.start() if last else len(text), end + REACH * 2
    )


def said_about(start: int, end: int, text: str, words: Lexicon, keys: Sequence[tuple[str, str]]) -> Iterator[str]:
    """What of the file's lists is said in the sentence, before the stretch and behind it. keys: section and key."""
    first, last = sentence_at(text, start, end)
    before, behind = text[first:start], text[end:last]
    for section, key in keys:
        find = words.search(section, key)
        if find(before):
            yield f"said before {section} {key}"
        if find(behind):
            yield f"said behind {section} {key}"


def words_about(start: int, end: int, text: str, words: Lexicon) -> Iterator[str]:
    """The words beside a stretch with their place, those of its sentence without."""
    first, last = sentence_at(text, start, end)
    if not words.writing.spaces:
        before, behind = text[max(0, start - SIGNS) : start], text[end : end + SIGNS]
        for n in range(1, SIGNS + 1):
            yield f"- {before[-n:]}"
            yield f"+ {behind[:n]}"
        around = text[first:start] + " " + text[end:last]
        yield from (f"p {around[k : k + 2]}" for k in range(len(around) - 1))
        return
    before_it = _TOKEN.findall(text, max(0, start - REACH), start)
    behind_it = _TOKEN.findall(text, end, end + REACH)
    for name, row in (("-", before_it[::-1]), ("+", behind_it)):
        for k, word in enumerate([*row[:BESIDE], "$"][:BESIDE]):
            yield f"{name}{k} {_plain(word)}"
            yield f"{name}{k} {_plain(word)[:STEM]}~"
            yield f"{name} {_plain(word)[:STEM]}"
        yield f"{name}{name} {' '.join(map(_plain, row[:2]))}"
    yield from (f"s {_plain(word)[:STEM]}" for word in _TOKEN.findall(text, first, last))


def _plain(word: str) -> str:
    return "0" if word.isdigit() else word
