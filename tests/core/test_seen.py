"""Can it be made out? Against pictures that the package's own light draws, noise of known size, and rendered scenes."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from moondesk.moon.geometry import disc_axes, disc_to_pixel, unit_vector
from moondesk.moon.relight import disc_model, light
from moondesk.records import FeatureMark, Pose
from moondesk.visibility.discernible import QUANTUM, WITHIN, extents, measure, noise_of, resolution_factor
from moondesk.visibility.marks import mark_features
from tests.benchmarks.discernible import BINS, scenes, verdicts

#: First quarter, north up: the frame of `relight.disc_model` is the picture.
RADIUS = 300.0
POSE = Pose(
    x=350.0,
    y=350.0,
    radius_px=RADIUS,
    north_screen_deg=0.0,
    mirrored=False,
    libration_lat_deg=3.0,
    libration_lon_deg=-2.0,
    sub_solar_lat_deg=1.0,
    sub_solar_lon_deg=80.0,
    parameters=("x",),
    covariance=(0.01,),
)


def moon(pose: Pose = POSE, strength: float = 0.5) -> np.ndarray:
    """(701, 701) linear light."""
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, RADIUS)
    disc = light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    image = np.zeros((701, 701), np.float32)
    start = 350 - model.centre
    image[start : start + len(disc), start : start + len(disc)] = strength * disc / np.percentile(disc, 99)
    return cv2.GaussianBlur(image, (0, 0), 0.8)


def marked(image: np.ndarray, pose: Pose = POSE, blur_px: float = 1.6) -> dict[str, FeatureMark]:
    height, width = image.shape
    found = mark_features(pose, pose, image, width, height, blur_px)
    return {m.feature.name: m for m in found}


@pytest.fixture(scope="module")
def clear() -> dict[str, FeatureMark]:
    return marked(moon())


def shown(marks: dict[str, FeatureMark]) -> dict[str, FeatureMark]:
    """Craters and seas of 40 km or more well in the light, of which a good part is bound to show."""
    return {
        n: m
        for n, m in marks.items()
        if m.feature.kind in ("crater", "sea") and m.feature.size_km >= 40 and m.lit_fraction > 0.9 and m.cos_view > 0.4
    }


def mean_seen(marks: dict[str, FeatureMark]) -> float:
    return float(np.mean([m.seen for m in shown(marks).values()]))


def test_what_shows_is_seen_and_what_lies_in_shadow_is_not(clear: dict[str, FeatureMark]) -> None:
    for name in ("Theophilus", "Maurolycus", "Mare Crisium", "Posidonius"):
        assert clear[name].seen > 0.95, name
    dark = [m for m in clear.values() if m.lit_fraction == 0]
    assert len(dark) > 200
    assert max(m.seen for m in dark) == 0


def test_no_contrast_no_feature(clear: dict[str, FeatureMark]) -> None:
    """An even grey disc, an overexposed one, a dark one and pure noise show nothing."""
    rng = np.random.default_rng(3)
    grey = np.full((701, 701), 0.3, np.float32)
    assert mean_seen(clear) > 0.6
    assert max(m.seen for m in marked(grey).values()) < 0.05
    assert mean_seen(marked(np.minimum(moon(strength=60.0), 1.0))) < 0.3
    assert mean_seen(marked(moon(strength=1e-4))) < 0.05
    assert mean_seen(marked(np.clip(grey + rng.normal(0, 0.05, grey.shape), 0, 1).astype(np.float32))) < 0.1


def test_noise_and_blur_take_from_it(clear: dict[str, FeatureMark]) -> None:
    rng = np.random.default_rng(4)
    image, means = moon(), [mean_seen(clear)]
    for sigma in (0.05, 0.2):  # of display values
        noisy = np.maximum(np.sqrt(image) + rng.normal(0, sigma, image.shape), 0) ** 2
        means.append(mean_seen(marked(noisy.astype(np.float32))))
    assert means[0] > means[1] > means[2]
    soft = [mean_seen(marked(cv2.GaussianBlur(image, (0, 0), s), blur_px=2.0 * s)) for s in (3.0, 8.0)]
    assert mean_seen(clear) > soft[0] > soft[1]


def test_another_moon_is_not_taken_for_it(clear: dict[str, FeatureMark]) -> None:
    """The mirror image has the same texture elsewhere."""
    swapped = marked(np.ascontiguousarray(moon()[::-1]))
    craters = [n for n, m in shown(clear).items() if m.feature.kind == "crater" and m.seen > 0.8]
    assert len(craters) > 60
    assert np.mean([swapped[n].seen for n in craters]) < 0.5 * np.mean([clear[n].seen for n in craters])


def test_off_the_frame_nothing_is_seen() -> None:
    """A sea whose centre is outside is marked for the part that shows; what hardly shows is hardly seen."""
    image = moon()
    seen = []
    for cut in (80, 120, 140, 250):  # columns of the right that are cut away
        part = marked(np.ascontiguousarray(image[:, :-cut]))
        crisium = part.get("Mare Crisium")
        seen.append(crisium.seen if crisium is not None else 0.0)
        edge = 701 - cut
        assert all(m.seen == 0 for m in part.values() if m.x - 1.3 * m.radius_px > edge)
    assert seen[0] > 0.95
    assert max(seen[2:]) < 0.05


def test_noise_is_measured() -> None:
    """White noise of known deviation on a smooth slope; 8 bits at least."""
    rng = np.random.default_rng(5)
    slope = np.linspace(0.3, 0.7, 400)[None, :] * np.ones((300, 1))
    x, y = (g.astype(np.float32) for g in np.meshgrid(np.arange(5, 395, 2.0), np.arange(5, 295, 2.0)))
    for sigma in (0.005, 0.02, 0.06):
        image = ((slope + rng.normal(0, sigma, slope.shape)) ** 2).astype(np.float32)
        assert noise_of(image, x, y) == pytest.approx(sigma, rel=0.1)
    assert noise_of((slope**2).astype(np.float32), x, y) == QUANTUM


def test_points_cover_the_feature() -> None:
    """Rings at their share of the angular radius; the tangent is longer than the angle by 1 % at 10 degrees."""
    centre, radius = unit_vector([20.0, -60.0], [10.0, 100.0]), np.array([0.05, 0.15])
    points = extents(centre, radius).astype(float)
    away = np.arccos(np.clip(np.einsum("nkc,nc->nk", points, centre), -1, 1)) / radius[:, None]
    assert np.allclose(np.linalg.norm(points, axis=2), 1, atol=1e-6)
    assert away[:, :WITHIN].max() == pytest.approx(0.92, abs=0.01)
    assert away.max() == pytest.approx(1.25, abs=0.03)
    assert away[:, 0] == pytest.approx(0, abs=0.01)


def test_measured_contrast_is_that_of_the_picture() -> None:
    """A picture that is the prediction itself agrees with it, and twice the light has 1.41 of the contrast."""
    names = marked(moon())
    few = list(shown(names).values())
    points = extents(
        unit_vector([m.feature.lat_deg for m in few], [m.feature.lon_deg for m in few]),
        np.array([m.feature.size_km / 2 / 1737.4 for m in few]),
    )
    one, two = (measure(moon(strength=s), POSE, points) for s in (0.25, 0.5))
    assert np.median(one.agreement) > 0.9
    assert np.median(two.contrast / one.contrast) == pytest.approx(np.sqrt(2), rel=0.01)
    assert np.all(one.framed == 1)
    x, _ = disc_to_pixel(POSE, points @ disc_axes(3.0, -2.0)[0], points @ disc_axes(3.0, -2.0)[1])
    assert x.min() > 0


def test_widths_that_are_told_apart() -> None:
    """Two resolution elements a spot, five a ring (common practice)."""
    assert resolution_factor(np.array([0.5, 2.5, 5.0])) == pytest.approx([0.08, 0.5, 0.96], abs=0.01)


@pytest.mark.slow
@pytest.mark.parametrize("noisy", [False, True])
def test_stated_against_observed(noisy: bool) -> None:
    """Unseen scenes: what is called seen is, what is called unseen is not (thresholds: see `tests.benchmarks.discernible`)."""
    found = [v for spec in scenes(16, 4242, noisy) for v in verdicts(spec)]
    lit = [v for v in found if v.mark.lit_fraction > 0]
    stated, seen = np.array([v.mark.seen for v in lit]), np.array([v.visible for v in lit])
    assert np.mean((stated - seen) ** 2) < 0.09
    assert seen[stated > 0.95].mean() > 0.93
    assert seen[stated < 0.02].mean() < 0.05
    for low, high in ((BINS[3], 0.4), (0.4, 0.8), (0.8, 0.95)):
        k = (stated >= low) & (stated < high)
        assert abs(stated[k].mean() - seen[k].mean()) < 0.2
    assert max(v.mark.seen for v in found if v.mark.lit_fraction == 0) == 0
