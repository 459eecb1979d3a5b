"""The named features of the Moon, from the package's own table `data/features.csv` (made by
tests/builders/build_catalogue.py from the IAU/USGS Gazetteer of Planetary Nomenclature; its heading has the details).

Everything here has one order, that of `features()`: alphabetical without accents, lettered satellites included.
"""

from __future__ import annotations

import csv
import difflib
import unicodedata
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TypeVar, get_args

import numpy as np
from numpy.typing import NDArray

from moondesk.records import Feature, FloatArray, Kind, NotFound
from moondesk.sentences import sentence

_T = TypeVar("_T", bound=np.generic)

#: Index of a kind in `FeatureArrays.kind`.
KINDS: tuple[Kind, ...] = get_args(Kind)

#: Latin words before a name that may be left out when asking for it.
_TYPE_WORDS = frozenset({
    "catena", "dorsa", "dorsum", "lacus", "mare", "mons", "mont", "montes", "oceanus", "palus", "planitia",
    "promontorium", "rima", "rimae", "rupes", "sinus", "statio", "vallis",
})  # fmt: skip
#: Apostrophes, primes and the grave accent as people type them in "Bel'kovich".
_APOSTROPHES = "'`\u2018\u2019\u02b9\u02bc\u2032"


@dataclass(frozen=True, eq=False, kw_only=True)
class FeatureArrays:
    """The catalogue as read-only arrays of shape (N,), in the order of `features()`.

    lat_deg, lon_deg: degrees, mean-Earth frame, -180 < longitude <= 180. size_km: diameter or length; 0 where unknown.
    kind: index into `KINDS`. lettered: True for a satellite feature. satellites: number of lettered satellites.
    tone: brighter (+) or darker (-) than its surroundings, as a share of them. rays: brightness of the splash around a
    bright crater, as a share of the mean Moon's, 0 or more. alone: distance to the nearest crater of 0.7 of its size or
    more, in units of its size, 0 (not a crater) to 9.99. relief_km: depth of a crater below its rim; range of heights
    within another feature; too small below 40 km of size, where the height grid is coarse.
    All zero for a feature of unknown size. How they were measured: tests/builders/catalogue_columns.py.
    """

    lat_deg: FloatArray
    lon_deg: FloatArray
    size_km: FloatArray
    kind: NDArray[np.int8]
    lettered: NDArray[np.bool_]
    satellites: FloatArray
    tone: FloatArray
    rays: FloatArray
    alone: FloatArray
    relief_km: FloatArray

    def __len__(self) -> int:
        return len(self.lat_deg)

    def is_kind(self, *kinds: Kind) -> NDArray[np.bool_]:
        """Mask of the features of any of these kinds."""
        return np.isin(self.kind, [KINDS.index(k) for k in kinds])

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> FeatureArrays:
        """The same arrays for some of the features (indices, or a mask of shape (N,))."""
        return FeatureArrays(**{name: _freeze(getattr(self, name)[which]) for name in self.__dataclass_fields__})


def _freeze(array: NDArray[_T]) -> NDArray[_T]:
    array.setflags(write=False)
    return array


@cache
def _rows() -> tuple[dict[str, str], ...]:
    text = (resources.files("moondesk") / "data" / "features.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@cache
def all_features() -> tuple[Feature, ...]:
    """Every feature of the catalogue (some 9,000), in its order. Read once, then kept.

    Source: Gazetteer of Planetary Nomenclature, IAU and USGS, October 2020; planetocentric, mean-Earth frame.

    >>> sum(feature.parent is None and feature.kind == "sea" for feature in all_features())
    22
    """
    known = set(KINDS)
    found = []
    for row in _rows():
        kind = row["kind"] or "crater"
        if kind not in known:
            raise ValueError(f"features.csv: {row['name']} is of the unknown kind {kind!r}; rebuild the table")
        found.append(
            Feature(
                name=row["name"],
                kind=kind,
                lat_deg=float(row["lat"]),
                lon_deg=float(row["lon"]),
                size_km=float(row["size_km"]),
                meaning=row["meaning"] or None,
                parent=row["parent"] or None,
                satellites=int(row["satellites"] or 0),
            )
        )
    return tuple(found)


@cache
def feature_arrays() -> FeatureArrays:
    """The whole catalogue as arrays (N,), in the order of `features()`. Made once, then kept; read-only.

    >>> len(feature_arrays().lat_deg) == len(all_features())
    True
    """
    every, rows = all_features(), _rows()

    def column(name: str, unit: float) -> FloatArray:
        return _freeze(np.array([float(row[name] or 0) for row in rows]) * unit)

    def numbers(value: Callable[[Feature], float]) -> FloatArray:
        return _freeze(np.array([value(f) for f in every], dtype=np.float64))

    return FeatureArrays(
        lat_deg=numbers(lambda f: f.lat_deg),
        lon_deg=numbers(lambda f: f.lon_deg),
        size_km=numbers(lambda f: f.size_km),
        kind=_freeze(np.array([KINDS.index(f.kind) for f in every], dtype=np.int8)),
        lettered=_freeze(np.array([f.parent is not None for f in every])),
        satellites=numbers(lambda f: f.satellites),
        tone=column("tone", 0.01),
        rays=column("rays", 0.01),
        alone=column("alone", 0.01),
        relief_km=column("relief", 0.1),
    )


def fold_name(text: str) -> str:
    """A name for comparing: lower case, no accents, no punctuation, single spaces.

    >>> fold_name("Bel'kovich")
    'belkovich'
    """
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("ø", "o").replace("Ø", "O"))
    kept = "".join(c if c.isalnum() else "" if c in _APOSTROPHES or unicodedata.combining(c) else " " for c in plain)
    return " ".join(kept.casefold().split())


@cache
def _by_name() -> tuple[dict[str, Feature], dict[str, tuple[Feature, ...]]]:
    """Features by their whole name, and by their English meaning or their name without its Latin type."""
    whole: dict[str, Feature] = {}
    loose: dict[str, list[Feature]] = defaultdict(list)
    for f in all_features():
        key = fold_name(f.name)
        whole[key] = f
        first, _, rest = key.partition(" ")
        shorter = {rest} if first in _TYPE_WORDS and rest else set()
        if f.meaning:
            shorter |= {fold_name(f.meaning), fold_name(f.meaning).removeprefix("the ")}
        for short in shorter:
            loose[short].append(f)
    return whole, {key: tuple(found) for key, found in loose.items()}


def find(name: str) -> Feature | NotFound:
    """The feature of that name; case, accents and punctuation do not matter.

    The Latin type may be missing ("Imbrium") and the English meaning will do too ("Sea of Rains"), as long as just
    one feature answers to it. A whole name always wins: "Plato" is the crater, never Rimae Plato.
    Returns: the feature, or a NotFound with what was likely meant.

    >>> find("sea of rains").name
    'Mare Imbrium'
    >>> find("Platoo").advice
    'Did you mean Plato O or Plato?'
    """
    exact = named(name)
    if exact is not None:
        return exact
    key = fold_name(name)
    whole, loose = _by_name()
    found = loose.get(key, ())
    if found:
        names = ", ".join(f.name for f in found)
        return NotFound("catalogue", sentence("several_features", name=name, names=names), sentence("whole_name"))
    near = difflib.get_close_matches(key, [*whole, *loose], n=3, cutoff=0.75)
    likely = list(dict.fromkeys((whole[k] if k in whole else loose[k][0]).name for k in near))
    advice = sentence("did_you_mean", names=" or ".join(likely)) if likely else sentence("latin_name")
    return NotFound("catalogue", sentence("no_feature", name=name), advice)


def named(name: str) -> Feature | None:
    """The feature that `find` gives, or None, without a look for names that are near (which takes a tenth of a second).

    >>> named("Imbrium").name, named("Platoo")
    ('Mare Imbrium', None)
    """
    key = fold_name(name)
    whole, loose = _by_name()
    found = loose.get(key, ())
    return whole.get(key) or (found[0] if len(found) == 1 else None)
