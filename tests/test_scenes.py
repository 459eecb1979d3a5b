"""The renderer's truth, checked by means that it does not use itself."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps
from scipy.spatial.transform import Rotation

from moondesk.moon.geometry import phase_angle_deg
from moondesk.records import Aspect, Place
from tests.scenes import FAMILIES, KINDS, FileTags, Film, Optics, SceneSpec, Sky, render, render_other, spec_of
from tests.scenes.families import flattening_at
from tests.scenes.optics import moonlight
from tests.scenes.rendering import true_pose
from tests.scenes.surface import Patch, sunlit_share

WHEN = datetime(2026, 10, 19, 20, 30, tzinfo=UTC)
PLACE = Place(37.8, -8.72)
SHARED = Path(os.environ.get("MOONDESK_SHARED", Path(__file__).resolve().parents[2] / "shared"))
QUIET = Film(contrast=0.0, sharpen=0.0, shot=0.0, read=0.0)


def aspect(lib_lat: float, lib_lon: float, sun_lat: float, sun_lon: float) -> Aspect:
    phase = phase_angle_deg(lib_lat, lib_lon, sun_lat, sun_lon)
    return Aspect(
        when_utc=WHEN, place=PLACE, libration_lat_deg=lib_lat, libration_lon_deg=lib_lon, sub_solar_lat_deg=sun_lat, sub_solar_lon_deg=sun_lon, axis_pa_deg=0.0, bright_limb_pa_deg=270.0, parallactic_deg=0.0, phase_angle_deg=phase,
        illuminated_fraction=(1 + np.cos(np.radians(phase))) / 2, elongation_deg=180 - phase, semidiameter_arcsec=932.0, distance_km=60.3 * 6371.0, altitude_deg=40.0, azimuth_deg=180.0, colongitude_deg=(90 - sun_lon) % 360,
    )  # fmt: skip


def plain(**changes: object) -> SceneSpec:
    base = SceneSpec(
        WHEN, PLACE, 330.3, 297.6, 240.4, 33.0, width=660, height=600, film=QUIET, sky=Sky(0.0), limb_relief=False,
        fine=False, law="lunar-lambert", lambert=0.0, optics=Optics(0.8), tags=FileTags("png"),
        aspect=aspect(4.0, -3.0, 4.0, -3.0),
    )  # fmt: skip
    return replace(base, **changes)


def pixels(data: bytes) -> np.ndarray:
    """Displayed pixels as Pillow shows them, 0..255."""
    return np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("RGB")).astype(float)


@pytest.mark.parametrize(("relief", "tolerance_px"), [(False, 0.12), (True, 0.35)])
def test_limb_of_a_full_disc_by_area_and_centroid(relief: bool, tolerance_px: float) -> None:
    """Area = pi R^2 and the mean of its pixels = the centre. The real limb rises and sinks by 0.1 % of the radius."""
    spec = plain(limb_relief=relief)
    light = moonlight(spec, true_pose(spec, spec.aspect))
    inside = np.clip(light / 0.12, 0, 1)  # the darkest limb is brighter than 0.12, so that edge pixels count in part
    y, x = np.mgrid[: spec.height, : spec.width]
    area = inside.sum()
    assert np.sqrt(area / np.pi) == pytest.approx(spec.radius_px, abs=tolerance_px + 0.3)
    assert (x * inside).sum() / area == pytest.approx(spec.x, abs=tolerance_px)
    assert (y * inside).sum() / area == pytest.approx(spec.y, abs=tolerance_px)


def pinhole(spec: SceneSpec, lat: float, lon: float) -> tuple[float, float]:
    """Pixel of a surface point by a pinhole camera and rotations (scipy), on none of the package's formulas."""
    a = spec.aspect
    assert a is not None
    d = a.distance_km / 1737.4
    to_observer = Rotation.from_euler("zy", [-a.libration_lon_deg, a.libration_lat_deg], degrees=True)
    point = Rotation.from_euler("yz", [-lat, lon], degrees=True).apply([1.0, 0.0, 0.0])
    depth, east, north = to_observer.apply(point)
    scale = spec.radius_px * np.sqrt(d * d - 1)  # the limb's half angle has the tangent 1 / sqrt(d^2 - 1)
    right, up = scale * east / (d - depth), scale * north / (d - depth)
    if spec.mirrored:
        right = -right
    # a positive screen angle turns north to the left
    right, up = Rotation.from_euler("z", spec.north_screen_deg, degrees=True).apply([right, up, 0.0])[:2]
    if spec.optics.flattening:
        t = np.radians(spec.optics.flattening_screen_deg)
        short = np.array([-np.sin(t), np.cos(t)])
        right, up = np.array([right, up]) - spec.optics.flattening * short * float(np.dot([right, up], short))
    x, y = spec.x + right, spec.y - up
    if spec.optics.radial_k1:
        middle = np.array([(spec.width - 1) / 2, (spec.height - 1) / 2])
        away = np.array([x, y]) - middle
        half_diagonal = np.hypot(spec.width, spec.height) / 2
        x, y = middle + away * (1 + spec.optics.radial_k1 * float(away @ away) / half_diagonal**2)
    return float(x), float(y)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"mirrored": True, "north_screen_deg": 250.0},
        {"optics": Optics(0.8, flattening=0.06, flattening_screen_deg=40.0)},
        {"optics": Optics(0.8, radial_k1=-0.05), "x": 260.0, "y": 270.0},
    ],
    ids=["plain", "mirrored", "flattened", "lens"],
)
def test_beacons_appear_where_a_pinhole_camera_sees_them(changes: dict[str, object]) -> None:
    places = ((0.0, 0.0), (40.0, -30.0), (-20.0, 45.0), (9.7, -55.0), (-60.0, 10.0))
    spec = plain(beacons=places, **changes)
    pose = true_pose(spec, spec.aspect)
    dots = moonlight(spec, pose) - moonlight(replace(spec, beacons=()), pose)
    dots[dots < 0.2] = 0
    y, x = np.mgrid[: spec.height, : spec.width]
    for lat, lon in places:
        expected = pinhole(spec, lat, lon)
        dot = dots * (np.hypot(x - expected[0], y - expected[1]) < 12)
        found = (x * dot).sum() / dot.sum(), (y * dot).sum() / dot.sum()
        # foreshortening makes a dot near the limb lopsided by a little
        assert found == pytest.approx(expected, abs=0.15), (lat, lon)


def test_truth_pixels_agree_with_the_pinhole_camera() -> None:
    spec = plain(mirrored=True, north_screen_deg=118.0)
    told = {f["name"]: (f["x"], f["y"]) for f in render(spec).truth["features"]}
    # centres as in the IAU's gazetteer: Copernicus 9.62 N 20.08 W, Tycho 43.30 S 11.22 W, Plato 51.62 N 9.38 W
    for name, lat, lon in (("Copernicus", 9.62, -20.08), ("Tycho", -43.30, -11.22), ("Plato", 51.62, -9.38)):
        assert told[name] == pytest.approx(pinhole(spec, lat, lon), abs=0.1)


@pytest.mark.parametrize("sun_lon", [-120.0, -60.0, 20.0, 90.0])
def test_lit_share_and_side(sun_lon: float) -> None:
    """k = (1 + cos i) / 2 (Meeus, Astronomical Algorithms, eq. 48.1); the Sun in the lunar east lights the east."""
    spec = plain(aspect=aspect(0.0, 0.0, 0.0, sun_lon), north_screen_deg=0.0)
    light = moonlight(spec, true_pose(spec, spec.aspect))
    lit = light > 0.004
    share = lit.sum() / (np.pi * spec.radius_px**2)
    assert share == pytest.approx((1 + np.cos(np.radians(sun_lon))) / 2, abs=0.035)  # mountains and shadows
    assert np.sign(np.argwhere(lit)[:, 1].mean() - spec.x) == np.sign(sun_lon)  # lunar east is right, north up


@pytest.mark.parametrize("altitude_deg", [6.0, 12.0, 20.0])
def test_shadow_of_a_wall(altitude_deg: float) -> None:
    """A wall h high throws a shadow h / tan(altitude) long on flat ground (here: a small patch of the sphere)."""
    scale, half, wall = 4000.0, 0.03, 0.001
    p, q = np.meshgrid(np.arange(-half, half, 1 / scale), np.arange(half, -half, -1 / scale))
    vertical = np.stack([p, q, np.sqrt(1 - p * p - q * q)], -1).astype(np.float32)
    height = np.where((p > 0.015) & (p < 0.017), wall, 0.0).astype(np.float32)
    patch = Patch(scale, -half, half, vertical, height, vertical, np.ones_like(height), np.ones(p.shape, bool))
    t = np.radians(altitude_deg)
    row = sunlit_share(patch, np.array([np.cos(t), 0.0, np.sin(t)]))[len(p) // 2]
    dark = (row[(p[0] < 0.015)] < 0.5).sum() / scale
    # over the shadow's ground the Sun stands 0.012 rad higher than at the patch's centre; the march's steps of a tenth
    # may end it early
    expected = wall / np.tan(t + 0.012)
    assert 0.9 * expected - 1.5 / scale < dark < expected + 1.5 / scale


def test_file_tags_as_pillow_reads_them() -> None:
    tags = FileTags(orientation=6, zone_hours=-3.5, clock_error_h=2.0)
    scene = render(plain(tags=tags, width=300, height=200, x=150, y=100, radius_px=60))
    image = Image.open(io.BytesIO(scene.data))
    exif = image.getexif()
    assert image.size == (200, 300)  # stored on its side
    assert (exif[0x010F], exif[0x0110], exif[0x0112]) == ("Corvane", "C7", 6)
    inner, gps = exif.get_ifd(0x8769), exif.get_ifd(0x8825)
    assert inner[0x9003] == "2026:10:19 19:00:00"
    assert inner[0x9011] == "-03:30"
    assert [gps[1], gps[3]] == ["N", "W"]
    assert sum(float(part) / 60**i for i, part in enumerate(gps[4])) == pytest.approx(8.72, abs=1e-5)


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_turned_files_display_alike(orientation: int) -> None:
    spec = plain(width=300, height=200, x=140, y=100, radius_px=60)
    upright = pixels(render(spec).data)
    turned = pixels(render(replace(spec, tags=FileTags("png", orientation=orientation))).data)
    assert np.array_equal(upright, turned)


def test_every_family_draws_a_valid_spec_and_the_same_one_again() -> None:
    for family in FAMILIES:
        spec = spec_of(family, 7)
        assert spec == spec_of(family, 7)
        assert spec.family == family
        assert spec.received_utc is not None
        assert spec.received_utc > spec.when_utc
    with pytest.raises(ValueError, match="unknown family"):
        spec_of("nebula", 1)


def test_flattening_near_the_horizon() -> None:
    """About a sixth at the horizon, next to nothing high up (common knowledge; Meeus ch. 16 gives the refraction)."""
    assert flattening_at(0.5) == pytest.approx(0.16, abs=0.04)
    assert flattening_at(45.0) < 0.001


def test_others_are_pictures() -> None:
    for kind in KINDS:
        shown = pixels(render_other(kind, 3, 320, 240))
        assert shown.shape == (240, 320, 3)
        assert shown.max() > 100
    with pytest.raises(ValueError, match="unknown kind"):
        render_other("moon", 1)


def test_truth_feeds_the_shared_scoring_script(tmp_path: Path) -> None:
    script = SHARED / "scenes" / "score.py"
    if not script.is_file():
        pytest.skip("the shared scoring script is not here (MOONDESK_SHARED)")
    row = {"file": "000_clean.jpg", **render(plain()).truth}
    theirs = json.loads((SHARED / "scenes" / "truth.json").read_text(encoding="utf-8"))[0]
    assert set(theirs) <= set(row)
    result = {
        "file": row["file"], "status": "annotated", "sure": True, "pose": {"mirrored": False}, "limb": row["limb"],
        "features": row["features"],
    }  # fmt: skip
    (tmp_path / "truth.json").write_text(json.dumps([row]))
    (tmp_path / "out.jsonl").write_text(json.dumps(result))
    done = subprocess.run(
        [sys.executable, str(script), str(tmp_path / "truth.json"), str(tmp_path / "out.jsonl")],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    total = json.loads(done.stdout.splitlines()[-1])
    assert (total["right"], total["median_error_pctR"]) == (1, 0.0)
