"""Directions, terminator, equator and zero meridian in a frame, each with its words. Shapes and numbers only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.boxes import Box
from moondesk.drawing.chips import EMBER, MINT, PLATE, WHITE, Block, chip, polygon, rounded
from moondesk.drawing.frame import Format, TextBox, Texts
from moondesk.drawing.shapes import Path, Shape
from moondesk.moon.geometry import disc_to_pixel, screen_axes
from moondesk.records import FloatArray, NotFound, Pose

#: Width of lines, and their dashes, pixels at 1080 lines.
LINE, DASH = 4.0, (22.0, 14.0)


@dataclass(frozen=True, eq=False, kw_only=True)
class Curve:
    """A line on the Moon, its pieces in the frame, and the words that it wants. colour: of both."""

    name: str
    words: str
    colour: str
    shapes: tuple[Path, ...]
    #: Points along it (n, 2), pixels, where its words may point.
    points: FloatArray


def terminator(pose: Pose, fmt: Format, texts: Texts) -> Curve:
    return _curve("terminator", texts.terminator, EMBER, curves.terminator(pose), fmt, ())


def equator(pose: Pose, fmt: Format, texts: Texts) -> Curve:
    return _curve("equator", texts.equator, MINT, curves.equator(pose), fmt, DASH)


def zero_meridian(pose: Pose, fmt: Format, texts: Texts) -> Curve:
    return _curve("zero meridian", texts.zero_meridian, MINT, curves.zero_meridian(pose), fmt, DASH)


def _curve(
    layer: str, words: str, colour: str, runs: tuple[curves.Points, ...], fmt: Format, dash: tuple[float, ...]
) -> Curve:
    u = fmt.unit
    pieces = [p for run in runs for p in curves.clip_to_frame(run, fmt.width, fmt.height, 40 * u)]
    shapes = tuple(
        Path(
            layer=layer,
            points=p,
            closed=False,
            width_px=LINE * u,
            colour=colour,
            opacity=0.95,
            dash=tuple(d * u for d in dash),
        )
        for p in pieces
    )
    points = np.concatenate([np.asarray(p) for p in pieces]) + 0.5 if pieces else np.zeros((0, 2))
    return Curve(name=layer, words=words, colour=colour, shapes=shapes, points=points)


def without(shapes: Sequence[Shape], boxes: Sequence[Box]) -> Iterator[Shape]:
    """Shapes with their lines cut out where they would run over plates of earlier layers."""
    for shape in shapes:
        if not isinstance(shape, Path):
            yield shape
            continue
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
            continue
        flank = np.flatnonzero(np.diff(np.concatenate([[False], out, [False]]).astype(int)))
        for start, end in zip(flank[::2], flank[1::2], strict=True):
            if end - start > 1:
                yield replace(shape, points=points[start:end], closed=False)


def directions(
    pose: Pose, fmt: Format, texts: Texts, whole: bool, taken: Sequence[Box]
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], tuple[Box, ...]] | NotFound:
    """The Moon's north, south, east and west: beside its edge with a stroke, or as a compass where the edge is not in
    the frame. Shapes, texts and the boxes that they take; taken: plates that they keep off."""
    words = (texts.north, texts.south, texts.east, texts.west)
    blocks: list[Block] = []
    for word in words:
        block = chip(word, fmt)
        if isinstance(block, NotFound):
            return block
        blocks.append(block)
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    ways = (north, -north, east, -east)
    return _round_disc(pose, fmt, blocks, ways, taken) if whole else _compass(fmt, blocks, ways)


def _round_disc(
    pose: Pose, fmt: Format, blocks: list[Block], ways: tuple[FloatArray, ...], taken: Sequence[Box]
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], tuple[Box, ...]]:
    shapes: list[Shape] = []
    texts: list[TextBox] = []
    boxes = []
    u = fmt.unit
    cx, cy = (float(v) + 0.5 for v in disc_to_pixel(pose, 0.0, 0.0))
    for block, (dx, dy) in zip(blocks, ways, strict=True):
        half = abs(dx) * block.width / 2 + abs(dy) * block.height / 2
        room = block.room(fmt.safe)
        for back in range(20):  # inwards until it stands on no plate
            away = pose.radius_px + 14 * u + half - back * 20 * u
            x = float(np.clip(cx + dx * away, room.x0 + block.width / 2, room.x1 - block.width / 2))
            y = float(np.clip(cy + dy * away, room.y0 + block.height / 2, room.y1 - block.height / 2))
            box = Box(x - block.width / 2, y - block.height / 2, x + block.width / 2, y + block.height / 2)
            if not any(box.grow(6 * u).touches(plate) for plate in taken):
                break
        ends = [(cx + dx * r * pose.radius_px - 0.5, cy + dy * r * pose.radius_px - 0.5) for r in (0.955, 1.0)]
        shapes.append(
            Path(
                layer="directions",
                points=tuple((float(a), float(b)) for a, b in ends),
                closed=False,
                width_px=LINE * u,
                colour=WHITE,
            )
        )
        drawn, said = block.at(x, y, WHITE)
        shapes += drawn
        texts += said
        boxes.append(box)
    return tuple(shapes), tuple(texts), tuple(boxes)


def _compass(
    fmt: Format, blocks: list[Block], ways: tuple[FloatArray, ...]
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], tuple[Box, ...]]:
    """Four arrows with their letters on a plate in the upper right corner."""
    u = fmt.unit
    arm, letter = 46.0 * u, max(max(b.width, b.height) for b in blocks)
    half = arm + letter + 2 * u
    x, y = fmt.safe.x1 - half + 14 * u, fmt.safe.y0 + half - 14 * u
    plate = Box(x - half, y - half, x + half, y + half)
    shapes: list[Shape] = [rounded(plate, half, PLATE)]
    texts: list[TextBox] = []
    for k, (block, (dx, dy)) in enumerate(zip(blocks, ways, strict=True)):
        shapes += _arrow(x, y, float(dx), float(dy), arm, u, head=k == 0)
        drawn, said = block.at(x + float(dx) * (arm + letter / 2), y + float(dy) * (arm + letter / 2), WHITE)
        shapes += drawn[1:]
        texts += said
    return tuple(shapes), tuple(texts), (plate,)


def _arrow(x: float, y: float, dx: float, dy: float, length: float, u: float, head: bool) -> Iterator[Shape]:
    side_x, side_y = -dy, dx
    w, end = 2.0 * u, length - (14 * u if head else 0.0)
    yield polygon(
        [
            (x + side_x * w, y + side_y * w),
            (x + dx * end + side_x * w, y + dy * end + side_y * w),
            (x + dx * end - side_x * w, y + dy * end - side_y * w),
            (x - side_x * w, y - side_y * w),
        ],
        WHITE,
    )
    if head:
        wide = 10.0 * u
        yield polygon(
            [
                (x + dx * length, y + dy * length),
                (x + dx * end + side_x * wide, y + dy * end + side_y * wide),
                (x + dx * end - side_x * wide, y + dy * end - side_y * wide),
            ],
            WHITE,
        )
