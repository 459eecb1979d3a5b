"""Sentences of the core that were false, each on a picture or a record that it was said of.

The landing places are checked against the IAU/USGS gazetteer's centres and sizes, which the catalogue carries.
"""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime

import cv2
import numpy as np
import pytest
from PIL import Image

from moondesk.checks.drawings import is_drawing
from moondesk.checks.evening import judge_evening
from moondesk.checks.surroundings import repeats
from moondesk.checks.tiny_discs import brightest_spot
from moondesk.checks.unplaced_hints import disc_about, reconsider
from moondesk.checks.verdict import DRAWN, FRAMED, state, without_placement
from moondesk.files.picture import decode
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import unit_vector
from moondesk.notes.earth_places import PLACES
from moondesk.notes.feature_notes import rank_size, size
from moondesk.notes.landing_sites import SITES
from moondesk.notes.messages import in_english
from moondesk.notes.namesake_sentences import namesake_note
from moondesk.notes.namesakes import no_person
from moondesk.notes.ranks import rank_of
from moondesk.placement.limb import find_circles
from moondesk.placement.search import Limbs
from moondesk.records import (
    MOON_RADIUS_KM,
    Clock,
    ClockVerdict,
    Limb,
    NotFound,
    Picture,
    Place,
    Status,
    TimeCandidate,
    TimeReadings,
)
from moondesk.sentences import sentence
from tests.scenes import FileTags, SceneSpec, render

WHEN = datetime(2027, 3, 16, 19, 0, tzinfo=UTC)
SPEC = SceneSpec(WHEN, Place(45.0, 12.0), x=400.0, y=300.0, radius_px=230.0, north_screen_deg=67.0, width=800,
                 height=600, seed=3, tags=FileTags(time=False, place=False, make=None, model=None))  # fmt: skip
PLATE = state(Status.NOT_MOON, sentence("other_markings"))
EMPTY = Picture(
    luminance=np.zeros((60, 80), np.float32),
    redness=None,
    shrink=1.0,
    width=80,
    height=60,
    orientation_applied=1,
    media_type="image/jpeg",
)


def limb(x: float, y: float, radius: float, arc: float = 300.0) -> Limb:
    return Limb(
        x=x,
        y=y,
        radius_px=radius,
        sigma_px=0.1,
        covariance=(0.0,) * 9,
        rms_px=0.1,
        arc_deg=arc,
        n_points=100,
        edge_width_px=2.0,
    )


def shown(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).copy()


def picture_of(pixels: np.ndarray) -> Picture:
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "PNG")
    picture = decode(buffer.getvalue(), 1110)
    assert isinstance(picture, Picture)
    return picture


@pytest.fixture(scope="module")
def moon() -> np.ndarray:
    return shown(render(SPEC).data)


def test_a_file_with_a_date_is_not_said_to_have_none() -> None:
    readings = tuple(TimeCandidate(WHEN, 5.0, "exif+any zone", hours) for hours in (1.0, 2.0))
    taken = TimeReadings(candidates=readings, earliest_utc=None, latest_utc=None, local_text="2027-03-16 20:00:00")
    said = judge_evening(taken, Clock(ClockVerdict.CANNOT_TELL, None, None), None, sure=True)
    assert said.verdict == "unknown"
    assert "2027-03-16 20:00:00" in said.reason
    assert "without a time zone" in said.reason


def test_a_disc_is_as_wide_as_its_limb_and_not_as_its_lit_part() -> None:
    """A crescent of 30 px radius, of which less than 50 px are bright: it is 60 px wide."""
    small = replace(SPEC, when_utc=datetime(2027, 3, 11, 19, 0, tzinfo=UTC), x=300.0, y=210.0, radius_px=30.0,
                    north_screen_deg=20.0, width=640, height=480)  # fmt: skip
    picture = picture_of(shown(render(small).data))
    spot = brightest_spot(picture.luminance, redness=picture.redness)
    assert spot is not None
    assert spot.radius < 25.0
    about = disc_about(spot, list(Limbs(picture.luminance, find_circles(picture.luminance), 25.0)))
    said = without_placement(None, spot, 1.0, NotFound("pose", "why", "what"), about)
    assert said.status == "unplaced"
    assert int(said.reason.split(" pixels")[0].split()[-1]) == pytest.approx(60, abs=4)
    # a planet's glow lies evenly about it
    assert disc_about(replace(spot, x=300.0, y=200.0, radius=14.0), [limb(300.5, 199.5, 29.0)]) is None


def test_a_field_with_a_part_of_the_moon_is_no_plate(moon: np.ndarray) -> None:
    """An eyepiece's field that cuts the Moon off: parts of the surface are recognised."""
    jj, ii = np.meshgrid(np.arange(800), np.arange(600))
    cut = moon * (np.hypot(jj - 470, ii - 300) < 190)[..., None]
    said = reconsider(PLATE, picture_of(cut.astype(np.uint8)), [limb(470, 300, 190)])
    assert said.status == "unplaced"
    assert "recognised" in said.reason
    assert said.advice


@pytest.mark.parametrize(
    ("others", "word"),
    [([(900.0, 400.0, 200.0)], "larger circle"), ([(400.0, 100.0, 60.0)], "other round things"), ([], "a plate")],
)
def test_a_thing_beside_another_circle_is_not_named(others: list[tuple[float, float, float]], word: str) -> None:
    said = reconsider(PLATE, EMPTY, [limb(100, 100, 80), *(limb(*o) for o in others)])
    assert word in said.reason
    assert said.status == ("not_moon" if word == "a plate" else "unplaced")


def test_an_arc_of_anything_is_no_second_disc() -> None:
    assert reconsider(PLATE, EMPTY, [limb(100, 100, 80), limb(900, 400, 450, arc=50.0)]) == PLATE


def test_where_the_surface_is_recognised_nothing_is_called_a_drawing(moon: np.ndarray) -> None:
    assert "drawing" not in reconsider(DRAWN, picture_of(moon), []).reason
    assert reconsider(DRAWN, EMPTY, []) is DRAWN


def test_labels_on_a_photograph_make_no_drawing() -> None:
    """A blurred photograph in a flat sky, with plates of two flat greys over its corners."""
    jj, ii = np.meshgrid(np.arange(900), np.arange(700))
    grain = np.random.default_rng(5).normal(0, 9, (700, 900))
    disc = np.where(np.hypot(jj - 450, ii - 350) < 220, 150 + 40 * np.sin(jj / 31.0) * np.cos(ii / 23.0) + grain, 8)
    for x, y, level in ((20, 20, 200), (20, 640, 90), (640, 20, 200), (640, 640, 90)):
        disc[y : y + 45, x : x + 240] = level
    labelled = picture_of(np.repeat(np.clip(disc, 0, 255).astype(np.uint8)[..., None], 3, axis=2))
    assert not is_drawing(labelled)


def test_straight_edges_are_said_of_all_that_has_them() -> None:
    for word in ("screen", "print", "picture within a picture"):
        assert word in FRAMED.reason
    assert "looks like a photograph of a screen" not in FRAMED.reason


@pytest.mark.parametrize("times", [0.87, 1.1])
def test_two_moons_of_nearly_one_size_are_several(moon: np.ndarray, times: float) -> None:
    small = cv2.resize(moon, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    other = cv2.resize(small, None, fx=times, fy=times, interpolation=cv2.INTER_AREA)
    canvas = np.zeros((400, 900, 3), np.uint8)
    canvas[50:350, :400] = small
    h, w = other.shape[:2]
    canvas[40 : 40 + h, 450 : 450 + w] = other[:, :450]
    picture = picture_of(canvas)
    circles = find_circles(picture.luminance)
    first = next(k for k in Limbs(picture.luminance, circles) if abs(k.radius_px - 115) < 4)
    assert repeats(picture.luminance, circles, first) == 2


def test_one_moon_is_one(moon: np.ndarray) -> None:
    picture = picture_of(moon)
    circles = find_circles(picture.luminance)
    assert repeats(picture.luminance, circles, next(iter(Limbs(picture.luminance, circles)))) == 1


# --- notes -----------------------------------------------------------------------------------------------------------


def named(name: str):
    return next(f for f in all_features() if f.name == name)


def test_a_landing_is_told_with_its_sea() -> None:
    """By the gazetteer: within the feature's reach, or no further from it than a tenth of the Moon's radius."""
    for site in SITES:
        f = named(site.region)
        apart = np.degrees(np.arccos(unit_vector(f.lat_deg, f.lon_deg) @ unit_vector(site.lat_deg, site.lon_deg)))
        reach = np.degrees(f.size_km / 2 / MOON_RADIUS_KM)
        assert apart < reach + (0.6 if site.inside else 6.0), site
    assert len({s.region for s in SITES if s.mission.startswith("Surveyor")}) > 2


def test_schiller_is_long_and_not_across() -> None:
    said = size(named("Schiller"))
    assert said is not None
    assert "179 km long" in in_english(said)
    plato = size(named("Plato"))
    assert plato is not None
    assert "km across" in in_english(plato)


def test_a_place_on_the_earth_is_named() -> None:
    on_earth = {f.name for f in all_features() if no_person(f.name) == "a place on the Earth"}
    assert on_earth == set(PLACES)
    said = namesake_note(named("Montes Apenninus"))
    assert said is not None
    assert in_english(said) == "It is named after the Apennines in Italy."


def test_no_rank_beyond_the_third_is_spoken() -> None:
    for f in all_features():
        rank = rank_of(f.name)
        if rank is not None:
            assert (rank_size(f) is not None) is (rank <= 3)
