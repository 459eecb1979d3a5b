"""Families that are hard to place or to judge: bent, doubled, cut, eclipsed, tiny, dim; and such as disturb the light.

`HARDER` bends or hides the Moon, or says nothing of when it was; `DISTURBED` leaves every feature where it is, the
clock right, and changes the light that a time could be read from.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import numpy as np

from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.earth_shadow import EclipseState, eclipse_state, shadow_at
from moondesk.ephemeris.phases import principal_phases
from moondesk.records import Aspect, Place
from tests.scenes.bending import Afocal, Keystone, Shear, Stitch, Wobble
from tests.scenes.drawing import PLACES, Draw, Night, any_night, bare_tags, between, ordinary, uniform
from tests.scenes.spec import Disturbance, FieldStop, Film, Optics, SceneSpec, Sky

UTC_2015, UTC_2030 = datetime.fromisoformat("2015-01-01T00:00Z"), datetime.fromisoformat("2030-01-01T00:00Z")
#: The state of the eclipse that a family shows.
ECLIPSES: dict[str, EclipseState] = {"partial": "partial", "total": "total", "penumbral": "penumbral"}


def harder_spec(rng: np.random.Generator, family: str) -> tuple[SceneSpec, Night]:
    """A spec of one of these families, north not turned yet. A quarter of `HARDER` come without any EXIF."""
    if family in ECLIPSES:
        night = eclipse_night(rng, ECLIPSES[family])
    else:
        night = any_night(rng, PHASES.get(family, (8, 125)), (12.0, 90.0))
    spec = ordinary(rng, family, night, 1280, 960)
    if family in HARDER and rng.random() < 0.25:
        spec = replace(spec, tags=bare_tags(spec.tags.quality))
    return {**HARDER, **DISTURBED}[family](rng, spec, night.aspect), night


@cache
def _eclipses() -> tuple[tuple[datetime, EclipseState], ...]:
    """Instants of the full Moons of 2015 to 2029 that meet the shadow, near greatest eclipse, and the state then."""
    full = [p.utc for p in principal_phases(UTC_2015, UTC_2030) if p.kind == "full"]
    return tuple((when, eclipse_state(when)) for when in full if eclipse_state(when) != "none")


def eclipse_night(rng: np.random.Generator, wanted: EclipseState) -> Night:
    """An instant at which the eclipse is in that state and can be seen from a place with the Moon up."""
    order = ("penumbral", "partial", "total")  # each eclipse passes through the states before its deepest
    able = [when for when, deepest in _eclipses() if order.index(deepest) >= order.index(wanted)]
    while True:
        when = able[rng.integers(len(able))] + timedelta(minutes=uniform(rng, -170, 170))
        lat, lon, zone = PLACES[rng.integers(len(PLACES))]
        # a shallower eclipse is an ordinary full Moon
        least = {"penumbral": -0.65, "partial": 0.05, "total": 1.0}[wanted]
        if eclipse_state(when) != wanted or _in_umbra(when) < least:
            continue
        aspect = aspect_at(when, Place(lat, lon))
        assert aspect.altitude_deg is not None
        if aspect.altitude_deg > 12.0:
            return Night(when, Place(lat, lon), zone, aspect)


def _in_umbra(when_utc: datetime) -> float:
    """The eclipse's magnitude at an instant: the share of the Moon's diameter in the umbra, below 0 outside it."""
    shadow = shadow_at(when_utc)
    return (shadow.umbra_deg + shadow.semidiameter_deg - shadow.separation_deg) / (2 * shadow.semidiameter_deg)


def _afocal(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    turn, away = rng.uniform(0, 2 * np.pi), rng.uniform(0.1, 0.5) * spec.radius_px
    x, y = float(spec.x + away * np.cos(turn)), float(spec.y + away * np.sin(turn))
    field = uniform(rng, 1.15, 1.6) * spec.radius_px
    bend = Afocal(
        x, y, field, k1=uniform(rng, -0.09, 0.05), k2=uniform(rng, -0.01, 0.01),
        p1=uniform(rng, -0.02, 0.02), p2=uniform(rng, -0.02, 0.02),
    )  # fmt: skip
    sky = spec.sky
    if rng.random() < 0.6:
        stop = FieldStop(x, y, field, uniform(rng, 1, 5), uniform(rng, 0.004, 0.03))
        sky = Sky(background=0.0004, field_stop=stop)
    return replace(spec, bend=bend, sky=sky)


def _tilt(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    r = spec.radius_px
    bend = Keystone(
        spec.x + uniform(rng, -0.4, 0.4) * r, spec.y + uniform(rng, -0.4, 0.4) * r, r, uniform(rng, 0.05, 0.09),
        uniform(rng, 0, 360),
    )  # fmt: skip
    return replace(spec, bend=bend)


def _shear(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    shear, stretch = uniform(rng, 0.02, 0.045), uniform(rng, 0.015, 0.04)
    signs = rng.choice([-1, 1], 2)
    return replace(spec, bend=Shear(spec.x, spec.y, float(signs[0] * shear), float(1 + signs[1] * stretch)))


def _double(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    turn, apart = rng.uniform(0, 2 * np.pi), rng.uniform(0.015, 0.028) * spec.radius_px
    twice = float(apart * np.cos(turn)), float(apart * np.sin(turn))
    wanted = Disturbance(twice_px=twice, first_share=uniform(rng, 0.4, 0.6))
    return replace(spec, disturbance=wanted, optics=Optics(uniform(rng, 0.7, 1.3)))


def _wobble(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    """Waves a half to three radii long; together they move rows by up to 0.5 to 1.2 %R."""
    most, shares = rng.uniform(0.005, 0.012) * spec.radius_px, rng.dirichlet((2, 2, 2))
    waves = []
    for share in shares:
        turn, length = rng.uniform(0, 2 * np.pi), rng.uniform(0.5, 3.0) * spec.radius_px
        amplitude = float(share * most)
        waves.append((float(amplitude * np.cos(turn)), float(0.5 * amplitude * np.sin(turn)), float(length),
                      uniform(rng, 0, 1)))  # fmt: skip
    return replace(spec, bend=Wobble(tuple(waves)))


def _chroma(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    optics = Optics(
        uniform(rng, 0.7, 1.6), dispersion_px=uniform(rng, 1.0, 4.5), dispersion_screen_deg=uniform(rng, 0, 360)
    )
    return replace(spec, optics=optics)


def _stopcut(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    """The field shows a good part of the disc and lies over ground that is lit."""
    radius, turn = spec.radius_px, rng.uniform(0, 2 * np.pi)
    away = rng.uniform(0.05, 0.5) * radius
    stop = FieldStop(
        float(spec.x + away * np.cos(turn)), float(spec.y + away * np.sin(turn)), uniform(rng, 0.65, 0.9) * radius,
        uniform(rng, 1, 4), uniform(rng, 0.004, 0.03),
    )  # fmt: skip
    return replace(spec, sky=Sky(background=0.0004, field_stop=stop))


def _stitch(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    r = spec.radius_px
    bend = Stitch(
        spec.x + uniform(rng, -0.3, 0.3) * r, spec.y + uniform(rng, -0.1, 0.45) * r, uniform(rng, 1.015, 1.05),
        uniform(rng, -0.02, 0.02) * r, uniform(rng, -0.015, 0.015) * r,
    )  # fmt: skip
    return replace(spec, bend=bend)


def _partial(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    """Exposed for the umbra's red, so that the rest is burnt out, or for the rest, so that the umbra is black."""
    for_umbra = rng.random() < 0.5 or _in_umbra(spec.when_utc) > 0.7
    gain = float(np.exp(rng.uniform(np.log(400), np.log(1800)))) if for_umbra else uniform(rng, 0.8, 3.0)
    return _eclipsed(spec, gain)


def _total(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return _eclipsed(spec, float(np.exp(rng.uniform(np.log(700), np.log(1800)))))


def _penumbral(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return _eclipsed(spec, spec.film.gain)


def _eclipsed(spec: SceneSpec, gain: float) -> SceneSpec:
    return replace(spec, eclipsed=True, film=replace(spec.film, gain=gain))


def _minute(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    radius = uniform(rng, 15, 40)
    return replace(
        spec, radius_px=radius, x=between(rng, radius + 20, spec.width), y=between(rng, radius + 20, spec.height),
        optics=Optics(uniform(rng, 0.6, 1.1)),
    )  # fmt: skip


def _blurred(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    return replace(spec, optics=Optics(uniform(rng, 0.02, 0.04) * spec.radius_px))


def _faint(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    film: Film = replace(spec.film, gain=uniform(rng, 0.07, 0.13), contrast=0.0)
    return replace(spec, film=film)


def _undated(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    came = spec.when_utc + timedelta(days=uniform(rng, 250, 9 * 365))
    return replace(
        spec, radius_px=uniform(rng, 1000, 1700), tags=bare_tags(spec.tags.quality), mirrored=bool(rng.random() < 0.4),
        received_utc=came.replace(microsecond=0),
    )  # fmt: skip


def _halo(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    """Wide glow, or the ring and the flattened light of a phone's high dynamic range, or both."""
    kind = int(rng.integers(3))
    if kind != 1:
        sky = replace(spec.sky, haze=uniform(rng, 0.15, 0.9), haze_radius=uniform(rng, 0.2, 1.2))
        spec = replace(spec, sky=sky)
    if kind != 0:
        local, local_px = uniform(rng, 0.2, 1.3), uniform(rng, 0.08, 0.6) * spec.radius_px
        spec = replace(spec, film=replace(spec.film, local=local, local_px=local_px))
    return spec


def _starburst(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    wanted = Disturbance(
        rays=int(rng.choice([4, 6, 8, 14])), ray_share=uniform(rng, 0.05, 0.8), ray_screen_deg=uniform(rng, 0, 90)
    )
    return replace(spec, disturbance=wanted, film=replace(spec.film, gain=uniform(rng, 0.8, 2.4)))


def _vignette(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    wanted = Disturbance(
        vignette=uniform(rng, 0.4, 0.97), vignette_x=uniform(rng, 0.0, 1.0), vignette_y=uniform(rng, 0.0, 1.0)
    )
    return replace(spec, disturbance=wanted)


def _pasted(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    if rng.random() < 0.5:
        return replace(spec, disturbance=Disturbance(invented=uniform(rng, 0.04, 0.15)))
    sun = float(rng.choice([-1, 1]) * rng.uniform(8, 50))
    return replace(spec, disturbance=Disturbance(pasted=uniform(rng, 0.4, 1.0), pasted_sun_deg=sun))


def _clouds(rng: np.random.Generator, spec: SceneSpec, aspect: Aspect) -> SceneSpec:
    wanted = Disturbance(clouds=uniform(rng, 0.7, 3.5), clouds_screen_deg=uniform(rng, 0, 180))
    return replace(spec, disturbance=wanted, film=replace(spec.film, gain=uniform(rng, 1.0, 1.8)))


HARDER: dict[str, Draw] = {
    "afocal": _afocal, "tilt": _tilt, "shear": _shear, "double": _double, "wobble": _wobble, "chroma": _chroma,
    "stopcut": _stopcut, "stitch": _stitch, "partial": _partial, "total": _total, "penumbral": _penumbral,
    "minute": _minute, "blurred": _blurred, "faint": _faint, "undated": _undated,
}  # fmt: skip
DISTURBED: dict[str, Draw] = {
    "halo": _halo, "starburst": _starburst, "vignette": _vignette, "pasted": _pasted, "clouds": _clouds,
}  # fmt: skip
#: Phase angles, degrees, that a family keeps to.
PHASES = {"minute": (8, 110), "undated": (25, 115), "stopcut": (8, 110)}
