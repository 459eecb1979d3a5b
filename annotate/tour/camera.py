"""Where the Moon stands in a frame, at rest and on the way: the camera, and what of the picture each pixel shows.

A camera is a pose of the undistorted Moon with two shares in place of what a pose has once for all: its hand, which
runs through zero while a mirrored picture is turned over, and how much of the picture's own lens, refraction and tilt
is left in it. With all of it left the picture lies in the frame pixel by pixel as it came (a similarity).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing.background import Lookup
from moondesk.drawing.composition import compose_frame, fit_whole
from moondesk.drawing.frame import Format, FrameRequest
from moondesk.moon.geometry import disc_to_pixel, pixel_to_disc, undistort
from moondesk.records import Annotation, FloatArray, NotFound, Pose

#: A disc turned over is no thinner than this, in shares of its width.
_THINNEST = 0.02


@dataclass(frozen=True, kw_only=True)
class Camera:
    """x, y, radius_px, north_screen_deg: of the Moon in the frame, its middle counted from pixels' centres. hand: 1 as
    the eye sees it, -1 mirrored. lens: share of the picture's own distortions that is left, 0..1."""

    x: float
    y: float
    radius_px: float
    north_screen_deg: float
    hand: float = 1.0
    lens: float = 0.0

    def __post_init__(self) -> None:
        if not (self.radius_px > 0 and -1 <= self.hand <= 1 and 0 <= self.lens <= 1):
            raise ValueError(f"there is no such camera: {self}")

    @property
    def axes(self) -> FloatArray:
        """(2, 2), its rows the frame's pixels by which a radius to lunar east and to lunar north leads."""
        t = np.radians(self.north_screen_deg)
        hand = self.hand if abs(self.hand) >= _THINNEST else np.copysign(_THINNEST, self.hand)
        east, north = (hand * np.cos(t), -hand * np.sin(t)), (-np.sin(t), -np.cos(t))
        return self.radius_px * np.array([east, north])

    def point(self, u: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Disc coordinates to the frame's pixels, the picture's own distortions left out."""
        (ex, ey), (nx, ny) = self.axes
        return self.x + u * ex + v * nx, self.y + u * ey + v * ny

    def disc(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The frame's pixels to disc coordinates: the inverse of `point`."""
        (a, b), (c, d) = np.linalg.inv(self.axes)
        dx, dy = x - self.x, y - self.y
        return dx * a + dy * c, dx * b + dy * d


def camera_at(pose: Pose) -> Camera:
    """The camera of a frame in which the Moon has this pose, as the eye sees it."""
    if pose != replace(undistort(pose), mirrored=False):
        raise ValueError("the Moon of a frame is neither mirrored nor distorted")
    return Camera(x=pose.x, y=pose.y, radius_px=pose.radius_px, north_screen_deg=pose.north_screen_deg)


def pose_in(camera: Camera, pose: Pose) -> Pose:
    """The pose of the Moon in the frame of a camera at rest, for a picture with that pose. ValueError where the Moon
    does not stand in the frame as the eye sees it."""
    if camera.hand != 1.0 or camera.lens:
        raise ValueError("the picture is still on its way to what the eye sees")
    return replace(
        undistort(pose),
        x=camera.x,
        y=camera.y,
        radius_px=camera.radius_px,
        north_screen_deg=camera.north_screen_deg,
        mirrored=False,
        parameters=(),
        covariance=(),
    )


def camera_as_sent(annotation: Annotation, fmt: Format) -> Camera:
    """Of a placed picture that lies in the frame as it came, all of it. ValueError for one without a pose."""
    pose = annotation.pose
    if pose is None:
        raise ValueError("the picture is not placed")
    scale, left, top = fit_whole(annotation, fmt)
    return Camera(
        x=left + scale * pose.x,
        y=top + scale * pose.y,
        radius_px=scale * pose.radius_px,
        north_screen_deg=pose.north_screen_deg,
        hand=-1.0 if pose.mirrored else 1.0,
        lens=1.0,
    )


def camera_for(annotation: Annotation, wanted: FrameRequest) -> Camera | None:
    """Of a frame that is asked for; None where the picture is not placed, or cannot be shown so."""
    if annotation.pose is None or not annotation.status.facts.is_named:
        return None
    if wanted.as_sent:
        return camera_as_sent(annotation, wanted.format)
    found = compose_frame(annotation, wanted)
    return None if isinstance(found, NotFound) or found.pose is None else camera_at(found.pose)


def lookup_of(camera: Camera, pose: Pose) -> Lookup:
    """What of the picture, whose pose it is, each pixel of the frame shows."""
    straight = undistort(pose)

    def lookup(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray | None]:
        u, v = camera.disc(x, y)
        off = np.hypot(u, v)
        if camera.lens == 0.0:
            return *disc_to_pixel(pose, u, v), off
        plain = disc_to_pixel(straight, u, v)
        if camera.lens == 1.0 or straight == pose:
            return *plain, off
        own = disc_to_pixel(pose, u, v)
        px, py = (o + camera.lens * (p - o) for o, p in zip(own, plain, strict=True))
        return px, py, off

    return lookup


def locate(camera: Camera, pose: Pose, px: FloatArray, py: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The picture's pixels in the frame: the inverse of `lookup_of`, by fixed-point steps on the way."""
    straight = undistort(pose)
    u, v = pixel_to_disc(pose, px, py)
    if camera.lens:
        whole = pixel_to_disc(straight, px, py)
        u, v = (a + camera.lens * (b - a) for a, b in zip((u, v), whole, strict=True))
        look = lookup_of(camera, pose)
        for _ in range(4):
            at = look(*camera.point(u, v))
            was, should = pixel_to_disc(straight, at[0], at[1]), whole
            u, v = u + should[0] - was[0], v + should[1] - was[1]
    return camera.point(u, v)
