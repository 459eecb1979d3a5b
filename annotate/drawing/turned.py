"""The whole picture laid out in another view, turned and with its hand exchanged.

Nothing is resampled: a view is an exact similarity of the picture's pixels, so that one photograph serves them all and
the zoom reaches its own pixels in each. (`upright` makes the copy for air: cropped, lens and refraction undone.)
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing.boxes import BoolArray, Inside
from moondesk.drawing.labelled import OverlayStyle
from moondesk.drawing.sampling import within
from moondesk.drawing.style import base_font_px
from moondesk.records import Annotation, FloatArray, Limb, Pose


@dataclass(frozen=True)
class PictureTurn:
    """A view of a picture of width x height pixels: left and right exchanged first where `flipped`, then turned by
    turn_deg counter-clockwise about its middle; the view's frame is the smallest that holds all of it."""

    width: int
    height: int
    flipped: bool
    turn_deg: float

    @property
    def axes(self) -> tuple[float, float, float, float]:
        """(a, b, c, d): the view's x grows by a per pixel to the right and by c per pixel down, its y by b and by d."""
        t = np.radians(self.turn_deg)
        cos, sin = float(np.cos(t)), float(np.sin(t))
        return (-cos, sin, sin, cos) if self.flipped else (cos, -sin, sin, cos)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the view's frame, px."""
        a, b, c, d = (abs(v) for v in self.axes)
        return (
            int(np.ceil(a * self.width + c * self.height - 1e-6)),
            int(np.ceil(b * self.width + d * self.height - 1e-6)),
        )

    @property
    def matrix(self) -> tuple[float, float, float, float, float, float]:
        """(a, b, c, d, e, f) from the picture's pixels (x, y) to the view's: (a x + c y + e, b x + d y + f)."""
        a, b, c, d = self.axes
        (w, h), x, y = self.size, (self.width - 1) / 2, (self.height - 1) / 2
        return a, b, c, d, (w - 1) / 2 - a * x - c * y, (h - 1) / 2 - b * x - d * y

    def point(self, x: float, y: float) -> tuple[float, float]:
        """The picture's pixel in the view."""
        a, b, c, d, e, f = self.matrix
        return a * x + c * y + e, b * x + d * y + f

    def angle(self, screen_deg: float) -> float:
        """A screen angle of the picture in the view, 0..360."""
        return (self.turn_deg - screen_deg if self.flipped else self.turn_deg + screen_deg) % 360.0

    def inside(self) -> Inside:
        """Which pixels of the view are picture."""
        a, b, c, d, e, f = self.matrix
        return _inside(np.linalg.inv(np.array([[a, c], [b, d]])), (e, f), self.width, self.height)


def turn_for(annotation: Annotation, north_screen_deg: float) -> PictureTurn:
    """The view in which the Moon is as the eye sees it, not mirrored, with its north at that screen angle.

    ValueError for an annotation without a pose.
    """
    pose = annotation.pose
    if pose is None:
        raise ValueError("only a placed picture can be turned by the Moon's north")
    own = -pose.north_screen_deg if pose.mirrored else pose.north_screen_deg
    return PictureTurn(annotation.width, annotation.height, pose.mirrored, (north_screen_deg - own) % 360.0)


def style_for(annotation: Annotation, turn: PictureTurn, style: OverlayStyle | None = None) -> OverlayStyle:
    """The style with text as large on the Moon as in the picture itself, though the view's frame is larger."""
    style = style or OverlayStyle()
    disc = annotation.pose or annotation.limb
    if disc is None:
        return style
    own = base_font_px(annotation.width, annotation.height, disc.radius_px)
    scale = style.labels.text_scale * own / base_font_px(*turn.size, disc.radius_px)
    return replace(style, labels=replace(style.labels, text_scale=min(max(scale, 0.3), 4.0)))


def annotate_turned(annotation: Annotation, turn: PictureTurn) -> Annotation:
    """The annotation in the view's pixels; uncertainties of the pose are left out. It is drawn with `turn.inside()` and
    the style of `style_for`."""
    width, height = turn.size
    pose = None if annotation.pose is None else _turn_pose(annotation.pose, turn)
    marks = tuple(replace(m, x=x, y=y) for m in annotation.features for x, y in [turn.point(m.x, m.y)])
    stop = annotation.field_stop
    if stop is not None:
        x, y = turn.point(stop.x, stop.y)
        stop = replace(stop, x=x, y=y)
    limb = None if annotation.limb is None else _turn_limb(annotation.limb, turn)
    return replace(
        annotation, width=width, height=height, pose=pose, limb=limb, features=marks, field_stop=stop, photograph=None
    )


def _turn_pose(pose: Pose, turn: PictureTurn) -> Pose:
    (x, y), (axis_x, axis_y) = turn.point(pose.x, pose.y), turn.point(pose.axis_x, pose.axis_y)
    return replace(
        pose,
        x=x,
        y=y,
        north_screen_deg=turn.angle(pose.north_screen_deg),
        mirrored=pose.mirrored is not turn.flipped,
        flattening_screen_deg=turn.angle(pose.flattening_screen_deg) % 180.0,
        tilt_screen_deg=turn.angle(pose.tilt_screen_deg) % 360.0,
        tangential_screen_deg=turn.angle(pose.tangential_screen_deg) % 360.0,
        axis_x=axis_x,
        axis_y=axis_y,
        parameters=(),
        covariance=(),
    )


def _turn_limb(limb: Limb, turn: PictureTurn) -> Limb:
    x, y = turn.point(limb.x, limb.y)
    return replace(limb, x=x, y=y, covariance=())


def _inside(
    back: FloatArray, origin: tuple[float, float], width: int, height: int
) -> Callable[[FloatArray, FloatArray], BoolArray]:
    def inside(x: FloatArray, y: FloatArray) -> BoolArray:
        dx, dy = x - origin[0], y - origin[1]
        px, py = back[0, 0] * dx + back[0, 1] * dy, back[1, 0] * dx + back[1, 1] * dy
        return within(px, py, width, height)  # half a pixel of grace for the turn's rounding

    return inside
