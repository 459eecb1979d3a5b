"""Shapes as pixels, each laid over those before it, with a dark halo under every line and every bare letter.

Each shape is a small mask of coverage, antialiased (lines by OpenCV at a sixteenth of a pixel, areas drawn four times as
large), laid over the pixels that it touches and no others: the time goes with the ink, not with the picture (20 to
120 ms for an overlay).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

import cv2
import numpy as np

from moondesk.drawing.shapes import Dot, Fill, Path, RasterShape, Shape, TextShape
from moondesk.drawing.style import HALO
from moondesk.drawing.text import outline_text
from moondesk.records import ByteArray, FloatArray

_SHIFT = 4  # fractional bits of OpenCV's coordinates
#: An area is drawn this many times as large, then averaged: the steps of its edge vanish.
_FINE = 4


def paint(canvas: ByteArray, shapes: Iterable[Shape]) -> None:
    """Paints shapes into an (H, W, 3) or (H, W, 4) array in place, in their order.

    Of lines and dots that follow each other the halos come first, and so of texts: a line under a name is dimmed, and
    not the name.
    """
    for kind, group in groupby(shapes, lambda s: Path if isinstance(s, Dot) else type(s)):
        members = list(group)
        if kind is Path:
            for halo in (True, False):
                for shape in members:
                    if isinstance(shape, Path | Dot):
                        _line_or_dot(canvas, shape, halo)
        elif kind is TextShape:
            _write(canvas, [s for s in members if isinstance(s, TextShape)])
        for shape in members:
            if isinstance(shape, Fill) and shape.halo:
                x, y, cover = coverage(shape.outlines)
                _edge(canvas, x, y, cover, shape.halo_px, shape.halo, near=0.88)
        for shape in members:
            if isinstance(shape, Fill):
                x, y, cover = coverage(shape.outlines)
                _lay(canvas, x, y, np.rint(cover.astype(np.float32) * shape.opacity).astype(np.uint8), shape.colour)
            elif isinstance(shape, RasterShape):
                pixels = shape.pixels
                alpha = pixels[..., 3] if pixels.shape[2] == 4 else np.broadcast_to(np.uint8(255), pixels.shape[:2])
                _lay(canvas, shape.x, shape.y, alpha, pixels[..., :3])


def rgb_of(colour: str) -> tuple[int, int, int]:
    """Of #rrggbb."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def coverage(outlines: Sequence[FloatArray]) -> tuple[int, int, ByteArray]:
    """(x0, y0, cover): how much of each pixel lies inside the outlines, 0..255, from pixel (x0, y0) on.

    Inside is where the outlines wind round a point at all, so strokes of a letter that overlap do not cancel.
    """
    if not outlines:
        return 0, 0, np.zeros((0, 0), np.uint8)
    every = np.concatenate(outlines)
    x0, y0 = (int(v) - 1 for v in np.floor(every.min(axis=0)))
    x1, y1 = (int(v) + 1 for v in np.ceil(every.max(axis=0)))
    winding = np.zeros(((y1 - y0) * _FINE, (x1 - x0) * _FINE), np.int8)
    for outline in outlines:
        fine = (outline - [x0, y0]) * _FINE - 0.5
        low = np.maximum(np.floor(fine.min(axis=0)).astype(int) - 1, 0)
        high = np.ceil(fine.max(axis=0)).astype(int) + 2
        part = winding[low[1] : high[1], low[0] : high[0]]
        mask: ByteArray = np.zeros(part.shape, np.uint8)
        cv2.fillPoly(mask, [np.rint((fine - low) * 2**_SHIFT).astype(np.int32)], 1, cv2.LINE_8, _SHIFT)
        x, y = outline[:, 0], outline[:, 1]
        area = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
        part += mask.astype(np.int8) if area > 0 else -mask.astype(np.int8)
    full = np.where(winding != 0, np.uint8(255), np.uint8(0))
    return x0, y0, np.asarray(cv2.resize(full, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA), np.uint8)


def _lay(canvas: ByteArray, x0: int, y0: int, cover: ByteArray, ink: str | ByteArray) -> None:
    """Lays a colour, or pixels, over the canvas as far as cover (0..255), whose corner is at (x0, y0), lets nothing
    through (Porter and Duff's "over", alpha not multiplied in)."""
    height, width = canvas.shape[:2]
    left, top = max(x0, 0), max(y0, 0)
    right, bottom = min(x0 + cover.shape[1], width), min(y0 + cover.shape[0], height)
    if left >= right or top >= bottom:
        return
    part = np.s_[top - y0 : bottom - y0, left - x0 : right - x0]
    place = canvas[top:bottom, left:right]
    if not isinstance(ink, str) and cover.strides == (0, 0):  # pixels that cover all
        place[..., :3], place[..., 3:] = ink[part], 255
        return
    touched = cover[part] > 0
    alpha = cover[part][touched].astype(np.float32)[:, None] / 255.0
    above = np.asarray(rgb_of(ink) if isinstance(ink, str) else ink[part][touched], np.float32)
    under = place[touched].astype(np.float32)
    if canvas.shape[2] == 3:
        place[touched] = np.rint(under + alpha * (above - under))
        return
    below = under[:, 3:] / 255.0 * (1.0 - alpha)
    total = alpha + below
    mixed = (alpha * above + below * under[:, :3]) / np.maximum(total, 1e-6)
    place[touched] = np.rint(np.concatenate([mixed, 255.0 * total], axis=1))


def _line_or_dot(canvas: ByteArray, shape: Path | Dot, halo: bool) -> None:
    colour = HALO if halo else shape.colour
    if isinstance(shape, Dot):
        r = shape.radius_px + (max(1.5, 0.7 * shape.radius_px) if halo else 0.0)
        x0, y0 = int(np.floor(shape.x - r - 2)), int(np.floor(shape.y - r - 2))
        side = int(np.ceil(2 * r + 5))
        yy, xx = np.mgrid[0:side, 0:side]
        share = np.clip(r + 0.5 - np.hypot(xx + x0 - shape.x, yy + y0 - shape.y), 0, 1) * (0.8 if halo else 1.0)
        _lay(canvas, x0, y0, np.rint(255 * share).astype(np.uint8), colour)
        return
    points = np.asarray(shape.points, float)
    pieces = _dashes(points, shape.dash) if shape.dash else [points]
    thick = shape.width_px * 2.0 + 2.0 if halo else shape.width_px
    height, width = canvas.shape[:2]
    low = np.maximum(np.floor(points.min(axis=0) - thick - 2), [-8, -8]).astype(int)
    high = np.minimum(np.ceil(points.max(axis=0) + thick + 2), [width + 8, height + 8]).astype(int)
    if (high <= low).any():
        return
    x0, y0 = int(low[0]), int(low[1])
    # a thin line is drawn twice as large and shrunk: OpenCV's widths are whole pixels
    scale = 2 if thick < 6 else 1
    mask: ByteArray = np.zeros(((int(high[1]) - y0) * scale, (int(high[0]) - x0) * scale), np.uint8)
    fixed = [np.rint(((p - [x0, y0] + 0.5) * scale - 0.5) * 2**_SHIFT).astype(np.int32) for p in pieces if len(p) > 1]
    cv2.polylines(mask, fixed, shape.closed and not shape.dash, 255, max(1, round(thick * scale)), cv2.LINE_AA, _SHIFT)
    if scale == 2:
        half = (mask.shape[1] // 2, mask.shape[0] // 2)
        mask = np.asarray(cv2.resize(mask, half, interpolation=cv2.INTER_AREA), np.uint8)
    opacity = 0.5 * shape.opacity if halo else shape.opacity
    _lay(canvas, x0, y0, np.rint(mask * opacity).astype(np.uint8), colour)


def _dashes(points: FloatArray, dash: tuple[float, ...]) -> list[FloatArray]:
    """The strokes of a dashed line, as lines of their own."""
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    on, off = dash[0], dash[1]
    pieces = []
    for start in np.arange(0.0, at[-1], on + off):
        s = np.unique(np.concatenate([[start], at[(at > start) & (at < start + on)], [min(start + on, at[-1])]]))
        pieces.append(np.stack([np.interp(s, at, points[:, 0]), np.interp(s, at, points[:, 1])], axis=1))
    return pieces


def _write(canvas: ByteArray, texts: Sequence[TextShape]) -> None:
    masks = [coverage([o + 0.5 for o in outline_text(text)]) for text in texts]
    for text, (x0, y0, letters) in zip(texts, masks, strict=True):
        _edge(canvas, x0, y0, letters, max(2.0, 0.13 * text.font_px), HALO)
    for text, (x0, y0, letters) in zip(texts, masks, strict=True):
        _lay(canvas, x0, y0, letters, text.colour)


def _edge(
    canvas: ByteArray, x0: int, y0: int, letters: ByteArray, reach: float, colour: str, near: float = 0.72
) -> None:
    """A dark edge round letters, solid near them (as far as `near` says) and soft outwards."""
    if not letters.size:
        return
    pad = int(np.ceil(3.0 * reach)) + 2
    padded = cv2.copyMakeBorder(letters, pad, pad, pad, pad, cv2.BORDER_CONSTANT)
    away = cv2.distanceTransform(np.where(padded > 127, np.uint8(0), np.uint8(255)), cv2.DIST_L2, 5)
    close = np.clip(0.8 * reach + 0.5 - away, 0.0, 1.0).astype(np.float32)
    soft = np.asarray(cv2.GaussianBlur(close, (0, 0), 0.5 * reach))
    halo = np.rint(255 * np.maximum(0.85 * soft, near * close)).astype(np.uint8)
    _lay(canvas, x0 - pad, y0 - pad, halo, colour)
