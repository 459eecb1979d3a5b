"""Names as blocks of lines: set at one of three sizes, the IAU's name over the local one where both are wanted.

Capitals of bare letters are as high as `Format.least_cap` wants or higher; names of the third rank that stand on the
frame's own black sky are as on an opaque plate (figures F). Seas are in slanting letters, as water is on maps (E. Imhof
1975), where the script knows such letters.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.frame import Format, TextBox
from moondesk.drawing.shapes import Shape
from moondesk.drawing.text import TextLine, clean_text, wrap_text
from moondesk.drawing.theme import Theme
from moondesk.drawing.typefaces import BOLD, CAP, REGULAR, Weight
from moondesk.records import NotFound

Align = Literal["left", "middle", "right"]
#: Height of capitals by rank, lines of 1080.
CAPS = (34.0, 30.5, 26.5)
#: Of a second line that gives the other name.
SECOND_CAP = 26.5
#: Distance of baselines, units of the size, and more for scripts with signs above and below.
STEP, HIGH_STEP = 1.06, 1.36
#: Width of the dark edge round bare letters, over the Moon and over the veil of a frame's foot, units of the size.
EDGE, EDGE_ON_VEIL = 0.12, 0.11
#: How much smaller a name may be for one line.
_CLOSE = 0.92
#: Slant of a sea's letters: 11 degrees.
_SLANT = 0.19
_SLANTING = ("LATIN", "CYRILLIC", "GREEK")


@dataclass(frozen=True, eq=False, kw_only=True)
class Block:
    """Lines one under another. colours: of each; baselines: from the top of the ink; width, height: of the ink."""

    lines: tuple[TextLine, ...]
    colours: tuple[str, ...]
    baselines: tuple[float, ...]
    width: float
    height: float

    def at(
        self, x: float, y: float, align: Align, halo: str = "", edge: float = EDGE
    ) -> tuple[tuple[Shape, ...], tuple[TextBox, ...]]:
        """Letters and their boxes with the block's middle at height y, and at x its middle or that end. halo: colour of
        the dark edge round them, "" for none; edge: how wide, units of the size."""
        shapes, texts = [], []
        for line, colour, below in zip(self.lines, self.colours, self.baselines, strict=True):
            ink = line.ink
            left = {"left": x - ink.x0, "right": x - ink.x1, "middle": x - (ink.x0 + ink.x1) / 2}[align]
            fill, box = line.at(left, y - self.height / 2 + below, colour)
            shapes.append(replace(fill, halo=halo, halo_px=edge * line.size_px if halo else 0.0))
            texts.append(
                TextBox(
                    text=line.text,
                    box=box,
                    cap_px=line.cap_px,
                    colour=colour,
                    ground=halo or "#000000",
                    plate=False,
                    halo=bool(halo),
                )
            )
        return tuple(shapes), tuple(texts)


def box_at(block: Block, x: float, y: float, align: Align) -> TurnedBox:
    """The rectangle round a block's ink at a place."""
    x0 = {"left": x, "right": x - block.width, "middle": x - block.width / 2}[align]
    return TurnedBox(x0, y - block.height / 2, x0 + block.width, y + block.height / 2)


def set_block(
    text: str,
    fmt: Format,
    rank: int,
    theme: Theme,
    colours: tuple[str, str],
    width: float,
    slanting: bool = False,
    black: bool = True,
    most: int = 3,
    most_cap: float = np.inf,
    shrink: bool = True,
) -> Block | NotFound:
    """A name within a width: in as few lines as go, smaller down to the least size where a word is too long.

    colours: of the name, and of its second form, which stands under it. black: it stands on the frame's own black sky.
    most_cap: capitals are no higher, pixels; shrink: whether it may be set smaller than others of its rank.
    """
    parts = [clean_text(part) for part in text.split("\n") if clean_text(part)]
    least = fmt.least_cap(black)
    cap = max(min(CAPS[rank] * fmt.unit, most_cap), least)
    weight = theme.cut(REGULAR if rank == 2 else BOLD), theme.cut(REGULAR)
    found = _lines(parts, cap, weight, colours, fmt, width, most, least)
    if (
        shrink and not isinstance(found, NotFound) and len(found) > len(parts)
    ):  # a little smaller rather than in two lines
        narrow = _lines(parts, max(_CLOSE * cap, least), weight, colours, fmt, width, most, least)
        if not isinstance(narrow, NotFound) and len(narrow) == len(parts):
            found = narrow
    for smaller in (0.94, 0.88, 0.0) if shrink else ():
        if isinstance(found, NotFound) or max(line.ink.width for line, _ in found) <= width:
            break
        found = _lines(parts, max(smaller * cap, least), weight, colours, fmt, width, most, least)
    if isinstance(found, NotFound):
        return found
    if slanting:
        found = [(_slant(line), colour) for line, colour in found]
    return stack_lines(found)


def stack_lines(rows: Sequence[tuple[TextLine, str]], loose: float = 1.0) -> Block:
    """Lines with their colours one under another; loose: how much farther apart than names."""
    above = max(CAP * rows[0][0].size_px, -rows[0][0].ink.y0)
    baselines = [above]
    for (one, _), (line, _) in pairwise(rows):
        step = HIGH_STEP if _is_high(one.text) or _is_high(line.text) else STEP
        free = one.ink.y1 - line.ink.y0 + 0.1 * line.size_px
        baselines.append(baselines[-1] + max(loose * step * line.size_px, free))
    return Block(
        lines=tuple(line for line, _ in rows),
        colours=tuple(colour for _, colour in rows),
        baselines=tuple(baselines),
        width=max(line.ink.width for line, _ in rows),
        height=baselines[-1] + max(rows[-1][0].ink.y1, 0.0),
    )


def _lines(
    parts: Sequence[str],
    cap: float,
    weights: tuple[Weight, Weight],
    colours: tuple[str, str],
    fmt: Format,
    width: float,
    most: int,
    least: float,
) -> list[tuple[TextLine, str]] | NotFound:
    found = []
    for k, part in enumerate(parts):
        size = (cap if k == 0 else max(min(cap, SECOND_CAP * fmt.unit), least)) * 1.001 / CAP
        lines = wrap_text(part, size, weights[min(k, 1)], width, most)
        if isinstance(lines, NotFound):
            return lines
        found += [(line, colours[min(k, 1)]) for line in lines]
    return found


def is_leftward(block: Block) -> bool:
    """Whether a block's first line runs from right to left."""
    kinds = (unicodedata.bidirectional(c) for c in block.lines[0].text)
    return next((k for k in kinds if k in ("L", "R", "AL")), "L") != "L"


def _is_high(text: str) -> bool:
    """Whether a script stands higher and deeper than Latin letters do."""
    return any(unicodedata.bidirectional(c) in ("R", "AL") or 0x0900 < ord(c) < 0x1100 for c in text)


def _slant(line: TextLine) -> TextLine:
    letters = [c for c in line.text if c.isalpha()]
    if not letters or not all(unicodedata.name(c, "").split(" ")[0] in _SLANTING for c in letters):
        return line
    outlines = tuple(np.stack([o[:, 0] - _SLANT * o[:, 1], o[:, 1]], axis=1) for o in line.outlines)
    every = np.concatenate(outlines)
    (x0, y0), (x1, y1) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    return replace(line, outlines=outlines, ink=TurnedBox(x0, y0, x1, y1))
