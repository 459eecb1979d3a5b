"""Corrections by hand on rendered photographs (tests/scenes) whose pose and feature pixels are known."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from moondesk.checks.borrowed_pictures import OLD_PICTURE
from moondesk.corrections import Corrections, correct_picture
from moondesk.moon.geometry import sun_altitude_deg, surface_to_pixel
from moondesk.records import Annotation, Known, NotFound, Place, Pose
from tests.scenes import FileTags, Film, Optics, Scene, SceneSpec, render

WHEN = datetime(2027, 3, 16, 19, 0, tzinfo=UTC)
KNOWN = Known(received_utc=WHEN + timedelta(hours=5), place=Place(45.0, 12.0))


def spec(mirrored: bool = False, **changes: object) -> SceneSpec:
    plain = SceneSpec(
        WHEN, Place(45.0, 12.0), x=318.4, y=245.7, radius_px=181.3, north_screen_deg=67.0, mirrored=mirrored, width=640,
        height=480, seed=3, optics=Optics(blur_px=1.0), film=Film(shot=0.01), received_utc=KNOWN.received_utc,
    )  # fmt: skip
    return replace(plain, **changes)  # type: ignore[arg-type]


@pytest.fixture(scope="module", params=[False, True], ids=["as seen", "mirrored"])
def scene(request: pytest.FixtureRequest) -> Scene:
    return render(spec(bool(request.param)))


def pins(scene: Scene, *names: str, off: float = 0.0) -> tuple[tuple[str, float, float], ...]:
    """Pins at the truth's pixels, each off by so many px, in directions that differ."""
    at = {f["name"]: (f["x"], f["y"]) for f in scene.truth["features"]}
    return tuple((n, at[n][0] + off * math.cos(2.4 * k), at[n][1] + off * math.sin(2.4 * k))
                 for k, n in enumerate(names))  # fmt: skip


def corrected(scene: Scene, known: Known = KNOWN, earlier: Annotation | None = None, **what: object) -> Annotation:
    got = correct_picture(scene.data, known, Corrections(**what), earlier)  # type: ignore[arg-type]
    assert isinstance(got, Annotation)
    return got


def error_pct(found: Pose | None, true: Pose) -> float:
    """Median distance between the two poses' pixels over the lit part of the disc, %R."""
    assert found is not None
    lat, lon = (a.ravel() for a in np.meshgrid(np.arange(-70, 71, 10.0), np.arange(-70, 71, 10.0)))
    lit = sun_altitude_deg(lat, lon, true.sub_solar_lat_deg, true.sub_solar_lon_deg) > 2
    a, b = surface_to_pixel(found, lat[lit], lon[lit]), surface_to_pixel(true, lat[lit], lon[lit])
    return 100 * float(np.median(np.hypot(a.x - b.x, a.y - b.y))) / true.radius_px


def test_two_pins_off_by_a_pixel_are_refined_by_the_surface(scene: Scene) -> None:
    got = corrected(scene, pins=pins(scene, "Plato", "Tycho", off=1.0))
    assert (got.status, got.sure) == ("annotated", True)
    assert got.pose is not None
    assert got.pose.mirrored is scene.spec.mirrored
    assert error_pct(got.pose, scene.pose) < 0.1  # a pixel here is 0.55 %R


def test_two_pins_without_any_date(scene: Scene) -> None:
    undated = render(replace(scene.spec, tags=FileTags(time=False, place=False)))
    got = corrected(undated, Known(), pins=pins(undated, "Plato", "Tycho", off=1.0))
    assert got.pose is not None
    assert got.pose.mirrored is scene.spec.mirrored
    assert error_pct(got.pose, scene.pose) < 0.5
    # nobody said what day it is: no evenings; with it they are listed, by hand as by itself
    assert got.evenings == ()
    later = Known(now_utc=WHEN + timedelta(days=1500), place=scene.spec.place)
    dated = corrected(undated, later, pins=pins(undated, "Plato", "Tycho", off=1.0))
    assert dated.sure
    assert any(abs(e.utc - WHEN) < timedelta(days=1) for e in dated.evenings)


def test_an_old_picture_is_told_by_hand_too(scene: Scene) -> None:
    came = Known(received_utc=WHEN + timedelta(days=900), place=scene.spec.place)
    bare = render(replace(scene.spec, tags=FileTags(time=False, place=False)))
    got = corrected(bare, came, pins=pins(bare, "Plato", "Tycho", off=1.0))
    assert OLD_PICTURE in got.flags
    assert any(abs(e.utc - WHEN) < timedelta(days=1) for e in got.evenings)


def test_a_picture_without_texture_is_placed_by_its_pins_alone() -> None:
    blurred = render(spec(optics=Optics(blur_px=14.0)))
    got = corrected(blurred, pins=pins(blurred, "Plato", "Tycho", "Langrenus", "Copernicus", off=1.0), mirrored=False)
    assert got.status == "annotated"
    assert error_pct(got.pose, blurred.pose) < 1.5
    assert got.sure or got.reason


def test_pins_override_a_surface_that_contradicts_them(scene: Scene) -> None:
    moved = tuple((n, x + 40.0, y) for n, x, y in pins(scene, "Plato", "Tycho", "Copernicus"))
    got = corrected(scene, pins=moved)
    assert got.pose is not None
    assert (got.status, got.sure) == ("annotated", False)
    assert "by hand" in got.reason
    assert got.advice
    for name, x, y in moved:
        mark = next(m for m in got.features if m.feature.name == name)
        assert (mark.x, mark.y) == pytest.approx((x, y), abs=3.0)


def test_pins_that_do_not_fit_each_other_are_told() -> None:
    scene = render(spec())
    good = pins(scene, "Plato", "Tycho", "Copernicus", "Theophilus")
    name, x, y = good[3]
    got = corrected(scene, pins=(*good[:3], (name, x + 60.0, y + 30.0)))
    assert got.sure is False
    assert "do not fit each other" in got.reason
    assert name in got.reason


def test_forced_hand_is_kept_and_a_wrong_one_never_sure(scene: Scene) -> None:
    true = scene.spec.mirrored
    right = corrected(scene, mirrored=true)
    assert right.pose is not None
    assert (right.pose.mirrored, right.sure) == (true, True)
    wrong = corrected(scene, mirrored=not true)
    assert wrong.sure is False
    assert wrong.reason
    assert wrong.pose is None or wrong.pose.mirrored is not true
    pinned = corrected(scene, mirrored=not true, pins=pins(scene, "Plato", "Tycho"))
    assert pinned.pose is not None
    assert (pinned.pose.mirrored, pinned.sure) == (not true, False)
    assert "by hand" in pinned.reason


def test_circle_restarts_with_that_limb(scene: Scene) -> None:
    s = scene.spec
    got = corrected(scene, limb_circle=(s.x + 2.0, s.y - 2.0, s.radius_px + 1.0))
    assert got.sure
    assert error_pct(got.pose, scene.pose) < 0.1
    astray = corrected(scene, limb_circle=(100.0, 100.0, 40.0))
    assert astray.sure is False
    assert astray.reason


def test_circle_and_one_pin(scene: Scene) -> None:
    s = scene.spec
    got = corrected(scene, limb_circle=(s.x, s.y, s.radius_px), pins=pins(scene, "Plato", off=1.0))
    assert got.pose is not None
    assert got.pose.mirrored is s.mirrored
    assert error_pct(got.pose, scene.pose) < 0.1


def test_forced_time_is_the_time_told() -> None:
    wrong_clock = render(spec(tags=FileTags(clock_error_h=-30.0)))
    got = corrected(wrong_clock, taken_utc=WHEN, pins=pins(wrong_clock, "Plato", "Tycho"))
    assert got.time is not None
    assert (got.time.utc, got.time.source, got.clock.verdict) == (WHEN, "told", "agrees")


@pytest.mark.parametrize(("names", "words"), [
    ([("Plateau", 1.0, 1.0), ("Tycho", 90.0, 90.0)], "no feature called"),
    ([("Tycho", 1.0, 1.0), ("tycho", 90.0, 90.0)], "named twice"),
    ([("Tsiolkovskiy", 1.0, 1.0), ("Tycho", 90.0, 90.0)], "far side"),
    ([("Tycho", 90.0, 90.0)], "One named point"),
    ([("Tycho", 90.0, 90.0), ("Plato", 90.5, 90.0)], "too near"),
])  # fmt: skip
def test_pins_that_cannot_be_used(names: list[tuple[str, float, float]], words: str) -> None:
    got = correct_picture(b"", KNOWN, Corrections(pins=tuple(names)))
    assert isinstance(got, NotFound)
    assert words in got.reason
    assert got.advice


@pytest.mark.parametrize("wrong", [
    {"limb_circle": (1.0, 1.0, 0.0)}, {"limb_circle": (math.nan, 1.0, 9.0)}, {"pins": (("Tycho", math.inf, 1.0),)},
    {"taken_utc": datetime(2027, 3, 16)},  # the zone is missing
])  # fmt: skip
def test_wrong_calls(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="must be"):
        Corrections(**wrong)  # type: ignore[arg-type]


def test_unreadable_stays_unreadable() -> None:
    got = correct_picture(b"no picture", KNOWN, Corrections(limb_circle=(9.0, 9.0, 5.0)))
    assert isinstance(got, Annotation)
    assert got.status == "unreadable"


@pytest.mark.slow
@pytest.mark.parametrize("what", ["pins", "circle", "hand"])
def test_answers_in_under_a_second(what: str) -> None:
    """Time of the processor, so that what else runs on the machine does not count."""
    scene = render(spec(x=790.0, y=610.0, radius_px=480.0, width=1600, height=1200))
    given = {
        "pins": {"pins": pins(scene, "Plato", "Tycho", off=2.0)}, "circle": {"limb_circle": (790.0, 610.0, 480.0)},
        "hand": {"mirrored": False},
    }[what]  # fmt: skip
    corrected(scene, **given)
    start = time.process_time()
    corrected(scene, **given)
    assert time.process_time() - start < 1.0
