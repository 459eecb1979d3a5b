"""Facts of the trade that anybody who shows the Moon knows, told by the notes' own numbers (common practice)."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
import pytest
from notes_truth import ground, height, lit

from moondesk.comparison.changed_light import LightAtPlace, changes
from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.phases import principal_phases
from moondesk.moon.catalogue import find
from moondesk.notes.messages import in_english
from moondesk.notes.picture_notes import notes_of
from moondesk.notes.records import Notes, NotesNight
from moondesk.notes.sunlit_ground import ground_of, sunlit_share
from moondesk.records import (
    Annotation,
    Aspect,
    Clock,
    ClockVerdict,
    EveningKnowledge,
    EveningVerdict,
    Feature,
    Place,
    Pose,
    Status,
    Terminator,
    TimeCandidate,
    TimeReadings,
)
from moondesk.visibility.marks import mark_features

VIENNA = Place(48.2, 16.4)
DAY = timedelta(days=1)


def feature(name: str) -> Feature:
    found = find(name)
    assert isinstance(found, Feature)
    return found


@cache
def quarters() -> tuple[datetime, ...]:
    return tuple(p.utc for p in principal_phases(datetime(2020, 1, 1, tzinfo=UTC), datetime(2032, 1, 1, tzinfo=UTC))
                 if p.kind == "first quarter")  # fmt: skip


def colongitude(sky: Aspect) -> float:
    return (sky.colongitude_deg + 180) % 360 - 180


@cache
def day_after() -> tuple[Aspect, ...]:
    """Instants 18 to 32 hours after a first quarter at which the colongitude is 12 to 16."""
    every = [aspect_at(q + timedelta(hours=h), None) for q in quarters() for h in (18, 21, 24, 27, 30, 32)]
    chosen = tuple(a for a in every if 12 <= colongitude(a) <= 16)
    assert len(chosen) > 150
    return chosen


def share(name: str, sky: Aspect) -> float:
    return sunlit_share(feature(name), sky.sub_solar_lat_deg, sky.sub_solar_lon_deg)


def test_a_day_after_first_quarter_half_of_the_sea_of_rains_is_lit() -> None:
    """0.40 to 0.55 of it; at the ends of the range, with the Sun 1.5 degrees north or south, a little beside."""
    shares = np.array([share("Mare Imbrium", sky) for sky in day_after()])
    assert 0.40 <= np.median(shares) <= 0.55
    assert np.mean((shares >= 0.40) & (shares <= 0.55)) > 0.85
    assert 0.38 <= shares.min() <= shares.max() <= 0.58
    mild = [k for k in day_after() if abs(k.sub_solar_lat_deg) < 1.0 and 12.5 <= colongitude(k) <= 15.5]
    assert all(0.40 <= share("Mare Imbrium", sky) <= 0.55 for sky in mild)


def test_then_plato_archimedes_and_eratosthenes_are_lit_from_north_to_south() -> None:
    names = ("Plato", "Archimedes", "Eratosthenes")
    assert all(share(name, sky) > 0 for sky in day_after() for name in names)
    latitudes = [feature(name).lat_deg for name in names]
    assert latitudes == sorted(latitudes, reverse=True)


def test_then_tycho_and_clavius_have_the_terminator_bailly_is_dark_and_the_sea_of_vapours_wholly_lit() -> None:
    """Of Tycho, which the Sun clears at 13 degrees on the mean sphere, the floor is still dark then (its rim is high):
    the Sun stands less than 4.5 degrees high there."""
    for sky in day_after():
        assert 0.2 < share("Tycho", sky) < 1.001
        if share("Tycho", sky) > 0.999:
            assert height(-43.31, -11.36, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg) < 4.5
        assert 0.1 < share("Clavius", sky) < 0.9
        assert share("Bailly", sky) == 0
        assert share("Mare Vaporum", sky) == pytest.approx(1)


def test_against_the_evening_before_imbrium_and_nubium_come_into_the_light_and_vaporum_does_not() -> None:
    for sky in day_after()[::12]:
        before = aspect_at(sky.when_utc - DAY, None)
        pose = Pose(x=500, y=500, radius_px=450, north_screen_deg=0.0, mirrored=False, libration_lat_deg=sky.libration_lat_deg, libration_lon_deg=sky.libration_lon_deg, sub_solar_lat_deg=sky.sub_solar_lat_deg,
                    sub_solar_lon_deg=sky.sub_solar_lon_deg)  # fmt: skip
        gained, _ = changes(*(LightAtPlace(a.sub_solar_lat_deg, a.sub_solar_lon_deg) for a in (before, sky)), pose)
        names = {c.feature.name for c in gained}
        assert {"Mare Imbrium", "Mare Nubium"} <= names
        assert "Mare Vaporum" not in names


def test_at_first_quarter_the_edge_of_the_light_is_within_8_degrees_of_the_zero_meridian() -> None:
    """The libration in longitude is what it is off by: at most 8.1 degrees (Meeus 1998, ch. 53: 7.9 optical)."""
    at_quarter = [colongitude(aspect_at(q, None)) for q in quarters()]
    assert max(abs(c) for c in at_quarter) <= 8.1
    assert max(at_quarter) > 6
    assert min(at_quarter) < -6


def test_between_the_evenings_before_and_after_first_quarter_the_lit_part_passes_one_half() -> None:
    for q in quarters()[::5]:
        before, after = (aspect_at(q + timedelta(hours=h), None).illuminated_fraction for h in (-20, 20))
        assert before < 0.5 < after


def picture(when: datetime) -> Annotation:
    """A surely placed Moon of 450 px; everything of 3 px that has light is said to be seen."""
    sky = aspect_at(when, VIENNA)
    pose = Pose(x=500, y=500, radius_px=450, north_screen_deg=10.0, mirrored=False, libration_lat_deg=sky.libration_lat_deg, libration_lon_deg=sky.libration_lon_deg, sub_solar_lat_deg=sky.sub_solar_lat_deg,
                sub_solar_lon_deg=sky.sub_solar_lon_deg, distance_radii=sky.distance_km / 1737.4)  # fmt: skip
    marks = tuple(replace(m, seen=0.95 if m.lit_fraction > 0 and m.radius_px >= 3 else 0.1) for m in mark_features(
        pose, pose, np.full((1001, 1001), 0.5, np.float32), 1001, 1001, 2.0))  # fmt: skip
    time = TimeCandidate(when, 1.0, "told")
    return Annotation(
        status=Status.ANNOTATED, sure=True, width=1001, height=1001, taken=TimeReadings(candidates=(time,), earliest_utc=None, latest_utc=None), time=time, clock=Clock(ClockVerdict.AGREES, None, None), limb=None,
        pose=pose, terminator=Terminator(sky.phase_angle_deg, sky.illuminated_fraction, 270.0, 0.05), aspect=sky, features=marks,
        dated=EveningKnowledge(EveningVerdict.SURE))  # fmt: skip


@pytest.mark.parametrize("when", [datetime(2026, 10, 19, 17, tzinfo=UTC), datetime(2026, 2, 25, 14, tzinfo=UTC)])
def test_the_notes_of_such_an_evening_say_so(when: datetime) -> None:
    """19 October 2026, a day after the first quarter of the 18th, 16:13 UTC; 25 February, after that of the 24th."""
    notes = notes_of(picture(when), when, NotesNight((when - DAY).date(), when - DAY))
    assert isinstance(notes, Notes)
    showing = {s.mark.feature.name: s for s in notes.showing}
    assert 0.40 <= showing["Mare Imbrium"].lit <= 0.58
    assert {"Plato", "Archimedes", "Eratosthenes", "Tycho", "Clavius"} <= showing.keys()
    assert "Bailly" not in showing
    assert showing["Mare Vaporum"].lit == pytest.approx(1)
    assert any("has spread over" in in_english(n.said) and "Mare Imbrium" in in_english(n.said)
               and "Mare Vaporum" not in in_english(n.said) for n in notes.notes if n.topic == "new")  # fmt: skip


def test_ground_is_weighed_by_area() -> None:
    """A circle's points by its cap: half of it within 0.7071 of the radius of a small crater; the sea against points
    thrown at random."""
    points, weights = ground_of(feature("Clavius"))
    away = np.degrees(np.arccos(np.clip(points @ np.asarray(points).mean(axis=0) / np.linalg.norm(points.mean(axis=0)),
                                        -1, 1)))  # fmt: skip
    assert weights.sum() == pytest.approx(1)
    assert np.mean(away < 0.7071 * away.max()) == pytest.approx(0.5, abs=0.02)
    for lon in (60.0, 75.0, 80.0):
        true = lit(ground("Mare Imbrium"), 0.5, lon).mean()
        assert sunlit_share(feature("Mare Imbrium"), 0.5, lon) == pytest.approx(true, abs=0.02)
