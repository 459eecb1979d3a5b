"""What is pointed at first: the rules one by one, then the whole Moon in four lights."""

from __future__ import annotations

import time

import numpy as np
import pytest

from moondesk.moon.catalogue import FeatureArrays, all_features, feature_arrays
from moondesk.moon.geometry import sun_altitude_deg, unit_vector
from moondesk.records import MOON_RADIUS_KM, FloatArray
from moondesk.visibility.prominence import prominence

INDEX = {f.name: i for i, f in enumerate(all_features())}


def one(name: str, sun: float, lit: float = 1.0, view: float = 1.0) -> float:
    row = feature_arrays().take(np.array([INDEX[name]]))
    return float(prominence(row, sun, lit, view)[0])


def in_light(sun_lon_deg: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Prominence, lit share (the Sun's height against the feature's half width) and cos_view at mean libration."""
    table = feature_arrays()
    sun = sun_altitude_deg(table.lat_deg, table.lon_deg, 0.0, sun_lon_deg)
    view = unit_vector(table.lat_deg, table.lon_deg) @ unit_vector(0.0, 0.0)
    half_width_deg = np.degrees(np.maximum(table.size_km, 0.1) / 2 / MOON_RADIUS_KM)
    lit = np.clip(0.5 + 0.5 * sun / half_width_deg, 0.0, 1.0)
    return prominence(table, sun, lit, view), lit, view


def first(sun_lon_deg: float, n: int) -> list[str]:
    value, _, _ = in_light(sun_lon_deg)
    return [all_features()[i].name for i in np.argsort(-value, kind="stable")[:n]]


def test_range_and_zero_cases() -> None:
    for sun_lon in (0.0, 90.0, 144.0, -90.0, 180.0):
        value, lit, view = in_light(sun_lon)
        assert value.shape == (len(all_features()),)
        assert (value >= 0).all()
        assert (value <= 1).all()
        assert (value[(view <= 0) | (lit <= 0)] == 0).all()
    assert one("Mons Agnes", 5.0) == 0.0  # size unknown


def test_form_is_for_a_low_sun_and_tone_for_a_high_one() -> None:
    """Common practice: relief near the terminator; rays, seas and dark floors under a high Sun."""
    for name in ("Clavius", "Maurolycus", "Montes Apenninus", "Rupes Recta", "Vallis Alpes", "Rima Hadley"):
        assert one(name, 5.0) > 1.5 * one(name, 60.0), name
    for name in ("Kepler", "Proclus", "Mare Crisium", "Mare Imbrium"):
        assert one(name, 60.0) > one(name, 5.0), name
    assert one("Rupes Recta", 5.0) > 3 * one("Rupes Recta", 40.0)  # a wall of 300 m, gone under a high Sun


def test_light_view_and_rank_only_take_away() -> None:
    assert one("Plato", 10.0, lit=0.3) < one("Plato", 10.0, lit=1.0)
    assert one("Plato", 10.0, view=0.2) < one("Plato", 10.0, view=0.9)
    assert one("Byrgius A", 60.0) < one("Kepler", 60.0)


def test_scale_does_not_depend_on_the_company() -> None:
    table = feature_arrays()
    some = np.arange(0, len(table), 7)
    whole = prominence(table, 20.0, 1.0, 0.8)
    np.testing.assert_array_equal(prominence(table.take(some), 20.0, 1.0, 0.8), whole[some])


def test_wrong_shapes_are_wrong_calls() -> None:
    with pytest.raises(ValueError, match="broadcast"):
        prominence(feature_arrays(), np.zeros(3), 1.0, 1.0)


#: Common practice: what is shown first in each light (mean libration). The Sun stands over the given longitude.
SHOWN = [
    ("full", 0.0, {
        "Tycho", "Copernicus", "Kepler", "Aristarchus", "Plato", "Proclus", "Langrenus", "Mare Imbrium",
        "Mare Serenitatis", "Mare Tranquillitatis", "Mare Crisium", "Mare Fecunditatis", "Mare Nubium",
        "Mare Humorum", "Oceanus Procellarum",
    }),
    ("first quarter", 90.0, {
        "Montes Apenninus", "Montes Caucasus", "Albategnius", "Maurolycus", "Stöfler", "Walther", "Aristoteles",
        "Mare Crisium", "Mare Fecunditatis", "Mare Serenitatis", "Mare Tranquillitatis",
    }),
    ("crescent of three days", 144.0, {
        "Langrenus", "Cleomedes", "Petavius", "Furnerius", "Vendelinus", "Endymion", "Mare Crisium",
    }),
    ("last quarter", -90.0, {
        "Clavius", "Copernicus", "Tycho", "Plato", "Kepler", "Aristarchus", "Grimaldi", "Arzachel", "Ptolemaeus",
        "Montes Apenninus", "Mare Imbrium", "Mare Nubium", "Mare Humorum", "Oceanus Procellarum",
    }),
]  # fmt: skip


@pytest.mark.parametrize(("light", "sun_lon_deg", "shown"), SHOWN)
def test_what_is_shown_first(light: str, sun_lon_deg: float, shown: set[str]) -> None:
    top = first(sun_lon_deg, 25)
    assert shown <= set(top), (light, sorted(shown - set(top)), top)
    value, _, view = in_light(sun_lon_deg)
    best = np.argsort(-value, kind="stable")[:25]
    assert (view[best] > 0.3).all(), light  # nothing obscure at the limb
    assert not feature_arrays().lettered[best].any(), light


def smallest_time(table: FeatureArrays, runs: int = 5) -> float:
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        prominence(table, 20.0, 0.9, 0.8)
        taken.append(time.perf_counter() - start)
    return min(taken)


def test_two_thousand_features_take_under_five_milliseconds() -> None:
    assert smallest_time(feature_arrays().take(np.arange(2000))) < 0.005
