"""Where a sea is: the dark ground round its centre that is nearer to it than to its neighbours.

The gazetteer knows a sea as a circle; the real ones are not round, and the circle of the Ocean of Storms holds half
of the Sea of Rains. A name must stand on the sea's own ground, so ground counts as a sea's where it lies inside the
circle, is dark in the Clementine albedo (cut-off: `DARK`), and no other sea is nearer in units of its own radius.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from moondesk.drawing.style import AREA_KINDS
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import unit_vector
from moondesk.moon.maps import maps, sample
from moondesk.records import MOON_RADIUS_KM, Feature, FloatArray

#: Albedo below which ground is sea, in units of the Moon's mean (seas 0.5..0.8, highlands 0.9..1.5: measured there).
DARK = 0.82
#: Share of the gazetteer's circle that is searched: its figure for the ocean is a length from end to end.
_REACH = {"ocean": 0.72}
#: Latitudes of a sea that is a band, and whose circle holds ground of others: its southern shore runs past Plato (51.6 N),
#: which parts it from the Sea of Rains, and past the Alps (common practice, from memory).
_BANDS = {"Mare Frigoris": (52.0, 66.0)}


@dataclass(frozen=True, eq=False)
class SeaMap:
    """owner: (180, 360) int16, number of the sea that each cell of one degree belongs to, or -1.

    number: of each sea by its name. cells: for each sea, unit vectors (n, 3) of its cells. The grid starts at 90 N,
    180 W.
    """

    owner: NDArray[np.int16]
    number: dict[str, int]
    cells: tuple[FloatArray, ...]

    def owner_at(self, lat_deg: FloatArray, lon_deg: FloatArray) -> NDArray[np.int16]:
        """Number of the sea at coordinates; -1 elsewhere and where a coordinate is nan."""
        bad = np.isnan(lat_deg) | np.isnan(lon_deg)
        row = np.clip(np.floor(90.0 - np.where(bad, 0.0, lat_deg)), 0, 179).astype(np.intp)
        col = np.floor(np.where(bad, 0.0, lon_deg) + 180.0).astype(np.intp) % 360
        return np.where(bad, np.int16(-1), self.owner[row, col])

    def ground_at(self, lat_deg: FloatArray, lon_deg: FloatArray) -> NDArray[np.int16]:
        """The same, but for what lies within a circle beyond its sea's own shores: no name of it may stand there."""
        found = self.owner_at(lat_deg, lon_deg)
        for sea, (south, north) in _BANDS.items():
            found[(found == self.number.get(sea, -2)) & ~((lat_deg > south) & (lat_deg < north))] = -1
        return found


def assign(seas: Sequence[Feature]) -> SeaMap:
    """Shares the Moon's dark ground out among seas and their like (other kinds raise ValueError)."""
    for feature in seas:
        if feature.kind not in AREA_KINDS:
            raise ValueError(f"{feature.name} is a {feature.kind}, not a sea or its like")
    lat = 90.0 - (np.arange(180) + 0.5)
    lon = -180.0 + (np.arange(360) + 0.5)
    lon2, lat2 = np.meshgrid(lon, lat)
    dark = sample(maps().albedo, lat2.astype(np.float32), lon2.astype(np.float32)) < DARK
    vectors = unit_vector(lat2, lon2)
    best = np.full(dark.shape, 1.0)
    owner = np.full(dark.shape, -1, np.int16)
    for k, sea in enumerate(seas):
        reach = _REACH.get(sea.kind, 1.0) * max(sea.size_km, 30.0) / 2 / MOON_RADIUS_KM
        away = np.arccos(np.clip(vectors @ unit_vector(sea.lat_deg, sea.lon_deg), -1, 1)) / reach
        inside = away < 1.0
        # marshes and small lakes can be bright: where hardly a cell is dark, the circle itself is the place
        if dark[inside].sum() > 0.25 * inside.sum():
            inside &= dark
        mine = inside & (away < best)
        best[mine], owner[mine] = away[mine], k
    return SeaMap(owner, {s.name: k for k, s in enumerate(seas)}, tuple(vectors[owner == k] for k in range(len(seas))))


@cache
def sea_map() -> SeaMap:
    """The ground of every sea and its like of the catalogue; made once (50 ms), then kept."""
    return assign([f for f in all_features() if f.kind in AREA_KINDS])
