"""The overlay as a list of plain shapes, each with its layer: what `draw` paints and `svg` writes.

Every line goes through the pose (geometry), so a flattened low Moon or a lens that bends the limb is followed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.boxes import RECT_FIELDS, Inside, Rects, rects, segments, touching
from moondesk.drawing.directions import direction_marks
from moondesk.drawing.font import text_size
from moondesk.drawing.labels import labels_of
from moondesk.drawing.scene import Label, nearest_on_box
from moondesk.drawing.style import (
    COLOURS,
    LAYERS,
    REFERENCE_CRATER,
    SPOT_KINDS,
    Layer,
    OverlayStyle,
    base_font_px,
    layer_of,
)
from moondesk.records import Annotation, FeatureMark, Pose


@dataclass(frozen=True, kw_only=True)
class Path:
    """A line through points in pixels. dash: lengths of stroke and gap in pixels, empty for a full line."""

    layer: Layer
    points: curves.Points
    closed: bool
    width_px: float
    colour: str
    opacity: float = 1.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Dot:
    """A filled circle: a peak, a landing site, the end of a leader line."""

    layer: Layer
    x: float
    y: float
    radius_px: float
    colour: str


@dataclass(frozen=True, kw_only=True)
class Text:
    """Lines of text (separated by newlines) centred on (x, y), turned counter-clockwise by angle_deg."""

    layer: Layer
    text: str
    x: float
    y: float
    width_px: float
    font_px: float
    angle_deg: float
    colour: str


Shape = Path | Dot | Text


def compose(
    annotation: Annotation, style: OverlayStyle | None = None, inside: Inside | None = None
) -> tuple[Shape, ...]:
    """Everything that is drawn over a picture, in the order of drawing; texts last.

    Without a pose only the limb is drawn, where there is one. inside: which pixels are picture, where that is not the
    whole frame (a turned copy).
    """
    style = style or OverlayStyle()
    return shapes_of(annotation, labels_of(annotation, style.labels, inside), style)


def shapes_of(annotation: Annotation, labels: Sequence[Label], style: OverlayStyle) -> tuple[Shape, ...]:
    """The same with labels that are placed already."""
    shapes: list[Shape] = []
    if annotation.pose is None:
        if annotation.limb is not None:
            limb = annotation.limb
            t = np.linspace(0.0, 2 * np.pi, 360, endpoint=False)
            f = base_font_px(annotation.width, annotation.height, limb.radius_px)
            points = tuple(
                zip(
                    (limb.x + limb.radius_px * np.cos(t)).tolist(),
                    (limb.y + limb.radius_px * np.sin(t)).tolist(),
                    strict=True,
                )
            )
            shapes.append(
                Path(layer="limb", points=points, closed=True, width_px=_line(f), colour=COLOURS["limb"], opacity=0.7)
            )
        return tuple(s for s in shapes if s.layer in style.layers)
    pose, size = annotation.pose, (annotation.width, annotation.height)
    f = base_font_px(*size, pose.radius_px, style.labels.text_scale)
    shapes += _frame_of_reference(pose, size, f)
    marks = {m.feature.name: m for m in annotation.features}
    for label in labels:
        shapes += _mark_of(label, marks.get(label.name), pose, size, f)
    shapes += _directions(pose, size, f)
    shapes += _reference_crater(annotation, pose, f, shapes)
    order = {layer: k for k, layer in enumerate(LAYERS)}
    shapes.sort(key=lambda s: (isinstance(s, Text), order[s.layer]))
    return tuple(s for s in shapes if s.layer in style.layers)


def _line(font_px: float) -> float:
    return max(1.0, font_px / 13.0)


def _frame_of_reference(pose: Pose, size: tuple[int, int], f: float) -> Iterator[Shape]:
    w = _line(f)
    margin = 2.0 * f
    for piece in curves.clip_to_frame((*curves.limb(pose), curves.limb(pose)[0]), *size, margin):
        yield Path(layer="limb", points=piece, closed=False, width_px=w, colour=COLOURS["limb"], opacity=0.55)
    small = pose.radius_px < 4.0 * f  # on a disc the size of a word, lines across it hide it
    for run in () if small else curves.equator(pose):
        for piece in curves.clip_to_frame(run, *size, margin):
            yield Path(
                layer="equator",
                points=piece,
                closed=False,
                width_px=w,
                colour=COLOURS["equator"],
                opacity=0.7,
                dash=(0.7 * f, 0.5 * f),
            )
    for run in () if small else curves.zero_meridian(pose):
        for piece in curves.clip_to_frame(run, *size, margin):
            yield Path(
                layer="zero meridian",
                points=piece,
                closed=False,
                width_px=w,
                colour=COLOURS["zero meridian"],
                opacity=0.7,
                dash=(0.7 * f, 0.5 * f),
            )
    for run in curves.terminator(pose):
        for piece in curves.clip_to_frame(run, *size, margin):
            yield Path(
                layer="terminator", points=piece, closed=False, width_px=w, colour=COLOURS["terminator"], opacity=0.8
            )


def leader_line(label: Label) -> tuple[tuple[float, float], tuple[float, float]]:
    """From the edge of a label's box to its anchor, pixels."""
    box = rects(*(np.array([v]) for v in (label.x, label.y, label.width_px, label.height_px, label.angle_deg)))
    x, y = nearest_on_box(box, np.array([label.anchor_x]), np.array([label.anchor_y]))
    return (float(x[0]), float(y[0])), (label.anchor_x, label.anchor_y)


def _mark_of(label: Label, mark: FeatureMark | None, pose: Pose, size: tuple[int, int], f: float) -> Iterator[Shape]:
    layer = layer_of(label.kind)
    colour = COLOURS[layer]
    if label.kind == "crater" and mark is not None:
        feature = mark.feature
        w = _line(f) if mark.radius_px > 0.35 * f else max(1.0, 0.8 * _line(f))
        for run in curves.rim(pose, feature.lat_deg, feature.lon_deg, feature.size_km):
            points = np.asarray(run)
            whole = bool(np.hypot(*(points[0] - points[-1])) < 1e-6)
            yield Path(
                layer=layer, points=run[:-1] if whole else run, closed=whole, width_px=w, colour=colour, opacity=0.95
            )
    elif label.kind in SPOT_KINDS and mark is not None:
        yield Dot(layer=layer, x=mark.x, y=mark.y, radius_px=max(1.5, 0.13 * f), colour=colour)
    elif label.leader:
        yield Dot(layer=layer, x=label.anchor_x, y=label.anchor_y, radius_px=max(1.5, 0.11 * f), colour=colour)
    if label.leader:
        yield Path(
            layer=layer,
            points=leader_line(label),
            closed=False,
            width_px=max(1.0, 0.8 * _line(f)),
            colour=colour,
            opacity=0.9,
        )
    yield Text(
        layer=layer,
        text=label.text,
        x=label.x,
        y=label.y,
        width_px=label.width_px,
        font_px=label.font_px,
        angle_deg=label.angle_deg,
        colour=colour,
    )


def _reference_crater(annotation: Annotation, pose: Pose, f: float, others: Sequence[Shape]) -> Iterator[Shape]:
    """Mösting A as a small cross, where it is on the visible side, in the light and in the frame; named if there is
    a place beside it that is free of the other shapes."""
    mark = next((m for m in annotation.features if m.feature.name == REFERENCE_CRATER), None)
    if mark is None or mark.sun_altitude_deg <= 0 or mark.cos_view <= 0:
        return
    colour, w, arm = COLOURS["zero meridian"], _line(f), 0.42 * f
    if pose.radius_px < 6 * f:
        return  # the cross would hide more than it shows
    for dx, dy in ((arm, 0.0), (0.0, arm)):
        for sign in (-1.0, 1.0):
            points = ((mark.x + sign * dx * 0.35, mark.y + sign * dy * 0.35), (mark.x + sign * dx, mark.y + sign * dy))
            yield Path(layer="zero meridian", points=points, closed=False, width_px=w, colour=colour)
    size = 0.85 * f
    tw, th = text_size(REFERENCE_CRATER, size)
    ax, ay = arm + 0.3 * f + tw / 2, arm + 0.2 * f + th / 2
    dx, dy = 0.8 * ax, ay
    offsets = np.array([(ax, 0), (-ax, 0), (0, -ay), (0, ay), (dx, -dy), (dx, dy), (-dx, -dy), (-dx, dy)])
    at = offsets + np.array([mark.x, mark.y])
    box = rects(at[:, 0], at[:, 1], np.full(8, tw), np.full(8, th), np.zeros(8))
    free = np.ones(8, bool)
    free[touching(box.grow(0.15 * f), _occupied(others))[0]] = False
    bx, by = box.extent()
    free &= (at[:, 0] > bx) & (at[:, 0] < annotation.width - 1 - bx)
    free &= (at[:, 1] > by) & (at[:, 1] < annotation.height - 1 - by)
    if free.any():
        x, y = (float(c) for c in at[int(np.argmax(free))])
        yield Text(
            layer="zero meridian",
            text=REFERENCE_CRATER,
            x=x,
            y=y,
            width_px=tw,
            font_px=size,
            angle_deg=0.0,
            colour=colour,
        )


def _occupied(shapes: Sequence[Shape]) -> Rects:
    """Boxes of the texts and pieces of the lines of shapes."""
    texts = [s for s in shapes if isinstance(s, Text)]
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
    return Rects(**{n: np.concatenate([getattr(boxes, n), getattr(pieces, n)]) for n in RECT_FIELDS})


def _directions(pose: Pose, size: tuple[int, int], f: float) -> Iterator[Shape]:
    colour, w = COLOURS["directions"], 1.2 * _line(f)
    for mark in direction_marks(*size, pose, f):
        start, end = (mark.from_x, mark.from_y), (mark.to_x, mark.to_y)
        yield Path(layer="directions", points=(start, end), closed=False, width_px=w, colour=colour)
        if mark.arrow:
            d = np.array([end[0] - start[0], end[1] - start[1]])
            d = d / np.hypot(*d) * 0.4 * mark.font_px
            side = np.array([-d[1], d[0]]) * 0.6
            head = np.array(end) - d
            a, b = head + side, head - side
            yield Path(
                layer="directions",
                points=((float(a[0]), float(a[1])), end, (float(b[0]), float(b[1]))),
                closed=False,
                width_px=w,
                colour=colour,
            )
        yield Text(
            layer="directions",
            text=mark.text,
            x=mark.x,
            y=mark.y,
            width_px=mark.width_px,
            font_px=mark.font_px,
            angle_deg=0.0,
            colour=colour,
        )
