"""A picture as the claims look at it: where the Sun stands, what somebody means by a name, how much of it shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, sun_altitude_deg
from moondesk.notes.name_lookup import feature_meant
from moondesk.notes.picture_notes import Sun
from moondesk.notes.sunlit_ground import ground_of, sunlit_share
from moondesk.records import Annotation, Feature


class UnheardError(LookupError):
    """A claim names something that is no feature. words: as it was named; near: names of what may be meant."""

    def __init__(self, words: str, near: tuple[str, ...]) -> None:
        super().__init__(words)
        self.words, self.near = words, near


@dataclass(frozen=True)
class NotesView:
    """A placed picture, its time (None: not known) and its Sun."""

    annotation: Annotation
    when: datetime | None
    sun: Sun

    def feature(self, words: str) -> Feature:
        """The feature that is meant. Raises UnheardError."""
        found = feature_meant(words)
        if isinstance(found, tuple):
            raise UnheardError(words, found)
        return found

    def lit(self, feature: Feature, turn_deg: float = 0.0, dip_deg: float = 0.0) -> float:
        """Share of a feature's ground in the light, 0..1, with the Sun turned by so much in longitude, seen over a
        horizon so much lower."""
        return sunlit_share(feature, self.sun.lat_deg, self.sun.lon_deg + turn_deg, dip_deg)

    def height(self, feature: Feature, turn_deg: float = 0.0) -> float:
        """The Sun's height at its middle, degrees."""
        return float(sun_altitude_deg(feature.lat_deg, feature.lon_deg, self.sun.lat_deg, self.sun.lon_deg + turn_deg))

    def framed(self, feature: Feature) -> float:
        """Share of its ground inside the frame and on the side that is seen; 1 where the placement is not sure, for
        then nobody knows better."""
        pose = self.annotation.pose
        if pose is None or not self.annotation.sure:
            return 1.0
        points, weights = ground_of(feature)
        disc = project(points, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
        x, y = disc_to_pixel(pose, disc.u, disc.v)
        width, height = self.annotation.width, self.annotation.height
        inside = (disc.mu > 0) & (x >= -0.5) & (y >= -0.5) & (x < width - 0.5) & (y < height - 0.5)
        return float(weights[inside].sum())

    @property
    def edge_lon_deg(self) -> float | None:
        """Longitude at which the edge of the light crosses the equator on the side that is seen; None where it is
        within ten degrees of the limb there or beyond it."""
        pose = self.annotation.pose
        assert pose is not None
        beside = [wrap_180(self.sun.lon_deg + side - pose.libration_lon_deg) for side in (-90.0, 90.0)]
        best = min(beside, key=abs)
        return wrap_180(best + pose.libration_lon_deg) if abs(best) <= 80.0 else None


def wrap_180(degrees: float) -> float:
    """An angle in -180..180."""
    return (degrees + 180.0) % 360.0 - 180.0
