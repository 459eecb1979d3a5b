"""Pairs of pictures of which it is known whether one is a copy of the other: rendered, then copied as people copy.

Kinds: `version` (one file made from the other; `codec` where by a codec whose steps are not read), `sibling` (two
copies of one file that is not there), `night` (same framing, camera and phase, another night) and `exposure` (within
ten minutes: another frame of the same camera, or somebody else's picture). The frames of one camera are
developed twice from the same light, moved and turned by interpolation, so that they share every detail of the surface
and differ in noise alone: a quarter of them are not moved at all. Half of the second pictures of the last two kinds are
copied on, so that weak copies of other exposures are tried too.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

import cv2
import numpy as np
from PIL import Image, ImageOps

from moondesk.ephemeris.aspect import aspect_at
from moondesk.records import Pose
from tests.scenes import FAMILIES, SceneSpec, spec_of, true_pose
from tests.scenes.develop import develop, encode
from tests.scenes.optics import moonlight, with_sky

#: Days after which the Moon shows the same phase again, about, and its neighbours (mean synodic month 29.53 days).
OTHER_NIGHTS = (29.5, 29.53, 59.06, 1.0, 2.0, 354.37)
FILTERS = (Image.Resampling.LANCZOS, Image.Resampling.BICUBIC, Image.Resampling.BOX, Image.Resampling.BILINEAR,
           Image.Resampling.HAMMING)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Pair:
    """kind: version, codec, sibling, night or exposure. how: what was done, in words. first, second: file bytes."""

    kind: str
    family: str
    how: str
    first: bytes
    second: bytes


def pairs(number: int, seed: int) -> Iterator[Pair]:
    """Eight pairs around one rendered picture: three versions, one of siblings, two nights, two exposures."""
    families = list(FAMILIES)
    family = families[number % len(families)]
    spec = spec_of(family, seed * 100_000 + number)
    rng = np.random.default_rng([seed, number, 4])
    light = _light(spec)
    first = encode(develop(light, spec.film, spec.seed), spec)
    for _ in range(3):
        how, second = copied(first, rng)
        yield Pair("codec" if "webp" in how else "version", family, how, first, second)
    ways = [copied(first, rng) for _ in range(2)]
    yield Pair("sibling", family, " / ".join(how for how, _ in ways), ways[0][1], ways[1][1])
    for _ in range(2):
        days = float(rng.choice(OTHER_NIGHTS))
        other = replace(spec, when_utc=spec.when_utc + timedelta(days=days, minutes=float(rng.uniform(-60, 60))))
        pixels = develop(_light(other), spec.film, spec.seed + 1 + int(rng.integers(1 << 20)))
        yield Pair("night", family, *_perhaps_copied(f"{days:g} days later", encode(pixels, other), rng), first)
    how, moved = _next_frame(light, rng)
    pixels = develop(moved, spec.film, spec.seed + 1 + int(rng.integers(1 << 20)))
    yield Pair("exposure", family, *_perhaps_copied(how, encode(pixels, spec), rng), first)
    other = _somebody_else(spec, rng)
    pixels = develop(_light(other), other.film, other.seed)
    yield Pair("exposure", family, *_perhaps_copied("somebody else", encode(pixels, other), rng), first)


def _light(spec: SceneSpec) -> np.ndarray:
    pose: Pose = true_pose(spec, aspect_at(spec.when_utc, spec.place))
    return np.asarray(with_sky(moonlight(spec, pose), spec, pose))


def _next_frame(light: np.ndarray, rng: np.random.Generator) -> tuple[str, np.ndarray]:
    """Another frame of the same camera: not moved, moved by less than a pixel, or drifted and turned."""
    height, width = light.shape[:2]
    case = int(rng.integers(4))
    if case == 0:
        return "same camera, not moved", light
    shift, turn = (rng.uniform(-0.8, 0.8, 2), 0.0) if case == 1 else (rng.uniform(-40, 40, 2), rng.uniform(-0.3, 0.3))
    matrix = cv2.getRotationMatrix2D((width / 2, height / 2), float(turn), 1.0)
    matrix[:, 2] += shift
    moved = cv2.warpAffine(light, matrix, (width, height), flags=cv2.INTER_LANCZOS4, borderMode=cv2.BORDER_REPLICATE)
    return f"same camera, moved {np.hypot(*shift):.1f} px, turned {turn:.2f} deg", np.maximum(moved, 0.0)


def _somebody_else(spec: SceneSpec, rng: np.random.Generator) -> SceneSpec:
    """Another camera beside the first, within ten minutes."""
    film = replace(
        spec.film, gain=spec.film.gain * rng.uniform(0.8, 1.25), contrast=rng.uniform(-0.1, 0.4),
        sharpen=rng.uniform(0, 0.9), shot=rng.uniform(0.006, 0.02), grain_px=rng.uniform(0, 1.2),
    )  # fmt: skip
    size = rng.uniform(0.85, 1.15)
    return replace(
        spec, when_utc=spec.when_utc + timedelta(minutes=float(rng.uniform(-10, 10))), film=film,
        x=spec.x + rng.uniform(-60, 60), y=spec.y + rng.uniform(-60, 60), radius_px=spec.radius_px * size,
        north_screen_deg=(spec.north_screen_deg + rng.uniform(-8, 8)) % 360,
        mirrored=spec.mirrored ^ bool(rng.random() < 0.2),
        optics=replace(spec.optics, blur_px=spec.optics.blur_px * rng.uniform(0.8, 1.3)),
        seed=spec.seed + 1 + int(rng.integers(1 << 20)),
    )  # fmt: skip


def _perhaps_copied(how: str, data: bytes, rng: np.random.Generator) -> tuple[str, bytes]:
    if rng.random() < 0.5:
        return how, data
    more, data = copied(data, rng)
    return f"{how}; {more}", data


def copied(data: bytes, rng: np.random.Generator) -> tuple[str, bytes]:
    """One way in which a file becomes another that shows the same picture, and that file."""
    shown = ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("RGB")
    stored = Image.open(io.BytesIO(data)).convert("RGB")
    way = str(rng.choice(list(_WAYS), p=[share for share, _ in _WAYS.values()]))
    return _WAYS[way][1](shown, stored, rng)


def _saved(image: Image.Image, quality: int, media: str = "JPEG") -> bytes:
    out = io.BytesIO()
    image.save(out, media, **({} if media == "PNG" else {"quality": quality}))
    return out.getvalue()


def _resized(image: Image.Image, share: float, rng: np.random.Generator) -> tuple[str, Image.Image]:
    size = max(round(image.width * share), 16), max(round(image.height * share), 16)
    chosen = FILTERS[int(rng.integers(len(FILTERS)))]
    return f"{size[0]} px wide ({chosen.name.lower()})", image.resize(size, chosen)


def _cropped(image: Image.Image, rng: np.random.Generator) -> Image.Image:
    """At most a tenth off each side."""
    left, top, right, bottom = (int(rng.uniform(0, 0.1) * s) for s in (image.width, image.height) * 2)
    return image.crop((left, top, image.width - right, image.height - bottom))


def _recompress(shown: Image.Image, stored: Image.Image, rng: np.random.Generator) -> tuple[str, bytes]:
    quality = int(rng.integers(30, 96))
    return f"recompressed q{quality}", _saved(shown, quality)


def _resize(shown: Image.Image, stored: Image.Image, rng: np.random.Generator) -> tuple[str, bytes]:
    quality = int(rng.integers(60, 96))
    how, small = _resized(shown, float(rng.uniform(0.3, 1.0)), rng)
    return f"resized {how} q{quality}", _saved(small, quality)


def _crop(shown: Image.Image, stored: Image.Image, rng: np.random.Generator) -> tuple[str, bytes]:
    quality = int(rng.integers(60, 96))
    return f"cropped q{quality}", _saved(_cropped(shown, rng), quality)


def _crop_resize(shown: Image.Image, stored: Image.Image, rng: np.random.Generator) -> tuple[str, bytes]:
    quality = int(rng.integers(70, 96))
    how, small = _resized(_cropped(shown, rng), float(rng.uniform(0.5, 1.0)), rng)
    return f"cropped and resized {how} q{quality}", _saved(small, quality)


def _strip(shown: Image.Image, stored: Image.Image, rng: np.random.Generator) -> tuple[str, bytes]:
    """Metadata gone, and with it the turn: the picture may lie on its side."""
    return "stripped q92", _saved(stored, 92)


def _messenger(shown: Image.Image, stored: Image.Image, rng: np.random.Generator) -> tuple[str, bytes]:
    longest = int(rng.choice([1280, 1440, 1600, 2048]))
    how, small = _resized(shown, min(longest / max(shown.size), 1.0), rng)
    return f"messenger {how} q75", _saved(small, 75)


def _other_format(shown: Image.Image, stored: Image.Image, rng: np.random.Generator) -> tuple[str, bytes]:
    media = str(rng.choice(["PNG", "WEBP"]))
    return f"saved as {media.lower()}", _saved(shown, int(rng.integers(75, 95)), media)


def _turned(shown: Image.Image, stored: Image.Image, rng: np.random.Generator) -> tuple[str, bytes]:
    turn = list(Image.Transpose)[int(rng.integers(len(Image.Transpose)))]
    quality = int(rng.integers(80, 96))
    return f"{turn.name.lower()} q{quality}", _saved(shown.transpose(turn), quality)


_WAYS: dict[str, tuple[float, Any]] = {
    "recompress": (0.2, _recompress), "resize": (0.22, _resize), "crop": (0.14, _crop),
    "crop_resize": (0.08, _crop_resize), "strip": (0.06, _strip), "messenger": (0.18, _messenger),
    "format": (0.04, _other_format), "turned": (0.08, _turned),
}  # fmt: skip
