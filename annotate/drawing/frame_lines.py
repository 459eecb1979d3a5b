"""Directions, terminator, equator and zero meridian in a frame: fine lines on the Moon, their names in a key at its edge."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.areas import circle, polygon
from moondesk.drawing.blocks import EDGE_ON_VEIL, Align, Block, stack_lines
from moondesk.drawing.boundary import Spot
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.curves import stretches
from moondesk.drawing.frame import TextBox
from moondesk.drawing.name_places import lit_at
from moondesk.drawing.shapes import Path, Shape
from moondesk.drawing.stage import DrawnLayer, Placed, Plan, Stage, fixed_plan
from moondesk.drawing.style import REFERENCE_CRATER
from moondesk.drawing.text import set_line
from moondesk.drawing.typefaces import CAP, REGULAR
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import pixel_to_disc, screen_axes, sun_altitude_deg, surface_to_pixel
from moondesk.records import FloatArray, NotFound, Pose

#: How wide lines are and how much of them shows, of the terminator and of the grid; strokes and gaps of the equator and of
#: the meridian, pixels at 1080 lines.
WIDTH, THIN, SHOWN, FAINT = 2.4, 2.1, 0.85, 0.8
#: How much of the grid's show is left on the dark side.
_DARK = 0.4
#: How far above the words at a close-up's foot the terminator begins to fade, pixels at 1080 lines, and in how many steps:
#: cut off it would seem to end there.
_FADE, _FADE_STEPS = 150.0, 10
DASHES, DOTS = (18.0, 12.0), (2.6, 8.4)
#: On a smaller Moon than this radius there are no lines, pixels at 1080 lines.
_LEAST_RADIUS = 60.0
#: How far from the disc's middle lines are drawn, radii: dashes end three degrees before the limb, and the terminator
#: runs nowhere within 3 %R of it, where it could not be told from the limb.
_DASHES_TO, _TERMINATOR_TO = float(np.cos(np.radians(3.0))), 0.97
#: A terminator of which less than this share is left says nothing (the Moon is nearly full, or a thread). So does a line
#: of which less than so many pixels of 1080 lines lie in a close-up.
_LEAST_LEFT, _LEAST_LONG = 0.5, 120.0
#: Key: height of capitals, length of a sample and what lies between, pixels at 1080 lines.
KEY_CAP, _SAMPLE, _GAP, STEP = 26.5, 56.0, 14.0, 44.0
#: Letters of directions: height of capitals.
_LETTER_CAP = 26.5
#: The ring about the crater from which longitudes are counted.
_ORIGIN_RING = 9.0


@dataclass(frozen=True, kw_only=True)
class MoonLine:
    """A line on the Moon. key: of its words; role: of the theme's colour; reach: how far out it is drawn, radii."""

    key: str
    role: str
    runs: Callable[[Pose], Sequence[curves.Points]]
    reach: float
    width: float
    shown: float
    dash: tuple[float, ...] = ()


TERMINATOR = MoonLine(
    key="terminator", role="terminator", runs=curves.terminator, reach=_TERMINATOR_TO, width=WIDTH, shown=SHOWN
)
EQUATOR = MoonLine(
    key="equator", role="grid", runs=curves.equator, reach=_DASHES_TO, width=THIN, shown=FAINT, dash=DASHES
)
ZERO_MERIDIAN = MoonLine(
    key="zero_meridian", role="grid", runs=curves.zero_meridian, reach=_DASHES_TO, width=THIN, shown=FAINT, dash=DOTS
)
LINES = (TERMINATOR, EQUATOR, ZERO_MERIDIAN)


def moon_lines(*lines: MoonLine, origin: bool = False) -> Callable[[Stage], Plan | NotFound | None]:
    """The plan of a layer of these lines; one of which nothing lies well in the frame is left out. origin: with the
    crater from which the Moon's longitudes are counted: its ring, and its name in the key."""

    def plan(stage: Stage) -> Plan | NotFound | None:
        if stage.pose.radius_px < _LEAST_RADIUS * stage.format.unit:
            return None
        found = [(line, paths) for line in lines for paths in [_paths(line, stage)] if paths]
        spot = _origin(stage) if origin else None
        if not found and spot is None:
            return None
        entries = [*(line for line, _ in found), *([None] if spot else [])]
        key = _key(entries, stage)
        if isinstance(key, NotFound):
            return key
        samples, texts, box = key
        about = (
            [] if spot is None else [TurnedBox(spot.x - spot.rx, spot.y - spot.ry, spot.x + spot.rx, spot.y + spot.ry)]
        )

        def draw(placed: Placed) -> Iterator[DrawnLayer]:
            shapes: list[Shape] = []
            for line, paths in found:
                whole = placed.clear(paths, rings=True, leaders=bool(line.dash))
                shapes += whole if placed.zone is None else (p for s in whole for p in _fade_out(s, placed.zone, stage))
            if spot is not None:
                shapes.append(_ring(spot.x, spot.y, stage))
            title = ", ".join(stage.words[line.key] for line, _ in found) or texts[0].text
            yield DrawnLayer(title=title, shapes=(*shapes, *samples), texts=texts)

        return Plan(draw=draw, boxes=(box, *about), keys=len(entries))

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
    if not line.dash and stage.found.whole and sum(map(len, found)) < _LEAST_LEFT * whole:
        return ()
    pieces = [piece for run in found for piece in curves.clip_to_frame(run, fmt.width, fmt.height, 40 * u)]
    if not stage.found.whole and sum(_shown_of(piece, stage) for piece in pieces) < _LEAST_LONG * u:
        return ()
    if line.dash and not stage.found.whole and not _stands_whole(pieces, stage):
        return ()
    return tuple(
        Path(
            points=part,
            width_px=line.width * u,
            colour=getattr(stage.theme, line.role),
            opacity=line.shown if lit else _DARK * line.shown,
            dash=tuple(d * u for d in line.dash),
        )
        for piece in pieces
        for part, lit in (_by_light(piece, stage) if line.dash else [(piece, True)])
    )


def _fade_out(shape: Shape, zone: TurnedBox, stage: Stage) -> Iterator[Shape]:
    """A line with what lies close above the frame's foot in pieces, the lower the fainter."""
    reach = _FADE * stage.format.unit
    if not isinstance(shape, Path) or shape.dash or shape.points[-1][1] == shape.points[0][1]:
        yield shape
        return
    p = np.asarray(shape.points)
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))])
    t = np.union1d(at, np.arange(0.0, at[-1], reach / (4 * _FADE_STEPS)))
    x, y = np.interp(t, at, p[:, 0]), np.interp(t, at, p[:, 1])
    step = np.clip(np.ceil((zone.y0 - y) / reach * _FADE_STEPS), 0, _FADE_STEPS)
    starts = [0, *(np.flatnonzero(np.diff(step)) + 1).tolist()]
    for a, b in zip(starts, [*starts[1:], len(t) - 1], strict=True):  # each up to where the next begins
        if b > a and step[a] > 0:
            piece = tuple(zip(x[a : b + 1].tolist(), y[a : b + 1].tolist(), strict=True))
            yield replace(shape, points=piece, opacity=shape.opacity * float(step[a]) / _FADE_STEPS)


def _by_light(points: curves.Points, stage: Stage) -> Iterator[tuple[curves.Points, bool]]:
    """Pieces of a line in the light and in the dark; before a bright sky, where the dark side is not seen, the former
    alone."""
    lit = lit_at(stage.pose, *(np.asarray(points).T + 0.5)) > 0
    for a, b in stretches(lit):
        if b - a > 1:
            yield points[a:b], True
    if stage.black or not stage.found.whole:
        for a, b in stretches(~lit):
            if b - a > 1:
                yield points[max(a - 1, 0) : b + 1], False


def _shown_of(points: curves.Points, stage: Stage) -> float:
    """How long a line is within the frame, above the ground of its foot; pixels."""
    fmt, p = stage.format, np.asarray(points)
    foot = 0.8 * fmt.height if stage.zone is None else stage.zone.y0
    middle = (p[1:] + p[:-1]) / 2
    seen = (middle[:, 0] > 0) & (middle[:, 0] < fmt.width) & (middle[:, 1] > 0) & (middle[:, 1] < foot)
    return float(np.hypot(*np.diff(p, axis=0).T)[seen].sum())


def _stands_whole(pieces: Sequence[curves.Points], stage: Stage) -> bool:
    """Whether a line of the grid shows well in a close-up: the words at its foot do not cut it off, and most of it lies in
    the light, where it is seen."""
    points = np.concatenate([np.asarray(piece) for piece in pieces])
    cut = stage.zone is not None and (points[:, 1] > stage.zone.y0).any()
    return not cut and float((lit_at(stage.pose, *(points.T + 0.5)) > 0).mean()) >= _LEAST_LEFT


def _ring(x: float, y: float, stage: Stage) -> Path:
    """The sign of the crater from which longitudes are counted, on the Moon and in the key."""
    u = stage.format.unit
    outline = circle(x - 0.5, y - 0.5, _ORIGIN_RING * u, 40)
    points = tuple((float(px), float(py)) for px, py in outline)
    return Path(points=points, closed=True, width_px=2.8 * u, colour=stage.theme.grid)


def _key(
    entries: Sequence[MoonLine | None], stage: Stage
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], TurnedBox] | NotFound:
    """Samples with their words at the foot, one line above the other over what stands there, the first lowest (in an
    upright frame in two columns); at the left where the credit stands at the right. None: the crater from which
    longitudes are counted."""
    fmt, u, theme = stage.format, stage.format.unit, stage.theme
    cap = max(KEY_CAP * u, fmt.least_cap(stage.black))
    crater = stage.wanted.texts.names.get(REFERENCE_CRATER, REFERENCE_CRATER).partition("\n")[0]
    every: dict[MoonLine | None, Block] = {}
    for entry in (*LINES, None):
        words = stage.words[entry.key] if entry else crater
        line = set_line(words, 1.001 * cap / CAP, stage.theme.cut(REGULAR))
        if isinstance(line, NotFound):
            return line
        every[entry] = stack_lines([(line, getattr(theme, entry.role) if entry else theme.grid)])
    apart = (26.0 if fmt.upright else 14.0) * u  # to what stands below: in an upright frame that is the credit
    sample, gap = (0.66 if fmt.upright else 1.0) * _SAMPLE * u, _GAP * u
    wide = max(block.width for block in every.values()) + sample + gap
    columns = 2 if fmt.upright else 1
    across = wide if columns == 1 else fmt.safe.width / 2
    left = fmt.safe.x0 if stage.leftward or fmt.upright else fmt.safe.x1 - wide
    reach = TurnedBox(left - 24 * u, 0.5 * fmt.height, left + columns * across, fmt.height)
    top = min([box.y0 for box in stage.fixed if box.touches(reach) and box.y0 > reach.y0] + [fmt.safe.y1 + apart])
    tall = max(b.baselines[0] for b in every.values())
    below = max(b.height - b.baselines[0] for b in every.values())
    step = max(STEP * u, tall + below + 6 * u)
    standing = -(-stage.keys // columns)
    bottom = top - (0.0 if standing else apart) + standing * step
    shapes: list[Shape] = []
    texts: list[TextBox] = []
    lowest, highest = 0, 0
    for k, entry in enumerate(entries):
        slot = stage.keys + k
        row, column = divmod(slot, columns)
        lowest, highest = (row, row) if k == 0 else (lowest, row)
        block = every[entry]
        baseline = bottom - row * step - below - 3 * u
        x0, y = left + column * across, baseline - 0.5 * cap
        if stage.leftward:  # read from the right
            x0 = left + (columns - 1 - column) * across + (across - wide if columns > 1 else 0.0)
        ends = (x0 + wide - sample, x0 + wide) if stage.leftward else (x0, x0 + sample)
        align: Align = "right" if stage.leftward else "left"
        x = ends[0] - gap if stage.leftward else ends[1] + gap
        letters, boxes = block.at(x, baseline - block.baselines[0] + block.height / 2, align, theme.halo, EDGE_ON_VEIL)
        if entry is None:
            shapes.append(_ring(sum(ends) / 2, y, stage))
        else:
            shapes.append(
                Path(
                    points=((ends[0] - 0.5, y - 0.5), (ends[1] - 0.5, y - 0.5)),
                    width_px=1.2 * entry.width * u,
                    colour=getattr(theme, entry.role),
                    dash=tuple(d * u for d in entry.dash),
                )
            )
        shapes += letters
        texts += boxes
    x1 = left + (columns * across if stage.leftward else (columns - 1) * across + wide)
    return tuple(shapes), tuple(texts), TurnedBox(left, bottom - (highest + 1) * step, x1, bottom - lowest * step)


def _origin(stage: Stage) -> Spot | None:
    """The crater that the zero meridian is tied to (M. Davies and T. Colvin, JGR 105, 2000), where it is in the light and
    nobody names it as a feature."""
    feature = next((f for f in all_features() if f.name == REFERENCE_CRATER), None)
    pose = stage.pose
    if feature is None or REFERENCE_CRATER in stage.wanted.features:
        return None
    sun = sun_altitude_deg(feature.lat_deg, feature.lon_deg, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    at = surface_to_pixel(pose, feature.lat_deg, feature.lon_deg)
    x, y, r = float(at.x) + 0.5, float(at.y) + 0.5, _ORIGIN_RING * stage.format.unit
    if float(sun) <= 1.0 or float(at.mu) <= 0 or not stage.free(x, y):
        return None
    return Spot(x=x, y=y, rx=r, ry=r)


def directions(stage: Stage) -> Plan | NotFound:
    """The Moon's north and east as a small compass in a corner: round the limb the letters would stand among names."""
    pose, fmt = stage.pose, stage.format
    blocks: list[Block] = []
    for key in ("north", "east"):
        cap = max(_LETTER_CAP * fmt.unit, fmt.least_cap(stage.black))
        line = set_line(stage.words[key], 1.001 * cap / CAP, stage.theme.cut(REGULAR))
        if isinstance(line, NotFound):
            return line
        blocks.append(stack_lines([(line, stage.theme.soft)]))
    east, north = screen_axes(pose.north_screen_deg, pose.mirrored)
    return fixed_plan(stage.words["directions"], *_compass(stage, list(zip(blocks, (north, east), strict=True))))


def _compass(
    stage: Stage, parts: Sequence[tuple[Block, FloatArray]]
) -> tuple[tuple[Shape, ...], tuple[TextBox, ...], tuple[TurnedBox, ...]]:
    """Two arrows of 60 px from one foot, to the Moon's north and east, in a corner of the frame."""
    fmt, u, theme = stage.format, stage.format.unit, stage.theme
    arm = 34.0 * u
    ends = [np.array([0.0, 0.0])]
    letters_at = []
    for block, way in parts:
        away = arm + 13 * u + float(abs(way[0]) * block.width / 2 + abs(way[1]) * block.height / 2)
        at = np.asarray(way, float) * away
        half = np.array([block.width / 2, block.height / 2])
        letters_at.append(at)
        ends += [at - half, at + half]
    low, high = np.min(ends, axis=0), np.max(ends, axis=0)
    x1, top = fmt.safe.x1, fmt.safe.y0
    if fmt.upright and stage.found.whole:  # names stand above the Moon: beside the key
        if stage.leftward:
            x1 = fmt.safe.x0 + float(high[0] - low[0])
        foot_top = min([box.y0 for box in stage.fixed if box.y0 > 0.6 * fmt.height], default=fmt.safe.y1)
        keys = -(-stage.keys // 2) * STEP * u
        top = foot_top + keys - (high[1] - low[1]) - 10 * u
    else:
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
