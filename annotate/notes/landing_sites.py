"""Where spacecraft have landed on the near side: agencies' coordinates.

To a hundredth of a degree (300 m), mean-Earth frame. Up to Luna 24 and for Chang'e 3: LROC's (R. V. Wagner et al.,
"Coordinates of anthropogenic features on the Moon", Icarus 283, 2017), as NASA's NSSDC lists them; Luna 9 and 13, which
no picture has found, from tracking (NSSDC), to half a degree. Chang'e 5: CNSA and LROC; Chandrayaan-3: ISRO; SLIM:
JAXA. (Rounded, from memory, the Apollo sites compared with NSSDC's list.)
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
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
    Site("Luna 9", 7.1, -64.4, date(1966, 2, 3), "Oceanus Procellarum", within_deg=0.5),
    Site("Surveyor 1", -2.47, -43.34, date(1966, 6, 2), "Oceanus Procellarum"),
    Site("Luna 13", 18.9, -62.1, date(1966, 12, 24), "Oceanus Procellarum", within_deg=0.5),
    Site("Surveyor 3", -3.02, -23.42, date(1967, 4, 20), "Oceanus Procellarum"),
    Site("Surveyor 5", 1.46, 23.19, date(1967, 9, 11), "Mare Tranquillitatis"),
    Site("Surveyor 6", 0.47, -1.43, date(1967, 11, 10), "Sinus Medii"),
    Site("Surveyor 7", -40.98, -11.51, date(1968, 1, 10), "Tycho", inside=False),
    Site("Apollo 11", 0.67, 23.47, date(1969, 7, 20), "Mare Tranquillitatis", crewed=True),
    Site("Apollo 12", -3.01, -23.42, date(1969, 11, 19), "Oceanus Procellarum", crewed=True),
    Site("Luna 16", -0.51, 56.36, date(1970, 9, 20), "Mare Fecunditatis"),
    Site("Luna 17", 38.24, -35.00, date(1970, 11, 17), "Mare Imbrium"),
    Site("Apollo 14", -3.65, -17.47, date(1971, 2, 5), "Fra Mauro", inside=False, crewed=True),
    Site("Apollo 15", 26.13, 3.63, date(1971, 7, 30), "Palus Putredinis", inside=False, crewed=True),
    Site("Luna 20", 3.79, 56.62, date(1972, 2, 21), "Apollonius", inside=False),
    Site("Apollo 16", -8.97, 15.50, date(1972, 4, 21), "Descartes", inside=False, crewed=True),
    Site("Apollo 17", 20.19, 30.77, date(1972, 12, 11), "Littrow", inside=False, crewed=True),
    Site("Luna 21", 26.00, 30.41, date(1973, 1, 15), "Le Monnier"),
    Site("Luna 23", 12.67, 62.15, date(1974, 11, 6), "Mare Crisium"),
    Site("Luna 24", 12.71, 62.21, date(1976, 8, 18), "Mare Crisium"),
    Site("Chang'e 3", 44.12, -19.51, date(2013, 12, 14), "Mare Imbrium"),
    Site("Chang'e 5", 43.06, -51.92, date(2020, 12, 1), "Oceanus Procellarum"),
    Site("Chandrayaan-3", -69.37, 32.32, date(2023, 8, 23), "Manzinus", inside=False),
    Site("SLIM", -13.32, 25.25, date(2024, 1, 19), "Theophilus", inside=False),
)
