"""What everything is drawn of, as plain records: what `paint` makes pixels of and `svg` writes.

Lines, dots and texts are in pixels counted from their centres and have a halo; `layer`: of the desk's overlay, "" on air."""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.drawing import curves
from moondesk.records import ByteArray, FloatArray


@dataclass(frozen=True, kw_only=True)
class Path:
    """A line through points in pixels. dash: lengths of stroke and gap in pixels, empty for a full line."""

    points: curves.Points
    width_px: float
    colour: str
    closed: bool = False
    opacity: float = 1.0
    dash: tuple[float, ...] = ()
    layer: str = ""


@dataclass(frozen=True, kw_only=True)
class Dot:
    """A filled circle: a peak, a landing site, the end of a leader line."""

    x: float
    y: float
    radius_px: float
    colour: str
    layer: str = ""


@dataclass(frozen=True, kw_only=True)
class TextShape:
    """Lines of text (separated by newlines) centred on (x, y), turned counter-clockwise by angle_deg."""

    text: str
    x: float
    y: float
    font_px: float
    colour: str
    angle_deg: float = 0.0
    layer: str = ""


@dataclass(frozen=True, eq=False)
class Fill:
    """An area within closed outlines, each (n, 2) in frame coordinates; filled where they wind round a point.

    says: the words that the outlines are letters of, for those who read the SVG; "" for other areas. halo, halo_px:
    colour and reach of a dark edge round them.
    """

    outlines: tuple[FloatArray, ...]
    colour: str
    opacity: float = 1.0
    says: str = ""
    halo: str = ""
    halo_px: float = 0.0


@dataclass(frozen=True, eq=False)
class RasterShape:
    """Pixels with their corner at (x, y): (h, w, 3) or (h, w, 4) uint8."""

    x: int
    y: int
    pixels: ByteArray


#: What the desk's overlay is drawn of, and everything.
Mark = Path | Dot | TextShape
Shape = Mark | Fill | RasterShape
