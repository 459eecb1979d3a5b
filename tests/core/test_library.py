"""The core as a library: what it takes, what it gives, held to astropy's own readers and to the samples' truth."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from air_pictures import SAMPLES, truths
from astropy import units
from astropy.coordinates import EarthLocation
from astropy.io import fits
from astropy.time import Time
from astropy.wcs import WCS
from PIL import Image

import moondesk as md
from moondesk.records import Pose

ROOT = SAMPLES.parent
HALF = SAMPLES / "20261017_211435.jpg"
#: Latitude and longitude of places all over the near side.
LAT, LON = (a.ravel() for a in np.meshgrid(np.arange(-75.0, 76, 25), np.arange(-75.0, 76, 25)))


@pytest.fixture(scope="module")
def found():
    return md.annotate(HALF, taken="2026-10-17T19:14:35Z", place=(48.2, 16.4))


def test_the_import_is_quick_and_brings_nothing():
    program = (
        "import sys, time; t = time.perf_counter(); import moondesk; print(time.perf_counter() - t); "
        "print(*sorted({'cv2', 'numpy', 'scipy', 'astropy', 'flask'} & set(sys.modules)))"
    )
    told = [subprocess.run([sys.executable, "-c", program], capture_output=True, text=True).stdout for _ in range(3)]
    assert min(float(t.split()[0]) for t in told) < 0.05
    assert [t.split()[1:] for t in told] == [[]] * 3


def test_every_public_name_is_there_and_on_the_page():
    page = (ROOT / "annotate" / "docs" / "library.md").read_text(encoding="utf-8")
    assert md.__version__
    for name in md.__all__:
        assert getattr(md, name) is not None
        assert name in (md.__doc__ or "")
        assert re.search(rf"\b{name}\b", page) or name == "MOON_RADIUS_KM", name
    for name in (n for n in dir(md.Annotated) if not n.startswith("_")):
        assert re.search(rf"`[^`]*\b{name}\b[^`]*`", page), name
    assert set(md.__all__) <= set(dir(md))
    with pytest.raises(AttributeError, match="invented"):
        _ = md.invented


# --- what it takes ----------------------------------------------------------------------------------------------------


def test_a_picture_is_a_path_bytes_a_file_or_an_array(tmp_path):
    data = HALF.read_bytes()
    with HALF.open("rb") as file:
        pictures = [md.read(HALF), md.read(str(HALF)), md.read(data), md.read(io.BytesIO(data)), md.read(file)]
    assert {p.data for p in pictures} == {data}
    assert [p.name for p in pictures] == [HALF.name, HALF.name, "", "", HALF.name]
    rgb = pictures[0].rgb
    for array in (rgb, rgb[..., 0], Image.fromarray(rgb), rgb.astype(np.uint16) * 257, rgb / 255):
        assert np.array_equal(md.read(array).rgb, rgb if np.ndim(array) == 3 else np.stack([rgb[..., 0]] * 3, -1))


def test_linear_light_gets_the_tone_curve_of_a_display():
    # IEC 61966-2-1: 18 % grey is shown by 118 of 255
    assert md.read(np.full((40, 40), 0.18), linear=True).rgb[0, 0].tolist() == [118, 118, 118]
    assert md.read(np.full((40, 40), 11796, np.uint16), linear=True).rgb[0, 0, 0] == 118


@pytest.mark.parametrize(("wrong", "error"), [
    ("not_there.jpg", FileNotFoundError),
    (None, TypeError),
    ([1, 2], TypeError),
    (io.StringIO("text"), TypeError),
    (np.zeros((4, 4), int), TypeError),
    (np.zeros((4, 4, 2)), ValueError),
    (np.full((4, 4), 300.0), ValueError),
    (np.full((4, 4), np.nan), ValueError),
])  # fmt: skip
def test_what_is_no_picture_raises(wrong, error):
    with pytest.raises(error, match=r"\w+"):
        md.read(wrong)


@pytest.mark.parametrize(("wrong", "error"), [
    ({"taken": "2026-10-17T19:14:35"}, ValueError),
    ({"taken": datetime(2026, 10, 17)}, ValueError),
    ({"taken": 5}, TypeError),
    ({"place": (91, 0)}, ValueError),
    ({"place": 48.2}, TypeError),
    ({"place": (1, 2, 3, 4)}, TypeError),
])  # fmt: skip
def test_a_time_without_zone_and_a_place_off_the_earth_raise(wrong, error):
    with pytest.raises(error, match=r"\w+"):
        md.annotate(HALF, **wrong)


def test_times_and_places_of_astropy_are_those_of_plain_numbers(found):
    taken = Time("2026-10-17T19:15:44.184", scale="tai").tt  # 37 s ahead of UTC, 32.184 more in TT
    place = EarthLocation.from_geodetic(16.4 * units.deg, 48.2 * units.deg, 0 * units.m)
    other = md.annotate(HALF, taken=taken, place=place)
    assert abs((other.known.taken_utc - datetime(2026, 10, 17, 19, 15, 7, 184000, UTC)).total_seconds()) < 1e-3
    assert other.known.place.latitude_deg == pytest.approx(48.2)
    assert other.pose.libration_lat_deg == pytest.approx(found.pose.libration_lat_deg, abs=0.01)


def test_what_is_not_the_moon_is_a_false_value_with_a_reason():
    other = md.annotate(SAMPLES / "promenade.jpg")
    assert not other
    assert (other.status, other.sure) == ("not_moon", False)
    assert other.reason
    assert other.reason in repr(other)
    assert other.advice in repr(other)
    assert len(other.table()) == 0
    assert "<img" not in other._repr_html_()
    for call in (lambda: other.pixel(lat_deg=0, lon_deg=0), lambda: other.surface(1, 1), other.wcs, other.geojson):
        with pytest.raises(ValueError, match="not"):
            call()
    broken = md.annotate(b"nothing")
    assert broken.status == "unreadable"
    with pytest.raises(ValueError, match=r"\w+"):
        _ = broken.picture.rgb


# --- what it gives ----------------------------------------------------------------------------------------------------


def test_a_summary_is_some_lines_and_a_notebook_shows_the_picture(found):
    lines = repr(found).splitlines()
    assert 5 <= len(lines) <= 8
    assert all(len(line) < 130 for line in lines)
    assert HALF.name in lines[0]
    assert "annotated, sure" in lines[0]
    assert "2026-10-17 19:14:35 UTC" in lines[1]
    assert '<img alt="" src="data:image/jpeg;base64,' in found._repr_html_()


def test_pixels_are_the_truth_of_the_renderer(found):
    truth = truths()[HALF.name]["moon"]
    for name, xy in truth["features"].items():
        feature = md.find(name)
        at = found.pixel(lat_deg=feature.lat_deg, lon_deg=feature.lon_deg)
        assert np.hypot(*np.subtract(at, xy)) < 0.01 * found.pose.radius_px


@pytest.mark.parametrize("lens", [{}, {"radial_k1": 0.02, "axis_x": 790.0, "axis_y": 600.0, "axis_scale_px": 1000.0},
                                  {"tilt": 0.02, "tilt_screen_deg": 30.0, "mirrored": True}])  # fmt: skip
def test_astropys_own_reader_agrees_with_pixels(found, lens):
    bent = replace(found, annotation=replace(found.annotation, pose=replace(found.pose, **lens)))
    x, y = bent.pixel(lat_deg=LAT, lon_deg=LON)
    seen = np.isfinite(x)
    assert 20 < seen.sum() < len(seen)
    there = bent.wcs().world_to_pixel_values(LON[seen], LAT[seen])
    assert np.abs(np.subtract(there, (x[seen], y[seen]))).max() < (0.05 if lens else 1e-6)
    lon, lat = bent.wcs().pixel_to_world_values(x[seen], y[seen])
    back = bent.surface(x[seen], y[seen])
    middle = np.hypot(x[seen] - bent.pose.x, y[seen] - bent.pose.y) < 0.9 * bent.pose.radius_px
    assert np.abs(back[0] - lat)[middle].max() < (0.05 if lens else 1e-6)
    assert np.abs((back[1] - lon + 180) % 360 - 180)[middle].max() < (0.05 if lens else 1e-6)


def test_the_fits_file_has_the_same_coordinates_its_rows_upwards(found, tmp_path):
    found.write_fits(tmp_path / "moon.fits")
    with fits.open(tmp_path / "moon.fits") as file:
        x, up = WCS(file[0].header).all_world2pix([30.0], [10.0], 0)
    assert (x[0], found.annotation.height - 1 - up[0]) == pytest.approx(found.pixel(lat_deg=10.0, lon_deg=30.0))


def test_numbers_give_numbers_arrays_arrays_and_quantities_are_degrees(found):
    x, y = found.pixel(lat_deg=10, lon_deg=20)
    assert type(x) is float
    assert found.pixel(lat_deg=0.17453292519943295 * units.rad, lon_deg=20 * units.deg) == pytest.approx((x, y))
    assert found.pixel(lat_deg=np.zeros((2, 1)), lon_deg=np.zeros(3))[0].shape == (2, 3)
    assert found.surface(x, y) == pytest.approx((10, 20))
    assert np.isnan(found.surface(0, 0)).all()
    assert np.isnan(found.pixel(lat_deg=0, lon_deg=180)).all()
    assert found.covariance_px(lat_deg=np.zeros((2, 1)), lon_deg=np.zeros(3)).shape == (2, 3, 2, 2)


def test_sigmas_are_the_scatter_of_poses_drawn_from_the_covariance(found):
    pose, count = found.pose, 4000
    n = len(pose.parameters)
    plain = [k for k, name in enumerate(pose.parameters) if hasattr(pose, name)]
    assert len(plain) == n, "the sample was solved without flattening or tilt"
    covariance = np.array(pose.covariance).reshape(n, n)
    shifts = np.random.default_rng(5).multivariate_normal(np.zeros(n), covariance, count)
    drawn = [
        replace(
            pose, **{name: getattr(pose, name) + s for name, s in zip(pose.parameters, shift.tolist(), strict=True)}
        )
        for shift in shifts
    ]
    for lat, lon in ((0.0, 0.0), (40.0, 50.0), (-60.0, 10.0)):
        at = [md.surface_to_pixel(p, lat, lon) for p in drawn]
        scatter = np.cov([float(a.x) for a in at], [float(a.y) for a in at])
        floor = np.eye(2) * (0.006 / 100 * pose.radius_px) ** 2
        told = found.covariance_px(lat_deg=lat, lon_deg=lon)
        assert np.abs(told - scatter - floor).max() < 0.1 * np.trace(scatter)
        assert found.sigma_px(lat_deg=lat, lon_deg=lon) == pytest.approx(np.sqrt(np.trace(told) / 2))


def test_a_table_has_its_units_and_is_the_same_three_times(found):
    table, frame, quantities = found.table(), found.to_pandas(), found.to_qtable()
    assert len(table) == len(frame) == len(quantities) == len(found.annotation.features)
    assert (np.diff(table["prominence"]) <= 0).all()
    x, y = found.pixel(lat_deg=table["lat_deg"], lon_deg=table["lon_deg"])
    assert np.nanmax(np.hypot(x - table["x"], y - table["y"])) < 1e-6
    assert frame.loc["Theophilus", "x"] == table["x"][table["name"] == "Theophilus"][0]
    assert quantities["sun_altitude_deg"].unit == units.deg
    assert quantities["x"].unit == units.pix
    sun = md.sun_altitude_deg(
        table["lat_deg"], table["lon_deg"], found.pose.sub_solar_lat_deg, found.pose.sub_solar_lon_deg
    )
    assert sun == pytest.approx(table["sun_altitude_deg"])


def test_no_name_of_the_list_is_cut_in_the_table():
    assert max(len(f.name) for f in md.all_features()) <= 40
    assert max(len(f.kind) for f in md.all_features()) <= 16


def test_pictures_are_drawn_as_they_are_and_upright(found):
    rgb = found.picture.rgb
    assert md.draw(found).shape == rgb.shape
    assert (md.draw(found) != rgb).any()
    assert md.draw(found, upright=True, size_px=600).shape == (600, 600, 3)
    with pytest.raises(ValueError, match=r"\w+"):
        md.draw(md.annotate(SAMPLES / "promenade.jpg"), upright=True)


def test_it_is_put_right_by_hand(found):
    names = ("Theophilus", "Langrenus", "Eudoxus")
    places = {name: md.find(name) for name in names}
    pins = {n: found.pixel(lat_deg=f.lat_deg, lon_deg=f.lon_deg) for n, f in places.items()}
    again = md.correct(found, pins=pins)
    assert again
    assert (again.pose.x, again.pose.y) == pytest.approx((found.pose.x, found.pose.y), abs=0.5)
    assert not md.correct(found, mirrored=True)  # its surface is not the mirrored one
    wrong = md.correct(found, pins={"Platoo": (1.0, 1.0), "Tycho": (5.0, 5.0)})
    assert isinstance(wrong, md.NotFound)
    assert "Plato" in wrong.advice
    with pytest.raises(ValueError, match="finite"):
        md.correct(found, pins={"Plato": (np.nan, 1.0)})


def test_the_line_gives_back_the_pose(found):
    line = found.json_line()
    assert isinstance(md.pose_of(line), Pose)
    assert md.pose_of(line).x == pytest.approx(found.pose.x, abs=1e-4)
    assert found.geojson()["frame"]["crs"] == "IAU_2015:30100"


# --- the pages --------------------------------------------------------------------------------------------------------


def test_the_lines_of_the_readme_run(tmp_path):
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (program,) = re.findall(r"```python\n(.*?)```", text, re.S)
    assert program.count("\n") <= 12
    (tmp_path / SAMPLES.name).symlink_to(SAMPLES)
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        cwd=tmp_path,
        env={"MPLBACKEND": "Agg", "PATH": "", "MPLCONFIGDIR": str(tmp_path)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert "Mare Tranquillitatis" in done.stdout
    assert np.asarray(Image.open(tmp_path / "moon.png").convert("L")).std() > 10
    with fits.open(tmp_path / "moon.fits") as file:
        assert WCS(file[0].header).wcs.ctype[0] == "SELN-AZP"


def test_it_is_drawn_into_axes_with_coordinates(found):
    matplotlib = pytest.importorskip("matplotlib")
    matplotlib.use("Agg")
    from matplotlib.figure import Figure

    axes = Figure().add_subplot(projection=found.wcs())
    assert found.plot(axes) is axes
    assert {"Theophilus", "Mare\nCrisium"} <= {t.get_text() for t in axes.texts}
