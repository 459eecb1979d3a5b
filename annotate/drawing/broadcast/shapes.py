"""What a frame is drawn of: filled areas, lines and dots of the overlay, and pictures."""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.drawing.shapes import Dot, Path
from moondesk.records import ByteArray, FloatArray


@dataclass(frozen=True, eq=False)
class Fill:
    """An area within closed outlines, each (n, 2) in frame coordinates; filled where they wind round a point.

    says: the words that the outlines are letters of, for those who read the SVG; "" for other areas.
    """

    outlines: tuple[FloatArray, ...]
    colour: str
    opacity: float = 1.0
    says: str = ""


@dataclass(frozen=True, eq=False)
class Raster:
    """Pixels with their corner at (x, y): (h, w, 3) or (h, w, 4) uint8."""

    x: int
    y: int
    pixels: ByteArray


AirShape = Fill | Raster | Path | Dot
