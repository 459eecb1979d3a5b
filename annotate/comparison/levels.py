"""Pictures brought to one tone: the sky's light taken off, the seas as bright in one as in the other.

What twilight, haze and a camera's black point add is measured in the sky beside the disc and taken off in linear light;
an exposure is a factor there. The seas set it, for they are the ground that every phase from a thin crescent on has in
the light, and are not burnt out where highlands are; where none is lit, all lit ground does. Each picture is brought to
the same level by itself, so that two pictures can be levelled without knowing of each other.
"""

from __future__ import annotations

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, pixel_to_disc, pixel_to_surface, project, sun_altitude_deg, unit_vector
from moondesk.moon.maps import maps, sample
from moondesk.moon.relight import limb_darkening_weight
from moondesk.records import ByteArray, Float32Array, FloatArray, Pose

#: Grid on which a picture is measured: so many places along its longer side.
PLACES = 420
#: Sky beside the disc, radii from its centre, and the least number of places that tell its light.
SKY_FROM, SKY_TO, LEAST_SKY = 1.1, 1.7, 150
#: Ground that tells the exposure: the Sun this high, degrees, and at least so many places of it; of lit ground the
#: darkest share is sea.
SUN_DEG, LEAST_GROUND, SEAS = 8.0, 60, 0.35
#: Linear light that the brightest tenth of the lit ground comes to, and the bounds of the factor.
BRIGHT, LEAST_GAIN, MOST_GAIN = 0.5, 0.35, 5.0
#: Linear light under which nothing tells an exposure.
LEAST_LIGHT = 0.004
#: Linear light that the brightest ground comes to at least.
LEAST_TOP = 0.85
#: Light from which on tones are bent towards white instead of being cut.
SHOULDER = 0.72
#: What is left below so many deviations of the sky's noise is pressed down: grain, not light.
GRAIN = 4.0
#: Most that a colour's share may be changed where pictures are made neutral.
MOST_CAST = 1.7


def level(rgb: ByteArray, pose: Pose, shrink: int = 1, neutral: bool = False) -> ByteArray:
    """The picture at the common tone, (H, W, 3) uint8; unchanged where no lit ground is in it.

    pose: in pixels of which `shrink` are one of rgb. neutral: the Moon's own grey instead of the camera's colour.
    """
    step = max(1, max(rgb.shape[:2]) // PLACES)
    linear = TO_LINEAR[cv2.blur(rgb, (3, 3))[::step, ::step]]
    ys, xs = np.mgrid[0 : rgb.shape[0] : step, 0 : rgb.shape[1] : step].astype(np.float64)
    xs, ys = (xs + 0.5) * shrink - 0.5, (ys + 0.5) * shrink - 0.5
    distance = np.hypot(*pixel_to_disc(pose, xs, ys))
    veil, grain = _veil(linear, distance)
    ground, predicted, albedo = _ground(pose, xs, ys, distance)
    bare = np.maximum(linear - veil, 0.0)
    if ground.sum() >= LEAST_GROUND:
        bare, predicted, albedo = bare[ground], predicted[ground], albedo[ground]
        sea = albedo <= np.quantile(albedo, SEAS)
        exposure = float(np.median((bare @ _LUMA)[sea] / predicted[sea])) * float(np.percentile(predicted, 90))
    else:  # a thin crescent: by what shines most
        grey = np.where(distance < 1.0, bare @ _LUMA, 0.0)
        bare = bare[grey >= np.partition(grey.ravel(), -LEAST_GROUND)[-LEAST_GROUND]]
        exposure = float(np.median(bare @ _LUMA))
    if exposure < LEAST_LIGHT:
        return rgb
    gain = BRIGHT / exposure
    gain = float(np.clip(gain, LEAST_GAIN, MOST_GAIN))
    top = float(np.percentile(bare @ _LUMA, 99))
    lift = max(LEAST_TOP / max(gain * top, 1e-4) - 1.0, 0.0)  # else what is burnt out would turn grey
    colour = np.ones(3, np.float32)
    if neutral:
        middle = np.median(bare, axis=0)
        colour = np.clip(float(middle @ _LUMA) / np.maximum(middle, 1e-4), 1 / MOST_CAST, MOST_CAST).astype(np.float32)
    tables = [_table(float(veil[k]), GRAIN * grain, gain * float(colour[k]), top, lift) for k in range(3)]
    return np.asarray(cv2.LUT(rgb, np.stack(tables, axis=1)[None]), np.uint8)


def to_display(linear: Float32Array) -> ByteArray:
    """Linear light 0..1 to display values (IEC 61966-2-1)."""
    return np.asarray(_SHOWN[np.rint(np.clip(linear, 0.0, 1.0) * _FINE).astype(np.uint16)])


def _linear_table() -> Float32Array:
    v = np.arange(256) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _shown_table() -> ByteArray:
    v = np.arange(_FINE + 1) / _FINE
    shown = np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-9) ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(255 * shown), np.uint8)


_FINE = 65535
_SHOWN = _shown_table()
#: Linear light of each display value (IEC 61966-2-1).
TO_LINEAR = _linear_table()
#: Luminance of linear red, green and blue (ITU-R BT.709).
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)


def _table(veil: float, grain: float, gain: float, top: float, lift: float) -> ByteArray:
    """Display value to display value. lift: by what share the light at the top is raised beyond the gain."""
    bare = np.maximum(TO_LINEAR - veil, 0.0)
    bare = bare * bare / (bare + grain + 1e-9)  # what is no more than the sky's own grain is black
    light = gain * bare * (1.0 + lift * np.minimum(bare / max(top, 1e-4), 1.2) ** 2)
    bent = SHOULDER + (1 - SHOULDER) * np.tanh((light - SHOULDER) / (1 - SHOULDER))
    return to_display(np.where(light > SHOULDER, bent, light).astype(np.float32))


def _veil(linear: Float32Array, distance: FloatArray) -> tuple[Float32Array, float]:
    """Light of the sky in each colour, and its grain; none where the picture has no sky."""
    sky = linear[(distance > SKY_FROM) & (distance < SKY_TO)]
    if len(sky) < LEAST_SKY:
        return np.zeros(3, np.float32), 0.0
    middle = np.median(sky, axis=0)
    return middle.astype(np.float32), 1.4826 * float(np.median(np.abs(sky - middle)))


def _ground(
    pose: Pose, xs: FloatArray, ys: FloatArray, distance: FloatArray
) -> tuple[np.ndarray, FloatArray, FloatArray]:
    """Which places are well lit ground; the light of a smooth Moon there (the lunar-Lambert law of `relight`) and its
    albedo."""
    lat, lon = pixel_to_surface(pose, xs, ys)
    on = (distance < 0.96) & np.isfinite(lat)
    lat, lon = np.where(on, lat, 0.0), np.where(on, lon, 0.0)
    sun = sun_altitude_deg(lat, lon, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    mu = np.maximum(project(unit_vector(lat, lon), axes, pose.distance_radii).mu, 0.05)
    mu0 = np.maximum(np.sin(np.radians(sun)), 1e-3)
    towards = unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    weight = limb_darkening_weight(float(np.degrees(np.arccos(np.clip(axes[2] @ towards, -1, 1)))))
    albedo = sample(maps().albedo, lat.astype(np.float32), lon.astype(np.float32)).astype(float)
    return on & (sun > SUN_DEG), albedo * (2 * weight * mu0 / (mu0 + mu) + (1 - weight) * mu0), albedo
