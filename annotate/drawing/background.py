"""A picture laid into a frame, its sky carried on beyond its own edges so that no rectangle shows.

The sky's colour is measured in the picture, off the disc, and carried outwards by averages over ever wider ground
(normalised convolution, H. Knutsson and C.-F. Westin 1993): near an edge it is the colour just inside it, far away that
of all of the sky. Where an edge of the picture cuts the disc itself, the disc fades out over a twentieth of the frame.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.drawing.boxes import BoolArray
from moondesk.drawing.frame import Format
from moondesk.drawing.sampling import Sampler
from moondesk.records import ByteArray, Float32Array, FloatArray

#: Pixels of the frame (x, y) to those of the picture, and how far they are off the Moon's middle, radii (none: no
#: disc).
Lookup = Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray, FloatArray | None]]
#: Sky from this many radii on: nearer, the limb's own blur is in it.
_SKY_FROM = 1.05
#: Where a picture has no sky at all: night blue, nearly black.
NIGHT = (9, 12, 19)
#: A sky as bright as this at most, grey levels, is night and is levelled to the frame's black; a brighter one, of
#: twilight or day, stays as it was taken.
NIGHT_SKY = 56.0
#: Sky nearer to the Moon than this, radii, is what its glow is measured by where the sky is uneven.
_NEAR_SKY = 1.3
#: Width of the fade where the disc is cut, and of an even and an uneven sky's own edge, shares of the frame's shorter
#: side.
_FADE, _SKY_FADE, _UNEVEN_FADE = 0.07, 0.05, 0.16
#: The same of a picture in which no disc is known, and how far beside it what fills the frame falls to a third.
_PICTURE_FADE, _DARKER = 0.025, 0.3
#: Where the sky along the picture's edges steps by more grey levels (an eyepiece's field in the dark, a roof), it is
#: not carried on piece by piece: all around becomes the darker colour.
_UNEVEN = 10.0
#: Rows that are looked up at a time, and the scale at which the sky is carried on.
_ROWS, _COARSE = 240, 8
_WIDER = (300.0, 90.0, 30.0, 10.0, 3.0, 1.0)


@dataclass(frozen=True, eq=False)
class Laid:
    """rgb: the frame's ground (H, W, 3); cut: whether an edge of the picture cuts the disc within the frame; black: the
    sky round the disc is black, or was levelled to it."""

    rgb: ByteArray
    cut: bool
    black: bool = False


def lay(rgb: ByteArray, lookup: Lookup, fmt: Format, step: float) -> Laid:
    """The picture (h, w, 3) in a frame. step: pixels of the picture for one of the frame, for averaging beforehand."""
    sampler = Sampler(rgb, step)
    height, width = rgb.shape[:2]
    # distance from the picture's edge in frame pixels, where positive inside
    out = np.empty((fmt.height, fmt.width, 3), np.uint8)
    inward = np.empty((fmt.height, fmt.width), np.float32)
    off = np.full((fmt.height, fmt.width), np.inf, np.float32)
    for top in range(0, fmt.height, _ROWS):
        ys, xs = np.mgrid[top : min(top + _ROWS, fmt.height), 0 : fmt.width].astype(np.float64)
        x, y, radii = lookup(xs, ys)
        rows = slice(top, top + len(ys))
        edge = np.minimum(np.minimum(x + 0.5, width - 0.5 - x), np.minimum(y + 0.5, height - 0.5 - y)) / step
        inward[rows] = edge
        if radii is not None:
            off[rows] = radii
        out[rows] = sampler.at(x, y)
    disc = off <= 1.0
    cut = bool((disc & (inward < 0.5)).any())
    known = not bool(np.isinf(off).all())
    side = min(fmt.width, fmt.height)
    sky = (inward > 1.0) & (off > _SKY_FROM)
    even = _is_even(out, sky & (inward < 0.06 * side))
    ends = float(inward.min()) <= 0.0
    if not known:
        if ends:
            _mix(out, _beside(out, inward, side), _share_of(inward, _PICTURE_FADE * side))
        return Laid(out, cut)
    if sky.sum() < 0.002 * sky.size and not ends:
        return Laid(out, cut, black=True)
    fill = _extend_sky(out, sky, even)
    grain = _grain(out, sky, step)
    near = sky & (off < _NEAR_SKY)
    if not even and near.sum() > 400:  # an eyepiece's field: what is round the Moon is the glow that lies over it
        fill = np.broadcast_to(np.median(out[near], axis=0).astype(np.float32), out.shape)
    level = float(np.median(fill[::8, ::8].mean(axis=2)))
    share = _share_of(inward, (_SKY_FADE if even else _UNEVEN_FADE) * side)
    share[disc] = _share_of(inward[disc], _FADE * side if cut else 1.0)
    if level > NIGHT_SKY:
        if ends:
            _mix(out, (fill if even else _extend_sky(out, sky, even)) + grain, share)
        return Laid(out, cut)
    # night: the sky's glow lies over the Moon too, so it is taken off everywhere and white stays white
    noise = 2.2 * float(np.abs(grain).mean())
    for top in range(0, fmt.height, _ROWS):  # in strips: the largest frame in single precision is 100 MB each time
        rows = slice(top, top + _ROWS)
        glow = fill[rows]
        beyond = np.clip((off[rows] - 1.0) * 40.0, 0.0, 1.0)[..., None]  # noise is black in the sky alone
        dark = glow + beyond * noise
        clear = np.clip((out[rows] - dark) * (255.0 / (255.0 - dark)), 0.0, 255.0)
        out[rows] = np.rint(clear * share[rows, :, None])
    return Laid(out, cut, black=True)


def _share_of(inward: Float32Array, fade: float) -> Float32Array:
    """How much of the picture shows, so far within its edge: 0 beyond it, 1 from `fade` on."""
    share = np.clip(inward / fade, 0.0, 1.0)
    return np.asarray(share * share * (3.0 - 2.0 * share), np.float32)


def _mix(out: ByteArray, fill: Float32Array, share: Float32Array) -> None:
    """The picture over what fills the frame, in place."""
    for top in range(0, len(out), _ROWS):
        rows = slice(top, top + _ROWS)
        mixed = fill[rows] + share[rows, :, None] * (out[rows] - fill[rows])
        out[rows] = np.clip(np.rint(mixed), 0, 255)


def _is_even(rgb: ByteArray, border: BoolArray) -> bool:
    """Whether the sky along the edges is of one colour, or changes gently: no step between neighbouring cells."""
    size = (max(1, border.shape[1] // _COARSE), max(1, border.shape[0] // _COARSE))
    grey = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA).mean(axis=2)
    inside = cv2.resize(border.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.95
    steps = [
        np.abs(np.diff(grey, axis=k))[inside[:-1] & inside[1:] if k == 0 else inside[:, :-1] & inside[:, 1:]]
        for k in (0, 1)
    ]
    every = np.concatenate(steps)
    return len(every) < 20 or float(np.percentile(every, 99.7)) <= _UNEVEN


def _extend_sky(rgb: ByteArray, sky: BoolArray, even: bool) -> Float32Array:
    """The sky's colour everywhere in the frame, (H, W, 3)."""
    height, width = sky.shape
    size = (max(1, width // _COARSE), max(1, height // _COARSE))
    if sky.sum() < 0.002 * sky.size:
        return np.full(rgb.shape, NIGHT, np.float32)
    if not even:
        return np.full(rgb.shape, np.percentile(rgb[sky][::17], 20, axis=0), np.float32)
    weight = sky.astype(np.float32)
    masked = np.where(sky[..., None], rgb, np.uint8(0))
    known = cv2.resize(masked, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    weight = np.asarray(cv2.resize(weight, size, interpolation=cv2.INTER_AREA), np.float32)
    # a branch or a lamp in the sky must not colour all of it
    middle = np.median(known[weight > 0.5] / weight[weight > 0.5][:, None], axis=0) if (weight > 0.5).any() else NIGHT
    fill = np.broadcast_to(np.asarray(middle, np.float32), known.shape)
    for sigma in _WIDER:
        spread = cv2.GaussianBlur(weight, (0, 0), sigma)
        colour = cv2.GaussianBlur(known, (0, 0), sigma) / np.maximum(spread, 1e-6)[..., None]
        trust = np.clip(spread / 0.15, 0.0, 1.0)[..., None]
        fill = fill + trust * (colour - fill)
    return np.asarray(cv2.resize(fill, (width, height), interpolation=cv2.INTER_LINEAR), np.float32)


def _grain(rgb: ByteArray, sky: BoolArray, step: float) -> Float32Array:
    """Noise as strong and as coarse as that of the picture's sky, (H, W, 1): smooth ground beside it would show."""
    height, width = sky.shape
    if sky.sum() < 400:
        return np.zeros((height, width, 1), np.float32)
    grey = rgb.mean(axis=2, dtype=np.float32)
    fine = (grey - cv2.GaussianBlur(grey, (0, 0), 3.0 * max(1.0, 1.0 / step)))[sky]
    strength = float(np.median(np.abs(fine))) * 1.48  # of a normal distribution: the median of its sizes is 0.674 sigma
    noise = np.random.default_rng(1).standard_normal((height, width)).astype(np.float32)
    if step < 0.8:  # enlarged: its grains are larger than a pixel
        noise = np.asarray(cv2.GaussianBlur(noise, (0, 0), 0.5 / step), np.float32)
        noise /= max(float(noise.std()), 1e-6)
    return np.asarray(strength * noise[..., None], np.float32)


def _beside(rgb: ByteArray, inward: Float32Array, side: float) -> Float32Array:
    """What fills a frame beside a picture of no known shape, (H, W, 3): its outermost colours, blurred more and darker
    the farther out. rgb: the frame with the picture's border carried straight on."""
    height, width = inward.shape
    small = cv2.resize(rgb, (width // _COARSE, height // _COARSE), interpolation=cv2.INTER_AREA).astype(np.float32)
    blurred = cv2.resize(
        cv2.GaussianBlur(small, (0, 0), 0.03 * side / _COARSE), (width, height), interpolation=cv2.INTER_CUBIC
    )
    return np.asarray(blurred * np.exp(np.minimum(inward, 0.0) / (_DARKER * side))[..., None], np.float32)
