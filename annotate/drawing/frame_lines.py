"""Directions, terminator, equator and zero meridian in a frame, each with its words. Shapes and numbers only."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.chips import (
    EMBER,
    LINE,
    MINT,
    PLATE,
    WHITE,
    Block,
    Request,
    chip,
    chip_box,
    leader_path,
    polygon,
    rounded_rectangle,
)
from moondesk.drawing.frame import Format, TextBox
from moondesk.drawing.shapes import Path, Shape
from moondesk.drawing.stage import DrawnLayer, PlacedLabel, Plan, Stage, fixed_plan
from moondesk.moon.geometry import disc_to_pixel, screen_axes
from moondesk.records import FloatArray, NotFound, Pose

#: Dashes of a line, pixels at 1080 lines.
DASH = (22.0, 14.0)
#: So far from the features that are pointed at is far enough for a line's words, pixels at 1080 lines; on a smaller
#: Moon than this radius there are no lines.
_CLEAR, _LEAST_RADIUS = 130.0, 60.0


@dataclass(frozen=True, kw_only=True)
class MoonLine:
    """A line on the Moon with its words. key: of these; along: where on it they may point, the best first, from the top
    or, of a line that runs across (`level`), from the left."""

    key: str
    colour: str
    runs: Callable[[Pose], Sequence[curves.Points]]
    along: tuple[float, ...]
    dash: tuple[float, ...] = ()
    level: bool = False


TERMINATOR = MoonLine(
    key="terminator", colour=EMBER, runs=curves.terminator, along=(0.86, 0.78, 0.7, 0.14, 0.22, 0.3, 0.6, 0.4, 0.5)
)
EQUATOR = MoonLine(
    key="equator", colour=MINT, runs=curves.equator, along=(0.9, 0.8, 0.1, 0.2, 0.7, 0.3, 0.5), dash=DASH, level=True
)
ZERO_MERIDIAN = MoonLine(
    key="zero_meridian", colour=MINT, runs=curves.zero_meridian, along=(0.12, 0.2, 0.3, 0.88, 0.8, 0.7, 0.5), dash=DASH
)


def moon_lines(*lines: MoonLine) -> Callable[[Stage], Plan | NotFound | None]:
    """The plan of a layer of these lines; one of which nothing lies well in the frame is left out."""

    def plan(stage: Stage) -> Plan | NotFound | None:
        if stage.pose.radius_px < _LEAST_RADIUS * stage.format.unit:
            return None
        found: list[tuple[MoonLine, tuple[Path, ...], Request]] = []
        for line in lines:
            shapes = _paths(line, stage)
            request = _caption(line, shapes, stage)
            if isinstance(request, NotFound):
                return request
            if request is not None:
                found.append((line, shapes, request))

        def draw(placed: PlacedLabel) -> Iterator[DrawnLayer]:
            shapes: list[Shape] = []
            chips: list[Shape] = []
            texts: list[TextBox] = []
            boxes: list[TurnedBox] = []
            for line, paths, request in found:
                shapes += placed.clear(paths)
                spot = placed.spots.get(request.key)
                if spot is not None:
                    shapes.append(leader_path(request, spot, stage.format.unit, line.colour))
                    plate, letters = request.block.at(spot.x, spot.y, line.colour)
                    chips += plate
                    texts += letters
                    boxes.append(chip_box(request, spot))
            placed.plates.extend(boxes)
            if shapes:
                title = ", ".join(stage.words[line.key] for line, _, _ in found)
                yield DrawnLayer(title=title, shapes=(*shapes, *chips), texts=tuple(texts))

        return Plan(draw=draw, requests=tuple(request for _, _, request in found))

    return plan


def _paths(line: MoonLine, stage: Stage) -> tuple[Path, ...]:
    fmt, u = stage.format, stage.format.unit
    dash = tuple(d * u for d in line.dash)
    return tuple(
        Path(points=piece, width_px=LINE * u, colour=line.colour, opacity=0.95, dash=dash)
        for run in line.runs(stage.pose)
        for piece in curves.clip_to_frame(run, fmt.width, fmt.height, 40 * u)
    )


def _caption(line: MoonLine, shapes: Sequence[Path], stage: Stage) -> Request | NotFound | None:
    """The words of a line, pointing at a place of it that lies well in the frame, and away from the features that are
    pointed at."""
    u = stage.format.unit
    block = chip(stage.words[line.key], stage.format)
    if isinstance(block, NotFound):
        return block
    p = np.concatenate([np.zeros((0, 2)), *(np.asarray(s.points) + 0.5 for s in shapes)])
    good = stage.format.safe.grow(-20 * u).around(p[:, 0], p[:, 1])
    for b in stage.fixed:
        good &= ~b.around(p[:, 0], p[:, 1])
    if not good.any():
        return None
    p = p[good]
    p = p[np.argsort(p[:, 0] if line.level else p[:, 1])]
    at = [p[int(share * (len(p) - 1))] for share in line.along]
    busy = np.array([(r.x, r.y) for r in stage.requests if not r.line]).reshape(-1, 2)
    room = [min(float(np.hypot(*(busy - point).T).min()) if len(busy) else np.inf, _CLEAR * u) for point in at]
    x, y = at[int(np.argmax(room))].tolist()  # of those with room enough the first
    return Request(key=line.key, block=block, x=x, y=y, radius_px=4 * u, must=True, line=True)


def directions(stage: Stage) -> Plan | NotFound:
    """The Moon's north, south, east and west: beside its edge with a stroke, or as a compass where the edge is not in
    the frame."""
    pose, fmt = stage.pose, stage.format
    blocks: list[Block] = []
    for key in ("north", "south", "east", "west"):
        block = chip(stage.words[key], fmt)
        if isinstance(block, NotFound):
            return block
        blocks.append(block)
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    ways = (north, -north, east, -east)
    parts = _round_disc(pose, fmt, blocks, ways, stage.fixed) if stage.found.whole else _compass(fmt, blocks, ways)
    return fixed_plan(stage.words["directions"], *parts)


def _round_disc(
    pose: Pose, fmt: Format, blocks: list[Block], ways: tuple[FloatArray, ...], taken: Sequence[TurnedBox]
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], tuple[TurnedBox, ...]]:
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
            box = TurnedBox(x - block.width / 2, y - block.height / 2, x + block.width / 2, y + block.height / 2)
            if not any(box.grow(6 * u).touches(plate) for plate in taken):
                break
        ends = [(cx + dx * r * pose.radius_px - 0.5, cy + dy * r * pose.radius_px - 0.5) for r in (0.955, 1.0)]
        shapes.append(Path(points=tuple((float(a), float(b)) for a, b in ends), width_px=LINE * u, colour=WHITE))
        drawn, said = block.at(x, y, WHITE)
        shapes += drawn
        texts += said
        boxes.append(box)
    return tuple(shapes), tuple(texts), tuple(boxes)


def _compass(
    fmt: Format, blocks: list[Block], ways: tuple[FloatArray, ...]
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], tuple[TurnedBox, ...]]:
    """Four arrows with their letters on a plate in the upper right corner."""
    u = fmt.unit
    arm, letter = 46.0 * u, max(max(b.width, b.height) for b in blocks)
    half = arm + letter + 2 * u
    x, y = fmt.safe.x1 - half + 14 * u, fmt.safe.y0 + half - 14 * u
    plate = TurnedBox(x - half, y - half, x + half, y + half)
    shapes: list[Shape] = [rounded_rectangle(plate, half, PLATE)]
    texts: list[TextBox] = []
    for k, (block, (dx, dy)) in enumerate(zip(blocks, ways, strict=True)):
        shapes += _arrow((x, y), (float(dx), float(dy)), arm, u, head=k == 0)
        drawn, said = block.at(x + float(dx) * (arm + letter / 2), y + float(dy) * (arm + letter / 2), WHITE)
        shapes += drawn[1:]
        texts += said
    return tuple(shapes), tuple(texts), (plate,)


def _arrow(
    start: tuple[float, float], way: tuple[float, float], length: float, u: float, head: bool
) -> Iterator[Shape]:
    (x, y), (dx, dy) = start, way
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
