"""What came into the light, what lies near the terminator: Sun's heights by DE421, the rest by what must be so."""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from moondesk.comparison.changed_light import GAIN, LightAtPlace, changes, marks_of, near_terminator
from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.catalogue import all_features, find
from moondesk.moon.geometry import sun_altitude_deg
from moondesk.records import Feature, Place, Pose

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
VIENNA = Place(48.2, 16.4)
#: Three evenings after the first quarter of 25 March 2026, 19:18 UTC (USNO).
EVENINGS = tuple(datetime(2026, 3, day, 19, 0, tzinfo=UTC) for day in (26, 27, 28))


def light_of(when: datetime, margin_deg: float = 0.5) -> tuple[LightAtPlace, Pose]:
    a = aspect_at(when, VIENNA)
    pose = Pose(x=500.0, y=500.0, radius_px=480.0, north_screen_deg=0.0, mirrored=False, libration_lat_deg=a.libration_lat_deg, libration_lon_deg=a.libration_lon_deg, sub_solar_lat_deg=a.sub_solar_lat_deg,
                sub_solar_lon_deg=a.sub_solar_lon_deg, distance_radii=a.distance_km / 1737.4)  # fmt: skip
    return LightAtPlace(a.sub_solar_lat_deg, a.sub_solar_lon_deg, margin_deg), pose


def by_hand(lat: float, lon: float, sun_lat: float, sun_lon: float) -> float:
    """The almanacs' formula for a height: sin h = sin b sin b0 + cos b cos b0 cos(l - l0)."""
    b, b0, hour = math.radians(lat), math.radians(sun_lat), math.radians(lon - sun_lon)
    return math.degrees(math.asin(math.sin(b) * math.sin(b0) + math.cos(b) * math.cos(b0) * math.cos(hour)))


def test_the_suns_height_over_features_is_that_of_de421() -> None:
    """tests/reference/de421_aspects.csv holds the sub-solar points by DE421; 0.01 degree, as for those themselves."""
    lines = (REFERENCE / "de421_aspects.csv").read_text(encoding="ascii").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))[:60]
    compared = 0
    for row in rows:
        place = Place(float(row["latitude_deg"]), float(row["longitude_deg"]), float(row["height_m"]))
        a = aspect_at(datetime.fromisoformat(row["utc"]), place)
        pose = Pose(x=0, y=0, radius_px=100.0, north_screen_deg=0.0, mirrored=False, libration_lat_deg=a.libration_lat_deg, libration_lon_deg=a.libration_lon_deg, sub_solar_lat_deg=a.sub_solar_lat_deg,
                    sub_solar_lon_deg=a.sub_solar_lon_deg)  # fmt: skip
        for mark in near_terminator(pose)[:20]:
            f = mark.feature
            true = by_hand(f.lat_deg, f.lon_deg, float(row["sub_solar_lat_deg"]), float(row["sub_solar_lon_deg"]))
            assert mark.sun_altitude_deg == pytest.approx(true, abs=0.01)
            compared += 1
    assert compared > 800


def test_a_day_brings_a_strip_of_twelve_degrees_into_the_light_of_a_waxing_moon() -> None:
    before, _ = light_of(EVENINGS[0])
    after, pose = light_of(EVENINGS[1])
    gained, lost = changes(before, after, pose)
    assert not lost  # before full Moon nothing on this side goes dark
    for c in gained:
        assert c.sun_after_deg - c.sun_before_deg > (6 if abs(c.feature.lat_deg) < 60 else 1)  # 12 cos(lat)
        assert c.lit_after - c.lit_before >= GAIN
        if c.amount == "whole":
            assert (c.lit_before, c.lit_after) == (0.0, 1.0)
            assert c.sun_before_deg < -1
            assert c.sun_after_deg > 0.5
    names = {c.feature.name: c for c in gained}
    # the morning terminator goes from 9 to 21 degrees west in this day: the places are the gazetteer's
    assert names["Eratosthenes"].amount == "whole"  # 11.3 W
    assert names["Fra Mauro"].amount == "whole"  # 17.0 W
    copernicus = names["Copernicus"]  # 20.1 W and 96 km wide: its west rim lies on the terminator, so no claim of all
    assert (copernicus.amount, copernicus.lit_before) == ("partly", 0.0)
    assert copernicus.lit_after > 0.9
    assert names["Mare Imbrium"].amount == "partly"  # 1,145 km: not in a day
    assert 0.1 < names["Mare Imbrium"].lit_before < names["Mare Imbrium"].lit_after < 0.97
    assert "Kepler" not in names
    assert "Ptolemaeus" not in names  # lit the evening before
    ranks = [c.prominence for c in gained]
    assert ranks == sorted(ranks, reverse=True)


def test_backwards_the_same_features_go_into_the_dark() -> None:
    before, _ = light_of(EVENINGS[0])
    after, pose = light_of(EVENINGS[1])
    gained, _ = changes(before, after, pose)
    _, lost = changes(after, before, pose)
    assert {c.feature.name for c in gained} == {c.feature.name for c in lost}
    copernicus = next(c for c in lost if c.feature.name == "Copernicus")
    assert copernicus.sun_before_deg > 0 > copernicus.sun_after_deg


def test_a_waning_moon_gains_nothing() -> None:
    days = [datetime(2026, 4, day, 22, 0, tzinfo=UTC) for day in (5, 6)]
    before, _ = light_of(days[0])
    after, pose = light_of(days[1])
    gained, lost = changes(before, after, pose)
    assert not gained
    assert len(lost) > 20


def test_a_claim_holds_for_the_margin_on_either_side() -> None:
    """Whatever the Sun does within the margins, what is called wholly new was dark and is lit."""
    before, _ = light_of(EVENINGS[0], 1.5)
    after, pose = light_of(EVENINGS[1], 1.5)
    wide, _ = changes(before, after, pose)
    narrow, _ = changes(replace(before, margin_deg=0.0), replace(after, margin_deg=0.0), pose)
    whole = {c.feature.name for c in wide if c.amount == "whole"}
    assert whole < {c.feature.name for c in narrow if c.amount == "whole"}
    for c in wide:
        if c.amount == "whole":
            reach = math.degrees(c.feature.size_km / 2 / 1737.4)
            highest = sun_altitude_deg(c.feature.lat_deg, c.feature.lon_deg, before.lat_deg, before.lon_deg + 1.5 - 0.5)
            assert float(highest) + 0.85 * reach < 0
            assert c.sun_after_deg > 0.85 * reach + 0.5


def test_the_same_sky_twice_changes_nothing() -> None:
    light, pose = light_of(EVENINGS[0])
    assert changes(light, light, pose) == ((), ())


def test_near_the_terminator_lie_those_within_eight_degrees_and_the_seas_that_it_crosses() -> None:
    light, pose = light_of(EVENINGS[1])
    marks = near_terminator(pose)
    crossed = [m for m in marks if abs(m.sun_altitude_deg) > 8]
    assert crossed
    assert all(m.feature.kind in ("sea", "ocean", "lake", "bay", "marsh", "plain") for m in crossed)
    assert all(0.1 < m.lit_fraction < 0.97 for m in crossed)
    names = {m.feature.name for m in marks}
    wanted = {
        f.name for f in all_features()
        if f.parent is None and f.size_km >= 15
        and abs(by_hand(f.lat_deg, f.lon_deg, light.lat_deg, light.lon_deg)) <= 8
        and by_hand(f.lat_deg, f.lon_deg, pose.libration_lat_deg, pose.libration_lon_deg) > 10
    }  # fmt: skip
    assert wanted <= names
    assert all(-60 < m.feature.lon_deg < 20 or abs(m.feature.lat_deg) > 60 for m in marks if m not in crossed)


def test_marks_of_named_features_stand_where_the_geometry_puts_them() -> None:
    _, pose = light_of(EVENINGS[0])
    wanted = [find(name) for name in ("Tycho", "Copernicus", "Mare Moscoviense")]
    marks = marks_of([f for f in wanted if isinstance(f, Feature)], pose)
    assert [m.feature.name for m in marks] == ["Tycho", "Copernicus"]  # the third is on the far side
    tycho = marks[0]
    assert tycho.y > 500 > tycho.x  # south is down, west is left
    assert np.hypot(tycho.x - 500, tycho.y - 500) < 480


def test_skies_far_apart_do_not_hide_a_night_between() -> None:
    """A month later the light is nearly the same: little has changed, and nothing is claimed wholly new."""
    before, _ = light_of(EVENINGS[0])
    after, pose = light_of(EVENINGS[0] + timedelta(days=29.53))
    gained, lost = changes(before, after, pose)
    assert len(gained) + len(lost) < 25
