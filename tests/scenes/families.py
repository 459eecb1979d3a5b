"""Seventeen families of pictures as viewers send them, and the harder ones: `spec_of(family, seed)` draws one from a
seed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from moondesk.records import Aspect
from tests.scenes.drawing import Draw, any_night, bare_tags, between, on_terminator, ordinary, uniform
from tests.scenes.harder import DISTURBED, HARDER, harder_spec
from tests.scenes.rendering import north_on_screen
from tests.scenes.spec import FieldStop, Optics, SceneSpec, Sky


def spec_of(family: str, seed: int) -> SceneSpec:
    """A random spec of that family. Raises ValueError for an unknown family."""
    if family in FAMILIES:
        rng = np.random.default_rng([seed, list(FAMILIES).index(family)])
        night = any_night(rng, PHASES.get(family, (8, 125)), (2.0, 9.0) if family == "low" else (12.0, 90.0))
        spec = FAMILIES[family](rng, ordinary(rng, family, night, 1600, 1200), night.aspect)
    elif family in HARDER or family in DISTURBED:
        names = [*HARDER, *DISTURBED]
        rng = np.random.default_rng([seed, 100 + names.index(family)])
        spec, night = harder_spec(rng, family)
    else:
        raise ValueError(f"unknown family {family!r}: one of {', '.join([*FAMILIES, *HARDER, *DISTURBED])}")
    roll = uniform(rng, 0, 360)
    if spec.optics.flattening:
        assert night.aspect.parallactic_deg is not None
        zenith = roll + night.aspect.parallactic_deg
        shorter = (-zenith if spec.mirrored else zenith) % 180
        spec = replace(spec, optics=replace(spec.optics, flattening_screen_deg=shorter))
    spec = replace(spec, north_screen_deg=north_on_screen(night.aspect, roll, spec.mirrored))
    return on_terminator(rng, spec, night.aspect) if family in ("closeup", "undated") else spec


def flattening_at(altitude_deg: float) -> float:
    """Refraction's flattening of a disc: the slope of R = 1' / tan(h + 7.31 / (h + 4.4)) (Bennett 1982)."""

    def refraction_deg(h: float) -> float:
        return 1.0 / np.tan(np.radians(h + 7.31 / (h + 4.4))) / 60.0

    return float(refraction_deg(altitude_deg - 0.25) - refraction_deg(altitude_deg + 0.25)) / 0.5


def _clean(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return spec


def _eyepiece(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius = uniform(rng, 260, 430)
    x, y = between(rng, radius * 1.15, spec.width), between(rng, radius * 1.15, spec.height)
    turn, away = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.35) * radius
    stop = FieldStop(
        float(x + away * np.cos(turn)), float(y + away * np.sin(turn)), float(rng.uniform(1.15, 1.6) * radius),
        uniform(rng, 1, 5), uniform(rng, 0.004, 0.04),
    )  # fmt: skip
    return replace(spec, x=x, y=y, radius_px=radius, sky=Sky(background=0.0004, field_stop=stop))


def _small(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius = uniform(rng, 26, 110)
    return replace(
        spec, radius_px=radius, x=between(rng, radius + 40, spec.width), y=between(rng, radius + 40, spec.height),
        optics=Optics(blur_px=uniform(rng, 0.7, 1.4)),
    )  # fmt: skip


def _mirrored(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return replace(spec, mirrored=True)


def _cut(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius, turn = uniform(rng, 520, 820), rng.uniform(0, 2 * np.pi)
    away = rng.uniform(0.35, 0.8) * radius
    return replace(
        spec, radius_px=radius, mirrored=bool(rng.random() < 0.2),
        x=float(spec.width / 2 + away * np.cos(turn)), y=float(spec.height / 2 + away * np.sin(turn)),
    )  # fmt: skip


def _closeup(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return replace(spec, radius_px=uniform(rng, 1100, 2000), mirrored=bool(rng.random() < 0.4))


def _over(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    film = replace(spec.film, gain=uniform(rng, 2.0, 4.5), bloom=uniform(rng, 0.1, 0.5))
    return replace(spec, film=film)


def _haze(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    sky = Sky(
        background=uniform(rng, 0.01, 0.05), gradient=uniform(rng, 0.4, 1.6),
        gradient_screen_deg=uniform(rng, 0, 360), haze=uniform(rng, 0.15, 0.5),
        haze_radius=uniform(rng, 0.25, 0.8),
    )  # fmt: skip
    return replace(spec, sky=sky)


def _crescent(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    earth = uniform(rng, 0.004, 0.02) if rng.random() < 0.5 else 0.0
    film = replace(spec.film, gain=uniform(rng, 1.0, 2.2))
    return replace(spec, sky=replace(spec.sky, earthshine=earth), film=film)


def _low(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    assert aspect.altitude_deg is not None
    redder = uniform(rng, 0.2, 0.6)
    flattening = flattening_at(aspect.altitude_deg)
    return replace(
        spec, film=replace(spec.film, cast=(1.0, 1.0 - 0.45 * redder, 1.0 - redder)),
        optics=replace(spec.optics, flattening=flattening, dispersion_px=uniform(rng, 0, 1.5)),
        sky=replace(spec.sky, tint=(1.0, 0.75, 0.55)),
    )  # fmt: skip


def _lens(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    k1 = float(rng.choice([-1, 1]) * rng.uniform(0.02, 0.08))
    return replace(spec, optics=replace(spec.optics, radial_k1=k1))


def _noexif(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return replace(spec, tags=bare_tags(spec.tags.quality))


def _wrongclock(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    # slow, or fast by no more than the way to the programme takes: a time after receipt gives itself away
    return replace(spec, tags=replace(spec.tags, clock_error_h=-uniform(rng, 8, 60)))


def _daylight(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    sky = Sky(
        background=uniform(rng, 0.12, 0.3), tint=(0.62, 0.85, 1.15), gradient=uniform(rng, 0, 0.4),
        gradient_screen_deg=uniform(rng, 0, 360),
    )  # fmt: skip
    return replace(spec, sky=sky, film=replace(spec.film, gain=uniform(rng, 0.35, 0.6), shot=0.006))


def _soft(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    optics = Optics(blur_px=uniform(rng, 3, 7), motion_px=uniform(rng, 0, 4), motion_screen_deg=uniform(rng, 0, 180))
    return replace(spec, optics=optics)


def _tiny(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius = uniform(rng, 5, 18)
    sky = Sky(
        background=uniform(rng, 0.004, 0.03), tint=(0.95, 0.97, 1.05), gradient=uniform(rng, 0, 0.8),
        gradient_screen_deg=180.0, haze=0.05, haze_radius=1.5, skyline=uniform(rng, 0.08, 0.25),
        ghost=uniform(rng, 0.01, 0.06), stars=int(rng.integers(0, 25)),
    )  # fmt: skip
    return replace(
        spec, radius_px=radius, x=float(rng.uniform(0.15, 0.85) * spec.width),
        y=float(rng.uniform(0.1, 0.55) * spec.height),
        sky=sky, film=replace(spec.film, gain=uniform(rng, 3, 9), bloom=0.3, shot=0.02, read=0.003),
        optics=Optics(uniform(rng, 1, 2), motion_px=uniform(rng, 0, 5), motion_screen_deg=uniform(rng, 0, 180)),
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
