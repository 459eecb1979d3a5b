"""The clock's verdicts, branch by branch, and the picture's own time from a track whose truth is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from moondesk.checks.clock import PictureTime, judge, picture_time
from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.sky_hypotheses import SkyHypothesis, SunTrack, any_time, by_clock, by_window, sun_track
from moondesk.placement.refinement import Placement
from moondesk.placement.sun_search import LightFit
from moondesk.records import Limb, Place, Pose, TimeCandidate, TimeReadings

WHEN = datetime(2027, 3, 14, 19, 20, tzinfo=UTC)
NOWHERE = TimeReadings(candidates=(), earliest_utc=None, latest_utc=None)
LIMB = Limb(
    x=300.0,
    y=300.0,
    radius_px=200.0,
    sigma_px=0.1,
    covariance=(0.01, 0, 0, 0, 0.01, 0, 0, 0, 0.01),
    rms_px=0.2,
    arc_deg=180.0,
    n_points=180,
    edge_width_px=2.0,
)


def clock_at(*hours: float, sigma_minutes: float = 1.0) -> TimeReadings:
    readings = (TimeCandidate(WHEN + timedelta(hours=h), sigma_minutes, "exif+zone") for h in hours)
    return TimeReadings(
        candidates=tuple(readings),
        earliest_utc=WHEN - timedelta(days=4),
        latest_utc=WHEN + timedelta(hours=9),
        local_text="2027:03:14 20:20:00",
    )


def light_says(hours: float = 0.0, sigma: float = 1.0) -> PictureTime:
    return PictureTime(WHEN + timedelta(hours=hours), sigma, False)


def placed(taken: TimeReadings, at: datetime, place: Place | None, off_hours: float = 0.0) -> Placement:
    """A placement whose libration is that of the instant, and whose light is that of off_hours later."""
    aspect = aspect_at(at, place)
    sky = SkyHypothesis(
        utc=at,
        libration_lat_deg=0.0,
        libration_lon_deg=0.0,
        sub_solar_lat_deg=0.0,
        sub_solar_lon_deg=0.0,
        distance_radii=221.3,
        sigma_deg=0.6,
    )
    track = sun_track(taken, sky)
    pose = Pose(x=300.0, y=300.0, radius_px=200.0, north_screen_deg=0.0, mirrored=False, libration_lat_deg=aspect.libration_lat_deg, libration_lon_deg=aspect.libration_lon_deg,
                sub_solar_lat_deg=aspect.sub_solar_lat_deg, sub_solar_lon_deg=aspect.sub_solar_lon_deg, sigma_pct_radius=0.1)  # fmt: skip
    index = ((at + timedelta(hours=off_hours)).timestamp() - track.unix_seconds[0]) / 3600.0
    fit = LightFit(index=float(index), unexplained=0.02, sigma=0.5, at_edge=False)
    return Placement(pose=pose, limb=LIMB, sky=sky, track=track, light=fit, noise_pct_radius=0.2)


def test_agrees_within_the_scatter() -> None:
    clock, time = judge(clock_at(1.5), light_says())
    assert clock.verdict == "agrees"
    assert time is not None
    assert time.source == "exif+zone"  # the recorded time, being finer, is the one to go by
    assert clock.picture_utc == WHEN


def test_nearest_of_several_zones_is_taken() -> None:
    clock, time = judge(clock_at(-9.0, 0.5, 8.0), light_says())
    assert clock.verdict == "agrees"
    assert time is not None
    assert time.utc == WHEN + timedelta(hours=0.5)


@pytest.mark.parametrize(("hours", "side", "cause"), [
    (-25.0, "behind", "one day off"), (24.0, "ahead of", "one day off"), (12.0, "ahead of", "12-hour clock"),
    (-48.0, "behind", "date set"), (7.0, "ahead of", "time zone"),
])  # fmt: skip
def test_disagrees_names_side_and_likely_cause(hours: float, side: str, cause: str) -> None:
    clock, time = judge(clock_at(hours), light_says())
    assert clock.verdict == "disagrees"
    assert f"{abs(hours):.0f} h {side}" in clock.words
    assert cause in clock.words
    assert time is not None
    assert time.utc == WHEN  # the light's time, not the clock's
    assert time.source == "picture"


def reading(local: str, offset_hours: float = 1.0) -> TimeReadings:
    utc = datetime.fromisoformat(local).replace(tzinfo=UTC) - timedelta(hours=offset_hours)
    candidate = TimeCandidate(utc, 2.0, "exif+offset", offset_hours)
    return TimeReadings(
        candidates=(candidate,),
        earliest_utc=WHEN - timedelta(days=4),
        latest_utc=WHEN + timedelta(hours=9),
        local_text=local,
    )


@pytest.mark.parametrize(("when", "local", "cause", "how_far"), [
    # the picture was taken at 20:20 of its date, an hour ahead of UTC; what slips is common practice
    ("2027-03-14", "2027-03-14 14:20:00", ": time zone?", "6 h behind"),
    ("2027-03-14", "2027-03-14 08:20:00", ": 12-hour clock, or time zone?", "12 h behind"),
    ("2027-03-14", "2027-03-13 20:20:00", ": the date, one day off?", "24 h behind"),
    ("2027-03-14", "2027-03-15 20:20:00", ": the date, one day off?", "24 h ahead of"),
    ("2027-03-08", "2027-08-03 20:20:00", ": day and month swapped?", "148 days ahead of"),
    ("2027-08-03", "2027-03-08 20:20:00", ": day and month swapped?", "148 days behind"),
    ("2027-03-14", "2026-03-14 20:20:00", ": the year?", "365 days behind"),
    ("2027-01-01", "2026-01-01 20:20:00", ": the year?", "365 days behind"),
    ("2027-03-14", "2017-03-14 20:20:00", ": the year?", "10.0 years behind"),
    ("2028-02-29", "2027-02-28 20:20:00", ": is the camera's date set?", "366 days behind"),
    ("2027-03-14", "2027-03-08 20:20:00", ": is the camera's date set?", "6 days behind"),
    ("2027-03-14", "2015-01-01 00:03:00", ": is the camera's date set?", "12.2 years behind"),
])  # fmt: skip
def test_every_cause(when: str, local: str, cause: str, how_far: str) -> None:
    found = PictureTime(datetime.fromisoformat(f"{when} 19:50:00").replace(tzinfo=UTC), 1.0, False)
    clock, time = judge(reading(local), found)
    assert clock.verdict == "disagrees"
    assert clock.words.endswith(cause)
    # the picture's own time is half an hour out
    assert how_far.split()[1:] == clock.words.split()[4 : 4 + len(how_far.split()) - 1]
    assert float(how_far.split()[0]) == pytest.approx(float(clock.words.split()[3]), abs=1.0)
    assert time is not None
    assert time.source == "picture"


@pytest.mark.parametrize(("local", "cause"), [
    # later than the arrival, so that `taken` has ruled the reading out
    ("2027-03-15 20:20:00 UTC+01:00", "one day off"), ("2028-03-14 20:20:00 UTC+01:00", "the year"),
    ("2028-03-14 20:20:00", "the year"), ("2027-05-02 20:20:00", "date set"), ("1970:01:01 00:00:00", "date set"),
    ("0000:00:00 00:00:00", "gives its own"), ("2027-13-41 20:20:00", "gives its own"),
])  # fmt: skip
def test_cause_of_a_reading_ruled_out(local: str, cause: str) -> None:
    clock, time = judge(replace(NOWHERE, local_text=local), light_says())
    assert clock.verdict == "disagrees"
    assert "cannot be right" in clock.words
    assert cause in clock.words
    assert time is not None
    assert time.source == "picture"


def test_swap_of_a_reading_ruled_out() -> None:
    found = PictureTime(datetime(2027, 3, 8, 19, 20, tzinfo=UTC), 1.0, False)
    clock, _ = judge(replace(NOWHERE, local_text="2027-08-03 20:20:00 UTC+01:00"), found)
    assert "day and month swapped" in clock.words


def test_between_the_two_it_cannot_tell() -> None:
    clock, time = judge(clock_at(4.0), light_says(sigma=1.0))
    assert clock.verdict == "cannot_tell"
    assert time is not None
    assert time.source == "exif+zone"
    # a vague light never blames the clock, nor does it vouch for a vague one
    assert judge(clock_at(20.0), light_says(sigma=6.0))[0].verdict == "cannot_tell"


def test_no_clock() -> None:
    clock, time = judge(replace(NOWHERE), light_says())
    assert clock.verdict == "no_clock"
    assert clock.picture_utc == WHEN
    assert time is not None
    assert time.source == "picture"
    clock, time = judge(NOWHERE, None)
    assert (clock.verdict, clock.picture_utc, time) == ("no_clock", None, None)


def test_impossible_clock_disagrees() -> None:
    clock, time = judge(replace(NOWHERE, local_text="1970:01:01 00:00:00"), light_says())
    assert clock.verdict == "disagrees"
    assert time is not None
    assert time.source == "picture"


def test_light_that_gives_no_time_leaves_the_clock_unjudged() -> None:
    clock, time = judge(clock_at(0.0), None)
    assert clock.verdict == "cannot_tell"
    assert time == clock_at(0.0).candidates[0]
    assert judge(clock_at(0.0, 3.0), None)[1] is None  # two readings, nothing to choose by


@pytest.mark.parametrize("place", [None, Place(48.0, 11.0)])
def test_picture_time_is_where_light_and_libration_meet(place: Place | None) -> None:
    taken = clock_at(0.0)
    found = picture_time(placed(taken, WHEN, place), taken, place)
    assert found is not None
    assert abs((found.utc - WHEN).total_seconds()) / 3600 < 0.5
    assert 0.5 <= found.sigma_hours < 2.0
    # light alone two hours late is pulled back by the libration, and never past it
    pulled = picture_time(placed(taken, WHEN, place, 2.0), taken, place)
    assert pulled is not None
    assert -0.1 < (pulled.utc - WHEN).total_seconds() / 3600 < 2.1


def test_picture_time_is_never_after_receipt() -> None:
    taken = clock_at(0.0)
    assert taken.latest_utc is not None
    found = picture_time(placed(taken, taken.latest_utc, None, 6.0), taken, None)
    assert found is not None
    assert found.utc <= taken.latest_utc


def test_no_time_from_free_lights() -> None:
    track = sun_track(NOWHERE, any_time()[3])
    assert len(track.unix_seconds) == 0
    timeless = replace(placed(clock_at(0.0), WHEN, None), track=track)
    assert picture_time(timeless, NOWHERE, None) is None


def test_hypotheses_from_what_is_known() -> None:
    assert by_clock(NOWHERE, None) == ()
    assert by_window(NOWHERE, None) == ()
    # readings an hour apart share a light (0.5 degrees an hour), eight hours apart do not
    assert len(by_clock(clock_at(0.0, 1.0), None)) == 1
    assert len(by_clock(clock_at(0.0, 8.0), None)) == 2
    window = by_window(clock_at(0.0), None)
    assert len(window) == 9  # 105 hours in steps of at most 12
    times = [s.utc for s in window if s.utc is not None]
    assert times == sorted(times, reverse=True)
    lights = np.array([s.sub_solar_lon_deg for s in any_time()])
    assert np.diff(np.sort(lights)).max() <= 12.0


def test_track_runs_at_the_terminators_pace() -> None:
    track: SunTrack = sun_track(clock_at(0.0), by_clock(clock_at(0.0), None)[0])
    # 0.5051 to 0.5106 degrees an hour, westward (DE421)
    pace = -np.diff(np.unwrap(track.lon_deg, period=360.0))
    assert (pace > 0.5045).all()
    assert (pace < 0.5112).all()
    assert np.abs(track.lat_deg).max() < 1.6
