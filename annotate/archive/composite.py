"""The audience's composite: a night's pictures stacked into one that is quieter than any, and as sharp as the best.

Each picture is split into bands of detail. In every band a picture counts by what its blur leaves of it and by its
noise there: with transfer T and noise variance N the sum T_best T X / N over the sum of T^2 / N has the best picture's
own blur and the least noise that these pictures allow (the least-squares estimate of several blurred frames, brought
back to the best one's blur). So soft pictures calm the broad forms and leave the fine ones to the sharp.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from annotate.archive.registered import Member, Registered, registered
from annotate.rating.texture import FWHM
from annotate.records import MOON_RADIUS_KM, ByteArray, Float32Array, FloatArray, NotFound, Pose

#: Members wanted, and the odd size of the frame, pixels.
LEAST, SIZE_PX = 3, 1001
#: Bands between Gaussian blurs of these widths (sigma, pixels); the broad rest is the last one's.
BANDS = (0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6)
#: Blur of the composite in units of the best member's: what matching tones and laying over each other cost is made up
#: for; and the most that any band is lifted for it.
TARGET, MOST_LIFT = 0.97, 2.0
#: A member is left out where its texture follows the others' less than this, more than this of the lit disc is burnt
#: out, or its blur or noise are so many times the middle one's.
AGREEING, BURNT, COARSE, NOISY = 0.6, 0.2, 3.0, 6.0
#: Places where a picture lies so many deviations, and so much of the light, off the others' median do not count.
OFF_SIGMA, OFF_SHARE = 4.0, 0.12


@dataclass(frozen=True)
class Gain:
    """noise_single, noise: of the middle member and of the composite (by the members' measured noises), shares of the
    middle light, at the same resolution; times: the ratio. blur_km: the best member's, which the composite has."""

    noise_single: float
    noise: float
    blur_km: float

    @property
    def times(self) -> float:
        return self.noise_single / max(self.noise, 1e-9)


@dataclass(frozen=True, eq=False)
class Composite:
    """rgb: (N, N, 3) uint8, north up; pose: of the Moon in it. used: ids in the order given; rejected: (id, why)."""

    rgb: ByteArray
    linear: Float32Array
    pose: Pose
    used: tuple[int, ...]
    rejected: tuple[tuple[int, str], ...]
    gain: Gain


def composite(members: Sequence[Member], size_px: int = SIZE_PX) -> Composite | NotFound:
    """Stack the pictures of a night. NotFound where fewer than three agree."""
    if len(members) < LEAST:
        return _few(len(members))
    together = registered(members, size_px)
    why = _faults(members, together)
    used = [k for k in range(len(members)) if k not in why]
    if len(used) < LEAST:
        return _few(len(used))
    if why:  # matched again without those that would bend the others' exposure
        together = registered([members[k] for k in used], size_px)
    blur_px = np.array([members[k].blur_km / FWHM / MOON_RADIUS_KM * together.pose.radius_px for k in used])
    stacked = stack(together, blur_px)
    best = float(blur_px.min())
    return Composite(
        _displayed(stacked, together.lit), stacked, together.pose, tuple(members[k].id for k in used),
        tuple((members[k].id, why[k]) for k in sorted(why)),
        _gain(together, blur_px, best * FWHM * MOON_RADIUS_KM / together.pose.radius_px))


def _few(count: int) -> NotFound:
    return NotFound("composite", f"Only {count} pictures of this night can be laid over each other.",
                    f"{LEAST} surely placed pictures are the least.")


def _faults(members: Sequence[Member], together: Registered) -> dict[int, str]:
    """Which members are left out, and why."""
    blurs = np.array([m.blur_km for m in members])
    soft = max(4.0, float(np.median(blurs)) / FWHM / MOON_RADIUS_KM * together.pose.radius_px)
    texture = [_texture(one, soft) for one in together.light]
    median = np.median(np.stack(texture), axis=0)
    why = {}
    for k, member in enumerate(members):
        where = together.usable[k] & together.lit
        if together.burnt[k] > BURNT:
            why[k] = f"{100 * together.burnt[k]:.0f} % of its lit part is burnt out."
        elif where.sum() < 1000 or _follows(texture[k][where], median[where]) < AGREEING:
            why[k] = "It does not agree with the others: clouds, or it lies otherwise than it was placed."
        elif member.blur_km > COARSE * float(np.median(blurs)):
            why[k] = f"It is too coarse: {member.blur_km:.0f} km where the others show {np.median(blurs):.0f}."
        elif together.noise[k] > NOISY * float(np.median(together.noise)):
            why[k] = f"It is too noisy: {together.noise[k] / np.median(together.noise):.0f} times the others."
    return why


def _texture(one: Float32Array, soft_px: float) -> Float32Array:
    """What is neither noise nor the broad light: between two blurs, by the light there."""
    fine, broad = cv2.GaussianBlur(one, (0, 0), soft_px), cv2.GaussianBlur(one, (0, 0), 6 * soft_px)
    return np.asarray((fine - broad) / np.maximum(broad, 0.05), np.float32)


def _follows(a: Float32Array, b: Float32Array) -> float:
    return float(np.corrcoef(a, b)[0, 1]) if a.std() > 0 and b.std() > 0 else 0.0


#: Middle frequencies of the bands, cycles a pixel: a difference of Gaussians of sigma and root two times it passes most
#: at 0.187 / sigma.
_MIDDLE = np.array([0.42, *(0.187 / s for s in BANDS)])


def _transfers(blur_px: FloatArray) -> FloatArray:
    """(K, bands): what Gaussian blurs leave at each band's middle frequency."""
    return np.asarray(np.exp(-2 * np.pi**2 * blur_px[:, None] ** 2 * _MIDDLE[None, :] ** 2))


def _shares(blur_px: FloatArray, noise: FloatArray) -> FloatArray:
    """(K, bands) factors of each member in each band: T_target T / N over the sum of T^2 / N."""
    left = _transfers(blur_px)
    weight = left / noise[:, None] ** 2
    best = left.max(axis=0)
    target = best * np.minimum(_transfers(TARGET * blur_px.min(keepdims=True))[0] / np.maximum(best, 1e-9), MOST_LIFT)
    return np.asarray(target * weight / np.maximum((left * weight).sum(axis=0), 1e-30))


def _bands(one: Float32Array) -> list[Float32Array]:
    """Differences of Gaussians, the finest first, and the broad rest."""
    levels = [one, *(cv2.GaussianBlur(one, (0, 0), s) for s in BANDS)]
    return [*(a - b for a, b in pairwise(levels)), levels[-1]]


def stack(together: Registered, blur_px: FloatArray, noise: FloatArray | None = None) -> Float32Array:
    """(N, N) the members' light put together. noise: other than theirs, for tests."""
    noise = together.noise if noise is None else noise
    shares = _shares(blur_px, noise)
    broad = np.stack([cv2.GaussianBlur(one, (0, 0), BANDS[-1]) for one in together.light])
    median = np.median(broad, axis=0)
    total = np.zeros((shares.shape[1], *median.shape))
    mass = np.zeros_like(total)
    # where the light changes within a blur's width, at limb and terminator, pictures of another blur are no strangers
    reach = np.ones((13, 13), np.uint8)
    change = 0.7 * (cv2.dilate(median, reach) - cv2.erode(median, reach))
    for k, one in enumerate(together.light):
        allowed = np.maximum(OFF_SIGMA * noise[k] / 4, OFF_SHARE * np.maximum(median, 0.1)) + change
        off = np.abs(broad[k] - median) > allowed
        good = cv2.erode((together.usable[k] & ~off).astype(np.uint8), np.ones((3, 3), np.uint8)).astype(np.float32)
        good = cv2.GaussianBlur(good, (0, 0), 2.0) * good
        for b, band in enumerate(_bands(one)):
            total[b] += shares[k, b] * good * band
            mass[b] += shares[k, b] * good
    full = shares.sum(axis=0)[:, None, None]
    # a band whose best members are missing somewhere is made up for by the others, as far as they go
    out = np.where(mass > 1e-3 * full, total * full / np.maximum(mass, 1e-9), 0.0).sum(axis=0)
    return np.asarray(np.where(mass[-1] > 1e-6, out, median), np.float32)


def _gain(together: Registered, blur_px: FloatArray, blur_km: float) -> Gain:
    """Of white noise of these deviations, at the middle member's blur: there the singles can be compared at all."""
    level = float(np.median(np.median(np.stack(together.light), axis=0)[together.lit]))
    sigma = float(np.median(blur_px))
    rng, noise = np.random.default_rng(1), together.noise
    size, shares = 256, _shares(blur_px, noise)
    total = np.zeros((size, size), np.float32)
    for k in range(len(noise)):
        field = rng.normal(0, noise[k], (size, size)).astype(np.float32)
        for b, band in enumerate(_bands(field)):
            total += np.float32(shares[k, b]) * band
    single = rng.normal(0, float(np.median(noise)), (size, size)).astype(np.float32)
    noises = [float(cv2.GaussianBlur(f, (0, 0), max(sigma, 0.7)).std()) / level for f in (single, total)]
    return Gain(noises[0], noises[1], blur_km)


def _displayed(linear: Float32Array, lit: NDArray[np.bool_]) -> ByteArray:
    white = float(np.percentile(linear[lit], 99.7)) * 1.05
    v = np.clip(linear / white, 0, 1)
    shown = np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-9) ** (1 / 2.4) - 0.055)
    return np.repeat(np.rint(255 * shown).astype(np.uint8)[..., None], 3, axis=2)
