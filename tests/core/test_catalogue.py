"""The catalogue against outside values: each source is named beside its check."""

from __future__ import annotations

import importlib
import os
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from moondesk.moon.catalogue import KINDS, all_features, feature_arrays, find, fold_name
from moondesk.moon.geometry import unit_vector
from moondesk.records import MOON_RADIUS_KM, Feature, NotFound

ROOT = Path(__file__).resolve().parents[2]
TABLE = ROOT / "annotate" / "data" / "features.csv"


def named(name: str) -> Feature:
    found = find(name)
    assert isinstance(found, Feature), found
    return found


def degrees_apart(feature: Feature, lat: float, lon: float) -> float:
    cosine = unit_vector(feature.lat_deg, feature.lon_deg) @ unit_vector(lat, lon)
    return float(np.degrees(np.arccos(np.clip(cosine, -1, 1))))


def test_counts_by_kind() -> None:
    """Counts of the gazetteer's own types (state of October 2020); Apollo crews' names spread over several kinds."""
    kinds = Counter(f.kind for f in all_features())
    assert len(all_features()) == 9037
    assert sum(f.parent is not None for f in all_features()) == 7066
    counted = ("sea", "ocean", "lake", "bay", "marsh", "rille", "ridge", "cape", "landing site")
    assert {k: kinds[k] for k in counted} == {
        "sea": 22, "ocean": 1, "lake": 20, "bay": 11, "marsh": 3, "rille": 111, "ridge": 39, "cape": 9,
        "landing site": 3,
    }  # fmt: skip
    # 49 mountains and ranges and 81 crews' names, of which 16 are no craters: 7 mountains, 2 ranges, 2 valleys ...
    assert kinds["mountain"] + kinds["mountain range"] == 49 + 9
    assert (kinds["valley"], kinds["scarp"], kinds["plain"], kinds["bright patch"]) == (14 + 2, 8 + 1, 1 + 3, 1 + 1)
    assert kinds["crater"] == 1578 + 7066 + (81 - 16)
    assert set(kinds) <= set(KINDS)


def test_every_latin_plain_name_has_its_english_meaning() -> None:
    wanting = [f.name for f in all_features() if f.kind in ("sea", "ocean", "lake", "bay", "marsh") and not f.meaning]
    assert wanting == []
    assert named("Mare Imbrium").meaning == "Sea of Rains"
    assert named("Copernicus").meaning is None


def test_ranges_order_and_uniqueness() -> None:
    names = [f.name for f in all_features()]
    assert len({fold_name(n) for n in names}) == len(names)
    assert all(-90 <= f.lat_deg <= 90 and -180 < f.lon_deg <= 180 and f.size_km >= 0 for f in all_features())
    assert [f.name for f in all_features() if f.size_km == 0] == ["Mons Agnes", "Planitia Descensus"]  # size unknown


def test_three_largest_craters_towards_the_earth() -> None:
    """Common practice: Bailly, Clavius, Deslandres, in that order, all beyond 200 km."""
    facing = [f for f in all_features() if f.kind == "crater" and abs(f.lon_deg) <= 90]
    largest = sorted(facing, key=lambda f: -f.size_km)[:3]
    assert [f.name for f in largest] == ["Bailly", "Clavius", "Deslandres"]
    assert all(f.size_km > 200 for f in largest)


@pytest.mark.parametrize(
    ("name", "lat", "lon", "tolerance"),
    [
        ("Mösting A", -3.2, -5.2, 0.05),  # the classical reference crater: 3.2 S, 5.2 W; rounding of the figures
        ("Copernicus", 9.7, -20.0, 0.15),  # Meeus, Astronomical Algorithms (2nd ed.), ch. 53; handbook's own rounding
    ],
)
def test_handbook_positions(name: str, lat: float, lon: float, tolerance: float) -> None:
    assert degrees_apart(named(name), lat, lon) < tolerance


#: Landers as imaged by LROC (NASA/GSFC/ASU): Wagner et al., "Coordinates of anthropogenic features on the Moon",
#: Icarus 283, 92-103 (2017), as repeated in NSSDCA's list of landing sites; good to 12 m. Names beside them are
#: craters or stations at the site; the gazetteer's places are rounded to 0.01 degree (0.3 km).
LANDERS = [
    ("Apollo 11", 0.67416, 23.47314, "Statio Tranquillitatis", 0.01),
    ("Apollo 12", -3.0128, -23.4219, "Surveyor", 0.015),  # the crater beside which it stands
    ("Apollo 14", -3.64589, -17.47194, "Doublet", 0.02),
    ("Apollo 15", 26.13239, 3.63330, "Last", 0.015),
    ("Apollo 16", -8.9734, 15.5011, "Spot", 0.015),
    ("Apollo 17", 20.1911, 30.7723, "Trident", 0.03),
    ("Chang'e 3", 44.1214, -19.5117, "Guang Han Gong", 0.01),
    ("Chang'e 4", -45.4446, 177.5991, "Statio Tianhe", 0.01),  # from memory (LROC, 2019)
    ("Luna 9", 7.08, -64.37, "Planitia Descensus", 0.3),  # from memory (NSSDCA); located to some tens of km only
]


@pytest.mark.parametrize(("lander", "lat", "lon", "name", "tolerance"), LANDERS)
def test_landing_sites(lander: str, lat: float, lon: float, name: str, tolerance: float) -> None:
    assert degrees_apart(named(name), lat, lon) < tolerance, lander


#: From memory (NSSDCA, LROC): inside the crater of that name, or on its outer slope (in radii from its centre).
INSIDE = [
    ("Lunokhod 2", 25.832, 30.922, "Le Monnier", 0.0, 1.0),
    ("Ranger 9", -12.83, -2.37, "Alphonsus", 0.0, 1.0),
    ("Surveyor 1", -2.474, -43.339, "Flamsteed P", 0.0, 1.0),
    ("Surveyor 7", -40.98, -11.51, "Tycho", 1.0, 2.0),  # on the ejecta north of the rim
]


@pytest.mark.parametrize(("craft", "lat", "lon", "name", "least", "most"), INSIDE)
def test_craft_in_craters(craft: str, lat: float, lon: float, name: str, least: float, most: float) -> None:
    crater = named(name)
    radii = np.radians(degrees_apart(crater, lat, lon)) * MOON_RADIUS_KM / (crater.size_km / 2)
    assert least <= radii <= most, craft


def test_lettered_features_know_their_parents() -> None:
    by_name = {f.name: f for f in all_features()}
    counted = Counter(f.parent for f in all_features() if f.parent)
    assert all(by_name[parent].satellites == n for parent, n in counted.items())
    assert sum(f.satellites for f in all_features()) == 7066
    assert named("Copernicus A").parent == "Copernicus"
    assert named("Pico B").parent == "Mons Pico"
    assert named("Gerard Q Inner").parent == "Gerard"
    # a lettered crater lies near what it is named after: an error of name or sign would throw it across the Moon
    far = [f.name for f in all_features() if f.parent
           and degrees_apart(by_name[f.parent], f.lat_deg, f.lon_deg) > 15]  # fmt: skip
    assert far == []


def test_arrays_follow_the_records_and_are_read_only() -> None:
    arrays = feature_arrays()
    assert len(arrays) == len(all_features())
    for i in range(0, len(arrays), 501):
        f = all_features()[i]
        assert (arrays.lat_deg[i], arrays.lon_deg[i], arrays.size_km[i]) == (f.lat_deg, f.lon_deg, f.size_km)
        assert KINDS[arrays.kind[i]] == f.kind
        assert arrays.lettered[i] == (f.parent is not None)
    with pytest.raises(ValueError, match="read-only"):
        arrays.lat_deg[0] = 0.0
    craters = arrays.take(arrays.is_kind("crater"))
    assert len(craters) == 8709
    assert craters.is_kind("crater").all()


def test_derived_columns_rank_as_observers_say() -> None:
    """Common practice: these are the great ray systems, the brightest and the darkest craters of the near side."""
    arrays = feature_arrays()
    facing = np.cos(np.radians(arrays.lat_deg)) * np.cos(np.radians(arrays.lon_deg)) > 0.3
    chosen = np.flatnonzero(facing & arrays.is_kind("crater") & ~arrays.lettered & (arrays.size_km > 25))

    def first(values: np.ndarray, n: int) -> set[str]:
        return {all_features()[i].name for i in chosen[np.argsort(-values[chosen], kind="stable")][:n]}

    assert {"Tycho", "Copernicus", "Kepler", "Proclus", "Aristarchus"} <= first(arrays.rays, 8)
    assert "Aristarchus" in first(arrays.tone, 1)
    assert {"Grimaldi", "Plato"} <= first(-arrays.tone, 4)
    assert named("Theophilus").size_km > 90
    index = [f.name for f in all_features()].index("Theophilus")
    assert 3.0 < arrays.relief_km[index] < 5.0  # some 4 km deep (common practice)


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("mosting a", "Mösting A"), ("IMBRIUM", "Mare Imbrium"), ("Sea of Rains", "Mare Imbrium"), ("plato", "Plato"),
        ("Bel\u2019kovich", "Bel'kovich"), ("belkovich", "Bel'kovich"), ("straight wall", "Rupes Recta"),
        ("  vallis   schroteri ", "Vallis Schröteri"), ("Apenninus", "Montes Apenninus"),
    ],
)  # fmt: skip
def test_find_is_tolerant(asked: str, name: str) -> None:
    assert named(asked).name == name


def test_find_never_guesses() -> None:
    several = find("Alpes")
    assert isinstance(several, NotFound)
    assert "Montes Alpes" in several.reason
    assert "Vallis Alpes" in several.reason
    typing_error = find("Tyco")
    assert isinstance(typing_error, NotFound)
    assert "Tycho" in typing_error.advice
    assert not find("")
    assert not find("qqqq")


def test_the_package_file_is_compact_and_records_its_inputs() -> None:
    raw = TABLE.read_bytes()
    assert len(raw) < 450_000
    assert len(re.findall(r"SHA-256 [0-9a-f]{64}$", raw[:2000].decode(), flags=re.M)) == 3


def test_the_builder_gives_the_committed_file(monkeypatch: pytest.MonkeyPatch) -> None:
    shared = Path(os.environ.get("MOONDESK_SHARED", ROOT.parent / "shared")) / "lunar_data"
    inputs = [shared / n for n in ("iau_lunar_nomenclature.csv", "albedo_clementine_registered_filled_2700x1350.png",
                                   "lola_dem_global.tif")]  # fmt: skip
    if not all(p.exists() for p in inputs):
        pytest.skip(f"the source data are not at {shared} (set MOONDESK_SHARED)")
    monkeypatch.syspath_prepend(str(ROOT / "tests" / "builders"))
    builder = importlib.import_module("build_catalogue")
    assert builder.build(*(p.read_bytes() for p in inputs)).encode("utf-8") == TABLE.read_bytes()
