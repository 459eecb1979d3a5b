"""What is kept of a picture to find its possible copies among thousands: two tiny pictures and a preview, 5 kB.

The first is the whole frame; the second what lies about the light in it, scaled by the light's extent, so that a crop
leaves it nearly as it was. Moons of one phase resemble each other in both: they only rank the pairs that are worth
comparing (`likeness.compare`) and say nothing about copies themselves; the preview then ends most of these. Where both
pictures are surely placed, their placements tell more sharply which pairs are worth it (`may_be_copies`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from moondesk.duplicates.overlap import COARSE_PX, LIES, may_overlap, turn_to
from moondesk.records import ByteArray, Float32Array

SIDE = 16
#: Of a packed sketch all but its preview: width, height, whole, light.
HEAD_BYTES = 8 + 2 * SIDE * SIDE
#: Of two placements of one picture: turn, libration, Sun, degrees. Wide against what sure placements scatter.
TURN_DEG, LIBRATION_DEG, SUN_DEG = 0.6, 0.7, 3.0


@dataclass(frozen=True, kw_only=True)
class Sketch:
    """whole, light: SIDE x SIDE bytes, row by row. width, height of the picture as displayed. preview: a grey PNG,
    `overlap.COARSE_PX` on its longer side, for `overlap.may_overlap`."""

    width: int
    height: int
    whole: bytes
    light: bytes
    preview: bytes

    def packed(self) -> bytes:
        """`HEAD_BYTES` and the preview (some 6 kB), for the store."""
        return self.width.to_bytes(4, "big") + self.height.to_bytes(4, "big") + self.whole + self.light + self.preview


@dataclass(frozen=True, kw_only=True)
class ViewingGeometry:
    """What a sure placement says that no crop and no scaling changes; degrees, as in `records.Pose`."""

    north_screen_deg: float
    mirrored: bool
    libration_lat_deg: float
    libration_lon_deg: float
    sub_solar_lon_deg: float


def unpack_sketch(data: bytes) -> Sketch:
    """Its preview is empty where only the head was kept. Raises ValueError for what `Sketch.packed` did not make."""
    cells = SIDE * SIDE
    if len(data) < HEAD_BYTES:
        raise ValueError(f"a sketch has at least {HEAD_BYTES} bytes, not {len(data)}")
    width, height = int.from_bytes(data[:4], "big"), int.from_bytes(data[4:8], "big")
    return Sketch(
        width=width,
        height=height,
        whole=data[8 : 8 + cells],
        light=data[8 + cells : HEAD_BYTES],
        preview=data[HEAD_BYTES:],
    )


def sketch(grey: ByteArray) -> Sketch:
    """grey: (H, W) uint8, stored brightness as displayed (`raster.PixelRaster.grey`)."""
    height, width = grey.shape
    share = min(COARSE_PX / max(height, width), 1.0)
    size = max(round(width * share), 4), max(round(height * share), 4)
    tiny = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    small = tiny.astype(np.float32)
    whole = cv2.resize(small, (SIDE, SIDE), interpolation=cv2.INTER_AREA)
    x, y, reach = _light(small)
    step = 2 * reach / SIDE
    matrix = np.array([[step, 0, x - reach + step / 2], [0, step, y - reach + step / 2]])
    soft = cv2.GaussianBlur(small, (0, 0), 0.5 * step) if step > 0.7 else small
    light = cv2.warpAffine(soft, matrix, (SIDE, SIDE), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                           borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
    return Sketch(
        width=width,
        height=height,
        whole=_bytes(whole),
        light=_bytes(light),
        preview=cv2.imencode(".png", tiny)[1].tobytes(),
    )


def _bytes(values: NDArray[np.generic]) -> bytes:
    cells = np.asarray(values, np.float32)
    low, high = float(cells.min()), float(cells.max())
    return bytes(np.rint((cells - low) * (255.0 / max(high - low, 1e-6))).astype(np.uint8).data)


def _light(small: Float32Array) -> tuple[float, float, float]:
    """Middle (x, y) of what is bright (Otsu 1979), and twice its root mean square extent, px."""
    limit, _ = cv2.threshold(np.clip(small, 0, 255).astype(np.uint8), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    ys, xs = np.nonzero(small > limit)
    if not len(xs):
        return small.shape[1] / 2, small.shape[0] / 2, max(small.shape) / 2
    return float(xs.mean()), float(ys.mean()), max(2.0 * float(np.sqrt(xs.var() + ys.var())), 1.5)


def alike(new: Sketch, others: Sequence[Sketch]) -> Float32Array:
    """How alike (-1..1) the new picture is to each of N others: shape (N,). Turns by 90 degrees and flips count for
    nothing; the better of the two tiny pictures counts."""
    best = np.full(len(others), -1.0, np.float32)
    if not others:
        return best
    for mine, theirs in ((new.whole, [o.whole for o in others]), (new.light, [o.light for o in others])):
        table = _normal(np.frombuffer(b"".join(theirs), np.uint8).reshape(len(others), -1))
        tiny = np.frombuffer(mine, np.uint8).reshape(SIDE, SIDE)
        turned = _normal(np.stack([turn_to(tiny, lie).ravel() for lie in LIES]))
        np.maximum(best, (table @ turned.T).max(axis=1), out=best)
    return best


def _normal(rows: NDArray[np.uint8]) -> Float32Array:
    values = rows.astype(np.float32)
    values -= values.mean(axis=1, keepdims=True)
    return np.asarray(values / np.maximum(np.sqrt((values**2).sum(axis=1, keepdims=True)), 1e-6), np.float32)


def may_overlap_by(first: Sketch, second: Sketch) -> bool:
    """`overlap.may_overlap` of the previews; True where one is missing."""
    if not first.preview or not second.preview:
        return True
    one, other = (cv2.imdecode(np.frombuffer(s.preview, np.uint8), cv2.IMREAD_GRAYSCALE) for s in (first, second))
    return one is None or other is None or may_overlap(np.asarray(one, np.uint8), np.asarray(other, np.uint8))


def may_be_copies(first: ViewingGeometry, second: ViewingGeometry) -> bool:
    """Whether two sure placements allow one picture to be a copy of the other: the same libration and Sun, and a turn
    between them that is a multiple of 90 degrees (copies are laid on their side, never tilted)."""
    # a flip exchanges left and right: the north's angle changes its sign
    other = second.north_screen_deg if first.mirrored != second.mirrored else -second.north_screen_deg
    tilt = abs((first.north_screen_deg + other + 45.0) % 90.0 - 45.0)
    libration = max(abs(first.libration_lat_deg - second.libration_lat_deg),
                    abs(first.libration_lon_deg - second.libration_lon_deg))  # fmt: skip
    sun = abs((first.sub_solar_lon_deg - second.sub_solar_lon_deg + 180.0) % 360.0 - 180.0)
    return tilt <= TURN_DEG and libration <= LIBRATION_DEG and sun <= SUN_DEG
