"""Where chips stand in a frame: inside the safe area, on nothing that stands there already, near what they name.

A frame has a dozen large chips at most, so each tries a few hundred places round its point and takes the cheapest;
twice more all choose again with the others in sight. (The overlay's own placing sets many small names without plates.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.frame import Format, TextBox
from moondesk.drawing.shapes import Fill, Path, Shape
from moondesk.drawing.text import TextLine, clean_text, wrap_text
from moondesk.drawing.typefaces import BOLD, CAP
from moondesk.records import FloatArray, NotFound

PLATE, RULE = "#0b1424", "#2a3a57"
WHITE, SOFT = "#f7f9fd", "#c9d5ea"
GOLD, SKY_BLUE, MINT, EMBER = "#ffd36b", "#a9d9ff", "#74e0bd", "#ffa765"
CHIP_OPACITY = 0.86
#: Width of lines, pixels at 1080 lines.
LINE = 4.0
#: Size of a chip's letters in units of the least; names of two words or more are set in two lines from so many signs
#: on.
CHIP_CAP, TWO_LINES = 1.02, 13
#: Distance of baselines, units of the size.
STEP = 1.16
#: Room above and below the letters of a chip, in units of that at their sides.
_LEVEL = 0.65


@dataclass(frozen=True, eq=False, kw_only=True)
class Block:
    """Lines of text one under another, and the size of the chip that holds them, pixels."""

    lines: tuple[TextLine, ...]
    width: float
    height: float
    #: From the text to the chip's edge at its sides; above and below it is less.
    pad: float
    #: From the first baseline to the top of the first line's ink.
    above: float

    def room(self, safe: TurnedBox) -> TurnedBox:
        """Where the plate may stand so that its letters keep inside a rectangle."""
        side, level = 0.95 * self.pad, 0.95 * _LEVEL * self.pad
        return TurnedBox(safe.x0 - side, safe.y0 - level, safe.x1 + side, safe.y1 + level)

    def at(self, x: float, y: float, colour: str) -> tuple[tuple[Shape, ...], tuple[TextBox, ...]]:
        """The chip with its middle at (x, y): plate and letters, and the letters' boxes."""
        box = TurnedBox(x - self.width / 2, y - self.height / 2, x + self.width / 2, y + self.height / 2)
        shapes: list[Shape] = [
            rounded_rectangle(box, 0.32 * self.pad + 0.1 * self.lines[0].size_px, PLATE, CHIP_OPACITY)
        ]
        texts = []
        size = self.lines[0].size_px
        first = box.y0 + _LEVEL * self.pad + self.above
        for k, line in enumerate(self.lines):
            left = x - (line.ink.x0 + line.ink.x1) / 2
            fill, ink = line.at(left, first + k * STEP * size, colour)
            shapes.append(fill)
            texts.append(TextBox(text=line.text, box=ink, cap_px=line.cap_px, colour=colour, ground=PLATE, plate=False))
        return tuple(shapes), tuple(texts)


def chip(text: str, fmt: Format) -> Block | NotFound:
    """A name's chip; a newline parts lines, and long names of one line are set in two."""
    size = CHIP_CAP * fmt.least_cap(False) / CAP
    parts = [clean_text(part) for part in text.split("\n") if clean_text(part)]
    lines: tuple[TextLine, ...] = ()
    for part in parts:
        two = len(parts) == 1 and len(part) >= TWO_LINES and " " in part
        more = wrap_text(part, size, BOLD, 0.0, 2 if two else 1)
        if isinstance(more, NotFound):
            return more
        lines += more
    pad = 0.36 * size
    # usual letters, so that chips in a row are equally high; marks that stand out above or below make their own room
    above = max(CAP * size, -lines[0].ink.y0)
    below = max(0.12 * size, lines[-1].ink.y1)
    height = above + below + (len(lines) - 1) * STEP * size
    return Block(
        lines=lines,
        width=max(line.ink.width for line in lines) + 2 * pad,
        height=height + 2 * _LEVEL * pad,
        pad=pad,
        above=above,
    )


def rounded_rectangle(box: TurnedBox, radius: float, colour: str, opacity: float = 1.0) -> Fill:
    """A rectangle with round corners."""
    r = min(radius, box.width / 2, box.height / 2)
    corners = []
    for k, (cx, cy) in enumerate(
        ((box.x1 - r, box.y0 + r), (box.x1 - r, box.y1 - r), (box.x0 + r, box.y1 - r), (box.x0 + r, box.y0 + r))
    ):
        t = np.radians(np.linspace(-90 + 90 * k, 90 * k, 9))
        corners.append(np.stack([cx + r * np.cos(t), cy + r * np.sin(t)], axis=1))
    return Fill((np.concatenate(corners),), colour, opacity)


def polygon(points: list[tuple[float, float]], colour: str, opacity: float = 1.0) -> Fill:
    return Fill((np.array(points, float),), colour, opacity)


def circle(x: float, y: float, radius: float, n: int = 120) -> FloatArray:
    """The outline of a circle, (n, 2)."""
    t = np.linspace(0.0, 2 * np.pi, n, endpoint=False)
    return np.stack([x + radius * np.cos(t), y + radius * np.sin(t)], axis=1)


def ring(x: float, y: float, radius: float, width: float, colour: str, opacity: float = 1.0) -> Fill:
    """A circle's line: two outlines that wind against each other."""
    return Fill((circle(x, y, radius + width / 2), circle(x, y, radius - width / 2)[::-1]), colour, opacity)


_TURNS, _RINGS = 24, (0.0, 0.5, 1.1, 1.9, 3.0, 4.4, 6.0)
#: A name that covers the lit Moon, per share of its chip; a leader line per frame's shorter side; a line across another
#: or a chip.
_ON_LIGHT, _FAR, _CROSSED = 0.35, 4.5, 4.0
#: A place worse than this is none.
_WORST = 0.75


@dataclass(frozen=True, eq=False, kw_only=True)
class Request:
    """A chip to be placed. radius_px: of the thing it names, which it may not cover; central: it may stand on its point
    (a sea's name on the sea). must: it is shown wherever there is room at all; line: it names a line, and any place on that
    would do."""

    key: str
    block: Block
    x: float
    y: float
    radius_px: float
    central: bool = False
    must: bool = False
    line: bool = False


@dataclass(frozen=True)
class LabelCandidate:
    """Where a chip's middle stands; leader: a line to its point is wanted."""

    x: float
    y: float
    leader: bool


@dataclass(frozen=True, eq=False, kw_only=True)
class LabelGround:
    """What chips avoid. light: (h, w) 0..1, how much of the lit Moon there is, on a grid `cell` pixels wide; fixed:
    boxes in use; side: the frame's shorter one; gap: between two of them, pixels."""

    safe: TurnedBox
    side: float
    light: FloatArray
    cell: float
    fixed: tuple[TurnedBox, ...]
    gap: float


def place(requests: Sequence[Request], ground: LabelGround) -> dict[str, LabelCandidate]:
    """Places by key; those that found no room are not in it. The first choose first."""
    options = {r.key: _options(r, ground) for r in requests}
    chosen: dict[str, tuple[LabelCandidate, TurnedBox]] = {}
    for _ in range(3):
        for request in requests:
            others = [(k, *v) for k, v in chosen.items() if k != request.key]
            best = _best(request, options[request.key], others, requests, ground)
            chosen.pop(request.key, None)
            if best is not None:
                chosen[request.key] = best
    return {k: spot for k, (spot, _) in chosen.items()}


def chip_box(request: Request, spot: LabelCandidate) -> TurnedBox:
    """The chip's plate at its place."""
    w, h = request.block.width / 2, request.block.height / 2
    return TurnedBox(spot.x - w, spot.y - h, spot.x + w, spot.y + h)


def _around(request: Request, radius: float) -> TurnedBox:
    return TurnedBox(request.x - radius, request.y - radius, request.x + radius, request.y + radius)


def _options(request: Request, ground: LabelGround) -> list[tuple[float, LabelCandidate, TurnedBox]]:
    """Every place that is free of what stands fast, with its own cost, cheapest first."""
    w, h = request.block.width, request.block.height
    found = []
    # the plate may reach beyond the safe area by its padding; the letters may not
    safe = request.block.room(ground.safe)
    for k, ring in enumerate(_RINGS):
        for turn in np.linspace(0.0, 2 * np.pi, _TURNS if ring or not request.central else 1, endpoint=False).tolist():
            dx, dy = np.cos(turn), np.sin(turn)
            clear = request.radius_px + (0.0 if request.central and not ring else ring * h)
            # the chip's nearer edge lies `clear` from the point along the ray
            reach = min(w / 2 / max(abs(dx), 1e-6), h / 2 / max(abs(dy), 1e-6))
            away = 0.0 if request.central and not ring else clear + reach + 0.15 * h
            x, y = request.x + dx * away, request.y + dy * away
            sx = min(max(x, safe.x0 + w / 2), safe.x1 - w / 2)
            sy = min(max(y, safe.y0 + h / 2), safe.y1 - h / 2)
            box = chip_box(request, LabelCandidate(sx, sy, False))
            if not safe.holds(box) or any(box.grow(ground.gap).touches(f) for f in ground.fixed):
                continue
            if not request.central and box.touches(_around(request, request.radius_px)):
                continue
            extra = 0.0 if (sx, sy) == (x, y) else 0.1
            far = float(np.hypot(sx - request.x, sy - request.y))
            on_point = request.central and far < 0.75 * h
            cost = extra + _FAR * max(0.0, far - reach - request.radius_px) / ground.side
            cost += 0.0 if on_point else _ON_LIGHT * _sunlit_share(box, ground) + 0.05 * (k > 2)
            found.append((cost, LabelCandidate(sx, sy, not on_point and not box.around(request.x, request.y)), box))
    if request.must or not request.central:
        found += _margins(request, ground, safe)
    return sorted(found, key=lambda f: f[0])


def _margins(request: Request, ground: LabelGround, safe: TurnedBox) -> list[tuple[float, LabelCandidate, TurnedBox]]:
    """Places along both sides of the frame: there a name finds room when the Moon is full of others."""
    w, h = request.block.width, request.block.height
    found = []
    for x in (safe.x0 + w / 2, safe.x1 - w / 2):
        for y in np.arange(safe.y0 + h / 2, safe.y1 - h / 2, 0.5 * h).tolist():
            box = chip_box(request, LabelCandidate(x, y, False))
            if any(box.grow(ground.gap).touches(f) for f in ground.fixed):
                continue
            far = float(np.hypot(x - request.x, y - request.y)) - w / 2
            found.append(
                (
                    0.15 + _FAR * max(0.0, far) / ground.side + _ON_LIGHT * _sunlit_share(box, ground),
                    LabelCandidate(x, y, not box.around(request.x, request.y)),
                    box,
                )
            )
    return found


def _sunlit_share(box: TurnedBox, ground: LabelGround) -> float:
    rows, cols = ground.light.shape
    y0, y1 = (int(np.clip(v / ground.cell, 0, rows - 1)) for v in (box.y0, box.y1))
    x0, x1 = (int(np.clip(v / ground.cell, 0, cols - 1)) for v in (box.x0, box.x1))
    return float(ground.light[y0 : y1 + 1, x0 : x1 + 1].mean())


def _best(
    request: Request,
    options: list[tuple[float, LabelCandidate, TurnedBox]],
    others: list[tuple[str, LabelCandidate, TurnedBox]],
    requests: Sequence[Request],
    ground: LabelGround,
) -> tuple[LabelCandidate, TurnedBox] | None:
    points = {r.key: r for r in requests}
    best: tuple[float, LabelCandidate, TurnedBox] | None = None
    for cost, spot, box in options:
        if best is not None and cost >= best[0]:
            break
        if any(box.grow(ground.gap).touches(b) for _, _, b in others):
            continue
        total = cost
        mine = leader(request, spot)
        for key, other, other_box in others:
            theirs = leader(points[key], other)
            if spot.leader and crosses_box(mine, other_box):
                total += _CROSSED
            if other.leader and crosses_box(theirs, box):
                total += _CROSSED
            if spot.leader and other_box.grow(ground.gap).around(*mine[2:]):
                total += _CROSSED
            if spot.leader and other.leader and _cross(mine, theirs):
                total += _CROSSED
        if spot.leader:
            total += _CROSSED * sum(crosses_box(mine, f) for f in ground.fixed)
        for other_request in requests:  # another's point or ring under this chip
            if other_request.key == request.key:
                continue
            r = max(other_request.radius_px, 0.15 * request.block.height)
            if box.touches(_around(other_request, r)):
                total += _CROSSED
            # a line that ends at or runs through another's ring would be read as that one's
            if spot.leader and not other_request.central and _away(mine, other_request) < r:
                total += _CROSSED
        if best is None or total < best[0]:
            best = (total, spot, box)
    if best is None or (best[0] > _WORST and not request.must):
        return None
    return best[1], best[2]


Segment = tuple[float, float, float, float]


def leader(request: Request, spot: LabelCandidate) -> Segment:
    """From the chip's edge to the thing it names: its ring's edge, or its point."""
    box = chip_box(request, spot)
    x0 = min(max(request.x, box.x0), box.x1)
    y0 = min(max(request.y, box.y0), box.y1)
    far = float(np.hypot(request.x - x0, request.y - y0))
    cut = 0.0 if request.central or far <= 0 else min(request.radius_px / far, 1.0)
    return x0, y0, request.x + (x0 - request.x) * cut, request.y + (y0 - request.y) * cut


def leader_path(request: Request, spot: LabelCandidate, unit: float, colour: str) -> Path:
    """The line from a chip to what it names. unit: of the frame, see `Format`."""
    x0, y0, x1, y1 = leader(request, spot)
    return Path(points=((x0 - 0.5, y0 - 0.5), (x1 - 0.5, y1 - 0.5)), width_px=3 * unit, colour=colour)


def crosses_box(line: Segment, box: TurnedBox) -> bool:
    """Whether a line runs through a rectangle."""
    t = np.linspace(0.0, 1.0, 33)
    x, y = line[0] + t * (line[2] - line[0]), line[1] + t * (line[3] - line[1])
    return bool(((x > box.x0) & (x < box.x1) & (y > box.y0) & (y < box.y1)).any())


def _away(line: Segment, other: Request) -> float:
    """Distance of a line from another's point, pixels."""
    dx, dy = line[2] - line[0], line[3] - line[1]
    along = ((other.x - line[0]) * dx + (other.y - line[1]) * dy) / max(dx * dx + dy * dy, 1e-9)
    along = min(max(along, 0.0), 1.0)
    return float(np.hypot(line[0] + along * dx - other.x, line[1] + along * dy - other.y))


def _cross(a: Segment, b: Segment) -> bool:
    def side(p: Segment, x: float, y: float) -> float:
        return (p[2] - p[0]) * (y - p[1]) - (p[3] - p[1]) * (x - p[0])

    return (side(a, b[0], b[1]) * side(a, b[2], b[3]) < 0) and (side(b, a[0], a[1]) * side(b, a[2], a[3]) < 0)
