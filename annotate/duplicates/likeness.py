"""Whether one of two pictures is a copy of the other: their pixels laid on one another, and what is left unexplained.

Two exposures of one Moon resemble each other as closely as a copy resembles its original; only their noise is each its
own. A copy, though, is its original moved by nothing but a scale, a cut and quarter turns, then rounded by the JPEG
encoder: every coefficient of its 8 x 8 blocks lies within half a step of the original's, and the steps stand in the
file. So the two are brought onto the raster of the coarser one, and what those steps do not explain is measured
(`unexplained`, as the standard deviation of a normal error besides the rounding). For a copy that is the resampling's
own error; for another exposure it is the noise of both.

Neglected: editing (curves, sharpening, captions). An edited copy is not proven to be one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.special import ndtr

from moondesk.duplicates.overlap import (
    LIES,
    MOST_MISFIT_PX,
    Box,
    Framing,
    Lie,
    coarse_fits,
    fine_fit,
    framing_of,
    inverse,
    scale_of,
    turn_to,
)
from moondesk.duplicates.raster import PixelRaster
from moondesk.records import ByteArray, Float32Array, FloatArray

Likelihood = Literal["same", "perhaps", "different"]
#: Side of the part that is compared in detail, px.
WINDOW_PX = 256
#: Coefficients looked at; more only cost time.
MOST_COEFFICIENTS = 5000
#: Blocks without a clipped pixel, below which nothing is concluded.
FEWEST_BLOCKS = 12
#: Taken off before a JPEG's cosines are (ITU-T T.81, A.3.1).
LEVEL = 128
#: Unexplained grey levels below which a pair is proven to be one picture, at about the same scale and where the copy is
#: smaller by more than `SMALLER`: there the noise is averaged away and exposures come nearer to copies.
SAME_BELOW, SAME_BELOW_SMALL, SMALLER = 0.85, 0.5, 1.5
#: Nearer than this by brightness alone, the finer picture's colours are resized too: each is rounded for itself, and
#: that differs by up to half a grey level. Others cannot be proven to be copies.
COLOURS_BELOW = 2.0
#: Up to this a pair may be one picture (a copy of a copy, a codec whose steps are not known), and is asked about.
PERHAPS_BELOW = 4.0
#: So is one framed alike to within this, px, with at least this correlation, whatever differs: copies get edited.
STILL_PX, STILL_CORRELATION = 0.1, 0.995
#: A sigma is excluded where its log-likelihood is less than the best one's by more than this (1 in 70, one-sided, for a
#: normal likelihood).
NOT_EXCLUDED = 2.4
_SIGMAS = np.geomspace(0.15, 9.0, 36)


#: framing, flipped, turned, scale, finer, correlation, misfit_px of a `Likeness`.


@dataclass(frozen=True, kw_only=True)
class Likeness:
    """unexplained: grey levels, see the module; nan where it was not measured. misfit_px: how far the free fit is from
    the framing. scale: pixels of the finer picture for one of the coarser. finer: 0 where the first is the finer one.
    correlation: of the two, laid on one another. at_most: the largest unexplained part that the coefficients (number)
    do not exclude: where few were looked at, or where steps are coarse, it stays large and proves nothing."""

    likelihood: Likelihood
    framing: Framing | None = None
    flipped: bool = False
    turned: bool = False
    scale: float = 1.0
    finer: int = 0
    correlation: float = 0.0
    misfit_px: float = float("nan")
    unexplained: float = float("nan")
    at_most: float = float("nan")
    coefficients: int = 0


def compare(first: PixelRaster, second: PixelRaster) -> Likeness:
    """Whether one is a copy of the other, a version of the same original. Symmetric but for rounding."""
    best = Likeness(likelihood="different")
    for lie, matrix, correlation in coarse_fits(first.grey, second.grey):
        found = _compare(first, second, lie, matrix, correlation)
        if found.likelihood != "different":
            return found
        if found.correlation > best.correlation:
            best = found
    return best


def _compare(first: PixelRaster, second: PixelRaster, lie: Lie, matrix: FloatArray, correlation: float) -> Likeness:
    finer, coarser, which = first, second, 0
    scale = scale_of(matrix)
    if scale < 0.99 or (scale < 1.01 and _later(first) > _later(second)):
        matrix, lie = inverse(matrix, lie, first.grey.shape, second.grey.shape)
        finer, coarser, which = second, first, 1
    source = turn_to(finer.grey, lie)
    fit = fine_fit(finer.grey, lie, coarser.grey, matrix)
    if fit is None:
        return Likeness(likelihood="different", correlation=correlation)
    matrix, points, correlation = fit
    framing, box, misfit = framing_of(matrix, points, source.shape, coarser.grey.shape)
    common = Likeness(
        likelihood="different",
        framing=framing,
        flipped=sum(lie) % 2 == 1,
        turned=lie != LIES[0],
        scale=scale_of(matrix),
        finer=which,
        correlation=correlation,
        misfit_px=misfit,
    )
    if misfit > MOST_MISFIT_PX:
        return common
    found = _measure_unexplained(source, coarser, box)
    if found is not None and found[0] < COLOURS_BELOW:
        found = _measure_unexplained(turn_to(finer.rgb(), lie), coarser, box)
    if found is None:
        return replace(common, likelihood="perhaps")
    unexplained, at_most, coefficients = found
    return replace(
        common,
        likelihood=_judge(unexplained, at_most, common),
        unexplained=unexplained,
        at_most=at_most,
        coefficients=coefficients,
    )


def _judge(unexplained: float, at_most: float, common: Likeness) -> Likelihood:
    if at_most <= (SAME_BELOW if common.scale < SMALLER else SAME_BELOW_SMALL):
        return "same"
    # an edited copy, or the next frame of a camera that did not move at all
    still = common.framing != "free" and common.misfit_px <= STILL_PX and common.correlation >= STILL_CORRELATION
    return "perhaps" if unexplained <= PERHAPS_BELOW or still else "different"


def _later(raster: PixelRaster) -> tuple[int, float]:
    """The greater, the likelier the copy of two at one scale: a crop is smaller, a copy mostly has coarser steps."""
    return -raster.grey.size, float(raster.steps.sum()) if raster.steps is not None else 0.0


#: Ways of resizing to eight bits that programs use; "points" are interpolated between pixels without averaging.
_FILTERS = {
    "lanczos": Image.Resampling.LANCZOS, "bicubic": Image.Resampling.BICUBIC, "box": Image.Resampling.BOX,
    "hamming": Image.Resampling.HAMMING, "bilinear": Image.Resampling.BILINEAR,
}  # fmt: skip
_KINDS = (*_FILTERS, "area", "points", "cubic points")
Window = tuple[int, int, int, int]


def _predict_resized(source: ByteArray, box: Box, target: tuple[int, ...], window: Window, kind: str) -> ByteArray:
    """What that way of resizing the source makes of the target's window (x0, y0, x1, y1): brightness. source: (H, W)
    or, in colour, (H, W, 3).

    Rounded to eight bits where programs do so, before the brightness is taken: in smooth sky the rounding goes the
    same way everywhere, by up to half a grey level, and would pass for noise.
    """
    tall, wide = target
    x0, y0, x1, y1 = window
    if kind == "area":
        whole = cv2.resize(np.ascontiguousarray(source), (wide, tall), interpolation=cv2.INTER_AREA)[y0:y1, x0:x1]
        return np.asarray(Image.fromarray(np.ascontiguousarray(whole)).convert("L"))
    sx, sy = (box[2] - box[0]) / wide, (box[3] - box[1]) / tall
    left, top, right, bottom = box[0] + x0 * sx, box[1] + y0 * sy, box[0] + x1 * sx, box[1] + y1 * sy
    pad = int(np.ceil(4 * max(sx, sy, 1.0))) + 2
    near_x, near_y = max(int(left) - pad, 0), max(int(top) - pad, 0)
    part = np.ascontiguousarray(source[near_y : int(np.ceil(bottom)) + pad, near_x : int(np.ceil(right)) + pad])
    left, top, right, bottom = left - near_x, top - near_y, right - near_x, bottom - near_y
    if kind in _FILTERS:
        inside = (max(left, 0.0), max(top, 0.0), min(right, float(part.shape[1])), min(bottom, float(part.shape[0])))
        image = Image.fromarray(part).resize((x1 - x0, y1 - y0), _FILTERS[kind], box=inside)
    else:
        matrix = np.array([[sx, 0, left + sx / 2 - 0.5], [0, sy, top + sy / 2 - 0.5]])
        flag = cv2.INTER_LINEAR if kind == "points" else cv2.INTER_CUBIC
        image = Image.fromarray(cv2.warpAffine(part, matrix, (x1 - x0, y1 - y0), flags=flag | cv2.WARP_INVERSE_MAP,
                                               borderMode=cv2.BORDER_REPLICATE))  # fmt: skip
    return np.asarray(image.convert("L"))


def _window(source: tuple[int, ...], target: PixelRaster, box: Box) -> Window | None:
    """Whole blocks of the target that lie in the source and hold most of what can be compared: texture, not clipped."""
    tall, wide = target.grey.shape
    sx, sy = (box[2] - box[0]) / wide, (box[3] - box[1]) / tall
    # pixels of the target whose surroundings lie in the source
    low_x, low_y = int(np.ceil(max(-box[0] / sx, 0.0))), int(np.ceil(max(-box[1] / sy, 0.0)))
    high_x, high_y = int(min((source[1] - box[0]) / sx, wide)), int(min((source[0] - box[1]) / sy, tall))
    bx, by = -(-(low_x - target.left) // 8), -(-(low_y - target.top) // 8)
    nx, ny = (high_x - target.left) // 8 - bx, (high_y - target.top) // 8 - by
    if nx < 2 or ny < 2:
        return None
    x0, y0 = target.left + 8 * bx, target.top + 8 * by
    grey = target.grey[y0 : y0 + 8 * ny, x0 : x0 + 8 * nx]
    rough = cv2.inRange(cv2.convertScaleAbs(cv2.Laplacian(grey, cv2.CV_16S)), 2, 255)
    rough = cv2.bitwise_and(rough, cv2.inRange(grey, 3, 252))
    worth = cv2.resize(rough, (nx, ny), interpolation=cv2.INTER_AREA).astype(np.float32)
    across, down = min(WINDOW_PX // 8, nx), min(WINDOW_PX // 8, ny)
    sums = cv2.boxFilter(worth, -1, (across, down), anchor=(0, 0), normalize=False, borderType=cv2.BORDER_CONSTANT)
    sums = sums[: ny - down + 1, : nx - across + 1]
    row, col = np.unravel_index(int(np.argmax(sums)), sums.shape)
    x0, y0 = x0 + 8 * int(col), y0 + 8 * int(row)
    return x0, y0, x0 + 8 * across, y0 + 8 * down


_COSINES = np.array([[np.sqrt((1 if u == 0 else 2) / 8) * np.cos((2 * x + 1) * u * np.pi / 16) for x in range(8)]
                     for u in range(8)], np.float32)  # fmt: skip


def _blocks(values: NDArray[Any]) -> Float32Array:
    """(H, W), multiples of 8, to (N, 8, 8) orthonormal cosine coefficients of its blocks (ITU-T T.81, A.3.3)."""
    rows, cols = values.shape[0] // 8, values.shape[1] // 8
    blocks = values.astype(np.float32).reshape(rows, 8, cols, 8).transpose(0, 2, 1, 3).reshape(-1, 8, 8)
    return np.asarray(_COSINES @ blocks @ _COSINES.T)


def _measure_unexplained(source: ByteArray, target: PixelRaster, box: Box) -> tuple[float, float, int] | None:
    """Standard deviation (grey levels) of what neither resizing nor rounding explains, the largest that is possible,
    and the number of coefficients; None where there is nothing to look at."""
    window = _window(source.shape, target, box)
    if window is None:
        return None
    x0, y0, x1, y1 = window
    seen = target.grey[y0:y1, x0:x1]
    clear = ((seen > 1) & (seen < 254)).reshape((y1 - y0) // 8, 8, -1, 8).all(axis=(1, 3)).ravel()
    if np.count_nonzero(clear) < FEWEST_BLOCKS:
        return None
    values = _blocks(seen.astype(np.float32) - LEVEL)[clear]
    if target.steps is None:
        step = np.zeros(values.shape)
        told = np.ones(values.shape, bool)
    else:
        step = np.broadcast_to(target.steps, values.shape)
        told = np.abs(values) > 0.5 * step  # the others were rounded to nothing: they tell little, and not evenly
        told[:, 0, 0] = False
        # a flat block's brightness was rounded to a grey level everywhere alike; where there is texture it is dithered
        told[:, 0, 0] = told.any(axis=(1, 2))
        # what the file holds, before it was rounded to grey levels once more
        values = np.where(step >= 2, np.rint(values / step) * step, values)
    step = step[told]
    every, few = -(-len(step) // MOST_COEFFICIENTS), -(-len(step) // 1200)
    moved = any(b != round(b) for b in box) or box[2] - box[0] != target.grey.shape[1]
    best: tuple[float, FloatArray] | None = None
    uncut = box == (0.0, 0.0, float(source.shape[1]), float(source.shape[0]))
    for kind in _KINDS if moved else _KINDS[:1]:
        if kind == "area" and not uncut:
            continue
        predicted = _blocks(_predict_resized(source, box, target.grey.shape, window, kind).astype(np.float32) - LEVEL)[
            clear
        ]
        error = (predicted - values)[told].astype(float)
        sigma, _ = _normal_part(error[::few], step[::few], _SIGMAS[::3])
        if best is None or sigma < best[0]:
            best = sigma, error
    assert best is not None
    _, error = best
    return (*_normal_part(error[::every], step[::every], _SIGMAS), len(error[::every]))


def _normal_part(error: FloatArray, step: FloatArray, sigmas: FloatArray) -> tuple[float, float]:
    """The sigma for which an even spread over one step plus a normal error is likeliest, and the largest that is not
    excluded; 3 % of the errors may be anything."""
    half = np.maximum(step, 0.1) / 2
    worth = []
    for s in sigmas.tolist():
        density = (ndtr((error + half) / s) - ndtr((error - half) / s)) / (2 * half)
        worth.append(float(np.log(0.97 * density + 0.03 / (6 * half + 10)).sum()))
    best = int(np.argmax(worth))
    return float(sigmas[best]), float(sigmas[np.flatnonzero(np.array(worth) >= worth[best] - NOT_EXCLUDED)[-1]])
