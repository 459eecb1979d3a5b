"""Where spacecraft have landed on the near side: agencies' coordinates.

To a hundredth of a degree (300 m), mean-Earth frame. Up to Luna 24 and for Chang'e 3: LROC's (R. V. Wagner et al.,
"Coordinates of anthropogenic features on the Moon", Icarus 283, 2017), as NASA's NSSDC lists them; Luna 9 and 13, which
no picture has found, from tracking (NSSDC), to half a degree. Chang'e 5: CNSA and LROC; Chandrayaan-3: ISRO; SLIM:
JAXA. (Rounded, from memory, the Apollo sites compared with NSSDC's list.)
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, kw_only=True)
class Site:
    """A soft landing: where (degrees, mean-Earth frame, longitude east positive) and on which day (UTC)."""

    mission: str
    lat_deg: float
    lon_deg: float
    day: date
    #: The feature in which it lies, or near which, as NSSDC and the agencies name it.
    region: str
    inside: bool = True
    crewed: bool = False
    #: Half the width within which it lies, degrees.
    within_deg: float = 0.01


SITES: tuple[Site, ...] = (
    Site(
        mission="Luna 9", lat_deg=7.1, lon_deg=-64.4, day=date(1966, 2, 3), region="Oceanus Procellarum", within_deg=0.5
    ),
    Site(mission="Surveyor 1", lat_deg=-2.47, lon_deg=-43.34, day=date(1966, 6, 2), region="Oceanus Procellarum"),
    Site(
        mission="Luna 13",
        lat_deg=18.9,
        lon_deg=-62.1,
        day=date(1966, 12, 24),
        region="Oceanus Procellarum",
        within_deg=0.5,
    ),
    Site(mission="Surveyor 3", lat_deg=-3.02, lon_deg=-23.42, day=date(1967, 4, 20), region="Oceanus Procellarum"),
    Site(mission="Surveyor 5", lat_deg=1.46, lon_deg=23.19, day=date(1967, 9, 11), region="Mare Tranquillitatis"),
    Site(mission="Surveyor 6", lat_deg=0.47, lon_deg=-1.43, day=date(1967, 11, 10), region="Sinus Medii"),
    Site(mission="Surveyor 7", lat_deg=-40.98, lon_deg=-11.51, day=date(1968, 1, 10), region="Tycho", inside=False),
    Site(
        mission="Apollo 11",
        lat_deg=0.67,
        lon_deg=23.47,
        day=date(1969, 7, 20),
        region="Mare Tranquillitatis",
        crewed=True,
    ),
    Site(
        mission="Apollo 12",
        lat_deg=-3.01,
        lon_deg=-23.42,
        day=date(1969, 11, 19),
        region="Oceanus Procellarum",
        crewed=True,
    ),
    Site(mission="Luna 16", lat_deg=-0.51, lon_deg=56.36, day=date(1970, 9, 20), region="Mare Fecunditatis"),
    Site(mission="Luna 17", lat_deg=38.24, lon_deg=-35.00, day=date(1970, 11, 17), region="Mare Imbrium"),
    Site(
        mission="Apollo 14",
        lat_deg=-3.65,
        lon_deg=-17.47,
        day=date(1971, 2, 5),
        region="Fra Mauro",
        inside=False,
        crewed=True,
    ),
    Site(
        mission="Apollo 15",
        lat_deg=26.13,
        lon_deg=3.63,
        day=date(1971, 7, 30),
        region="Palus Putredinis",
        inside=False,
        crewed=True,
    ),
    Site(mission="Luna 20", lat_deg=3.79, lon_deg=56.62, day=date(1972, 2, 21), region="Apollonius", inside=False),
    Site(
        mission="Apollo 16",
        lat_deg=-8.97,
        lon_deg=15.50,
        day=date(1972, 4, 21),
        region="Descartes",
        inside=False,
        crewed=True,
    ),
    Site(
        mission="Apollo 17",
        lat_deg=20.19,
        lon_deg=30.77,
        day=date(1972, 12, 11),
        region="Littrow",
        inside=False,
        crewed=True,
    ),
    Site(mission="Luna 21", lat_deg=26.00, lon_deg=30.41, day=date(1973, 1, 15), region="Le Monnier"),
    Site(mission="Luna 23", lat_deg=12.67, lon_deg=62.15, day=date(1974, 11, 6), region="Mare Crisium"),
    Site(mission="Luna 24", lat_deg=12.71, lon_deg=62.21, day=date(1976, 8, 18), region="Mare Crisium"),
    Site(mission="Chang'e 3", lat_deg=44.12, lon_deg=-19.51, day=date(2013, 12, 14), region="Mare Imbrium"),
    Site(mission="Chang'e 5", lat_deg=43.06, lon_deg=-51.92, day=date(2020, 12, 1), region="Oceanus Procellarum"),
    Site(
        mission="Chandrayaan-3", lat_deg=-69.37, lon_deg=32.32, day=date(2023, 8, 23), region="Manzinus", inside=False
    ),
    Site(mission="SLIM", lat_deg=-13.32, lon_deg=25.25, day=date(2024, 1, 19), region="Theophilus", inside=False),
)
