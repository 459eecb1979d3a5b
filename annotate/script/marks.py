"""The text of a script: plain, paragraphs parted by empty lines, marks in square brackets before the words at which they
fire.

    [picture 2: as sent] This is how Ana saw it. [light: Tycho] Here is Tycho.

What stands in brackets and is no mark ("[breathe]") is kept and fires nothing. Nothing here changes a word that was written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import get_args

from moondesk.notes.messages import Message
from moondesk.script.records import Cue, Line, Script, Show

SHOWS: tuple[Show, ...] = get_args(Show)
#: Those that say which feature they mean.
OF_FEATURE: tuple[Show, ...] = ("light", "close", "name")

_MARK = re.compile(r"\[([^\[\]\n]*)\]")
_PICTURE = re.compile(r"picture\s+(\d{1,3})\s*(?::\s*(.*))?", re.IGNORECASE)
_PARAGRAPH = re.compile(r"\n[ \t]*\n\s*")

#: The end of a sentence: its stop with what closes after it, then a space and no small letter; the full stops of East
#: Asia end one without a space. "3.5", "5.20 p.m. tonight", titles and initials ("Mr. J. Smith") end none.
_END = re.compile(
    r"""(?:(?<!\b\w)(?<!\.\w)(?<!\bMr)(?<!\bMrs)(?<!\bMs)(?<!\bDr)(?<!\bSt)(?<!\bProf)[.]|[!?…]+)["'”’»“)]*"""
    r"""(?=\s+(?![a-zа-яё]))|[。！？]+[」』）]*"""
)

#: Characters that are written without spaces between words. Two of them are counted as one word (common practice of
#: subtitlers and translators: Japanese or Chinese text has about twice as many characters as its English has words).
_UNSPACED = re.compile(r"[぀-ヿ㐀-鿿฀-๿]")
_WORD = re.compile(r"[^\s—–/]*\w[^\s—–/]*")


@dataclass(frozen=True, kw_only=True)
class Spoken:
    """Words that are spoken. sentence: its number in the text, from 0 (a mark within a sentence parts it into two of one
    number); paragraph: likewise; start, end: where they stand in the text, in characters."""

    text: str
    sentence: int
    paragraph: int
    start: int
    end: int


@dataclass(frozen=True, kw_only=True)
class Unread:
    """What stands in brackets and is no mark; with its brackets. start, end: as for `Spoken`."""

    text: str
    start: int
    end: int


def write_cue(cue: Cue) -> str:
    """The mark of a cue, with its brackets."""
    words = f"{cue.show}: {cue.feature}" if cue.feature else cue.show
    return f"[picture {cue.picture}: {words}]" if cue.picture else f"[{words}]"


def read_cue(mark: str) -> Cue | None:
    """The cue that a mark means, with or without its brackets; None where it is no mark. "[picture 2]" shows it as sent."""
    words, picture = mark.strip().strip("[]").strip(), 0
    if numbered := _PICTURE.fullmatch(words):
        picture, words = int(numbered[1]), numbered[2] or "as sent"
    show, parted, feature = (part.strip() for part in words.partition(":"))
    kind = next((s for s in SHOWS if s == " ".join(show.lower().split())), None)
    if kind is None or bool(feature) != (kind in OF_FEATURE) or bool(parted) != bool(feature):
        return None
    return Cue(show=kind, picture=picture, feature=" ".join(feature.split()))


def write_lines(lines: Iterable[Line], write: Callable[[Message], str]) -> str:
    """One paragraph."""
    return " ".join((f"{write_cue(line.cue)} " if line.cue is not None else "") + write(line.said) for line in lines)


def write_text(paragraphs: Iterable[Iterable[Line]], write: Callable[[Message], str]) -> str:
    """Paragraphs as they are kept and edited."""
    return "\n\n".join(write_lines(lines, write) for lines in paragraphs)


def write_script(script: Script, write: Callable[[Message], str]) -> str:
    """The whole script, without the titles of its items."""
    return "\n\n".join(write_text(item.paragraphs, write) for item in script.items if item.lines)


def read_text(text: str) -> tuple[Spoken | Cue | Unread, ...]:
    """What is spoken and what fires, in order."""
    out: list[Spoken | Cue | Unread] = []
    sentence, paragraph, at, is_open = 0, 0, 0, False

    def speak(start: int, end: int) -> None:
        """Words between two marks or breaks, cut into sentences."""
        nonlocal sentence, is_open
        for a, b, is_ended in _cut(text, start, end):
            out.append(Spoken(text=text[a:b], sentence=sentence, paragraph=paragraph, start=a, end=b))
            is_open = not is_ended
            sentence += is_ended

    def part() -> None:
        """A new paragraph, which ends a sentence that has no stop."""
        nonlocal sentence, paragraph, is_open
        sentence, paragraph, is_open = sentence + is_open, paragraph + 1, False

    stops = [(m.start(), m.end(), m) for m in _MARK.finditer(text)]
    stops += [(m.start(), m.end(), m) for m in _PARAGRAPH.finditer(text)]
    for start, end, found in sorted(stops, key=lambda s: s[0]):
        speak(at, start)
        at = end
        if found.re is _PARAGRAPH:
            part()
            continue
        cue = read_cue(found[0])
        out.append(cue if cue is not None else Unread(text=found[0], start=start, end=end))
    speak(at, len(text))
    return tuple(out)


def sentences_of(text: str) -> tuple[str, ...]:
    """The sentences that are spoken, without marks, spaces made single."""
    joined: dict[int, list[str]] = {}
    for piece in read_text(text):
        if isinstance(piece, Spoken):
            joined.setdefault(piece.sentence, []).append(piece.text)
    return tuple(" ".join(" ".join(words).split()) for words in joined.values())


def count_words(text: str) -> int:
    """How many words are spoken, marks left out."""
    spoken = _MARK.sub(" ", text)
    unspaced = len(_UNSPACED.findall(spoken))
    return len(_WORD.findall(_UNSPACED.sub(" ", spoken))) + (unspaced + 1) // 2


def _cut(text: str, start: int, end: int) -> list[tuple[int, int, bool]]:
    """Sentences between two places of the text, without spaces around them, and whether each has its stop."""
    pieces = []
    # What follows the place is read too, so that a stop before a mark is seen to be one.
    ends = [m.end() for m in _END.finditer(text[start:end] + " ")] or [end - start]
    for a, b in zip([0, *ends], [*ends, end - start], strict=True):
        words = text[start + a : start + b]
        if kept := words.strip():
            first = start + a + len(words) - len(words.lstrip())
            pieces.append((first, first + len(kept), b in ends and kept[-1] not in ",;:"))
    return [
        (a, b, is_ended and bool(re.search(r"[.!?…。！？][\"'”’»“)」』）]*$", text[a:b]))) for a, b, is_ended in pieces
    ]
