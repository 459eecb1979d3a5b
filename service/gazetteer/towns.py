"""Towns by name: GeoNames' places of 500 people or more, under every name and in every script that it has for them.

The files in `data` (made by `tests.builders.build_towns`) are mapped into memory, not read: a look-up touches some
pages. A name is kept as a hash, so that a stranger's name meets a town's by chance once in 70 million look-ups.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from moondesk.service.gazetteer.devanagari import LISTED
from moondesk.service.gazetteer.sounds import sounds_of
from moondesk.service.lexicons.folding import fold

FOLDER = Path(__file__).parent / "data"
#: Of an entry of names: the low bits are the town's number, the others the hash.
TOWN_BITS = 18
#: Stands before the sounds of a name among the names.
SOUND = "\0"
#: Steps to a degree, in which places are kept: half a kilometre.
LAT_STEPS, LON_STEPS = 360.0, 180.0
TOWN = np.dtype(
    [("lat", "<i2"), ("lon", "<i2"), ("people", "u1"), ("country", "S2"), ("region", "S3"), ("name", "<u4")]
)
_BREAKS = re.compile(r"[\s\-'.·‧・,]+")


@dataclass(frozen=True)
class Town:
    """country: ISO 3166; region: GeoNames' first division (a state, a canton); people: to some percent."""

    name: str
    country: str
    region: str
    latitude_deg: float
    longitude_deg: float
    people: int


def key_of(name: str) -> str:
    """A name as it is looked up: folded, its words parted by single spaces."""
    return _BREAKS.sub(" ", fold(name).text).strip()


def hash_of(key: str) -> int:
    return int.from_bytes(hashlib.blake2b(key.encode(), digest_size=8).digest(), "little") >> TOWN_BITS << TOWN_BITS


def towns_named(name: str) -> tuple[Town, ...]:
    """Towns that bear a name, the largest first; none where no town does."""
    key = key_of(name)
    if len(key) < 2 and key.isascii():
        return ()
    if key in _listed():
        country, *spellings = _listed()[key]
        found = (t for one in spellings for t in _look_up(key_of(one)) if t.country == country)
        return tuple(replace(town, name=spellings[0]) for town in islice(found, 1))
    return _look_up(key)


def is_listed(name: str) -> bool:
    """Whether a name in Devanagari is one of those that are told from sounds alike."""
    return key_of(name) in _listed()


@cache
def _listed() -> Mapping[str, tuple[str, ...]]:
    """A country and Latin spellings, the usual first, by the folded name."""
    made: dict[str, tuple[str, ...]] = {}
    country = "IN"
    for line in LISTED.split("\n"):
        if line.endswith(":"):
            country = line[:-1]
        spelled = [word.replace("_", " ") for word in line.split()]
        latin = [word for word in spelled if word.isascii()]
        made |= {key_of(word): (country, *latin) for word in spelled if not word.isascii()}
    return made


def towns_sounding(name: str) -> tuple[Town, ...]:
    """Towns where Devanagari is written whose name sounds like one that is written in it."""
    if is_listed(name):
        return ()
    return next((found for sound in sounds_of(key_of(name)) if (found := _look_up(SOUND + sound))), ())


def _look_up(key: str) -> tuple[Town, ...]:
    names, towns, _ = _tables()
    first = hash_of(key)
    start, end = np.searchsorted(names, np.array([first, first + (1 << TOWN_BITS)], np.uint64))
    found = [_town(int(n) & ((1 << TOWN_BITS) - 1), towns) for n in names[start:end]]
    return tuple(sorted(found, key=lambda t: -t.people))


def _town(number: int, towns: Any) -> Town:
    row = towns[number]
    blob = _tables()[2]
    end = int(towns[number + 1]["name"]) if number + 1 < len(towns) else len(blob)
    return Town(
        bytes(blob[int(row["name"]) : end]).decode(),
        row["country"].decode(),
        row["region"].decode(),
        round(float(row["lat"]) / LAT_STEPS, 2),
        round(float(row["lon"]) / LON_STEPS, 2),
        round(10 ** (int(row["people"]) / 30.0)),
    )


@cache
def _tables() -> tuple[Any, Any, Any]:
    return (
        np.load(FOLDER / "names.npy", mmap_mode="r"),
        np.load(FOLDER / "towns.npy", mmap_mode="r"),
        np.load(FOLDER / "spellings.npy", mmap_mode="r"),
    )


@cache
def regions() -> Mapping[str, tuple[str, str]]:
    """Country and division by the folded name of a division."""
    made: dict[str, tuple[str, str]] = msgspec.json.decode(
        (FOLDER / "regions.json").read_bytes(), type=dict[str, tuple[str, str]]
    )
    return made
