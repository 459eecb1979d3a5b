"""What a presenter would point at first: one number per feature for the light it stands in, from stated rules.

No name decides here. A feature is worth pointing at for its *form*, which a low Sun brings out, or for its *tone*,
which a high Sun brings out; it is seen in proportion to its lit share and to the view; and it is worth pointing at
because people know it.

* Form: size on a logarithmic scale, times relief (depth of a crater, range of heights of a range; 3 km counts in
  full), times how strongly a Sun of height h models it: 1 near the terminator, falling as 1 / (1 + (h / h0)^2).
  Shadow length goes with cot h; h0 by kind: deep craters and mountains keep their shadows longer than ridges and
  rilles a few hundred metres high, which show only beside the terminator (common practice).
* Tone: how much darker or brighter than its surroundings, or how bright its rays, times size, times a weight that
  grows with sin h up to 50 degrees. Seas and their like are seen in every light, and best under a high Sun; they
  count as half dark at least, because a round measure fails on a long one (Mare Frigoris).
* Known: the number of lettered satellites, a stand-in for fame (observers of two centuries lettered around the
  craters they looked at most; 20 count in full), and isolation: a crater with no rival of its size nearby is the one
  that gets found. A lettered feature itself counts 0.35.
* Seen: the square root of the lit share, and foreshortening: below a cosine of 0.6 everything fades towards the limb,
  flat things more slowly.

Form and tone are joined as 1 - (1 - form) (1 - tone). The static inputs (tone, rays, alone, relief) are columns of the
catalogue. Measured: 0.3 ms for 2,000 features. Limits: a sea's size and darkness are taken on its circle, and what
people point at for its story (a landing site) is worth nothing here where nothing can be seen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from moondesk.moon.catalogue import KINDS, FeatureArrays
from moondesk.records import FloatArray, Kind

#: By kind: smallest and fully counted size (km), height h0 at which relief has lost half of its strength (deg), and
#: weights of form and of tone.
_RULES: dict[Kind, tuple[float, float, float, float, float]] = {
    "crater": (12.0, 160.0, 24.0, 1.0, 1.0),
    "sea": (60.0, 900.0, 20.0, 0.0, 1.0),
    "ocean": (60.0, 900.0, 20.0, 0.0, 1.0),
    "lake": (60.0, 900.0, 20.0, 0.0, 0.7),
    "bay": (60.0, 900.0, 20.0, 0.0, 0.9),
    "marsh": (60.0, 900.0, 20.0, 0.0, 0.7),
    "plain": (60.0, 900.0, 20.0, 0.0, 0.7),
    "mountain": (10.0, 160.0, 12.0, 0.8, 0.3),
    "mountain range": (40.0, 500.0, 30.0, 1.0, 0.2),
    "valley": (60.0, 500.0, 16.0, 0.7, 0.0),
    "rille": (60.0, 700.0, 6.0, 0.6, 0.0),
    "ridge": (60.0, 700.0, 5.0, 0.5, 0.0),
    "scarp": (40.0, 400.0, 10.0, 0.8, 0.0),
    "cape": (10.0, 160.0, 12.0, 0.6, 0.0),
    "crater chain": (40.0, 400.0, 8.0, 0.5, 0.0),
    "landing site": (10.0, 160.0, 12.0, 0.5, 0.0),
    "bright patch": (10.0, 160.0, 12.0, 0.0, 1.0),
}
_TABLE = np.array([_RULES[k] for k in KINDS])


def prominence(
    table: FeatureArrays, sun_altitude_deg: ArrayLike, lit_fraction: ArrayLike, cos_view: ArrayLike
) -> FloatArray:
    """0 (nothing to point at) to 1 (the first thing to point at) for each feature of `table`, shape (N,).

    sun_altitude_deg: height of the Sun at the feature's centre. lit_fraction: share of its extent in sunlight, 0..1.
    cos_view: cosine of the emission angle, 1 at the disc's centre; the far side (0 or less) has no prominence.
    All three of shape (N,) or scalars. The scale does not depend on which other features are in the table.
    """
    n = (len(table),)
    sun = np.broadcast_to(np.asarray(sun_altitude_deg, float), n)
    lit = np.clip(np.broadcast_to(np.asarray(lit_fraction, float), n), 0.0, 1.0)
    view = np.clip(np.broadcast_to(np.asarray(cos_view, float), n), 0.0, 1.0)
    least, full, half_height, form_weight, tone_weight = _TABLE[table.kind].T

    size = _log_share(table.size_km, least, full)
    crater = table.is_kind("crater")
    flat = table.is_kind("sea", "ocean", "lake", "bay", "marsh", "plain")

    # Form. Below the horizon a rim may still stand in the light: lit_fraction decides, the height counts as 0.
    high = np.maximum(sun, 0.0)
    modelled = 1.0 / (1.0 + (high / half_height) ** 2)
    sharp = 0.3 + 0.7 * np.clip(table.relief_km / 3.0, 0.0, 1.0)
    form = form_weight * size * sharp * modelled

    # Tone: of the disc, or of the rays, each full where the strongest dozen of craters or seas stand.
    rise = np.clip(np.sin(np.radians(high)) / np.sin(np.radians(50.0)), 0.0, 1.0)
    dark, bright = np.clip(-table.tone / 0.48, 0.0, 1.0), np.clip(table.tone / 0.8, 0.0, 1.0)
    # a patch of highland among seas has a "splash" too: only a bright disc (0.2) makes it one of rays
    splash = np.clip(table.rays / 0.15, 0.0, 1.0) * np.clip(table.tone / 0.2, 0.0, 1.0)
    splash = splash * _log_share(table.size_km, 6.0, 60.0)
    disc = size * np.where(flat, np.maximum(dark, 0.5), np.maximum(dark, bright))
    tone = tone_weight * np.where(flat, disc * (0.7 + 0.3 * rise), np.maximum(disc, splash) * rise)

    fame = np.sqrt(np.clip(table.satellites / 20.0, 0.0, 1.0))
    alone = _log_share(table.alone, 0.5, 4.0)
    known = np.where(crater, 0.45 + 0.3 * fame + 0.25 * alone, 0.9)
    known = np.where(table.lettered, 0.35, known)

    seen = np.sqrt(lit) * np.clip(view / 0.6, 0.0, 1.0) ** np.where(flat, 0.6, 0.9)
    both = 1.0 - (1.0 - form) * (1.0 - tone)
    return np.asarray(both * known * seen, dtype=np.float64)


def _log_share(value: FloatArray, low: ArrayLike, high: ArrayLike) -> FloatArray:
    """Where a value stands between `low` (0) and `high` (1) on a logarithmic scale; 0 for a value of 0 (unknown)."""
    share = np.log(np.maximum(value, 1e-6) / low) / np.log(np.divide(high, low))
    return np.clip(share, 0.0, 1.0)
