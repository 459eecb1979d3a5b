"""Where the Moon stands in a frame: its lit part large and in the middle, the sender's name to its lower left.

A whole disc is as large as it can be without touching the credit, and stands so that what is lit of it lies between the
columns of names. A picture of a small part of the disc fills the frame where enough of it is left after cutting it to the frame's shape;
else that part stands in the frame with its own edges faded. A disc is enlarged no more than its pixels bear.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing.areas import circle
from moondesk.drawing.background import Lookup
from moondesk.drawing.blocks import Block, is_leftward
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.credit_block import credit_blocks
from moondesk.drawing.frame import Format, FrameRequest
from moondesk.drawing.theme import LowerThird, Theme
from moondesk.moon.geometry import (
    disc_to_pixel,
    pixel_to_disc,
    pixel_to_surface,
    sun_altitude_deg,
    surface_to_pixel,
    undistort,
)
from moondesk.records import MOON_RADIUS_KM, Annotation, FloatArray, NotFound, Pose

#: Largest and least radius of a whole disc, pixels of a frame whose shorter side has 1080: its lit part is 70 to 85 %
#: of a level frame's height.
LEVEL, UPRIGHT = (424.0, 378.0), (432.0, 410.0)
#: Free above a disc in a level frame, round it to the credit; above it in an upright frame, where names stand above and
#: below.
_ABOVE, _ROUND, _ABOVE_UPRIGHT = 92.0, 26.0, 308.0
#: How far a theme's own mark or plate reaches above the credit's words.
_MARK_ABOVE: dict[LowerThird, float] = {"rule": 0.0, "line": 12.0, "plate": 14.0}
#: Width of the credit in an upright frame.
_BESIDE_SCALE = 620.0
#: Frame pixels for one of the picture at most, at 1080 lines; a tiny disc gets at least the radius LEAST_RADIUS.
LARGEST, LEAST_RADIUS = 3.0, 250.0
#: A close-up shows at most this much enlarged.
LARGEST_ZOOM = 4.0
#: Half the extent of what the picture has of the disc, radii: with less it is a close-up.
PART = 0.62
#: Share of a close-up that must be left to let it fill the frame.
KEPT = 0.42
#: How far from the frame's middle a close-up's place may stand, shares of its width and height, and what of the frame
#: must be gained by it; what lies above the credit, share of the height.
ASIDE, _STAY, _ABOVE_FOOT = (0.2, 0.14), 0.06, 0.82


@dataclass(frozen=True, eq=False, kw_only=True)
class Composition:
    """Where a picture lies in the frame. pose: the Moon's; None: not placed. step: pixels of the picture for one
    here."""

    lookup: Lookup
    step: float
    pose: Pose | None
    #: Of the disc as it is shown, pixels: middle and radius; None: no disc is known.
    disc: tuple[float, float, float] | None
    #: The disc stands in the frame as a whole (if perhaps not all of it is in the picture).
    whole: bool
    #: The credit's words, and the rectangle round what is lit of the disc (of one without a pose: round all of it).
    credit: Block | None = None
    lit: TurnedBox | None = None


def compose_frame(annotation: Annotation, wanted: FrameRequest) -> Composition | NotFound:
    """How the picture is to lie in the frame. NotFound for a zoom on what the picture does not show."""
    credits = credit_blocks(wanted.texts, wanted.format, wanted.theme, on_moon=False)
    if isinstance(credits, NotFound):
        return credits
    pose = annotation.pose if annotation.status.facts.is_named else None
    if wanted.as_sent and pose is not None:
        return _all_of_it(annotation, pose, wanted, credits)
    if pose is None:
        if wanted.zoom is not None:
            return NotFound(
                "zoom",
                annotation.reason or "The picture is not placed on the Moon.",
                "Only of a placed picture a part can be shown large.",
            )
        return _as_sent(annotation, wanted, credits)
    level = _eye_pose(pose, wanted.north_screen_deg)
    found: tuple[Pose, bool] | NotFound
    if wanted.camera is not None:
        found = wanted.camera, _holds_disc(wanted.camera, wanted.format)
    elif wanted.zoom is not None:
        found = _zoom_in(annotation, pose, level, wanted)
    else:
        found = _pose_in_frame(annotation, pose, level, wanted, credits)
    if isinstance(found, NotFound):
        return found
    frame, whole = found
    lit = _lit_points(annotation, pose, frame)
    if not whole:
        over = credit_blocks(wanted.texts, wanted.format, wanted.theme, on_moon=wanted.theme.lower_third != "plate")
        if not isinstance(over, NotFound):  # else set smaller, on a plate
            credits = over

    def lookup(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        u, v = pixel_to_disc(frame, x, y)
        px, py = disc_to_pixel(pose, u, v)
        return px, py, np.hypot(u, v)

    return Composition(
        lookup=lookup,
        step=pose.radius_px / frame.radius_px,
        pose=frame,
        disc=(frame.x, frame.y, frame.radius_px),
        whole=whole,
        credit=_choose_credit(credits, wanted, frame, lit if whole else None),
        lit=_box_of(lit),
    )


def _choose_credit(
    credits: tuple[Block, ...], wanted: FrameRequest, frame: Pose, lit: FloatArray | None
) -> Block | None:
    """Of the ways to set the credit the widest, so the lowest, that keeps clear of the Moon; in a close-up, which it
    lies over, one that takes no more than half of the frame's width."""
    if not credits:
        return None
    fmt, theme = wanted.format, wanted.theme
    if lit is None:
        return next((b for b in reversed(credits) if fmt.upright or b.width <= 0.5 * fmt.width), credits[0])
    if fmt.upright:  # the scale stands beside it
        credits = tuple(b for b in credits if b.width <= _BESIDE_SCALE * fmt.unit) or credits
    return next((b for b in reversed(credits) if _stands_clear(b, fmt, theme, lit)), credits[0])


def move_pose(pose: Pose, x: float, y: float, radius_px: float) -> Pose:
    """The same Moon at another place and size."""
    return replace(pose, x=x, y=y, radius_px=radius_px)


def _holds_disc(pose: Pose, fmt: Format) -> bool:
    """Whether all of the disc lies in the frame."""
    x, y, r = pose.x + 0.5, pose.y + 0.5, pose.radius_px
    return r <= x <= fmt.width - r and r <= y <= fmt.height - r


def _eye_pose(pose: Pose, north_screen_deg: float) -> Pose:
    """The Moon as the eye sees it, lens and refraction undone."""
    return replace(
        undistort(pose), north_screen_deg=north_screen_deg % 360.0, mirrored=False, parameters=(), covariance=()
    )


def _lit_points(annotation: Annotation, pose: Pose, frame: Pose) -> FloatArray:
    """Points (n, 2) all over what is lit of the disc and in the picture, pixels of the frame from its corner; of all of
    the disc where nothing is. frame: the Moon there."""
    r = np.linspace(-0.999, 0.999, 121)
    u, v = (g.ravel() for g in np.meshgrid(r, r))
    on = u * u + v * v < 1.0
    x, y = disc_to_pixel(frame, u[on], v[on])
    px, py = disc_to_pixel(pose, u[on], v[on])
    lat, lon = pixel_to_surface(frame, x, y)
    sun = sun_altitude_deg(lat, lon, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    shown = (px >= 0) & (px <= annotation.width - 1) & (py >= 0) & (py <= annotation.height - 1)
    light = shown & (np.nan_to_num(sun, nan=-90.0) > 0.0)
    if light.sum() < 4:
        light[:] = True
    return np.stack([x[light], y[light]], axis=1) + 0.5


def _box_of(points: FloatArray) -> TurnedBox:
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return TurnedBox(x0, y0, x1, y1)


def _stands_clear(block: Block, fmt: Format, theme: Theme, lit: FloatArray) -> bool:
    """Whether the credit's words at the lower left (right, where they are written from there) keep off a disc and what
    is lit of it. lit: its points, pixels of the frame."""
    u = fmt.unit
    top = fmt.safe.y1 - block.height - _MARK_ABOVE[theme.lower_third] * u
    words = TurnedBox(0.0, top, fmt.safe.x0 + block.width, fmt.height)
    if is_leftward(block):
        words = TurnedBox(fmt.safe.x1 - block.width, top, fmt.width, fmt.height)
    return not words.grow(_ROUND * u).around(lit[:, 0], lit[:, 1]).any()


def place_disc(
    fmt: Format, theme: Theme, lit: FloatArray, credits: tuple[Block, ...], largest: float = np.inf
) -> tuple[float, float, float]:
    """Middle and radius of a whole disc in a frame, pixels from its corner. lit: points of what is lit of a disc with
    radius 1 about (0, 0); largest: what its pixels bear."""
    u = fmt.unit
    high, low = (k * u for k in (UPRIGHT if fmt.upright else LEVEL))
    across = (float(lit[:, 0].min()) + float(lit[:, 0].max())) / 2
    best = (fmt.width / 2, fmt.height / 2, min(low, largest))
    for radius in np.linspace(max(min(high, largest), 1.0), max(min(low, largest), 1.0), 24).tolist():
        if fmt.upright:
            x, y = fmt.width / 2, _ABOVE_UPRIGHT * u + high
        else:
            side = fmt.safe.x0 + 60 * u + radius
            x = min(max(fmt.width / 2 - radius * across, side), fmt.width - side)
            y = _ABOVE * u + radius if radius > 0.8 * low else 0.45 * fmt.height
        best = x, y, radius
        if not credits or any(_stands_clear(block, fmt, theme, lit * radius + [x, y]) for block in credits):
            break
    return best


def _pose_in_frame(
    annotation: Annotation, pose: Pose, level: Pose, wanted: FrameRequest, credits: tuple[Block, ...]
) -> tuple[Pose, bool] | NotFound:
    fmt = wanted.format
    unit = move_pose(level, 0.0, 0.0, 1.0)  # the frame's turn alone: pixels are radii
    xs, ys = np.meshgrid(np.linspace(0, annotation.width - 1, 160), np.linspace(0, annotation.height - 1, 160))
    u, v = pixel_to_disc(pose, xs, ys)
    on = np.hypot(u, v) <= 1.0
    if not on.any():
        return NotFound("frame", "The disc lies outside the picture.", "Check the placement of this picture.")
    across, down = disc_to_pixel(unit, u[on], v[on])
    half_x, half_y = float(np.ptp(across)) / 2, float(np.ptp(down)) / 2
    if max(half_x, half_y) >= PART:
        largest = max(LARGEST * fmt.unit * pose.radius_px, LEAST_RADIUS * fmt.unit)
        x, y, radius = place_disc(fmt, wanted.theme, _lit_points(annotation, pose, unit) - 0.5, credits, largest)
        return move_pose(level, x - 0.5, y - 0.5, radius), True
    # a close-up: cut to the frame's shape, if enough is left
    along_x, along_y = disc_to_pixel(unit, *pixel_to_disc(pose, np.array([0.0, 1.0]), np.zeros(2)))
    turn = float(np.arctan2(np.diff(along_y)[0], np.diff(along_x)[0]))  # of the picture's rows in the frame
    c, s = abs(np.cos(turn)), abs(np.sin(turn))
    aspect = fmt.width / fmt.height
    high = min(annotation.width / (aspect * c + s), annotation.height / (aspect * s + c))
    kept = high * high * aspect / (annotation.width * annotation.height)
    scale = fmt.height / high
    mx, my = disc_to_pixel(unit, *pixel_to_disc(pose, (annotation.width - 1) / 2, (annotation.height - 1) / 2))
    if kept >= KEPT and scale <= LARGEST_ZOOM * fmt.unit:
        r = pose.radius_px * scale
        return move_pose(level, (fmt.width - 1) / 2 - r * float(mx), (fmt.height - 1) / 2 - r * float(my), r), False
    cx, cy = float(across.max() + across.min()) / 2, float(down.max() + down.min()) / 2
    room_x, room_y = (0.5 * fmt.width, 0.36 * fmt.height) if fmt.upright else (0.36 * fmt.width, 0.5 * fmt.height)
    r = min(room_x / half_x, room_y / half_y, LARGEST_ZOOM * fmt.unit * pose.radius_px)
    return move_pose(level, fmt.width / 2 - r * cx, fmt.height * (0.44 if fmt.upright else 0.5) - r * cy, r), False


def _zoom_in(annotation: Annotation, pose: Pose, level: Pose, wanted: FrameRequest) -> tuple[Pose, bool] | NotFound:
    zoom, fmt = wanted.zoom, wanted.format
    assert zoom is not None
    at = surface_to_pixel(pose, zoom.lat_deg, zoom.lon_deg)
    if not (
        -0.5 <= float(at.x) <= annotation.width - 0.5
        and -0.5 <= float(at.y) <= annotation.height - 0.5
        and float(at.mu) > 0.05
    ):
        return NotFound("zoom", "That part of the Moon is not in this picture.", "Choose one that it shows.")
    # kilometres across the line of sight; along it they are foreshortened by the cosine of the view
    radius = min(fmt.width, fmt.height) / zoom.across_km * MOON_RADIUS_KM
    radius = min(radius, LARGEST_ZOOM * fmt.unit * pose.radius_px)
    u, v = pixel_to_disc(pose, at.x, at.y)
    dx, dy = disc_to_pixel(move_pose(level, 0.0, 0.0, radius), u, v)
    middle = ((fmt.width - 1) / 2, (fmt.height - 1) / 2)
    centred = move_pose(level, middle[0] - float(dx), middle[1] - float(dy), radius)
    aside = _toward_light(_lit_points(annotation, pose, centred), radius, fmt)
    return move_pose(level, middle[0] - float(dx) + aside[0], middle[1] - float(dy) + aside[1], radius), False


def _toward_light(lit: FloatArray, radius_px: float, fmt: Format) -> tuple[float, float]:
    """How far a close-up's place is moved from the middle, pixels, so that more of the frame is lit Moon: beside the
    terminator and at the limb half of it would be black. lit: as `_lit_points`, with the place in the middle."""
    steps = np.linspace(-1.0, 1.0, 9)
    share = (2.0 / 120.0 * radius_px) ** 2 / (fmt.width * fmt.height)  # of the frame, that a point stands for
    best = (-np.inf, 0.0, 0.0)
    for x in steps * ASIDE[0] * fmt.width:
        for y in steps * ASIDE[1] * fmt.height:
            seen = (np.abs(lit[:, 0] + x - fmt.width / 2) < fmt.width / 2) & (lit[:, 1] + y > 0)
            seen &= lit[:, 1] + y < _ABOVE_FOOT * fmt.height
            far = np.hypot(x / (ASIDE[0] * fmt.width), y / (ASIDE[1] * fmt.height))
            best = max(best, (share * float(seen.sum()) - _STAY * far, float(x), float(y)))
    return best[1:]


def fit_whole(annotation: Annotation, fmt: Format) -> tuple[float, float, float]:
    """(scale, x, y) of a picture as large as fits into a frame: the frame's pixels for one of the picture, and where
    the picture's pixel (0, 0) lies."""
    scale = min(fmt.width / annotation.width, fmt.height / annotation.height, LARGEST * fmt.unit)
    x, y = (fmt.width - 1) / 2 - scale * (annotation.width - 1) / 2, (fmt.height - 1) / 2
    return scale, x, y - scale * (annotation.height - 1) / 2


def _all_of_it(annotation: Annotation, pose: Pose, wanted: FrameRequest, credits: tuple[Block, ...]) -> Composition:
    """A placed picture as it came: all of it, not turned."""
    scale, left, top = fit_whole(annotation, wanted.format)

    def lookup(xs: FloatArray, ys: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        px, py = (xs - left) / scale, (ys - top) / scale
        return px, py, np.hypot(*pixel_to_disc(pose, px, py))

    credit = _choose_credit(credits, wanted, pose, None)
    return Composition(lookup=lookup, step=1.0 / scale, pose=None, disc=None, whole=True, credit=credit)


def _as_sent(annotation: Annotation, wanted: FrameRequest, credits: tuple[Block, ...]) -> Composition:
    """A picture without a pose, not turned: its disc where a placed one would stand, or all of it in the frame."""
    fmt = wanted.format
    moon = annotation.status.facts.shows_disc and not annotation.status.facts.is_named
    disc = (annotation.pose or annotation.limb) if moon else None
    if disc is not None:
        largest = max(LARGEST * fmt.unit * disc.radius_px, LEAST_RADIUS * fmt.unit)
        x, y, radius = place_disc(fmt, wanted.theme, circle(0.0, 0.0, 1.0), credits, largest)
        x, y, scale = x - 0.5, y - 0.5, radius / disc.radius_px
        from_x, from_y = disc.x, disc.y
    else:
        scale = min(fmt.width / annotation.width, fmt.height / annotation.height)
        scale = min(scale, LARGEST * fmt.unit)
        x, y = (fmt.width - 1) / 2, (fmt.height - 1) / 2
        from_x, from_y = (annotation.width - 1) / 2, (annotation.height - 1) / 2

    def lookup(xs: FloatArray, ys: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray | None]:
        px, py = from_x + (xs - x) / scale, from_y + (ys - y) / scale
        return px, py, None if disc is None else np.hypot(px - disc.x, py - disc.y) / disc.radius_px

    return Composition(
        lookup=lookup,
        step=1.0 / scale,
        pose=None,
        disc=None if disc is None else (x, y, scale * disc.radius_px),
        whole=True,
        credit=(credits[-1] if disc is None else credits[0]) if credits else None,
    )
