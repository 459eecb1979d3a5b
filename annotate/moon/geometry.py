"""From the Moon to the picture and back: a pose and coordinates in, pixels out. No picture, no ephemeris.

Disc coordinates: u to lunar east, v to lunar north, in units of the disc's radius, seen from the observer's
distance; the limb is the circle u^2 + v^2 = 1. `mu` is the cosine of the emission angle (1 at the disc's centre,
0 at the limb, negative behind it). All functions broadcast over arrays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from moondesk.records import FieldStop, Float32Array, FloatArray, Pose


@dataclass(frozen=True, eq=False)
class DiscPoints:
    """Points in the disc frame: u, v (radii), mu (cosine of the emission angle)."""

    u: FloatArray
    v: FloatArray
    mu: FloatArray


def unit_vector(lat_deg: ArrayLike, lon_deg: ArrayLike) -> FloatArray:
    """Surface points as vectors.

    Parameters: selenographic latitude and longitude, degrees, east positive; they broadcast.
    Returns: mean-Earth unit vectors, shape (..., 3): x to (0, 0), y to (0, 90 E), z to the north pole.

    >>> unit_vector(0, 90).round(6).tolist()
    [0.0, 1.0, 0.0]
    """
    lat, lon = np.radians(np.asarray(lat_deg, float)), np.radians(np.asarray(lon_deg, float))
    return np.stack(np.broadcast_arrays(np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)), axis=-1)


def disc_axes(lat0_deg: float, lon0_deg: float) -> FloatArray:
    """The directions of the disc for an observer over a point of the Moon.

    Parameters: sub-observer latitude and longitude, degrees.
    Returns: (3, 3), its rows the mean-Earth unit vectors of u (lunar east), v (north) and w (towards the observer).

    >>> (disc_axes(0, 0) + 0.0).round(6).tolist()  # east is y, north is z, the observer is over x
    [[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]
    """
    b, l0 = np.radians(lat0_deg), np.radians(lon0_deg)
    sb, cb, sl, cl = np.sin(b), np.cos(b), np.sin(l0), np.cos(l0)
    return np.array([[-sl, cl, 0.0], [-sb * cl, -sb * sl, cb], [cb * cl, cb * sl, sb]])


def project(vectors: FloatArray | Float32Array, axes: FloatArray | Float32Array, distance_radii: float) -> DiscPoints:
    """Surface vectors to disc coordinates, in perspective.

    Parameters: mean-Earth unit vectors (..., 3); `disc_axes` (3, 3); distance of the observer from the Moon's centre, radii.
    Returns: u, v in radii of the disc and mu, the cosine of the emission angle, each (...).

    A point (a, b, c) of the unit sphere appears at (a, b) d / (d - c); the limb, where c = 1/d, at
    1/sqrt(1 - 1/d^2), which is the unit of u and v (leaving perspective out costs sin(2 angle) / 2d, up to 0.2 %R).

    >>> round(float(project(unit_vector(0, 30), disc_axes(0, 0), 221.3).u), 4)  # 0.5 from far away
    0.502
    """
    local = vectors @ axes.T
    d = float(distance_radii)
    scale = d * float(np.sqrt(1.0 - 1.0 / d**2)) / (d - local[..., 2])
    # cosine between the vertical (the vector itself) and the direction to the observer (0, 0, d) - p
    mu = (d * local[..., 2] - 1.0) / np.sqrt(d * d - 2.0 * d * local[..., 2] + 1.0)
    return DiscPoints(local[..., 0] * scale, local[..., 1] * scale, mu)


def lift(u: ArrayLike, v: ArrayLike, axes: FloatArray, distance_radii: float) -> FloatArray:
    """Disc coordinates to surface vectors: the inverse of `project`.

    Parameters: u, v in radii of the disc, which broadcast; `disc_axes`; distance in radii.
    Returns: mean-Earth unit vectors (..., 3); nan outside the limb.

    >>> (lift(0.0, 0.0, disc_axes(0, 90), 221.3) + 0.0).round(6).tolist()
    [0.0, 1.0, 0.0]
    """
    d = distance_radii
    k = 1.0 / np.sqrt(1.0 - 1.0 / d**2)
    a, b = np.asarray(u, float) * k, np.asarray(v, float) * k
    r2 = (a * a + b * b) / (d * d)  # squared tangent of the angle from the disc's centre
    # nearer crossing of the ray (0,0,d) + s (a, b, -d) with the sphere: (1 + r2) d^2 s^2 - 2 d^2 s + d^2 - 1 = 0
    root = 1.0 - (1.0 + r2) * (1.0 - 1.0 / d**2)
    root = np.where((root < 0) & (root > -1e-12), 0.0, root)  # the limb itself, up to rounding
    with np.errstate(invalid="ignore"):
        s = (1.0 - np.sqrt(root)) / (1.0 + r2)
    local = np.stack(np.broadcast_arrays(a * s, b * s, d * (1.0 - s)), axis=-1)
    return local @ axes


def screen_axes(north_screen_deg: float, mirrored: bool) -> FloatArray:
    """How lunar east and north run on the screen.

    Parameters: screen angle of lunar north, degrees from up, counter-clockwise; whether the picture is mirrored.
    Returns: (2, 2), its rows the pixel directions (x right, y down) of lunar east and lunar north.

    >>> (screen_axes(90, False).round(6) + 0.0).tolist()  # north to the left, so that east is up
    [[0.0, -1.0], [-1.0, 0.0]]
    """
    t = np.radians(north_screen_deg)
    hand = -1.0 if mirrored else 1.0
    return np.array([[hand * np.cos(t), -hand * np.sin(t)], [-np.sin(t), -np.cos(t)]])


def disc_to_pixel(pose: Pose, u: ArrayLike, v: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Disc coordinates to pixels: turn and hand, refraction flattening, tilt, then the lens.

    Parameters: the pose; u to lunar east and v to lunar north, radii of the disc.
    Returns: x, y in the pose's pixels. float32 arrays give float32 (a ten-thousandth of a pixel), all else float64.

    >>> [round(float(value), 6) for value in disc_to_pixel(pose, 0.5, 0.0)]
    [650.0, 400.0]
    """
    (east_x, east_y), (north_x, north_y) = screen_axes(pose.north_screen_deg, pose.mirrored).tolist()
    if not (isinstance(u, np.ndarray) and u.dtype == np.float32):
        u, v = np.asarray(u, float), np.asarray(v, float)
    assert isinstance(u, np.ndarray)
    assert isinstance(v, np.ndarray)
    dx, dy = u * east_x + v * north_x, u * east_y + v * north_y
    if pose.flattening:
        t = np.radians(pose.flattening_screen_deg)
        sx, sy = -float(np.sin(t)), -float(np.cos(t))
        along = (dx * sx + dy * sy) * pose.flattening
        dx, dy = dx - along * sx, dy - along * sy
    if pose.tilt or pose.tangential:
        dx, dy = _askew(pose, dx, dy)
    x, y = pose.x + pose.radius_px * dx, pose.y + pose.radius_px * dy
    if pose.radial_k1:
        rx, ry = x - pose.axis_x, y - pose.axis_y
        grow = pose.radial_k1 * (rx * rx + ry * ry) / pose.axis_scale_px**2
        x, y = x + rx * grow, y + ry * grow
    return x, y


def screen_direction(screen_deg: float) -> tuple[float, float]:
    """Pixel direction (x right, y down) of a screen angle, degrees from up, counter-clockwise.

    >>> [round(value, 6) + 0.0 for value in screen_direction(90)]
    [-1.0, 0.0]
    """
    t = np.radians(screen_deg)
    return -float(np.sin(t)), -float(np.cos(t))


def _askew(pose: Pose, dx: FloatArray, dy: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Tilt and tangential terms of screen offsets, in radii from the disc's centre."""
    (tx, ty), (px, py) = screen_direction(pose.tilt_screen_deg), screen_direction(pose.tangential_screen_deg)
    # no more than half the way to the horizon of the tilt: beyond lies nothing of a disc
    grow = 1.0 / np.maximum(1.0 - pose.tilt * (dx * tx + dy * ty), 0.5)
    grow = grow + 2.0 * pose.tangential * (dx * px + dy * py)
    bend = pose.tangential * (dx * dx + dy * dy)
    return dx * grow + bend * px, dy * grow + bend * py


def _straight(pose: Pose, dx: FloatArray, dy: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Inverse of `_askew`: in closed form for the tilt alone, else by fixed-point steps."""
    (tx, ty), (px, py) = screen_direction(pose.tilt_screen_deg), screen_direction(pose.tangential_screen_deg)
    if not pose.tangential:
        shrink = 1.0 / np.maximum(1.0 + pose.tilt * (dx * tx + dy * ty), 0.5)
        return dx * shrink, dy * shrink
    ux, uy = dx, dy
    for _ in range(16):
        grow = 1.0 / np.maximum(1.0 - pose.tilt * (ux * tx + uy * ty), 0.5)
        grow = np.clip(grow + 2.0 * pose.tangential * (ux * px + uy * py), 0.5, 2.0)
        # far from the disc the square would run away; nothing is looked up there
        bend = pose.tangential * np.minimum(ux * ux + uy * uy, 4.0)
        ux, uy = (dx - bend * px) / grow, (dy - bend * py) / grow
    return ux, uy


def undistort(pose: Pose) -> Pose:
    """The same pose as the eye would see it: no flattening, no tilt, no lens.

    >>> undistort(replace(pose, radial_k1=0.1)) == pose
    True
    """
    return replace(
        pose,
        flattening=0.0,
        flattening_screen_deg=0.0,
        tilt=0.0,
        tilt_screen_deg=0.0,
        tangential=0.0,
        tangential_screen_deg=0.0,
        radial_k1=0.0,
    )


def pixel_to_disc(pose: Pose, x: ArrayLike, y: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Pixels to disc coordinates: the inverse of `disc_to_pixel` (fixed-point steps for the lens).

    Parameters: the pose; x, y in its pixels, which broadcast.
    Returns: u to lunar east and v to lunar north, radii of the disc; beyond the limb too.

    >>> [round(float(value), 6) + 0.0 for value in pixel_to_disc(pose, 650.0, 400.0)]
    [0.5, 0.0]
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    if pose.radial_k1:
        rx, ry = (x - pose.axis_x) / pose.axis_scale_px, (y - pose.axis_y) / pose.axis_scale_px
        seen = rx * rx + ry * ry
        # s (1 + k1 s)^2 = seen by Newton's steps, s the undistorted radius squared
        s, k1 = seen, pose.radial_k1
        for _ in range(6):
            grow = 1.0 + k1 * s
            s = np.maximum(s - (s * grow * grow - seen) / np.maximum(grow * (1.0 + 3.0 * k1 * s), 0.05), 0.0)
        grow = np.maximum(1.0 + k1 * s, 0.1)
        x, y = pose.axis_x + rx / grow * pose.axis_scale_px, pose.axis_y + ry / grow * pose.axis_scale_px
    dx, dy = (x - pose.x) / pose.radius_px, (y - pose.y) / pose.radius_px
    if pose.tilt or pose.tangential:
        dx, dy = _straight(pose, dx, dy)
    if pose.flattening:
        t = np.radians(pose.flattening_screen_deg)
        sx, sy = -np.sin(t), -np.cos(t)
        along = (dx * sx + dy * sy) * (pose.flattening / (1.0 - pose.flattening))
        dx, dy = dx + along * sx, dy + along * sy
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    return dx * east[0] + dy * east[1], dx * north[0] + dy * north[1]


def in_field(field: FieldStop, x: ArrayLike, y: ArrayLike) -> NDArray[np.bool_]:
    """Which pixels lie inside an eyepiece's field.

    >>> in_field(FieldStop(100.0, 100.0, 50.0), [100, 100], [149, 151]).tolist()
    [True, False]
    """
    dx, dy = np.asarray(x) - field.x, np.asarray(y) - field.y
    return np.asarray(dx * dx + dy * dy < field.radius_px**2)


@dataclass(frozen=True, eq=False)
class PixelPoints:
    """Where surface points fall: x, y in pixels; mu, the cosine of the emission angle (visible where positive)."""

    x: FloatArray
    y: FloatArray
    mu: FloatArray


def surface_to_pixel(pose: Pose, lat_deg: ArrayLike, lon_deg: ArrayLike) -> PixelPoints:
    """Selenographic coordinates to pixels.

    Parameters: the pose; latitude and longitude, degrees, east positive, which broadcast.
    Returns: x, y in the pose's pixels and mu, the cosine of the emission angle; what is not visible has mu of 0 or less.

    >>> round(float(surface_to_pixel(pose, 0.0, 30.0).x), 3)
    650.588
    """
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    disc = project(unit_vector(lat_deg, lon_deg), axes, pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    return PixelPoints(x, y, disc.mu)


def pixel_to_surface(pose: Pose, x: ArrayLike, y: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Pixels to selenographic coordinates: the inverse of `surface_to_pixel`.

    Parameters: the pose; x, y in its pixels, which broadcast.
    Returns: latitude and longitude in degrees, -180 to 180; nan off the disc.

    >>> [round(float(value), 2) + 0.0 for value in pixel_to_surface(pose, 650.588, 400.0)]
    [0.0, 30.0]
    """
    u, v = pixel_to_disc(pose, x, y)
    vec = lift(u, v, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    with np.errstate(invalid="ignore"):
        return np.degrees(np.arcsin(np.clip(vec[..., 2], -1, 1))), np.degrees(np.arctan2(vec[..., 1], vec[..., 0]))


def sun_altitude_deg(lat_deg: ArrayLike, lon_deg: ArrayLike, sun_lat_deg: float, sun_lon_deg: float) -> FloatArray:
    """Height of the Sun's centre above the mean horizon of a surface point, degrees (the Sun taken at infinity).

    Parameters: the point's latitude and longitude, degrees, which broadcast; the sub-solar point's, degrees.

    >>> round(float(sun_altitude_deg(0, 60, 0, 90)), 6)
    60.0
    """
    cosine = unit_vector(lat_deg, lon_deg) @ unit_vector(sun_lat_deg, sun_lon_deg)
    return np.degrees(np.arcsin(np.clip(cosine, -1.0, 1.0)))


def phase_angle_deg(lat0_deg: float, lon0_deg: float, sun_lat_deg: float, sun_lon_deg: float) -> float:
    """Angle at the Moon's centre between the directions to the observer and to the Sun, degrees: 0 full, 180 new.

    Parameters: latitude and longitude of the sub-observer point and of the sub-solar point, degrees.

    >>> round(phase_angle_deg(0, 0, 0, 90), 6)
    90.0
    """
    return float(90.0 - sun_altitude_deg(lat0_deg, lon0_deg, sun_lat_deg, sun_lon_deg))


def bright_limb_screen_deg(pose: Pose) -> float:
    """Screen angle (0..360) of the middle of the bright limb, seen from the disc's centre.

    >>> round(bright_limb_screen_deg(pose), 6)  # the Sun stands in the lunar east, which is right
    270.0
    """
    sun = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg) @ unit_vector(
        pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
    )
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    dx, dy = sun[0] * east + sun[1] * north
    return float(np.degrees(np.arctan2(-dx, -dy)) % 360.0)
