"""What a layer of a frame is given, and what it gives: `broadcast.LAYERS` holds one row for each.

A layer first plans, in the order of `claims`: it may take room that stands fast, and ask for names. When all names have
their places it draws, in the order of revealing; no line of a layer runs over letters.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import cv2
import numpy as np

from moondesk.drawing.blocks import Align, Block, box_at, is_leftward
from moondesk.drawing.boundary import Point, Spot
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.composition import Composition
from moondesk.drawing.curves import stretches
from moondesk.drawing.frame import Format, FrameRequest, TextBox
from moondesk.drawing.labels import whole_frame
from moondesk.drawing.shapes import Path, Shape
from moondesk.drawing.theme import Theme
from moondesk.records import Annotation, ByteArray, FloatArray, NotFound, Pose

#: From the words at a frame's foot to the edge of their ground; from a line to a name that a line of the Moon's own
#: leaves free, pixels at 1080 lines.
ZONE_ABOVE, LEADER_FREE = 34.0, 12.0
#: Points of a line that is cut lie so far apart at most.
_STEP = 3.0


@dataclass(frozen=True, eq=False, kw_only=True)
class NameRequest:
    """A name that wants a place. spots: what it may point at, the best first; beside: set for a place beside that on
    the Moon, block: for a column; sea: the name of the sea that it may stand in, set by `inside`; course: points along
    what is drawn of a long feature, which its name keeps off; ring: outline of what is drawn of a crater."""

    key: str
    block: Block
    beside: Block
    spots: tuple[Spot, ...]
    colour: str
    must: bool = False
    sea: str = ""
    inside: tuple[Block, ...] = ()
    course: tuple[Point, ...] = ()
    ring: tuple[Point, ...] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class PlacedName:
    """Where a name stands: at (x, y) by its end or middle, with the line that leads to its spot, if one does."""

    block: Block
    x: float
    y: float
    align: Align
    spot: Spot
    line: tuple[Point, ...] = ()

    @property
    def box(self) -> TurnedBox:
        return box_at(self.block, self.x, self.y, self.align)


@dataclass(frozen=True, eq=False, kw_only=True)
class Stage:
    """A frame as its layers find it. words: by key, in the programme's language; fixed: boxes that are taken already;
    requests: names that are asked for already; keys: lines of the key that stand already; black: the sky round the Moon
    is the frame's own black."""

    rgb: ByteArray
    annotation: Annotation
    wanted: FrameRequest
    found: Composition
    words: Mapping[str, str]
    black: bool = False
    fixed: tuple[TurnedBox, ...] = ()
    requests: tuple[NameRequest, ...] = ()
    keys: int = 0

    @property
    def format(self) -> Format:
        return self.wanted.format

    @property
    def theme(self) -> Theme:
        return self.wanted.theme

    @property
    def leftward(self) -> bool:
        """Whether the credit is written from right to left: it stands at the right then, key and scale at the left."""
        return self.found.credit is not None and is_leftward(self.found.credit)

    @property
    def zone(self) -> TurnedBox | None:
        """The frame's foot with credit, key and scale, where they stand over the Moon: a ground of their own lies under
        them, and nothing else is drawn there. None where they stand on the sky, black or with the credit on a plate."""
        fmt = self.format
        if self.found.pose is None or self.found.whole:
            return None
        tops = [box.y0 for box in self.fixed if box.y0 > 0.6 * fmt.height]
        return TurnedBox(0.0, min(tops) - ZONE_ABOVE * fmt.unit, fmt.width, fmt.height) if tops else None

    @property
    def taken(self) -> tuple[TurnedBox, ...]:
        """What stands fast, and the frame's foot where that is a ground of its own."""
        zone = self.zone
        return self.fixed if zone is None else (*self.fixed, zone)

    @property
    def pose(self) -> Pose:
        """Of the Moon in the frame; layers that want one are asked only where there is one."""
        if self.found.pose is None:
            raise ValueError("this picture is not placed")
        return self.found.pose

    def inside(self, x: FloatArray, y: FloatArray) -> np.ndarray:
        """Which pixels of the frame show something: the picture has them, and they lie in the eyepiece's field."""
        px, py, _ = self.found.lookup(np.asarray(x, float), np.asarray(y, float))
        return whole_frame(self.annotation.width, self.annotation.height, self.annotation.field_stop)(px, py)

    def free(self, x: float, y: float) -> bool:
        """Whether a point of the frame is picture and under no plate."""
        framed = 0 < x < self.format.width and 0 < y < self.format.height
        shown = framed and bool(self.inside(np.array([x]), np.array([y]))[0])
        return shown and not any(b.around(x, y) for b in self.taken)


@dataclass(frozen=True, eq=False, kw_only=True)
class DrawnLayer:
    """A layer as it is drawn. name: where it is not the row's own."""

    title: str
    shapes: tuple[Shape, ...]
    texts: tuple[TextBox, ...] = ()
    name: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Placed:
    """Where the names stand that found room, by key; left_out: what of that which was asked for is not shown (layers add
    to it); taken: of what else no line runs over; zone: the frame's foot, as `Stage.zone`; rings: outlines of
    what the names point at."""

    names: Mapping[str, PlacedName]
    left_out: list[NotFound]
    unit: float = 1.0
    taken: tuple[TurnedBox, ...] = ()
    zone: TurnedBox | None = None
    rings: tuple[tuple[Point, ...], ...] = ()

    def clear(self, shapes: Iterable[Shape], rings: bool = False, leaders: bool = False) -> Iterator[Shape]:
        """Shapes with their lines cut out where they would run over names or what stands fast; if so wished also within
        rings, and where they would meet lines that lead to names."""
        u = self.unit
        boxes = [name.box.grow((10.0 if rings else 4.0) * u) for name in self.names.values()]
        boxes += [box.grow(12.0 * u) for box in self.taken]
        if self.zone is not None:
            boxes.append(replace(self.zone, y1=2.0 * self.zone.y1))
        lines = [name.line for name in self.names.values() if name.line] if leaders else []
        outlines = self.rings if rings else ()
        return (piece for shape in shapes for piece in _without(shape, boxes, outlines, lines, u))


@dataclass(frozen=True, eq=False, kw_only=True)
class Plan:
    """draw: its layers, one for most; boxes: what stands fast; requests: names that are to be placed; keys: lines that
    it adds to the key."""

    draw: Callable[[Placed], Iterable[DrawnLayer]]
    boxes: tuple[TurnedBox, ...] = ()
    requests: tuple[NameRequest, ...] = ()
    keys: int = 0


@dataclass(frozen=True, kw_only=True)
class AirLayer:
    """A kind of layer. plan: None where there is nothing to show; words: the English of those that it writes, by key;
    base: it stands from the start; over_moon: only on a placed picture."""

    kind: str
    claims: int
    plan: Callable[[Stage], Plan | NotFound | None]
    words: Mapping[str, str] = field(default_factory=dict)
    base: bool = False
    over_moon: bool = True


def fixed_plan(
    title: str, shapes: Sequence[Shape], texts: Sequence[TextBox] = (), boxes: Sequence[TurnedBox] = ()
) -> Plan:
    """The plan of a layer that stands where it stands."""
    drawn = DrawnLayer(title=title, shapes=tuple(shapes), texts=tuple(texts))
    return Plan(draw=lambda placed: [drawn], boxes=tuple(boxes))


def _without(
    shape: Shape,
    boxes: Sequence[TurnedBox],
    rings: Sequence[Sequence[Point]],
    leaders: Sequence[Sequence[Point]],
    u: float,
) -> Iterator[Shape]:
    if not isinstance(shape, Path):
        yield shape
        return
    corners = np.asarray((*shape.points, shape.points[0]) if shape.closed else shape.points) + 0.5
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    t = np.union1d(at, np.linspace(0.0, at[-1], max(2, int(at[-1] / (_STEP * u)))))
    x, y = np.interp(t, at, corners[:, 0]), np.interp(t, at, corners[:, 1])
    out = np.ones(len(t), bool)
    for b in boxes:
        out &= ~b.around(x, y)
    for ring in rings:
        outline = np.asarray(ring)
        if TurnedBox(*outline.min(axis=0), *outline.max(axis=0)).around(x, y).any():
            shape_of = np.asarray(outline, np.float32)[:, None]
            out &= [
                cv2.pointPolygonTest(shape_of, (float(a), float(b)), True) < -2 * u for a, b in zip(x, y, strict=True)
            ]
    for line in leaders:
        for (x0, y0), (x1, y1) in pairwise(line):
            dx, dy = x1 - x0, y1 - y0
            s = np.clip(((x - x0) * dx + (y - y0) * dy) / max(dx * dx + dy * dy, 1e-9), 0.0, 1.0)
            out &= np.hypot(x0 + s * dx - x, y0 + s * dy - y) > LEADER_FREE * u
    if out.all():
        yield shape
        return
    points = tuple(zip((x - 0.5).tolist(), (y - 0.5).tolist(), strict=True))
    for start, end in stretches(out):
        if t[end - 1] - t[start] > 2.0 * u:
            yield replace(shape, points=points[start:end], closed=False)
