"""A picture with all its contributors under it."""

from __future__ import annotations

import numpy as np

from moondesk.drawing.paint import paint
from moondesk.drawing.shapes import Shape
from moondesk.drawing.text import set_line
from moondesk.records import ByteArray, NotFound

TEXT, QUIET = "#f1efe6", "#a9b3c4"
GROUND = (0, 0, 0)
#: A line's height in a picture of one pixel's width, and how full it may be.
LINE, FULL = 0.042, 0.94


def add_captions(rgb: ByteArray, head: str, names: tuple[str, ...]) -> ByteArray | NotFound:
    """A picture with the head and all names under it, in as many lines as they want."""
    width, size = rgb.shape[1], LINE * rgb.shape[1]
    rows: list[str] = []
    for k, name in enumerate(names):
        part = name + (" ·" if k + 1 < len(names) else "")
        longer = f"{rows[-1]} {part}" if rows else part
        line = set_line(longer, 0.7 * size)
        if isinstance(line, NotFound):
            return line
        if rows and line.advance > FULL * width:
            rows.append(part)
        elif rows:
            rows[-1] = longer
        else:
            rows.append(part)
    height = round(size * 1.25 * (len(rows) + 1.6))
    step = size * 1.25 / height
    told = [(head, 1.1 * step, size / height, TEXT)]
    told += [(row, (2.2 + k) * step, 0.7 * size / height, QUIET) for k, row in enumerate(rows)]
    under = _lines(tuple(told), width, height)
    return under if isinstance(under, NotFound) else np.vstack([rgb, under])


def _lines(told: tuple[tuple[str, float, float, str], ...], width: int, height: int) -> ByteArray | NotFound:
    """told: text, baseline and size as shares of the height, colour."""
    canvas = np.zeros((height, width, 4), np.uint8)
    canvas[...] = [*GROUND, 255]
    shapes: list[Shape] = []
    for text, y, size, colour in told:
        line = set_line(text, size * height)
        if isinstance(line, NotFound):
            return line
        if line.ink.x1 - line.ink.x0 > FULL * width:
            line = set_line(text, size * height * FULL * width / (line.ink.x1 - line.ink.x0))
            if isinstance(line, NotFound):
                return line
        shapes.append(line.at((width - line.advance) / 2, y * height, colour)[0])
    paint(canvas, shapes)
    return np.ascontiguousarray(canvas[..., :3])
