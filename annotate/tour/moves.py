"""The way from one camera to another: eased, the short way round, a mirrored picture turned over before the eye."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing.frame import Format
from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, unit_vector
from moondesk.records import Feature, FloatArray, Pose
from moondesk.tour.camera import Camera, locate

#: Half the frame's shorter side, less a margin: how far from its middle what is looked at may be on the way.
_IN_SIGHT = 0.42
#: Places of the disc that a matrix goes by, along either axis, radii.
_ACROSS = np.linspace(-0.96, 0.96, 9)

#: (a, b, c, d, e, f) of an affine map as style sheets write it: (x, y) goes to (a x + c y + e, b x + d y + f).
Matrix = tuple[float, float, float, float, float, float]


def ease(t: float) -> float:
    """Share of the way after a share of the time: at rest at both ends, in speed and in acceleration (the quintic of
    least jerk, T. Flash and N. Hogan, Journal of Neuroscience 5, 1985; its acceleration is at most 5.78 ways a time
    squared).

    >>> ease(0.0), ease(0.5), ease(1.0)
    (0.0, 0.5, 1.0)
    """
    t = min(max(t, 0.0), 1.0)
    return t * t * t * (t * (6.0 * t - 15.0) + 10.0)


@dataclass(frozen=True, kw_only=True)
class Move:
    """From one camera to another. About what it turns, disc coordinates: what is looked at before and after, the
    middle where nothing is."""

    start: Camera
    end: Camera
    format: Format
    start_at: tuple[float, float] = (0.0, 0.0)
    end_at: tuple[float, float] = (0.0, 0.0)

    @property
    def flips(self) -> bool:
        """Whether the picture is turned over on the way."""
        return self.start.hand * self.end.hand < 0.0

    def at(self, t: float) -> Camera:
        """The camera after a share of the time, 0..1: at the ends exactly those it leads from and to."""
        if t <= 0.0:
            return self.start
        if t >= 1.0:
            return self.end
        e, a, b = ease(t), self.start, self.end
        turn = (b.north_screen_deg - a.north_screen_deg + 180.0) % 360.0 - 180.0
        turned = replace(
            a,
            radius_px=self._radius(e),
            north_screen_deg=(a.north_screen_deg + e * turn) % 360.0,
            hand=_hand(a.hand, b.hand, e),
            lens=a.lens + e * (b.lens - a.lens),
        )
        # what is looked at runs straight over the frame, so it never leaves it; all else lies round that
        (u, v), (x, y) = self._anchor(e)
        at_x, at_y = turned.point(u, v)
        return replace(turned, x=turned.x + float(x - at_x), y=turned.y + float(y - at_y))

    def _anchor(self, e: float) -> tuple[FloatArray, FloatArray]:
        """What is looked at, on the disc and in the frame."""
        ends = [
            np.asarray(camera.point(*np.array(at)))
            for camera, at in ((self.start, self.start_at), (self.end, self.end_at))
        ]
        disc = np.asarray(self.start_at) + e * (np.asarray(self.end_at) - np.asarray(self.start_at))
        return disc, ends[0] + e * (ends[1] - ends[0])

    def _radius(self, e: float) -> float:
        """Even in its logarithm; between two parts far from each other it first draws back until both are in sight."""
        a, b = np.log(self.start.radius_px), np.log(self.end.radius_px)
        apart = float(np.hypot(*np.subtract(self.end_at, self.start_at)))
        seen = np.log(_IN_SIGHT * min(self.format.width, self.format.height) / max(apart / 2, 1e-6))
        dip = float(seen - 0.5 * (a + b)) if min(a, b) > seen else 0.0
        bump = 64.0 * (e * (1.0 - e)) ** 3
        return float(np.exp(a + e * (b - a) + dip * bump))

    def matrix(self, t: float, pose: Pose) -> Matrix:
        """What takes the picture, whose pose it is, from where the first camera shows it to where it is after a share
        of the time."""
        return affine_between(self.start, self.at(t), pose)


def make_move(
    pose: Pose, start: Camera, end: Camera, fmt: Format, before: Feature | None, after: Feature | None
) -> Move:
    """The move between two views of a picture with that pose. before, after: what they are close-ups of, None for the
    whole; then the eye stays on what the other is about."""
    leaves, comes = (None if f is None else _on_disc(pose, f) for f in (before, after))
    middle = (0.0, 0.0)
    return Move(start=start, end=end, format=fmt, start_at=leaves or comes or middle, end_at=comes or leaves or middle)


def _on_disc(pose: Pose, feature: Feature) -> tuple[float, float]:
    """Where a feature's middle lies, radii to lunar east and north."""
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    at = project(unit_vector(feature.lat_deg, feature.lon_deg), axes, pose.distance_radii)
    return float(at.u), float(at.v)


def affine_between(start: Camera, there: Camera, pose: Pose) -> Matrix:
    """What takes the picture, whose pose it is, from one camera's frame to another's; coordinates from the corner of
    the frame's first pixel. Of what a lens bends, as much as an affine map can follow (least squares over the disc)."""
    u, v = (g.ravel() for g in np.meshgrid(_ACROSS, _ACROSS))
    u, v = u[np.hypot(u, v) <= 1.0], v[np.hypot(u, v) <= 1.0]
    px, py = disc_to_pixel(pose, u, v)
    was, now = (np.stack(locate(camera, pose, px, py), axis=1) + 0.5 for camera in (start, there))
    (a, b), (c, d), (e, f) = np.linalg.lstsq(np.column_stack([was, np.ones(len(was))]), now, rcond=None)[0].tolist()
    return a, b, c, d, e, f


def _hand(a: float, b: float, e: float) -> float:
    """Like a coin that is turned over about the Moon's axis, so that its width goes as the cosine of the turn."""
    return a if a == b else float(a * np.cos(np.pi * e)) if a == -b else a + e * (b - a)
