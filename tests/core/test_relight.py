"""The predicted disc against the law's limits, the lit area of a sphere, and the published place of the terminator."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from moondesk.moon.geometry import disc_axes, lift
from moondesk.moon.relight import DiscModel, as_displayed, disc_model, light, limb_darkening_weight, sunlit
from moondesk.records import Float32Array


def smooth(radius_px: float = 150.0) -> DiscModel:
    """A white ball without relief, seen from above (0, 0) so far away that its edge is at 90 degrees."""
    model = disc_model(0.0, 0.0, radius_px, 1e7)
    mu = np.clip(model.vertical @ model.observer, 0.02, 1.0)
    return replace(model, normal=model.vertical, mu=mu, albedo=np.ones_like(mu),
                   horizon_deg=np.zeros((*mu.shape, 2), np.float32))  # fmt: skip


@pytest.fixture(scope="module")
def ball() -> DiscModel:
    return smooth()


def test_disc_model_points_where_geometry_says() -> None:
    model = disc_model(4.0, -6.0, 100.0)
    j, i = np.meshgrid(np.arange(-90, 91, 15), np.arange(-90, 91, 15))
    inside = np.hypot(i, j) < 95
    i, j = i[inside], j[inside]
    exact = lift(j / 100, -i / 100, disc_axes(4.0, -6.0), 221.3)
    np.testing.assert_allclose(model.vertical[model.centre + i, model.centre + j], exact, atol=2e-4)


def test_weight_of_the_law() -> None:
    # McEwen's cubic (from memory): 1 at full Moon, 0.186 at quarter, a zero at 104 degrees, held at zero beyond
    assert limb_darkening_weight(0.0) == 1.0
    assert limb_darkening_weight(90.0) == pytest.approx(1 - 1.71 + 1.9602 - 1.06434)
    assert limb_darkening_weight(103.0) > 0
    assert limb_darkening_weight(105.0) == limb_darkening_weight(175.0) == 0.0
    weights = [limb_darkening_weight(a) for a in range(0, 181, 5)]
    assert weights == sorted(weights, reverse=True)


def test_full_moon_has_no_limb_darkening(ball: DiscModel) -> None:
    # Lommel-Seeliger, to which the law goes at phase zero, is flat there; the real full Moon is nearly so
    full = light(ball, 0.0, 0.0)
    well_inside = ball.mu > 0.05
    np.testing.assert_allclose(full[well_inside], 1.0, atol=1e-5)


def test_thin_crescent_is_lambertian(ball: DiscModel) -> None:
    crescent = light(ball, 0.0, 150.0)
    sun = np.array([np.cos(np.radians(150)), np.sin(np.radians(150)), 0.0])
    lit = ball.inside & (ball.vertical @ sun > 0.02)
    np.testing.assert_allclose(crescent[lit], (ball.vertical @ sun)[lit], atol=1e-5)


@pytest.mark.parametrize("phase", [0.0, 30.0, 60.0, 90.0, 120.0, 150.0])
def test_lit_area_is_the_illuminated_fraction(ball: DiscModel, phase: float) -> None:
    # k = (1 + cos i) / 2 (Meeus, Astronomical Algorithms, ch. 48): the share of the disc's area on which the Sun is up
    sun = np.array([np.cos(np.radians(phase)), np.sin(np.radians(phase)), 0.0], np.float32)
    share = sunlit(ball, sun).sum() / ball.inside.sum()
    assert share == pytest.approx((1 + np.cos(np.radians(phase))) / 2, abs=0.004)


def test_brightness_near_the_terminator_at_quarter(ball: DiscModel) -> None:
    # figures D, lunar-Lambert law at phase 90: degrees inside the terminator at which 2 ... 50 % of the maximum is met
    row = light(replace(ball, horizon_deg=ball.horizon_deg - 5.0), 0.0, 90.0)[ball.centre]
    u = (np.arange(len(row)) - ball.centre) / ball.radius_px
    inside = (u > 0.002) & (u < 0.95)
    height = np.degrees(np.arcsin(u[inside]))
    share = row[inside] / row[np.abs(u) < 1].max()
    for level, degrees in ((0.02, 1.1), (0.05, 2.8), (0.10, 5.7), (0.20, 11.8), (0.50, 32.0)):
        assert np.interp(level, share, height) == pytest.approx(degrees, abs=0.06 * degrees + 0.1)


def test_shadows_fall_away_from_the_sun(ball: DiscModel) -> None:
    walled = ball.horizon_deg.copy()
    walled[..., 0] = 6.0  # a wall in the east
    model = replace(ball, horizon_deg=walled)

    def at_middle(sun_lon: float) -> float:
        sun = np.array([np.cos(np.radians(sun_lon)), np.sin(np.radians(sun_lon)), 0.0], np.float32)
        return float(sunlit(model, sun)[model.centre, model.centre])

    assert at_middle(85.0) == 0.0  # 5 degrees high in the east
    assert at_middle(84.0) == pytest.approx(0.5, abs=0.03)  # half the Sun's disc above the wall
    assert at_middle(83.0) == 1.0
    assert at_middle(-85.0) == 1.0


def test_seas_are_darker_than_highlands() -> None:
    full = light(disc_model(0.0, 0.0, 100.0), 0.0, 0.0)
    centre = full.shape[0] // 2

    def near(lat: float, lon: float) -> float:
        j = centre + round(100 * np.cos(np.radians(lat)) * np.sin(np.radians(lon)))
        i = centre - round(100 * np.sin(np.radians(lat)))
        return float(full[i - 2 : i + 3, j - 2 : j + 3].mean())

    # Sea of Serenity (28 N, 18 E) and of Rains (33 N, 16 W) against the southern highlands (35 S, 10 E)
    assert max(near(28, 18), near(33, -16)) < 0.75 * near(-35, 10)


def test_display_values() -> None:
    radiance = np.zeros((20, 20), np.float32)
    radiance[5:15, 5:15] = 0.5
    shown: Float32Array = as_displayed(radiance, white=1.0)
    assert shown.dtype == np.uint8
    assert shown[0, 0] == 0
    assert shown[10, 10] == round(255 * 0.5 ** (1 / 2.2))
    assert as_displayed(np.zeros((4, 4), np.float32)).max() == 0
