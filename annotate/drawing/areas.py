"""Areas that frames are drawn of: rounded rectangles, polygons, circles, rings. Frame coordinates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.shapes import Fill
from moondesk.records import FloatArray


def rounded_rectangle(box: TurnedBox, radius: float, colour: str, opacity: float = 1.0) -> Fill:
    """A rectangle with round corners."""
    r = min(radius, box.width / 2, box.height / 2)
    corners = []
    for k, (cx, cy) in enumerate(
        ((box.x1 - r, box.y0 + r), (box.x1 - r, box.y1 - r), (box.x0 + r, box.y1 - r), (box.x0 + r, box.y0 + r))
    ):
        t = np.radians(np.linspace(-90 + 90 * k, 90 * k, 9))
        corners.append(np.stack([cx + r * np.cos(t), cy + r * np.sin(t)], axis=1))
    return Fill((np.concatenate(corners),), colour, opacity)


def polygon(points: Sequence[tuple[float, float]], colour: str, opacity: float = 1.0) -> Fill:
    return Fill((np.array(points, float),), colour, opacity)


def bar(x0: float, y0: float, x1: float, y1: float, colour: str) -> Fill:
    """A level rectangle."""
    return polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], colour)


def circle(x: float, y: float, radius: float, n: int = 120) -> FloatArray:
    """The outline of a circle, (n, 2)."""
    t = np.linspace(0.0, 2 * np.pi, n, endpoint=False)
    return np.stack([x + radius * np.cos(t), y + radius * np.sin(t)], axis=1)


def ring(x: float, y: float, radius: float, width: float, colour: str, opacity: float = 1.0) -> Fill:
    """A circle's line: two outlines that wind against each other."""
    return Fill((circle(x, y, radius + width / 2), circle(x, y, radius - width / 2)[::-1]), colour, opacity)
