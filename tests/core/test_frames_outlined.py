"""Outlines on a common frame: every feature asked for has its ring or its name, both edges of the light are drawn."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from moondesk.comparison.changed_light import LightAtPlace
from moondesk.comparison.outlined import MOST_NARROW, draw_outlines
from moondesk.drawing import LAYERS
from moondesk.moon.catalogue import find
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import Feature, Pose

FRAME = Pose(
    x=499.5,
    y=499.5,
    radius_px=485.0,
    north_screen_deg=0.0,
    mirrored=False,
    libration_lat_deg=2.0,
    libration_lon_deg=-3.0,
    sub_solar_lat_deg=0.7,
    sub_solar_lon_deg=68.5,
)
BEFORE = LightAtPlace(0.7, 80.7)
NAMES = ("Copernicus", "Eratosthenes", "Mare Nubium", "Montes Carpatus", "Pitatus", "Clavius", "Tycho")


def features_of(*names: str) -> list[Feature]:
    found = [find(name) for name in names]
    return [f for f in found if isinstance(f, Feature)]


@pytest.fixture(scope="module")
def drawn():
    return draw_outlines(features_of(*NAMES), FRAME, 1000, BEFORE)


def paths(markup: str) -> list[tuple[dict[str, str], np.ndarray]]:
    root = ET.fromstring(f"<g>{markup}</g>")
    return [(p.attrib, np.array([[float(v) for v in pair.split()] for pair in re.split("[MLZ]", p.get("d", ""))
                                 if pair])) for p in root.iter("path")]  # fmt: skip


def test_each_crater_has_a_ring_about_its_own_pixel(drawn) -> None:
    for name in ("Copernicus", "Eratosthenes", "Pitatus", "Clavius", "Tycho"):
        f = features_of(name)[0]
        at = surface_to_pixel(FRAME, f.lat_deg, f.lon_deg)
        middles = [
            points.mean(axis=0)
            for a, points in paths(drawn.wide)
            if a["stroke"] == LAYERS["craters"].colour and len(points) > 20
        ]
        assert min(np.hypot(*(m - [float(at.x), float(at.y)])) for m in middles) < 3, name


def test_a_sea_is_dashed_and_a_range_has_its_name_alone(drawn) -> None:
    seas = [a for a, points in paths(drawn.wide) if a["stroke"] == LAYERS["seas"].colour and len(points) > 20]
    assert len(seas) == 1
    assert "stroke-dasharray" in seas[0]
    assert not [a for a, points in paths(drawn.wide) if a["stroke"] == LAYERS["mountains"].colour and len(points) > 20]
    assert ">Carpatus<" in drawn.wide or ">Montes Carpatus<" in drawn.wide


def test_the_edge_of_the_light_is_drawn_as_it_is_and_dashed_as_it_was(drawn) -> None:
    edges = [(a, points) for a, points in paths(drawn.wide) if a["stroke"] == LAYERS["terminator"].colour]
    whole = [points for a, points in edges if "stroke-dasharray" not in a]
    dashed = [points for a, points in edges if "stroke-dasharray" in a]
    assert whole
    assert dashed

    def at_equator(some: list[np.ndarray]) -> float:
        points = np.concatenate(some)
        return float(points[np.argmin(np.abs(points[:, 1] - 499.5)), 0])

    assert at_equator(whole) < at_equator(dashed) - 60  # twelve degrees further west
    alone = draw_outlines(features_of("Tycho"), FRAME, 1000)
    assert not [
        a for a, _ in paths(alone.wide) if a["stroke"] == LAYERS["terminator"].colour and "stroke-dasharray" in a
    ]


def test_a_phone_gets_fewer_and_larger_names(drawn) -> None:
    sizes = [[float(s) for s in re.findall(r'font-size="([0-9.]+)"', text)] for text in (drawn.wide, drawn.narrow)]
    assert 0 < len(sizes[1]) <= min(MOST_NARROW, len(sizes[0]))
    assert min(sizes[1]) > 1.4 * min(sizes[0])
    assert "<script" not in drawn.wide + drawn.narrow
    assert "style=" not in drawn.wide + drawn.narrow
