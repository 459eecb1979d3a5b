"""The pose from matches and limb by robust least squares, with its covariance: the one solver of the package.

Unknowns: centre, radius, turn, libration; flattening, tilt and lens distortion only where asked for. Priors carry what
is known besides (the ephemeris' libration with its uncertainty, the fitted limb with its covariance), so that limb and
texture weigh by their variances and a short arc or a poor texture is held by the other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from moondesk.moon.geometry import disc_axes, disc_to_pixel, project
from moondesk.placement.matching import Matches
from moondesk.records import FloatArray, Limb, Pose

BASE = ("x", "y", "radius_px", "north_screen_deg", "libration_lat_deg", "libration_lon_deg")


#: Rounds in which the derivatives are taken anew; the steps in between are too small to change them.
REFRESH = (0, 1, 4)


@dataclass(frozen=True)
class Prior:
    """A value known beforehand: parameter name, value, one standard deviation (in the parameter's unit)."""

    name: str
    value: float
    sigma: float


@dataclass(frozen=True)
class Constraints:
    """What holds a pose besides the matches. limb: a prior on centre and radius, its covariance widened by
    limb_floor_px (edge definition, bloom, blur: errors that all edge points share)."""

    limb: Limb | None = None
    limb_floor_px: float = 0.5
    priors: tuple[Prior, ...] = ()

    def information(self, names: tuple[str, ...]) -> tuple[FloatArray, FloatArray]:
        """The inverse covariance of the unknowns of these names, and that times their values."""
        info, target = np.zeros((len(names), len(names))), np.zeros(len(names))
        for prior in self.priors:
            k = names.index(prior.name)
            info[k, k] += 1 / prior.sigma**2
            target[k] += prior.value / prior.sigma**2
        if self.limb is not None:
            cov = np.array(self.limb.covariance).reshape(3, 3) + self.limb_floor_px**2 * np.eye(3)
            block = np.linalg.inv(cov)
            info[:3, :3] += block
            target[:3] += block @ np.array([self.limb.x, self.limb.y, self.limb.radius_px])
        return info, target


@dataclass(frozen=True, eq=False, kw_only=True)
class Solution:
    """pose with covariance; inliers: (N,) bool; residual_px: (N,) of the matches; noise_px: one sigma per axis of an
    inlying match; agree: share of the tried patches that are inliers."""

    pose: Pose
    inliers: np.ndarray
    residual_px: FloatArray
    noise_px: float
    agree: float


#: Extra unknowns: refraction's flattening as a vector of twice its direction's angle, the lens, a picture taken askew,
#: and a lens off its axis.
FLATTENING = ("flattening_cos", "flattening_sin")
LENS = ("radial_k1",)
TILT = ("tilt_cos", "tilt_sin")
TANGENTIAL = ("tangential_cos", "tangential_sin")
#: Fields of the pose that are solved for as a vector, and how often its angle holds that of the screen.
VECTORS = {"flattening": 2, "tilt": 1, "tangential": 1}


def _value(pose: Pose, name: str) -> float:
    field, _, part = name.rpartition("_")
    if field not in VECTORS:
        return float(getattr(pose, name))
    turn = np.radians(VECTORS[field] * getattr(pose, f"{field}_screen_deg"))
    return float(getattr(pose, field) * (np.cos(turn) if part == "cos" else np.sin(turn)))


def _with(pose: Pose, names: tuple[str, ...], values: FloatArray) -> Pose:
    new = {n: float(v) for n, v in zip(names, values, strict=True)}
    for field, times in VECTORS.items():
        if f"{field}_cos" in new:
            c, s = new.pop(f"{field}_cos"), new.pop(f"{field}_sin")
            new[field] = float(np.hypot(c, s))
            new[f"{field}_screen_deg"] = float(np.degrees(np.arctan2(s, c)) / times % (360.0 / times))
    changes: dict[str, Any] = dict(new)
    return replace(pose, **changes)


def predict_pixels(pose: Pose, surface: FloatArray) -> FloatArray:
    """(N, 2) pixels at which a pose has surface vectors (N, 3), those behind the limb too.

    >>> predict_pixels(pose, np.array([[1.0, 0.0, 0.0]])).round(6).tolist()
    [[500.0, 400.0]]
    """
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    disc = project(surface, axes, pose.distance_radii)
    return np.column_stack(disc_to_pixel(pose, disc.u, disc.v))


def _steps(pose: Pose, names: tuple[str, ...]) -> FloatArray:
    size = {
        "x": 0.5,
        "y": 0.5,
        "radius_px": 0.5,
        "north_screen_deg": 0.05,
        "libration_lat_deg": 0.05,
        "libration_lon_deg": 0.05,
    }
    return np.array([size.get(n, 1e-3) for n in names])


def solve(
    pose: Pose, matches: Matches, constraints: Constraints = Constraints(), extra: tuple[str, ...] = (), rounds: int = 9
) -> Solution:
    """Least squares with Cauchy, then Tukey weights from `pose`.

    extra: FLATTENING, LENS, TILT and TANGENTIAL, in any combination.
    """
    names = BASE + extra
    count = len(matches.surface)
    values = np.array([_value(pose, n) for n in names])
    info, target = constraints.information(names)
    steps = _steps(pose, names)
    # a peak's worth: position noise falls with the sharpness of the correlation peak and its height
    quality = np.sqrt(np.maximum(matches.sharpness, 1e-3)) * np.maximum(matches.correlation, 0.05)
    quality = np.clip(quality / max(float(np.median(quality)), 1e-6), 0.3, 2.0) if count else quality
    noise = matches.frame_px
    weight = np.ones(count)
    normal = info + 1e-12 * np.eye(len(names))
    jac = np.empty((count, 2, len(names)))
    for turn in range(rounds):
        now = _with(pose, names, values)
        base = predict_pixels(now, matches.surface)
        residual = matches.xy - base
        distance = np.hypot(residual[:, 0], residual[:, 1]) * quality
        if count:
            noise = max(float(np.median(distance)) / 1.1774, 0.03 * matches.frame_px)
            t = distance / (noise * (3.0 if turn < rounds // 2 else 4.0))
            weight = 1 / (1 + t * t) ** 2 if turn < rounds // 2 else np.where(t < 1, (1 - t * t) ** 2, 0.0)
        if turn in REFRESH:
            jac = _jacobian(pose, names, values, steps, matches.surface, base)
        w = weight * (quality / noise) ** 2
        flat, twice = jac.reshape(2 * count, len(names)), np.repeat(w, 2)
        normal = flat.T @ (twice[:, None] * flat) + info
        slope = flat.T @ (twice * residual.ravel()) + target - info @ values
        scale = 1 / np.sqrt(np.maximum(np.diag(normal), 1e-12))
        change = scale * np.linalg.solve(normal * np.outer(scale, scale) + 1e-10 * np.eye(len(names)), slope * scale)
        values = values + change
        if np.abs(change / steps).max() < 1e-3 and turn > rounds // 2:
            break
    scale = 1 / np.sqrt(np.maximum(np.diag(normal), 1e-12))
    covariance = np.linalg.pinv(normal * np.outer(scale, scale)) * np.outer(scale, scale)
    solved = replace(
        _with(pose, names, values), parameters=names, covariance=tuple(float(c) for c in covariance.ravel())
    )
    return _solution(solved, matches, quality, noise)


def _solution(solved: Pose, matches: Matches, quality: FloatArray, noise: float) -> Solution:
    """What a pose says of the matches."""
    residual = matches.xy - predict_pixels(solved, matches.surface)
    distance = np.hypot(residual[:, 0], residual[:, 1])
    # half a frame pixel always agrees: a pose that fits better must not count fewer matches for it
    allowed = np.clip(4 * noise / np.maximum(quality, 1e-6), 0.5 * matches.frame_px, 2.5 * matches.frame_px)
    inliers = distance < allowed
    agree = float(inliers.sum() / max(matches.tried, 1))
    solved = replace(solved, north_screen_deg=solved.north_screen_deg % 360.0, n_matches=int(inliers.sum()))
    return Solution(pose=solved, inliers=inliers, residual_px=distance, noise_px=noise, agree=agree)


def _jacobian(
    pose: Pose, names: tuple[str, ...], values: FloatArray, steps: FloatArray, surface: FloatArray, base: FloatArray
) -> FloatArray:
    """(N, 2, parameters): change of the predicted pixels with each parameter, by one-sided differences."""
    jac = np.empty((len(surface), 2, len(names)))
    straight = pose.radial_k1 == 0.0 and not set(names) & set(LENS)  # the others go with the disc
    for k, h in enumerate(steps):
        if straight and names[k] in ("x", "y"):
            jac[:, :, k] = (1.0, 0.0) if names[k] == "x" else (0.0, 1.0)
            continue
        if straight and names[k] == "radius_px":
            jac[:, :, k] = (base - values[:2]) / values[k]
            continue
        bumped = values.copy()
        bumped[k] += h
        jac[:, :, k] = (predict_pixels(_with(pose, names, bumped), surface) - base) / h
    return jac


def agreement(pose: Pose, matches: Matches) -> tuple[float, int]:
    """(share of the tried patches, number) that lie where the pose puts them, within four sigmas of their scatter."""
    residual = matches.xy - predict_pixels(pose, matches.surface)
    distance = np.hypot(residual[:, 0], residual[:, 1])
    noise = float(np.median(distance)) / 1.1774 if len(distance) else 0.0
    # half a frame pixel always agrees: a pose that fits better must not count fewer matches for it
    inliers = distance < np.clip(4 * noise, 0.5 * matches.frame_px, 2.5 * matches.frame_px)
    return float(inliers.sum() / max(matches.tried, 1)), int(inliers.sum())


def gain_of(solution: Solution, matches: Matches, extra: tuple[str, ...]) -> float:
    """Scatter that one linear step with further unknowns would leave, as a share of what it is (0..1)."""
    names = BASE + extra
    surface, xy = matches.surface[solution.inliers], matches.xy[solution.inliers]
    if len(surface) < 2 * len(names):
        return 1.0
    values = np.array([_value(solution.pose, n) for n in names])
    base = predict_pixels(solution.pose, surface)
    jac = _jacobian(solution.pose, names, values, _steps(solution.pose, names), surface, base)
    jac = jac.reshape(-1, len(names)) * _steps(solution.pose, names)
    rest = (xy - base).ravel()
    gram = jac.T @ jac
    left = rest - jac @ np.linalg.lstsq(gram, jac.T @ rest, rcond=1e-10)[0]

    def scatter(a: FloatArray) -> float:
        return float(np.median(np.hypot(*a.reshape(-1, 2).T)))

    return scatter(left) / max(scatter(rest), 1e-9)


def pixel_covariance(pose: Pose, surface: FloatArray) -> FloatArray:
    """Covariance of where surface points fall, from the pose's own.

    Parameters: a pose with parameters and covariance; mean-Earth unit vectors (N, 3).
    Returns: (N, 2, 2) covariance of (x, y), px^2; nan where the pose has none.

    >>> known = replace(pose, parameters=("x", "y"), covariance=(0.04, 0.0, 0.0, 0.09))
    >>> pixel_covariance(known, np.array([[1.0, 0.0, 0.0]])).round(6).tolist()
    [[[0.04, 0.0], [0.0, 0.09]]]
    """
    return _propagate("nak,kl,nbl->nab", pose, surface, (2, 2))


def pixel_sigma(pose: Pose, surface: FloatArray) -> FloatArray:
    """(N,) one standard deviation per axis, px: half the trace of `pixel_covariance`, its root.

    >>> known = replace(pose, parameters=("x", "y"), covariance=(0.04, 0.0, 0.0, 0.04))
    >>> pixel_sigma(known, np.array([[1.0, 0.0, 0.0]])).round(6).tolist()
    [0.2]
    """
    return np.asarray(np.sqrt(np.maximum(_propagate("nak,kl,nal->n", pose, surface, ()), 0) / 2))


def _propagate(sums: str, pose: Pose, surface: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """The pose's covariance carried to pixels, summed as einsum's `sums` says; nan of that shape without one."""
    names = pose.parameters
    if not names:
        return np.full((len(surface), *shape), np.nan)
    covariance = np.array(pose.covariance).reshape(len(names), len(names))
    values = np.array([_value(pose, n) for n in names])
    base = predict_pixels(pose, surface)
    jac = _jacobian(pose, names, values, _steps(pose, names), surface, base)
    return np.asarray(np.einsum(sums, jac, covariance, jac))
