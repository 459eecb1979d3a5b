"""How a feature ranks by size among those of its kind on the near side, by the IAU's sizes.

Near side: the centre within 90 degrees of the mean sub-Earth point, which is the zero of latitude and longitude.
Lettered satellites and features of unknown size do not count; equal sizes share the better rank.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from moondesk.moon.catalogue import all_features, feature_arrays

#: Further down nobody counts; of fewer than so many of a kind there is no ranking.
LAST, LEAST_MEMBERS = 10, 5
ORDINALS = ("", "", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


@cache
def _ranks() -> dict[str, int]:
    table, names = feature_arrays(), all_features()
    lat, lon = np.radians(table.lat_deg), np.radians(table.lon_deg)
    near = ~table.lettered & (table.size_km > 0) & (np.cos(lat) * np.cos(lon) > 0)
    found: dict[str, int] = {}
    for kind in np.unique(table.kind):
        index = np.flatnonzero(near & (table.kind == kind))
        if len(index) >= LEAST_MEMBERS:
            sizes = table.size_km[index]
            found |= {names[k].name: 1 + int((sizes > table.size_km[k]).sum()) for k in index}
    return found


def rank_of(name: str) -> int | None:
    """1 for the largest of its kind on the near side; None for what is not ranked, or below the tenth."""
    rank = _ranks().get(name)
    return rank if rank is not None and rank <= LAST else None
