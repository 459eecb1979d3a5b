"""What a width on the Moon is comparable to on the Earth: distances between well-known cities.

The list is ours: cities that many know, with the latitude and longitude of their centres (WGS 84, to a hundredth
of a degree; general atlas figures, from memory), paired so that some pair lies near any width from 25 to 2,800 km. The
distances are great circles on the Earth's mean radius. No pair is named as a comparison unless it comes as near as
`NEAR` asks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from moondesk.moon.geometry import unit_vector

#: IUGG mean radius of the Earth, km (Moritz, Geodetic Reference System 1980).
EARTH_RADIUS_KM = 6371.0088
#: Latitude north, longitude east, degrees.
CITIES: dict[str, tuple[float, float]] = {
    "Copenhagen": (55.68, 12.57), "Malmö": (55.61, 13.00), "Vienna": (48.21, 16.37), "Bratislava": (48.15, 17.11),
    "Brussels": (50.85, 4.35), "Antwerp": (51.22, 4.40), "Rotterdam": (51.92, 4.48), "Amsterdam": (52.37, 4.90),
    "Washington": (38.91, -77.04), "Baltimore": (39.29, -76.61), "Tokyo": (35.68, 139.77),
    "Helsinki": (60.17, 24.94), "Tallinn": (59.44, 24.75), "London": (51.51, -0.13), "Oxford": (51.75, -1.26),
    "Brighton": (50.82, -0.14), "New York": (40.71, -74.01), "Philadelphia": (39.95, -75.17),
    "Edinburgh": (55.95, -3.19), "Glasgow": (55.86, -4.25), "Rome": (41.90, 12.50), "Naples": (40.85, 14.27),
    "Paris": (48.86, 2.35), "Lille": (50.63, 3.06), "Berlin": (52.52, 13.40), "Hamburg": (53.55, 9.99),
    "Prague": (50.08, 14.43), "Munich": (48.14, 11.58), "Venice": (45.44, 12.33), "Milan": (45.46, 9.19),
    "Osaka": (34.69, 135.50), "Lisbon": (38.72, -9.14), "Porto": (41.15, -8.61), "Madrid": (40.42, -3.70),
    "Barcelona": (41.39, 2.17), "Boston": (42.36, -71.06), "Chicago": (41.88, -87.63), "Dublin": (53.35, -6.26),
    "Belfast": (54.60, -5.93), "Zürich": (47.38, 8.54), "Basel": (47.56, 7.59), "Geneva": (46.20, 6.14),
    "Warsaw": (52.23, 21.01), "Oslo": (59.91, 10.75), "Stockholm": (59.33, 18.07), "Budapest": (47.50, 19.04),
    "Istanbul": (41.01, 28.98), "Athens": (37.98, 23.73), "Cairo": (30.04, 31.24), "Alexandria": (31.20, 29.92),
    "Delhi": (28.61, 77.21), "Agra": (27.18, 78.01), "Sydney": (-33.87, 151.21), "Canberra": (-35.28, 149.13),
    "Melbourne": (-37.81, 144.96), "Los Angeles": (34.05, -118.24), "San Francisco": (37.77, -122.42),
    "San Diego": (32.72, -117.16), "Moscow": (55.76, 37.62), "Hong Kong": (22.32, 114.17),
    "Frankfurt": (50.11, 8.68), "Cologne": (50.94, 6.96), "Bonn": (50.73, 7.10), "Montreal": (45.50, -73.57),
    "Mumbai": (19.08, 72.88), "Buenos Aires": (-34.60, -58.38), "Montevideo": (-34.90, -56.16),
    "Pisa": (43.72, 10.40), "Florence": (43.77, 11.25), "Salzburg": (47.80, 13.05), "Saint Petersburg": (59.93, 30.34),
    "Liverpool": (53.41, -2.98), "Manchester": (53.48, -2.24), "Düsseldorf": (51.23, 6.78), "Leipzig": (51.34, 12.37),
    "Dresden": (51.05, 13.74), "Sofia": (42.70, 23.32), "Plovdiv": (42.15, 24.75), "Varna": (43.21, 27.91),
    "Burgas": (42.50, 27.47), "Ruse": (43.85, 25.97), "Pleven": (43.42, 24.62), "Stara Zagora": (42.43, 25.63),
    "Veliko Tarnovo": (43.08, 25.63), "Blagoevgrad": (42.02, 23.10), "Pernik": (42.61, 23.03), "Pazardzhik": (42.19, 24.33),
    "Vratsa": (43.21, 23.55), "Dobrich": (43.57, 27.83), "Skopje": (42.00, 21.43), "Bucharest": (44.43, 26.10),
    "Belgrade": (44.79, 20.45), "Thessaloniki": (40.64, 22.94),
}  # fmt: skip
PAIRS: tuple[tuple[str, str], ...] = (
    ("Copenhagen", "Malmö"), ("Cologne", "Bonn"), ("Brussels", "Antwerp"), ("Vienna", "Bratislava"),
    ("Washington", "Baltimore"), ("Rotterdam", "Amsterdam"), ("Pisa", "Florence"), ("Edinburgh", "Glasgow"),
    ("Zürich", "Basel"), ("London", "Brighton"), ("Helsinki", "Tallinn"), ("London", "Oxford"),
    ("Salzburg", "Munich"), ("New York", "Philadelphia"), ("Dublin", "Belfast"), ("Frankfurt", "Cologne"),
    ("Cairo", "Alexandria"), ("Delhi", "Agra"), ("San Diego", "Los Angeles"), ("Brussels", "Amsterdam"),
    ("Rome", "Naples"), ("Montevideo", "Buenos Aires"), ("Paris", "Lille"), ("Vienna", "Budapest"),
    ("Zürich", "Geneva"), ("Milan", "Venice"), ("Sydney", "Canberra"), ("Vienna", "Prague"), ("Berlin", "Hamburg"),
    ("Lisbon", "Porto"), ("Berlin", "Prague"), ("Munich", "Prague"), ("Boston", "New York"), ("Washington", "New York"),
    ("London", "Paris"), ("Tokyo", "Osaka"), ("Oslo", "Stockholm"), ("Athens", "Istanbul"),
    ("Los Angeles", "San Francisco"), ("Madrid", "Barcelona"), ("Berlin", "Warsaw"), ("Paris", "Geneva"),
    ("Madrid", "Lisbon"), ("Stockholm", "Helsinki"), ("Milan", "Rome"), ("Montreal", "New York"),
    ("Moscow", "Saint Petersburg"), ("Sydney", "Melbourne"), ("Paris", "Barcelona"), ("Paris", "Berlin"),
    ("Vienna", "Paris"), ("Mumbai", "Delhi"), ("Chicago", "New York"), ("Istanbul", "Cairo"), ("London", "Rome"),
    ("London", "Lisbon"), ("Moscow", "Vienna"), ("Paris", "Athens"), ("Moscow", "Paris"), ("Tokyo", "Hong Kong"),
    ("Lisbon", "Berlin"), ("Liverpool", "Manchester"), ("Düsseldorf", "Cologne"), ("Leipzig", "Dresden"),
)  # fmt: skip
#: For viewers who live near them, and for nobody else.
LOCAL_PAIRS: tuple[tuple[str, str], ...] = (
    ("Sofia", "Pernik"), ("Plovdiv", "Pazardzhik"), ("Varna", "Dobrich"), ("Sofia", "Vratsa"), ("Ruse", "Bucharest"),
    ("Stara Zagora", "Veliko Tarnovo"), ("Sofia", "Blagoevgrad"), ("Varna", "Burgas"), ("Ruse", "Veliko Tarnovo"),
    ("Sofia", "Pazardzhik"), ("Pleven", "Ruse"), ("Sofia", "Plovdiv"), ("Stara Zagora", "Burgas"), ("Sofia", "Skopje"),
    ("Sofia", "Veliko Tarnovo"), ("Burgas", "Istanbul"), ("Plovdiv", "Burgas"), ("Sofia", "Thessaloniki"), ("Sofia", "Ruse"),
    ("Plovdiv", "Varna"), ("Sofia", "Bucharest"), ("Sofia", "Belgrade"), ("Sofia", "Burgas"), ("Sofia", "Varna"),
    ("Sofia", "Istanbul"), ("Sofia", "Athens"), ("Sofia", "Budapest"), ("Sofia", "Vienna"), ("Sofia", "Rome"),
    ("Sofia", "Berlin"), ("Sofia", "Paris"),
)  # fmt: skip
#: A pair serves where its distance differs from the width by no more than this share of it; narrower things than this,
#: km, are compared with nothing.
NEAR, LEAST_KM = 0.08, 20.0


@dataclass(frozen=True)
class Comparison:
    """A distance on the Earth: between two cities, km along the ground."""

    here: str
    there: str
    km: float


@cache
def distance_km(here: str, there: str) -> float:
    """Great-circle distance of two cities of the list, km. KeyError for another city."""
    a, b = (unit_vector(*CITIES[name]) for name in (here, there))
    return float(EARTH_RADIUS_KM * np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


@cache
def _distances() -> tuple[Comparison, ...]:
    return tuple(Comparison(a, b, distance_km(a, b)) for a, b in PAIRS)


def comparable(km: float) -> Comparison | None:
    """The distance of the list that is nearest to a width in km; None where none is near, or it is small."""
    if km < LEAST_KM:
        return None
    best = min(_distances(), key=lambda c: abs(np.log(c.km / km)))
    return best if abs(best.km - km) <= NEAR * km else None
