"""How good a placed picture is: each figure in a physical unit, none of them a mark yet (`score` makes those).

    full picture + Annotation -> Quality

Nothing here knows who sent the picture or what was done to it. Time: 30 to 60 ms for 12 megapixels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from moondesk.moon.catalogue import FeatureArrays, all_features, feature_arrays
from moondesk.moon.geometry import disc_axes, disc_to_pixel, lift, project, unit_vector
from moondesk.quality.jpeg_coding import BLOCK
from moondesk.quality.resolution import Resolution, measure_resolution
from moondesk.records import MOON_RADIUS_KM, Annotation, ByteArray, FloatArray, NotFound, Pose
from moondesk.sentences import sentence
from moondesk.visibility.marks import LEAST_KM
from moondesk.visibility.prominence import prominence

#: Points along the disc's diameter at which exposure and completeness are looked at.
ACROSS = 161
#: Stored value from which a colour is burnt out; a place is, where two of three are (a yellow Moon's red alone is not).
BURNT_LEVEL = 250
#: Sun's height over which a place counts as lit, and as smooth for the noise, degrees.
LIT_DEG, SMOOTH_DEG = 2.0, 12.0
#: The terminator's neighbourhood, degrees of the Sun's height; least cosine of the view for what is looked for there.
NEAR_DEG, NEAR_VIEW = (-0.5, 8.0), 0.25
#: Features there, at least, for a share.
LEAST_FEATURES = 3
#: Widths of the blur that a feature must span to be more than a spot (common practice: two; half of it at one).
SPOT = 1.2
#: Size of a patch for which the noise is told, km: what a large crater is.
PATCH_KM = 40.0
_LOWER = 0.75


@dataclass(frozen=True)
class TerminatorMeasure:
    """What stands in the low light of this evening, within 8 degrees of the terminator on the lit side.

    share: of all that could be pointed at there (weighted by prominence, in the frame or not), how much can be made
    out in this picture, 0..1; names: what shows best, at most five; possible: how many features there are.
    """

    share: float
    names: tuple[str, ...]
    possible: int


@dataclass(frozen=True, kw_only=True)
class Quality:
    """km_per_px: at the disc's centre. resolution: reached on the Moon, or why it cannot be told. burnt_share: of the
    lit disc in the frame, 0..1. level: display value (0..1) that a tenth of the lit disc exceeds. noise: one standard
    deviation of a pixel, display values. signal_to_noise: of a patch of 40 km at the lit disc's middle value, where
    grain is taken as large as what is resolved. framed_share: of the lit disc, inside the frame, 0..1; disc_share: of
    the whole disc. terminator: None where too little stands there (about full Moon). distance_km: of the Moon.
    sharpened: overshoot at the limb, share of its step.
    """

    km_per_px: float
    resolution: Resolution | NotFound
    burnt_share: float
    level: float
    noise: float
    signal_to_noise: float
    framed_share: float
    disc_share: float
    terminator: TerminatorMeasure | None
    distance_km: float
    sharpened: float


def measure_quality(rgb: ByteArray, annotation: Annotation) -> Quality | NotFound:
    """rgb: (H, W, 3) of `decode_rgb`, the whole picture as displayed, full resolution; annotation: of the same.

    NotFound where the Moon is not placed. Raises ValueError where picture and annotation differ in size.
    """
    pose = annotation.pose
    if pose is None:
        return NotFound("quality", sentence("not_measurable"), sentence("by_hand_or_eye"))
    if rgb.ndim != 3 or rgb.shape[:2] != (annotation.height, annotation.width):
        raise ValueError(f"the picture is {rgb.shape}, its annotation {annotation.width} x {annotation.height}")
    part, inner = _around_disc(rgb, pose)
    grey = np.asarray(cv2.cvtColor(part, cv2.COLOR_RGB2GRAY), np.uint8)
    green = np.asarray(cv2.extractChannel(part, 1), np.uint8)
    lit = _sunlit_points(inner, part.shape[1], part.shape[0])
    if lit.framed.sum() < 50:
        return NotFound("quality", sentence("too_little_framed"), sentence("judge_by_eye"))
    i, j = lit.row[lit.framed], lit.col[lit.framed]
    burnt = _burnt(part, i, j)
    shown = grey[i, j] / 255.0
    guess = annotation.limb.edge_width_px / 2 if annotation.limb is not None else 2.0
    smooth = (lit.sun_deg[lit.framed] > SMOOTH_DEG) & ~burnt
    fine = _noise(grey, i[smooth], j[smooth], 1)
    resolution = measure_resolution(
        grey, green, inner, float(np.clip(guess, 0.5, 0.05 * pose.radius_px + 1.0)), fine if np.isfinite(fine) else 0.0
    )
    km_per_px = MOON_RADIUS_KM / pose.radius_px
    # grain of an enlarged or smoothed picture is larger than a pixel, about as large as what is resolved
    grain = max(1.0, resolution.px / 3.0) if isinstance(resolution, Resolution) else 1.0
    noise = fine if round(grain) == 1 else _noise(grey, i[smooth], j[smooth], round(grain))
    patch = noise * grain * km_per_px / PATCH_KM
    middle = float(np.median(shown))
    return Quality(
        km_per_px=km_per_px,
        resolution=resolution,
        burnt_share=float(burnt.mean()),
        level=float(np.percentile(shown, 90)),
        noise=noise,
        signal_to_noise=middle / max(patch, 1e-6),
        framed_share=float(lit.framed.mean()),
        disc_share=lit.disc_share,
        terminator=_terminator(annotation, pose, resolution),
        distance_km=pose.distance_radii * MOON_RADIUS_KM,
        sharpened=resolution.halo if isinstance(resolution, Resolution) else 0.0,
    )


def _around_disc(rgb: ByteArray, pose: Pose) -> tuple[ByteArray, Pose]:
    """The part of the picture that holds the disc and its surroundings, and the pose in its pixels."""
    height, width = rgb.shape[:2]
    reach = 1.3 * pose.radius_px + 8.0
    x0, y0 = int(np.clip(pose.x - reach, 0, width - 1)), int(np.clip(pose.y - reach, 0, height - 1))
    x0, y0 = x0 - x0 % BLOCK, y0 - y0 % BLOCK  # a coder's blocks stay whole
    x1, y1 = int(np.clip(pose.x + reach, x0 + 1, width)), int(np.clip(pose.y + reach, y0 + 1, height))
    moved = replace(pose, x=pose.x - x0, y=pose.y - y0, axis_x=pose.axis_x - x0, axis_y=pose.axis_y - y0)
    return np.ascontiguousarray(rgb[y0:y1, x0:x1]), moved


@dataclass(frozen=True, eq=False, kw_only=True)
class _Lit:
    """Points of an even grid over the lit disc: row, col (N,) pixels; framed (N,) bool; sun_deg (N,). disc_share: of
    the points of the whole disc, those in the frame."""

    row: np.ndarray
    col: np.ndarray
    framed: np.ndarray
    sun_deg: FloatArray
    disc_share: float


def _sunlit_points(pose: Pose, width: int, height: int) -> _Lit:
    axis = np.linspace(-0.99, 0.99, ACROSS)
    u, v = (g.ravel() for g in np.meshgrid(axis, axis))
    on = u * u + v * v < 0.97
    u, v = u[on], v[on]
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    sine = lift(u, v, axes, pose.distance_radii) @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    sun = np.degrees(np.arcsin(np.clip(sine, -1, 1)))
    lit = sun > LIT_DEG
    x, y = disc_to_pixel(pose, u, v)
    framed = (x >= 0) & (y >= 0) & (x <= width - 1) & (y <= height - 1)
    disc_share = float(framed.mean())
    x, y, framed = x[lit], y[lit], framed[lit]
    row, col = np.clip(np.rint(y), 0, height - 1).astype(np.intp), np.clip(np.rint(x), 0, width - 1).astype(np.intp)
    return _Lit(row=row, col=col, framed=framed, sun_deg=sun[lit], disc_share=disc_share)


def _burnt(rgb: ByteArray, i: np.ndarray, j: np.ndarray) -> np.ndarray:
    """(N,) bool: at least two colours burnt out over nine neighbours. White cuts noise of deviation s off so that its
    mean stands 0.4 s below: that much below the level still counts, s from the neighbours themselves."""
    height, width = rgb.shape[:2]
    total, squares = np.zeros((len(i), 3)), np.zeros((len(i), 3))
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            value = rgb[np.clip(i + dy, 0, height - 1), np.clip(j + dx, 0, width - 1)].astype(np.float64)
            total += value
            squares += value * value
    mean = total / 9.0
    # the half that is left of a normal deviation cut at its middle has 0.58 of it
    spread = np.sqrt(np.maximum(squares / 9.0 - mean * mean, 0.0)) / 0.58
    return np.asarray((mean >= BURNT_LEVEL - 0.4 * np.median(spread, axis=0)).sum(axis=1) >= 2)


def _noise(grey: ByteArray, i: np.ndarray, j: np.ndarray, apart: int) -> float:
    """One standard deviation of a pixel, display values, from second differences over `apart` and twice as many pixels
    at the smoothest places (Immerkaer, CVIU 64, 1996; neighbours share their grain: see `visibility.discernible.noise_of`)."""
    height, width = grey.shape
    far = 2 * apart
    inside = (i >= far) & (j >= far) & (i < height - far) & (j < width - far)
    i, j = i[inside], j[inside]
    if len(i) < 20:
        return float("nan")
    sigma = []
    for step in (apart, far):
        total = np.zeros(len(i))
        for dy, row in ((-step, (1, -2, 1)), (0, (-2, 4, -2)), (step, (1, -2, 1))):
            for dx, k in zip((-step, 0, step), row, strict=True):
                total += k * grey[i + dy, j + dx].astype(np.float64)
        # mean of the lower three quarters: finer than the median of whole numbers (0.5149 sigma for a normal one)
        size = np.sort(np.abs(total))[: max(int(_LOWER * len(total)), 1)]
        sigma.append(float(size.mean()) / 0.5149 / 6.0 / 255.0)
    return max(min(sigma[0] / 0.36, sigma[1]), 0.0011)


def _terminator(annotation: Annotation, pose: Pose, resolution: Resolution | NotFound) -> TerminatorMeasure | None:
    """What could be pointed at in the low light, and how much of that the marks call seen and the resolution allows."""
    table, names = _marked_features()
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    surface = unit_vector(table.lat_deg, table.lon_deg)
    mu = project(surface, axes, pose.distance_radii).mu
    sine = surface @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    height = np.degrees(np.arcsin(np.clip(sine, -1, 1)))
    near = (height > NEAR_DEG[0]) & (height <= NEAR_DEG[1]) & (mu > NEAR_VIEW)
    if near.sum() < LEAST_FEATURES:
        return None
    chosen = np.flatnonzero(near)
    worth = prominence(table.take(chosen), height[chosen], np.clip((height[chosen] + 1.5) / 3.0, 0, 1), mu[chosen])
    seen = {m.feature.name: m.seen for m in annotation.features}
    shows = np.array([seen.get(names[k], 0.0) for k in chosen])
    if isinstance(resolution, Resolution):  # what coding leaves of a soft picture has edges, and passes for seen
        shows *= 1.0 - np.exp(-((table.size_km[chosen] / (SPOT * resolution.km)) ** 2))
    order = np.argsort(-worth * shows)
    best = tuple(names[chosen[k]] for k in order[:5] if shows[k] > 0.5)
    return TerminatorMeasure(float((worth * shows).sum() / max(float(worth.sum()), 1e-9)), best, len(chosen))


def _marked_features() -> tuple[FeatureArrays, list[str]]:
    """The features that are marked in pictures (see `marks`): arrays and names."""
    every, records = feature_arrays(), all_features()
    index = np.flatnonzero(~every.lettered & (every.size_km >= LEAST_KM))
    return every.take(index), [records[k].name for k in index]
