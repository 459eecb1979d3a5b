"""Whether a picture that could not be placed was drawn: flat colours of a program, or dark strokes on bright paper.

Asked only where nothing agreed with the Moon's surface, so that no photograph is refused for it.
"""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.records import Picture

#: Share of pixels in areas of exactly one value, and how many such values (black and white, which clipping makes too,
#: not counted), each over so large a share of the picture, and the outermost so many levels apart.
FLAT_SHARE, FLAT_VALUES, VALUE_SHARE, VALUES_APART = 0.6, 2, 0.012, 30
#: A photograph has texture over an area, this wide (px) and this share of the picture; a drawing has it along strokes.
TEXTURE_PX, TEXTURE_SHARE = 15, 0.04
#: Paper: display level (0..255) from which on it is bright, how far it scatters, and its share of the picture.
PAPER_LEVEL, PAPER_SPREAD, PAPER_SHARE = 140.0, 30.0, 0.5
#: Strokes are darker than the paper by this, and cover this share of the picture; most of them are thin.
STROKE_DEPTH, STROKE_SHARE, THIN = 45.0, (0.004, 0.35), 0.45


def is_drawing(picture: Picture) -> bool:
    """True for flat colours over most of the picture, or thin dark strokes on bright paper (or a printed page)."""
    shown = 255.0 * np.maximum(picture.luminance, 0.0) ** np.float32(1 / 2.2)
    return _flat_colours(shown) or _strokes(shown, picture)


def _flat_colours(shown: np.ndarray) -> bool:
    box = np.ones((3, 3), np.uint8)
    flat = cv2.dilate(shown, box) - cv2.erode(shown, box) < 1.0
    if flat.mean() < FLAT_SHARE:
        return False
    rough = cv2.morphologyEx((~flat).astype(np.uint8), cv2.MORPH_OPEN, np.ones((TEXTURE_PX, TEXTURE_PX), np.uint8))
    if rough.mean() > TEXTURE_SHARE:
        return False  # labels drawn on a photograph
    counts = np.bincount(np.round(shown[flat]).astype(int), minlength=256)[:256]
    # a value that lies between two integers counts for both: take neighbours together
    together = counts[4:-4] + counts[5:-3]
    high = together > VALUE_SHARE * shown.size
    starts = np.flatnonzero(np.diff(np.concatenate([[0], high.astype(int)])) == 1)
    # strong compression makes a dim sky flat too, in a few values close together
    return len(starts) >= FLAT_VALUES and bool(starts[-1] - starts[0] >= VALUES_APART)


def _strokes(shown: np.ndarray, picture: Picture) -> bool:
    counts = np.bincount(np.round(shown).astype(int).ravel(), minlength=256)[:256].astype(float)
    level = float(np.argmax(cv2.GaussianBlur(counts[None, :], (0, 0), 4.0)))
    paper = np.abs(shown - level) < PAPER_SPREAD
    if level < PAPER_LEVEL or paper.mean() < PAPER_SHARE:
        return False
    if picture.redness is not None and np.median(picture.redness[paper]) < -0.06:
        return False  # a day's sky, with branches before it
    dark = (shown < level - STROKE_DEPTH).astype(np.uint8)
    if not STROKE_SHARE[0] < dark.mean() < STROKE_SHARE[1]:
        return False
    thick = cv2.morphologyEx(dark, cv2.MORPH_OPEN, np.ones((11, 11), np.uint8))
    return bool(1.0 - thick.sum() / dark.sum() > THIN)
