"""From light on the sensor to a file: exposure, noise, tone, sharpening, EXIF as phones write it, encoding."""

from __future__ import annotations

import io
from datetime import timedelta

import cv2
import numpy as np
from PIL import Image

from tests.scenes.spec import Film, SceneSpec

EXIF_IFD, GPS_IFD = 0x8769, 0x8825
#: How displayed pixels are turned for storing, so that a reader that obeys the tag turns them back (EXIF 2.32, 0x0112).
STORE_TURN = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}


def develop(scene: np.ndarray, film: Film, seed: int) -> np.ndarray:
    """Linear light (H, W, 3) to 8-bit display values (H, W, 3), RGB."""
    rng = np.random.default_rng(seed + 3)
    light = scene.astype(np.float32)
    if film.bloom:
        spill = np.maximum(light - 1.0, 0.0)
        light = light + film.bloom * (
            0.6 * cv2.GaussianBlur(spill, (0, 0), 3.0) + 0.4 * cv2.GaussianBlur(spill, (0, 0), 14.0)
        )
    grain = rng.standard_normal(light.shape, dtype=np.float32)
    if film.grain_px > 0.3:
        grain = cv2.GaussianBlur(grain, (0, 0), film.grain_px)
        grain /= grain.std()
    light = light + grain * np.sqrt(film.read**2 + film.shot**2 * np.clip(light, 0.0, 1.0))
    light = np.clip(light, 0.0, 1.0)
    # IEC 61966-2-1
    shown = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    shown = (1 - film.contrast) * shown + film.contrast * shown * shown * (3 - 2 * shown)
    if film.local:
        shown = shown + film.local * (shown - _widely_blurred(shown, film.local_px))
    if film.sharpen:
        shown = shown + film.sharpen * (shown - cv2.GaussianBlur(shown, (0, 0), film.sharpen_px))
    return np.clip(shown * 255.0 + 0.5, 0, 255).astype(np.uint8)


def _widely_blurred(shown: np.ndarray, sigma_px: float) -> np.ndarray:
    """A Gaussian blur of many pixels, computed at an eighth of the size."""
    small = cv2.resize(shown.astype(np.float32), None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), max(sigma_px / 8, 0.5))
    return cv2.resize(small, (shown.shape[1], shown.shape[0]), interpolation=cv2.INTER_CUBIC)


def exif_block(spec: SceneSpec) -> Image.Exif:
    """The tags that a phone would write, as far as the spec lets it."""
    tags, exif = spec.tags, Image.Exif()
    if tags.make:
        exif[0x010F] = tags.make
    if tags.model:
        exif[0x0110] = tags.model
    if tags.software:
        exif[0x0131] = tags.software
    exif[0x0112] = tags.orientation
    shown = spec.when_utc + timedelta(hours=tags.zone_hours + tags.clock_error_h)
    inner = exif.get_ifd(EXIF_IFD)
    if tags.time:
        text = shown.strftime("%Y:%m:%d %H:%M:%S")
        exif[0x0132] = inner[0x9003] = inner[0x9004] = text
        inner[0x9291] = f"{shown.microsecond // 1000:03d}"
        if tags.offset:
            hours, minutes = divmod(abs(round(tags.zone_hours * 60)), 60)
            inner[0x9010] = inner[0x9011] = f"{'-' if tags.zone_hours < 0 else '+'}{hours:02d}:{minutes:02d}"
    if tags.make:
        rng = np.random.default_rng(spec.seed + 9)
        inner[0x829A] = 1.0 / float(rng.choice([30, 60, 125, 250]))
        inner[0x829D] = 1.8
        inner[0x8827] = int(rng.choice([50, 64, 100, 200, 400]))
        inner[0x920A] = 5.9
        inner[0xA405] = 26
    if tags.place:
        gps = exif.get_ifd(GPS_IFD)
        lat, lon = spec.place.latitude_deg, spec.place.longitude_deg
        gps[1], gps[2] = "N" if lat >= 0 else "S", _degrees(lat)
        gps[3], gps[4] = "E" if lon >= 0 else "W", _degrees(lon)
    return exif


def _degrees(angle: float) -> tuple[float, float, float]:
    """Degrees, minutes and hundredths of a second, none of them 60."""
    hundredths = round(abs(angle) * 360_000)
    return float(hundredths // 360_000), float(hundredths // 6000 % 60), (hundredths % 6000) / 100.0


def encode(pixels: np.ndarray, spec: SceneSpec) -> bytes:
    """The file's bytes: turned for storing, tagged, encoded."""
    tags = spec.tags
    image = Image.fromarray(pixels)
    if tags.orientation in STORE_TURN:
        image = image.transpose(STORE_TURN[tags.orientation])
    elif tags.orientation != 1:
        raise ValueError(f"orientation {tags.orientation}: only 1, 3, 6 and 8 are written")
    extra: dict[str, object] = {}
    if tags.time or tags.place or tags.make or tags.orientation != 1:
        extra["exif"] = exif_block(spec).tobytes()
    out = io.BytesIO()
    if tags.media == "png":
        image.save(out, "PNG", optimize=True, **extra)
    elif tags.media == "webp":
        image.save(out, "WEBP", quality=tags.quality, method=4, **extra)
    elif tags.media == "jpeg":
        image.save(out, "JPEG", quality=tags.quality, subsampling=2, **extra)
    else:
        raise ValueError(f"unknown media {tags.media!r}: jpeg, png or webp")
    return out.getvalue()
