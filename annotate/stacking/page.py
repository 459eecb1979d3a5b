"""A dark page with pictures and words on it: what poster, march and share card are composed on.

Words that no typeface has are not passed over: the page remembers the first, and gives it instead of its pixels.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.paint import paint
from moondesk.drawing.shapes import Fill, Shape
from moondesk.drawing.text import TextLine, clean_text, wrap_text
from moondesk.drawing.typefaces import BOLD, CAP
from moondesk.records import ByteArray, FloatArray, NotFound

Anchor = Literal["left", "middle", "right"]

GROUND = (6, 8, 12)
WHITE, SOFT, QUIET, GOLD = "#f4f1e8", "#c9cfdb", "#8f99ab", "#e8c66a"
#: Distance of two baselines, heights of a capital.
STEP = 1.85


class Page:
    """Pixels of a page, and where words were set."""

    def __init__(self, width: int, height: int) -> None:
        self.pixels: ByteArray = np.empty((height, width, 3), np.uint8)
        self.pixels[...] = GROUND
        self.texts: list[TurnedBox] = []
        self._missing: NotFound | None = None

    def lay(self, picture: ByteArray, x: float, y: float) -> None:
        """A picture with its corner at (x, y): the brighter of page and picture, so that its black sky is the page."""
        x0, y0 = round(x), round(y)
        left, top = max(x0, 0), max(y0, 0)
        right = min(x0 + picture.shape[1], self.pixels.shape[1])
        bottom = min(y0 + picture.shape[0], self.pixels.shape[0])
        place = self.pixels[top:bottom, left:right]
        np.maximum(place, picture[top - y0 : bottom - y0, left - x0 : right - x0], out=place)

    def draw(self, *shapes: Shape) -> None:
        paint(self.pixels, shapes)

    def write(
        self,
        words: str,
        x: float,
        y: float,
        cap_px: float,
        *,
        width: float,
        colour: str = WHITE,
        weight: int = BOLD,
        anchor: Anchor = "left",
        most: int = 1,
        least: float = 0.72,
    ) -> float:
        """Words in at most so many lines, the first's capitals from y down; the y under the last.

        They are set smaller, down to the share `least`, before they are broken into one line more than wanted.
        """
        if not clean_text(words):
            return y
        lines: tuple[TextLine, ...] = ()
        cap = cap_px
        for size, count in ((1.0, most), (0.86, most), (least, most), (least, most + 1), (0.8 * least, most + 2)):
            cap = cap_px * size
            found = wrap_text(words, cap / CAP, weight, width, count)
            if isinstance(found, NotFound):
                self._missing = found if self._missing is None else self._missing
                return y
            lines = found
            if max(line.ink.width for line in lines) <= width:
                break
        shapes = []
        for k, line in enumerate(lines):
            at = {"left": x - line.ink.x0, "middle": x - line.ink.width / 2 - line.ink.x0}.get(
                anchor, x - line.ink.width - line.ink.x0
            )
            fill, ink = line.at(at, y + cap + k * STEP * cap, colour)
            shapes.append(fill)
            self.texts.append(ink)
        self.draw(*shapes)
        return y + cap + (len(lines) - 1) * STEP * cap

    def finish(self) -> ByteArray | NotFound:
        return self.pixels if self._missing is None else self._missing


def bar(x0: float, y0: float, x1: float, y1: float, colour: str, opacity: float = 1.0) -> Fill:
    return Fill((np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]),), colour, opacity)


def spot(x: float, y: float, radius: float, colour: str, hole: float = 0.0) -> Fill:
    """A disc, or a ring with a hole of that radius."""
    turn = np.linspace(0.0, 2 * np.pi, 49)[:-1]
    rim: FloatArray = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    outlines = (rim * radius + [x, y],)
    return Fill(outlines if hole <= 0 else (*outlines, rim[::-1] * hole + [x, y]), colour)
