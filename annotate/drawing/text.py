"""A line of text in any script as outlines: faces chosen sign by sign, letters joined and ordered as the script wants.

HarfBuzz shapes each run of one face and direction; the order of runs follows the Unicode Bidirectional Algorithm (UAX
9) as far as a line of names and figures without embeddings needs it: rules P2 and P3, W1, W2 and W7 in short, N1, N2,
L2. A sign that no packaged face has makes the line NotFound, so that no empty box ever goes on air.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import uharfbuzz as hb

from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.shapes import Fill, TextShape
from moondesk.drawing.typefaces import BOLD, CAP, CONDENSED, Face, Weight, order
from moondesk.records import FloatArray, NotFound

#: CSS family of the condensed letters in an SVG: the packaged face first, then what a system is likely to have.
FONT_FAMILY = "'DejaVu Sans Condensed', 'DejaVu Sans', Verdana, sans-serif"

#: Distance of two baselines, and height of a capital letter, of the condensed letters in units of their size.
LINE_STEP = 1.14
CAP_HEIGHT = 0.729

#: Signs that steer joining and show nothing by themselves: joiners and variation selectors.
_UNSEEN = frozenset("\u200c\u200d\u2060\ufe0e\ufe0f")
#: Directions of text are worked out here, so marks and embeddings that a mail brought along go (UAX 9, table 1).
_DROPPED = frozenset("\u00ad\u200b\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")


@dataclass(frozen=True, eq=False, kw_only=True)
class TextLine:
    """A line of text set at a size. outlines: of all letters, with the line's start on the baseline at (0, 0), y down.

    ink: the rectangle round them; advance: where the next letter would stand. Pixels.
    """

    text: str
    size_px: float
    outlines: tuple[FloatArray, ...]
    advance: float
    ink: TurnedBox

    @property
    def cap_px(self) -> float:
        """Height of the size's capital letters; of scripts without them, that of Latin ones beside them."""
        return CAP * self.size_px

    def at(self, x: float, y: float, colour: str) -> tuple[Fill, TurnedBox]:
        """The letters with the line's start on the baseline at (x, y), and the rectangle round their ink."""
        by = np.array([x, y])
        moved = tuple(o + by for o in self.outlines)
        i = self.ink
        return Fill(moved, colour, says=self.text), TurnedBox(i.x0 + x, i.y0 + y, i.x1 + x, i.y1 + y)


def clean_text(text: str) -> str:
    """The text with composed accents, single spaces and without control signs."""
    seen = (
        " " if c.isspace() else c
        for c in unicodedata.normalize("NFC", text)
        if c not in _DROPPED and (c.isspace() or unicodedata.category(c) != "Cc")
    )
    return " ".join("".join(seen).split())


@lru_cache(maxsize=512)
def set_line(text: str, size_px: float, weight: Weight = BOLD) -> TextLine | NotFound:
    """A line at a size in pixels. NotFound names the sign that no face has; ValueError for an empty line."""
    text = clean_text(text)
    if not text or size_px <= 0:
        raise ValueError(f"nothing to set: {text!r} at {size_px} px")
    shaped = _shape_line(text, weight)
    if isinstance(shaped, NotFound):
        return shaped
    glyphs, advance = shaped
    outlines = tuple((o + np.array([x, y])) * size_px for of, glyph, x, y in glyphs for o in of.outlines(glyph))
    if not outlines:
        raise ValueError(f"{text!r} has no ink")
    every = np.concatenate(outlines)
    (x0, y0), (x1, y1) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    return TextLine(
        text=text, size_px=size_px, outlines=outlines, advance=advance * size_px, ink=TurnedBox(x0, y0, x1, y1)
    )


def text_size(text: str, font_px: float) -> tuple[float, float]:
    """Width and height in pixels of the box of condensed lines, which newlines separate."""
    lines = text.split("\n")
    return max(_width(line) for line in lines) * font_px, (1.0 + LINE_STEP * (len(lines) - 1)) * font_px


@lru_cache(maxsize=8192)
def _width(line: str) -> float:
    shaped = _shape_line(clean_text(line), CONDENSED)
    return 0.0 if isinstance(shaped, NotFound) else shaped[1]


def baselines(text: str, font_px: float) -> tuple[float, ...]:
    """Offsets of the lines' baselines below the centre of the text's box, pixels."""
    n = text.count("\n") + 1
    first = 0.5 * CAP_HEIGHT - 0.5 * LINE_STEP * (n - 1)
    return tuple((first + LINE_STEP * i) * font_px for i in range(n))


def outline_text(text: TextShape) -> tuple[FloatArray, ...]:
    """The outlines of a text's letters where it stands, in its own pixels."""
    t = np.radians(text.angle_deg)
    turn = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
    found: list[FloatArray] = []
    for words, below in zip(text.text.split("\n"), baselines(text.text, text.font_px), strict=True):
        line = set_line(words, text.font_px, CONDENSED)
        if isinstance(line, TextLine):
            found += ((o + np.array([-line.advance / 2, below])) @ turn + [text.x, text.y] for o in line.outlines)
    return tuple(found)


def wrap_text(text: str, size_px: float, weight: Weight, width_px: float, most: int) -> tuple[TextLine, ...] | NotFound:
    """The text in at most so many lines, broken at spaces: in as few as fit that width, as even as can be; where it
    does not fit even so, in all of them, wider than that."""
    words = clean_text(text).split(" ")
    broken: tuple[TextLine, ...] | NotFound = ()
    for count in range(1, min(most, len(words)) + 1):
        broken = _even(words, count, size_px, weight)
        if isinstance(broken, NotFound) or max(line.ink.width for line in broken) <= width_px:
            return broken
    return broken


def _even(words: list[str], count: int, size: float, weight: Weight) -> tuple[TextLine, ...] | NotFound:
    """The words in `count` lines such that the longest is as short as can be (by the number of signs)."""
    _, breaks = _breaks(words, count)
    lines = []
    for start, end in pairwise([0, *breaks]):
        line = set_line(" ".join(words[start:end]), size, weight)
        if isinstance(line, NotFound):
            return line
        lines.append(line)
    return tuple(lines)


def _breaks(words: list[str], count: int) -> tuple[int, list[int]]:
    """Length of the longest line, and where each ends."""
    if count == 1:
        return len(" ".join(words)), [len(words)]
    options = []
    for cut in range(1, len(words) - count + 2):
        longest, rest = _breaks(words[cut:], count - 1)
        options.append((max(len(" ".join(words[:cut])), longest), [cut, *(cut + b for b in rest)]))
    return min(options)


def _faces(text: str, weight: Weight) -> list[Face] | NotFound:
    """The face of each sign. A letter and its marks are of one face; spaces and points go with what stands before."""
    every = order(text, weight)
    found: list[Face] = []
    k = 0
    while k < len(text):
        end = k + 1
        while end < len(text) and (unicodedata.category(text[end])[0] == "M" or text[end] in _UNSEEN):
            end += 1
        cluster = "".join(c for c in text[k:end] if c not in _UNSEEN)
        plain = not cluster.isalpha() and unicodedata.category(cluster[:1] or " ")[0] != "M"
        tried = (found[-1], *every) if found and plain else every
        chosen = next((f for f in tried if f.has(cluster)), None)
        if chosen is None:
            return _missing_signs(
                text,
                next(c for c in cluster if not any(f.has(c) for f in every))
                if any(not any(f.has(c) for f in every) for c in cluster)
                else cluster,
            )
        found += [chosen] * (end - k)
        k = end
    return found


def _missing_signs(text: str, signs: str) -> NotFound:
    told = ", ".join(f"“{c}” ({unicodedata.name(c, 'without a name')}, U+{ord(c):04X})" for c in signs)
    return NotFound(
        "text",
        f"“{text}” cannot be shown: none of the packaged typefaces has {told}.",
        "Write it without that sign, or in another script.",
    )


@lru_cache(maxsize=512)
def _shape_line(text: str, weight: Weight) -> tuple[list[tuple[Face, int, float, float]], float] | NotFound:
    """Glyphs of a line from left to right, each with its face and start, and where the line ends; units of the size."""
    found = _faces(text, weight)
    if isinstance(found, NotFound):
        return found
    levels = _levels(text)
    runs: list[tuple[int, int]] = []
    for k in range(len(text)):
        if runs and found[k] is found[k - 1] and levels[k] == levels[k - 1]:
            runs[-1] = (runs[-1][0], k + 1)
        else:
            runs.append((k, k + 1))
    glyphs: list[tuple[Face, int, float, float]] = []
    x = 0.0
    for start, end in _in_order(runs, levels):
        of, buffer = found[start], hb.Buffer()
        buffer.add_str(text[start:end])
        buffer.guess_segment_properties()
        buffer.direction = "rtl" if levels[start] % 2 else "ltr"
        hb.shape(of.font, buffer)
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            if info.codepoint == 0:
                return _missing_signs(text, text[start + info.cluster])
            glyphs.append((of, info.codepoint, x + place.x_offset / of.units, -place.y_offset / of.units))
            x += place.x_advance / of.units
    return glyphs, x


def _levels(text: str) -> list[int]:
    """Embedding level of each sign: even rightwards, odd leftwards (UAX 9 as far as the module says)."""
    kinds = [unicodedata.bidirectional(c) for c in text]
    base = 1 if next((k for k in kinds if k in ("L", "R", "AL")), "L") in ("R", "AL") else 0
    around = "R" if base else "L"
    plain: list[str] = []
    strong = around
    for k, kind in enumerate(kinds):
        if kind == "NSM":  # W1: a mark is as its letter
            plain.append(plain[-1] if plain else around)
            continue
        if kind in ("L", "R", "AL"):
            strong = "L" if kind == "L" else "R"
            plain.append(strong)
        elif kind in ("EN", "AN"):
            plain.append("L" if strong == "L" else "N")  # W7; a number among leftward letters keeps its own order
        elif kind in ("CS", "ES") and plain and plain[-1] == "N" and k + 1 < len(kinds) and kinds[k + 1] == "EN":
            plain.append("N")  # W4: 1,5 is one number
        else:
            plain.append("")
    for k, kind in enumerate(plain):
        if kind == "":  # N1, N2: between two of one direction as they, else as the line
            before = next((p for p in reversed(plain[:k]) if p), around)
            after = next((p for p in plain[k:] if p), around)
            before, after = ("R" if p == "N" else p for p in (before, after))
            plain[k] = before if before == after else around
    return [{"L": 2 if base else 0, "R": 1, "N": 2}[p] for p in plain]


def _in_order(runs: list[tuple[int, int]], levels: list[int]) -> list[tuple[int, int]]:
    """Runs from left to right (rule L2): what is at a level or above is turned round, from the highest level down."""
    ordered = list(runs)
    for level in range(max(levels), 0, -1):
        k = 0
        while k < len(ordered):
            end = k
            while end < len(ordered) and levels[ordered[end][0]] >= level:
                end += 1
            if end > k:
                ordered[k:end] = ordered[k:end][::-1]
            k = max(end, k + 1)
    return ordered
