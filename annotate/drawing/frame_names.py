"""Which seas and features get a name in a frame, what each points at, and how it is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.blocks import set_block
from moondesk.drawing.boundary import Point, Spot
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.courses import course_vectors
from moondesk.drawing.frame import TextBox, slug
from moondesk.drawing.name_places import SeaGround, column_width
from moondesk.drawing.seas import sea_map
from moondesk.drawing.shapes import Dot, Path, Shape
from moondesk.drawing.stage import DrawnLayer, NameRequest, Placed, PlacedName, Plan, Stage
from moondesk.drawing.style import AREA_KINDS, LONG_KINDS
from moondesk.moon.geometry import sun_altitude_deg, surface_to_pixel
from moondesk.records import MOON_RADIUS_KM, Annotation, Feature, FeatureMark, NotFound

#: As for every label: less light or less chance of being made out, and nothing is pointed at.
LEAST_LIT, LEAST_SEEN, LEAST_SEEN_ASKED = 0.05, 0.3, 0.05
#: The seas that the naked eye knows (as the audience does), in the order in which a frame names them: by size and
#: fame, and the one that stands alone before one that runs into its neighbours; common practice. Others come after them.
NAKED_EYE_SEAS = (
    "Oceanus Procellarum",
    "Mare Imbrium",
    "Mare Tranquillitatis",
    "Mare Crisium",
    "Mare Serenitatis",
    "Mare Fecunditatis",
    "Mare Nubium",
    "Mare Humorum",
    "Mare Nectaris",
    "Mare Frigoris",
)
#: Share of a sea in sunlight from which on it is named by its rank, and of any from which on it is named at all.
_RANKED_LIT, _NAMED_LIT = 0.45, 0.3
#: A sea below this size in the frame is no sight; share of its ground that must lie in a close-up.
LEAST_SEA, _IN_FRAME = 40.0, 0.15
#: Craters of this size, and all ranges, are set in the second size, km; the seas of the first; features of those
#: offered must lie so far apart, pixels at 1080 lines.
GREAT_KM, FIRST_SEA_KM, APART = 90.0, 500.0, 80.0
#: A close-up with this share in the light bears all names; every one bears so many.
_LIT_CLOSE_UP, _LEAST_NAMES = 0.8, 3
#: So many seas more where there are fewer features than there is room for.
_MORE_SEAS = 2
#: Width of rings, courses and leader lines, and the least radius of a ring, pixels at 1080 lines.
RING, COURSE, LEADER, LEAST_RING = 2.8, 3.0, 2.0, 7.0
#: Radius of a dot, half the length of the strokes across a course's ends; the Sun's height from which on a course is
#: drawn, degrees.
DOT, _TICK, _SUN_ON_COURSE = 5.0, 9.0, 0.5
#: Ground below this share of the brightest of the picture is black; so much of a ring must be above it; every so many
#: pixels are looked at for the brightest.
BLACK, _BRIGHT_SHARE, _SPARSE = 0.16, 0.5, 4
#: Tells the line from a name to what it names from other lines.
LEADING = "leader"


@dataclass(frozen=True, eq=False)
class FittedName:
    """A feature of the frame with its name. title: as it stands there; rank: of its letters."""

    mark: FeatureMark
    title: str
    request: NameRequest
    rank: int

    @property
    def cap_px(self) -> float:
        """Height of its capitals in a column."""
        return self.request.block.lines[0].cap_px


def plan_names(stage: Stage) -> Plan | NotFound:
    """The features that were asked for, in their order, each a layer, and why some cannot be shown; then of those
    offered as many as lie well in the frame, chosen only now that it is known what the frame shows."""
    wanted = stage.wanted
    ground = SeaGround(stage)
    found: list[FittedName] = []
    left: list[NotFound] = []
    for name in wanted.features:
        asked = _named_or_why_not(name, stage, ground, LEAST_SEEN_ASKED, must=True)
        if isinstance(asked, FittedName):
            found.append(asked)
        elif asked.stage == "text":
            return asked
        else:
            left.append(asked)
    room = _most(stage, ground) - min(wanted.seas, len(_named_seas(stage, ground)))
    if not stage.found.whole:  # a sea that its close-up cuts often has no room for its name: some craters stand anyway
        room = max(room, _LEAST_NAMES)
    ranges = 0
    for name in wanted.offered:
        if len(found) >= room:
            break
        other = _named_or_why_not(name, stage, ground, LEAST_SEEN) if name not in wanted.features else None
        if isinstance(other, NotFound) and other.stage == "text":
            return other
        if not isinstance(other, FittedName) or not _lies_well(other, found, stage):
            continue
        if not _is_bright(other, stage):
            continue
        if other.mark.feature.kind not in ("crater", "sea"):
            if ranges >= 2:
                continue
            ranges += 1
        found.append(other)
    found = _evened(found, stage, ground)

    def draw(placed: Placed) -> Iterator[DrawnLayer]:
        placed.left_out.extend(left)
        names: set[str] = set()
        for named in found:
            key = named.request.key
            if key in placed.names:
                shapes, texts = draw_name(named, placed, stage)
                head, _, local = named.title.partition("\n")
                title = f"{head} ({local})" if local else head
                yield DrawnLayer(title=title, shapes=shapes, texts=texts, name=_new_name(f"feature-{key}", names))
            elif key in wanted.features:
                left_out = NotFound("feature", f"There is no room left for {key}.", "Ask for fewer features.")
                placed.left_out.append(left_out)

    return Plan(draw=draw, requests=tuple(n.request for n in found))


def _most(stage: Stage, ground: SeaGround) -> int:
    """How many names at once: fewer in a close-up of which little is lit, or they would be most of what is seen."""
    if stage.found.whole:
        return stage.wanted.most
    return max(_LEAST_NAMES, round(stage.wanted.most * min(ground.lit_share() / _LIT_CLOSE_UP, 1.0)))


def _lies_well(named: FittedName, others: list[FittedName], stage: Stage) -> bool:
    """Whether a feature that nobody asked for lies in the frame's safe part and apart from the others."""
    spot, u = named.request.spots[0], stage.format.unit
    if not stage.format.safe.around(spot.x, spot.y) and not stage.found.whole:
        return False
    if named.mark.feature.kind == "crater" and spot.rx <= LEAST_RING * u + 0.01:
        return False
    for other in others:
        s = other.request.spots[0]
        if np.hypot(s.x - spot.x, s.y - spot.y) < APART * u + max(spot.rx, spot.ry) + max(s.rx, s.ry) - 20 * u:
            return False
    return True


def _is_bright(named: FittedName, stage: Stage) -> bool:
    """Whether the photograph itself shows light within a crater's ring: by the Sun's height alone a rim counts as lit
    whose ground lies in a long shadow, or below what the camera could take."""
    if named.mark.feature.kind != "crater":
        return True
    ring = np.array(named.request.ring)
    low, high = ring.min(axis=0), ring.max(axis=0)
    t = np.linspace(0.0, 1.0, 15)
    x, y = (g.ravel() for g in np.meshgrid(low[0] + t * (high[0] - low[0]), low[1] + t * (high[1] - low[1])))
    px, py, _ = stage.found.lookup(x - 0.5, y - 0.5)
    height, width = stage.rgb.shape[:2]
    column, row = np.rint(px).astype(int), np.rint(py).astype(int)
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    if not inside.any():
        return False
    green = stage.rgb[..., 1]
    bright = green[row[inside], column[inside]] > BLACK * np.percentile(green[::_SPARSE, ::_SPARSE], 99.0)
    return float(bright.mean()) >= _BRIGHT_SHARE


def _new_name(name: str, taken: set[str]) -> str:
    """A layer's name, another one for each."""
    base = found = slug(name)
    k = 1
    while found in taken:
        k += 1
        found = f"{base}-{k}"
    taken.add(found)
    return found


def _named_or_why_not(
    name: str, stage: Stage, ground: SeaGround, least_seen: float, must: bool = False
) -> FittedName | NotFound:
    mark = find_mark(stage.annotation, name, least_seen)
    return _fit_name(mark, stage, ground, must) if isinstance(mark, FeatureMark) else mark


def find_mark(annotation: Annotation, name: str, least_seen: float = LEAST_SEEN_ASKED) -> FeatureMark | NotFound:
    """The feature of that name in a picture, if there is light on it and it can be made out; else why not."""
    mark = next((m for m in annotation.features if m.feature.name == name), None)
    if mark is None:
        return NotFound("feature", f"{name} is not in this picture.", "Choose another feature.")
    if mark.lit_fraction < LEAST_LIT:
        return NotFound("feature", f"{name} is not in the light of this picture.", "Choose another feature.")
    if mark.seen < least_seen:
        return NotFound("feature", f"{name} cannot be made out in this picture.", "Choose another feature.")
    return mark


def _named_seas(stage: Stage, ground: SeaGround) -> list[FeatureMark]:
    """Seas and their like that are worth a name in the frame, the foremost first; those asked for by name are out."""
    annotation, wanted = stage.annotation, stage.wanted
    ratio = stage.pose.radius_px / annotation.pose.radius_px if annotation.pose else 1.0
    marks = [
        m
        for m in annotation.features
        if m.feature.kind in AREA_KINDS
        and m.lit_fraction >= _NAMED_LIT
        and m.seen >= LEAST_SEEN
        and m.radius_px * ratio >= LEAST_SEA * wanted.format.unit
        and m.feature.name not in wanted.features
        and (stage.found.whole or _share_in_frame(m.feature, stage) >= _IN_FRAME)
    ]
    rank = {name: k for k, name in enumerate(NAKED_EYE_SEAS)}

    def order(m: FeatureMark) -> tuple[int, float, str]:
        known = rank.get(m.feature.name, 99) if m.lit_fraction >= _RANKED_LIT else 50
        return known, -m.prominence * m.seen, m.feature.name

    if 2 * sum(m.feature.name in wanted.texts.names for m in marks) >= len(marks):  # a frame speaks one language
        marks = [m for m in marks if m.feature.name in wanted.texts.names or not wanted.texts.names]
    ranked = sorted(marks, key=order)
    best = [m for m in ranked if m.feature.name in rank]
    # a small neighbour is named only where too few of the great ones are in the light
    others = [m for m in ranked if m.feature.name not in rank] if len(best) < 3 or not stage.found.whole else []
    return [m for m in (*best, *others) if ground.middle(m.feature.name)]


def _share_in_frame(feature: Feature, stage: Stage) -> float:
    """How much of a sea's ground lies in the frame and in the picture."""
    seas, fmt = sea_map(), stage.format
    cells = seas.cells[seas.number[feature.name]]
    if not len(cells):
        return 0.0
    lat, lon = np.degrees(np.arcsin(cells[:, 2])), np.degrees(np.arctan2(cells[:, 1], cells[:, 0]))
    at = surface_to_pixel(stage.pose, lat, lon)
    inside = (at.x > 0) & (at.x < fmt.width) & (at.y > 0) & (at.y < fmt.height) & (at.mu > 0.05)
    return float((inside & stage.inside(at.x, at.y)).mean())


def seas(stage: Stage) -> Plan | NotFound:
    """The seas' names, in one layer."""
    wanted = stage.wanted
    ground = SeaGround(stage)
    features = sum(1 for r in stage.requests if not r.key.startswith("~"))
    found: list[FittedName] = []
    for mark in _named_seas(stage, ground):
        if len(found) >= min(wanted.seas + _MORE_SEAS, _most(stage, ground) - features):
            break
        named = _fit_name(mark, stage, ground, must=False)
        if isinstance(named, FittedName):
            found.append(named)
        elif named.stage == "text":
            return named
    found = _evened(found, stage, ground)

    def draw(placed: Placed) -> Iterator[DrawnLayer]:
        parts = [draw_name(n, placed, stage) for n in found if n.request.key in placed.names]
        if parts:
            yield DrawnLayer(
                title=stage.words["seas"],
                shapes=tuple(s for shapes, _ in parts for s in shapes),
                texts=tuple(t for _, texts in parts for t in texts),
            )

    return Plan(draw=draw, requests=tuple(n.request for n in found))


def _evened(found: list[FittedName], stage: Stage, ground: SeaGround) -> list[FittedName]:
    """Names with all of a rank as large as the smallest of it: a longer word must not make a lesser sea."""
    least = {n.rank: min(m.cap_px for m in found if m.rank == n.rank) for n in found}
    evened = []
    for n in found:
        other = n
        if n.cap_px > least[n.rank] + 0.1:
            fitted = _fit_name(n.mark, stage, ground, n.request.must, least[n.rank])
            other = fitted if isinstance(fitted, FittedName) else n
        evened.append(other)
    return evened


def _rank_of(feature: Feature, stage: Stage) -> int:
    """Of a name's letters: great seas, then ranges, great craters and other seas, then the rest. In a close-up what it
    is about, then seas."""
    zoom, area = stage.wanted.zoom, feature.kind in AREA_KINDS
    if not stage.found.whole:
        about = zoom is not None and (zoom.lat_deg, zoom.lon_deg) == (feature.lat_deg, feature.lon_deg)
        return 0 if about else 1 if area else 2
    if area:
        return 0 if feature.size_km >= FIRST_SEA_KM else 1
    return 1 if feature.size_km >= GREAT_KM or feature.kind == "mountain range" else 2


def _fit_name(
    mark: FeatureMark, stage: Stage, ground: SeaGround, must: bool, most_cap: float = np.inf
) -> FittedName | NotFound:
    feature, theme, fmt = mark.feature, stage.theme, stage.format
    away = NotFound(
        "feature",
        f"{feature.name} is not in this part of the picture, or lies under a plate of the frame.",
        f"Choose another feature, or a frame about {feature.name} itself.",
    )
    area = feature.kind in AREA_KINDS
    spots = _spots(mark, stage, ground)
    if not spots:
        return away
    title = stage.wanted.texts.names.get(feature.name, feature.name)
    colour = theme.seas if area else theme.ranges if feature.kind != "crater" else theme.craters
    rank, colours = _rank_of(feature, stage), (colour, theme.soft)
    blocks = [
        set_block(title, fmt, rank, theme, colours, width, slanting=area, black=black, most_cap=most_cap)
        for width, black in ((column_width(stage), stage.black), (0.34 * fmt.safe.width, False))
    ]
    inner = []
    if area:  # in one line or in two, as large as outside
        for width in (fmt.safe.width, 1.0):
            inner.append(
                set_block(
                    title, fmt, rank, theme, colours, width, True, black=False, most=2, most_cap=most_cap, shrink=False
                )
            )
    for block in (*blocks, *inner):
        if isinstance(block, NotFound):
            return block
    plain = [b for b in (*blocks, *inner) if not isinstance(b, NotFound)]
    request = NameRequest(
        key=feature.name,
        block=plain[0],
        beside=plain[1],
        spots=spots,
        colour=colour,
        must=must,
        sea=feature.name if area else "",
        inside=tuple(plain[2:]),
        course=_points_along(feature, stage) if not area and feature.kind != "crater" else (),
        ring=_ring_of(feature, stage) if feature.kind == "crater" else (),
    )
    return FittedName(mark, title, request, rank)


def _points_along(feature: Feature, stage: Stage) -> tuple[tuple[float, float], ...]:
    """Points close together along what is drawn of a course, with the strokes across its ends."""
    found: list[tuple[float, float]] = []
    for line in _course_lines(feature, stage):
        for (x0, y0), (x1, y1) in pairwise(line):
            n = max(2, int(np.hypot(x1 - x0, y1 - y0) / (4 * stage.format.unit)))
            found += [(x0 + t * (x1 - x0) + 0.5, y0 + t * (y1 - y0) + 0.5) for t in np.linspace(0.0, 1.0, n).tolist()]
    return tuple(found)


def _spots(mark: FeatureMark, stage: Stage, ground: SeaGround) -> tuple[Spot, ...]:
    """What the name may point at, the best first; none where it is not in the frame."""
    feature, u = mark.feature, stage.format.unit
    if feature.kind in AREA_KINDS:
        return tuple(Spot(x=x, y=y, rx=DOT * u, ry=DOT * u) for x, y in ground.middle(feature.name))
    if course_vectors(feature.name) is not None:
        for points in _course_lines(feature, stage)[:1]:
            order = sorted(range(len(points)), key=lambda k: abs(k - (len(points) - 1) / 2))
            r = 0.5 * COURSE * u
            return tuple(
                Spot(x=points[k][0] + 0.5, y=points[k][1] + 0.5, rx=r, ry=r) for k in order[:: max(1, len(order) // 7)]
            )
        return ()
    at_one = surface_to_pixel(stage.pose, feature.lat_deg, feature.lon_deg)
    x, y = float(at_one.x) + 0.5, float(at_one.y) + 0.5
    if float(at_one.mu) <= 0 or not stage.free(x, y):
        return ()
    if feature.kind != "crater":
        return (Spot(x=x, y=y, rx=11 * u, ry=11 * u),)
    rim = np.array(_ring_of(feature, stage))
    around = TurnedBox(*rim.min(axis=0).tolist(), *rim.max(axis=0).tolist())
    if any(box.touches(around) for box in stage.taken):  # half a ring is none
        return ()
    rx, ry = float(np.ptp(rim[:, 0])) / 2, float(np.ptp(rim[:, 1])) / 2
    pad = 0.5 * RING * u
    middle = (rim.max(axis=0) + rim.min(axis=0)) / 2
    return (Spot(x=float(middle[0]), y=float(middle[1]), rx=rx + pad, ry=ry + pad),)


def _ring_of(feature: Feature, stage: Stage) -> tuple[Point, ...]:
    """The outline of what is drawn round a crater, from the frame's corner."""
    runs = curves.rings(stage.pose, feature, _ring_km(feature, stage))
    return tuple((x + 0.5, y + 0.5) for run, _ in runs for x, y in run)


def _ring_km(feature: Feature, stage: Stage) -> float:
    """Diameter of the ring that is drawn: the rim's own, of what would be a blot the smallest ring."""
    return max(feature.size_km, 2 * LEAST_RING * stage.format.unit / stage.pose.radius_px * MOON_RADIUS_KM)


def draw_name(named: FittedName, placed: Placed, stage: Stage) -> tuple[tuple[Shape, ...], tuple[TextBox, ...]]:
    """Ring, course or dot, line and letters of a feature that found room."""
    at = placed.names[named.request.key]
    if at.line and named.request.ring:
        at = replace(at, line=_to_ring(at.line, named.request.ring))
    shapes = [*placed.clear(_draw_mark(named, at, stage)), *leader(at, named.request.colour, stage)]
    letters, texts = at.block.at(at.x, at.y, at.align, stage.theme.halo)
    return (*shapes, *letters), texts


def _to_ring(line: tuple[Point, ...], ring: tuple[Point, ...]) -> tuple[Point, ...]:
    """A line whose first, level or upright piece begins on a ring itself, which near the limb stands aslant in the
    ellipse that it was planned with."""
    (x0, y0), (x1, y1) = line[:2]
    level = abs(y1 - y0) < abs(x1 - x0)
    along, across, end = (0, y0, x1) if level else (1, x0, y1)
    p = np.array([*ring, ring[0]])
    a, b = p[:-1, 1 - along] - across, p[1:, 1 - along] - across
    meets = []
    for k in np.flatnonzero(a * b <= 0.0).tolist():
        s = a[k] / (a[k] - b[k]) if a[k] != b[k] else 0.0
        meets.append(float(p[k, along] + s * (p[k + 1, along] - p[k, along])))
    if not meets:
        return line
    nearest = min(meets, key=lambda v: abs(v - end))
    return ((nearest, y0) if level else (x0, nearest), *line[1:])


def leader(at: PlacedName, colour: str, stage: Stage) -> Iterator[Path]:
    """The line from a name to what it names, if there is one."""
    if at.line:
        points = tuple((x - 0.5, y - 0.5) for x, y in at.line)
        yield Path(points=points, width_px=LEADER * stage.format.unit, colour=colour, opacity=0.78, layer=LEADING)


def _draw_mark(named: FittedName, at: PlacedName, stage: Stage) -> Iterator[Shape]:
    feature, u, pose = named.mark.feature, stage.format.unit, stage.pose
    colour = named.request.colour
    if feature.kind == "crater":
        for points, closed in curves.rings(pose, feature, _ring_km(feature, stage)):
            yield Path(points=points, closed=closed, width_px=RING * u, colour=colour)
        return
    if named.request.course:
        for points in _course_lines(feature, stage):
            yield Path(points=points, width_px=COURSE * u, colour=colour, opacity=0.95)
        return
    x, y = at.spot.x - 0.5, at.spot.y - 0.5
    if feature.kind in AREA_KINDS:
        if at.line:
            yield Dot(x=x, y=y, radius_px=DOT * u, colour=colour)
        return
    if feature.kind in LONG_KINDS:
        yield Dot(x=x, y=y, radius_px=DOT * u, colour=colour)
        return
    r = 9 * u  # a peak or cape: a triangle
    yield Path(
        points=((x, y - r), (x + 0.9 * r, y + 0.7 * r), (x - 0.9 * r, y + 0.7 * r)),
        closed=True,
        width_px=RING * u,
        colour=colour,
    )


def _course_lines(feature: Feature, stage: Stage) -> list[curves.Points]:
    """The longest stretch of a feature's course that lies in the light and in the frame, and short strokes across its
    ends; empty where there is none."""
    pose, fmt, course = stage.pose, stage.format, course_vectors(feature.name)
    if course is None:
        return []
    lat, lon = np.degrees(np.arcsin(course[:, 2])), np.degrees(np.arctan2(course[:, 1], course[:, 0]))
    sun = sun_altitude_deg(lat, lon, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    at = surface_to_pixel(pose, lat, lon)
    shown = (sun > _SUN_ON_COURSE) & (at.mu > 0) & stage.inside(at.x, at.y)
    shown &= (at.x > 0) & (at.x < fmt.width) & (at.y > 0) & (at.y < fmt.height)
    for box in stage.taken:
        shown &= ~box.grow(12 * fmt.unit).around(at.x + 0.5, at.y + 0.5)
    a, b = max(curves.stretches(shown), key=lambda run: run[1] - run[0], default=(0, 0))
    if b - a < 3:
        return []
    points = tuple(zip(at.x[a:b].tolist(), at.y[a:b].tolist(), strict=True))
    lines: list[curves.Points] = [points]
    for (x0, y0), (x1, y1) in ((points[0], points[min(3, b - a - 1)]), (points[-1], points[-min(4, b - a)])):
        dx, dy = x1 - x0, y1 - y0
        half = _TICK * fmt.unit / max(float(np.hypot(dx, dy)), 1e-9)
        lines.append(((x0 + dy * half, y0 - dx * half), (x0 - dy * half, y0 + dx * half)))
    return lines
