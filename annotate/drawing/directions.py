"""Where north, south and the Moon's east and west stand in a picture.

Outside the limb where there is room; where the frame cuts the disc, at the frame's edge with an arrow; and where the
disc's centre is out of the frame or near its edge (a close-up) as a small compass in the darkest corner, turned as the
disc is.
East and west are the Moon's own, and the letters say so, because in the sky they are the other way round.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from moondesk.drawing.text import text_size
from moondesk.moon.geometry import disc_to_pixel, pixel_to_surface, screen_axes, sun_altitude_deg
from moondesk.records import FloatArray, Pose

#: Text, and disc coordinates (u, v) of its limb point.
DIRECTIONS: tuple[tuple[str, float, float], ...] = (
    ("N", 0.0, 1.0),
    ("S", 0.0, -1.0),
    ("lunar E", 1.0, 0.0),
    ("lunar W", -1.0, 0.0),
)


@dataclass(frozen=True, eq=False, kw_only=True)
class DirectionMark:
    """A direction's text, its box's centre `at`, and the line that goes with it, pixels (x, y): a tick on the limb, or
    an arrow."""

    text: str
    font_px: float
    at: FloatArray
    start: FloatArray
    end: FloatArray
    arrow: bool

    @property
    def size(self) -> tuple[float, float]:
        return text_size(self.text, self.font_px)


def direction_marks(width: int, height: int, pose: Pose, font_px: float) -> tuple[DirectionMark, ...]:
    """The four directions for a picture of width x height; font_px is the size of ordinary text."""
    size, margin = 1.15 * font_px, 0.35 * font_px
    frame = np.array([width - 1.0, height - 1.0])
    centre = np.array([float(c) for c in disc_to_pixel(pose, 0.0, 0.0)])
    ends = [np.array([float(c) for c in disc_to_pixel(pose, u, v)]) for _, u, v in DIRECTIONS]
    shown = sum(bool(((end > 0) & (end < frame + 1)).all()) for end in ends)
    # letters strewn along the edges of a close-up would stand among its names
    middle = centre / (frame + 1)
    if shown < 3 and not ((middle > 0.2) & (middle < 0.8)).all():
        return _compass(width, height, pose, size)

    def inside(at: FloatArray, box: tuple[float, float], margin: float) -> bool:
        half = np.array(box) / 2 + margin
        return bool(((half <= at) & (at <= frame - half)).all())

    found: list[DirectionMark] = []
    for (text, _, _), limb in zip(DIRECTIONS, ends, strict=True):
        far = float(np.hypot(*(limb - centre)))
        way = (limb - centre) / far
        box, half = text_size(text, size), _half(text, size, way)
        tick = 0.45 * size
        away = far + tick + 0.3 * size + half
        if inside(centre + way * away, box, margin):
            at, end = centre + way * away, centre + way * (far + tick)
            found.append(DirectionMark(text=text, font_px=size, at=at, start=limb, end=end, arrow=False))
            continue
        # the frame is nearer than the limb: from the frame's edge inwards, arrow outermost
        arrow = 1.1 * size
        for back in np.arange(away, 0.0, -0.25 * size):
            at = centre + way * float(back)
            tip = centre + way * (float(back) + half + 0.3 * size + arrow)
            free = inside(at, box, margin) and inside(tip, (0.0, 0.0), margin / 2)
            if free and not any(_near(m, at, box, 0.2 * size) for m in found):
                start = tip - way * arrow
                found.append(DirectionMark(text=text, font_px=size, at=at, start=start, end=tip, arrow=True))
                break
    return tuple(found)


def _half(text: str, size: float, way: FloatArray) -> float:
    """From the middle of a text's box to its edge in a direction."""
    w, h = text_size(text, size)
    return float(abs(way[0]) * w / 2 + abs(way[1]) * 0.8 * h / 2)


def _near(mark: DirectionMark, at: FloatArray, box: tuple[float, float], gap: float) -> bool:
    """A text box nearly touches that of a mark."""
    return bool((np.abs(at - mark.at) < (np.array(box) + mark.size) / 2 + gap).all())


def _compass(width: int, height: int, pose: Pose, size: float) -> tuple[DirectionMark, ...]:
    xs, ys = np.meshgrid(np.linspace(0, width - 1, 41), np.linspace(0, height - 1, 31))
    lat, lon = pixel_to_surface(pose, xs, ys)
    on_disc = ~np.isnan(lat)
    if not on_disc.any():
        return ()
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    arm = 1.5 * size
    room_x, room_y = arm + 0.9 * size + text_size("lunar W", size)[0], arm + 1.9 * size
    with np.errstate(invalid="ignore"):
        sun = sun_altitude_deg(
            np.where(on_disc, lat, 0.0), np.where(on_disc, lon, 0.0), pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
        )
    light = np.where(on_disc, np.clip(np.sin(np.radians(sun)), 0, None), 0.0)
    best: tuple[float, float, float] | None = None
    for x0 in (room_x, width - 1 - room_x):
        for y0 in (height - 1 - room_y, room_y):
            here = (np.abs(xs - x0) < room_x) & (np.abs(ys - y0) < room_y)
            cost = float(light[here].mean()) if here.any() else 0.0
            if best is None or cost < best[0] - 0.02:
                best = (cost, x0, y0)
    assert best is not None
    middle = np.array(best[1:])
    return tuple(
        DirectionMark(
            text=text,
            font_px=size,
            at=middle + way * (arm + 0.25 * size + _half(text, size, way)),
            start=middle,
            end=middle + way * arm,
            arrow=text == "N",
        )
        for (text, _, _), way in zip(DIRECTIONS, (north, -north, east, -east), strict=True)
    )
