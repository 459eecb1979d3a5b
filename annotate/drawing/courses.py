"""Which way the long features run: a few points (latitude, longitude) along each, degrees.

The gazetteer gives a centre and a length but no direction, and a name set across a mountain range is read as the name
of something else. The points are set down from memory of the features' places and then held against outside figures
(tests: the gazetteer's own centre and length; for the ranges also the LOLA relief, which must stand higher on the
course than beside it). They serve the lettering alone; nothing is measured from them. A feature that is not listed
gets a level name beside its centre.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from moondesk.moon.geometry import unit_vector
from moondesk.records import FloatArray

Course = tuple[tuple[float, float], ...]

COURSES: MappingProxyType[str, Course] = MappingProxyType(
    {
        "Montes Apenninus": ((14.8, -9.5), (17.3, -6.3), (19.6, -3.0), (21.8, 0.4), (24.2, 2.8), (27.2, 4.6)),
        "Montes Caucasus": ((31.8, 8.0), (35.5, 9.0), (39.0, 10.2), (43.5, 11.0)),
        "Montes Alpes": ((43.2, 2.2), (45.6, 1.4), (48.4, -0.8), (50.6, -5.2)),
        "Montes Jura": ((42.0, -38.6), (45.8, -38.2), (48.4, -34.5), (49.0, -30.5), (47.8, -26.8)),
        "Montes Carpatus": ((15.0, -18.6), (14.6, -22.0), (14.4, -25.2), (14.9, -28.8)),
        "Montes Haemus": ((20.6, 7.6), (18.6, 10.2), (16.8, 12.9), (14.9, 15.8)),
        "Montes Pyrenaeus": ((-10.2, 41.2), (-13.8, 41.6), (-18.0, 41.6)),
        "Montes Riphaeus": ((-5.2, -27.0), (-7.6, -27.8), (-10.0, -28.2)),
        "Montes Recti": ((48.2, -21.6), (48.4, -17.9)),
        "Montes Teneriffe": ((47.4, -14.8), (48.4, -11.6)),
        "Montes Spitzbergen": ((33.6, -5.3), (35.4, -5.1)),
        "Vallis Alpes": ((48.1, 0.6), (50.3, 6.7)),
        "Vallis Rheita": ((-37.8, 46.9), (-42.5, 51.6), (-47.4, 57.6)),
        "Vallis Snellius": ((-25.6, 50.4), (-31.0, 57.6), (-35.6, 65.6)),
        "Rupes Altai": ((-18.4, 22.2), (-22.4, 21.9), (-25.6, 23.6), (-28.4, 27.4)),
        "Rupes Recta": ((-20.0, -7.2), (-23.4, -8.2)),
        "Rupes Cauchy": ((10.6, 34.9), (8.0, 39.2)),
        "Rima Ariadaeus": ((7.2, 9.8), (5.6, 17.2)),
        "Rima Hyginus": ((9.0, 4.2), (7.8, 6.3), (6.6, 9.6)),
        "Rima Hesiodus": ((-29.6, -18.0), (-31.4, -25.6)),
        "Rimae Sirsalis": ((-9.6, -58.6), (-15.0, -61.4), (-20.8, -64.2)),
    }
)


@cache
def course_vectors(name: str, step_deg: float = 0.5) -> FloatArray | None:
    """Unit vectors (n, 3) along a feature's course, evenly close together; None where no course is known."""
    points = COURSES.get(name)
    if points is None:
        return None
    knots = unit_vector([p[0] for p in points], [p[1] for p in points])
    pieces = [knots[:1]]
    for a, b in pairwise(knots):
        n = max(int(np.degrees(np.arccos(np.clip(a @ b, -1, 1))) / step_deg), 1)
        s = np.arange(1, n + 1)[:, None] / n
        mixed = a + s * (b - a)
        pieces.append(mixed / np.linalg.norm(mixed, axis=1, keepdims=True))
    course = np.concatenate(pieces)
    course.setflags(write=False)
    return course
