"""What an evening's Moon offers to somebody who wants to explain something: its light, its tilt, the named ground in it.

tonight_of(annotation, when, place)  what one placed picture shows
predict_tonight(when, place)         what any picture of that evening could show, for plans ahead
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from types import MappingProxyType

import numpy as np

from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.earth_shadow import EclipseState, eclipse_state
from moondesk.ephemeris.phases import PhasesAround, phases_around
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import disc_to_pixel, sun_altitude_deg, unit_vector
from moondesk.notes.sunlit_ground import is_shown, showing_of
from moondesk.records import Annotation, Aspect, Feature, NotFound, Place, Pose, Status

#: Made out: the chance that a picture shows a feature, at least; as the notes ask of what they speak of.
SEEN = 0.5
#: Ground beside the edge of the light: the Sun at most this high, degrees.
BESIDE_DEG = 12.0
#: Share of the limb inside the frame from which a picture counts as one of the whole disc.
WHOLE = 0.98
#: Of a picture not yet taken: nothing smaller than this, km, nor nearer to the limb than this cosine (15 degrees).
LEAST_KM, LEAST_COS = 20.0, 0.26


@dataclass(frozen=True)
class Ground:
    """A named feature in tonight's light: height of the Sun's centre at its middle, degrees, and the cosine of view."""

    feature: Feature
    sun_deg: float
    cos_view: float


@dataclass(frozen=True, kw_only=True)
class Tonight:
    """One evening's Moon. sky: seen from the place, or from the Earth's centre without one; ground: by name; whole:
    whether the whole disc is in the frame."""

    when: datetime
    place: Place | None
    sky: Aspect
    phases: PhasesAround
    eclipse: EclipseState
    ground: Mapping[str, Ground]
    whole: bool = True

    @property
    def age_days(self) -> float:
        return self.phases.age_days

    @property
    def lit(self) -> float:
        return self.sky.illuminated_fraction

    @cached_property
    def waxing(self) -> bool:
        return self.phases.last.kind in ("new", "first quarter")

    @property
    def edge_lon_deg(self) -> float:
        """Longitude at which the edge of the light crosses the equator on the side that is seen."""
        beside = (self.sky.sub_solar_lon_deg - 90.0, self.sky.sub_solar_lon_deg + 90.0)
        return min((wrap(lon) for lon in beside), key=lambda lon: abs(wrap(lon - self.sky.libration_lon_deg)))

    @property
    def shows_edge(self) -> bool:
        """Whether the edge of the light lies well on the face that is seen, and named ground beside it in the frame."""
        return abs(wrap(self.edge_lon_deg - self.sky.libration_lon_deg)) <= 70.0 and any(
            g.sun_deg <= BESIDE_DEG for g in self.ground.values()
        )

    def first(self, names: Iterable[str], low_deg: float, high_deg: float) -> Ground | None:
        """The first of these that shows with the Sun so high."""
        found = (self.ground[n] for n in names if n in self.ground)
        return next((g for g in found if low_deg <= g.sun_deg <= high_deg), None)

    def every(self, names: Iterable[str], low_deg: float = 0.0, high_deg: float = 90.0) -> tuple[Ground, ...]:
        """All of these that show with the Sun so high, in their order."""
        found = (self.ground[n] for n in names if n in self.ground)
        return tuple(g for g in found if low_deg <= g.sun_deg <= high_deg)

    def from_limb_deg(self, feature: Feature, libration: bool = True) -> float:
        """How far a feature lies inside the limb, degrees of arc on the ground; libration False: with none."""
        at = (self.sky.libration_lat_deg, self.sky.libration_lon_deg) if libration else (0.0, 0.0)
        return 90.0 - arc_deg((feature.lat_deg, feature.lon_deg), at)


def tonight_of(annotation: Annotation, when: datetime, place: Place | None) -> Tonight | NotFound:
    """What a placed picture shows; NotFound where it is not surely placed or shows an eclipse."""
    if annotation.pose is None or not annotation.sure or annotation.status == Status.ECLIPSE:
        return NotFound("idea", annotation.reason or "It is not certain where the Moon lies in this picture.",
                        annotation.advice or "Choose a picture that is placed.")  # fmt: skip
    sky = aspect_at(when, place)
    marks = [m for m in annotation.features if m.feature.parent is None and m.seen >= SEEN]
    shown = showing_of(annotation, marks, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg)
    ground = {s.mark.feature.name: Ground(s.mark.feature, s.sun_deg, s.mark.cos_view) for s in shown if is_shown(s)}
    return replace(_tonight(when, place, sky, ground), whole=_is_whole(annotation, annotation.pose))


def predict_tonight(when: datetime, place: Place | None) -> Tonight:
    """What a good picture of the whole Moon could show then."""
    sky = aspect_at(when, place)
    features = [f for f in all_features() if f.parent is None and f.size_km >= LEAST_KM]
    lat, lon = [f.lat_deg for f in features], [f.lon_deg for f in features]
    sun = sun_altitude_deg(lat, lon, sky.sub_solar_lat_deg, sky.sub_solar_lon_deg)
    view = unit_vector(lat, lon) @ unit_vector(sky.libration_lat_deg, sky.libration_lon_deg)
    ground = {f.name: Ground(f, float(s), float(v)) for f, s, v in zip(features, sun, view, strict=True)
              if s > 0.0 and v >= LEAST_COS}  # fmt: skip
    return _tonight(when, place, sky, ground)


def _tonight(when: datetime, place: Place | None, sky: Aspect, ground: dict[str, Ground]) -> Tonight:
    return Tonight(when=when, place=place, sky=sky, phases=phases_around(when), eclipse=eclipse_state(when),
                   ground=MappingProxyType(ground))  # fmt: skip


def _is_whole(annotation: Annotation, pose: Pose) -> bool:
    around = np.linspace(0.0, 2.0 * np.pi, 181)
    x, y = disc_to_pixel(pose, np.cos(around), np.sin(around))
    inside = (x >= 0) & (y >= 0) & (x <= annotation.width - 1) & (y <= annotation.height - 1)
    return bool(inside.mean() >= WHOLE)


def arc_deg(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Angle between two places, each latitude and longitude, degrees."""
    a, b = unit_vector(*one), unit_vector(*other)
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


def wrap(degrees: float) -> float:
    """An angle in -180..180."""
    return (degrees + 180.0) % 360.0 - 180.0
