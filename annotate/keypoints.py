"""A pose without a limb: scale- and turn-invariant keypoints of the picture matched with those of the relit disc.

For close-ups and discs cut by the frame, where no arc is long enough. Keypoints and descriptors are Lowe's (IJCV 60,
2004) as the image library has them; a similarity is fitted robustly, for the picture and for its mirror image.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from annotate.records import ByteArray, Float32Array
from annotate.relight import as_displayed, disc_model, light
from annotate.skies import Sky

#: Radius of the predicted disc, px, and longest side of the picture searched.
MODEL_PX = 450.0
PICTURE_PX = 1000
LEAST_INLIERS = 10
#: Keypoints kept of the picture and of the prediction, and Lowe's ratio of nearest to second distance.
PICTURE_KEYS, MODEL_KEYS, RATIO = 1500, 3000, 0.85
#: So many agreeing places settle the matter: no further sky is tried.
ENOUGH = 40


@dataclass(frozen=True)
class Similarity:
    """Centre, radius (px of the picture) and turn that the matched keypoints agree on, with their number."""

    x: float
    y: float
    radius_px: float
    north_screen_deg: float
    mirrored: bool
    inliers: int
    sky: Sky


@dataclass(frozen=True, eq=False)
class _Keys:
    xy: np.ndarray
    descriptor: np.ndarray


def _keys(image: ByteArray, most: int) -> _Keys:
    finder = cv2.SIFT.create(nfeatures=most, contrastThreshold=0.02)
    points, descriptor = finder.detectAndCompute(image, None)
    if descriptor is None:
        return _Keys(np.zeros((0, 2)), np.zeros((0, 128), np.float32))
    root = np.sqrt(descriptor / np.maximum(descriptor.sum(axis=1, keepdims=True), 1e-6))
    return _Keys(np.array([p.pt for p in points]), root.astype(np.float32))


def _mirrored(keys: _Keys, width: int) -> _Keys:
    """What would be found in the mirror image: descriptors are 4 x 4 cells of 8 directions about the keypoint's own
    direction, so that the other hand exchanges the rows of cells and the sense of the directions."""
    cells = keys.descriptor.reshape(-1, 4, 4, 8)[:, ::-1][..., -np.arange(8) % 8]
    return _Keys(keys.xy * (-1.0, 1.0) + (width - 1.0, 0.0), np.ascontiguousarray(cells.reshape(-1, 128)))


@lru_cache(maxsize=32)
def _predicted(sky: Sky) -> tuple[_Keys, int]:
    """Keypoints of the relit disc and its middle index; kept, for the skies of undated pictures are always the same."""
    model = disc_model(sky.libration_lat_deg, sky.libration_lon_deg, MODEL_PX, sky.distance_radii)
    return _keys(as_displayed(light(model, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg)), 4000), model.centre


def match_keypoints(display: Float32Array, skies: tuple[Sky, ...]) -> list[Similarity]:
    """Similarities found under any of the skies, of both hands, most inliers first. display: (H, W), about 0..1."""
    height, width = display.shape
    scale = min(1.0, PICTURE_PX / max(height, width))
    size = (round(width * scale), round(height * scale))
    small = cv2.resize(display, size, interpolation=cv2.INTER_AREA) if scale < 1 else display
    top = float(np.percentile(small, 99.8))
    grey = cv2.convertScaleAbs(np.clip(small / max(top, 1e-3), 0, 1), alpha=255.0)
    seen = _keys(grey, PICTURE_KEYS)
    found: list[Similarity] = []
    if len(seen.xy) < 3 * LEAST_INLIERS:
        return found
    hands = [(seen, False), (_mirrored(seen, grey.shape[1]), True)]
    for sky in skies:
        predicted, centre = _predicted(sky)
        for keys, mirrored in hands:
            fitted = _similarity(keys, predicted)
            if fitted is None:
                continue
            matrix, inliers = fitted
            a, b = matrix[0, 0], matrix[1, 0]
            cx, cy = matrix @ np.array([centre, centre, 1.0])
            if mirrored:
                cx = grey.shape[1] - 1 - cx
            # the similarity turns "up" of the model to (b, -a) on the screen; in the mirror image x runs the other way
            up_x, up_y = (-b if mirrored else b), -a
            north = float(np.degrees(np.arctan2(-up_x, -up_y)) % 360.0)
            fx, fy = small.shape[1] / width, small.shape[0] / height
            found.append(Similarity(
                float((cx + 0.5) / fx - 0.5), float((cy + 0.5) / fy - 0.5), float(np.hypot(a, b) * MODEL_PX / fx),
                north, mirrored, inliers, sky,
            ))
        if found and max(s.inliers for s in found) >= ENOUGH:
            break
    return sorted(found, key=lambda s: -s.inliers)


def _similarity(picture: _Keys, model: _Keys) -> tuple[np.ndarray, int] | None:
    if len(picture.xy) < 8 or len(model.xy) < 8:
        return None
    # one matrix product gives all distances of unit vectors: five times as fast as the library's brute-force matcher
    likeness = picture.descriptor @ model.descriptor.T
    row = np.arange(len(likeness))
    best = likeness.argmax(axis=1)
    first = likeness[row, best].copy()
    likeness[row, best] = -1.0
    second = likeness.max(axis=1)
    good = np.flatnonzero(2 - 2 * first < RATIO**2 * (2 - 2 * second))
    if len(good) < LEAST_INLIERS:
        return None
    source, target = model.xy[best[good]], picture.xy[good]
    matrix, mask = cv2.estimateAffinePartial2D(
        source, target, method=cv2.RANSAC, ransacReprojThreshold=8.0, maxIters=4000, confidence=0.999)
    if matrix is None or int(mask.sum()) < LEAST_INLIERS:
        return None
    # distinct places only: one crater may bear several keypoints
    places = np.unique(np.round(source[mask.ravel() > 0] / 6.0), axis=0)
    return (matrix, len(places)) if len(places) >= LEAST_INLIERS - 2 else None
