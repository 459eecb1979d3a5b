"""A picture looked up at other places: averaged first where it has more pixels than are wanted."""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.drawing.boxes import BoolArray
from moondesk.records import ByteArray, FloatArray


class Sampler:
    """rgb: (h, w, 3) uint8; step: its pixels for one that is wanted."""

    def __init__(self, rgb: ByteArray, step: float) -> None:
        self._small, self._scale = rgb, (1.0, 1.0)
        if step > 1.5:  # or fine craters turn into sparkle
            # sizes given in full: with factors OpenCV rounds the size but not the step, up to half a pixel of drift
            size = (max(1, round(rgb.shape[1] / step)), max(1, round(rgb.shape[0] / step)))
            self._small = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
            self._scale = size[0] / rgb.shape[1], size[1] / rgb.shape[0]

    def at(self, x: FloatArray, y: FloatArray, interpolation: int = cv2.INTER_CUBIC) -> ByteArray:
        """The picture at its pixels (x, y), arrays of two axes; beyond its edges the edge's own."""
        sx, sy = self._scale
        to_x, to_y = (x + 0.5) * sx - 0.5, (y + 0.5) * sy - 0.5
        found = cv2.remap(
            self._small,
            to_x.astype(np.float32),
            to_y.astype(np.float32),
            interpolation,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(found, np.uint8)


def within(x: FloatArray, y: FloatArray, width: int, height: int) -> BoolArray:
    """Which points lie on a pixel of a picture."""
    return np.asarray((x >= -0.5) & (x <= width - 0.5) & (y >= -0.5) & (y <= height - 0.5))
