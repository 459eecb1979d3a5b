"""Lines of the overlay against textbook geometry: the terminator's ellipse, a rim's foreshortening, the coordinates."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from overlay_scenes import SCENES, annotation_for, complete

from moondesk import drawing
from moondesk.drawing import LAYERS, Dot, OverlayStyle, Path, TextShape, curves
from moondesk.drawing.text import text_size
from moondesk.moon.geometry import bright_limb_screen_deg, phase_angle_deg, pixel_to_surface, surface_to_pixel
from moondesk.records import Feature, FeatureMark, Limb, Pose, Status

FAR = Pose(
    x=500,
    y=500,
    radius_px=400,
    north_screen_deg=30.0,
    mirrored=False,
    libration_lat_deg=4.0,
    libration_lon_deg=-3.0,
    sub_solar_lat_deg=1.0,
    sub_solar_lon_deg=60.0,
    distance_radii=1e6,
)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("sun_lon", [-150.0, -100.0, -40.0, 20.0, 75.0, 130.0])
def test_terminator_is_the_textbook_half_ellipse(sun_lon, mirrored):
    """Seen from afar the terminator is half an ellipse with semi-axes R and R cos(phase angle) that ends at the cusps,
    90 degrees along the limb from the middle of the bright limb (textbook; Meeus, Astronomical Algorithms, ch. 48)."""
    pose = replace(FAR, sub_solar_lon_deg=sun_lon, mirrored=mirrored)
    phase = phase_angle_deg(pose.libration_lat_deg, pose.libration_lon_deg, 1.0, sun_lon)
    t = np.radians(bright_limb_screen_deg(pose))
    sun = np.array([-np.sin(t), -np.cos(t)])
    cusp = np.array([sun[1], -sun[0]])
    (run,) = curves.terminator(pose)
    p = (np.asarray(run) - [pose.x, pose.y]) / pose.radius_px
    minor, major = p @ sun, p @ cusp
    assert sorted([major[0], major[-1]]) == pytest.approx([-1, 1], abs=2e-3)
    assert minor[[0, -1]] == pytest.approx([0, 0], abs=2e-2)
    # full moon: the line runs round the far limb; new: round the near one
    expected = -np.cos(np.radians(phase)) * np.sqrt(np.clip(1 - major**2, 0, None))
    assert minor == pytest.approx(expected, abs=5e-3)


def test_terminator_of_a_near_observer_has_the_sun_on_the_horizon():
    pose = SCENES["half"][2]
    for run in curves.terminator(pose):
        p = np.asarray(run)[1:-1]
        lat, lon = (np.radians(k) for k in pixel_to_surface(pose, p[:, 0], p[:, 1]))
        b, lam = np.radians(pose.sub_solar_lat_deg), np.radians(pose.sub_solar_lon_deg)
        # Sun's altitude by the spherical triangle, written out
        sine = np.sin(b) * np.sin(lat) + np.cos(b) * np.cos(lat) * np.cos(lam - lon)
        assert np.abs(np.degrees(sine)).max() < 0.01


@pytest.mark.parametrize(("lat", "lon"), [(10.0, -20.0), (-58.4, -14.4), (32.0, 52.0)])
def test_a_rim_is_the_foreshortened_ellipse(lat, lon):
    """From afar a small circle of radius r about a point seen at angle e from the disc's centre is an ellipse with
    semi-axes R sin r and R sin r cos e, its centre drawn in by cos r (orthographic projection, textbook)."""
    (run,) = curves.rim(FAR, lat, lon, 200.0)
    p = np.asarray(run)[:-1]
    r = 100.0 / 1737.4
    at = surface_to_pixel(FAR, lat, lon)
    centre = np.array([at.x, at.y]) - [FAR.x, FAR.y]
    cos_e = np.sqrt(1 - (np.hypot(*centre) / FAR.radius_px) ** 2)
    q = p - [FAR.x, FAR.y] - centre * np.cos(r)
    out = centre / np.hypot(*centre)
    a, b = FAR.radius_px * np.sin(r), FAR.radius_px * np.sin(r) * cos_e
    assert np.hypot((q @ [-out[1], out[0]]) / a, (q @ out) / b) == pytest.approx(np.ones(len(q)), abs=2e-3)


def test_a_rim_over_the_limb_shows_its_visible_side_alone():
    pose = replace(FAR, libration_lat_deg=0.0, libration_lon_deg=0.0)
    runs = curves.rim(pose, 0.0, 90.0, 300.0)
    assert len(runs) == 1
    p = (np.asarray(runs[0]) - [pose.x, pose.y]) / pose.radius_px
    assert np.hypot(*p.T).max() < 1 + 1e-6
    assert np.hypot(*p[[0, -1]].T) == pytest.approx([1, 1], abs=1e-4)
    assert curves.rim(pose, 0.0, 150.0, 300.0) == ()


def test_equator_and_zero_meridian():
    pose = SCENES["half"][2]
    for run in curves.equator(pose):
        lat, _ = pixel_to_surface(pose, *np.asarray(run)[1:-1].T)
        assert np.abs(lat).max() < 1e-6
    (run,) = curves.zero_meridian(pose)
    p = np.asarray(run)
    lat, lon = pixel_to_surface(pose, *p[1:-1].T)
    assert np.abs(lon * np.cos(np.radians(lat))).max() < 1e-3
    # the pole that libration turns towards us is on the line: sub-observer latitude 0.8 N shows the north pole
    pole = surface_to_pixel(pose, 90.0, 0.0)
    assert np.hypot(p[:, 0] - pole.x, p[:, 1] - pole.y).min() < 0.5


@pytest.mark.parametrize("name", ["lens", "low"])
def test_lines_follow_lens_and_refraction(name):
    width, height, pose = SCENES[name]
    shapes = drawing.compose(annotation_for(width, height, pose))
    limb = np.concatenate([s.points for s in shapes if isinstance(s, Path) and s.layer == "limb"])
    # published definitions: flattened by 1 - f along one axis; r_seen = r (1 + k1 r^2) about the axis of the lens
    if name == "low":
        off = limb - [pose.x, pose.y]
        assert np.hypot(off[:, 0], off[:, 1] / (1 - 0.12)) == pytest.approx(np.full(len(off), 376.0), abs=1e-6)
    else:
        off = limb - [pose.x, pose.y]
        assert np.ptp(np.hypot(*off.T)) > 5


def test_directions_agree_with_the_pose():
    for name, (width, height, pose) in SCENES.items():
        texts = [s for s in drawing.compose(annotation_for(width, height, pose)) if isinstance(s, TextShape)]
        found = {s.text: s for s in texts if s.layer == "directions"}
        assert set(found) == {"N", "S", "lunar E", "lunar W"}, name
        north = np.array([found["N"].x - found["S"].x, found["N"].y - found["S"].y])
        east = np.array([found["lunar E"].x - found["lunar W"].x, found["lunar E"].y - found["lunar W"].y])
        t = np.radians(pose.north_screen_deg)
        assert north @ [-np.sin(t), -np.cos(t)] > 0.9 * np.hypot(*north), name
        # on the Moon as the eye sees it east is clockwise from north: to the right with north up
        hand = east[0] * north[1] - east[1] * north[0]
        assert (hand < 0) != pose.mirrored, name
        for s in found.values():
            half = text_size(s.text, s.font_px)[0] / 2
            assert half <= s.x <= width - 1 - half, name
            assert s.font_px / 2 <= s.y <= height - 1 - s.font_px / 2, name


def test_mosting_a_is_marked_where_it_is_lit():
    lit, dark = complete("full"), complete("half")
    # the line itself is dashed; full strokes are the cross
    assert [s for s in drawing.compose(lit) if isinstance(s, Path) and s.layer == "zero meridian" and not s.dash]
    mark = next(m for m in dark.features if m.feature.name == "Mösting A")
    assert mark.sun_altitude_deg < 0
    assert not [s for s in drawing.compose(dark) if isinstance(s, Path) and s.layer == "zero meridian" and not s.dash]


def test_no_circle_round_ranges_and_seas():
    for name in ("closeup mirrored", "full"):
        annotation = complete(name)
        closed = [s for s in drawing.compose(annotation) if isinstance(s, Path) and s.closed]
        assert closed
        assert {s.layer for s in closed} <= {"craters"}


def test_layers_can_be_left_out():
    shapes = drawing.compose(complete("half"), OverlayStyle(layers=frozenset({"craters", "terminator"})))
    assert {s.layer for s in shapes} == {"craters", "terminator"}
    assert any(isinstance(s, TextShape) for s in shapes)
    assert {s.layer for s in drawing.compose(complete("full"))} <= set(LAYERS)


def test_a_disc_without_pose_shows_its_limb():
    limb = Limb(
        x=300,
        y=200,
        radius_px=100,
        sigma_px=0.3,
        covariance=(0.0,) * 9,
        rms_px=0.3,
        arc_deg=300,
        n_points=400,
        edge_width_px=2.0,
    )
    annotation = replace(annotation_for(640, 480, FAR), status=Status.DISC_ONLY, pose=None, limb=limb)
    (shape,) = drawing.compose(annotation)
    assert isinstance(shape, Path)
    p = np.asarray(shape.points)
    assert np.hypot(p[:, 0] - 300, p[:, 1] - 200) == pytest.approx(np.full(len(p), 100.0))
    assert drawing.compose(replace(annotation, limb=None)) == ()


def test_svg_has_a_group_per_layer_and_nothing_else():
    annotation = complete("closeup mirrored")
    root = ElementTree.fromstring(drawing.overlay_svg(annotation))
    space = "{http://www.w3.org/2000/svg}"
    assert root.tag == space + "svg"
    assert root.attrib["viewBox"] == "-0.5 -0.5 1600 1200"
    assert [g.attrib["id"] for g in root] == [layer.replace(" ", "-") for layer in LAYERS]
    tags = {e.tag for e in root.iter()}
    assert tags <= {space + t for t in ("svg", "g", "path", "circle", "text", "tspan")}
    assert not any("href" in key or key.startswith("on") for e in root.iter() for key in e.attrib)
    lines = {e.text for e in root.iter(space + "tspan")}
    assert {line for label in drawing.labels_of(annotation) for line in label.text.split("\n")} <= lines
    shapes = drawing.compose(annotation)
    wide = [g for g in root.iter(space + "g") if g.attrib.get("class") == "wide"]
    assert sum(len(list(g.iter(space + "text"))) for g in wide) == sum(isinstance(s, TextShape) for s in shapes)
    assert sum(len(list(g.iter(space + "circle"))) for g in wide) == 2 * sum(isinstance(s, Dot) for s in shapes)


@pytest.mark.parametrize("name", ["closeup mirrored", "half", "full", "small"])
def test_svg_holds_larger_names_for_a_phone(name):
    """11 px or more where the picture is shown 360 px wide (common practice for small print), not displayed by
    default, and each name a feature of the ordinary overlay's picture."""
    annotation = complete(name)
    root = ElementTree.fromstring(drawing.overlay_svg(annotation))
    space = "{http://www.w3.org/2000/svg}"
    narrow = [g for g in root.iter(space + "g") if g.attrib.get("class") == "narrow"]
    assert narrow
    assert all(g.attrib["display"] == "none" for g in narrow)
    texts = [t for g in narrow for t in g.iter(space + "text")]
    longer = max(annotation.width, annotation.height)
    names = {line for m in annotation.features for line in m.feature.name.split()}
    said = 0
    for text in texts:
        words = {w for line in text.iter(space + "tspan") for w in (line.text or "").split()}
        if words <= names:
            assert float(text.attrib["font-size"]) * 360 / longer > 10.7
            said += 1
    assert said >= (1 if name == "small" else 3)


def test_svg_escapes_names():
    feature = Feature(name='A<b> & "c"', kind="crater", lat_deg=0.0, lon_deg=0.0, size_km=90.0)
    at = surface_to_pixel(FAR, 0.0, 0.0)
    mark = FeatureMark(
        feature=feature,
        x=float(at.x),
        y=float(at.y),
        sigma_px=1.0,
        radius_px=10.0,
        sun_altitude_deg=40.0,
        cos_view=0.99,
        lit_fraction=1.0,
        seen=1.0,
        prominence=1.0,
    )
    document = drawing.overlay_svg(annotation_for(1000, 1000, FAR, features=(mark,)))
    assert "<b>" not in document
    texts = {e.text for e in ElementTree.fromstring(document).iter() if e.text}
    assert 'A<b> & "c"' in texts
