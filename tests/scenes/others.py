"""Round and bright things that are not the Moon: `render_other(kind, seed)` gives a photograph of one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import cv2
import numpy as np

from moondesk.records import Place
from tests.scenes.develop import develop, encode
from tests.scenes.spec import FileTags, Film, SceneSpec


@dataclass(frozen=True, eq=False)
class _Disc:
    """A circle in the frame: (H, W) x and y in radii (y up), r, and its soft cover 0..1."""

    x: np.ndarray
    y: np.ndarray
    r: np.ndarray
    cover: np.ndarray
    centre: tuple[float, float]
    radius: float


Painter = Callable[[np.random.Generator, _Disc], np.ndarray]


def render_other(
    kind: str, seed: int, width: int = 1600, height: int = 1200, tags: FileTags | None = None,
    when_utc: datetime = datetime(2026, 10, 20, 19, 0, tzinfo=UTC), place: Place | None = None,
) -> bytes:  # fmt: skip
    """A JPEG (or what `tags` says) of a lamp, ball, plate, coin, clock, planet, sun, window, empty field or stars.

    kind: one of KINDS, else ValueError. The picture is 1600 by 1200 by default; radius, place and colours follow from
    the seed.
    """
    if kind not in KINDS:
        raise ValueError(f"unknown kind {kind!r}: one of {', '.join(KINDS)}")
    rng = np.random.default_rng([seed, list(KINDS).index(kind)])
    small = kind in ("planet", "giant")
    radius = float(rng.uniform(12, 90 if kind == "planet" else 40) if small else rng.uniform(0.14, 0.4) * height)
    cx, cy = (float(rng.uniform(min(radius * 1.1, s / 2), max(s - radius * 1.1, s / 2))) for s in (width, height))
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    x, y = (x - cx) / radius, -(y - cy) / radius
    r = np.hypot(x, y)
    disc = _Disc(x, y, r, np.clip((1 - r) * radius + 0.5, 0, 1), (cx, cy), radius)
    light = KINDS[kind](rng, disc)
    light = cv2.GaussianBlur(light.astype(np.float32), (0, 0), float(rng.uniform(0.8, 2.0)))
    film = Film(
        contrast=float(rng.uniform(0, 0.3)), sharpen=float(rng.uniform(0, 0.6)), shot=0.015, read=0.0015, bloom=0.15
    )
    spec = SceneSpec(
        when_utc, place or Place(0.0, 0.0), cx, cy, radius, width=width, height=height, seed=seed,
        tags=tags or FileTags(quality=85, place=False),
    )  # fmt: skip
    return encode(develop(light, film, seed), spec)


def _rgb(*values: float) -> np.ndarray:
    return np.array(values, np.float32)


def _clouds(rng: np.random.Generator, shape: tuple[int, ...], sizes: tuple[int, ...] = (4, 9, 20, 50)) -> np.ndarray:
    """Smooth random texture, mean 0, deviation about 1."""
    total = np.zeros(shape[:2], np.float32)
    for n in sizes:
        coarse = rng.normal(size=(n, n)).astype(np.float32)
        total += cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC) * (3.0 / n) ** 0.5
    return total / max(float(total.std()), 1e-6)


def _room(rng: np.random.Generator, disc: _Disc, level: float) -> np.ndarray:
    """A soft wall or table behind the thing."""
    shade = level * (1.0 + 0.25 * _clouds(rng, disc.r.shape, (3, 5)) + 0.1 * _clouds(rng, disc.r.shape, (60, 200)))
    return np.maximum(shade, 0.0)[..., None] * _rgb(1.0, rng.uniform(0.8, 1.0), rng.uniform(0.6, 1.0))


def _over(back: np.ndarray, disc: _Disc, paint: np.ndarray) -> np.ndarray:
    return back * (1 - disc.cover[..., None]) + paint * disc.cover[..., None]


def _lamp(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A street lamp's globe on its post, glowing, with halo."""
    warm = _rgb(1.0, rng.uniform(0.6, 0.9), rng.uniform(0.25, 0.7))
    glow = 0.12 * np.exp(-np.maximum(disc.r - 1, 0) * 1.6) + 0.006
    globe = rng.uniform(0.7, 1.6) * (0.55 + 0.45 * np.sqrt(np.maximum(1 - disc.r**2, 0)))
    light = _over(glow[..., None] * warm, disc, globe[..., None] * warm)
    post = np.clip((rng.uniform(0.06, 0.12) - np.abs(disc.x)) * disc.radius, 0, 1) * (disc.y < -0.96)
    cap = np.clip((0.42 - np.abs(disc.x)) * disc.radius, 0, 1) * (np.abs(disc.y + 1.02) < 0.1)
    dark = np.maximum(post, cap)[..., None]
    return light * (1 - dark) + dark * 0.008


def _ball(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A ball lit from one side, with a shiny spot and perhaps seams."""
    w = np.sqrt(np.maximum(1 - disc.r**2, 0))
    sun = rng.normal(size=3)
    sun[2] = abs(sun[2]) + 0.3
    sun /= np.linalg.norm(sun)
    cosine = np.maximum(disc.x * sun[0] + disc.y * sun[1] + w * sun[2], 0)
    shine = 0.8 * np.maximum(2 * cosine * w - sun[2], 0) ** 40
    colour = _rgb(*rng.uniform(0.35, 0.95, 3)) if rng.random() < 0.5 else _rgb(0.8, 0.8, 0.75)
    paint = (0.06 + 0.85 * cosine)[..., None] * colour
    if rng.random() < 0.5:
        a, b = disc.x * np.cos(1.0) + disc.y * np.sin(1.0), w
        seam = np.abs(np.sin(3 * np.arctan2(a, b))) < 0.06
        paint = paint * (1 - 0.7 * seam[..., None])
    return _over(_room(rng, disc, rng.choice([0.004, 0.08])), disc, paint + shine[..., None])


def _plate(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A plate from above: a rim, a well, leftovers, on a dark table."""
    rim = 0.75 + 0.1 * np.cos(disc.r * 30) * (disc.r > 0.68) - 0.12 * np.exp(-(((disc.r - 0.68) / 0.03) ** 2))
    paint = rim[..., None] * _rgb(1.0, 0.98, 0.93) * (1 + 0.12 * (disc.x + disc.y))[..., None]
    for _ in range(int(rng.integers(0, 5))):
        at, size = rng.uniform(-0.45, 0.45, 2), rng.uniform(0.06, 0.25)
        wobble = 1 + 0.2 * _clouds(rng, disc.r.shape, (12,))
        blob = np.hypot(disc.x - at[0], disc.y - at[1]) < size * wobble
        paint = np.where(blob[..., None], _rgb(*rng.uniform(0.1, 0.7, 3)), paint)
    return _over(_room(rng, disc, 0.05), disc, paint)


def _coin(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A worn coin: raised rim, numerals, scratches, lit from a side."""
    drawn = np.zeros(disc.r.shape, np.uint8)
    cv2.circle(drawn, (int(disc.centre[0]), int(disc.centre[1])), int(disc.radius * 0.93), 255, int(disc.radius * 0.05))
    text, scale = str(rng.choice(["1", "2", "5", "10", "50"])), disc.radius / 26
    (w, h), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_DUPLEX, scale, int(disc.radius * 0.08))
    where = (int(disc.centre[0] - w / 2), int(disc.centre[1] + h / 2))
    cv2.putText(drawn, text, where, cv2.FONT_HERSHEY_DUPLEX, scale, 255, int(disc.radius * 0.08), cv2.LINE_AA)
    relief = cv2.GaussianBlur(drawn / np.float32(255), (0, 0), disc.radius * 0.015)
    relief += 0.02 * _clouds(rng, disc.r.shape, (80, 200))
    slope_y, slope_x = np.gradient(relief)
    turn = rng.uniform(0, 2 * np.pi)
    shade = 0.4 + 0.12 * disc.radius / 10 * (np.cos(turn) * slope_x + np.sin(turn) * slope_y)
    metal = _rgb(1.0, 0.85, 0.5) if rng.random() < 0.5 else _rgb(0.85, 0.87, 0.9)
    return _over(_room(rng, disc, rng.choice([0.004, 0.1])), disc, np.maximum(shade, 0.02)[..., None] * metal)


def _clock(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A lit station clock at night: strokes and two hands."""
    angle = np.arctan2(disc.x, disc.y)
    paint = np.full(disc.r.shape, 0.8, np.float32) * (0.9 + 0.1 * np.sqrt(np.maximum(1 - disc.r**2, 0)))
    stroke = (np.abs((np.degrees(angle) + 15) % 30 - 15) * disc.r < 1.6) & (disc.r > 0.78) & (disc.r < 0.94)
    paint[stroke | ((disc.r > 0.96) & (disc.r <= 1.0))] = 0.01
    for length, half in ((0.55, 0.035), (0.85, 0.022)):
        t = rng.uniform(0, 2 * np.pi)
        along, across = disc.x * np.sin(t) + disc.y * np.cos(t), disc.x * np.cos(t) - disc.y * np.sin(t)
        paint[(along > -0.12) & (along < length) & (np.abs(across) < half)] = 0.01
    glow = 0.02 * np.exp(-np.maximum(disc.r - 1, 0) * 2) + 0.003
    return _over(glow[..., None] * _rgb(1, 0.9, 0.7), disc, paint[..., None] * _rgb(1, 0.95, 0.8))


def _planet(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A banded, flattened, softly darkened disc, perhaps with a ring."""
    t, flat = rng.uniform(0, np.pi), rng.uniform(0.0, 0.1)
    a, b = disc.x * np.cos(t) + disc.y * np.sin(t), (disc.y * np.cos(t) - disc.x * np.sin(t)) / (1 - flat)
    r = np.hypot(a, b)
    cover = np.clip((1 - r) * disc.radius + 0.5, 0, 1)
    bands = 1 + 0.18 * np.sin(b * rng.uniform(8, 16) + rng.uniform(0, 6)) + 0.1 * np.sin(b * 25)
    paint = 0.7 * bands * np.maximum(1 - r * r, 0.05) ** 0.3
    light = (paint * cover)[..., None] * _rgb(1.0, rng.uniform(0.75, 0.95), rng.uniform(0.5, 0.8))
    if rng.random() < 0.4:
        ring = np.hypot(a, b / rng.uniform(0.15, 0.4))
        band = np.clip((ring - 1.3) * disc.radius, 0, 1) * np.clip((2.2 - ring) * disc.radius, 0, 1)
        light += (0.45 * band * ((cover < 0.5) | (b < 0)))[..., None] * _rgb(1, 0.9, 0.7)
    return light + 0.001


def _sun(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """The Sun through a filter: limb darkening and spots with penumbrae."""
    mu = np.sqrt(np.maximum(1 - disc.r**2, 0))
    paint = 0.75 * (1 - 0.6 * (1 - mu)) * (1 + 0.01 * _clouds(rng, disc.r.shape, (100, 200)))
    for _ in range(int(rng.integers(0, 7))):
        at, size = rng.uniform(-0.55, 0.55, 2), rng.uniform(0.006, 0.03)
        gap = np.hypot(disc.x - at[0], disc.y - at[1]) / size
        paint *= 1 - 0.45 * (gap < 2.0) - 0.5 * (gap < 1.0)
    green = rng.uniform(0.35, 0.95)
    colour = _rgb(1.0, green, green * rng.uniform(0.05, 0.95))
    return (paint * disc.cover)[..., None] * colour + 0.0015


def _window(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A round lit window with bars in a dark wall."""
    lit = 0.6 * (1 + 0.25 * _clouds(rng, disc.r.shape, (5, 9)))
    bars = (np.abs(disc.x) < 0.04) | (np.abs(disc.y) < 0.04) | (np.abs(disc.r - 0.97) < 0.03)
    paint = np.where(bars, 0.01, np.maximum(lit, 0.05))[..., None] * _rgb(1.0, 0.75, 0.4)
    return _over(_room(rng, disc, 0.006), disc, paint)


def _field(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """An eyepiece's field without the Moon: dim, a little brighter in the middle, perhaps stars and dust."""
    glow = rng.uniform(0.008, 0.04) * (1 - 0.3 * disc.r**2)
    stars = np.zeros(disc.r.shape, np.float32)
    for _ in range(int(rng.integers(0, 12))):
        at, where = rng.uniform(-0.7, 0.7, 2), int(rng.integers(1, 3))
        spot = (int(disc.centre[0] + at[0] * disc.radius), int(disc.centre[1] + at[1] * disc.radius))
        cv2.circle(stars, spot, where, float(rng.uniform(0.05, 0.6)), -1, cv2.LINE_AA)
    return ((np.maximum(glow, 0) + stars) * disc.cover)[..., None] * _rgb(0.95, 1.0, 1.05) + 0.0004


def _giant(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A planet exposed for its moons: burnt out, with two to four dots nearly in line."""
    t, light = rng.uniform(0, np.pi), np.where(disc.r < 1, 3.0, 0.0) * np.maximum(1 - disc.r**2, 0.2) ** 0.3
    light = light * disc.cover + 0.06 * np.exp(-np.maximum(disc.r - 1, 0) * 2.5) + 0.0008
    dots = np.zeros(disc.r.shape, np.float32)
    for _ in range(int(rng.integers(2, 5))):
        along, across = float(rng.choice([-1, 1]) * rng.uniform(2.5, 12)), float(rng.normal(0, 0.15))
        dx, dy = along * np.cos(t) - across * np.sin(t), along * np.sin(t) + across * np.cos(t)
        where = (int(disc.centre[0] + dx * disc.radius), int(disc.centre[1] - dy * disc.radius))
        cv2.circle(dots, where, int(rng.integers(1, 3)), float(rng.uniform(0.2, 1.5)), -1, cv2.LINE_AA)
    return (light + dots)[..., None] * _rgb(1.0, 0.95, 0.85)


def _stars(rng: np.random.Generator, disc: _Disc) -> np.ndarray:
    """A field of stars of many brightnesses, the brightest bloated."""
    light = np.zeros(disc.r.shape, np.float32)
    for flux in rng.pareto(1.1, 400) * 0.05:
        where = (int(rng.integers(0, light.shape[1])), int(rng.integers(0, light.shape[0])))
        cv2.circle(light, where, int(min(1 + 2.5 * flux**0.5, 9)), float(min(flux + 0.02, 3.0)), -1, cv2.LINE_AA)
    return cv2.GaussianBlur(light, (0, 0), 1.5)[..., None] * _rgb(1.0, rng.uniform(0.9, 1.0), 1.0) + 0.001


KINDS: dict[str, Painter] = {
    "lamp": _lamp, "ball": _ball, "plate": _plate, "coin": _coin, "clock": _clock, "planet": _planet, "sun": _sun,
    "window": _window, "field": _field, "giant": _giant, "stars": _stars,
}  # fmt: skip
