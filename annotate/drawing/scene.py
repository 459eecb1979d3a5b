"""What the placing of names works with: the scene, the ways to set a name, and sets of candidate places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from moondesk.drawing.boxes import RECT_FIELDS, BoolArray, IndexArray, Inside, Rects, segments
from moondesk.drawing.font import text_size
from moondesk.drawing.ground import Ground
from moondesk.drawing.style import AREA_KINDS, LONG_KINDS, kind_scale
from moondesk.records import FeatureMark, FloatArray, Kind, Pose


@dataclass(frozen=True, eq=False, kw_only=True)
class Candidates:
    """n places for the names of several features. owner: index of the feature; layout: index into its layouts."""

    owner: IndexArray
    layout: IndexArray
    box: Rects
    angle_deg: FloatArray
    anchor_x: FloatArray
    anchor_y: FloatArray
    leader: BoolArray
    cost: FloatArray

    def __len__(self) -> int:
        return len(self.owner)

    def take(self, index: IndexArray | BoolArray) -> Candidates:
        return Candidates(
            owner=self.owner[index],
            layout=self.layout[index],
            box=self.box.take(index),
            angle_deg=self.angle_deg[index],
            anchor_x=self.anchor_x[index],
            anchor_y=self.anchor_y[index],
            leader=self.leader[index],
            cost=self.cost[index],
        )

    def leaders(self, thick: float) -> Rects:
        """Leader lines as thin rectangles; those without one shrink to nothing far outside every picture."""
        x, y = nearest_on_box(self.box, self.anchor_x, self.anchor_y)
        far = np.where(self.leader, 0.0, -1e7)
        return segments(
            x + far,
            y + far,
            np.where(self.leader, self.anchor_x, x) + far,
            np.where(self.leader, self.anchor_y, y) + far,
            thick,
        )


@dataclass(frozen=True, kw_only=True)
class Label:
    """A name placed in a picture: where its text box stands and what it points at. Pixels, full resolution."""

    name: str
    text: str
    kind: Kind
    #: Centre of the text box.
    x: float
    y: float
    width_px: float
    height_px: float
    font_px: float
    #: The point of the feature that the label belongs to (a sea: its lit part in the frame).
    anchor_x: float
    anchor_y: float
    #: True where a leader line runs from the box to the anchor.
    leader: bool
    #: Turn of the baseline, degrees counter-clockwise as displayed from level (-90..90).
    angle_deg: float = 0.0


@dataclass(frozen=True)
class Layout:
    """A way to set a name: its text (lines separated by newlines), font size and box, pixels."""

    text: str
    font_px: float
    width_px: float
    height_px: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Scene:
    """What the candidates need of a picture. font_px: ordinary text; inside: which pixels are picture."""

    width: int
    height: int
    pose: Pose
    font_px: float
    inside: Inside
    ground: Ground


def nearest_on_box(box: Rects, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The point of each rectangle that is nearest to (x, y): where a leader line starts."""
    dx, dy = x - box.x, y - box.y
    a = np.clip(dx * box.ux + dy * box.uy, -box.half_w, box.half_w)
    b = np.clip(-dx * box.uy + dy * box.ux, -box.half_h, box.half_h)
    return box.x + a * box.ux - b * box.uy, box.y + a * box.uy + b * box.ux


def layouts_of(mark: FeatureMark, font_px: float, meanings: bool) -> tuple[Layout, ...]:
    """The ways to set a feature's name, the preferred one first."""
    feature = mark.feature
    sizes = [font_px * kind_scale(feature.kind, feature.size_km)]
    texts = [feature.name]
    if feature.kind in AREA_KINDS:
        head, _, tail = feature.name.partition(" ")
        if meanings and feature.meaning:
            texts = [f"{feature.name}\n{feature.meaning}"]
        elif tail:
            texts.append(f"{head}\n{tail}")
        if sizes[0] > font_px:  # a large sea of which little is lit, or little in the frame
            sizes.append(font_px)
    return tuple(Layout(t, size, *text_size(t, size)) for size in sizes for t in texts)


def gather(parts: Sequence[Candidates]) -> Candidates:
    """Several sets of candidates as one."""
    box = Rects(**{n: np.concatenate([np.zeros(0), *(getattr(p.box, n) for p in parts)]) for n in RECT_FIELDS})
    owner, layout, angle, ax, ay, leader, cost = (
        np.concatenate([np.zeros(0), *(getattr(p, name) for p in parts)])
        for name in ("owner", "layout", "angle_deg", "anchor_x", "anchor_y", "leader", "cost")
    )
    return Candidates(
        owner=owner.astype(np.intp),
        layout=layout.astype(np.intp),
        box=box,
        angle_deg=angle,
        anchor_x=ax,
        anchor_y=ay,
        leader=leader.astype(bool),
        cost=cost,
    )


def is_long(mark: FeatureMark) -> bool:
    """True for ranges, valleys, rilles and their like."""
    return mark.feature.kind in LONG_KINDS


def is_area(mark: FeatureMark) -> bool:
    """True for seas and their like."""
    return mark.feature.kind in AREA_KINDS
