"""The evenings that fit a picture without a date, against skies of DE421 and against an eclipse's printed instant."""

from __future__ import annotations

import json
import os
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from moondesk.codec import annotation_from_json, annotation_to_json
from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.evenings import FOREIGN, MeasuredSky, evenings_that_fit, misfit_in_window, with_evenings
from moondesk.records import (
    Annotation,
    Clock,
    ClockVerdict,
    Evening,
    Place,
    Pose,
    Status,
    Terminator,
    TimeCandidate,
    TimeReadings,
)

SHARED = Path(os.environ.get("MOONDESK_SHARED", Path(__file__).parents[3] / "shared"))
NOW = datetime(2029, 2, 1, tzinfo=UTC)
WHEN = datetime(2020, 3, 9, 23, 0, tzinfo=UTC)
TOWN = Place(-23.0, -47.0)


def seen(when: datetime, place: Place | None, off_deg: float = 0.0) -> MeasuredSky:
    a = aspect_at(when, place)
    return MeasuredSky(
        libration_lat_deg=a.libration_lat_deg + off_deg,
        libration_lon_deg=a.libration_lon_deg,
        sub_solar_lat_deg=a.sub_solar_lat_deg,
        sub_solar_lon_deg=a.sub_solar_lon_deg,
        sigma_libration_deg=0.15,
        sigma_sun_deg=0.6,
    )


def search(m: MeasuredSky, place: Place | None, latest: datetime = NOW, years: float = 30.0) -> tuple[Evening, ...]:
    return evenings_that_fit(m, place, latest, years)


def rank(found: tuple[Evening, ...], when: datetime) -> int | None:
    return next((k for k, e in enumerate(found) if abs(e.utc - when) < timedelta(days=1)), None)


@pytest.mark.skipif(not (SHARED / "scenes" / "truth.json").exists(), reason="the folder of test scenes is not here")
@pytest.mark.parametrize("step", [8, pytest.param(1, marks=pytest.mark.slow)])
def test_scenes_of_de421(step: int) -> None:
    """The scenes' sky is DE421 with its own mean-Earth frame; noise of 0.1 degree is added to it."""
    rng = np.random.default_rng(3)
    truth = json.loads((SHARED / "scenes" / "truth.json").read_text())[::step]
    anywhere, there, listed = [], [], []
    for t in truth:
        noise = rng.normal(0.0, 0.1, 3)
        (lat, lon), (sun_lat, sun_lon) = t["sub_observer_lat_lon"], t["sub_solar_lat_lon"]
        m = MeasuredSky(
            libration_lat_deg=lat + noise[0],
            libration_lon_deg=lon + noise[1],
            sub_solar_lat_deg=sun_lat,
            sub_solar_lon_deg=sun_lon + noise[2],
            sigma_libration_deg=0.1,
            sigma_sun_deg=0.1,
        )
        when = datetime.fromisoformat(t["utc"])
        found = search(m, None)
        listed.append(len(found))
        anywhere.append(rank(found, when))
        there.append(rank(search(m, Place(t["lat"], t["lon"])), when))
    ranks = np.array([99 if r is None else r + 1 for r in anywhere])
    print(
        f"listed {np.mean(ranks < 99):.3f}, mean length {np.mean(listed):.1f}, ranks {np.bincount(ranks)[:13]}, "
        f"place known: first {np.mean([r == 0 for r in there]):.3f}"
    )
    assert np.mean(ranks < 99) >= (0.95 if step == 1 else 0.88)
    assert np.mean([r is not None for r in there]) >= 0.98
    assert np.mean([r == 0 for r in there]) >= (0.8 if step == 1 else 0.6)


def test_greatest_eclipse() -> None:
    """21 January 2019, 05:12:16 UT, greatest eclipse (NASA's catalogue of lunar eclipses, from memory)."""
    when = datetime(2019, 1, 21, 5, 12, tzinfo=UTC)
    found = search(seen(when, None), None)
    assert rank(found, when) is not None
    best = found[rank(found, when) or 0]
    assert abs(best.utc - when) < timedelta(hours=1)
    assert best.misfit < 0.1


def test_place_narrows_the_list_and_the_moon_is_up() -> None:
    m = seen(WHEN, TOWN)
    with_place, without = search(m, TOWN), search(m, None)
    assert rank(with_place, WHEN) == 0
    assert rank(without, WHEN) is not None
    assert len(with_place) < len(without)
    assert all((aspect_at(e.utc, TOWN).altitude_deg or 0) > -20 for e in with_place)


def test_sums_order_and_limits() -> None:
    found = search(seen(WHEN, None), None)
    assert 1 < len(found) <= 12
    assert [e.misfit for e in found] == sorted(e.misfit for e in found)
    assert sum(e.probability for e in found) <= 1.0 + 1e-9
    assert all(e.misfit < 9 and e.utc <= NOW and e.sigma_hours < 2.0 for e in found)
    assert all(e.utc <= WHEN for e in search(seen(WHEN, None), None, WHEN, 2.0))
    assert rank(search(seen(WHEN, None), None, WHEN - timedelta(days=2)), WHEN) is None


def test_wrong_calls() -> None:
    with pytest.raises(ValueError, match="years"):
        search(seen(WHEN, None), None, years=0)
    with pytest.raises(ValueError, match="time zone"):
        search(seen(WHEN, None), None, datetime(2029, 1, 1))
    with pytest.raises(ValueError, match="sigmas"):
        replace(seen(WHEN, None), sigma_sun_deg=0.0)


def test_a_window_fits_wherever_the_picture_was_taken() -> None:
    window = (WHEN - timedelta(days=3), WHEN + timedelta(days=1))
    for place in (TOWN, Place(60.0, 25.0), Place(0.0, -120.0)):
        assert misfit_in_window(seen(WHEN, place), None, *window) < 9.0
    assert misfit_in_window(seen(datetime(2012, 5, 6, 3, 30, tzinfo=UTC), None), None, *window) > FOREIGN


def test_only_where_no_time_at_all_is_known() -> None:
    m = seen(WHEN, None)
    pose = Pose(
        x=300.0,
        y=300.0,
        radius_px=200.0,
        north_screen_deg=0.0,
        mirrored=False,
        libration_lat_deg=m.libration_lat_deg,
        libration_lon_deg=m.libration_lon_deg,
        sub_solar_lat_deg=m.sub_solar_lat_deg,
        sub_solar_lon_deg=m.sub_solar_lon_deg,
        parameters=("libration_lat_deg", "libration_lon_deg"),
        covariance=(0.01, 0.0, 0.0, 0.01),
    )
    bare = Annotation(
        status=Status.ANNOTATED,
        sure=True,
        width=600,
        height=600,
        taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=None,
        clock=Clock(ClockVerdict.NO_CLOCK, None, None),
        pose=pose,
        terminator=Terminator(5.0, 0.99, 90.0, 0.6),
    )
    dated = with_evenings(bare, None, NOW)
    assert rank(dated.evenings, WHEN) is not None
    assert annotation_from_json(annotation_to_json(dated)).evenings == dated.evenings
    assert with_evenings(bare, None, None).evenings == ()
    known = TimeReadings(candidates=(TimeCandidate(WHEN, 1.0, "told"),), earliest_utc=None, latest_utc=None)
    window = TimeReadings(candidates=(), earliest_utc=WHEN - timedelta(days=4), latest_utc=WHEN)
    for other in (
        replace(bare, taken=known),
        replace(bare, taken=window),
        replace(bare, pose=None),
        replace(bare, pose=replace(pose, covariance=(4.0, 0.0, 0.0, 4.0))),
        replace(bare, sure=False),
    ):
        assert with_evenings(other, None, NOW).evenings == ()


def test_speed() -> None:
    m = seen(WHEN, None)
    search(m, TOWN)
    began = time.process_time()
    search(m, TOWN)
    assert time.process_time() - began < 0.5
