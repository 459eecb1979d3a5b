"""What each picture of a night has at each fineness of detail, told by the pictures themselves.

At a spatial frequency two pictures of one Moon share its form and nothing else: their cross spectrum over the lit
ground is T_j T_k S, with what the blur of each leaves (T) and the form's own power S; a picture's own spectrum has its
noise N^2 besides. So the cross spectra of all pairs give T by the best fit of rank one to all but the diagonal, and the
diagonal the noise (factor analysis with one factor). That is blur, focus, sharpening, compression and a registration
that is a little off all in one, where a stated blur would be the optics' alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from scipy import fft

from moondesk.records import FloatArray
from moondesk.stacking.registered import Registered

#: Rings of frequency, cycles a pixel, that are told apart; below the first one all members have all.
WIDTH = 0.5 / 48
RINGS = WIDTH * np.arange(1, 49)
LOWEST = 0.02
#: Blur of the composite in units of the best member's: what laying over each other costs is made up for; and the most
#: that any frequency is lifted for it.
TARGET, MOST_LIFT = 0.97, 1.6
#: Width of the soft edge of the ground that counts, and of the blur whose broad light is taken off first, pixels.
SOFT_PX, BROAD_PX = 8.0, 10.0
#: A ring's fit, in steps; where a member's form is under this share of its noise, its blur is continued as a Gaussian.
FIT_STEPS, LEAST_FORM = 40, 0.01
#: Least share of a ring's power that is noise; pixels of common ground from which the spectra tell.
LEAST_NOISE, LEAST_GROUND = 0.02, 6000


@dataclass(frozen=True, eq=False)
class Shares:
    """At RINGS: of, (K, rings), by which each member's frequencies are multiplied and added; noise, (K, rings), each
    one's deviation there, in one unit. best: the member that the composite is as sharp as; blur_px: sigmas as given."""

    of: FloatArray
    noise: FloatArray
    best: int
    blur_px: FloatArray


def weigh(together: Registered, blur_px: FloatArray) -> Shares:
    """blur_px: sigma of each member's blur as measured in its own picture, pixels of the frame; it serves where the
    pictures themselves do not tell."""
    spectra = _spectra(together)
    if spectra is None:  # too little that all show: the blurs as measured, and white noise
        best = int(np.argmin(blur_px))
        left, noise = _gaussians(blur_px, best), np.repeat(together.noise[:, None], len(RINGS), axis=1)
    else:
        form = np.stack([_rank_one(ring) for ring in spectra], axis=1)
        own = np.stack([np.diag(ring) for ring in spectra], axis=1)
        noise = np.sqrt(np.maximum(own - form**2, LEAST_NOISE * own))
        best = _sharpest(form, noise, blur_px)
        left = _relative(form, noise, best, blur_px)
    lift = np.minimum(np.exp(2 * np.pi**2 * (1 - TARGET**2) * blur_px[best] ** 2 * RINGS**2), MOST_LIFT)
    weight = left / noise**2
    return Shares(lift * weight / np.maximum((left * weight).sum(axis=0), 1e-30), noise, best, blur_px)


def times_quieter(shares: Shares) -> tuple[float, float]:
    """(deviation of the middle member's noise, of the composite's), both at the blur of the middle member:
    there they can be compared. Of the members the sharper half counts, which needs no sharpening for it; broad light
    is left out, for what differs there is tone and haze."""
    middle = float(np.median(shares.blur_px))
    ring = 2 * np.pi * RINGS * WIDTH * (1 - np.exp(-2 * np.pi**2 * (4 * middle * RINGS) ** 2)) ** 2

    def at(power: FloatArray, blur_px: float) -> float:
        sigma2 = max(middle**2 - blur_px**2, 0.25)
        return float(np.sqrt((power * np.exp(-4 * np.pi**2 * sigma2 * RINGS**2) * ring).sum()))

    singles = [at(n**2, b) for n, b in zip(shares.noise, shares.blur_px, strict=True) if b <= 1.001 * middle]
    return float(np.median(singles)), at((shares.of**2 * shares.noise**2).sum(axis=0), shares.blur_px[shares.best])


def radius_of(shape: tuple[int, int]) -> FloatArray:
    """Frequencies, cycles a pixel, of a real transform."""
    return np.asarray(np.hypot(np.fft.fftfreq(shape[0])[:, None], np.fft.rfftfreq(shape[1])[None]))


def _spectra(together: Registered) -> FloatArray | None:
    """(rings, K, K) real cross spectra over the ground that all show, by pixel; None where there is too little of
    it."""
    ground = together.lit & np.all(together.usable, axis=0)
    inner = cv2.erode(ground.astype(np.uint8), np.ones((int(4 * SOFT_PX) | 1,) * 2, np.uint8)).astype(np.float32)
    if inner.sum() < LEAST_GROUND:
        return None
    window = cv2.GaussianBlur(inner, (0, 0), SOFT_PX)
    side = fft.next_fast_len(window.shape[0], real=True)
    ring = (radius_of((side, side)) / WIDTH + 0.5).astype(int)
    keep = (ring >= 1) & (ring <= len(RINGS))
    rows, order = ring[keep], np.argsort(ring[keep], kind="stable")
    ends = np.searchsorted(rows[order], np.arange(1, len(RINGS) + 2))
    waves = []
    for one in together.light:
        bare = window * (one - cv2.GaussianBlur(one, (0, 0), BROAD_PX))
        waves.append(fft.rfft2(bare, (side, side))[keep][order].astype(np.complex64))
    stacked, found = np.stack(waves), []
    for a, b in pairwise(ends):
        part = stacked[:, a:b]
        found.append((part @ part.conj().T).real / max(b - a, 1) / max(float((window**2).sum()), 1.0))
    return np.array(found, float)


def _rank_one(products: FloatArray) -> FloatArray:
    """t with t_j t_k nearest to the products of pairs, the diagonal left out."""
    pairs = products - np.diag(np.diag(products))
    t = np.sqrt(np.maximum(pairs.max(axis=1), 1e-30))
    for _ in range(FIT_STEPS):
        t = 0.5 * t + 0.5 * np.maximum(pairs @ t / np.maximum((t**2).sum() - t**2, 1e-30), 0.0)
    return np.asarray(t)


def _sharpest(form: FloatArray, noise: FloatArray, blur_px: FloatArray) -> int:
    """The member that keeps most of the fine detail, where all are told; by their own blurs where they are not."""
    middle = float(np.median(blur_px))
    fine = (RINGS * middle > 0.1) & (RINGS * middle < 0.35) & (form**2 > LEAST_FORM * noise**2).all(axis=0)
    return int(np.argmax(np.log(form[:, fine]).mean(axis=1))) if fine.any() else int(np.argmin(blur_px))


def _relative(form: FloatArray, noise: FloatArray, best: int, blur_px: FloatArray) -> FloatArray:
    """(K, rings) what each member has of the form against the best one: as the rings tell while they do, smoothed, and
    from there on by the Gaussians of both."""
    gauss = _gaussians(blur_px, best)
    left = np.ones_like(form)
    for k in range(len(form)):
        told = (form[k] ** 2 > LEAST_FORM * noise[k] ** 2) & (form[best] ** 2 > LEAST_FORM * noise[best] ** 2)
        told &= RINGS > LOWEST
        end = int(np.argmin(told[2:])) + 2 if not told[2:].all() else len(RINGS)
        if k == best or end < 6:
            left[k] = gauss[k]
            continue
        off = np.log(np.maximum(form[k, :end], 1e-12) / np.maximum(form[best, :end], 1e-12) / gauss[k, :end])
        off[RINGS[:end] <= LOWEST] = 0.0
        smooth = np.convolve(np.pad(off, 2, mode="edge"), np.ones(5) / 5, "valid")
        left[k] = gauss[k] * np.exp(np.pad(smooth, (0, len(RINGS) - end), mode="edge"))
    return np.clip(left, 0.0, 2.0)


def _gaussians(blur_px: FloatArray, best: int) -> FloatArray:
    return np.asarray(np.exp(-2 * np.pi**2 * (blur_px[:, None] ** 2 - blur_px[best] ** 2) * RINGS[None, :] ** 2))
