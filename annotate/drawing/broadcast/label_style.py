"""The frames' own look: colours, plates, chips with a name on them. Shapes and numbers only.

Night blue plates with light letters: every text stands on a plate of its own, because no colour is readable on a bright
highland by itself (figures F: white 1.5, yellow 1.2 against #D0D0D0). A chip lets a little of the Moon through; the
text's contrast is meant for the worst case, white ground under it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from moondesk.drawing.broadcast.formats import Box, Format
from moondesk.drawing.broadcast.glyph_outlines import Line, cleaned, wrapped
from moondesk.drawing.broadcast.records import TextBox
from moondesk.drawing.broadcast.shapes import AirShape, Fill
from moondesk.drawing.broadcast.typefaces import BOLD, CAP
from moondesk.records import FloatArray, NotFound

PLATE, RULE = "#0b1424", "#2a3a57"
WHITE, SOFT = "#f7f9fd", "#c9d5ea"
GOLD, SKY_BLUE, MINT, EMBER = "#ffd36b", "#a9d9ff", "#74e0bd", "#ffa765"
CHIP_OPACITY = 0.86
#: Size of a chip's letters in units of the least; names of two words or more are set in two lines from so many signs
#: on.
CHIP_CAP, TWO_LINES = 1.02, 13
#: Distance of baselines, units of the size.
STEP = 1.16
#: Room above and below the letters of a chip, in units of that at their sides.
_LEVEL = 0.65


@dataclass(frozen=True, eq=False, kw_only=True)
class Block:
    """Lines of text one under another, and the size of the chip that holds them, pixels."""

    lines: tuple[Line, ...]
    width: float
    height: float
    #: From the text to the chip's edge at its sides; above and below it is less.
    pad: float
    #: From the first baseline to the top of the first line's ink.
    above: float

    def room(self, safe: Box) -> Box:
        """Where the plate may stand so that its letters keep inside a rectangle."""
        side, level = 0.95 * self.pad, 0.95 * _LEVEL * self.pad
        return Box(safe.x0 - side, safe.y0 - level, safe.x1 + side, safe.y1 + level)

    def at(
        self, x: float, y: float, colour: str, centred: bool = True
    ) -> tuple[tuple[AirShape, ...], tuple[TextBox, ...]]:
        """The chip with its middle at (x, y): plate and letters, and the letters' boxes."""
        box = Box(x - self.width / 2, y - self.height / 2, x + self.width / 2, y + self.height / 2)
        shapes: list[AirShape] = [rounded(box, 0.32 * self.pad + 0.1 * self.lines[0].size_px, PLATE, CHIP_OPACITY)]
        texts = []
        size = self.lines[0].size_px
        first = box.y0 + _LEVEL * self.pad + self.above
        for k, line in enumerate(self.lines):
            left = x - (line.ink.x0 + line.ink.x1) / 2 if centred else box.x0 + self.pad - line.ink.x0
            fill, ink = line.at(left, first + k * STEP * size, colour)
            shapes.append(fill)
            texts.append(TextBox(text=line.text, box=ink, cap_px=line.cap_px, colour=colour, ground=PLATE, plate=False))
        return tuple(shapes), tuple(texts)


def chip(text: str, fmt: Format, scale: float = 1.0) -> Block | NotFound:
    """A name's chip; a newline parts lines, and long names of one line are set in two."""
    size = scale * CHIP_CAP * fmt.least_cap(False) / CAP
    parts = [cleaned(part) for part in text.split("\n") if cleaned(part)]
    lines: tuple[Line, ...] = ()
    for part in parts:
        two = len(parts) == 1 and len(part) >= TWO_LINES and " " in part
        more = wrapped(part, size, BOLD, 0.0, 2 if two else 1)
        if isinstance(more, NotFound):
            return more
        lines += more
    pad = 0.36 * size
    # usual letters, so that chips in a row are equally high; marks that stand out above or below make their own room
    above = max(CAP * size, -lines[0].ink.y0)
    below = max(0.12 * size, lines[-1].ink.y1)
    height = above + below + (len(lines) - 1) * STEP * size
    return Block(
        lines=lines,
        width=max(line.ink.width for line in lines) + 2 * pad,
        height=height + 2 * _LEVEL * pad,
        pad=pad,
        above=above,
    )


def rounded(box: Box, radius: float, colour: str, opacity: float = 1.0) -> Fill:
    """A rectangle with round corners."""
    r = min(radius, box.width / 2, box.height / 2)
    corners = []
    for k, (cx, cy) in enumerate(
        ((box.x1 - r, box.y0 + r), (box.x1 - r, box.y1 - r), (box.x0 + r, box.y1 - r), (box.x0 + r, box.y0 + r))
    ):
        t = np.radians(np.linspace(-90 + 90 * k, 90 * k, 9))
        corners.append(np.stack([cx + r * np.cos(t), cy + r * np.sin(t)], axis=1))
    return Fill((np.concatenate(corners),), colour, opacity)


def polygon(points: list[tuple[float, float]], colour: str, opacity: float = 1.0) -> Fill:
    return Fill((np.array(points, float),), colour, opacity)


def circle(x: float, y: float, radius: float, n: int = 120) -> FloatArray:
    """The outline of a circle, (n, 2)."""
    t = np.linspace(0.0, 2 * np.pi, n, endpoint=False)
    return np.stack([x + radius * np.cos(t), y + radius * np.sin(t)], axis=1)


def ring(x: float, y: float, radius: float, width: float, colour: str, opacity: float = 1.0) -> Fill:
    """A circle's line: two outlines that wind against each other."""
    return Fill((circle(x, y, radius + width / 2), circle(x, y, radius - width / 2)[::-1]), colour, opacity)
