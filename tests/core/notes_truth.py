"""What the notes' numbers must be, on paths of their own: DE421 through skyfield with NAIF's lunar frame, the catalogue
read as a plain table, spherical trigonometry written out, areas by points thrown at random."""

from __future__ import annotations

import csv
import importlib.util
import math
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import cache
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
MOON_KM = 1737.4
#: The Sun's mean half diameter over the Moon, degrees (959.63 arcsec at 1 au).
HALF_SUN = 0.267


def _module() -> ModuleType:
    pytest.importorskip("skyfield", reason="the comparison needs skyfield")
    spec = importlib.util.spec_from_file_location("reference", ROOT / "tests/builders/build_ephemeris_reference.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    if why := module.missing_files():
        pytest.skip(why)
    return module


class Sky:
    """The Sun over the Moon by DE421."""

    def __init__(self, reference) -> None:
        self.reference = reference
        self.kept: dict[datetime, dict[str, float]] = {}

    def at(self, when: datetime) -> dict[str, float]:
        if when not in self.kept:
            self.kept[when] = self.reference.aspect(when, 0, 0, 0, centre=True)
        return self.kept[when]

    def height(self, when: datetime, lat: float, lon: float) -> float:
        sky = self.at(when)
        return height(lat, lon, sky["sub_solar_lat_deg"], sky["sub_solar_lon_deg"])


@contextmanager
def sky() -> Iterator[Sky]:
    with _module().opened() as reference:
        yield Sky(reference)


def height(lat: float, lon: float, sun_lat: float, sun_lon: float) -> float:
    """The almanacs' formula: sin h = sin b sin b0 + cos b cos b0 cos(l - l0)."""
    b, b0, hour = math.radians(lat), math.radians(sun_lat), math.radians(lon - sun_lon)
    return math.degrees(math.asin(math.sin(b) * math.sin(b0) + math.cos(b) * math.cos(b0) * math.cos(hour)))


@cache
def table() -> dict[str, dict[str, str]]:
    """The catalogue's rows by name."""
    return _plain("annotate/data/features.csv", "name")


@cache
def namesake_rows() -> list[dict[str, str]]:
    lines = (ROOT / "annotate/notes/data/namesakes.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def _plain(path: str, key: str) -> dict[str, dict[str, str]]:
    lines = (ROOT / path).read_text(encoding="utf-8").splitlines()
    return {row[key]: row for row in csv.DictReader(line for line in lines if not line.startswith("#"))}


def kind_of(name: str) -> str:
    return table()[name]["kind"] or "crater"


def rank(name: str) -> int:
    """1 + how many of its kind on the near side are larger."""
    mine = table()[name]
    return 1 + sum((r["kind"] or "crater") == kind_of(name) and not r["parent"] and near(r)
                   and float(r["size_km"]) > float(mine["size_km"]) for r in table().values())  # fmt: skip


def near(row: dict[str, str]) -> bool:
    return math.cos(math.radians(float(row["lat"]))) * math.cos(math.radians(float(row["lon"]))) > 0


SEAS = ("sea", "ocean", "lake", "bay", "marsh", "plain")


@cache
def albedo() -> np.ndarray:
    with Image.open(ROOT / "annotate/data/albedo.png") as image:
        return np.asarray(image.convert("L"), float) / 128.0


@cache
def ground(name: str) -> np.ndarray:
    """(n, 2) latitudes and longitudes thrown at random over a feature's ground, each for the same area: a crater's
    circle; of a sea the dark part of its circle that no other sea is nearer to, in units of their own radii."""
    rng = np.random.default_rng(len(name))
    row, kind = table()[name], kind_of(name)
    lat0, lon0, size = float(row["lat"]), float(row["lon"]), float(row["size_km"])
    if kind != "crater" and kind not in SEAS:
        return np.array([[lat0, lon0]])
    reach = math.degrees(_reach(kind, size))
    count = 40_000 if kind in SEAS else 4_000
    cosine = rng.uniform(math.cos(math.radians(reach)), 1.0, count)
    distance, turn = np.arccos(cosine), rng.uniform(0, 2 * math.pi, count)
    b0 = math.radians(lat0)
    b = np.arcsin(np.clip(math.sin(b0) * np.cos(distance) + math.cos(b0) * np.sin(distance) * np.cos(turn), -1, 1))
    east = np.arctan2(np.sin(turn) * np.sin(distance) * math.cos(b0), np.cos(distance) - math.sin(b0) * np.sin(b))
    lat, lon = np.degrees(b), (lon0 + np.degrees(east) + 180) % 360 - 180
    if kind not in SEAS:
        return np.column_stack([lat, lon])
    grid = albedo()
    i = np.minimum(((90 - lat) / 180 * grid.shape[0]).astype(int), grid.shape[0] - 1)
    j = np.minimum(((lon + 180) / 360 * grid.shape[1]).astype(int), grid.shape[1] - 1)
    dark = grid[i, j] < 0.82
    mine = dark if dark.mean() > 0.25 else np.ones(count, bool)
    own = _away(lat, lon, lat0, lon0) / _reach(kind, size)
    for other, r in table().items():
        if other != name and (r["kind"] or "crater") in SEAS:
            rival = _reach(r["kind"], float(r["size_km"]))
            between = _away(np.array([lat0]), np.array([lon0]), float(r["lat"]), float(r["lon"]))
            if between[0] > rival + _reach(kind, size):
                continue  # no point of this circle lies in that one's
            mine &= _away(lat, lon, float(r["lat"]), float(r["lon"])) / rival >= own
    return np.column_stack([lat, lon])[mine]


def _reach(kind: str, size: float) -> float:
    """Radius of the circle that is searched, radians; the ocean's figure is a length from end to end."""
    return (0.72 if kind == "ocean" else 1.0) * (max(size, 30.0) if kind in SEAS else size) / 2 / MOON_KM


def _away(lat: np.ndarray, lon: np.ndarray, lat0: float, lon0: float) -> np.ndarray:
    """Haversine distance, radians."""
    a = np.sin(np.radians(lat - lat0) / 2) ** 2
    a += np.cos(np.radians(lat)) * math.cos(math.radians(lat0)) * np.sin(np.radians(lon - lon0) / 2) ** 2
    return 2 * np.arcsin(np.sqrt(np.clip(a, 0, 1)))


def lit(points: np.ndarray, sun_lat: float, sun_lon: float, dip: float = 0.0) -> np.ndarray:
    b, b0 = np.radians(points[:, 0]), math.radians(sun_lat)
    sine = np.sin(b) * math.sin(b0) + np.cos(b) * math.cos(b0) * np.cos(np.radians(points[:, 1] - sun_lon))
    return sine > -math.sin(math.radians(HALF_SUN + dip))
