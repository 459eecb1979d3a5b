"""A pose without a limb: scale- and turn-invariant keypoints of the picture matched with those of the relit disc.

For close-ups and discs cut by the frame, where no arc is long enough. Keypoints and descriptors are Lowe's (IJCV 60,
2004) as the image library has them; a similarity is fitted robustly, for the picture and for its mirror image.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

import cv2
import numpy as np

from moondesk.ephemeris.sky_hypotheses import SkyHypothesis, any_time
from moondesk.moon.relight import as_displayed, disc_model, frame_grid, light
from moondesk.records import ByteArray, Float32Array

#: Radius of the predicted disc, px, and longest side of the picture searched.
MODEL_PX = 450.0
PICTURE_PX = 1000
LEAST_INLIERS = 10
#: Keypoints kept of the picture and of the prediction, and Lowe's ratio of nearest to second distance.
PICTURE_KEYS, MODEL_KEYS, RATIO = 1500, 2000, 0.85
#: The skies tried where no date is known; keypoints' places are kept in parts of a pixel.
UNDATED, XY_PARTS = any_time(15.0, 15.0), 32
#: So many agreeing places settle the matter: no further sky is tried.
ENOUGH = 40


@dataclass(frozen=True, kw_only=True)
class Similarity:
    """Centre, radius (px of the picture) and turn that the matched keypoints agree on, with their number."""

    x: float
    y: float
    radius_px: float
    north_screen_deg: float
    mirrored: bool
    inliers: int
    sky: SkyHypothesis


@dataclass(frozen=True, eq=False)
class _Keys:
    xy: np.ndarray
    descriptor: np.ndarray


def _keys(image: ByteArray, most: int) -> _Keys:
    finder = cv2.SIFT.create(nfeatures=most, contrastThreshold=0.02)
    points, descriptor = finder.detectAndCompute(image, None)
    if descriptor is None:
        return _Keys(np.zeros((0, 2)), np.zeros((0, 128), np.float32))
    return _Keys(np.array([p.pt for p in points]), _root(descriptor))


def _root(descriptor: np.ndarray) -> Float32Array:
    """Square roots of shares, so that a product of two is a likeness (Arandjelovic & Zisserman, CVPR 2012)."""
    whole = descriptor.astype(np.float32)
    return np.asarray(np.sqrt(whole / np.maximum(whole.sum(axis=1, keepdims=True), 1e-6)), np.float32)


def _mirror(keys: _Keys, width: int) -> _Keys:
    """What would be found in the mirror image: descriptors are 4 x 4 cells of 8 directions about the keypoint's own
    direction, so that the other hand exchanges the rows of cells and the sense of the directions."""
    cells = keys.descriptor.reshape(-1, 4, 4, 8)[:, ::-1][..., -np.arange(8) % 8]
    return _Keys(keys.xy * (-1.0, 1.0) + (width - 1.0, 0.0), np.ascontiguousarray(cells.reshape(-1, 128)))


@lru_cache(maxsize=32)
def _predict_keypoints(sky: SkyHypothesis) -> tuple[_Keys, int]:
    """Keypoints of the relit disc and its middle index. Those of undated skies are read ready made."""
    if sky in UNDATED and sky.sub_solar_lon_deg in _stored_keypoints():
        xy, descriptor = _stored_keypoints()[sky.sub_solar_lon_deg]
        return _Keys(xy, _root(descriptor)), frame_grid(MODEL_PX)[2]
    image, centre = _image(sky)
    return _keys(image, MODEL_KEYS), centre


def _image(sky: SkyHypothesis) -> tuple[ByteArray, int]:
    model = disc_model(sky.libration_lat_deg, sky.libration_lon_deg, MODEL_PX, sky.distance_radii)
    return as_displayed(light(model, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg)), model.centre


@cache
def _stored_keypoints() -> dict[float, tuple[np.ndarray, ByteArray]]:
    """Sub-solar longitude to keypoints (N, 2) and descriptors (N, 128), as `build_keypoints` wrote them: a third of a
    second each to compute, and a picture without a date or a limb wants all of them."""
    packed = np.load(io.BytesIO(files("moondesk").joinpath("data", "keypoints.npz").read_bytes()), allow_pickle=False)
    ends = np.cumsum(packed["count"])
    xy, descriptor = (np.split(packed[name], ends[:-1]) for name in ("xy", "descriptor"))
    return {
        float(lon): (a.astype(float) / XY_PARTS, b) for lon, a, b in zip(packed["lon"], xy, descriptor, strict=True)
    }


def pack_keypoints() -> bytes:
    """The file of `_stored_keypoints`, for the skies of UNDATED."""
    finder = cv2.SIFT.create(nfeatures=MODEL_KEYS, contrastThreshold=0.02)
    found = [finder.detectAndCompute(_image(sky)[0], None) for sky in UNDATED]
    out = io.BytesIO()
    np.savez_compressed(
        out,
        lon=[sky.sub_solar_lon_deg for sky in UNDATED],
        count=[len(points) for points, _ in found],
        xy=np.concatenate(
            [np.round(np.array([p.pt for p in points]) * XY_PARTS).astype(np.uint16) for points, _ in found]
        ),
        descriptor=np.concatenate([d.astype(np.uint8) for _, d in found]),
    )
    return out.getvalue()


def match_keypoints(display: Float32Array, skies: tuple[SkyHypothesis, ...]) -> list[Similarity]:
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
    hands = [(seen, False), (_mirror(seen, grey.shape[1]), True)]
    for sky in skies:
        predicted, centre = _predict_keypoints(sky)
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
            found.append(
                Similarity(
                    x=float((cx + 0.5) / fx - 0.5),
                    y=float((cy + 0.5) / fy - 0.5),
                    radius_px=float(np.hypot(a, b) * MODEL_PX / fx),
                    north_screen_deg=north,
                    mirrored=mirrored,
                    inliers=inliers,
                    sky=sky,
                )
            )
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
        source, target, method=cv2.RANSAC, ransacReprojThreshold=8.0, maxIters=4000, confidence=0.999
    )
    if matrix is None or int(mask.sum()) < LEAST_INLIERS:
        return None
    # distinct places only: one crater may bear several keypoints
    places = np.unique(np.round(source[mask.ravel() > 0] / 6.0), axis=0)
    return (matrix, len(places)) if len(places) >= LEAST_INLIERS - 2 else None
