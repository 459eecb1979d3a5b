"""The look of the desk: names and lines as a list of shapes, each with its layer, over a picture or by themselves.

Every line goes through the pose (geometry), so a flattened low Moon or a lens that bends the limb is followed. A layer
is a row of `LAYERS`; those of named features hold what `labels` places.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.boxes import Inside, Rects, rects, segments, touching
from moondesk.drawing.directions import direction_marks
from moondesk.drawing.labels import labels_of
from moondesk.drawing.paint import paint
from moondesk.drawing.scene import Label, nearest_on_box
from moondesk.drawing.shapes import Dot, Mark, Path, TextShape
from moondesk.drawing.style import REFERENCE_CRATER, SPOT_KINDS, LabelStyle, base_font_px, layer_of
from moondesk.drawing.text import text_size
from moondesk.records import Annotation, ByteArray, FeatureMark, FloatArray, Pose


@dataclass(frozen=True, kw_only=True)
class LabelledView:
    """A placed picture as its lines need it. font_px: of ordinary text; line_px: width of a line."""

    annotation: Annotation
    pose: Pose
    font_px: float

    @property
    def line_px(self) -> float:
        return max(1.0, self.font_px / 13.0)

    def framed(self, runs: Sequence[curves.Points]) -> Iterator[curves.Points]:
        """The pieces of lines that lie in the frame or near it."""
        for run in runs:
            yield from curves.clip_to_frame(run, self.annotation.width, self.annotation.height, 2.0 * self.font_px)


@dataclass(frozen=True, kw_only=True)
class OverlayLayer:
    """A layer of the overlay. title: of its switch on a page, and switch: which one that is; draw: its shapes in a
    colour, besides the names of features."""

    name: str
    title: str
    switch: int
    colour: str
    draw: Callable[[LabelledView, str], Iterator[Mark]] = lambda view, colour: iter(())

    @property
    def slug(self) -> str:
        """Its name as an id."""
        return self.name.replace(" ", "-")


def _limb(view: LabelledView, colour: str) -> Iterator[Mark]:
    edge = curves.limb(view.pose)
    for piece in view.framed([(*edge, edge[0])]):
        yield Path(points=piece, width_px=view.line_px, colour=colour, opacity=0.55)


def _terminator(view: LabelledView, colour: str) -> Iterator[Mark]:
    for piece in view.framed(curves.terminator(view.pose)):
        yield Path(points=piece, width_px=view.line_px, colour=colour, opacity=0.8)


def _reference_line(line: Callable[[Pose], Sequence[curves.Points]]) -> Callable[[LabelledView, str], Iterator[Mark]]:
    def draw(view: LabelledView, colour: str) -> Iterator[Mark]:
        if view.pose.radius_px < 4.0 * view.font_px:
            return  # on a disc the size of a word, lines across it hide it
        dash = (0.7 * view.font_px, 0.5 * view.font_px)
        for piece in view.framed(line(view.pose)):
            yield Path(points=piece, width_px=view.line_px, colour=colour, opacity=0.7, dash=dash)

    return draw


def _directions(view: LabelledView, colour: str) -> Iterator[Mark]:
    w = 1.2 * view.line_px
    for mark in direction_marks(view.annotation.width, view.annotation.height, view.pose, view.font_px):
        yield Path(points=_points(mark.start, mark.end), width_px=w, colour=colour)
        if mark.arrow:
            d = (mark.end - mark.start) / np.hypot(*(mark.end - mark.start)) * 0.4 * mark.font_px
            side = np.array([-d[1], d[0]]) * 0.6
            yield Path(points=_points(mark.end - d + side, mark.end, mark.end - d - side), width_px=w, colour=colour)
        x, y = mark.at.tolist()
        yield TextShape(text=mark.text, x=x, y=y, font_px=mark.font_px, colour=colour)


def _points(*points: FloatArray) -> curves.Points:
    return tuple((float(x), float(y)) for x, y in points)


_ROWS = (
    OverlayLayer(name="limb", title="Limb", switch=8, colour="#ffffff", draw=_limb),
    # bluish green 009E73, lightened
    OverlayLayer(name="equator", title="Equator", switch=6, colour="#35c7a0", draw=_reference_line(curves.equator)),
    OverlayLayer(
        name="zero meridian",
        title="Zero meridian",
        switch=7,
        colour="#35c7a0",
        draw=_reference_line(curves.zero_meridian),
    ),
    # vermilion D55E00, lightened
    OverlayLayer(name="terminator", title="Terminator", switch=5, colour="#ff8a3c", draw=_terminator),
    OverlayLayer(name="craters", title="Craters", switch=2, colour="#f7ec6e"),  # yellow F0E442, lightened
    OverlayLayer(name="mountains", title="Mountains", switch=3, colour="#ffc04d"),  # orange E69F00, lightened
    OverlayLayer(name="seas", title="Seas", switch=1, colour="#8fd3ff"),  # sky blue 56B4E9, lightened
    OverlayLayer(name="directions", title="Directions", switch=4, colour="#ffffff", draw=_directions),
)
#: By name, in the order in which they are drawn. Colours are of the set by M. Okabe and K. Ito (see `style`).
LAYERS: Mapping[str, OverlayLayer] = MappingProxyType({row.name: row for row in _ROWS})


@dataclass(frozen=True)
class OverlayStyle:
    """How the overlay is drawn. layers: those that are drawn, in any order."""

    labels: LabelStyle = field(default_factory=LabelStyle)
    layers: frozenset[str] = frozenset(LAYERS)


def draw_labelled(rgb: ByteArray, annotation: Annotation, style: OverlayStyle | None = None) -> ByteArray:
    """A copy of an (H, W, 3) picture, in the annotation's pixels, with the overlay on it."""
    _check(rgb, annotation)
    out = np.ascontiguousarray(rgb).copy()
    paint(out, compose(annotation, style))
    return out


def draw_layers(
    annotation: Annotation, style: OverlayStyle | None = None, inside: Inside | None = None
) -> dict[str, ByteArray]:
    """Each layer by itself as an (H, W, 4) array, transparent where nothing is drawn. inside: see `compose`."""
    shapes = compose(annotation, style, inside)
    layers = {}
    for layer in LAYERS:
        canvas = np.zeros((annotation.height, annotation.width, 4), np.uint8)
        paint(canvas, [s for s in shapes if s.layer == layer])
        layers[layer] = canvas
    return layers


def _check(rgb: ByteArray, annotation: Annotation) -> None:
    if rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.dtype != np.uint8:
        raise ValueError(f"the picture must be (H, W, 3) uint8, not {rgb.shape} {rgb.dtype}")
    if rgb.shape[:2] != (annotation.height, annotation.width):
        raise ValueError(
            f"the picture is {rgb.shape[1]} x {rgb.shape[0]}, its annotation is for "
            f"{annotation.width} x {annotation.height}: was the EXIF turn applied?"
        )


def compose(
    annotation: Annotation, style: OverlayStyle | None = None, inside: Inside | None = None
) -> tuple[Mark, ...]:
    """Everything that is drawn over a picture, in the order of drawing; texts last.

    Without a pose only the limb is drawn, where there is one. inside: which pixels are picture, where that is not the
    whole frame (a turned copy).
    """
    style = style or OverlayStyle()
    return shapes_of(annotation, labels_of(annotation, style.labels, inside), style)


def shapes_of(annotation: Annotation, labels: Sequence[Label], style: OverlayStyle) -> tuple[Mark, ...]:
    """The same with labels that are placed already."""
    pose, size = annotation.pose, (annotation.width, annotation.height)
    if pose is None:
        shapes = list(_bare_limb(annotation))
    else:
        f = base_font_px(*size, pose.radius_px, style.labels.text_scale)
        view = LabelledView(annotation=annotation, pose=pose, font_px=f)
        shapes = [replace(s, layer=row.name) for row in LAYERS.values() for s in row.draw(view, row.colour)]
        marks = {m.feature.name: m for m in annotation.features}
        shapes += (s for label in labels for s in _mark_of(label, marks.get(label.name), view))
        shapes += _reference_crater(view, shapes)
    order = {layer: k for k, layer in enumerate(LAYERS)}
    shapes.sort(key=lambda s: (isinstance(s, TextShape), order[s.layer]))
    return tuple(s for s in shapes if s.layer in style.layers)


def _bare_limb(annotation: Annotation) -> Iterator[Mark]:
    limb = annotation.limb
    if limb is not None:
        width = max(1.0, base_font_px(annotation.width, annotation.height, limb.radius_px) / 13.0)
        t = np.linspace(0.0, 2 * np.pi, 360, endpoint=False)
        x, y = limb.x + limb.radius_px * np.cos(t), limb.y + limb.radius_px * np.sin(t)
        points = tuple(zip(x.tolist(), y.tolist(), strict=True))
        colour = LAYERS["limb"].colour
        yield Path(points=points, closed=True, width_px=width, colour=colour, opacity=0.7, layer="limb")


def leader_line(label: Label) -> tuple[tuple[float, float], tuple[float, float]]:
    """From the edge of a label's box to its anchor, pixels."""
    box = rects(*(np.array([v]) for v in (label.x, label.y, label.width_px, label.height_px, label.angle_deg)))
    x, y = nearest_on_box(box, np.array([label.anchor_x]), np.array([label.anchor_y]))
    return (float(x[0]), float(y[0])), (label.anchor_x, label.anchor_y)


def _mark_of(label: Label, mark: FeatureMark | None, view: LabelledView) -> Iterator[Mark]:
    layer, f, thin = layer_of(label.kind), view.font_px, max(1.0, 0.8 * view.line_px)
    colour = LAYERS[layer].colour
    if label.kind == "crater" and mark is not None:
        w = view.line_px if mark.radius_px > 0.35 * f else thin
        for points, closed in curves.rings(view.pose, mark.feature):
            yield Path(points=points, closed=closed, width_px=w, colour=colour, opacity=0.95, layer=layer)
    elif label.kind in SPOT_KINDS and mark is not None:
        yield Dot(x=mark.x, y=mark.y, radius_px=max(1.5, 0.13 * f), colour=colour, layer=layer)
    elif label.leader:
        yield Dot(x=label.anchor_x, y=label.anchor_y, radius_px=max(1.5, 0.11 * f), colour=colour, layer=layer)
    if label.leader:
        yield Path(points=leader_line(label), width_px=thin, colour=colour, opacity=0.9, layer=layer)
    yield TextShape(
        text=label.text,
        x=label.x,
        y=label.y,
        font_px=label.font_px,
        colour=colour,
        angle_deg=label.angle_deg,
        layer=layer,
    )


def _reference_crater(view: LabelledView, others: Sequence[Mark]) -> Iterator[Mark]:
    """Mösting A as a small cross, where it is on the visible side, in the light and in the frame; named if there is
    a place beside it that is free of the other shapes."""
    mark = next((m for m in view.annotation.features if m.feature.name == REFERENCE_CRATER), None)
    if mark is None or mark.sun_altitude_deg <= 0 or mark.cos_view <= 0:
        return
    row, f = LAYERS["zero meridian"], view.font_px
    arm = 0.42 * f
    if view.pose.radius_px < 6 * f:
        return  # the cross would hide more than it shows
    for dx, dy in ((arm, 0.0), (0.0, arm)):
        for sign in (-1.0, 1.0):
            points = ((mark.x + sign * dx * 0.35, mark.y + sign * dy * 0.35), (mark.x + sign * dx, mark.y + sign * dy))
            yield Path(points=points, width_px=view.line_px, colour=row.colour, layer=row.name)
    size = 0.85 * f
    tw, th = text_size(REFERENCE_CRATER, size)
    ax, ay = arm + 0.3 * f + tw / 2, arm + 0.2 * f + th / 2
    dx, dy = 0.8 * ax, ay
    offsets = np.array([(ax, 0), (-ax, 0), (0, -ay), (0, ay), (dx, -dy), (dx, dy), (-dx, -dy), (-dx, dy)])
    at = offsets + np.array([mark.x, mark.y])
    box = rects(at[:, 0], at[:, 1], np.full(8, tw), np.full(8, th), np.zeros(8))
    free = np.ones(8, bool)
    free[touching(box.grow(0.15 * f), _occupied_boxes(others))[0]] = False
    bx, by = box.extent()
    free &= (at[:, 0] > bx) & (at[:, 0] < view.annotation.width - 1 - bx)
    free &= (at[:, 1] > by) & (at[:, 1] < view.annotation.height - 1 - by)
    if free.any():
        x, y = (float(c) for c in at[int(np.argmax(free))])
        yield TextShape(text=REFERENCE_CRATER, x=x, y=y, font_px=size, colour=row.colour, layer=row.name)


def _occupied_boxes(shapes: Sequence[Mark]) -> Rects:
    """Boxes of the texts and pieces of the lines of shapes."""
    texts = [s for s in shapes if isinstance(s, TextShape)]
    sizes = [text_size(s.text, s.font_px) for s in texts]
    boxes = rects(
        np.array([s.x for s in texts]),
        np.array([s.y for s in texts]),
        np.array([w for w, _ in sizes]),
        np.array([h for _, h in sizes]),
        np.array([s.angle_deg for s in texts]),
    )
    lines = [np.asarray(s.points) for s in shapes if isinstance(s, Path)]
    a, b = (np.concatenate([p[k : len(p) - 1 + k] for p in lines]) if lines else np.zeros((0, 2)) for k in (0, 1))
    pieces = segments(a[:, 0], a[:, 1], b[:, 0], b[:, 1], 1.0)
    return boxes.joined([pieces])
