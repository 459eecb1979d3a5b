"""No right clock is accused: what forbids it, each by itself, and a wrong clock that is still found."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from moondesk import Known, annotate_picture
from moondesk.checks.clock import PictureTime, judge
from moondesk.checks.clock_doubts import DOWN, LIGHT, NOT_SURE, TILT, UNEVEN, against_accusing
from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.sky_hypotheses import SkyHypothesis, sun_track
from moondesk.moon.relight import disc_model, light
from moondesk.placement.refinement import Placement
from moondesk.placement.sun_search import LightFit, NorthUp, fit_light
from moondesk.records import Place, Pose, TimeCandidate, TimeReadings
from tests.scenes import FileTags, SceneSpec, render

#: The Moon stands high in this place at the time, and is down ten hours later.
WHEN, VIENNA = datetime(2027, 3, 14, 19, 20, tzinfo=UTC), Place(48.2, 16.4)
TAKEN = TimeReadings(
    candidates=(TimeCandidate(WHEN, 2.0, "exif+offset", 1.0),),
    earliest_utc=WHEN - timedelta(days=3),
    latest_utc=WHEN + timedelta(days=1),
)


def of(libration: datetime, place: Place | None, uneven: float = 0.01) -> Placement:
    """A placement with the libration of an instant; its light has said what `found` below says."""
    a = aspect_at(libration, place)
    sky = SkyHypothesis(
        utc=libration,
        libration_lat_deg=0.0,
        libration_lon_deg=0.0,
        sub_solar_lat_deg=0.0,
        sub_solar_lon_deg=0.0,
        distance_radii=221.3,
        sigma_deg=0.6,
    )
    pose = Pose(x=300.0, y=300.0, radius_px=200.0, north_screen_deg=0.0, mirrored=False, libration_lat_deg=a.libration_lat_deg, libration_lon_deg=a.libration_lon_deg, sub_solar_lat_deg=a.sub_solar_lat_deg,
                sub_solar_lon_deg=a.sub_solar_lon_deg, sigma_pct_radius=0.1)  # fmt: skip
    return Placement(
        pose=pose,
        limb=None,
        sky=sky,
        track=sun_track(TAKEN, sky),
        light=LightFit(index=10.0, unexplained=0.02, sigma=0.5, at_edge=False, uneven=uneven),
        noise_pct_radius=0.2,
    )


def found(hours: float) -> PictureTime:
    return PictureTime(WHEN + timedelta(hours=hours), 0.7, False)


CLOCK = TAKEN.candidates[0]
#: A full Moon of the evening; fourteen hours later it is down wherever clocks go by Central European time.
FULL = datetime(2027, 3, 22, 20, 0, tzinfo=UTC)


@pytest.mark.parametrize(("placed", "sure", "place", "hours", "recorded", "why"), [
    (of(WHEN - timedelta(hours=8), VIENNA), True, VIENNA, -2.0, replace(CLOCK, utc=WHEN + timedelta(hours=6)), ""),
    (of(WHEN, VIENNA), False, VIENNA, -24.0, CLOCK, NOT_SURE),
    (of(WHEN, VIENNA, 2 * UNEVEN), True, VIENNA, -24.0, CLOCK, LIGHT),
    (of(WHEN, VIENNA), True, VIENNA, 10.0, CLOCK, DOWN),
    (of(FULL, VIENNA), True, None, 8 * 24 + 15.2, replace(CLOCK, utc=FULL), DOWN),  # nor anywhere in that zone
    (of(WHEN, VIENNA), True, None, 10.0, replace(CLOCK, source="exif+any zone"), ""),  # but somewhere
    (of(WHEN, VIENNA), True, VIENNA, -24.0, CLOCK, TILT),
    (of(WHEN - timedelta(hours=24), VIENNA), True, VIENNA, -24.0, CLOCK, ""),
    (of(WHEN - timedelta(hours=24), VIENNA), True, None, -24.0, CLOCK, ""),
    (of(WHEN, VIENNA), True, VIENNA, -24.0, None, ""),  # a reading that its own date rules out
])  # fmt: skip
def test_what_forbids_to_accuse_a_clock(
    placed: Placement, sure: bool, place: Place | None, hours: float, recorded: TimeCandidate | None, why: str
) -> None:
    assert against_accusing(placed, sure, place, found(hours), recorded) == why


def test_a_clock_that_must_not_be_accused_is_not_and_its_time_stays() -> None:
    clock, time = judge(TAKEN, found(-24.0), lambda _: TILT)
    assert (clock.verdict, clock.words, clock.picture_utc) == ("cannot_tell", TILT, None)
    assert time == CLOCK
    assert judge(TAKEN, found(-24.0), lambda _: "")[0].verdict == "disagrees"
    ruled_out = replace(TAKEN, candidates=(), local_text="2027-03-15 20:20:00")
    assert judge(ruled_out, found(0.0), lambda _: NOT_SURE)[0].verdict == "cannot_tell"


def test_light_that_hangs_together_is_told_from_even_light() -> None:
    """A relit disc with grain; the same under a corner's shadow, beyond what tilt and glow of the fit can follow."""
    model = disc_model(1.0, -2.0, 90.0)
    track = sun_track(
        TAKEN,
        SkyHypothesis(
            utc=WHEN,
            libration_lat_deg=0.0,
            libration_lon_deg=0.0,
            sub_solar_lat_deg=0.0,
            sub_solar_lon_deg=0.0,
            distance_radii=221.3,
            sigma_deg=0.6,
        ),
    )
    at = len(track.lon_deg) // 2
    rng = np.random.default_rng(5)
    plain = np.sqrt(light(model, float(track.lat_deg[at]), float(track.lon_deg[at])))
    plain = (plain + rng.normal(0.0, 0.01, plain.shape)).astype(np.float32)
    y, x = np.mgrid[-1 : 1 : plain.shape[0] * 1j, -1 : 1 : plain.shape[1] * 1j]
    rays = 1.0 + 0.4 * np.cos(6 * np.arctan2(y - 0.3, x - 0.1))
    even = fit_light(NorthUp(plain, model.inside), model, track, at)
    uneven = fit_light(NorthUp((plain * rays).astype(np.float32), model.inside), model, track, at)
    assert even.uneven < UNEVEN / 2
    assert uneven.uneven > UNEVEN
    assert uneven.sigma > even.sigma


@pytest.mark.parametrize(("hours", "verdict"), [(0.0, "agrees"), (8.0, "disagrees"), (-24.0, "disagrees")])
def test_a_wrong_clock_is_still_found(hours: float, verdict: str) -> None:
    spec = SceneSpec(WHEN, VIENNA, x=318.4, y=245.7, radius_px=181.3, north_screen_deg=67.0, width=640, height=480,
                     seed=3, tags=FileTags(clock_error_h=hours, place=False))  # fmt: skip
    got = annotate_picture(render(spec).data, Known(received_utc=WHEN + timedelta(hours=30)))
    assert got.clock.verdict == verdict
    assert got.dated.verdict == ("sure" if hours == 0 else "unsure")
