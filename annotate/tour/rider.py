"""What stays with a feature while the camera moves: its rim and its name, where it is in that very frame."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from moondesk.drawing.frame import Format
from moondesk.drawing.shapes import Path, Shape
from moondesk.drawing.style import AREA_KINDS, LONG_KINDS
from moondesk.drawing.text import TextLine, set_line
from moondesk.drawing.theme import Theme
from moondesk.drawing.typefaces import CAP
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import Feature, Pose
from moondesk.tour.spotlight import outlines

_LINE = 3.0
#: Height of capitals, and how far the name stands off the rim, pixels at 1080 lines.
_CAP, _GAP = 32.0, 20.0


def rider(feature: Feature, title: str, pose: Pose, fmt: Format, theme: Theme) -> tuple[Shape, ...]:
    """Ring and name; nothing where it lies behind the limb, or no typeface has its signs."""
    at = surface_to_pixel(pose, feature.lat_deg, feature.lon_deg)
    line = set_line(title, _CAP * fmt.unit / CAP)
    if float(at.mu) <= 0.0 or not isinstance(line, TextLine):
        return ()
    ink = theme.seas if feature.kind in AREA_KINDS else theme.ranges if feature.kind in LONG_KINDS else theme.craters
    x, y = float(at.x) + 0.5, float(at.y) + 0.5
    shapes: list[Shape] = []
    below = 0.0
    if feature.kind not in AREA_KINDS | LONG_KINDS:
        (rim,) = outlines(feature, pose)
        below = float(np.ptp(rim[:, 1])) / 2
        points = tuple((px - 0.5, py - 0.5) for px, py in rim.tolist())
        shapes.append(Path(points=points, width_px=_LINE * fmt.unit, colour=ink, closed=True))
    safe, half = fmt.safe, line.ink.width / 2
    foot = y + below + _GAP * fmt.unit + line.cap_px
    if foot > safe.y1 - 0.2 * fmt.height:  # the credit's place
        foot = y - below - _GAP * fmt.unit
    left = min(max(x - half, safe.x0), safe.x1 - 2 * half) - line.ink.x0
    letters, _ = line.at(left, min(max(foot, safe.y0 + line.cap_px), safe.y1), ink)
    shapes.append(replace(letters, halo=theme.halo, halo_px=0.16 * line.cap_px))
    return tuple(shapes)
