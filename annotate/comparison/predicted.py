"""The Moon as it will stand, drawn from our own maps: north up, or as the eye sees it at a place."""

from __future__ import annotations

from typing import Literal

import cv2
import numpy as np

from moondesk.moon.relight import as_displayed, disc_model, light
from moondesk.records import MOON_RADIUS_KM, Aspect, ByteArray, Pose

Orientation = Literal["north", "eye"]

#: Share of the frame's half that the disc's radius takes.
FILL = 0.94
#: What the night side gets, display values: less than earthshine on most evenings, enough to see that it is there.
NIGHT_SIDE = 15.0


def predicted_pose(aspect: Aspect, size_px: int, orientation: Orientation = "north") -> Pose:
    """How the Moon lies in the drawing of size_px x size_px.

    "eye": the zenith of the aspect's place is up, as for somebody who looks up at the Moon. ValueError where it has no
    place, for then nobody knows where up is.
    """
    if size_px < 32:
        raise ValueError(f"a Moon of {size_px} px shows nothing")
    turn = 0.0
    if orientation == "eye":
        if aspect.parallactic_deg is None:
            raise ValueError("an aspect without a place knows no zenith")
        # position angles grow through east, which is left where north is up: counter-clockwise, as screen angles do
        turn = (aspect.axis_pa_deg - aspect.parallactic_deg) % 360.0
    middle = (size_px - 1) / 2
    return Pose(
        x=middle,
        y=middle,
        radius_px=FILL * size_px / 2,
        north_screen_deg=turn,
        mirrored=False,
        libration_lat_deg=aspect.libration_lat_deg,
        libration_lon_deg=aspect.libration_lon_deg,
        sub_solar_lat_deg=aspect.sub_solar_lat_deg,
        sub_solar_lon_deg=aspect.sub_solar_lon_deg,
        distance_radii=aspect.distance_km / MOON_RADIUS_KM,
    )


def predicted_moon(aspect: Aspect, size_px: int, orientation: Orientation = "north") -> ByteArray:
    """The Moon as it will stand: (size_px, size_px) uint8, display values, in `predicted_pose`; the sky is black.

    Earthshine is not predicted: the night side is evenly and faintly grey. Time: 60 ms for 1000 px. Raises ValueError
    for "eye" without a place, for then nobody knows where up is.

    >>> from moondesk.ephemeris.aspect import aspect_at
    >>> predicted_moon(aspect_at(datetime(2026, 10, 17, 19, tzinfo=UTC), None), 200, "upright").shape
    (200, 200)
    """
    pose = predicted_pose(aspect, size_px, orientation)
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, pose.radius_px, pose.distance_radii)
    shown = as_displayed(light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)).astype(np.float32)
    t = np.radians(pose.north_screen_deg)
    c, s = float(np.cos(t)), float(np.sin(t))
    # from the drawing back to the north-up frame: a counter-clockwise turn on the screen is undone
    back = np.array([[c, -s, 0.0], [s, c, 0.0]])
    back[:, 2] = model.centre - back[:, :2] @ np.array([pose.x, pose.y])
    turned = cv2.warpAffine(shown, back, (size_px, size_px), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    ys, xs = np.mgrid[0:size_px, 0:size_px]
    edge = np.clip(pose.radius_px + 0.5 - np.hypot(xs - pose.x, ys - pose.y), 0.0, 1.0)
    return np.asarray(np.rint(np.maximum(turned, NIGHT_SIDE) * edge), np.uint8)
