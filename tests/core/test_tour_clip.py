"""The frames of a clip: names where their features are in every one of them, margins that stand, a light on one feature."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from air_pictures import on_disc, sample

from moondesk.drawing.broadcast import flatten, frame_layers
from moondesk.drawing.frame import Format, FrameRequest, Texts
from moondesk.drawing.theme import Theme
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import NotFound
from moondesk.tour.camera import pose_in
from moondesk.tour.clip import Clip, frames, move_between, shoot, why_not_drawn
from moondesk.tour.moves import affine_between
from moondesk.tour.rendered import level_sky
from moondesk.tour.rider import rider
from moondesk.tour.spotlight import DIM, light_mask, outlines, with_spotlights
from moondesk.tour.views import View, ViewKind, check_tour, default_tour, request_for

SMALL = Format("hd", 480, 270)
HALF = "20261017_211435.jpg"
ABOUT = "Theophilus"
PULL_IN = (View(kind=ViewKind.NAMED, seconds=0.5), View(kind=ViewKind.CLOSE_UP, feature=ABOUT, seconds=1.0, move_s=5.0))
FEATURES = {f.name: f for f in all_features()}


def clip(name=HALF, tour=PULL_IN, **more):
    rgb, annotation = sample(name)
    whole = FrameRequest(
        format=SMALL, texts=Texts(credit="Þórunn Vale"), offered=("Plato", "Aristoteles", "Maurolycus")
    )
    return Clip(rgb=rgb, annotation=annotation, whole=whole, tour=tour, rate=Fraction(25), **more)


def shots(made):
    found = [shoot(made, view) for view in made.tour]
    assert not any(isinstance(shot, NotFound) for shot in found)
    return found


def seen_at(pose, name):
    """A feature in a frame that lies as the eye sees it: orthographic by Snyder's formulae, then put into perspective
    by the angle at which a sphere of radius 1 is seen from so far (Snyder 1987, equation 23-3)."""
    f = FEATURES[name]
    x, y = on_disc(f.lat_deg, f.lon_deg, pose.libration_lat_deg, pose.libration_lon_deg)
    depth = np.sqrt(1 - x * x - y * y)
    d = pose.distance_radii
    k = d * np.sqrt(1 - 1 / d**2) / (d - depth)
    t = np.radians(pose.north_screen_deg)
    u, v = k * x, k * y
    return (
        pose.x + pose.radius_px * (u * np.cos(t) - v * np.sin(t)),
        pose.y - pose.radius_px * (u * np.sin(t) + v * np.cos(t)),
    )


def test_names_stay_on_their_features_in_each_frame_of_a_pull_in():
    """125 frames of 5 s: what travels with either still, and the ring that stays, within 0.2 % of the disc's radius."""
    made = clip()
    before, after = shots(made)
    move = move_between(made, before, after)
    poses = {shot: pose_in(shot.camera, made.annotation.pose) for shot in (before, after)}
    worst = 0.0
    for n in range(126):
        camera = move.at(n / 125)
        pose = pose_in(camera, made.annotation.pose)
        for shot in (before, after):
            a, b, c, d, e, f = affine_between(shot.camera, camera, made.annotation.pose)
            for name in ("Theophilus", "Plato", "Aristoteles", "Maurolycus"):
                at = surface_to_pixel(poses[shot], FEATURES[name].lat_deg, FEATURES[name].lon_deg)
                x, y = float(at.x) + 0.5, float(at.y) + 0.5
                away = np.hypot(
                    a * x + c * y + e - 0.5 - seen_at(pose, name)[0], b * x + d * y + f - 0.5 - seen_at(pose, name)[1]
                )
                worst = max(worst, float(away) / pose.radius_px)
        (rim,) = outlines(FEATURES[ABOUT], pose)
        middle = (rim.min(axis=0) + rim.max(axis=0)) / 2 - 0.5
        worst = max(worst, float(np.hypot(*(middle - seen_at(pose, ABOUT)))) / pose.radius_px)
    assert worst < 0.002


def test_the_ring_is_drawn_where_the_crater_is():
    """On the pixels of layers alone, in the middle of the move when nothing else stands about it."""
    made = clip(bare=True)
    before, after = shots(made)
    move = move_between(made, before, after)
    drawn = list(frames(made))
    for n in (50, 75, 100):
        pose = pose_in(move.at((n - 12.5) / 125), made.annotation.pose)
        rgba = drawn[n].astype(float)
        x, y = seen_at(pose, ABOUT)
        reach = int(1.3 * FEATURES[ABOUT].size_km / 2 / 1737.4 * pose.radius_px) + 4
        part = rgba[int(y) - reach : int(y) + reach + 1, int(x) - reach : int(x) + reach + 1]
        gold = (part[..., 3] > 128) & (part[..., 0] > 180) & (part[..., 2] < 170)
        ys, xs = np.nonzero(gold)
        above = ys <= reach  # the name stands under it
        assert above.any()
        assert (xs[above].min() + xs[above].max()) / 2 - reach == pytest.approx(x - int(x), abs=1.6)


def test_count_and_rest():
    made = clip()
    drawn = list(frames(made))
    assert len(drawn) == made.count == round(6.5 * 25)
    assert made.seconds == Fraction(162, 25)  # 6.5 s are 162.5 frames
    made = replace(made, rgb=level_sky(made.rgb, made.annotation))
    assert np.abs(drawn[0][..., :3].astype(int) - before_names(made)).max() <= 2
    assert drawn[0].shape == (270, 480, 4)
    assert (drawn[0][..., 3] == 255).all()
    close = flatten(frame_layers(made.rgb, made.annotation, close_request(made)))
    assert (np.abs(drawn[-1][..., :3].astype(int) - close) > 2).mean() < 0.002


def before_names(made):
    frame = frame_layers(made.rgb, made.annotation, made.whole)
    return flatten(replace(frame, layers=tuple(x for x in frame.layers if x.base)))


def close_request(made):
    return request_for(made.tour[-1], made.annotation, made.whole)


def test_no_frame_jumps():
    """From frame to frame the picture changes little, at the seams between rest and move least of all."""
    drawn = list(frames(clip(tour=default_tour(sample("IMG_0088.jpg")[1])[:2], name="IMG_0088.jpg")))
    step = [np.abs(b[..., :3].astype(int) - a[..., :3]).mean() for a, b in pairwise(drawn)]
    assert max(step) < 12.0
    seam = round(4.0 * 25)
    assert max(step[seam - 2 : seam + 2]) < 1.0
    assert max(step[seam + 61 : seam + 65]) < 1.0


def test_layers_alone_stand_over_nothing():
    first, *_, last = frames(clip(bare=True))
    for rgba in (first, last):
        assert (rgba[..., 3] == 0).mean() > 0.4
        assert len(np.unique(rgba[..., 3])) > 8
    assert (first[..., 3] > 0).any()


def test_margins_do_not_move():
    """The credit's pixels are the same in each frame."""
    drawn = list(frames(clip(bare=True)))
    credit = next(x for x in shots(clip())[0].sheets if x.stays and x.pixels.shape[1] > 60)
    rows, columns = (
        slice(credit.y, credit.y + credit.pixels.shape[0]),
        slice(credit.x, credit.x + credit.pixels.shape[1]),
    )
    full = credit.pixels[..., 3] > 0.99
    for rgba in drawn[12:137:8]:
        assert (
            np.abs(rgba[rows, columns].astype(int) - drawn[0][rows, columns])[full].max() <= 3
        )  # where a veil comes under it


def test_one_that_is_not_placed_is_shown_as_it_came():
    rgb, annotation = sample("20261022_211502.jpg")
    assert [v.kind for v in default_tour(annotation)] == [ViewKind.AS_SENT]
    whole = FrameRequest(format=SMALL, texts=Texts(credit="Þórunn Vale"))
    made = Clip(
        rgb=rgb, annotation=annotation, whole=whole, tour=(View(kind=ViewKind.AS_SENT, seconds=0.5),), rate=Fraction(25)
    )
    assert len(list(frames(made))) == 12
    assert why_not_drawn(made) is None


def test_what_cannot_be_shown_is_told():
    annotation = sample(HALF)[1]
    unplaced = sample("20261022_211502.jpg")[1]
    close = View(kind=ViewKind.CLOSE_UP, feature="Grimaldi")
    assert "not in the light" in check_tour((close,), annotation).reason
    assert check_tour((), annotation).reason
    assert check_tour((View(kind=ViewKind.NAMED),), unplaced).advice == "It can only be shown as it was sent."
    assert check_tour((View(kind=ViewKind.CLOSE_UP),), annotation).advice == "Name a feature."
    assert "0.5 to 120 seconds" in check_tour((View(kind=ViewKind.NAMED, seconds=0.1),), annotation).reason
    assert "light is to stay on" in check_tour((View(kind=ViewKind.NAMED, spotlight=True),), annotation).reason
    assert check_tour(default_tour(annotation), annotation) is None
    assert why_not_drawn(clip(tour=(close,))).reason == check_tour((close,), annotation).reason


# --- the light on one feature -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Theophilus", "Montes Caucasus", "Mare Crisium"])
def test_the_light_stays_within_the_outline(name):
    made = clip(tour=(View(kind=ViewKind.NAMED, feature=name, spotlight=True, seconds=0.5),))
    (shot,) = shots(made)
    pose = pose_in(shot.camera, made.annotation.pose)
    mask = light_mask(FEATURES[name], pose, SMALL)
    x, y = (round(float(v)) for v in seen_at(pose, name))
    assert mask[y, x] > 0.9
    assert 0.0001 < mask.mean() < 0.1
    made = replace(made, rgb=level_sky(made.rgb, made.annotation), whole=replace(made.whole, texts=Texts()))
    lit, dim = ground_of(shots(made)[0]), next(iter(frames(made)))
    outside = mask < 0.004
    bright = outside & (lit.max(axis=2) > 60)
    inside = mask > 0.996
    ratio = dim[..., :3][bright].astype(float).sum() / lit[bright].sum()
    assert ratio == pytest.approx(1 - DIM, abs=0.03)
    if inside.any():
        assert np.median(np.abs(dim[..., :3][inside].astype(int) - lit[inside])) <= 1
    edge = (mask > 0.1) & (mask < 0.9)
    assert edge.sum() > 8  # soft


def ground_of(shot):
    return shot.ground.astype(int)


def test_rims_are_seen_in_perspective():
    """A crater near the limb is an ellipse as narrow as the cosine of the view, and as long as it is wide."""
    annotation = sample(HALF)[1]
    pose = replace(annotation.pose, x=0.0, y=0.0, radius_px=1000.0, north_screen_deg=0.0, mirrored=False)
    f = FEATURES["Langrenus"]
    (rim,) = outlines(f, pose)
    mu = float(surface_to_pixel(pose, f.lat_deg, f.lon_deg).mu)
    spread = np.sqrt(np.linalg.eigvalsh(np.cov(rim.T)))
    assert spread[0] / spread[1] == pytest.approx(mu, abs=0.02)


def test_a_frame_has_a_light_for_each_feature():
    made = clip()
    frame = with_spotlights(frame_layers(made.rgb, made.annotation, made.whole), made.annotation)
    lights = [x for x in frame.layers if x.kind == "spotlight"]
    named = [x for x in frame.layers if x.kind == "feature"]
    assert [x.title for x in lights] == [x.title for x in named] != []
    assert frame.layers[0].kind == "picture"
    assert {x.name for x in lights} == {x.name.replace("feature", "spotlight") for x in named}
    assert not any(x.base for x in lights)


def test_a_name_without_letters_is_no_rider():
    pose = sample(HALF)[1].pose
    assert rider(FEATURES["Grimaldi"], "\U0001f680", pose, SMALL, Theme()) == ()
