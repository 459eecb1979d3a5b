"""The upright copy: north up, not mirrored, cropped to the disc, lens and refraction undone, with its own labels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from moondesk.drawing.boxes import BoolArray, Inside
from moondesk.drawing.labelled import OverlayStyle, compose
from moondesk.drawing.paint import paint
from moondesk.drawing.sampling import Sampler, within
from moondesk.moon.geometry import disc_to_pixel, pixel_to_disc, surface_to_pixel, undistort
from moondesk.records import Annotation, ByteArray, FloatArray, NotFound, Pose

#: What stands where the original has no picture: a grey-blue that no night sky has, so that it is not taken for one.
NO_PICTURE = (38, 42, 52)

#: Share of the frame's half that the disc's radius takes: room for directions and for names beyond the limb.
_FILL = 0.80
#: Where less than this share of the disc's width and height is in the original, the copy shows that part alone.
_PART = 0.62


def upright_pose(annotation: Annotation, size_px: int = 1200) -> Pose | NotFound:
    """The pose of the Moon in the upright copy of size_px x size_px."""
    pose = annotation.pose
    if pose is None:
        return NotFound(
            "upright",
            annotation.reason or "The picture is not placed on the Moon.",
            annotation.advice or "Only a picture whose pose is known can be turned north up.",
        )
    if size_px < 64:
        raise ValueError(f"an upright copy of {size_px} px has no room for a name")
    xs, ys = np.meshgrid(np.linspace(0, annotation.width - 1, 160), np.linspace(0, annotation.height - 1, 160))
    u, v = pixel_to_disc(pose, xs, ys)
    on = np.hypot(u, v) <= 1.0
    if not on.any():
        return NotFound("upright", "The disc lies outside the frame.", "Check the placement of this picture.")
    u0, u1, v0, v1 = (float(k) for k in (u[on].min(), u[on].max(), v[on].min(), v[on].max()))
    middle = (size_px - 1) / 2
    span = max(u1 - u0, v1 - v0) / 2
    if span >= _PART:
        radius, cu, cv_ = _FILL * size_px / 2, 0.0, 0.0
    else:
        radius, cu, cv_ = 0.94 * size_px / 2 / span, (u0 + u1) / 2, (v0 + v1) / 2
    return replace(
        undistort(pose),
        x=middle - radius * cu,
        y=middle + radius * cv_,
        radius_px=radius,
        north_screen_deg=0.0,
        mirrored=False,
        parameters=(),
        covariance=(),
    )


def turn_upright(rgb: ByteArray, pose: Pose, upright: Pose, size_px: int) -> tuple[ByteArray, BoolArray]:
    """The picture resampled into the upright pose, and which of its pixels the original has."""
    ys, xs = np.mgrid[0:size_px, 0:size_px].astype(float)
    u, v = pixel_to_disc(upright, xs, ys)
    x, y = disc_to_pixel(pose, u, v)
    have = within(x, y, rgb.shape[1], rgb.shape[0])
    out = Sampler(rgb, pose.radius_px / upright.radius_px).at(x, y)
    out[~have] = NO_PICTURE
    return out, have


def draw_upright(
    rgb: ByteArray, annotation: Annotation, size_px: int = 1200, style: OverlayStyle | None = None
) -> ByteArray | NotFound:
    """The upright copy of an (H, W, 3) picture with labels placed for it, (size_px, size_px, 3) uint8.

    NotFound without a pose. A picture of a small part of the disc is turned and shown as that part.
    """
    found = annotate_upright(annotation, size_px)
    if isinstance(found, NotFound):
        return found
    if rgb.shape != (annotation.height, annotation.width, 3) or rgb.dtype != np.uint8:
        raise ValueError(
            f"the picture must be ({annotation.height}, {annotation.width}, 3) uint8, not {rgb.shape} {rgb.dtype}"
        )
    if annotation.pose is None or found.pose is None:
        raise AssertionError("a copy that was found has both poses")
    out, _ = turn_upright(rgb, annotation.pose, found.pose, size_px)
    paint(out, compose(found, style, in_original(annotation, found)))
    return out


def annotate_upright(annotation: Annotation, size_px: int = 1200) -> Annotation | NotFound:
    """The annotation of the upright copy: pose and features in its pixels. It is drawn with `in_original`."""
    upright = upright_pose(annotation, size_px)
    pose = annotation.pose
    if isinstance(upright, NotFound) or pose is None:
        return upright if isinstance(upright, NotFound) else NotFound("upright", "No pose.", "")
    features = annotation.features
    ratio = upright.radius_px / pose.radius_px
    at = surface_to_pixel(upright, [m.feature.lat_deg for m in features], [m.feature.lon_deg for m in features])
    turned = tuple(
        replace(m, x=float(x), y=float(y), radius_px=m.radius_px * ratio, sigma_px=m.sigma_px * ratio)
        for m, x, y in zip(features, at.x, at.y, strict=True)
    )
    copy = replace(
        annotation,
        width=size_px,
        height=size_px,
        pose=upright,
        limb=None,
        features=turned,
        field_stop=None,
        photograph=None,
    )
    shown = in_original(annotation, copy)(at.x, at.y)
    return replace(copy, features=tuple(m for m, ok in zip(turned, shown, strict=True) if ok))


def in_original(annotation: Annotation, copy: Annotation) -> Inside:
    """Which pixels of an upright copy the picture has."""
    pose, upright = annotation.pose, copy.pose
    if pose is None or upright is None:
        raise ValueError("only a placed picture has an upright copy")

    def inside(x: FloatArray, y: FloatArray) -> BoolArray:
        ox, oy = disc_to_pixel(pose, *pixel_to_disc(upright, x, y))
        frame = (x >= 0) & (x <= copy.width - 1) & (y >= 0) & (y <= copy.height - 1)
        return np.asarray(frame & (ox >= 0) & (ox <= annotation.width - 1) & (oy >= 0) & (oy <= annotation.height - 1))

    return inside
