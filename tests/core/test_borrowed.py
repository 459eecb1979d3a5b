"""An old picture with a fresh date is told by its light and tilt, a fresh one never, wherever it was taken."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from moondesk import Known, annotate_picture
from moondesk.checks.borrowed_pictures import OLD_PICTURE, flag_if_old
from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.sky_hypotheses import SkyHypothesis, free_track, sun_track
from moondesk.records import (
    Annotation,
    Clock,
    ClockVerdict,
    Place,
    Pose,
    Status,
    Terminator,
    TimeCandidate,
    TimeReadings,
)
from tests.scenes import SceneSpec, render

WHEN = datetime(2020, 3, 9, 23, 0, tzinfo=UTC)
PLACES = (Place(-23.0, -47.0), Place(60.0, 25.0), Place(0.0, -60.0))


def shown(
    when: datetime, place: Place | None, came: datetime | None, clock: datetime | None = None, off_deg: float = 0.0
) -> Annotation:
    """A sure annotation of a picture that shows the sky of one instant and place, with what its dates say."""
    a = aspect_at(when, place)
    pose = Pose(x=300.0, y=300.0, radius_px=200.0, north_screen_deg=0.0, mirrored=False, libration_lat_deg=a.libration_lat_deg + off_deg, libration_lon_deg=a.libration_lon_deg,
                sub_solar_lat_deg=a.sub_solar_lat_deg, sub_solar_lon_deg=a.sub_solar_lon_deg, parameters=("libration_lat_deg", "libration_lon_deg"),
                covariance=(0.01, 0.0, 0.0, 0.01))  # fmt: skip
    readings = () if clock is None else (TimeCandidate(clock, 2.0, "exif+offset", 0.0),)
    taken = TimeReadings(
        candidates=readings, earliest_utc=None if came is None else came - timedelta(days=4), latest_utc=came
    )
    return Annotation(status=Status.ANNOTATED, sure=True, width=600, height=600, taken=taken, time=None, clock=Clock(ClockVerdict.AGREES, when, 1.0), pose=pose,
                      terminator=Terminator(a.phase_angle_deg, 0.5, 90.0, 0.6))  # fmt: skip


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("hours", [0.2, 40.0, 95.0])
def test_a_fresh_picture_is_never_told(place: Place, hours: float) -> None:
    for known in (None, place):
        fresh = shown(WHEN, place, WHEN + timedelta(hours=hours))
        assert flag_if_old(fresh, known) is fresh
    # 0.4 degree beyond any parallax: no accusation
    assert flag_if_old(shown(WHEN, None, WHEN + timedelta(hours=hours), off_deg=1.4), None).flags == ()


def test_a_stated_place_far_away_accuses_nobody() -> None:
    """The sender's home is half the Earth away, where the Moon was down."""
    fresh = shown(WHEN, PLACES[0], WHEN + timedelta(hours=20))
    assert flag_if_old(fresh, Place(35.0, 140.0)) is fresh


def test_an_honest_old_date_is_believed() -> None:
    fine = shown(WHEN, PLACES[0], datetime(2027, 1, 5, tzinfo=UTC), WHEN)
    assert flag_if_old(fine, PLACES[0]) is fine
    wrong_zone = shown(WHEN, PLACES[0], datetime(2027, 1, 5, tzinfo=UTC), WHEN + timedelta(hours=12))
    assert flag_if_old(wrong_zone, None) is wrong_zone


@pytest.mark.parametrize("clock", [False, True])
@pytest.mark.parametrize("came", [
    WHEN + timedelta(days=29.530589 * 25 + 1),  # same phase: only the tilt tells (mean month, Chapront 2002)
    WHEN + timedelta(days=1200), WHEN + timedelta(days=9),
])  # fmt: skip
def test_an_old_picture_is_told(came: datetime, clock: bool) -> None:
    old = flag_if_old(shown(WHEN, PLACES[0], came, came - timedelta(hours=5) if clock else None), PLACES[0])
    assert old.flags == (OLD_PICTURE,)
    assert old.sure  # where it lies is as certain as before; when it was taken is another verdict
    assert (old.dated.verdict, old.time, old.aspect) == ("unknown", None, None)
    assert old.clock.verdict == ("disagrees" if clock else "no_clock")
    assert old.clock.picture_utc is None
    assert any(abs(e.utc - WHEN) < timedelta(days=1) for e in old.evenings)
    assert f"{old.evenings[0].utc:%Y-%m-%d}" in old.dated.reason
    anywhere = flag_if_old(shown(WHEN, PLACES[0], came), None)
    assert 1 < len(anywhere.evenings) <= 12
    if came - WHEN < timedelta(days=60):  # of the last weeks: always listed, and named
        assert any(abs(e.utc - WHEN) < timedelta(days=1) for e in anywhere.evenings)
        assert f"{WHEN:%Y-%m-%d}" in anywhere.dated.reason


def test_only_a_sure_pose_accuses() -> None:
    old = shown(WHEN, None, WHEN + timedelta(days=1200))
    assert old.pose is not None
    vague = replace(old, pose=replace(old.pose, covariance=(4.0, 0.0, 0.0, 4.0)))
    assert old.terminator is not None
    uneven = replace(old, terminator=replace(old.terminator, sigma_deg=3.3))  # as by clouds: wrong by days
    undated = replace(old, taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None))
    for other in (replace(old, sure=False), replace(old, pose=None), vague, uneven, undated):
        assert flag_if_old(other, None) is other


def test_from_bytes_to_words() -> None:
    """A whole picture: its honest date of twelve days ago is believed, the same with its date made fresh is not."""
    spec = SceneSpec(datetime(2027, 3, 16, 19, 0, tzinfo=UTC), Place(45.0, 12.0), x=318.4, y=245.7, radius_px=181.3,
                     north_screen_deg=67.0, width=640, height=480, seed=3)  # fmt: skip
    honest = annotate_picture(render(spec).data, Known(received_utc=spec.when_utc + timedelta(days=12)))
    assert honest.sure
    assert honest.clock.verdict == "agrees"
    assert honest.flags == ()
    hours = 24.0 * 800
    fresh = render(replace(spec, tags=replace(spec.tags, clock_error_h=hours)))
    told = annotate_picture(fresh.data, Known(received_utc=spec.when_utc + timedelta(hours=hours + 9)))
    assert told.flags == (OLD_PICTURE,)
    assert told.clock.verdict == "disagrees"
    assert abs(told.evenings[0].utc - spec.when_utc) < timedelta(days=1)
    bare = render(replace(spec, tags=replace(spec.tags, time=False, offset=False, place=False, make=None)))
    assert annotate_picture(bare.data, Known(received_utc=spec.when_utc + timedelta(days=800))).flags == (OLD_PICTURE,)


def test_tracks_of_old_pictures() -> None:
    window = TimeReadings(candidates=(), earliest_utc=WHEN - timedelta(days=4), latest_utc=WHEN)
    sun = aspect_at(WHEN, None).sub_solar_lon_deg
    free = SkyHypothesis(
        utc=None,
        libration_lat_deg=0.0,
        libration_lon_deg=0.0,
        sub_solar_lat_deg=0.0,
        sub_solar_lon_deg=sun,
        distance_radii=221.3,
        sigma_deg=4.5,
    )
    assert len(sun_track(window, free).unix_seconds) > 100
    away = sun_track(window, replace(free, sub_solar_lon_deg=sun - 90.0))
    assert len(away.unix_seconds) == 0
    assert abs(away.lon_deg.mean() - (sun - 90.0)) < 1e-6
    # a clock of long ago is searched about its own time, one inside the window over the window
    then = sun_track(window, replace(free, utc=WHEN - timedelta(days=300)))
    assert abs(then.unix_seconds.mean() - (WHEN - timedelta(days=300)).timestamp()) < 3600
    assert sun_track(window, replace(free, utc=WHEN - timedelta(hours=30))).unix_seconds[-1] > WHEN.timestamp()
    assert (free_track(10.0).lon_deg[[0, -1]] == [26.0, -6.0]).all()
