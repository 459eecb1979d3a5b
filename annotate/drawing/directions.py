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
from moondesk.records import Pose

#: Text, and disc coordinates (u, v) of its limb point.
DIRECTIONS: tuple[tuple[str, float, float], ...] = (
    ("N", 0.0, 1.0),
    ("S", 0.0, -1.0),
    ("lunar E", 1.0, 0.0),
    ("lunar W", -1.0, 0.0),
)


@dataclass(frozen=True, kw_only=True)
class DirectionMark:
    """A direction's text box (centre, size) and the line that goes with it, pixels.

    (from_x, from_y) to (to_x, to_y): a tick on the limb, or an arrow where `arrow` is true.
    """

    text: str
    x: float
    y: float
    width_px: float
    height_px: float
    font_px: float
    from_x: float
    from_y: float
    to_x: float
    to_y: float
    arrow: bool


def _inside(x: float, y: float, w: float, h: float, width: int, height: int, margin: float) -> bool:
    return bool(
        margin + w / 2 <= x <= width - 1 - margin - w / 2 and margin + h / 2 <= y <= height - 1 - margin - h / 2
    )


def _overlap(mark: DirectionMark, x: float, y: float, w: float, h: float, gap: float) -> bool:
    """A text box at (x, y) nearly touches that of a mark."""
    near_x, near_y = (w + mark.width_px) / 2 + gap, (h + mark.height_px) / 2 + gap
    return abs(x - mark.x) < near_x and abs(y - mark.y) < near_y


def direction_marks(width: int, height: int, pose: Pose, font_px: float) -> tuple[DirectionMark, ...]:
    """The four directions for a picture of width x height; font_px is the size of ordinary text."""
    size = 1.15 * font_px
    cx, cy = (float(c) for c in disc_to_pixel(pose, 0.0, 0.0))
    margin = 0.35 * font_px
    ends = [disc_to_pixel(pose, u, v) for _, u, v in DIRECTIONS]
    shown = sum(bool(0 < x < width and 0 < y < height) for x, y in ends)
    # letters strewn along the edges of a close-up would stand among its names
    central = 0.2 < cx / width < 0.8 and 0.2 < cy / height < 0.8
    if not central and shown < 3:
        return _compass(width, height, pose, size)
    found: list[DirectionMark] = []
    for text, u, v in DIRECTIONS:
        lx, ly = (float(c) for c in disc_to_pixel(pose, u, v))
        far = float(np.hypot(lx - cx, ly - cy))
        dx, dy = (lx - cx) / far, (ly - cy) / far
        w, h = text_size(text, size)
        half = abs(dx) * w / 2 + abs(dy) * 0.8 * h / 2
        tick = 0.45 * size
        at = far + tick + 0.3 * size + half
        x, y = cx + dx * at, cy + dy * at
        if _inside(x, y, w, h, width, height, margin):
            found.append(
                DirectionMark(
                    text=text,
                    x=x,
                    y=y,
                    width_px=w,
                    height_px=h,
                    font_px=size,
                    from_x=lx,
                    from_y=ly,
                    to_x=cx + dx * (far + tick),
                    to_y=cy + dy * (far + tick),
                    arrow=False,
                )
            )
            continue
        # the frame is nearer than the limb: from the frame's edge inwards, arrow outermost
        arrow = 1.1 * size
        for back in np.arange(at, 0.0, -0.25 * size):
            x, y = cx + dx * float(back), cy + dy * float(back)
            tip = float(back) + half + 0.3 * size + arrow
            tx, ty = cx + dx * tip, cy + dy * tip
            framed = _inside(x, y, w, h, width, height, margin) and _inside(tx, ty, 0, 0, width, height, margin / 2)
            if framed and not any(_overlap(m, x, y, w, h, 0.2 * size) for m in found):
                found.append(
                    DirectionMark(
                        text=text,
                        x=x,
                        y=y,
                        width_px=w,
                        height_px=h,
                        font_px=size,
                        from_x=tx - dx * arrow,
                        from_y=ty - dy * arrow,
                        to_x=tx,
                        to_y=ty,
                        arrow=True,
                    )
                )
                break
    return tuple(found)


def _compass(width: int, height: int, pose: Pose, size: float) -> tuple[DirectionMark, ...]:
    xs, ys = np.meshgrid(np.linspace(0, width - 1, 41), np.linspace(0, height - 1, 31))
    lat, lon = pixel_to_surface(pose, xs, ys)
    on_disc = ~np.isnan(lat)
    if not on_disc.any():
        return ()
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)

    arm = 1.5 * size
    side = text_size("lunar W", size)[0]
    room_x, room_y = arm + 0.9 * size + side, arm + 1.9 * size
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
    _, x0, y0 = best
    found = []
    for text, (dx, dy) in zip(("N", "S", "lunar E", "lunar W"), (north, -north, east, -east), strict=True):
        w, h = text_size(text, size)
        half = abs(dx) * w / 2 + abs(dy) * 0.8 * h / 2
        at = arm + 0.25 * size + half
        found.append(
            DirectionMark(
                text=text,
                x=float(x0 + dx * at),
                y=float(y0 + dy * at),
                width_px=w,
                height_px=h,
                font_px=size,
                from_x=float(x0),
                from_y=float(y0),
                to_x=float(x0 + dx * arm),
                to_y=float(y0 + dy * arm),
                arrow=text == "N",
            )
        )
    return tuple(found)
