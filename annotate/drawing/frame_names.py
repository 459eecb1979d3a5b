"""Which seas and features get a name in a frame, what each points at, and how it is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.blocks import set_block
from moondesk.drawing.boundary import Spot
from moondesk.drawing.courses import course_vectors
from moondesk.drawing.frame import TextBox, slug
from moondesk.drawing.name_places import SeaGround, column_width
from moondesk.drawing.seas import sea_map
from moondesk.drawing.shapes import Dot, Path, Shape
from moondesk.drawing.stage import DrawnLayer, NameRequest, Placed, PlacedName, Plan, Stage
from moondesk.drawing.style import AREA_KINDS, LONG_KINDS
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import MOON_RADIUS_KM, Annotation, Feature, FeatureMark, NotFound

#: As for every label: less light or less chance of being made out, and nothing is pointed at.
LEAST_LIT, LEAST_SEEN, LEAST_SEEN_ASKED = 0.05, 0.3, 0.05
#: The seas that the naked eye knows (as the audience does), in the order in which a frame names them: by size and
#: fame, common practice. Others come after them.
NAKED_EYE_SEAS = (
    "Oceanus Procellarum",
    "Mare Imbrium",
    "Mare Tranquillitatis",
    "Mare Serenitatis",
    "Mare Crisium",
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
RING, COURSE, LEADER, LEAST_RING = 2.8, 3.2, 2.2, 7.0
#: Tells the line from a name to what it names from other lines.
LEADING = "leader"


@dataclass(frozen=True, eq=False)
class FittedName:
    """A feature of the frame with its name. title: as it stands there."""

    mark: FeatureMark
    title: str
    request: NameRequest


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
        if other.mark.feature.kind not in ("crater", "sea"):
            if ranges >= 2:
                continue
            ranges += 1
        found.append(other)

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

    def draw(placed: Placed) -> Iterator[DrawnLayer]:
        parts = [draw_name(n, placed, stage) for n in found if n.request.key in placed.names]
        if parts:
            yield DrawnLayer(
                title=stage.words["seas"],
                shapes=tuple(s for shapes, _ in parts for s in shapes),
                texts=tuple(t for _, texts in parts for t in texts),
            )

    return Plan(draw=draw, requests=tuple(n.request for n in found))


def _fit_name(mark: FeatureMark, stage: Stage, ground: SeaGround, must: bool) -> FittedName | NotFound:
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
    rank = 2
    if feature.size_km >= (FIRST_SEA_KM if area else GREAT_KM) or feature.kind == "mountain range":
        rank = 0 if area else 1
    elif area:
        rank = 1
    colours = (colour, theme.soft)
    blocks = [
        set_block(title, fmt, rank, theme, colours, width, slanting=area, black=black)
        for width, black in ((column_width(stage), stage.black), (0.34 * fmt.safe.width, False))
    ]
    inner = []
    if area:
        for r, width in ((rank, 1.0), (rank, 0.05), (2, 1.0), (2, 0.05)):
            inner.append(
                set_block(title, fmt, r, theme, colours, width * fmt.safe.width, slanting=True, black=False, most=2)
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
    )
    return FittedName(mark, title, request)


def _spots(mark: FeatureMark, stage: Stage, ground: SeaGround) -> tuple[Spot, ...]:
    """What the name may point at, the best first; none where it is not in the frame."""
    feature, u = mark.feature, stage.format.unit
    if feature.kind in AREA_KINDS:
        return tuple(Spot(x=x, y=y, rx=6 * u, ry=6 * u) for x, y in ground.middle(feature.name))
    course = course_vectors(feature.name)
    if course is not None:
        lat, lon = np.degrees(np.arcsin(course[:, 2])), np.degrees(np.arctan2(course[:, 1], course[:, 0]))
        at = surface_to_pixel(stage.pose, lat, lon)
        order = sorted(range(len(course)), key=lambda k: abs(k - (len(course) - 1) / 2))
        points = [
            (float(at.x[k]) + 0.5, float(at.y[k]) + 0.5)
            for k in order[:: max(1, len(order) // 7)]
            if at.mu[k] > 0 and stage.free(float(at.x[k]), float(at.y[k]))
        ]
        return tuple(Spot(x=x, y=y, rx=3 * u, ry=3 * u) for x, y in points)
    at_one = surface_to_pixel(stage.pose, feature.lat_deg, feature.lon_deg)
    x, y = float(at_one.x) + 0.5, float(at_one.y) + 0.5
    if float(at_one.mu) <= 0 or not stage.free(x, y):
        return ()
    if feature.kind != "crater":
        return (Spot(x=x, y=y, rx=11 * u, ry=11 * u),)
    points_of = [p for run, _ in curves.rings(stage.pose, feature, _ring_km(feature, stage)) for p in run]
    rim = np.array(points_of) + 0.5
    rx, ry = float(np.ptp(rim[:, 0])) / 2, float(np.ptp(rim[:, 1])) / 2
    pad = 0.5 * RING * u
    middle = (rim.max(axis=0) + rim.min(axis=0)) / 2
    return (Spot(x=float(middle[0]), y=float(middle[1]), rx=rx + pad, ry=ry + pad),)


def _ring_km(feature: Feature, stage: Stage) -> float:
    """Diameter of the ring that is drawn: the rim's own, of what would be a blot the smallest ring."""
    return max(feature.size_km, 2 * LEAST_RING * stage.format.unit / stage.pose.radius_px * MOON_RADIUS_KM)


def draw_name(named: FittedName, placed: Placed, stage: Stage) -> tuple[tuple[Shape, ...], tuple[TextBox, ...]]:
    """Ring, course or dot, line and letters of a feature that found room."""
    at = placed.names[named.request.key]
    marks = list(_draw_mark(named, at, stage))
    shapes = [*placed.clear(marks), *leader(at, named.request.colour, stage)]
    letters, texts = at.block.at(at.x, at.y, at.align, stage.theme.halo)
    return (*shapes, *letters), texts


def leader(at: PlacedName, colour: str, stage: Stage) -> Iterator[Path]:
    """The line from a name to what it names, if there is one."""
    if at.line:
        points = tuple((x - 0.5, y - 0.5) for x, y in at.line)
        yield Path(points=points, width_px=LEADER * stage.line, colour=colour, opacity=0.78, layer=LEADING)


def _draw_mark(named: FittedName, at: PlacedName, stage: Stage) -> Iterator[Shape]:
    feature, u, pose, fmt = named.mark.feature, stage.line, stage.pose, stage.format
    colour = named.request.colour
    if feature.kind == "crater":
        for points, closed in curves.rings(pose, feature, _ring_km(feature, stage)):
            yield Path(points=points, closed=closed, width_px=RING * u, colour=colour)
        return
    course = course_vectors(feature.name)
    if course is not None:
        for run in curves.visible_runs(pose, course, False):
            for piece in curves.clip_to_frame(run, fmt.width, fmt.height, 20 * fmt.unit):
                yield Path(points=piece, width_px=COURSE * u, colour=colour, opacity=0.95)
                yield from (replace(bracket, width_px=COURSE * u) for bracket in _brackets(piece, 9 * fmt.unit, colour))
        return
    x, y = at.spot.x - 0.5, at.spot.y - 0.5
    if feature.kind in AREA_KINDS:
        if at.line:
            yield Dot(x=x, y=y, radius_px=5 * u, colour=colour)
        return
    if feature.kind in LONG_KINDS:
        yield Dot(x=x, y=y, radius_px=5 * u, colour=colour)
        return
    r = 9 * fmt.unit  # a peak or cape: a triangle
    yield Path(
        points=((x, y - r), (x + 0.9 * r, y + 0.7 * r), (x - 0.9 * r, y + 0.7 * r)),
        closed=True,
        width_px=RING * u,
        colour=colour,
    )


def _brackets(points: curves.Points, half: float, colour: str) -> Iterator[Path]:
    """Short strokes across both ends of a course."""
    for a, b in ((points[0], points[min(3, len(points) - 1)]), (points[-1], points[-min(4, len(points))])):
        dx, dy = b[0] - a[0], b[1] - a[1]
        length = max(float(np.hypot(dx, dy)), 1e-9)
        nx, ny = -dy / length * half, dx / length * half
        yield Path(points=((a[0] - nx, a[1] - ny), (a[0] + nx, a[1] + ny)), width_px=1.0, colour=colour)


def origin_spot(feature: Feature, stage: Stage) -> Spot | None:
    """Where a small crater lies, if the frame shows it."""
    at = surface_to_pixel(stage.pose, feature.lat_deg, feature.lon_deg)
    x, y = float(at.x) + 0.5, float(at.y) + 0.5
    if float(at.mu) <= 0 or not stage.free(x, y):
        return None
    r = max(LEAST_RING * stage.format.unit, feature.size_km / 2 / MOON_RADIUS_KM * stage.pose.radius_px)
    return Spot(x=x, y=y, rx=r, ry=r)
