"""One picture laid on another: which way it lies, the affine fit, and whether copying alone can have moved it so.

Copying turns a picture by quarters, flips it, cuts it and scales it; it does not tilt or shear it. So the fit is made
freely, and then held against what copying can do.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from moondesk.records import ByteArray, Float32Array, FloatArray

#: How the coarser picture lies in the finer one: all of it; a part at the same scale; a part, resized.
Framing = Literal["whole", "cut", "free"]
#: Transposed, then flipped upside down, then left to right: the eight ways in which a picture can lie.
Lie = tuple[bool, bool, bool]

LIES: tuple[Lie, ...] = tuple((bool(t), bool(y), bool(x)) for t in (0, 1) for y in (0, 1) for x in (0, 1))
#: Longer side, px, of the pictures in which the lie is found, and of those in which the fit is made exact.
COARSE_PX, FINE_PX = 128, 640
#: Starts that are followed up, best first: at most so many, and none whose correlation is less by more than this once
#: one has led to a fair fit.
STARTS, AMBIGUOUS, FAIR = 4, 0.02, 0.97
#: Of the misfit between an exact framing and the free affine fit, px of the coarser picture: beyond it is no copy.
#: Copies of the bench: 95 % below 0.09, all below 0.28.
MOST_MISFIT_PX = 0.5


def turn_to(grey: NDArray[Any], lie: Lie) -> NDArray[Any]:
    """The picture turned to that lie: a view."""
    if lie[0]:
        grey = grey.swapaxes(0, 1)
    return grey[:: -1 if lie[1] else 1, :: -1 if lie[2] else 1]


def _lie_matrix(lie: Lie, shape: tuple[int, ...]) -> FloatArray:
    """(3, 3): pixels of a picture of that shape to those of the same, laid."""
    height, width = shape[::-1] if lie[0] else shape
    flips = np.array([[-1.0 if lie[2] else 1.0, 0, width - 1.0 if lie[2] else 0.0],
                      [0, -1.0 if lie[1] else 1.0, height - 1.0 if lie[1] else 0.0], [0, 0, 1]])  # fmt: skip
    swap = np.array([[0.0, 1, 0], [1, 0, 0], [0, 0, 1]]) if lie[0] else np.eye(3)
    return np.asarray(flips @ swap)


def inverse(matrix: FloatArray, lie: Lie, first: tuple[int, ...], second: tuple[int, ...]) -> tuple[FloatArray, Lie]:
    """From (second's pixels -> the first's, laid) to (first's pixels -> the second's, laid)."""
    back: Lie = (True, lie[2], lie[1]) if lie[0] else lie
    return _lie_matrix(back, second) @ np.linalg.inv(matrix) @ _lie_matrix(lie, first), back


def scale_of(matrix: FloatArray) -> float:
    return float(np.sqrt(abs(np.linalg.det(matrix[:2, :2]))))


def _reduce(grey: NDArray[Any], longest: float) -> tuple[Float32Array, FloatArray]:
    """The picture with its longer side at most `longest`, and the (3, 3) matrix from its pixels to the full ones."""
    height, width = grey.shape
    share = min(longest / max(height, width), 1.0)
    size = max(round(width * share), 4), max(round(height * share), 4)
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA) if share < 1 else grey
    return small.astype(np.float32), _enlarged(width / small.shape[1], height / small.shape[0])


def _enlarged(fx: float, fy: float) -> FloatArray:
    """(3, 3): pixels of a reduced picture to those of the full one."""
    return np.array([[fx, 0, (fx - 1) / 2], [0, fy, (fy - 1) / 2], [0, 0, 1.0]])


def _enlarging_matrix(to_full: FloatArray, lie: Lie) -> FloatArray:
    """The matrix of `_enlarged`, for both pictures so laid."""
    fx, fy = to_full[0, 0], to_full[1, 1]
    return _enlarged(fy, fx) if lie[0] else to_full


def _light(grey: Float32Array) -> tuple[float, float, float] | None:
    """Centre (x, y) and root mean square extent of what is bright, px."""
    floor = np.median(grey)
    bright = np.maximum(grey - floor - 0.25 * (grey.max() - floor), 0.0)
    total = float(bright.sum())
    if total <= 0:
        return None
    ys, xs = np.arange(grey.shape[0]), np.arange(grey.shape[1])
    x, y = float(bright.sum(0) @ xs) / total, float(bright.sum(1) @ ys) / total
    spread = float(bright.sum(0) @ (xs - x) ** 2 + bright.sum(1) @ (ys - y) ** 2) / total
    return x, y, max(float(np.sqrt(spread)), 0.3)


def coarse_fits(first: ByteArray, second: ByteArray) -> Iterator[tuple[Lie, FloatArray, float]]:
    """The lie of the first, the (3, 3) affine matrix from the second's pixels to those of the first so laid, and their
    correlation: the likeliest first, and others that came near to it."""
    small, to_second = _reduce(second, COARSE_PX)
    upright, to_upright = _reduce(first, COARSE_PX)
    light = _light(small)
    found: list[tuple[float, Lie, FloatArray, Float32Array]] = []
    for lie in LIES:
        other = np.ascontiguousarray(turn_to(upright, lie))
        fx, fy = other.shape[1] / small.shape[1], other.shape[0] / small.shape[0]
        starts = [] if abs(np.log(fx / fy)) > 0.25 else [(fx, (fx - 1) / 2, fy, (fy - 1) / 2)]
        there = _light(other)
        if light is not None and there is not None:
            f = there[2] / light[2]
            starts.append((f, there[0] - f * light[0], f, there[1] - f * light[1]))
        for sx, dx, sy, dy in starts:
            matrix = np.array([[sx, 0, dx], [0, sy, dy]])
            moved = cv2.warpAffine(other, matrix, small.shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                                   borderMode=cv2.BORDER_CONSTANT, borderValue=-1e4)  # fmt: skip
            seen = moved >= 0
            if seen.mean() > 0.5:
                worth = _correlation(moved[seen], small[seen]) * float(seen.mean())
                found.append((worth, lie, matrix, other))
    found.sort(key=lambda f: -f[0])
    best = 0.0
    for worth, lie, matrix, other in found[:STARTS]:
        if worth < found[0][0] - AMBIGUOUS and best > FAIR:
            return
        fit = _ecc(small, other, matrix)
        if fit is not None:
            best = max(best, fit[1])
            yield lie, _enlarging_matrix(to_upright, lie) @ fit[0] @ np.linalg.inv(to_second), fit[1]


def _correlation(a: NDArray[Any], b: NDArray[Any]) -> float:
    a, b = a - a.mean(), b - b.mean()
    return float((a * b).sum() / np.sqrt((a * a).sum() * (b * b).sum() + 1e-9))


def _ecc(target: Float32Array, source: Float32Array, start: FloatArray) -> tuple[FloatArray, float] | None:
    """The affine (3, 3) from target to source pixels that correlates best (Evangelidis and Psarakis 2008)."""
    stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 30, 2e-6)
    try:
        worth, matrix = cv2.findTransformECC(target, source, start[:2].astype(np.float32), cv2.MOTION_AFFINE, stop,
                                             None, 3)  # type: ignore[call-overload]  # fmt: skip
    except cv2.error:  # it does not converge where the two have nothing in common
        return None
    return np.vstack([matrix, [0, 0, 1]]).astype(float), float(worth)


def fine_fit(
    source: ByteArray, lie: Lie, target: ByteArray, matrix: FloatArray
) -> tuple[FloatArray, FloatArray, float] | None:
    """The matrix (from the target's pixels to those of the source so laid) made exact, (36, 2) points of the target
    over which it holds, and the correlation."""
    small, to_target = _reduce(target, FINE_PX)
    other, to_source = _reduce(source, max(source.shape) / max(scale_of(matrix) * to_target[0, 0], 1.0))
    other, to_source = np.ascontiguousarray(turn_to(other, lie)), _enlarging_matrix(to_source, lie)
    content = _content(small)
    if content is None:
        return None
    x0, x1, y0, y1 = content
    corner = np.array([[1.0, 0, x0], [0, 1, y0], [0, 0, 1]])
    start = np.linalg.inv(to_source) @ matrix @ to_target @ corner
    fit = _ecc(np.ascontiguousarray(small[y0:y1, x0:x1]), other, start)
    if fit is None:
        return None
    points = _grid(content) @ to_target[:2].T
    return to_source @ fit[0] @ np.linalg.inv(corner) @ np.linalg.inv(to_target), points, fit[1]


def _content(small: Float32Array) -> tuple[int, int, int, int] | None:
    """x0, x1, y0, y1 of what has edges in it, with a margin; None for a blank picture."""
    slope = cv2.GaussianBlur(cv2.magnitude(cv2.Sobel(small, cv2.CV_32F, 1, 0), cv2.Sobel(small, cv2.CV_32F, 0, 1)),
                             (0, 0), 3.0)  # fmt: skip
    ys, xs = np.nonzero(slope > 0.1 * slope.max())
    if not len(xs):
        return None
    return (max(int(xs.min()) - 8, 0), min(int(xs.max()) + 9, small.shape[1]),
            max(int(ys.min()) - 8, 0), min(int(ys.max()) + 9, small.shape[0]))  # fmt: skip


def _grid(content: tuple[int, int, int, int]) -> FloatArray:
    """(36, 3): points (x, y, 1) over the content."""
    x, y = np.meshgrid(np.linspace(content[0], content[1] - 1, 6), np.linspace(content[2], content[3] - 1, 6))
    return np.stack([x.ravel(), y.ravel(), np.ones(x.size)], 1)


def may_overlap(first: ByteArray, second: ByteArray) -> bool:
    """Whether one of two previews (`COARSE_PX` on the longer side) may be a copy of the other: cheap, and seldom wrong
    about copies; most other pairs end here."""
    content = _content(second.astype(np.float32))
    if content is None:
        return True
    for lie, matrix, correlation in coarse_fits(first, second):
        shape = first.shape[::-1] if lie[0] else first.shape
        if correlation > 0.9 and framing_of(matrix, _grid(content)[:, :2], shape, second.shape, 0.03)[2] < 1.0:
            return True
    return False


Box = tuple[float, float, float, float]


def framing_of(
    matrix: FloatArray, points: FloatArray, source: tuple[int, ...], target: tuple[int, ...], uneven: float = 0.0
) -> tuple[Framing, Box, float]:
    """What copying comes nearest to the matrix: framing, the target's box in the source (left, top, right,
    bottom; pixel 0 spans 0 to 1), and how far it is from the matrix over the points (rms, px of the target).
    uneven: by how much more the two scales may differ."""
    (height, width), (tall, wide) = source, target
    there = points @ matrix[:2, :2].T + matrix[:2, 2]
    size = scale_of(matrix)

    def off(box: Box) -> float:
        x = box[0] + (points[:, 0] + 0.5) * (box[2] - box[0]) / wide - 0.5
        y = box[1] + (points[:, 1] + 0.5) * (box[3] - box[1]) / tall - 0.5
        return float(np.sqrt(np.mean((x - there[:, 0]) ** 2 + (y - there[:, 1]) ** 2)) / size)

    whole: Box = (0.0, 0.0, float(width), float(height))
    dx, dy = np.round(np.median(there - points, axis=0)).tolist()
    cut: Box = (dx, dy, dx + wide, dy + tall)
    (sx, x0), (sy, y0) = (np.polyfit(points[:, k], there[:, k], 1).tolist() for k in (0, 1))
    left, top = x0 - 0.5 * sx + 0.5, y0 - 0.5 * sy + 0.5
    free: Box = (left, top, left + sx * wide, top + sy * tall)
    if off(whole) <= MOST_MISFIT_PX:
        return "whole", whole, off(whole)
    if off(cut) <= MOST_MISFIT_PX:
        return "cut", cut, off(cut)
    # a crop rounds each side to whole pixels: the two scales may differ by that, no more
    even = abs(sx / sy - 1.0) < 1.5 / min(wide, tall) + uneven
    return "free", free, off(free) if even else float("inf")
