"""What changes the light of a picture but not where things lie: rays, clouds, vignettes, detail that never was there.

Every function gives its argument back unchanged where the spec's `Disturbance` asks for nothing of its kind.
"""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.records import Pose
from tests.scenes.spec import SceneSpec


def with_rays(scene: np.ndarray, spec: SceneSpec, pose: Pose) -> np.ndarray:
    """Spikes as a lens's blades or a greasy glass throw them, through the middle of the light."""
    wanted = spec.disturbance
    light = scene.mean(axis=2)
    if not wanted.rays or not light.any():
        return scene
    jj, ii = _grid(spec)
    total = float(light.sum())
    dx, dy = jj - float((jj * light).sum()) / total, ii - float((ii * light).sum()) / total
    rng = np.random.default_rng(spec.seed + 31)
    rays = np.zeros_like(light)
    for n in range(wanted.rays):
        t = np.radians(wanted.ray_screen_deg + 360.0 * n / wanted.rays)
        along, across = -np.sin(t) * dx - np.cos(t) * dy, np.cos(t) * dx - np.sin(t) * dy
        reach = pose.radius_px * rng.uniform(1.2, 3.0)
        width = (0.03 + 0.05 * np.maximum(along, 0) / reach) * pose.radius_px
        rays += rng.uniform(0.4, 1.0) * np.exp(-np.maximum(along, 0) / reach - (across / width) ** 2) * (along > 0)
    rays = cv2.GaussianBlur(rays, (0, 0), 2.0) * wanted.ray_share * min(spec.film.gain, 1.5)
    return scene + rays[..., None] * np.array(spec.film.cast, np.float32)


def clouded(scene: np.ndarray, spec: SceneSpec) -> np.ndarray:
    """Bands of thin cloud: they dim the Moon, and glow in its light."""
    wanted = spec.disturbance
    if not wanted.clouds:
        return scene
    jj, ii = _grid(spec)
    t, side = np.radians(wanted.clouds_screen_deg), max(spec.width, spec.height)
    along, across = (-np.sin(t) * jj - np.cos(t) * ii) / side, (np.cos(t) * jj - np.sin(t) * ii) / side
    rng = np.random.default_rng(spec.seed + 37)
    bands = np.zeros_like(jj)
    for octave in range(4):
        wavy = 0.25 * np.sin(2 * np.pi * (along * rng.uniform(0.7, 2.0) + rng.random()))
        bands += 0.6**octave * np.sin(2 * np.pi * (across * 2.2 * 1.8**octave + wavy + rng.random()))
    depth = wanted.clouds * (bands - bands.min()) / max(float(np.ptp(bands)), 1e-6)
    through = np.exp(-depth)[..., None].astype(np.float32)
    small = cv2.resize(scene.astype(np.float32), None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    glow = cv2.GaussianBlur(small, (0, 0), side / 80.0, borderType=cv2.BORDER_CONSTANT)
    glow = np.maximum(cv2.resize(glow, (spec.width, spec.height), interpolation=cv2.INTER_CUBIC), 0.0)
    return scene * through + 0.25 * (1.0 - through) * glow


def vignetted(scene: np.ndarray, spec: SceneSpec) -> np.ndarray:
    wanted = spec.disturbance
    if not wanted.vignette:
        return scene
    jj, ii = _grid(spec)
    r2 = (jj - wanted.vignette_x * spec.width) ** 2 + (ii - wanted.vignette_y * spec.height) ** 2
    return scene * (1.0 - wanted.vignette * r2 / r2.max())[..., None]


def twice_exposed(moon: np.ndarray, spec: SceneSpec) -> np.ndarray:
    """The sum of two exposures, their middle where the spec says the Moon is."""
    right, down = spec.disturbance.twice_px
    if not right and not down:
        return moon
    share, total = spec.disturbance.first_share, np.zeros_like(moon)
    for side, part in ((-0.5, share), (0.5, 1.0 - share)):
        shift = np.float32([[1, 0, side * right], [0, 1, side * down]])
        total += part * cv2.warpAffine(moon, shift, (spec.width, spec.height), flags=cv2.INTER_CUBIC)
    return np.maximum(total, 0.0)


def invented(moon: np.ndarray, spec: SceneSpec, pose: Pose) -> np.ndarray:
    """A fine texture that no Moon has, as programs make one up: mottling, and small pits lit from one side."""
    strength = spec.disturbance.invented
    if not strength:
        return moon
    rng = np.random.default_rng(spec.seed + 41)
    texture = np.zeros_like(moon)
    for size in (0.006, 0.012, 0.024):
        step = max(size * pose.radius_px, 1.2)
        coarse = rng.normal(size=(int(spec.height / step) + 3, int(spec.width / step) + 3)).astype(np.float32)
        texture += 0.5 * cv2.resize(coarse, (spec.width, spec.height), interpolation=cv2.INTER_CUBIC)
    jj, ii = _grid(spec)
    turn = rng.uniform(0, 2 * np.pi)
    for _ in range(180):
        r, angle = pose.radius_px * np.sqrt(rng.random()) * 0.97, rng.uniform(0, 2 * np.pi)
        x, y, size = pose.x + r * np.cos(angle), pose.y + r * np.sin(angle), pose.radius_px * rng.uniform(0.008, 0.03)
        top, left = max(int(y - 4 * size), 0), max(int(x - 4 * size), 0)
        window = np.s_[top : max(int(y + 4 * size), 0) + 1, left : max(int(x + 4 * size), 0) + 1]
        dx, dy = (jj[window] - x) / size, (ii[window] - y) / size
        texture[window] += 4.0 * (dx * np.cos(turn) + dy * np.sin(turn)) * np.exp(-(dx * dx + dy * dy))
    return moon * np.clip(1.0 + strength * texture, 0.2, 3.0)


def pasted(moon: np.ndarray, other: np.ndarray, spec: SceneSpec, pose: Pose) -> np.ndarray:
    """The picture's own coarse light with a share of its fine detail from `other`, the Moon under another Sun."""
    share, sigma = spec.disturbance.pasted, max(0.02 * pose.radius_px, 1.5)
    coarse, theirs = cv2.GaussianBlur(moon, (0, 0), sigma), cv2.GaussianBlur(other, (0, 0), sigma)
    detail = np.clip((other + 0.02) / (theirs + 0.02), 0.3, 2.5) - 1.0
    lit = np.clip(coarse / 0.05 - 0.3, 0.0, 1.0)
    mixed = coarse * (1.0 + share * detail) + (1.0 - share) * (moon - coarse)
    return np.maximum(moon + lit * (mixed - moon), 0.0).astype(np.float32)


def _grid(spec: SceneSpec) -> tuple[np.ndarray, np.ndarray]:
    """Columns and rows of all pixels, float32."""
    jj, ii = np.meshgrid(np.arange(spec.width, dtype=np.float32), np.arange(spec.height, dtype=np.float32))
    return jj, ii
