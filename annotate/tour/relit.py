"""A viewer's own disc in another light: how it will look tomorrow, a rendering and never a photograph.

What the picture has of the ground stays: its light is divided by that of our own Moon under the picture's Sun and
multiplied by the same under the other Sun. Where no light fell, or too little to divide by, or the picture is burnt
out, our Moon stands alone, at the picture's brightness, colour and sharpness. Whoever shows it says what it is: see `relit_frames`,
which draws none without words.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.moon.geometry import pixel_to_disc
from moondesk.moon.relight import DiscModel, disc_model, light
from moondesk.records import Annotation, ByteArray, Float32Array, NotFound, Pose

#: The Sun goes round the Moon in a synodic month of 29.5306 days: degrees of longitude an hour, westwards.
SUN_DEG_AN_HOUR = 360.0 / (29.530589 * 24.0)
#: At most so many hours to either side: further on another libration would show.
MOST_HOURS = 72.0
#: Exponent from display values to light, as `relight.as_displayed` has it.
_GAMMA = 2.2
#: Radius of our own Moon at most, pixels.
_MOST_RADIUS = 640.0
#: Light of our Moon, shares of its bright ground, below which a pixel is not divided by it, and from which on it is
#: trusted; so bright a pixel of the picture is burnt out (0..1).
_DARK, _TRUSTED, _BURNT = 0.035, 0.22, 0.94
#: What the picture may say more or less than our Moon.
_BOUNDS = (0.35, 2.6)
#: Blurs of our Moon that are tried, pixels of its own frame.
_BLURS = (0.0, 0.6, 1.2, 2.0, 3.2, 5.0)


@dataclass(frozen=True, eq=False, kw_only=True)
class _Ground:
    """What does not change with the light, in the picture's pixels. gain: of each channel; detail: what the picture
    says of the ground beyond our Moon, per channel about 1; night: the unlit ground's own light, (H, W, 3); sky: that of the sky beside the disc."""

    gain: Float32Array
    detail: Float32Array
    cover: Float32Array
    night: Float32Array
    sky: Float32Array


class RelitDisc:
    """A placed picture to be lit anew. rgb: (H, W, 3) in the annotation's pixels. ValueError for one without a pose."""

    def __init__(self, rgb: ByteArray, annotation: Annotation) -> None:
        if annotation.pose is None or not annotation.status.facts.is_named:
            raise ValueError("only a placed picture can be lit anew")
        self._rgb, self._pose = rgb, annotation.pose
        self._model = _model_of(annotation.pose)
        ys, xs = np.mgrid[0 : rgb.shape[0], 0 : rgb.shape[1]].astype(np.float32)
        u, v = pixel_to_disc(annotation.pose, xs, ys)
        self._u, self._v = u.astype(np.float32), v.astype(np.float32)
        self._off = np.hypot(self._u, self._v)
        self._light = (rgb.astype(np.float32) / np.float32(255)) ** np.float32(_GAMMA)
        own = self._lit(0.0)
        bright = own > 0.3 * float(np.percentile(own[own > 0], 90)) if (own > 0).any() else own > 0
        self._blur = self._sharpness(own, bright)
        self._own = self._lit(0.0)
        self._ground = self._measure()

    def at(self, hours: float) -> ByteArray:
        """The picture with the Sun so many hours on; at 0 the picture itself. ValueError beyond `MOST_HOURS`."""
        if abs(hours) > MOST_HOURS:
            raise ValueError(f"{hours} hours are too many")
        if hours == 0.0:
            return self._rgb.copy()
        g, lit = self._ground, self._lit(hours)
        disc = g.gain * lit[..., None] * g.detail + g.night
        # what shines beyond the limb goes with the ground inside it
        near = np.clip((1.12 - self._off) / 0.12, 0.0, 1.0)[..., None]
        share = np.minimum(self._beside(disc) / np.maximum(self._beside(self._light), 1e-4), 1.2)
        low = np.minimum(self._light, g.sky)
        sky = low + (self._light - low) * (1.0 + near * (share[..., None] - 1.0))
        out = g.cover[..., None] * disc + (1.0 - g.cover[..., None]) * sky
        out = np.where(out > 0.8, 0.8 + 0.2 * np.tanh((out - 0.8) / 0.2), out)  # no new burnt ground
        return np.asarray(np.rint(255.0 * np.clip(out, 0.0, 1.0) ** (1.0 / _GAMMA)), np.uint8)

    def _lit(self, hours: float) -> Float32Array:
        """Our own Moon in the picture's pixels."""
        lat, lon = sun_after(self._pose, hours)
        frame = light(self._model, lat, lon)
        if getattr(self, "_blur", 0.0):
            frame = np.asarray(cv2.GaussianBlur(frame, (0, 0), self._blur), np.float32)
        return self._put(frame)

    def _put(self, frame: Float32Array) -> Float32Array:
        r, c = self._model.radius_px, self._model.centre
        # just inside the limb, so that no dark rim comes of what lies beyond it
        draw_in = np.minimum(1.0, np.float32(0.992) / np.maximum(self._off, 1e-6))
        x, y = c + r * self._u * draw_in, c - r * self._v * draw_in
        return np.asarray(cv2.remap(frame, x, y, cv2.INTER_LINEAR), np.float32)

    def _sharpness(self, own: Float32Array, bright: np.ndarray) -> float:
        """The blur by which our Moon comes nearest to the picture: least spread of their ratio over lit ground."""
        lat, lon = sun_after(self._pose, 0.0)
        frame, grey = light(self._model, lat, lon), self._light.mean(axis=2)
        trusted = bright & (self._off < 0.95) & (grey < _BURNT)
        if trusted.sum() < 500:
            return 0.0
        found = []
        for blur in _BLURS:
            drawn = self._put(np.asarray(cv2.GaussianBlur(frame, (0, 0), blur), np.float32) if blur else frame)
            ratio = np.log(np.maximum(grey[trusted], 1e-4) / np.maximum(drawn[trusted], 1e-4))
            found.append((float(np.percentile(ratio, 84) - np.percentile(ratio, 16)), blur))
        return min(found)[1]

    def _measure(self) -> _Ground:
        own, picture = self._own, self._light
        inside = self._off < 0.985
        lit = own > 0
        level = float(np.percentile(own[lit & inside], 90)) if (lit & inside).any() else 1.0
        clear = picture.max(axis=2) < _BURNT
        trust = np.clip((own / level - _DARK) / (_TRUSTED - _DARK), 0.0, 1.0) * inside
        trust = np.asarray(trust * trust * (3 - 2 * trust), np.float32)
        # a shadow's edge is never where our Moon has it to the pixel: nothing is divided beside one
        trust = np.asarray(cv2.GaussianBlur(cv2.erode(trust, np.ones((3, 3), np.uint8)), (0, 0), 1.5), np.float32)
        unlit = (own <= 0) & inside
        beyond = (self._off > 1.08) & (self._off < 1.5)
        dark = unlit if unlit.sum() > 200 else beyond if beyond.sum() > 200 else ~lit
        level_night = np.asarray(np.median(picture[dark], axis=0) if dark.any() else np.zeros(3), np.float32)
        sky = np.asarray(np.median(picture[beyond], axis=0) if beyond.any() else level_night, np.float32)
        # earthshine stays where it is seen: well off the light of the day, which a lens scatters
        far = cv2.erode(np.asarray(own <= 0, np.float32), np.ones((3, 3), np.uint8), iterations=2)
        far = cv2.GaussianBlur(far, (0, 0), 0.015 * self._pose.radius_px + 1.0)
        seen = np.clip(2.0 * far - 1.0, 0.0, 1.0)[..., None]
        night = level_night + seen * (picture - level_night)
        over = np.maximum(picture - level_night, 0.0)
        sure = (trust > 0.95) & clear
        if sure.sum() < 500:
            sure = trust > 0.5
        ratio = over / np.maximum(own, 1e-4 * level)[..., None]
        gain = np.median(ratio[sure], axis=0).astype(np.float32) if sure.any() else np.ones(3, np.float32)
        detail = np.clip(ratio / np.maximum(gain, 1e-6), *_BOUNDS).astype(np.float32)
        detail = self._carried_on(detail, trust * clear)
        cover = np.clip((1.0 - self._off) * np.float32(self._pose.radius_px) + 0.5, 0.0, 1.0).astype(np.float32)
        return _Ground(gain=gain, detail=detail, cover=cover, night=np.asarray(night, np.float32), sky=sky)

    def _carried_on(self, detail: Float32Array, trust: Float32Array) -> Float32Array:
        """The detail where it can be trusted; elsewhere its broad level carried on from there, without its colour
        (normalised convolution: H. Knutsson and C.-F. Westin 1993)."""
        r = self._pose.radius_px
        grey = np.log(detail.mean(axis=2))
        scale = max(1, round(r / 100))
        size = (max(1, detail.shape[1] // scale), max(1, detail.shape[0] // scale))
        weight = cv2.resize(trust, size, interpolation=cv2.INTER_AREA)
        known = cv2.resize(grey * trust, size, interpolation=cv2.INTER_AREA)
        broad = np.zeros(weight.shape, np.float32)
        for sigma in (0.8, 0.3, 0.1):
            s = sigma * r / scale
            spread = cv2.GaussianBlur(weight, (0, 0), s)
            value = cv2.GaussianBlur(known, (0, 0), s) / np.maximum(spread, 1e-6)
            broad += np.clip(spread / 0.2, 0.0, 1.0) * (value - broad)
        level = cv2.resize(broad, (detail.shape[1], detail.shape[0]), interpolation=cv2.INTER_LINEAR)
        level = np.clip(level, np.log(0.6), np.log(1.6))[..., None]
        fine = np.log(detail) - level
        return np.asarray(np.exp(level + trust[..., None] * fine), np.float32)

    def _beside(self, picture: Float32Array) -> Float32Array:
        """The light just inside the limb, carried straight outwards: (H, W)."""
        grey = cv2.GaussianBlur(
            np.asarray(picture.mean(axis=2), np.float32), (0, 0), max(2.0, 0.012 * self._pose.radius_px)
        )
        # the picture's own pixels of that place, by the disc's scale alone: a lens bends less than this is blurred
        ys, xs = np.mgrid[0 : grey.shape[0], 0 : grey.shape[1]].astype(np.float32)
        inward = np.where(self._off > 1.0, np.float32(0.97) / np.maximum(self._off, 1e-6), 1.0).astype(np.float32)
        x0, y0 = np.float32(self._pose.x), np.float32(self._pose.y)
        found = cv2.remap(
            grey, x0 + (xs - x0) * inward, y0 + (ys - y0) * inward, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(found, np.float32)


def sun_after(pose: Pose, hours: float) -> tuple[float, float]:
    """The sub-solar point so many hours later, degrees; its latitude stays (it goes through 3 degrees in a year)."""
    lon = pose.sub_solar_lon_deg - SUN_DEG_AN_HOUR * hours
    return pose.sub_solar_lat_deg, (lon + 180.0) % 360.0 - 180.0


def why_not_relit(annotation: Annotation) -> NotFound | None:
    """Why a picture cannot be lit anew; None where it can."""
    if annotation.pose is None or not annotation.status.facts.is_named:
        return NotFound("relit", "The picture is not placed on the Moon.", "Only a placed picture can be lit anew.")
    return None


def _model_of(pose: Pose) -> DiscModel:
    return disc_model(
        pose.libration_lat_deg, pose.libration_lon_deg, min(pose.radius_px, _MOST_RADIUS), pose.distance_radii
    )
