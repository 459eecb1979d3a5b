"""Seventeen families of pictures as viewers send them: `spec_of(family, seed)` draws one from a seed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from annotate.moon.geometry import bright_limb_screen_deg
from annotate.records import Aspect, Place
from annotate.sky.ephemeris import aspect_at
from tests.scenes.rendering import north_on_screen, true_pose
from tests.scenes.spec import FieldStop, FileTags, Film, Optics, SceneSpec, Sky

#: Observers on all continents (rounded towns' coordinates) with the zone that their clocks keep.
PLACES = (
    (60.2, 24.9, "Europe/Helsinki"), (38.7, -9.1, "Europe/Lisbon"), (50.1, 14.4, "Europe/Prague"),
    (30.0, 31.2, "Africa/Cairo"), (-1.3, 36.8, "Africa/Nairobi"), (-26.2, 28.0, "Africa/Johannesburg"),
    (22.6, 88.4, "Asia/Kolkata"), (13.8, 100.5, "Asia/Bangkok"), (37.6, 127.0, "Asia/Seoul"),
    (-31.9, 115.9, "Australia/Perth"), (-41.3, 174.8, "Pacific/Auckland"), (45.5, -73.6, "America/Toronto"),
    (19.4, -99.1, "America/Mexico_City"), (-34.6, -58.4, "America/Argentina/Buenos_Aires"),
    (61.2, -149.9, "America/Anchorage"),
)  # fmt: skip

Draw = Callable[[np.random.Generator, SceneSpec, Aspect], SceneSpec]


def spec_of(family: str, seed: int) -> SceneSpec:
    """A random spec of that family. Raises ValueError for an unknown family."""
    if family not in FAMILIES:
        raise ValueError(f"unknown family {family!r}: one of {', '.join(FAMILIES)}")
    rng = np.random.default_rng([seed, list(FAMILIES).index(family)])
    lat, lon, zone = PLACES[rng.integers(len(PLACES))]
    place = Place(lat, lon)
    phases, altitudes = PHASES.get(family, (8, 125)), (2.0, 9.0) if family == "low" else (12.0, 90.0)
    while True:
        when = datetime(2026, 1, 3, tzinfo=UTC) + timedelta(seconds=_u(rng, 0, 3 * 365 * 86400))
        aspect = aspect_at(when, place)
        assert aspect.altitude_deg is not None
        if phases[0] <= aspect.phase_angle_deg <= phases[1] and altitudes[0] <= aspect.altitude_deg <= altitudes[1]:
            break
    upright = rng.random() < 0.4
    width, height = (1200, 1600) if upright else (1600, 1200)
    radius = _u(rng, 260, 520)
    mirrored = bool(rng.random() < 0.35)
    local = when.astimezone(ZoneInfo(zone)).utcoffset()
    assert local is not None
    known_place = rng.random() < 0.65
    tags = FileTags(
        quality=int(rng.integers(78, 95)), orientation=int(rng.choice([1, 3, 6, 8], p=[0.75, 0.08, 0.09, 0.08])),
        offset=bool(rng.random() < 0.65 or not known_place), place=bool(known_place),
        zone_hours=local.total_seconds() / 3600, model=f"C{rng.integers(3, 9)}",
    )  # fmt: skip
    film = Film(
        gain=_u(rng, 0.75, 1.05), contrast=_u(rng, -0.1, 0.4), sharpen=_u(rng, 0, 0.9),
        shot=_u(rng, 0.006, 0.02), read=_u(rng, 0.0004, 0.0016), grain_px=_u(rng, 0, 1.2),
        cast=_cast(rng, 0.035),
    )  # fmt: skip
    spec = SceneSpec(
        when, place,
        x=_between(rng, radius, width), y=_between(rng, radius, height), radius_px=radius, mirrored=mirrored,
        width=width, height=height, family=family, seed=int(rng.integers(1 << 30)),
        law="hapke" if rng.random() < 0.6 else "lunar-lambert", lambert=_u(rng, 0.1, 0.5),
        optics=Optics(blur_px=_u(rng, 0.7, 2.2)), sky=Sky(background=_u(rng, 0.0008, 0.006)),
        film=film, tags=tags, received_utc=(when + timedelta(hours=_u(rng, 0.3, 30))).replace(microsecond=0),
    )  # fmt: skip
    spec = FAMILIES[family](rng, spec, aspect)
    roll = _u(rng, 0, 360)
    if spec.optics.flattening:
        assert aspect.parallactic_deg is not None
        zenith = roll + aspect.parallactic_deg
        shorter = (-zenith if spec.mirrored else zenith) % 180
        spec = replace(spec, optics=replace(spec.optics, flattening_screen_deg=shorter))
    spec = replace(spec, north_screen_deg=north_on_screen(aspect, roll, spec.mirrored))
    return _on_terminator(rng, spec, aspect) if family == "closeup" else spec


def _u(rng: np.random.Generator, low: float, high: float) -> float:
    return float(rng.uniform(low, high))


def _between(rng: np.random.Generator, radius: float, side: int) -> float:
    """A centre such that the disc, or nearly all of it, lies inside that side of the frame."""
    low, high = radius + 12, side - radius - 12
    return _u(rng, low, high) if high > low else side / 2 + _u(rng, -15, 15)


def _cast(rng: np.random.Generator, spread: float) -> tuple[float, float, float]:
    r, g, b = 1.0 + rng.normal(0, spread, 3)
    return float(r), float(g), float(b)


def flattening_at(altitude_deg: float) -> float:
    """Refraction's flattening of a disc: the slope of R = 1' / tan(h + 7.31 / (h + 4.4)) (Bennett 1982)."""

    def refraction_deg(h: float) -> float:
        return 1.0 / np.tan(np.radians(h + 7.31 / (h + 4.4))) / 60.0

    return float(refraction_deg(altitude_deg - 0.25) - refraction_deg(altitude_deg + 0.25)) / 0.5


def _clean(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return spec


def _eyepiece(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius = _u(rng, 260, 430)
    x, y = _between(rng, radius * 1.15, spec.width), _between(rng, radius * 1.15, spec.height)
    turn, away = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.35) * radius
    stop = FieldStop(
        float(x + away * np.cos(turn)), float(y + away * np.sin(turn)), float(rng.uniform(1.15, 1.6) * radius),
        _u(rng, 1, 5), _u(rng, 0.004, 0.04),
    )  # fmt: skip
    return replace(spec, x=x, y=y, radius_px=radius, sky=Sky(background=0.0004, field_stop=stop))


def _small(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius = _u(rng, 26, 110)
    return replace(
        spec, radius_px=radius, x=_between(rng, radius + 40, spec.width), y=_between(rng, radius + 40, spec.height),
        optics=Optics(blur_px=_u(rng, 0.7, 1.4)),
    )  # fmt: skip


def _mirrored(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return replace(spec, mirrored=True)


def _cut(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius, turn = _u(rng, 520, 820), rng.uniform(0, 2 * np.pi)
    away = rng.uniform(0.35, 0.8) * radius
    return replace(
        spec, radius_px=radius, mirrored=bool(rng.random() < 0.2),
        x=float(spec.width / 2 + away * np.cos(turn)), y=float(spec.height / 2 + away * np.sin(turn)),
    )  # fmt: skip


def _closeup(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return replace(spec, radius_px=_u(rng, 1100, 2000), mirrored=bool(rng.random() < 0.4))


def _on_terminator(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    """Moves the disc so that the frame's middle lies on the terminator or a little to its sunny side."""
    bright = np.radians(bright_limb_screen_deg(true_pose(spec, aspect)))
    sunward, aside = np.array([-np.sin(bright), -np.cos(bright)]), np.array([np.cos(bright), -np.sin(bright)])
    along = rng.uniform(-0.6, 0.6)
    across = -np.cos(np.radians(aspect.phase_angle_deg)) * np.sqrt(1 - along**2) + rng.uniform(0.0, 0.35)
    away = spec.radius_px * (along * aside + across * sunward)
    return replace(spec, x=float(spec.width / 2 - away[0]), y=float(spec.height / 2 - away[1]))


def _over(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    film = replace(spec.film, gain=_u(rng, 2.0, 4.5), bloom=_u(rng, 0.1, 0.5))
    return replace(spec, film=film)


def _haze(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    sky = Sky(
        background=_u(rng, 0.01, 0.05), gradient=_u(rng, 0.4, 1.6),
        gradient_screen_deg=_u(rng, 0, 360), haze=_u(rng, 0.15, 0.5),
        haze_radius=_u(rng, 0.25, 0.8),
    )  # fmt: skip
    return replace(spec, sky=sky)


def _crescent(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    earth = _u(rng, 0.004, 0.02) if rng.random() < 0.5 else 0.0
    film = replace(spec.film, gain=_u(rng, 1.0, 2.2))
    return replace(spec, sky=replace(spec.sky, earthshine=earth), film=film)


def _low(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    assert aspect.altitude_deg is not None
    redder = _u(rng, 0.2, 0.6)
    flattening = flattening_at(aspect.altitude_deg)
    return replace(
        spec, film=replace(spec.film, cast=(1.0, 1.0 - 0.45 * redder, 1.0 - redder)),
        optics=replace(spec.optics, flattening=flattening, dispersion_px=_u(rng, 0, 1.5)),
        sky=replace(spec.sky, tint=(1.0, 0.75, 0.55)),
    )  # fmt: skip


def _lens(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    k1 = float(rng.choice([-1, 1]) * rng.uniform(0.02, 0.08))
    return replace(spec, optics=replace(spec.optics, radial_k1=k1))


def _noexif(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    bare = FileTags(quality=spec.tags.quality, time=False, offset=False, place=False, make=None, model=None)
    return replace(spec, tags=bare)


def _wrongclock(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    # slow, or fast by no more than the way to the programme takes: a time after receipt gives itself away
    return replace(spec, tags=replace(spec.tags, clock_error_h=-_u(rng, 8, 60)))


def _daylight(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    sky = Sky(
        background=_u(rng, 0.12, 0.3), tint=(0.62, 0.85, 1.15), gradient=_u(rng, 0, 0.4),
        gradient_screen_deg=_u(rng, 0, 360),
    )  # fmt: skip
    return replace(spec, sky=sky, film=replace(spec.film, gain=_u(rng, 0.35, 0.6), shot=0.006))


def _soft(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    optics = Optics(
        blur_px=_u(rng, 3, 7), motion_px=_u(rng, 0, 4), motion_screen_deg=_u(rng, 0, 180)
    )
    return replace(spec, optics=optics)


def _tiny(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius = _u(rng, 5, 18)
    sky = Sky(
        background=_u(rng, 0.004, 0.03), tint=(0.95, 0.97, 1.05), gradient=_u(rng, 0, 0.8),
        gradient_screen_deg=180.0, haze=0.05, haze_radius=1.5, skyline=_u(rng, 0.08, 0.25),
        ghost=_u(rng, 0.01, 0.06), stars=int(rng.integers(0, 25)),
    )  # fmt: skip
    return replace(
        spec, radius_px=radius, x=float(rng.uniform(0.15, 0.85) * spec.width),
        y=float(rng.uniform(0.1, 0.55) * spec.height),
        sky=sky, film=replace(spec.film, gain=_u(rng, 3, 9), bloom=0.3, shot=0.02, read=0.003),
        optics=Optics(_u(rng, 1, 2), motion_px=_u(rng, 0, 5), motion_screen_deg=_u(rng, 0, 180)),
        mirrored=bool(rng.random() < 0.15),
    )  # fmt: skip


FAMILIES: dict[str, Draw] = {
    "clean": _clean, "eyepiece": _eyepiece, "small": _small, "mirrored": _mirrored, "cut": _cut, "closeup": _closeup,
    "over": _over, "haze": _haze, "crescent": _crescent, "full": _clean, "low": _low, "lens": _lens,
    "noexif": _noexif, "wrongclock": _wrongclock, "daylight": _daylight, "soft": _soft, "tiny": _tiny,
}  # fmt: skip
#: Phase angles, degrees, that a family keeps to.
PHASES = {
    "crescent": (122, 150), "full": (1.6, 15), "closeup": (25, 115), "cut": (10, 110), "small": (8, 110),
    "tiny": (10, 140), "low": (5, 110),
}  # fmt: skip
