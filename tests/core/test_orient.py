"""Turn and hand of a disc whose turn and hand are known."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from moondesk.moon.geometry import pixel_to_disc
from moondesk.moon.relight import disc_model, light
from moondesk.placement.orientation import ANGLES, RINGS, Rings, best_turns, flatten, rings, unroll
from moondesk.records import Float32Array, Pose

RADIUS = 90.0


def ready(image: Float32Array, x: float, y: float, radius: float) -> Rings:
    return rings(*unroll(image, x, y, radius))


def predicted(sun_lon: float) -> tuple[Float32Array, int]:
    model = disc_model(-3.0, 4.0, RADIUS)
    return np.sqrt(light(model, 0.5, sun_lon)), model.centre


def photograph(north_screen_deg: float, mirrored: bool, sun_lon: float, noise: float) -> Float32Array:
    """The relit disc drawn at a pose of radius 120 px, its tone changed, with noise."""
    frame, centre = predicted(sun_lon)
    pose = Pose(
        x=160.0,
        y=150.0,
        radius_px=120.0,
        north_screen_deg=north_screen_deg,
        mirrored=mirrored,
        libration_lat_deg=-3.0,
        libration_lon_deg=4.0,
        sub_solar_lat_deg=0.5,
        sub_solar_lon_deg=sun_lon,
    )
    jj, ii = np.meshgrid(np.arange(330.0), np.arange(310.0))
    u, v = pixel_to_disc(pose, jj, ii)
    x, y = (centre + RADIUS * u).astype(np.float32), (centre - RADIUS * v).astype(np.float32)
    drawn = cv2.remap(frame, x, y, cv2.INTER_LINEAR)
    return (0.05 + 0.6 * drawn**0.8 + np.random.default_rng(8).normal(0, noise, drawn.shape)).astype(np.float32)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("turn", "sun_lon"), [(0.0, 30.0), (73.4, -60.0), (211.0, 95.0), (359.3, 0.0)])
def test_known_turn_and_hand(turn: float, sun_lon: float, mirrored: bool) -> None:
    picture = photograph(turn, mirrored, sun_lon, 0.02)
    frame, centre = predicted(sun_lon)
    turns = best_turns(ready(picture, 160.0, 150.0, 120.0), ready(frame, centre, centre, RADIUS))
    best = turns[0]
    assert best.mirrored is mirrored
    assert abs((best.north_screen_deg - turn + 180) % 360 - 180) < 0.5
    assert best.correlation > 0.6
    other = max(t.correlation for t in turns if t.mirrored is not mirrored)
    assert other < 0.6 * best.correlation
    assert [t.correlation for t in turns] == sorted((t.correlation for t in turns), reverse=True)


def test_noise_agrees_with_no_turn() -> None:
    noise = np.random.default_rng(9).normal(0.3, 0.1, (310, 330)).astype(np.float32)
    frame, centre = predicted(40.0)
    turns = best_turns(ready(noise, 160.0, 150.0, 120.0), ready(frame, centre, centre, RADIUS))
    assert max(t.correlation for t in turns) < 0.25


def test_part_of_the_disc_outside_the_frame_carries_no_weight() -> None:
    picture = photograph(140.0, False, 20.0, 0.01)[:, 110:]  # the centre is 50 px inside, the radius 120
    frame, centre = predicted(20.0)
    values, weight = unroll(picture, 50.0, 150.0, 120.0)
    assert values.shape == weight.shape == (RINGS, ANGLES)
    assert 0.5 < weight.mean() < 0.9
    best = best_turns(rings(values, weight), ready(frame, centre, centre, RADIUS))[0]
    assert best.north_screen_deg == pytest.approx(140.0, abs=0.7)
    assert best.mirrored is False


def test_flattening_forgets_exposure() -> None:
    values, weight = unroll(photograph(10.0, False, 20.0, 0.0), 160.0, 150.0, 120.0)
    np.testing.assert_allclose(flatten(values, weight), flatten(0.3 * values + 0.1, weight), atol=0.02)


def test_even_disc_gives_no_turn_and_no_warning() -> None:
    frame, centre = predicted(20.0)
    turns = best_turns(ready(np.full((310, 330), 0.4, np.float32), 160.0, 150.0, 120.0),
                       ready(frame, centre, centre, RADIUS))  # fmt: skip
    assert all(np.isfinite(t.correlation) and abs(t.correlation) < 0.2 for t in turns)
