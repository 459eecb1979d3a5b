"""From the sunlit surface to light on the sensor: the Moon in the frame, the sky around it, lens and air."""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, pixel_to_disc, screen_axes, unit_vector
from moondesk.records import Pose
from tests.scenes import surface
from tests.scenes.disturbing import clouded, vignetted, with_rays
from tests.scenes.spec import SceneSpec, Sky

#: Cells of the largest patch.
MOST_CELLS = 3.0e6
SUPERSAMPLE = 2


def facing_axes(pose: Pose) -> np.ndarray:
    """Rows: mean-Earth unit vectors towards the screen's right, its top, and the observer (left-handed if mirrored)."""
    east_up_near = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    right = east[0] * east_up_near[0] + north[0] * east_up_near[1]
    up = -(east[1] * east_up_near[0] + north[1] * east_up_near[1])
    return np.stack([right, up, east_up_near[2]])


def disc_of(spec: SceneSpec, pose: Pose, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Disc coordinates of displayed pixels, through the spec's bend where it has one."""
    if spec.bend is not None:
        x, y = spec.bend.plain(x, y)
    return pixel_to_disc(pose, x, y)


def moonlight(spec: SceneSpec, pose: Pose) -> np.ndarray:
    """The Moon alone, (height, width) float32 linear; the brightest half percent of its lit part is near 1."""
    span = _frame_span(spec, pose)
    if span is None:
        return np.zeros((spec.height, spec.width), np.float32)
    rows, cols, box = span
    axes = facing_axes(pose)
    area = (box[1] - box[0]) * (box[3] - box[2])
    scale = min(max(1.5 * pose.radius_px, 330.0), float(np.sqrt(MOST_CELLS / area)))
    patch = surface.build_patch(axes, box, scale, spec.fine, spec.seed)
    sun = axes @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    light = surface.reflected(patch, sun, spec.law, spec.lambert) * surface.sunlit_share(patch, sun)
    lit = light[light > 0.02 * light.max()] if light.any() else light
    light /= max(float(np.percentile(lit, 99.5)), 1e-6)
    if spec.sky.earthshine:
        light += spec.sky.earthshine * patch.albedo * (0.75 + 0.25 * patch.vertical[..., 2])
    for lat, lon in spec.beacons:
        # a dot of 0.7 % of the radius
        gap = patch.vertical - (axes @ unit_vector(lat, lon)).astype(np.float32)
        light += 3.0 * np.exp(-np.einsum("...i,...i", gap, gap) / (2 * 0.007**2)) * patch.on
    if scale > 2.0 * pose.radius_px:
        light = cv2.GaussianBlur(light, (0, 0), 0.3 * scale / pose.radius_px)
    picture = np.zeros((spec.height, spec.width), np.float32)
    picture[rows, cols] = _onto_screen(patch, light.astype(np.float32), axes, spec, pose, rows, cols)
    return picture


def _frame_span(spec: SceneSpec, pose: Pose) -> tuple[slice, slice, tuple[float, float, float, float]] | None:
    """Rows and columns of the frame that hold the disc, and the part of the disc (p, q ranges) that they show."""
    step = 4 if pose.radius_px > 40 else 1
    x, y = np.meshgrid(np.arange(0, spec.width + step, step), np.arange(0, spec.height + step, step))
    u, v = disc_of(spec, pose, x, y)
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    p, q = u * east[0] + v * north[0], -(u * east[1] + v * north[1])
    on = np.hypot(p, q) < 1.02 + 2 * step / pose.radius_px
    if not on.any():
        return None
    edge = 2 * step + 2
    rows = slice(max(int(y[on].min()) - edge, 0), min(int(y[on].max()) + edge, spec.height))
    cols = slice(max(int(x[on].min()) - edge, 0), min(int(x[on].max()) + edge, spec.width))
    # a margin for mountains outside the frame whose shadows fall into it
    more = 0.04

    def limits(values: np.ndarray) -> tuple[float, float]:
        return max(float(values.min()) - more, -1.0), min(float(values.max()) + more, 1.0)

    return rows, cols, (*limits(p[on]), *limits(q[on]))


def _onto_screen(
    patch: surface.Patch, light: np.ndarray, axes: np.ndarray, spec: SceneSpec, pose: Pose, rows: slice, cols: slice
) -> np.ndarray:
    """Samples the patch at every half pixel through `pixel_to_disc`, and averages."""
    n = SUPERSAMPLE
    x = cols.start + (np.arange((cols.stop - cols.start) * n) + 0.5) / n - 0.5
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    profile = surface.limb_profile(axes) if spec.limb_relief else np.zeros(1440, np.float32)
    d = pose.distance_radii
    # perspective: by how much a disc point lies nearer to the axis than it looks, over w = sqrt(1 - r^2)
    w_table = np.linspace(0.0, 1.0, 2001)
    k2 = 1.0 / (1.0 - 1.0 / d**2)
    lean = (1.0 - w_table**2) * k2 / d**2
    root = np.maximum(1.0 - (1.0 + lean) / k2, 0.0)
    inward_table = np.sqrt(k2) * (1.0 - np.sqrt(root)) / (1.0 + lean)
    strips = []
    for top in range(rows.start, rows.stop, 128):
        bottom = min(top + 128, rows.stop)
        y = top + (np.arange((bottom - top) * n) + 0.5) / n - 0.5
        u, v = disc_of(spec, pose, *np.meshgrid(x, y))
        p, q = u * east[0] + v * north[0], -(u * east[1] + v * north[1])
        r = np.hypot(p, q)
        turn = (np.degrees(np.arctan2(q, p)) * (len(profile) / 360.0)).astype(int) % len(profile)
        near_limb = np.clip((r - 0.96) / 0.04, 0.0, 1.0)
        swell = 1.0 + profile[turn] * near_limb * near_limb
        r = r / swell
        cover = np.clip((1.0 - r) * pose.radius_px * n + 0.5, 0.0, 1.0)
        clamp = np.minimum(1.0, 0.9997 / np.maximum(r, 1e-9))
        inward = np.interp(np.sqrt(np.maximum(1.0 - (r * clamp) ** 2, 0.0)), w_table, inward_table)
        factor = clamp * inward / swell
        col, row = patch.at(p * factor, q * factor)
        seen = cv2.remap(light, col, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE) * cover
        strips.append(seen.reshape(bottom - top, n, -1, n).mean(axis=(1, 3)))
    return np.concatenate(strips)


def with_sky(moon: np.ndarray, spec: SceneSpec, pose: Pose) -> np.ndarray:
    """The whole scene in front of the sensor, (height, width, 3) float32 linear, blurred by lens and air.

    moon: (height, width), or with a last axis of colours.
    """
    sky, optics = spec.sky, spec.optics
    scene = (moon if moon.ndim == 3 else moon[..., None]) * np.array(spec.film.cast, np.float32) * spec.film.gain
    scene = clouded(scene, spec)
    if sky.haze:
        scene = scene * (1.0 - 0.6 * sky.haze) + _glow(scene, sky, pose.radius_px)
    scene = with_rays(scene, spec, pose) + _background(spec)
    if sky.stars:
        _add_stars(scene, spec)
    if sky.ghost:
        # a reflection between lenses comes out turned by half about the frame's middle, large, soft and coloured
        spread = cv2.GaussianBlur(moon[::-1, ::-1], (0, 0), max(1.2 * pose.radius_px, 6.0))
        scene += (sky.ghost * spread / max(float(spread.max()), 1e-6))[..., None] * np.array([0.15, 1.0, 0.55])
    if optics.dispersion_px:
        t = np.radians(optics.dispersion_screen_deg)
        for channel, share in ((0, 0.5), (2, -0.5)):
            along = share * optics.dispersion_px
            shift = np.float32([[1, 0, -along * np.sin(t)], [0, 1, -along * np.cos(t)]])
            scene[..., channel] = cv2.warpAffine(
                np.ascontiguousarray(scene[..., channel]), shift, (spec.width, spec.height),
                flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
            )  # fmt: skip
    if sky.skyline:
        _add_foreground(scene, spec)
    if sky.field_stop is not None:
        _close_field(scene, spec)
    scene = vignetted(scene, spec)
    if optics.motion_px:
        scene = cv2.filter2D(scene.astype(np.float32), -1, _streak(optics.motion_px, optics.motion_screen_deg))
    return cv2.GaussianBlur(scene.astype(np.float32), (0, 0), max(optics.blur_px, 0.2))


def _glow(scene: np.ndarray, sky: Sky, radius_px: float) -> np.ndarray:
    """Scattered light: a near and a far halo, computed at a quarter of the size."""
    small = cv2.resize(scene.astype(np.float32), None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    sigma = max(sky.haze_radius * radius_px / 4, 1.0)
    near = cv2.GaussianBlur(small, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    far = cv2.GaussianBlur(small, (0, 0), 3 * sigma, borderType=cv2.BORDER_CONSTANT)
    back = cv2.resize(0.6 * near + 0.7 * far, (scene.shape[1], scene.shape[0]), interpolation=cv2.INTER_CUBIC)
    return sky.haze * np.maximum(back, 0.0)


def _background(spec: SceneSpec) -> np.ndarray:
    sky = spec.sky
    t = np.radians(sky.gradient_screen_deg)
    x = (np.arange(spec.width, dtype=np.float32) / spec.width - 0.5)[None, :]
    y = (np.arange(spec.height, dtype=np.float32) / spec.height - 0.5)[:, None]
    slope = 1.0 + sky.gradient * (-np.sin(t) * x - np.cos(t) * y)
    return (sky.background * slope)[..., None] * np.array(sky.tint, np.float32)


def _add_stars(scene: np.ndarray, spec: SceneSpec) -> None:
    rng = np.random.default_rng(spec.seed + 5)
    for _ in range(spec.sky.stars):
        x, y = rng.integers(2, spec.width - 2), rng.integers(2, spec.height - 2)
        if np.hypot(x - spec.x, y - spec.y) > 1.1 * spec.radius_px:
            scene[y, x] += 0.08 + 2.0 * rng.random() ** 6


def _close_field(scene: np.ndarray, spec: SceneSpec) -> None:
    """The eyepiece's field: light inside, blackness and a thin coloured fringe at its edge."""
    stop = spec.sky.field_stop
    assert stop is not None
    x, y = np.meshgrid(np.arange(spec.width, dtype=np.float32), np.arange(spec.height, dtype=np.float32))
    r = np.hypot(x - stop.x, y - stop.y)
    for channel, grow in enumerate((1.002, 1.0, 0.997)):
        inside = 1.0 / (1.0 + np.exp(np.clip((r - stop.radius_px * grow) / stop.edge_px, -30, 30)))
        scene[..., channel] = (scene[..., channel] + stop.level * (1 - 0.25 * r / stop.radius_px)) * inside + 2e-4


def _add_foreground(scene: np.ndarray, spec: SceneSpec) -> None:
    """Hills with trees or roofs along the bottom, a few lamps on them."""
    rng = np.random.default_rng(spec.seed + 11)
    x = np.arange(spec.width)
    top = np.full(spec.width, spec.height * (1 - spec.sky.skyline))
    for wave, share in ((1.3, 0.35), (3.1, 0.15), (7.7, 0.06)):
        swing = np.sin(2 * np.pi * (wave * x / spec.width + rng.random()))
        top += share * spec.sky.skyline * spec.height * swing
    if rng.random() < 0.5:  # roofs
        at = 0
        while at < spec.width:
            width, rise = int(rng.integers(30, 110)), rng.integers(8, 60)
            span = x[at : at + width]
            pitch = np.minimum(span - at, at + width - span) * rng.choice([0.0, 0.6])
            top[at : at + width] = top[min(at + width // 2, spec.width - 1)] - rise - pitch
            at += width + int(rng.integers(0, 40))
    else:  # trees
        top -= cv2.GaussianBlur(rng.gamma(1.5, 7.0, spec.width).astype(np.float32)[None, :], (0, 0), 1.5)[0]
    below = np.arange(spec.height)[:, None] > top[None, :]
    scene[below] = np.array([0.0030, 0.0032, 0.0036], np.float32)
    for _ in range(int(rng.integers(2, 9))):
        lamp_x = int(rng.integers(8, spec.width - 8))
        lamp_y = int(min(top[lamp_x] + rng.integers(6, 90), spec.height - 8))
        radius = int(rng.integers(1, 5))
        colour = (1.0, 0.55 + 0.4 * rng.random(), 0.2 + 0.5 * rng.random())
        dot = np.zeros(scene.shape[:2], np.float32)
        cv2.circle(dot, (lamp_x, lamp_y), radius, 1.5 + 2 * float(rng.random()), -1, cv2.LINE_AA)
        window = np.s_[max(lamp_y - 60, 0) : lamp_y + 60, max(lamp_x - 60, 0) : lamp_x + 60]
        halo = dot[window] + 0.25 * cv2.GaussianBlur(dot[window], (0, 0), 9.0)
        scene[window] += halo[..., None] * np.array(colour, np.float32)


def _streak(length_px: float, screen_deg: float) -> np.ndarray:
    size = 2 * int(np.ceil(length_px / 2)) + 3
    kernel = np.zeros((size, size), np.float32)
    t, middle = np.radians(screen_deg), size // 2
    for s in np.linspace(-0.5, 0.5, 8 * size):
        x, y = middle - np.sin(t) * s * length_px, middle - np.cos(t) * s * length_px
        kernel[round(float(y)), round(float(x))] += 1
    return kernel / kernel.sum()
