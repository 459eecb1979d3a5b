"""What the families of scenes share: where and when a picture is taken, an ordinary spec, small draws from a seed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.geometry import bright_limb_screen_deg
from moondesk.records import Aspect, Place
from tests.scenes.rendering import true_pose
from tests.scenes.spec import FileTags, Film, Optics, SceneSpec, Sky

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


@dataclass(frozen=True)
class Night:
    """When and where a picture is taken, the zone of the clocks there, and how the Moon stands."""

    when_utc: datetime
    place: Place
    zone: str
    aspect: Aspect


def any_night(rng: np.random.Generator, phases: tuple[float, float], altitudes: tuple[float, float]) -> Night:
    """A random instant of 2026 to 2028 with the phase angle and the Moon's altitude, degrees, within those limits."""
    lat, lon, zone = PLACES[rng.integers(len(PLACES))]
    place = Place(lat, lon)
    while True:
        when = datetime(2026, 1, 3, tzinfo=UTC) + timedelta(seconds=uniform(rng, 0, 3 * 365 * 86400))
        aspect = aspect_at(when, place)
        assert aspect.altitude_deg is not None
        if phases[0] <= aspect.phase_angle_deg <= phases[1] and altitudes[0] <= aspect.altitude_deg <= altitudes[1]:
            return Night(when, place, zone, aspect)


def ordinary(rng: np.random.Generator, family: str, night: Night, longer_px: int, shorter_px: int) -> SceneSpec:
    """A whole disc in a plain photograph of that night with its date in the file; north is not turned yet."""
    when, place = night.when_utc, night.place
    upright = rng.random() < 0.4
    width, height = (shorter_px, longer_px) if upright else (longer_px, shorter_px)
    radius = uniform(rng, 260, 520) * (shorter_px / 1200)
    mirrored = bool(rng.random() < 0.35)
    local = when.astimezone(ZoneInfo(night.zone)).utcoffset()
    assert local is not None
    known_place = rng.random() < 0.65
    tags = FileTags(
        quality=int(rng.integers(78, 95)), orientation=int(rng.choice([1, 3, 6, 8], p=[0.75, 0.08, 0.09, 0.08])),
        offset=bool(rng.random() < 0.65 or not known_place), place=bool(known_place),
        zone_hours=local.total_seconds() / 3600, model=f"C{rng.integers(3, 9)}",
    )  # fmt: skip
    film = Film(
        gain=uniform(rng, 0.75, 1.05), contrast=uniform(rng, -0.1, 0.4), sharpen=uniform(rng, 0, 0.9),
        shot=uniform(rng, 0.006, 0.02), read=uniform(rng, 0.0004, 0.0016), grain_px=uniform(rng, 0, 1.2),
        cast=cast(rng, 0.035),
    )  # fmt: skip
    return SceneSpec(
        when, place,
        x=between(rng, radius, width), y=between(rng, radius, height), radius_px=radius, mirrored=mirrored,
        width=width, height=height, family=family, seed=int(rng.integers(1 << 30)),
        law="hapke" if rng.random() < 0.6 else "lunar-lambert", lambert=uniform(rng, 0.1, 0.5),
        optics=Optics(blur_px=uniform(rng, 0.7, 2.2)), sky=Sky(background=uniform(rng, 0.0008, 0.006)),
        film=film, tags=tags, received_utc=(when + timedelta(hours=uniform(rng, 0.3, 30))).replace(microsecond=0),
    )  # fmt: skip


def uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(rng.uniform(low, high))


def between(rng: np.random.Generator, radius: float, side: int) -> float:
    """A centre such that the disc, or nearly all of it, lies inside that side of the frame."""
    low, high = radius + 12, side - radius - 12
    return uniform(rng, low, high) if high > low else side / 2 + uniform(rng, -15, 15)


def cast(rng: np.random.Generator, spread: float) -> tuple[float, float, float]:
    r, g, b = 1.0 + rng.normal(0, spread, 3)
    return float(r), float(g), float(b)


def bare_tags(quality: int) -> FileTags:
    """A file that tells nothing of when, where and by what it was taken, as messengers leave it."""
    return FileTags(quality=quality, time=False, offset=False, place=False, make=None, model=None)


def on_terminator(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    """Moves the disc so that the frame's middle lies on the terminator or a little to its sunny side."""
    bright = np.radians(bright_limb_screen_deg(true_pose(spec, aspect)))
    sunward, aside = np.array([-np.sin(bright), -np.cos(bright)]), np.array([np.cos(bright), -np.sin(bright)])
    along = rng.uniform(-0.6, 0.6)
    across = -np.cos(np.radians(aspect.phase_angle_deg)) * np.sqrt(1 - along**2) + rng.uniform(0.0, 0.35)
    away = spec.radius_px * (along * aside + across * sunward)
    return replace(spec, x=float(spec.width / 2 - away[0]), y=float(spec.height / 2 - away[1]))
