"""One feature in the light, the rest of the picture dimmed outside its true outline.

A crater's outline is its rim on the sphere, seen in perspective; a range's or valley's a band along its course; a sea's
its own dark ground.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from moondesk.drawing.courses import course_vectors
from moondesk.drawing.frame import AirFrame, Format, FrameLayer, slug
from moondesk.drawing.paint import coverage
from moondesk.drawing.seas import sea_map
from moondesk.drawing.shapes import RasterShape
from moondesk.drawing.style import AREA_KINDS, LONG_KINDS
from moondesk.moon.geometry import disc_axes, disc_to_pixel, pixel_to_surface, project, unit_vector
from moondesk.records import MOON_RADIUS_KM, Annotation, ByteArray, Feature, Float32Array, FloatArray, Pose

#: How much light is taken from the rest.
DIM = 0.4
#: The light reaches so far beyond a crater's own rim, shares of its radius; half the width of a range and of a valley
#: and the like, km.
_BEYOND, _RANGE_KM, _VALLEY_KM = 1.08, 38.0, 16.0
#: Softness of the edge: share of the lit part's extent, within these bounds at 1080 lines, pixels.
_SOFT, _SOFTEST = 0.06, (3.0, 26.0)
#: Sea ground is looked up at this many pixels' distance.
_COARSE = 4


def outlines(feature: Feature, pose: Pose) -> tuple[FloatArray, ...]:
    """The outlines (n, 2) of a crater, hill or long feature in a frame where the Moon has this pose, in coordinates
    from its corner; the light is within any of them. Seas have none: see `light_mask`. Empty where it lies behind the
    limb."""
    course = course_vectors(feature.name) if feature.kind in LONG_KINDS else None
    if course is None:
        centres = unit_vector(feature.lat_deg, feature.lon_deg)[None]
        reach = max(feature.size_km / 2, 8.0) * _BEYOND
    else:
        centres, reach = course, _RANGE_KM if feature.kind == "mountain range" else _VALLEY_KM
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    found = []
    for centre in centres:
        rim = project(_small_circle(centre, reach / MOON_RADIUS_KM), axes, pose.distance_radii)
        if (rim.mu <= 0).all():
            continue
        # what lies behind the limb is drawn in to it
        out = np.where(rim.mu < 0, 1.0 / np.maximum(np.hypot(rim.u, rim.v), 1e-9), 1.0)
        x, y = disc_to_pixel(pose, rim.u * out, rim.v * out)
        found.append(np.column_stack([x, y]) + 0.5)
    return tuple(found)


def _small_circle(centre: FloatArray, angle: float, n: int = 96) -> FloatArray:
    """Unit vectors (n, 3) at an angle from a centre, radians."""
    aside = np.cross(centre, [0.0, 0.0, 1.0] if abs(centre[2]) < 0.9 else [1.0, 0.0, 0.0])
    aside /= np.linalg.norm(aside)
    other = np.cross(centre, aside)
    t = np.linspace(0.0, 2 * np.pi, n, endpoint=False)[:, None]
    return np.asarray(np.cos(angle) * centre + np.sin(angle) * (np.cos(t) * aside + np.sin(t) * other))


def light_mask(feature: Feature, pose: Pose, fmt: Format) -> Float32Array:
    """How much of the light stays on each pixel, (H, W) 0..1: 1 within the outline, 0 well outside, soft between."""
    if feature.kind in AREA_KINDS and len(sea_map().cells[sea_map().number[feature.name]]):
        full, extent = _sea(feature, pose, fmt)
    else:
        full = np.zeros((fmt.height, fmt.width), np.uint8)
        shapes = [o for o in outlines(feature, pose) if _near(o, fmt)]
        if shapes:
            x, y, cover = coverage([np.clip(o, -fmt.width, 2 * fmt.width) for o in shapes])
            top, left = max(y, 0), max(x, 0)
            part = cover[top - y : max(fmt.height - y, 0), left - x : max(fmt.width - x, 0)]
            full[top : top + part.shape[0], left : left + part.shape[1]] = part
        extent = float(min(np.ptp(np.concatenate(shapes), axis=0))) if shapes else 0.0
    soft = min(max(_SOFT * extent, fmt.unit * _SOFTEST[0]), fmt.unit * _SOFTEST[1])
    # a wide blur is as good at a quarter of the size
    small = cv2.resize(full, (fmt.width // _COARSE, fmt.height // _COARSE), interpolation=cv2.INTER_AREA)
    if soft > 2.0 * _COARSE:
        blurred = cv2.GaussianBlur(small, (0, 0), soft / _COARSE)
        mask = cv2.resize(blurred, (fmt.width, fmt.height), interpolation=cv2.INTER_CUBIC)
    else:
        mask = cv2.GaussianBlur(full, (0, 0), soft)
    return np.asarray(mask, np.float32) / np.float32(255)


def _near(outline: FloatArray, fmt: Format) -> bool:
    (x0, y0), (x1, y1) = outline.min(axis=0), outline.max(axis=0)
    return bool(x1 > 0 and y1 > 0 and x0 < fmt.width and y0 < fmt.height)


def _sea(feature: Feature, pose: Pose, fmt: Format) -> tuple[ByteArray, float]:
    """A sea's own ground in the frame, 0..255, and its extent in pixels."""
    ys, xs = np.mgrid[0 : fmt.height : _COARSE, 0 : fmt.width : _COARSE] + (_COARSE - 1) / 2
    seas = sea_map()
    own = seas.owner_at(*pixel_to_surface(pose, xs, ys)) == seas.number[feature.name]
    # cells are a degree wide: their corners go, and small islands in them
    cell = float(np.radians(1.0)) * pose.radius_px / _COARSE
    smooth = cv2.GaussianBlur(np.where(own, np.float32(1), np.float32(0)), (0, 0), max(1.2 * cell, 1.0))
    full = np.clip(255.0 * (smooth - 0.35) / 0.3, 0, 255).astype(np.uint8)
    extent = float(np.sqrt(max(own.sum(), 1))) * _COARSE
    return np.asarray(cv2.resize(full, (fmt.width, fmt.height), interpolation=cv2.INTER_LINEAR), np.uint8), extent


def dimmed(mask: Float32Array, strength: float = 1.0) -> ByteArray:
    """The shade that is laid over a picture so that the light stays on the mask alone, (H, W, 4)."""
    shade = np.zeros((*mask.shape, 4), np.uint8)
    shade[..., 3] = np.rint(255.0 * DIM * strength * (1.0 - np.clip(mask, 0.0, 1.0)))
    return shade


def with_spotlights(frame: AirFrame, annotation: Annotation) -> AirFrame:
    """The frame with a layer more for each feature that it names: the shade that leaves the light on it. They lie on
    the picture, under all names; a layer of the same title names the feature."""
    if frame.pose is None:
        return frame
    marks = {slug(f"feature-{m.feature.name}"): m.feature for m in annotation.features}
    shades = [
        FrameLayer(
            name=layer.name.replace("feature-", "spotlight-", 1),
            kind="spotlight",
            title=layer.title,
            base=False,
            shapes=(RasterShape(0, 0, dimmed(light_mask(marks[layer.name], frame.pose, frame.format))),),
        )
        for layer in frame.layers
        if layer.kind == "feature" and layer.name in marks
    ]
    picture, *others = frame.layers
    return replace(frame, layers=(picture, *shades, *others))
