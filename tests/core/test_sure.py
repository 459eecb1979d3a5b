"""Sure means sure: bent, stitched, doubled and cut pictures are solved, or told as what they are.

Truth comes from poses written down here, from pictures made of them by plain shifts, and from tests/scenes, whose
renderer and distortions are its own.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import cv2
import numpy as np
import pytest

from moondesk import Known, annotate_picture
from moondesk.checks.colour_shift import colours_apart
from moondesk.checks.hidden_features import without_hidden
from moondesk.checks.limb_witness import outline_off, side_confirmed
from moondesk.checks.shifted_parts import astray
from moondesk.checks.uncertainty import burnt_share, with_uncertainty
from moondesk.drawing.composition import Composition
from moondesk.drawing.frame import FrameRequest
from moondesk.drawing.labels import labels_of
from moondesk.drawing.stage import Stage
from moondesk.drawing.turned import annotate_turned, turn_for
from moondesk.ephemeris.sky_hypotheses import by_clock
from moondesk.files.picture import decode
from moondesk.moon.catalogue import find
from moondesk.moon.geometry import disc_axes, disc_to_pixel, in_field, pixel_to_disc, surface_to_pixel
from moondesk.moon.relight import disc_model
from moondesk.placement.blur_kernel import ONE_SPOT, smear_of
from moondesk.placement.distortion import solve_with_distortion
from moondesk.placement.evidence import Evidence, extra_pct
from moondesk.placement.field_stop import find_field
from moondesk.placement.matching import Matches, NorthUpFrame, predict
from moondesk.placement.search import place_as_given
from moondesk.placement.second_look import SecondLook, second_look
from moondesk.placement.solver import Constraints, Prior, predict_pixels
from moondesk.records import (
    Annotation,
    Clock,
    ClockVerdict,
    Feature,
    FeatureMark,
    FieldStop,
    Picture,
    Place,
    Pose,
    Status,
    TimeCandidate,
    TimeReadings,
)
from tests.scenes import FieldStop as Stop
from tests.scenes import Film, Optics, Scene, SceneSpec, Sky, render, spec_of

FLAT = Pose(
    x=500.0,
    y=400.0,
    radius_px=300.0,
    north_screen_deg=20.0,
    mirrored=False,
    libration_lat_deg=3.0,
    libration_lon_deg=-4.0,
    sub_solar_lat_deg=0.5,
    sub_solar_lon_deg=40.0,
    axis_x=520.0,
    axis_y=390.0,
    axis_scale_px=700.0,
)
PRIORS = (Prior("libration_lat_deg", 3.0, 0.3), Prior("libration_lon_deg", -4.0, 0.3))


def spread(count: int, seed: int = 1) -> np.ndarray:
    """(N, 3) places over the visible side, up to 70 degrees from its middle."""
    rng = np.random.default_rng(seed)
    away, turn = np.arcsin(0.94 * np.sqrt(rng.random(count))), rng.uniform(0, 2 * np.pi, count)
    local = np.column_stack([np.sin(away) * np.cos(turn), np.sin(away) * np.sin(turn), np.cos(away)])
    return local @ disc_axes(3.0, -4.0)


def pairs(pose: Pose, shift: np.ndarray | float = 0.0, count: int = 240, noise_px: float = 0.15) -> Matches:
    """Patches found where `pose` has them, moved by `shift` pixels."""
    surface = spread(count)
    xy = predict_pixels(pose, surface) + shift + np.random.default_rng(2).normal(0, noise_px, (count, 2))
    ones = np.ones(count)
    return Matches(surface=surface, xy=xy, correlation=0.8 * ones, sharpness=0.05 * ones, tried=count, frame_px=2.1)


def off_px(found: Pose, true: Pose) -> float:
    surface = spread(400, seed=9)
    return float(np.percentile(np.hypot(*(predict_pixels(found, surface) - predict_pixels(true, surface)).T), 95))


def test_tilt_and_eyepiece_are_solved_for_instead_of_refused() -> None:
    tilted = replace(FLAT, tilt=0.07, tilt_screen_deg=130.0, flattening=0.01, flattening_screen_deg=60.0)
    found = solve_with_distortion(FLAT, pairs(tilted), Constraints(priors=PRIORS)).pose
    assert found.tilt == pytest.approx(0.07, abs=0.004)
    assert off_px(found, tilted) < 0.3
    eyepiece = replace(FLAT, radial_k1=0.2, tangential=0.03, tangential_screen_deg=250.0)
    found = solve_with_distortion(FLAT, pairs(eyepiece), Constraints(priors=PRIORS)).pose
    assert found.tangential == pytest.approx(0.03, abs=0.004)
    assert off_px(found, eyepiece) < 0.3


def test_a_straight_picture_and_a_wave_ask_for_no_tilt() -> None:
    plain = solve_with_distortion(FLAT, pairs(FLAT), Constraints(priors=PRIORS)).pose
    assert (plain.flattening, plain.tilt, plain.tangential, plain.radial_k1) == (0.0, 0.0, 0.0, 0.0)
    at = predict_pixels(FLAT, spread(240))
    wave = np.column_stack([3.0 * np.sin(at[:, 1] / 25.0), np.zeros(240)])
    waved = solve_with_distortion(FLAT, pairs(FLAT, wave), Constraints(priors=PRIORS)).pose
    assert (waved.tilt, waved.tangential) == (0.0, 0.0)


def stitched() -> tuple[SecondLook, np.ndarray]:
    """The patches below the middle, a good part of them, lie 2 %R elsewhere."""
    at = predict_pixels(FLAT, spread(240))
    below = at[:, 1] > FLAT.y + 0.3 * FLAT.radius_px
    return second_look(pairs(FLAT, np.where(below[:, None], (6.0, 0.0), (0.0, 0.0))), FLAT), below


def test_a_part_that_lies_elsewhere_is_named_by_its_side() -> None:
    look, _ = stitched()
    part = astray(look, FLAT)
    assert part is not None
    assert part.side in ("bottom", "lower left", "lower right")
    assert part.off_pct == pytest.approx(2.0, abs=0.3)
    assert astray(second_look(pairs(FLAT), FLAT), FLAT) is None
    # patches that scatter as much, but each its own way, are a blurred picture's
    scattered = second_look(pairs(FLAT, noise_px=4.5), FLAT)
    assert np.median(np.hypot(*scattered.off.T)) > 1.5
    assert astray(scattered, FLAT) is None


def test_the_stated_sigma_carries_the_smooth_residual_where_it_is() -> None:
    look, _ = stitched()
    top, low, limb = extra_pct(Evidence(look=look), np.array([[0.1, 0.5], [0.0, -0.75], [0.99, 0.0]]))
    assert top < 0.02
    assert low > 1.0
    clean = extra_pct(Evidence(look=second_look(pairs(FLAT), FLAT)), look.uv)
    assert np.median(clean) < 0.02
    assert limb < 0.1


def test_names_far_from_any_patch_are_less_certain_the_further() -> None:
    every = pairs(FLAT)
    west = predict_pixels(FLAT, every.surface)[:, 0] < FLAT.x
    half = Matches(
        surface=every.surface[west],
        xy=every.xy[west],
        correlation=every.correlation[west],
        sharpness=every.sharpness[west],
        tried=240,
        frame_px=2.1,
    )
    look = second_look(half, FLAT)
    u = np.array([0.15, 0.6, 0.9])
    near, far, farther = extra_pct(Evidence(look=look), np.column_stack([u * np.cos(0.35), u * np.sin(0.35)]))
    assert near < 0.1
    assert 0.5 < far < farther


def shown_twice(apart_px: float, weight: float) -> tuple[NorthUpFrame, object]:
    model = disc_model(3.0, -4.0, 140.0)
    prediction = predict(model, 0.5, 40.0, 0.8)
    moved = cv2.warpAffine(prediction.values, np.float32([[1, 0, apart_px], [0, 1, 0]]), prediction.values.shape[::-1])
    rng = np.random.default_rng(4)
    values = (1 - weight) * prediction.values + weight * moved + rng.normal(0, 0.01, moved.shape)
    grid = np.zeros_like(prediction.values)
    return NorthUpFrame(values.astype(np.float32), np.ones(values.shape, bool), grid, grid), prediction


def test_two_exposures_are_two_spots_and_one_is_one() -> None:
    double = smear_of(*shown_twice(4.2, 0.4))  # type: ignore[arg-type]
    assert double.apart_pct == pytest.approx(3.0, abs=0.5)
    assert double.spread_pct > 0.5
    assert smear_of(*shown_twice(0.0, 0.0)) == ONE_SPOT  # type: ignore[arg-type]
    assert extra_pct(Evidence(smear=double), np.zeros((1, 2)))[0] == pytest.approx(double.spread_pct)


def coloured(apart_px: float) -> tuple[Picture, Pose]:
    """A grey disc whose red lies to the right of its blue."""
    model = disc_model(3.0, -4.0, 140.0)
    grey = (predict(model, 0.5, 40.0, 0.8).values ** 2 * 0.6).astype(np.float32)

    def moved(by: float) -> np.ndarray:
        return cv2.warpAffine(grey, np.float32([[1, 0, by], [0, 1, 0]]), grey.shape[::-1])

    red, blue = moved(apart_px / 2), moved(-apart_px / 2)
    light = (0.2126 * red + 0.7152 * grey + 0.0722 * blue).astype(np.float32)
    redness = ((red - blue) / np.maximum(red + grey + blue, 1e-3)).astype(np.float32)
    pose = replace(FLAT, x=float(model.centre), y=float(model.centre), radius_px=140.0, north_screen_deg=0.0)
    return Picture(
        luminance=light,
        redness=redness,
        shrink=1.0,
        width=grey.shape[1],
        height=grey.shape[0],
        orientation_applied=1,
        media_type="image/png",
    ), pose


def test_red_and_blue_apart_widen_the_sigma() -> None:
    picture, pose = coloured(3.0)
    apart = colours_apart(picture, pose)
    assert apart == pytest.approx(100 * 3.0 / 140.0, rel=0.3)
    assert colours_apart(*coloured(0.0)) == 0.0
    assert extra_pct(Evidence(colours_pct=apart), np.zeros((1, 2)))[0] > 0.1
    # the luminance itself lies off the green by 0.07 of it
    assert extra_pct(Evidence(colours_pct=apart), np.zeros((1, 2)))[0] < 0.4


def test_a_burnt_disc_is_measured_as_such() -> None:
    picture, pose = coloured(0.0)
    assert burnt_share(picture, pose) == 0.0
    assert burnt_share(replace(picture, luminance=np.ones_like(picture.luminance)), pose) == 1.0


def test_the_outline_asks_for_a_second_look_and_names_the_side() -> None:
    ys, xs = np.mgrid[0:800, 0:1000].astype(float)
    round_ = (np.hypot(xs - FLAT.x, ys - FLAT.y) < FLAT.radius_px).astype(np.float32)
    pose = replace(FLAT, sub_solar_lon_deg=-4.0)  # full
    assert outline_off(cv2.GaussianBlur(round_, (0, 0), 1.5), pose, None) is None
    # pulled out to the lower left by up to a fifteenth
    turn = np.arctan2(ys - FLAT.y, xs - FLAT.x)
    reach = FLAT.radius_px * (1 + 0.065 * np.maximum(np.cos(turn - np.radians(135)), 0) ** 2)
    pulled = cv2.GaussianBlur((np.hypot(xs - FLAT.x, ys - FLAT.y) < reach).astype(np.float32), (0, 0), 1.5)
    found = outline_off(pulled, pose, None)
    assert found is not None
    assert found.side == "lower left"
    assert found.off_pct > 3
    every = pairs(pose)
    assert side_confirmed(second_look(every, pose), pose, found)
    away = predict_pixels(pose, every.surface) - (FLAT.x, FLAT.y)
    rest = ~((away[:, 0] < 0) & (away[:, 1] > 0))
    few = Matches(
        surface=every.surface[rest],
        xy=every.xy[rest],
        correlation=every.correlation[rest],
        sharpness=every.sharpness[rest],
        tried=240,
        frame_px=2.1,
    )
    assert not side_confirmed(second_look(few, pose), pose, found)


def test_a_turned_view_turns_the_bending_with_it() -> None:
    bent = replace(FLAT, tilt=0.08, tilt_screen_deg=30.0, tangential=0.02, tangential_screen_deg=200.0)
    for pose in (bent, replace(bent, mirrored=True)):
        whole = Annotation(
            status=Status.ANNOTATED,
            sure=True,
            width=1000,
            height=800,
            taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
            time=None,
            clock=Clock(ClockVerdict.NO_CLOCK, None, None),
            pose=pose,
            field_stop=FieldStop(450.0, 380.0, 250.0),
        )
        turn = turn_for(whole, 75.0)
        view = annotate_turned(whole, turn)
        assert view.pose is not None
        assert view.field_stop is not None
        assert (view.field_stop.x, view.field_stop.y) == pytest.approx(turn.point(450.0, 380.0))
        for x, y in predict_pixels(pose, spread(20)).tolist():
            u, v = pixel_to_disc(pose, x, y)
            there = [float(c) for c in disc_to_pixel(view.pose, u, v)]
            assert there == pytest.approx(turn.point(x, y), abs=1e-6)


# --- through the whole of the placing ------------------------------------------------------------------------------

WHEN = datetime(2027, 3, 16, 19, 0, tzinfo=UTC)
PLACE = Place(45.0, 12.0)
TAKEN = TimeReadings(
    candidates=(TimeCandidate(WHEN, 1.0, "exif+offset", 0.0),),
    earliest_utc=WHEN - timedelta(days=3),
    latest_utc=WHEN + timedelta(hours=6),
)
STOP = Stop(250.0, 230.0, 150.0)
EDGE = FieldStop(STOP.x, STOP.y, STOP.radius_px)


def error_pct(found: Annotation, scene: Scene) -> float:
    names = {m.feature.name: m for m in found.features}
    off = [
        np.hypot(names[t["name"]].x - t["x"], names[t["name"]].y - t["y"])
        for t in scene.truth["features"]
        if t["name"] in names and t["sun_alt_deg"] > 2
    ]
    return 100 * float(np.percentile(off, 95)) / scene.spec.radius_px


@pytest.mark.parametrize(("family", "sure"), [("tilt", True), ("stitch", False), ("double", False)])
def test_bent_pictures_are_solved_and_those_put_together_are_not_sure(family: str, sure: bool) -> None:
    scene = render(spec_of(family, 11))
    found = annotate_picture(scene.data, Known(received_utc=scene.spec.received_utc))
    assert found.status == "annotated"
    assert found.sure is sure
    assert bool(found.reason) is not sure
    if sure:
        assert error_pct(found, scene) < 0.3


@pytest.fixture(scope="module")
def eyepiece() -> Scene:
    """An eyepiece's field that shows the western two thirds of the disc."""
    return render(
        SceneSpec(
            WHEN,
            PLACE,
            x=318.4,
            y=245.7,
            radius_px=181.3,
            north_screen_deg=67.0,
            mirrored=False,
            width=640,
            height=480,
            seed=3,
            optics=Optics(blur_px=1.0),
            film=Film(shot=0.01),
            received_utc=WHEN + timedelta(hours=5),
            sky=Sky(field_stop=STOP),
        )
    )


def test_outside_an_eyepieces_field_nothing_is_seen_labelled_or_pointed_at(eyepiece: Scene) -> None:
    found = annotate_picture(eyepiece.data, Known(received_utc=eyepiece.spec.received_utc))
    stop = found.field_stop
    assert stop is not None
    assert (stop.x, stop.y) == pytest.approx((STOP.x, STOP.y), abs=2)
    assert stop.radius_px == pytest.approx(STOP.radius_px, rel=0.03)
    assert stop.radius_px < STOP.radius_px
    out = [m for m in found.features if not in_field(EDGE, m.x, m.y) and m.radius_px < 15]
    assert len(out) > 30
    assert max(m.seen for m in out) == 0
    labelled = {k.name for k in labels_of(found)}
    assert labelled
    assert not labelled & {m.feature.name for m in out}
    # a frame for air asks the same
    there = Composition(lookup=lambda x, y: (x, y, np.zeros_like(x)), step=1.0, pose=found.pose, disc=None, whole=True)
    stage = Stage(rgb=np.zeros((1, 1, 3), np.uint8), annotation=found, wanted=FrameRequest(), found=there, words={})
    at = stage.inside(np.array([STOP.x, STOP.x + 1.1 * STOP.radius_px]), np.array([STOP.y, STOP.y]))
    assert at.tolist() == [True, False]


def test_a_placing_by_hand_takes_its_light_from_inside_the_field(eyepiece: Scene) -> None:
    picture = decode(eyepiece.data)
    assert isinstance(picture, Picture)
    sky = by_clock(TAKEN, PLACE)[0]
    given = place_as_given(picture.luminance, eyepiece.pose, sky, None, TAKEN)
    assert given.evidence.field is not None
    off = (given.pose.sub_solar_lon_deg - eyepiece.aspect.sub_solar_lon_deg + 180) % 360 - 180
    assert abs(off) < 1.5


def test_a_whole_disc_in_the_dark_has_no_field(eyepiece: Scene) -> None:
    plain = render(replace(eyepiece.spec, sky=Sky()))
    picture = decode(plain.data)
    assert isinstance(picture, Picture)
    assert find_field(picture.luminance, plain.pose) is None
    # a roof's black over half of it: nothing there is seen
    found = annotate_picture(plain.data, Known(received_utc=plain.spec.received_utc))
    assert found.pose is not None
    black = picture.luminance.copy()
    black[:, 330:] = 0.0005
    told = without_hidden(found.features, found.pose, black, None)
    before = [m for m in found.features if m.x > 345 and m.seen > 0.5 and m.sun_altitude_deg > 25]
    assert len(before) > 10
    after = {m.feature.name: m.seen for m in told}
    assert max(after[m.feature.name] for m in before) == 0
    kept = [m for m in found.features if m.x < 300 and m.seen > 0.5 and m.radius_px < 15]
    assert sum(after[m.feature.name] > 0.5 for m in kept) > 0.9 * len(kept)


def test_what_is_too_uncertain_has_no_name() -> None:
    look, _ = stitched()
    marks = []
    for name in ("Plato", "Tycho"):
        feature = find(name)
        assert isinstance(feature, Feature)
        at = surface_to_pixel(FLAT, feature.lat_deg, feature.lon_deg)
        marks.append(
            FeatureMark(
                feature=feature,
                x=float(at.x),
                y=float(at.y),
                sigma_px=0.05,
                radius_px=8.0,
                sun_altitude_deg=30.0,
                cos_view=0.7,
                lit_fraction=1.0,
                seen=0.9,
                prominence=0.5,
            )
        )
    north, south = with_uncertainty(tuple(marks), FLAT, Evidence(look=look))
    assert (north.seen, north.sigma_px) == (0.9, pytest.approx(0.05, abs=0.2))
    assert south.sigma_px > 3
    # twice as far, and no name stands there
    worse = replace(look, smooth=2 * look.smooth, off=2 * look.off)
    assert with_uncertainty(tuple(marks), FLAT, Evidence(look=worse))[1].seen == 0
    assert with_uncertainty((), FLAT, Evidence(look=look)) == ()
