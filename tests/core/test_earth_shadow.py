"""The Earth's shadow on the Moon against published timings, an independent ephemeris and the tests' own renderer."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from moondesk.ephemeris.earth_shadow import cone_at, eclipse_of, eclipses_between, shadow_at, umbral_share
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import unit_vector

# Immersion and emersion of crater centres in the umbra, 3 and 4 March 2007, UT, minutes cut off: NASA (F. Espenak) by
# Danjon's rule, as published by the University of Barcelona.
CRATERS = {
    "Grimaldi": ("21:35", "00:06"),
    "Kepler": ("21:49", "00:13"),
    "Tycho": ("21:49", "00:36"),
    "Copernicus": ("21:57", "00:22"),
    "Manilius": ("22:13", "00:37"),
    "Plato": ("22:23", "00:17"),
    "Langrenus": ("22:27", "01:07"),
    "Proclus": ("22:31", "00:56"),
}
# Contacts P1, U1, U2, greatest, U3, U4, P4 in UT, umbral and penumbral magnitude, as NASA's eclipse pages (F. Espenak)
# give them; from memory.
CONTACTS = [
    ("2022-05-16", "01:32:05 02:27:53 03:29:03 04:11:28 04:53:55 05:55:07 06:50:48", 1.414, 2.373),
    ("2025-03-14", "03:57:28 05:09:40 06:26:06 06:58:47 07:31:26 08:47:56 10:00:09", 1.178, 2.260),
    ("2026-03-03", "08:44:22 09:50:00 11:04:26 11:33:41 12:02:49 13:17:15 14:23:06", 1.151, 2.184),
]


def _passes(lat_deg: float, lon_deg: float, start: datetime, hours: float) -> list[datetime]:
    """When a place on the Moon goes into the umbra and out of it."""
    ground = unit_vector(lat_deg, lon_deg)
    times = [start + timedelta(minutes=k) for k in range(int(hours * 60))]
    gap = np.array([float((c := cone_at(t)).distance(ground)) - c.umbra for t in times])
    found = np.flatnonzero(np.sign(gap[:-1]) != np.sign(gap[1:]))
    return [times[k] + timedelta(minutes=float(gap[k] / (gap[k] - gap[k + 1]))) for k in found]


@pytest.mark.parametrize("name", CRATERS)
def test_craters_go_into_the_umbra_and_out_of_it_within_a_minute(name: str) -> None:
    feature = next(f for f in all_features() if f.name == name)
    into, out = _passes(feature.lat_deg, feature.lon_deg, datetime(2007, 3, 3, 21, 20, tzinfo=UTC), 4.2)
    for found, told, day in ((into, CRATERS[name][0], 3), (out, CRATERS[name][1], 4)):
        hour, minute = (int(k) for k in told.split(":"))
        stated = datetime(2007, 3, day, hour, minute, 30, tzinfo=UTC)
        assert abs((found - stated).total_seconds()) < 90


@pytest.mark.parametrize(("day", "times", "umbral", "penumbral"), CONTACTS)
def test_contacts_and_magnitudes_are_the_published_ones(day: str, times: str, umbral: float, penumbral: float) -> None:
    stated = [datetime.fromisoformat(f"{day}T{t}+00:00") for t in times.split()]
    found = eclipse_of(stated[3])
    assert found is not None
    assert found.state == "total"
    mine = (found.p1, found.u1, found.u2, found.greatest, found.u3, found.u4, found.p4)
    for one, other in zip(mine, stated, strict=True):
        assert one is not None
        assert abs((one - other).total_seconds()) < 30
    assert found.umbral_magnitude == pytest.approx(umbral, abs=0.003)
    assert found.penumbral_magnitude == pytest.approx(penumbral, abs=0.02)


def test_the_eclipses_of_1990_to_2050_are_those_of_skyfield_and_de421() -> None:
    eclipselib = pytest.importorskip("skyfield.eclipselib", reason="the live comparison needs skyfield")
    from skyfield.api import load, load_file

    spec = find_spec("skyfield_data")
    path = Path(spec.origin).parent / "data/de421.bsp" if spec and spec.origin else None
    if path is None or not path.is_file():
        pytest.skip("package skyfield-data (DE421) is not installed")
    ts = load.timescale(builtin=True)
    eph = load_file(str(path))
    try:
        times, _, details = eclipselib.lunar_eclipses(ts.utc(1990, 1, 1), ts.utc(2050, 1, 1), eph)
    finally:
        eph.close()
    span = datetime(1990, 1, 1, tzinfo=UTC), datetime(2050, 1, 1, tzinfo=UTC)
    mine = eclipses_between(*span, umbral=False)
    theirs = [
        (t, float(u))
        for t, u, p in zip(
            times.utc_datetime(), details["umbral_magnitude"], details["penumbral_magnitude"], strict=True
        )
        if p > 0.03  # one that barely touches the penumbra is one by some rules and none by others
    ]
    for when, magnitude in theirs:
        near = min(mine, key=lambda e: abs(e.greatest - when))
        assert abs((near.greatest - when).total_seconds()) < 30
        assert near.umbral_magnitude == pytest.approx(magnitude, abs=0.012)  # it enlarges the shadow in its own way
    assert len(theirs) <= len(mine) <= len(theirs) + 4


def test_light_falls_from_the_free_sun_into_the_umbra() -> None:
    cone = cone_at(datetime(2025, 3, 14, 5, 45, tzinfo=UTC))
    side = np.cross(cone.along, (0.0, 0.0, 1.0))
    out = np.linspace(0.0, cone.penumbra + 0.5, 400)
    light = cone.light(cone.middle + out[:, None] * side / np.linalg.norm(side))
    assert np.all(np.diff(light) >= -1e-12)
    assert light[-1] == 1.0
    assert light[np.searchsorted(out, cone.umbra) - 1] < 0.003
    middle = (cone.umbra + cone.penumbra) / 2
    assert light[np.searchsorted(out, middle)] == pytest.approx(0.5, abs=0.02)


def test_the_share_in_the_umbra_is_that_of_points_thrown_at_random() -> None:
    when = datetime(2025, 3, 14, 5, 40, tzinfo=UTC)
    cone, rng = cone_at(when), np.random.default_rng(1)
    one = np.cross(cone.along, (0.0, 0.0, 1.0))
    one /= np.linalg.norm(one)
    two = np.cross(cone.along, one)
    u, v = rng.uniform(-1, 1, (2, 200_000))
    on_disc = u * u + v * v < 1
    points = u[:, None] * one + v[:, None] * two
    inside = cone.distance(points) < cone.umbra
    assert umbral_share(cone) == pytest.approx(float(inside[on_disc].mean()), abs=0.005)
    assert 0.0 < umbral_share(cone) < 1.0
    assert shadow_at(when).state == "partial"
