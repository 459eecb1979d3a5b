"""Several placed pictures in one frame of the Moon: north up, not mirrored, same libration, same scale.

    Framed ... -> common_pose -> into_frame(each) -> the same feature on the same pixel of all of them

Each pixel of the frame is taken to the Moon's surface by the frame's own libration and distance, and from there into
the picture by the picture's pose: its turn, hand, libration, perspective, refraction and lens. A turn and a change of
scale alone would leave the features apart by what the libration has moved them meanwhile: 2.5 %R in a day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from moondesk.drawing.background import Lookup
from moondesk.drawing.sampling import Sampler, within
from moondesk.drawing.upright import NO_PICTURE
from moondesk.moon.geometry import disc_axes, disc_to_pixel, lift, pixel_to_disc, project, unit_vector
from moondesk.records import ByteArray, FloatArray, Pose

#: Share of the frame's half that the radius of a whole disc takes.
FILL = 0.97
#: Where all pictures share less than this of the disc's width and height, the frame shows that part alone.
PART = 0.62
#: The frame enlarges no picture's finest scale by more than this.
LARGEST = 2.0
#: Less of a slanting surface than this cosine leaves only smears. What another libration shows beyond it looks like
#: the rim of the picture's own disc there, which is no more than a degree or two of ground away.
LEAST_MU = 0.03
#: Places that are turned at once: as many as stay in the processor's cache.
BLOCK = 1 << 14
#: The sky of a picture fades out between these distances from the centre, radii: skies of two evenings say nothing.
SKY_FROM, SKY_TO = 1.005, 1.05


@dataclass(frozen=True)
class Framed:
    """A placed picture as a common frame needs it: its pose, and its width and height in the pose's pixels."""

    pose: Pose
    width: int
    height: int


@dataclass(frozen=True, eq=False)
class InFrame:
    """A picture in the common frame. rgb: (N, N, 3) uint8; covered: (N, N) bool, the Moon as this picture has it;
    framed: (N, N) bool, the picture's own pixels, its sky and its rim carried on to the frame's limb included."""

    rgb: ByteArray
    covered: NDArray[np.bool_]
    framed: NDArray[np.bool_]


def common_pose(pictures: Sequence[Framed], size_px: int = 1000, shared_part: bool = True) -> Pose:
    """The pose of the Moon in a frame of size_px x size_px for these pictures. Its Sun is the last picture's.

    The libration is the middle of theirs, so that none is bent more than need be. shared_part: where what they have in
    common is a small part of the disc, that part fills the frame.
    Raises: ValueError for no picture or a frame below 64 px.

    >>> frame = common_pose([Framed(pose, 1000, 800), Framed(replace(pose, libration_lon_deg=2.0), 1000, 800)], 500)
    >>> round(frame.libration_lon_deg, 3), frame.north_screen_deg
    (1.0, 0.0)
    """
    if not pictures or size_px < 64:
        raise ValueError(f"a common frame wants a picture and 64 px, not {len(pictures)} pictures and {size_px} px")
    towards = sum(unit_vector(p.pose.libration_lat_deg, p.pose.libration_lon_deg) for p in pictures)
    middle = np.asarray(towards) / np.linalg.norm(towards)
    last = pictures[-1].pose
    centre = (size_px - 1) / 2
    whole = Pose(
        x=centre,
        y=centre,
        radius_px=FILL * size_px / 2,
        north_screen_deg=0.0,
        mirrored=False,
        libration_lat_deg=float(np.degrees(np.arcsin(middle[2]))),
        libration_lon_deg=float(np.degrees(np.arctan2(middle[1], middle[0]))),
        sub_solar_lat_deg=last.sub_solar_lat_deg,
        sub_solar_lon_deg=last.sub_solar_lon_deg,
        distance_radii=float(np.mean([p.pose.distance_radii for p in pictures])),
    )
    if not shared_part:
        return whole
    axis = np.linspace(0.0, size_px - 1.0, 161)
    xs, ys = np.meshgrid(axis, axis)
    shared = np.ones(xs.shape, bool)
    for picture in pictures:
        shared &= _look_up(picture, whole, xs, ys).covered
    if not shared.any():
        return whole
    u, v = pixel_to_disc(whole, xs[shared], ys[shared])
    span = max(float(np.ptp(u)), float(np.ptp(v))) / 2
    if span >= PART:
        return whole
    radius = min(FILL * size_px / 2 / max(span, 0.02), LARGEST * max(p.pose.radius_px for p in pictures))
    radius = max(radius, whole.radius_px)
    middle_u, middle_v = (float(k.min() + k.max()) / 2 for k in (u, v))
    return replace(whole, x=centre - radius * middle_u, y=centre + radius * middle_v, radius_px=radius)


def into_frame(rgb: ByteArray, picture: Framed, frame: Pose, size_px: int = 1000, shrink: int = 1) -> InFrame:
    """A picture resampled into the frame of that pose.

    rgb: (H, W, 3) uint8, the picture; where it was read smaller, shrink pixels of the pose are one of it, counted from
    the top-left corner (H and W rounded up). Where the picture ends, the disc is `NO_PICTURE`; where the disc turned
    another rim to the observer, the picture's own rim is carried on.
    """
    expected = (-(-picture.height // shrink), -(-picture.width // shrink), 3)
    if rgb.shape != expected or rgb.dtype != np.uint8:
        raise ValueError(f"the picture must be {expected} uint8, not {rgb.shape} {rgb.dtype}")
    ys, xs = np.mgrid[0:size_px, 0:size_px].astype(np.float64)
    at = _look_up(picture, frame, xs, ys)
    sampler = Sampler(rgb, picture.pose.radius_px / frame.radius_px / shrink)
    out = sampler.at((at.x + 0.5) / shrink - 0.5, (at.y + 0.5) / shrink - 0.5)
    distance = np.hypot((xs - frame.x) / frame.radius_px, (ys - frame.y) / frame.radius_px)
    sky = np.clip((SKY_TO - distance) / (SKY_TO - SKY_FROM), 0.0, 1.0) * at.framed
    off = distance > 1.0
    out[off] = np.rint(out[off] * sky[off][:, None]).astype(np.uint8)
    out[~off & ~at.framed] = NO_PICTURE
    return InFrame(out, at.covered, at.framed)


def lookup_into(picture: Framed, frame: Pose) -> Lookup:
    """What of a picture each pixel of a frame of that pose shows, its own rim carried on to the frame's limb."""

    def lookup(xs: FloatArray, ys: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        at = _look_up(picture, frame, xs, ys)
        return at.x, at.y, np.hypot((xs - frame.x) / frame.radius_px, (ys - frame.y) / frame.radius_px)

    return lookup


@dataclass(frozen=True, eq=False)
class _Places:
    """x, y: pixels of the picture; framed: inside it; covered: on the Moon, seen by the picture, and inside it."""

    x: FloatArray
    y: FloatArray
    framed: NDArray[np.bool_]
    covered: NDArray[np.bool_]


def _look_up(picture: Framed, frame: Pose, xs: FloatArray, ys: FloatArray) -> _Places:
    """Where the frame's pixels lie in a picture. The sky keeps its place beside the disc."""
    u, v = pixel_to_disc(frame, xs, ys)
    on = u * u + v * v <= 1.0
    u_on, v_on = u[on], v[on]
    pose = picture.pose
    axes = disc_axes(frame.libration_lat_deg, frame.libration_lon_deg)
    axes = axes @ disc_axes(pose.libration_lat_deg, pose.libration_lon_deg).T  # straight into the picture's own axes
    mu = np.empty(len(u_on))
    for k in range(0, len(u_on), BLOCK):
        part = np.s_[k : k + BLOCK]
        local = lift(u_on[part], v_on[part], axes, frame.distance_radii)
        mu[part] = _turn_into_sight(local, pose.distance_radii)
        seen = project(local, np.eye(3), pose.distance_radii)
        u_on[part], v_on[part] = seen.u, seen.v
    u[on], v[on] = u_on, v_on
    x, y = disc_to_pixel(pose, u, v)
    framed = within(x, y, picture.width, picture.height)
    covered = on & framed
    covered[on] &= mu > LEAST_MU
    return _Places(x, y, framed, covered)


def _turn_into_sight(local: FloatArray, distance_radii: float) -> FloatArray:
    """(N, 3) unit vectors in the picture's axes: those beyond LEAST_MU are taken back, in place, along the great circle
    through the disc's centre to it. Gives the cosine of the view that each had."""
    least = LEAST_MU
    for _ in range(4):  # mu = (d w - 1) / sqrt(d^2 - 2 d w + 1), solved for w
        least = (1.0 + LEAST_MU * np.sqrt(distance_radii**2 - 2 * distance_radii * least + 1.0)) / distance_radii
    w = local[:, 2].copy()
    mu = (distance_radii * w - 1.0) / np.sqrt(distance_radii**2 - 2 * distance_radii * w + 1.0)
    beyond = np.flatnonzero(w < least)
    across = np.hypot(local[beyond, 0], local[beyond, 1])
    local[beyond, :2] *= (np.sqrt(1.0 - least**2) / np.maximum(across, 1e-9))[:, None]
    local[beyond, 2] = least
    return np.asarray(mu)


def covers(picture: Framed, lat_deg: float, lon_deg: float) -> bool:
    """Whether a picture has a point of the Moon (degrees): on its side, and inside its frame.

    >>> covers(Framed(pose, 1000, 800), 0.0, 0.0), covers(Framed(pose, 1000, 800), 0.0, 180.0)
    (True, False)
    """
    pose = picture.pose
    seen = project(
        unit_vector(lat_deg, lon_deg), disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii
    )
    x, y = disc_to_pixel(pose, seen.u, seen.v)
    inside = -0.5 <= float(x) <= picture.width - 0.5 and -0.5 <= float(y) <= picture.height - 0.5
    return bool(inside and float(seen.mu) > LEAST_MU)
