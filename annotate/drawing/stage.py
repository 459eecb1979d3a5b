"""What a layer of a frame is given, and what it gives: `broadcast.LAYERS` holds one row for each.

A layer first plans, in the order of `claims`: it may take room that stands fast, and ask for names. When all names have
their places it draws, in the order of revealing; no line of a layer runs over letters.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from moondesk.drawing.blocks import Align, Block, box_at
from moondesk.drawing.boundary import Point, Spot
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.composition import Composition
from moondesk.drawing.curves import stretches
from moondesk.drawing.frame import Format, FrameRequest, TextBox
from moondesk.drawing.labels import whole_frame
from moondesk.drawing.shapes import Path, Shape
from moondesk.drawing.theme import Theme
from moondesk.records import Annotation, ByteArray, FloatArray, NotFound, Pose


@dataclass(frozen=True, eq=False, kw_only=True)
class NameRequest:
    """A name that wants a place. spots: what it may point at, the best first; beside: set for a place beside that on
    the Moon, block: for a column; sea: the name of the sea that it may stand in, set by `inside`."""

    key: str
    block: Block
    beside: Block
    spots: tuple[Spot, ...]
    colour: str
    must: bool = False
    sea: str = ""
    inside: tuple[Block, ...] = ()


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
    requests: names that are asked for already; black: the sky round the Moon is the frame's own black."""

    rgb: ByteArray
    annotation: Annotation
    wanted: FrameRequest
    found: Composition
    words: Mapping[str, str]
    black: bool = False
    fixed: tuple[TurnedBox, ...] = ()
    requests: tuple[NameRequest, ...] = ()

    @property
    def format(self) -> Format:
        return self.wanted.format

    @property
    def theme(self) -> Theme:
        return self.wanted.theme

    @property
    def line(self) -> float:
        """Pixels that a line of width 1 is wide: on the largest frame finer than in proportion, it has twice the
        pixels to show it."""
        return 1.4 if self.format.name == "uhd" else self.format.unit

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
        return shown and not any(b.around(x, y) for b in self.fixed)


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
    to it)."""

    names: Mapping[str, PlacedName]
    left_out: list[NotFound]

    def clear(self, shapes: Iterable[Shape], room: float = 4.0) -> Iterator[Shape]:
        """Shapes with their lines cut out where they would run over names."""
        boxes = [name.box.grow(room) for name in self.names.values()]
        return (piece for shape in shapes for piece in _without(shape, boxes))


@dataclass(frozen=True, eq=False, kw_only=True)
class Plan:
    """draw: its layers, one for most; boxes: what stands fast; requests: names that are to be placed."""

    draw: Callable[[Placed], Iterable[DrawnLayer]]
    boxes: tuple[TurnedBox, ...] = ()
    requests: tuple[NameRequest, ...] = ()


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


def _without(shape: Shape, boxes: Sequence[TurnedBox]) -> Iterator[Shape]:
    if not isinstance(shape, Path):
        yield shape
        return
    points = (*shape.points, shape.points[0]) if shape.closed else shape.points
    if len(points) == 2:
        (x0, y0), (x1, y1) = points
        points = tuple((x0 + t * (x1 - x0), y0 + t * (y1 - y0)) for t in np.linspace(0.0, 1.0, 120).tolist())
    x, y = (np.asarray(points) + 0.5).T
    out = np.ones(len(points), bool)
    for b in boxes:
        out &= ~b.around(x, y)
    if out.all():
        yield shape
        return
    for start, end in stretches(out):
        if end - start > 1:
            yield replace(shape, points=points[start:end], closed=False)
