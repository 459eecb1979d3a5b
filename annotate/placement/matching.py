"""Where the predicted surface is found in the picture: patches of the relit disc, looked for near their places.

The picture is resampled into the north-up frame of the predicted disc under the pose at hand, both are flattened
(local mean out, local contrast evened), and small patches of the prediction are searched in a neighbourhood by
normalised correlation with a sub-pixel peak. What comes back are pairs: surface point, measured pixel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, disc_to_pixel, in_field, project
from moondesk.moon.relight import DiscModel, light
from moondesk.records import FieldStop, Float32Array, FloatArray, Pose

#: Display value (root of linear light) from which a pixel counts as burnt out.
BURNT = 0.99
#: A patch counts as found from this correlation on.
LEAST_CORRELATION = 0.35


@dataclass(frozen=True, eq=False, kw_only=True)
class Matches:
    """surface: (N, 3) mean-Earth unit vectors; xy: (N, 2) measured pixels of the picture; correlation: (N,) of the
    peak; sharpness: (N,) curvature of the peak across its weakest direction, per px^2 of the frame (how well it
    fixes the point); tried: patches with enough texture to be tried; frame_px: one frame pixel in picture pixels.
    """

    surface: FloatArray
    xy: FloatArray
    correlation: FloatArray
    sharpness: FloatArray
    tried: int
    frame_px: float


class Pyramid:
    """A display-valued picture (H, W) float32 and its reductions, each made once when first asked for."""

    def __init__(self, image: Float32Array) -> None:
        self.image = image
        #: Where the picture is known to show an eyepiece's field, only what is inside counts.
        self.field: FieldStop | None = None
        self._reduced: dict[tuple[int, int], Float32Array] = {}

    def near(self, scale: float) -> Float32Array:
        """The picture reduced by area to about `scale` (0..1), or itself from 0.8 on."""
        if scale >= 0.8:
            return self.image
        height, width = self.image.shape
        # sizes in steps of a tenth, so that nearly equal scales share one reduction
        step = 1.1 ** np.ceil(np.log(scale) / np.log(1.1))
        size = (max(round(width * step), 1), max(round(height * step), 1))
        if size not in self._reduced:
            # the size is given, not the factor: only then does the library map by the ratio of the sizes (0.4 px else)
            self._reduced[size] = np.asarray(cv2.resize(self.image, size, interpolation=cv2.INTER_AREA), np.float32)
        return self._reduced[size]


@dataclass(frozen=True, eq=False)
class NorthUpFrame:
    """The picture in a model's north-up frame. values: (N, N) display values; inside: (N, N) bool, within the picture
    and in sight; x, y: (N, N) float32, the pixel of the picture that each of them comes from."""

    values: Float32Array
    inside: np.ndarray
    x: Float32Array
    y: Float32Array


def to_frame(picture: Pyramid, pose: Pose, model: DiscModel) -> NorthUpFrame:
    """Each point of the model's surface, looked up where `pose` puts it.

    The model's own libration need not be the pose's: what is a degree off is looked up at its right place all the
    same, only its foreshortening is that of the model.
    """
    disc = project(
        model.vertical,
        disc_axes(pose.libration_lat_deg, pose.libration_lon_deg).astype(np.float32),
        pose.distance_radii,
    )
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    height, width = picture.image.shape
    # area-averaged first, so that nothing aliases
    small = picture.near(1.6 * model.radius_px / pose.radius_px)
    fx, fy = small.shape[1] / width, small.shape[0] / height
    sx, sy = (x + 0.5) * fx - 0.5, (y + 0.5) * fy - 0.5
    warped = cv2.remap(
        small, np.asarray(sx, np.float32), np.asarray(sy, np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    inside = (x > 0) & (y > 0) & (x < width - 1) & (y < height - 1) & (disc.mu > -0.02)
    if picture.field is not None:
        inside &= in_field(picture.field, x, y)
    return NorthUpFrame(np.asarray(warped, np.float32), inside, np.asarray(x, np.float32), np.asarray(y, np.float32))


def flatten_frame(values: Float32Array, weight: Float32Array, window_px: int) -> Float32Array:
    """Local mean out and local contrast evened over a square window, weighted; (N, N) float32, about unit variance."""

    def mean(a: Float32Array) -> Float32Array:
        return np.asarray(cv2.blur(cv2.blur(a, (window_px, window_px)), (window_px, window_px)), np.float32)

    mass = np.maximum(mean(weight), 0) + 1e-4
    centred = np.asarray((values - mean(values * weight) / mass) * weight, np.float32)
    spread = np.sqrt(np.maximum(mean(centred * centred), 0) / np.maximum(mass, 1e-4))
    lit = weight > 0.5
    floor = 0.15 * float(np.median(spread[lit])) + 1e-6 if lit.any() else 1.0
    return np.asarray(centred / (spread + floor), np.float32)


@dataclass(frozen=True, eq=False)
class Prediction:
    """The relit disc as a picture shows it. values: (N, N), the root of its radiance, blurred as the picture is."""

    model: DiscModel
    values: Float32Array


def predict(model: DiscModel, sun_lat_deg: float, sun_lon_deg: float, blur_px: float) -> Prediction:
    """The disc lit from a sub-solar point. blur_px: sigma of the picture's blur in frame pixels."""
    radiance = light(model, sun_lat_deg, sun_lon_deg)
    values = np.sqrt(radiance / max(float(radiance.max()), 1e-6))
    return Prediction(model, np.asarray(cv2.GaussianBlur(values, (0, 0), max(blur_px, 0.3)), np.float32))


@dataclass(frozen=True, eq=False)
class Textures:
    """picture, model: (N, N) flattened; rows, cols: (n,) middles of the patches with enough of the model's texture."""

    picture: Float32Array
    model: Float32Array
    rows: np.ndarray
    cols: np.ndarray


def textures(frame: NorthUpFrame, prediction: Prediction, half_px: int, margin_px: int, spacing_px: int) -> Textures:
    """Both sides made comparable, and where it is worth comparing them: patches of (2 half + 1) px on a grid of
    `spacing`, at least `margin` from the frame's edge."""
    model, predicted = prediction.model, prediction.values
    weight = (model.inside & frame.inside).astype(np.float32)
    window = 2 * half_px + 1
    lit = (predicted > 0.12).astype(np.float32) * weight
    # texture worth matching: what the flattening leaves, in absolute display values
    fine = (predicted - cv2.blur(predicted, (window, window))) * lit
    box = (window, window)
    energy = cv2.blur(fine * fine, box) - cv2.blur(fine, box) ** 2
    share = cv2.blur(lit, box)
    grid = np.arange(margin_px, predicted.shape[0] - margin_px, spacing_px)
    rows, cols = (a.ravel() for a in np.meshgrid(grid, grid, indexing="ij"))
    usable = (share[rows, cols] > 0.75) & (energy[rows, cols] > 0.008**2)
    # where the picture is burnt out there is nothing to agree or disagree
    burnt = cv2.blur((frame.values > BURNT).astype(np.float32), box)
    usable &= burnt[rows, cols] < 0.4
    return Textures(
        flatten_frame(frame.values, weight, window),
        flatten_frame(predicted, weight, window),
        rows[usable],
        cols[usable],
    )


def as_matches(frame: NorthUpFrame, model: DiscModel, pose: Pose, at: Textures, found: FloatArray) -> Matches:
    """Pairs from (n, 4) rows (dx, dy in frame px, correlation, sharpness) at the patches of `at`; the good ones."""
    u = (at.cols - model.centre) / model.radius_px
    v = (model.centre - at.rows) / model.radius_px
    good = (found[:, 2] > LEAST_CORRELATION) & (u * u + v * v < 0.985)
    rows, cols, found = at.rows[good], at.cols[good], found[good]
    to_col, to_row = (cols + found[:, 0]).astype(np.float32), (rows + found[:, 1]).astype(np.float32)
    # pixel coordinates are as good as linear from one frame pixel to the next
    xy = (
        np.zeros((len(rows), 2))
        if not len(rows)
        else np.column_stack(
            [
                cv2.remap(grid, to_col[:, None], to_row[:, None], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
                for grid in (frame.x, frame.y)
            ]
        )
    )
    return Matches(
        surface=model.vertical[rows, cols].astype(float),
        xy=np.asarray(xy, float),
        correlation=found[:, 2],
        sharpness=found[:, 3],
        tried=len(at.rows),
        frame_px=pose.radius_px / model.radius_px,
    )


@dataclass(frozen=True)
class PatchSearch:
    """Patches of 2 half_px + 1 pixels of the frame, one every spacing_px, each looked for reach_px about its place;
    most: patches tried at most."""

    half_px: int
    reach_px: int
    spacing_px: int
    most: int = 600


def match_patches(frame: NorthUpFrame, prediction: Prediction, pose: Pose, search: PatchSearch) -> Matches:
    """Finds patches of the prediction in the picture's frame. pose: that of the frame."""
    half_px, reach_px = search.half_px, search.reach_px
    at = textures(frame, prediction, half_px, half_px + 1, search.spacing_px)
    if len(at.rows) > search.most:
        kept = np.linspace(0, len(at.rows) - 1, search.most).round().astype(int)
        at = replace(at, rows=at.rows[kept], cols=at.cols[kept])
    # a crescent lies at the frame's very edge: patches there may be searched for beyond it
    wide = np.pad(at.picture, reach_px)
    places = zip(at.rows, at.cols, strict=True)
    peaks = [_peak(wide, at.model, int(i), int(j), half_px, reach_px) for i, j in places]
    return as_matches(frame, prediction.model, pose, at, np.array(peaks, float).reshape(-1, 4))


def _peak(
    picture: Float32Array, model: Float32Array, i: int, j: int, half: int, reach: int
) -> tuple[float, float, float, float]:
    """(dx, dy, correlation, sharpness) of the best place of one patch; correlation -1 where it lies on the edge.

    picture: with a border of `reach` all round.
    """
    patch = model[i - half : i + half + 1, j - half : j + half + 1]
    wide = 2 * (half + reach) + 1
    scene = picture[i - half : i - half + wide, j - half : j - half + wide]
    c = cv2.matchTemplate(scene, patch, cv2.TM_CCOEFF_NORMED)
    _, top, _, (px, py) = cv2.minMaxLoc(c)
    if not (0 < px < 2 * reach and 0 < py < 2 * reach) or not np.isfinite(top):
        return 0.0, 0.0, -1.0, 0.0
    # quadratic surface through the 3 x 3 neighbourhood of the peak
    w = c[py - 1 : py + 2, px - 1 : px + 2].astype(float)
    gx, gy = (w[1, 2] - w[1, 0]) / 2, (w[2, 1] - w[0, 1]) / 2
    hxx, hyy = w[1, 2] - 2 * w[1, 1] + w[1, 0], w[2, 1] - 2 * w[1, 1] + w[0, 1]
    hxy = (w[2, 2] - w[2, 0] - w[0, 2] + w[0, 0]) / 4
    det = hxx * hyy - hxy * hxy
    if det <= 1e-9 or hxx >= 0:
        return 0.0, 0.0, -1.0, 0.0
    dx, dy = -(hyy * gx - hxy * gy) / det, -(hxx * gy - hxy * gx) / det
    if abs(dx) > 1 or abs(dy) > 1:
        return 0.0, 0.0, -1.0, 0.0
    weakest = -0.5 * (hxx + hyy) - np.sqrt(max(0.25 * (hxx - hyy) ** 2 + hxy * hxy, 0.0))
    return px - reach + dx, py - reach + dy, float(top), float(weakest)
