"""Where the names of a frame stand: inside their sea, in columns beside a whole disc, beside what they name in a close-up."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from moondesk.drawing import curves
from moondesk.drawing.blocks import Align, Block, box_at
from moondesk.drawing.boundary import X_HEIGHT, Column, Spot, Wanted, arrange
from moondesk.drawing.boxes import BoolArray, TurnedBox
from moondesk.drawing.rows import arrange_rows
from moondesk.drawing.seas import sea_map
from moondesk.drawing.stage import NameRequest, PlacedName, Stage
from moondesk.moon.geometry import pixel_to_surface, sun_altitude_deg, surface_to_pixel
from moondesk.moon.maps import maps, sample
from moondesk.records import MOON_RADIUS_KM, FloatArray, Pose

#: Pixels of a cell of the ground's map, at 1080 lines, and the Sun's height from which on ground is in the light.
_CELL, _IN_LIGHT = 6.0, 2.0
#: Free round a name inside its sea, in units of its size.
_INNER = 0.22
#: From a sea's dot to lines of the Moon's own and to its neighbours, shares of the frame's height.
_OFF_LINES = 0.02
#: Albedo from which on ground at a sea's edge is no longer its own, units of the Moon's mean (see `seas.DARK`).
_SHORE = 0.86
#: How much of a name may lie on a sea that is named and that it does not name.
_FOREIGN = 0.06
#: From what is lit to a column: as it is wanted, and at least; how wide a column is wanted, and at most. Lines of 1080.
_AWAY, _LEAST_AWAY, _WIDE, _WIDEST = 120.0, 62.0, 300.0, 430.0
#: Foremost features of a picture whose craters' ground names of others keep off: in a close-up, and inside a sea.
_WATCHED, _KEPT_FREE = 120, 40
#: And so many on whose ground no name stands that nobody asked for.
_FOREMOST = 30
#: From a name inside its sea to what stands fast, and to the course of a range, lines of 1080.
_FROM_FIXED, _FROM_COURSE = 26.0, 20.0
#: Between a name and its line, and between two names of a column.
_TO_LINE, _BETWEEN = 12.0, 30.0


def place_names(stage: Stage) -> dict[str, PlacedName]:
    """Places by key; names without one found none."""
    found: dict[str, PlacedName] = {}
    ground = SeaGround(stage)
    # what was asked for, then the seas: the last go first where there is no room
    requests = sorted(stage.requests, key=lambda r: (not r.must, not r.sea))
    for request in requests:
        inner = ground.place(request, [p.box for p in found.values()]) if request.sea else None
        if inner is not None:
            found[request.key] = inner
    others = [r for r in requests if r.key not in found]
    if not others:
        return found
    if not stage.found.whole:
        return found | _beside(stage, others, found, ground)
    if stage.format.upright:
        return found | arrange_rows(stage, others, found)
    return found | _in_columns(stage, others, found, ground)


# --- columns ----------------------------------------------------------------------------------------------------------


def columns_of(stage: Stage) -> tuple[Column, Column]:
    """Left and right of what is lit, as far as the frame's fixed parts let them reach."""
    fmt, u = stage.format, stage.format.unit
    lit = stage.found.lit or fmt.safe
    made = []
    for right in (False, True):
        side, outer = (lit.x1, fmt.safe.x1) if right else (lit.x0, fmt.safe.x0)
        way = 1.0 if right else -1.0
        away = min(max(abs(outer - side) - _WIDE * u, _LEAST_AWAY * u), _AWAY * u)
        edge = side + way * away
        reach = sorted((edge, edge + way * min(_WIDEST * u, abs(outer - edge))))
        top, bottom = fmt.safe.y0 + 10 * u, fmt.safe.y1
        blocked: tuple[float, float] | None = None
        for box in stage.fixed:
            if box.x0 < reach[1] and box.x1 > reach[0]:
                if box.y0 > fmt.height * 0.6:
                    bottom = min(bottom, box.y0 - _BETWEEN * u)
                elif box.y1 < fmt.height * 0.3:
                    top = max(top, box.y1 + _BETWEEN * u)
                else:
                    blocked = box.y0 - 12 * u, box.y1 + 12 * u
        made.append(
            Column(edge=edge, knee=edge - way * 0.8 * away, top=top, bottom=bottom, gap=_BETWEEN * u, blocked=blocked)
        )
    return made[0], made[1]


def _widened(column: Column, stage: Stage, width: float) -> Column:
    """A column with its edge nearer to the Moon, if a word is too long for it even in the smallest letters."""
    safe = stage.format.safe
    by = max(column.edge - (safe.x1 - width), 0.0) if column.right else min(column.edge - (safe.x0 + width), 0.0)
    return replace(column, edge=column.edge - by, knee=column.knee - 0.6 * by)


def column_width(stage: Stage) -> float:
    """How wide a name in a column may be: the narrower of the two decides, so that each name fits in both."""
    fmt, u = stage.format, stage.format.unit
    if fmt.upright:
        return 0.48 * fmt.safe.width
    left, right = columns_of(stage)
    return min(left.edge - fmt.safe.x0, fmt.safe.x1 - right.edge, _WIDEST * u)


def _in_columns(
    stage: Stage, requests: Sequence[NameRequest], placed: dict[str, PlacedName], ground: SeaGround
) -> dict[str, PlacedName]:
    u = stage.format.unit
    widest = max(r.block.width for r in requests) + _TO_LINE * u
    columns = tuple(_widened(c, stage, widest) for c in columns_of(stage))
    edges = [c.edge + (_TO_LINE * u if c.right else -_TO_LINE * u) for c in columns]
    stand = arrange(
        [Wanted(key=r.key, spots=r.spots, width=r.block.width, height=r.block.height, must=r.must) for r in requests],
        (columns[0], columns[1]),
        u,
        obstacles=[*(b.grow(10 * u) for b in stage.fixed), *(p.box.grow(X_HEIGHT * u) for p in placed.values())],
        lit_share=partial(lit_at, stage.pose),
        along=ground.grid_at,
    )
    blocks = {r.key: r.block for r in requests}
    return {
        key: PlacedName(
            block=blocks[key],
            x=edges[int(s.right)],
            y=s.y,
            align="left" if s.right else "right",
            spot=s.spot,
            line=s.line,
        )
        for key, s in stand.items()
    }


def lit_at(pose: Pose, x: FloatArray, y: FloatArray) -> FloatArray:
    """1 where the frame's points lie on lit ground, 0 elsewhere."""
    lat, lon = pixel_to_surface(pose, np.asarray(x, float) - 0.5, np.asarray(y, float) - 0.5)
    on = ~np.isnan(lat)
    sun = sun_altitude_deg(np.where(on, lat, 0), np.where(on, lon, 0), pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    return np.asarray(on & (sun > 0.0), float)


# --- inside a sea -----------------------------------------------------------------------------------------------------


class SeaGround:
    """Which ground of the frame is of which sea, in the light and in the picture, on a grid of cells."""

    def __init__(self, stage: Stage) -> None:
        fmt, pose = stage.format, stage.pose
        self._cell = _CELL * fmt.unit
        self._fmt, self._stage = fmt, stage
        x, y = np.meshgrid(
            np.arange(self._cell / 2, fmt.width, self._cell), np.arange(self._cell / 2, fmt.height, self._cell)
        )
        lat, lon = pixel_to_surface(pose, x - 0.5, y - 0.5)
        on = ~np.isnan(lat) & stage.inside(x - 0.5, y - 0.5)
        sun = sun_altitude_deg(
            np.where(on, lat, 0), np.where(on, lon, 0), pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
        )
        self._lit = on & (sun > _IN_LIGHT)
        self.owner = np.where(self._lit, sea_map().ground_at(lat, lon), -1)
        self._albedo = sample(
            maps().albedo, np.nan_to_num(lat).astype(np.float32), np.nan_to_num(lon).astype(np.float32)
        )
        self.grid = self._lines()

    def _lines(self) -> BoolArray:
        """Cells near equator, zero meridian and terminator."""
        drawn = np.zeros(self._lit.shape, np.uint8)
        pose = self._stage.pose
        for runs in (curves.equator(pose), curves.zero_meridian(pose), curves.terminator(pose)):
            for run in runs:
                at = (np.asarray(run) + 0.5) / self._cell - 0.5
                cv2.polylines(
                    drawn, [np.rint(np.clip(at, -4000, 8000) * 16).astype(np.int32)], False, 1, 1, cv2.LINE_8, 4
                )
        return drawn > 0

    def grid_at(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """1 where a line of the Moon's own runs within a cell or two of the frame's points, 0 elsewhere."""
        near = cv2.dilate(self.grid.astype(np.uint8), np.ones((3, 3), np.uint8))
        rows, cols = near.shape
        row, col = (np.clip((np.asarray(k) / self._cell).astype(int), 0, n - 1) for k, n in ((y, rows), (x, cols)))
        return np.asarray(near[row, col], float)

    def mask(self, sea: str) -> BoolArray:
        """The ground of a sea without the holes that islands and young craters make."""
        own = self.owner == sea_map().number.get(sea, -2)
        dark = own & (self._albedo < _SHORE)
        if dark.sum() > 0.6 * own.sum():  # the map of seas goes by whole degrees, their shores do not
            own = dark
        side = max(3, int(0.012 * self._stage.pose.radius_px / self._cell) * 2 + 1)
        kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
        closed = cv2.morphologyEx(own.astype(np.uint8), cv2.MORPH_CLOSE, kernel) > 0
        return np.asarray(closed & self._lit & ((self.owner < 0) | own))

    def lit_share(self) -> float:
        """How much of the frame is ground in the light."""
        return float(self._lit.mean())

    def foreign(self, box: TurnedBox, named: Collection[str], spot: Spot) -> float:
        """How much of a box lies on seas that are named in the frame, but for that in which a spot lies."""
        y0, y1, x0, x1 = (max(int(k / self._cell), 0) for k in (box.y0, box.y1, box.x0, box.x1))
        part = self.owner[y0 : y1 + 1, x0 : x1 + 1]
        row, col = (
            int(np.clip(k / self._cell, 0, n - 1)) for k, n in zip((spot.y, spot.x), self.owner.shape, strict=True)
        )
        numbers = [sea_map().number[name] for name in named if name in sea_map().number]
        return float(np.isin(part, [n for n in numbers if n != self.owner[row, col]]).mean()) if part.size else 0.0

    def on_grid(self, box: TurnedBox) -> bool:
        """Whether a line of the Moon's own runs through a box."""
        y0, y1, x0, x1 = (max(int(k / self._cell), 0) for k in (box.y0, box.y1, box.x0, box.x1))
        return bool(self.grid[y0 : y1 + 1, x0 : x1 + 1].any())

    def middle(self, sea: str) -> list[tuple[float, float]]:
        """Points of a sea's ground that a line may end at, the best first: its middle, and others nearly as far in."""
        own = self.mask(sea)
        framed = np.zeros_like(own)
        edge = int(30 * self._fmt.unit / self._cell)
        framed[edge:-edge, edge:-edge] = own[edge:-edge, edge:-edge]
        for box in self._stage.taken:
            y0, y1, x0, x1 = (
                max(int(k / self._cell), 0) for k in (box.y0, box.y1 + self._cell, box.x0, box.x1 + self._cell)
            )
            framed[y0:y1, x0:x1] = False
        if framed.sum() < 3:
            return []
        # darkest where the sea is deepest in the map, well off its shores, the lines and what is its neighbours'
        others = self.grid | ((self.owner >= 0) & (self.owner != sea_map().number.get(sea, -2)))
        away = cv2.distanceTransform((~others).astype(np.uint8), cv2.DIST_L2, 5)
        clear = framed & (away * self._cell > (_OFF_LINES * self._fmt.height + 6 * self._fmt.unit))
        if clear.sum() < 3:
            clear = framed
        depth = cv2.distanceTransform(np.pad(framed, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
        ys, xs = np.nonzero(clear)
        far = np.hypot(xs - xs.mean(), ys - ys.mean())
        worth = np.where(clear, depth, 0.0)
        bright = self._albedo[ys, xs] / max(float(np.median(self._albedo[ys, xs])), 1e-6) - 1.0
        score = worth[ys, xs] - 0.35 * far - 1.2 * float(depth.max()) * np.maximum(bright, -0.15)
        points: list[tuple[float, float]] = []
        apart = max(4.0, 0.35 * float(depth.max()))
        for k in np.argsort(-score):
            if worth[ys[k], xs[k]] < 0.45 * worth.max():
                continue
            x, y = (xs[k] + 0.5) * self._cell, (ys[k] + 0.5) * self._cell
            if all(abs(y - b) > apart * self._cell * 0.6 for _, b in points):
                points.append((float(x), float(y)))
            if len(points) == 6:
                break
        return points

    def place(self, request: NameRequest, taken: Sequence[TurnedBox]) -> PlacedName | None:
        """Where a name stands on its own sea, at the largest of its sizes that fits; None where none does."""
        own = self.mask(request.sea)
        free = own.copy()
        for box in (*(b.grow(_FROM_FIXED * self._fmt.unit) for b in self._stage.taken), *taken):
            y0, y1, x0, x1 = (
                max(int(k / self._cell), 0) for k in (box.y0, box.y1 + self._cell, box.x0, box.x1 + self._cell)
            )
            free[y0:y1, x0:x1] = False
        for other in self._stage.requests:  # what is pointed at within stays free
            for spot in other.spots[:1]:
                if other.key != request.key and not other.sea:
                    reach = max(spot.rx, spot.ry) + 6 * self._fmt.unit
                    y0, y1, x0, x1 = (
                        max(int(k / self._cell), 0)
                        for k in (
                            spot.y - reach,
                            spot.y + reach + self._cell,
                            spot.x - reach,
                            spot.x + reach + self._cell,
                        )
                    )
                    free[y0:y1, x0:x1] = False
        for x, y in (p for other in self._stage.requests for p in other.course):
            row, col, reach = int(y / self._cell), int(x / self._cell), int(_FROM_COURSE * self._fmt.unit / self._cell)
            free[max(row - reach, 0) : row + reach + 1, max(col - reach, 0) : col + reach + 1] = False
        for crater in _craters(self._stage, set(), _KEPT_FREE):
            y0, y1, x0, x1 = (
                max(int(k / self._cell), 0)
                for k in (crater.y - crater.ry, crater.y + crater.ry, crater.x - crater.rx, crater.x + crater.rx)
            )
            free[y0 : y1 + 1, x0 : x1 + 1] = False
        if not free.any():
            return None
        total, lines = (
            np.pad(np.cumsum(np.cumsum(cells.astype(np.int64), axis=0), axis=1), ((1, 0), (1, 0)))
            for cells in (free, self.grid)
        )
        safe = self._fmt.safe
        rows, cols = free.shape
        cy, cx = np.mgrid[0:rows, 0:cols]
        px, py = (cx + 0.5) * self._cell, (cy + 0.5) * self._cell
        ys, xs = np.nonzero(own)
        mx, my = (xs.mean() + 0.5) * self._cell, (ys.mean() + 0.5) * self._cell
        for block in request.inside:
            pad = _INNER * block.lines[0].size_px
            across, down = block.width / 2 + pad, block.height / 2 + pad
            good = _share(total, px - across, py - down, px + across, py + down, self._cell) > 0.999
            good &= (px - block.width / 2 >= safe.x0) & (px + block.width / 2 <= safe.x1)
            good &= (py - block.height / 2 >= safe.y0) & (py + block.height / 2 <= safe.y1)
            if good.any():
                on_lines = _share(lines, px - across, py - down, px + across, py + down, self._cell)
                away = np.where(good, np.hypot(px - mx, py - my) + 400.0 * self._fmt.unit * on_lines, np.inf)
                k = np.unravel_index(int(np.argmin(away)), away.shape)
                x, y = float(px[k]), float(py[k])
                return PlacedName(block=block, x=x, y=y, align="middle", spot=Spot(x=x, y=y, rx=0.0, ry=0.0))
        return None


def _share(
    total: NDArray[np.int64], x0: FloatArray, y0: FloatArray, x1: FloatArray, y1: FloatArray, cell: float
) -> FloatArray:
    """Share of true cells in boxes, by sums over all cells above and left (F. Crow 1984)."""
    rows, cols = total.shape[0] - 1, total.shape[1] - 1
    a, b = np.floor(x0 / cell).astype(int), np.ceil(x1 / cell).astype(int)
    c, d = np.floor(y0 / cell).astype(int), np.ceil(y1 / cell).astype(int)
    inside = (a >= 0) & (c >= 0) & (b <= cols) & (d <= rows)
    a, b, c, d = np.clip(a, 0, cols), np.clip(b, 0, cols), np.clip(c, 0, rows), np.clip(d, 0, rows)
    count = total[d, b] - total[c, b] - total[d, a] + total[c, a]
    return np.asarray(np.where(inside, count / np.maximum((b - a) * (d - c), 1), 0.0))


# --- beside what they name, in a close-up -----------------------------------------------------------------------------


def _beside(
    stage: Stage, requests: Sequence[NameRequest], placed: dict[str, PlacedName], ground: SeaGround
) -> dict[str, PlacedName]:
    """Each name next to its ring or course, on no other's and no other name; without a free place it is left out."""
    found: dict[str, PlacedName] = {}
    u, room = stage.format.unit, stage.format.safe
    rings = {r.key: r.spots[0] for r in requests}
    courses = np.array([p for r in requests for p in r.course] or [(-1e6, -1e6)])
    every = _craters(stage, {r.key for r in requests}, _WATCHED)
    for request in requests:
        if request.sea and not request.must:
            continue  # larger than what shows of its sea
        taken = [*stage.taken, *(p.box for p in (*placed.values(), *found.values()))]
        off_course = 0.3 * request.beside.lines[0].size_px
        best: tuple[float, PlacedName] | None = None
        for spot, (cost, x, y, align) in _places_of(request, u):
            box = box_at(request.beside, x, y, align)
            if not room.holds(box) or any(box.grow(10 * u).touches(t) for t in taken):
                continue
            near = any(_on_ring(box.grow(12 * u), ring) for key, ring in rings.items() if key != request.key)
            if near or (request.ring and _on_ring(box.grow(5 * u), spot)):
                continue
            if box.grow(off_course).around(courses[:, 0], courses[:, 1]).any():
                continue
            foreign, on_others = ground.foreign(box, placed, spot), sum(_on_ring(box, c) for c in every)
            if not request.must and (foreign > _FOREIGN or any(_on_ring(box, c) for c in every[:_FOREMOST])):
                continue
            cost += (
                0.5 * on_others
                + 3.0 * sum(_on_ring(box, c) for c in every[:_KEPT_FREE])
                + 3.0 * foreign
                + 1.0 * ground.on_grid(box.grow(6 * u))
            )
            if best is None or cost < best[0]:
                best = cost, PlacedName(block=request.beside, x=x, y=y, align=align, spot=spot)
        if best is not None:
            found[request.key] = best[1]
    return found


def _places_of(request: NameRequest, u: float) -> Iterator[tuple[Spot, tuple[float, float, float, Align]]]:
    """Places beside what a request names; along a course the middle first."""
    for k, spot in enumerate(request.spots if request.course else request.spots[:1]):
        for cost, x, y, align in _places_round(spot, request.beside, u):
            yield spot, (cost + 0.12 * k, x, y, align)


def _craters(stage: Stage, named: set[str], watched: int) -> list[Spot]:
    """Where the foremost craters lie that get no name: one beside them would be read as theirs."""
    marks = sorted(stage.annotation.features, key=lambda m: -m.prominence * m.seen)
    found = []
    for mark in marks[:watched]:
        f = mark.feature
        if f.kind == "crater" and f.name not in named:
            at = surface_to_pixel(stage.pose, f.lat_deg, f.lon_deg)
            if float(at.mu) > 0:
                r = 0.9 * f.size_km / 2 / MOON_RADIUS_KM * stage.pose.radius_px
                found.append(Spot(x=float(at.x) + 0.5, y=float(at.y) + 0.5, rx=r, ry=r))
    return found


def _places_round(spot: Spot, block: Block, u: float) -> Iterator[tuple[float, float, float, Align]]:
    """Places beside a ring with their costs: right and a little above first (E. Imhof 1975)."""
    gap, h = 9 * u, block.height / 2
    for extra in (0.0, 16 * u, 40 * u):
        dx, dy = spot.rx + gap + extra, spot.ry + gap + extra
        d = 0.75
        worse = extra / (20 * u)
        yield 0.0 + worse, spot.x + dx, spot.y, "left"
        yield 0.1 + worse, spot.x + d * dx, spot.y - d * dy - 0.3 * h, "left"
        yield 0.2 + worse, spot.x + d * dx, spot.y + d * dy + 0.3 * h, "left"
        yield 0.3 + worse, spot.x - dx, spot.y, "right"
        yield 0.35 + worse, spot.x, spot.y - dy - h, "middle"
        yield 0.4 + worse, spot.x, spot.y + dy + h, "middle"
        yield 0.45 + worse, spot.x - d * dx, spot.y - d * dy - 0.3 * h, "right"
        yield 0.5 + worse, spot.x - d * dx, spot.y + d * dy + 0.3 * h, "right"


def _on_ring(box: TurnedBox, spot: Spot) -> bool:
    """Whether a box touches what a ring encloses."""
    x, y = min(max(spot.x, box.x0), box.x1), min(max(spot.y, box.y0), box.y1)
    return bool(((x - spot.x) / max(spot.rx, 1e-6)) ** 2 + ((y - spot.y) / max(spot.ry, 1e-6)) ** 2 < 1.0)
