"""The audience's composite: a night's pictures stacked into one that is quieter than any, and as sharp as the best.

At every spatial frequency a picture counts by what its blur leaves of the form and by its noise there (`weights`):
with transfer T and noise variance N the sum T_best T X / N over the sum of T^2 / N has the best picture's own blur and
the least noise that these pictures allow (the least-squares estimate of several blurred frames, brought back to the
best one's blur). So soft pictures calm the broad forms and leave the fine ones to the sharp. A place where a picture is
cut, burnt or unlike the others is filled from the others first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from moondesk.quality.texture import FWHM
from moondesk.records import MOON_RADIUS_KM, ByteArray, Float32Array, NotFound, Pose
from moondesk.stacking.registered import Registered, StackMember, register
from moondesk.stacking.weights import RINGS, Shares, radius_of, times_quieter, weigh

#: Members wanted, and the odd size of the frame, pixels.
LEAST, SIZE_PX = 3, 1001
#: Sigma of the blur at which pictures are compared place by place, pixels.
BROAD_PX = 5.6
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


@dataclass(frozen=True, eq=False, kw_only=True)
class Composite:
    """rgb: (N, N, 3) uint8, north up; pose: of the Moon in it. used: ids in the order given; rejected: (id, why)."""

    rgb: ByteArray
    linear: Float32Array
    pose: Pose
    used: tuple[int, ...]
    rejected: tuple[tuple[int, str], ...]
    gain: Gain


def composite(members: Sequence[StackMember], size_px: int = SIZE_PX) -> Composite | NotFound:
    """Stack the pictures of a night. NotFound where fewer than three agree."""
    if len(members) < LEAST:
        return _few(len(members))
    together = register(members, size_px)
    why = _faults(members, together)
    used = [k for k in range(len(members)) if k not in why]
    if len(used) < LEAST:
        return _few(len(used))
    if why:  # matched again without those that would bend the others' exposure
        together = register([members[k] for k in used], size_px)
    blur_px = np.array([members[k].blur_km / FWHM / MOON_RADIUS_KM * together.pose.radius_px for k in used])
    shares = weigh(together, blur_px)
    stacked = stack(together, shares)
    level = float(np.median(np.median(np.stack(together.light), axis=0)[together.lit]))
    single, noise = (one / level for one in times_quieter(shares))
    blur_km = float(blur_px[shares.best]) * FWHM * MOON_RADIUS_KM / together.pose.radius_px
    return Composite(
        rgb=_to_display(stacked, together.lit),
        linear=stacked,
        pose=together.pose,
        used=tuple(members[k].id for k in used),
        rejected=tuple((members[k].id, why[k]) for k in sorted(why)),
        gain=Gain(single, noise, blur_km),
    )


def _few(count: int) -> NotFound:
    pictures = "picture" if count == 1 else "pictures"
    return NotFound(
        "composite",
        f"Only {count} {pictures} of this night can be laid over each other.",
        f"{LEAST} surely placed pictures are the least.",
    )


def _faults(members: Sequence[StackMember], together: Registered) -> dict[int, str]:
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


def stack(together: Registered, shares: Shares) -> Float32Array:
    """(N, N) the members' light put together, frequency by frequency."""
    lights = together.light
    broad = np.stack([cv2.GaussianBlur(one, (0, 0), BROAD_PX) for one in lights])
    median = np.median(broad, axis=0)
    # where the light changes within a blur's width, at limb and terminator, pictures of another blur are no strangers
    reach = np.ones((13, 13), np.uint8)
    change = 0.7 * (cv2.dilate(median, reach) - cv2.erode(median, reach))
    good = []
    for k in range(len(lights)):
        allowed = np.maximum(OFF_SIGMA * together.noise[k] / 4, OFF_SHARE * np.maximum(median, 0.1)) + change
        fits = together.usable[k] & (np.abs(broad[k] - median) <= allowed)
        hard = cv2.erode(fits.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(np.float32)
        good.append(hard * cv2.GaussianBlur(hard, (0, 0), 2.0))
    fill = _filling(together, good, median)
    side = fft.next_fast_len(fill.shape[0], real=True)
    radius = radius_of((side, side))
    total = np.zeros(radius.shape, np.complex64)
    for k, one in enumerate(lights):  # where a picture does not count, the others stand in for it
        wave = fft.rfft2(good[k] * one + (1 - good[k]) * fill, (side, side))
        total += np.interp(radius, RINGS, shares.of[k]).astype(np.float32) * wave
    return np.asarray(fft.irfft2(total, (side, side))[: fill.shape[0], : fill.shape[1]], np.float32)


def _filling(together: Registered, good: Sequence[Float32Array], median: Float32Array) -> Float32Array:
    """The members' plain mean by their noises, where any counts; else what most of them show."""
    total, mass = np.zeros_like(median), np.zeros_like(median)
    for one, where, noise in zip(together.light, good, together.noise, strict=True):
        total += where / noise**2 * one
        mass += where / noise**2
    return np.asarray(np.where(mass > 1e-6, total / np.maximum(mass, 1e-9), median), np.float32)


def _to_display(linear: Float32Array, lit: NDArray[np.bool_]) -> ByteArray:
    white = float(np.percentile(linear[lit], 99.7)) * 1.05
    v = np.clip(linear / white, 0, 1)
    shown = np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-9) ** (1 / 2.4) - 0.055)
    return np.repeat(np.rint(255 * shown).astype(np.uint8)[..., None], 3, axis=2)
