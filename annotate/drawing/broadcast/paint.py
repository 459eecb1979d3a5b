"""Shapes of a frame as pixels with alpha, each drawn over those before it and over the pixels that it touches alone."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

import cv2
import numpy as np

from moondesk.drawing.broadcast.shapes import AirShape, Fill, Raster
from moondesk.drawing.draw import paint
from moondesk.drawing.shapes import Dot, Path
from moondesk.records import ByteArray, FloatArray

#: An area is drawn this many times as large, then averaged: the steps of its edge vanish.
_FINE = 4
_SHIFT = 4  # fractional bits of OpenCV's coordinates


def paint_air(canvas: ByteArray, shapes: Iterable[AirShape]) -> None:
    """Draws shapes into an (H, W, 4) array in place, in their order; of lines that follow each other the halos
    first."""
    for lines, group in groupby(shapes, lambda s: isinstance(s, Path | Dot)):
        if lines:
            paint(canvas, [s for s in group if isinstance(s, Path | Dot)])
            continue
        for shape in group:
            if isinstance(shape, Fill):
                x, y, cover = coverage(shape.outlines)
                if cover.size:
                    ink = np.empty((*cover.shape, 4), np.uint8)
                    ink[...] = [*rgb_of(shape.colour), 255]
                    ink[..., 3] = np.rint(cover.astype(np.float32) * shape.opacity)
                    _over(canvas, x, y, ink)
            elif isinstance(shape, Raster):
                _over(canvas, shape.x, shape.y, shape.pixels)


def rgb_of(colour: str) -> tuple[int, int, int]:
    """Of #rrggbb."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def coverage(outlines: tuple[FloatArray, ...]) -> tuple[int, int, ByteArray]:
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


def _over(canvas: ByteArray, x0: int, y0: int, ink: ByteArray) -> None:
    """Lays pixels with or without alpha over the canvas (Porter and Duff's "over", alpha not multiplied in)."""
    height, width = canvas.shape[:2]
    left, top = max(x0, 0), max(y0, 0)
    right, bottom = min(x0 + ink.shape[1], width), min(y0 + ink.shape[0], height)
    if left >= right or top >= bottom:
        return
    part = ink[top - y0 : bottom - y0, left - x0 : right - x0]
    place = canvas[top:bottom, left:right]
    if part.shape[2] == 3:
        place[..., :3], place[..., 3] = part, 255
        return
    touched = part[..., 3] > 0
    above, under = part[touched].astype(np.float32), place[touched].astype(np.float32)
    alpha = above[:, 3:] / 255.0
    below = under[:, 3:] / 255.0 * (1.0 - alpha)
    total = alpha + below
    mixed = (alpha * above[:, :3] + below * under[:, :3]) / np.maximum(total, 1e-6)
    place[touched] = np.rint(np.concatenate([mixed, 255.0 * total], axis=1)).astype(np.uint8)
