"""Directions, terminator, equator and zero meridian in a frame: fine lines on the Moon, their names in a key at its edge."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.areas import polygon
from moondesk.drawing.blocks import Block, box_at, set_block, stack_lines
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.curves import stretches
from moondesk.drawing.frame import TextBox
from moondesk.drawing.frame_names import RING, leader, origin_spot
from moondesk.drawing.name_places import column_width
from moondesk.drawing.shapes import Path, Shape
from moondesk.drawing.stage import DrawnLayer, NameRequest, Placed, Plan, Stage, fixed_plan
from moondesk.drawing.style import REFERENCE_CRATER
from moondesk.drawing.text import set_line
from moondesk.drawing.typefaces import CAP, REGULAR
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import disc_to_pixel, pixel_to_disc, screen_axes, sun_altitude_deg
from moondesk.records import FloatArray, NotFound, Pose

#: Dashes of a line, and how wide it is, pixels at 1080 lines.
DASH, WIDTH = (20.0, 13.0), 2.4
#: On a smaller Moon than this radius there are no lines, pixels at 1080 lines.
_LEAST_RADIUS = 60.0
#: How far from the disc's middle lines are drawn, radii: dashes end three degrees before the limb, and the terminator
#: runs nowhere within 3 %R of it, where it could not be told from the limb.
_DASHES_TO, _TERMINATOR_TO = float(np.cos(np.radians(3.0))), 0.97
#: A terminator of which less than this share is left says nothing (the Moon is nearly full, or a thread).
_LEAST_LEFT = 0.5
#: Key: height of capitals, length of a sample and what lies between, pixels at 1080 lines.
KEY_CAP, _SAMPLE, _GAP, _STEP = 26.5, 58.0, 14.0, 46.0
#: Letters of directions: height of capitals, and from the limb.
_LETTER_CAP, _FROM_LIMB = 26.5, 12.0


@dataclass(frozen=True, kw_only=True)
class MoonLine:
    """A line on the Moon. key: of its words; role: of the theme's colour; reach: how far out it is drawn, radii."""

    key: str
    role: str
    runs: Callable[[Pose], Sequence[curves.Points]]
    reach: float
    dashed: bool


TERMINATOR = MoonLine(key="terminator", role="terminator", runs=curves.terminator, reach=_TERMINATOR_TO, dashed=False)
EQUATOR = MoonLine(key="equator", role="grid", runs=curves.equator, reach=_DASHES_TO, dashed=True)
ZERO_MERIDIAN = MoonLine(key="zero_meridian", role="grid", runs=curves.zero_meridian, reach=_DASHES_TO, dashed=True)
ORDER = (TERMINATOR, EQUATOR, ZERO_MERIDIAN)


def moon_lines(*lines: MoonLine, origin: bool = False) -> Callable[[Stage], Plan | NotFound | None]:
    """The plan of a layer of these lines; one of which nothing lies well in the frame is left out. origin: with the
    crater from which the Moon's longitudes are counted."""

    def plan(stage: Stage) -> Plan | NotFound | None:
        if stage.pose.radius_px < _LEAST_RADIUS * stage.format.unit:
            return None
        found = [(line, paths) for line in lines for paths in [_paths(line, stage)] if paths]
        if not found:
            return None
        key = _key([line for line, _ in found], stage)
        if isinstance(key, NotFound):
            return key
        samples, texts, box = key
        request = _origin(stage) if origin else None
        if isinstance(request, NotFound):
            return request

        def draw(placed: Placed) -> Iterator[DrawnLayer]:
            shapes: list[Shape] = []
            for _, paths in found:
                shapes += placed.clear(paths, 10.0 * stage.format.unit)
            more: tuple[TextBox, ...] = ()
            if request is not None and request.key in placed.names:
                at = placed.names[request.key]
                feature = next(f for f in all_features() if f.name == REFERENCE_CRATER)
                wide = max(feature.size_km, 2 * at.spot.rx / stage.pose.radius_px * 1737.4)
                for points, closed in curves.rings(stage.pose, feature, wide):
                    shapes.append(Path(points=points, closed=closed, width_px=RING * stage.line, colour=request.colour))
                shapes += leader(at, request.colour, stage)
                letters, more = at.block.at(at.x, at.y, at.align, stage.theme.halo)
                shapes += letters
            title = ", ".join(stage.words[line.key] for line, _ in found)
            yield DrawnLayer(title=title, shapes=(*shapes, *samples), texts=(*texts, *more))

        return Plan(draw=draw, boxes=(box,), requests=() if request is None else (request,))

    return plan


def _paths(line: MoonLine, stage: Stage) -> tuple[Path, ...]:
    fmt, u = stage.format, stage.format.unit
    found, whole = [], 0
    for run in line.runs(stage.pose):
        p = np.asarray(run)
        whole += len(p)
        d, e = pixel_to_disc(stage.pose, p[:, 0], p[:, 1])
        near = np.nan_to_num(np.hypot(d, e), nan=2.0) <= line.reach
        if not stage.found.whole:  # nothing runs on where a part of the Moon ends
            near &= stage.inside(p[:, 0], p[:, 1])
        found += [run[a:b] for a, b in stretches(near) if b - a > 1]
    if not line.dashed and stage.found.whole and sum(map(len, found)) < _LEAST_LEFT * whole:
        return ()
    return tuple(
        Path(
            points=piece,
            width_px=WIDTH * stage.line,
            colour=getattr(stage.theme, line.role),
            opacity=0.78,
            dash=tuple(d * u for d in DASH) if line.dashed else (),
        )
        for run in found
        for piece in curves.clip_to_frame(run, fmt.width, fmt.height, 40 * u)
    )


def _key(
    lines: Sequence[MoonLine], stage: Stage
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], TurnedBox] | NotFound:
    """Samples with their words at the lower right, above what stands there."""
    fmt, u, theme = stage.format, stage.format.unit, stage.theme
    cap = max(KEY_CAP * u, fmt.least_cap(stage.black))
    every: dict[MoonLine, Block] = {}
    for line in ORDER:
        words = set_line(stage.words[line.key], 1.001 * cap / CAP, stage.theme.cut(REGULAR))
        if isinstance(words, NotFound):
            return words
        every[line] = stack_lines([(words, getattr(theme, line.role))])
    blocks = [every[line] for line in lines]
    sample = (0.66 if fmt.upright else 1.0) * _SAMPLE * u
    widths = [block.width + sample + _GAP * u for block in every.values()]
    free = fmt.safe.width - sum(widths)
    wide = max(widths)
    if fmt.upright and free >= 2 * _GAP * u:  # one row, a place for each line
        places = [fmt.safe.x0 + sum(widths[:k]) + k * free / 2 for k in range(len(ORDER))]
        at = [(places[ORDER.index(line)], 0.0) for line in lines]
        across = fmt.safe.width
    else:  # all keys of a frame begin at one line
        at = [(fmt.safe.x1 - wide, k * _STEP * u) for k in range(len(lines))]
        across = wide
    tallest = max(b.height for b in every.values())
    high = at[-1][1] + tallest
    bottom = fmt.safe.y1
    for box in stage.fixed:
        if across > wide:  # one row for all layers' lines: those that stand there already are as high
            if box.y0 > 0.5 * fmt.height and abs(box.height - high - 4 * u) > 0.5:
                bottom = min(bottom, box.y0 - 26 * u)
        elif box.x1 > fmt.safe.x1 - wide - 24 * u and box.y0 > 0.5 * fmt.height:
            bottom = min(bottom, box.y0 - (_STEP - 34) * u)
    shapes: list[Shape] = []
    texts: list[TextBox] = []
    for (left, down), line, block in zip(at, lines, blocks, strict=True):
        baseline = bottom - high + max(b.baselines[0] for b in every.values()) + down
        y = baseline - 0.5 * cap
        letters, boxes = block.at(
            left + sample + _GAP * u, baseline - block.baselines[0] + block.height / 2, "left", theme.halo
        )
        shapes.append(
            Path(
                points=((left - 0.5, y - 0.5), (left + sample - 0.5, y - 0.5)),
                width_px=WIDTH * stage.line,
                colour=getattr(theme, line.role),
                dash=(0.38 * sample, 0.24 * sample) if line.dashed else (),
            )
        )
        shapes += letters
        texts += boxes
    left = min(x for x, _ in at)
    return (
        tuple(shapes),
        tuple(texts),
        TurnedBox(left, bottom - high - 4 * u, min(at[-1][0] + wide, fmt.safe.x1), bottom),
    )


def _origin(stage: Stage) -> NameRequest | NotFound | None:
    """The crater that the zero meridian is tied to (M. Davies and T. Colvin, JGR 105, 2000), where it is in the light."""
    feature = next((f for f in all_features() if f.name == REFERENCE_CRATER), None)
    pose = stage.pose
    if feature is None:
        return None
    sun = sun_altitude_deg(feature.lat_deg, feature.lon_deg, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    spot = origin_spot(feature, stage) if float(sun) > 1.0 else None
    if spot is None or any(r.key == REFERENCE_CRATER for r in stage.requests):
        return None
    name = stage.wanted.texts.names.get(REFERENCE_CRATER, REFERENCE_CRATER).partition("\n")[0]
    made = []
    for width, black in ((column_width(stage), stage.black), (0.34 * stage.format.safe.width, False)):
        block = set_block(name, stage.format, 2, stage.theme, (stage.theme.grid, stage.theme.grid), width, black=black)
        if isinstance(block, NotFound):
            return block
        made.append(block)
    return NameRequest(
        key=f"~{REFERENCE_CRATER}", block=made[0], beside=made[1], spots=(spot,), colour=stage.theme.grid
    )


def directions(stage: Stage) -> Plan | NotFound:
    """The Moon's north, south, east and west: letters on the sky's side of its limb, or a small compass where the limb
    is not in the frame, or too near to its sides."""
    pose, fmt = stage.pose, stage.format
    blocks: list[Block] = []
    for key in ("north", "south", "east", "west"):
        cap = max(_LETTER_CAP * fmt.unit, fmt.least_cap(stage.black))
        line = set_line(stage.words[key], 1.001 * cap / CAP, stage.theme.cut(REGULAR))
        if isinstance(line, NotFound):
            return line
        blocks.append(stack_lines([(line, stage.theme.soft)]))
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    ways = (north, -north, east, -east)
    parts = _round_disc(stage, blocks, ways) if stage.found.whole else None
    return fixed_plan(stage.words["directions"], *(parts or _compass(stage, blocks, ways)))


def _round_disc(
    stage: Stage, blocks: list[Block], ways: tuple[FloatArray, ...]
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], tuple[TurnedBox, ...]] | None:
    """None where a letter has no room between limb and the edge of the text's area."""
    pose, u, room = stage.pose, stage.format.unit, stage.format.safe
    shapes: list[Shape] = []
    texts: list[TextBox] = []
    boxes = []
    cx, cy = (float(v) + 0.5 for v in disc_to_pixel(pose, 0.0, 0.0))
    for block, (dx, dy) in zip(blocks, ways, strict=True):
        away = pose.radius_px + _FROM_LIMB * u + abs(dx) * block.width / 2 + abs(dy) * block.height / 2
        x, y = float(cx + dx * away), float(cy + dy * away)
        box = box_at(block, x, y, "middle")
        if not room.holds(box) or any(box.grow(4 * u).touches(b) for b in stage.fixed):
            return None
        letters, said = block.at(x, y, "middle", stage.theme.halo)
        shapes += letters
        texts += said
        boxes.append(box)
    return tuple(shapes), tuple(texts), tuple(boxes)


def _compass(
    stage: Stage, blocks: list[Block], ways: tuple[FloatArray, ...]
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], tuple[TurnedBox, ...]]:
    """Two arrows of 60 px from one foot, to the Moon's north and east, in a corner of the frame."""
    fmt, u, theme = stage.format, stage.format.unit, stage.theme
    arm = 34.0 * u
    parts = [(blocks[0], ways[0]), (blocks[2], ways[2])]
    ends = [np.array([0.0, 0.0])]
    letters_at = []
    for block, way in parts:
        away = arm + 8 * u + float(abs(way[0]) * block.width / 2 + abs(way[1]) * block.height / 2)
        at = np.asarray(way, float) * away
        half = np.array([block.width / 2, block.height / 2])
        letters_at.append(at)
        ends += [at - half, at + half]
    low, high = np.min(ends, axis=0), np.max(ends, axis=0)
    x1 = fmt.safe.x1
    top = fmt.safe.y0
    if fmt.upright and stage.found.whole:  # in the corner that the disc leaves free
        top = stage.pose.y - stage.pose.radius_px - 10 * u
    for taken in stage.fixed:
        if taken.x1 > x1 - (high[0] - low[0]) and taken.y0 < top + (high[1] - low[1]) and taken.y1 > top:
            top = taken.y1 + 12 * u
    foot = np.array([x1 - high[0], top - low[1]])
    shapes: list[Shape] = []
    texts: list[TextBox] = []
    for (block, way), at in zip(parts, letters_at, strict=True):
        tip = foot + np.asarray(way, float) * arm
        shapes.append(
            Path(
                points=(tuple((foot - 0.5).tolist()), tuple((tip - 0.5).tolist())), width_px=3.0 * u, colour=theme.soft
            )
        )
        side = np.array([-way[1], way[0]]) * 5 * u
        back = tip - np.asarray(way, float) * 11 * u
        head = [tip + np.asarray(way, float) * 3 * u, back + side, back - side]
        shapes.append(polygon([(float(p[0]), float(p[1])) for p in head], theme.soft))
        said, boxes = block.at(float(foot[0] + at[0]), float(foot[1] + at[1]), "middle", theme.halo)
        shapes += said
        texts += boxes
    box = TurnedBox(foot[0] + low[0], foot[1] + low[1], foot[0] + high[0], foot[1] + high[1]).grow(6 * u)
    return tuple(shapes), tuple(texts), (box,)
