"""The harder scenes: what they show lies where their truth says, by OpenCV's own warps and by skyfield's eclipses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np
import pytest

from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.catalogue import find
from tests.scenes import DISTURBED, HARDER, Film, SceneSpec, Sky, optics, render, spec_of, true_pose
from tests.scenes.bending import Afocal, Keystone, Shear, Stitch, Wobble
from tests.scenes.harder import ECLIPSES
from tests.scenes.optics import moonlight
from tests.scenes.rendering import north_on_screen, sensor_light, truth_row

NAMES = ("Copernicus", "Tycho", "Plato", "Theophilus", "Kepler", "Posidonius", "Moretus")


def dotted(family: str, seed: int, **changes: object) -> SceneSpec:
    """The family's scene of that seed with nothing on the Moon but bright dots on the craters of NAMES."""
    found = [find(name) for name in NAMES]
    spec = spec_of(family, seed)
    aspect = aspect_at(spec.when_utc, spec.place)
    new_moon = replace(aspect, sub_solar_lat_deg=0.0, sub_solar_lon_deg=aspect.libration_lon_deg + 180.0)
    return replace(
        spec, beacons=tuple((f.lat_deg, f.lon_deg) for f in found if f), aspect=new_moon, sky=Sky(0.0), fine=False,
        film=Film(), limb_relief=False, **changes,
    )  # fmt: skip


def told(spec: SceneSpec) -> dict[str, tuple[float, float]]:
    """Pixels of NAMES as the scene's truth has them."""
    assert spec.aspect is not None
    row = truth_row(spec, true_pose(spec, spec.aspect), spec.aspect)
    return {f["name"]: (f["x"], f["y"]) for f in row["features"] if f["name"] in NAMES}


def dot(light: np.ndarray, at: tuple[float, float], reach: float) -> tuple[float, float]:
    """Middle of the light within that distance of a pixel."""
    top, left = max(int(at[1] - reach), 0), max(int(at[0] - reach), 0)
    window = light[top : int(at[1] + reach) + 2, left : int(at[0] + reach) + 2]
    y, x = np.mgrid[top : top + window.shape[0], left : left + window.shape[1]]
    near = window * (np.hypot(x - at[0], y - at[1]) < reach)
    return float((x * near).sum() / near.sum()), float((y * near).sum() / near.sum())


def by_calibration(plain: np.ndarray, bend: Afocal) -> np.ndarray:
    """Every bright pixel's light carried to where OpenCV's camera model, which has Brown's terms, sees it."""
    rows, cols = np.nonzero(plain)
    points = np.stack([(cols - bend.x0) / bend.scale_px, (rows - bend.y0) / bend.scale_px, np.ones(len(rows))], -1)
    camera = np.array([[bend.scale_px, 0, bend.x0], [0, bend.scale_px, bend.y0], [0, 0, 1]])
    terms, still = np.array([bend.k1, bend.k2, bend.p1, bend.p2, 0.0]), np.zeros(3)
    x, y = cv2.projectPoints(points, still, still, camera, terms)[0].reshape(-1, 2).T
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    shown = np.zeros_like(plain)
    for right, down in ((0, 0), (1, 0), (0, 1), (1, 1)):
        share = (1 - abs(x - left - right)) * (1 - abs(y - top - down))
        np.add.at(shown, (top + down, left + right), share * plain[rows, cols])
    return shown


def by_homography(plain: np.ndarray, bend: Keystone) -> np.ndarray:
    t = np.radians(bend.screen_deg)
    to_middle = np.array([[1, 0, -bend.x0], [0, 1, -bend.y0], [0, 0, 1.0]])
    h = bend.tilt / bend.scale_px
    slant = np.array([[1, 0, 0], [0, 1, 0], [-h * np.sin(t), -h * np.cos(t), 1.0]])
    whole = np.linalg.inv(to_middle) @ slant @ to_middle
    return cv2.warpPerspective(plain, whole, plain.shape[::-1], flags=cv2.INTER_LINEAR)


def by_affine(plain: np.ndarray, bend: Shear) -> np.ndarray:
    matrix = np.array([[1.0, bend.shear, -bend.shear * bend.y0], [0.0, bend.stretch, bend.y0 * (1.0 - bend.stretch)]])
    return cv2.warpAffine(plain, matrix, plain.shape[::-1], flags=cv2.INTER_LINEAR)


def by_rows(plain: np.ndarray, bend: Wobble) -> np.ndarray:
    """Row after row as the shutter runs: each is read from the plain picture where the hand has moved to by then."""
    shown, cols = np.zeros_like(plain), np.arange(plain.shape[1])
    for row in range(len(plain)):
        right = sum(a * np.sin(2 * np.pi * (row / length + turns)) for a, _, length, turns in bend.waves)
        down = sum(b * np.sin(2 * np.pi * (row / length + turns)) for _, b, length, turns in bend.waves)
        above = int(np.floor(row - down))
        if 0 <= above < len(plain) - 1:
            part = row - down - above
            shown[row] = np.interp(cols - right, cols, (1 - part) * plain[above] + part * plain[above + 1])
    return shown


def by_parts(plain: np.ndarray, bend: Stitch) -> np.ndarray:
    s = bend.scale
    matrix = np.array([[s, 0, bend.x0 * (1 - s) + bend.right], [0, s, bend.seam * (1 - s) + bend.down]])
    shown = cv2.warpAffine(plain, matrix, plain.shape[::-1], flags=cv2.INTER_LINEAR)
    first = int(np.ceil(bend.seam))
    shown[:first] = plain[:first]
    return shown


@pytest.mark.parametrize(
    ("family", "warped"),
    [("afocal", by_calibration), ("tilt", by_homography), ("shear", by_affine), ("wobble", by_rows),
     ("stitch", by_parts)],
)  # fmt: skip
def test_bent_dots_lie_where_the_truth_and_a_warped_picture_have_them(
    family: str, warped: Callable[[np.ndarray, object], np.ndarray]
) -> None:
    spec = dotted(family, 11)
    pose = true_pose(spec, spec.aspect)
    bent, brute = moonlight(spec, pose), warped(moonlight(replace(spec, bend=None), pose), spec.bend)
    unbent = told(replace(spec, bend=None))
    truth, moved, compared = told(spec), [], 0
    for name, at in truth.items():
        reach = 0.035 * spec.radius_px
        if isinstance(spec.bend, Stitch) and abs(at[1] - spec.bend.seam) < 1.5 * reach:
            continue  # a dot that the seam cuts has no middle
        compared += 1
        assert dot(bent, at, reach) == pytest.approx(at, abs=0.15), name
        assert dot(brute, at, reach) == pytest.approx(at, abs=0.2), name
        moved.append(np.hypot(at[0] - unbent[name][0], at[1] - unbent[name][1]))
    assert compared >= 5
    assert max(moved) > 0.003 * spec.radius_px  # what is tested is bent


def test_a_doubled_picture_has_its_truth_midway() -> None:
    spec = dotted("double", 5)
    halves = replace(spec, disturbance=replace(spec.disturbance, first_share=0.5))
    light = sensor_light(halves, true_pose(halves, halves.aspect))[..., 1]
    right, down = halves.disturbance.twice_px
    for at in told(halves).values():
        assert dot(light, at, 0.06 * halves.radius_px) == pytest.approx(at, abs=0.2)
        ends = [light[round(at[1] + s * down / 2), round(at[0] + s * right / 2)] for s in (-1, 1)]
        assert min(ends) > 1.1 * light[round(at[1]), round(at[0])]  # two images, not one wide one


def test_colours_are_shifted_apart_about_green() -> None:
    spec = dotted("chroma", 5)
    light = sensor_light(spec, true_pose(spec, spec.aspect))
    apart = spec.optics.dispersion_px
    t = np.radians(spec.optics.dispersion_screen_deg)
    for at in told(spec).values():
        red, green, blue = (dot(light[..., c], at, 0.04 * spec.radius_px) for c in range(3))
        assert green == pytest.approx(at, abs=0.15)
        gap = red[0] - blue[0], red[1] - blue[1]
        assert gap == pytest.approx((-apart * np.sin(t), -apart * np.cos(t)), abs=0.15)


def test_what_the_field_cuts_off_is_not_in_the_truth() -> None:
    spec = replace(spec_of("stopcut", 2), fine=False)
    aspect = aspect_at(spec.when_utc, spec.place)
    pose = true_pose(spec, aspect)
    kept = {f["name"] for f in truth_row(spec, pose, aspect)["features"]}
    wide = truth_row(replace(spec, sky=Sky()), pose, aspect)["features"]
    light = sensor_light(spec, pose)[..., 1]
    stop = spec.sky.field_stop
    assert stop is not None
    inside, outside = [], []
    for f in wide:
        clear_of_edge = abs(np.hypot(f["x"] - stop.x, f["y"] - stop.y) - stop.radius_px) > 6 * stop.edge_px
        if f["sun_alt_deg"] > 25 and clear_of_edge:
            (inside if f["name"] in kept else outside).append(float(light[round(f["y"]), round(f["x"])]))
    assert len(inside) > 50
    assert len(outside) > 10
    assert min(inside) > 0.05 > 0.01 > max(outside)


def test_the_shadow_lies_where_skyfield_and_de421_have_it_from_the_ground() -> None:
    """By hand in the frame of the solar system's barycentre: sunlight leaves the Sun, passes the Earth's centre, goes
    on to the Moon and comes back to the observer; each body stands where it is at that instant."""
    api = pytest.importorskip("skyfield.api", reason="the live comparison needs skyfield")
    found = find_spec("skyfield_data")
    path = Path(found.origin).parent / "data/de421.bsp" if found and found.origin else None
    if path is None or not path.is_file():
        pytest.skip("package skyfield-data (DE421) is not installed")
    ts, eph = api.load.timescale(builtin=True), api.load_file(str(path))
    try:
        for family in ECLIPSES:
            for seed in (1, 2, 3):
                spec = spec_of(family, seed)
                aspect = aspect_at(spec.when_utc, spec.place)
                truth = truth_row(spec, true_pose(spec, aspect), aspect)["eclipse"]
                assert truth["state"] == ECLIPSES[family]
                x, y = _shadow_by_skyfield(spec, ts, eph, api)
                # 1 %R: 17 km of the surface, which the shadow crosses in a quarter of a minute
                assert (truth["umbra_x"], truth["umbra_y"]) == pytest.approx((x, y), abs=0.01 * spec.radius_px)
                # Danjon's rule in Meeus, Astronomical Algorithms, ch. 54 (from memory): umbra and penumbra at the Moon
                # are 0.7403 - u and 1.2848 + u Earth radii across half, u within 0.0059 +- 0.0182 + 0.006
                earth = spec.radius_px * 6378.14 / 1737.4
                assert truth["umbra_radius_px"] / earth == pytest.approx(0.7344, abs=0.03)
                assert truth["penumbra_radius_px"] / earth == pytest.approx(1.2907, abs=0.03)
    finally:
        eph.close()


def _shadow_by_skyfield(spec: SceneSpec, ts: object, eph: object, api: object) -> tuple[float, float]:
    """Pixel of the axis's point at the Moon's distance, from celestial north's place in the picture alone."""
    seen = ts.from_datetime(spec.when_utc)

    def at(body: object, seconds: float) -> np.ndarray:
        return body.at(ts.tt_jd(seen.tt + seconds / 86400.0)).position.km

    ground = eph["earth"] + api.wgs84.latlon(spec.place.latitude_deg, spec.place.longitude_deg)
    light = np.linalg.norm(at(eph["moon"], 0) - at(ground, 0)) / 299_792.458
    moon, passed = at(eph["moon"], -light), at(eph["earth"], -2 * light)
    sunlight = np.linalg.norm(at(eph["sun"], -2 * light) - passed) / 299_792.458
    along = passed - at(eph["sun"], -2 * light - sunlight)
    along /= np.linalg.norm(along)
    middle = passed + along * float((moon - passed) @ along)
    eye = at(ground, 0)
    view = (moon - eye) / np.linalg.norm(moon - eye)
    pole = seen.M.T @ np.array([0.0, 0.0, 1.0])
    east = np.cross(pole, view)
    east /= np.linalg.norm(east)
    to_middle = (middle - eye) / float((middle - eye) @ view)
    limb = np.tan(np.arcsin(1737.4 / np.linalg.norm(moon - eye)))
    to_east, to_north = (float(to_middle @ axis) / limb for axis in (east, np.cross(view, east)))
    aspect = aspect_at(spec.when_utc, spec.place)
    # north_on_screen is linear in the screen angle of celestial north
    north = spec.north_screen_deg - north_on_screen(aspect, 0.0, spec.mirrored)
    t = np.radians(-north if spec.mirrored else north)  # as it stands before the picture is mirrored
    right, up = -to_east * np.cos(t) - to_north * np.sin(t), -to_east * np.sin(t) + to_north * np.cos(t)
    return spec.x + spec.radius_px * (-right if spec.mirrored else right), spec.y - spec.radius_px * up


@pytest.mark.parametrize("family", [*HARDER, *DISTURBED])
def test_every_harder_family_renders_and_repeats(family: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(optics, "MOST_CELLS", 3e5)  # coarse ground is quick, and will do here
    monkeypatch.setattr(optics, "SUPERSAMPLE", 1)
    spec = spec_of(family, 3)
    assert spec == spec_of(family, 3)
    assert spec != spec_of(family, 4)
    assert spec.family == family
    scene = render(replace(spec, fine=False))
    rows = scene.truth["features"]
    assert len(rows) > 25
    assert all(0 <= f["x"] < spec.width and 0 <= f["y"] < spec.height for f in rows)
    shown = cv2.imdecode(np.frombuffer(scene.data, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert shown.shape == (spec.height, spec.width)
    lit = [shown[int(f["y"]), int(f["x"])] for f in rows if f["sun_alt_deg"] > 25]
    dark = np.median(shown[:, [0, -1]])
    assert np.median(lit) > dark + (8 if family == "faint" else 15)
    if family in ("wobble", "clouds"):
        assert scene.data == render(replace(spec, fine=False)).data
