"""Which seas and features get a chip in a frame, what each points at, and how it is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.chips import GOLD, LINE, SKY_BLUE, Request, chip, chip_box, leader_path
from moondesk.drawing.courses import course_vectors
from moondesk.drawing.frame import Format, TextBox, slug
from moondesk.drawing.seas import sea_map
from moondesk.drawing.shapes import Dot, Path, Shape
from moondesk.drawing.stage import DrawnLayer, PlacedLabel, Plan, Stage
from moondesk.drawing.style import AREA_KINDS
from moondesk.moon.geometry import disc_axes, project, sun_altitude_deg, surface_to_pixel
from moondesk.records import MOON_RADIUS_KM, Annotation, FeatureMark, FloatArray, NotFound, Pose

#: As for every label: less light or less chance of being made out, and nothing is pointed at.
LEAST_LIT, LEAST_SEEN, LEAST_SEEN_ASKED = 0.05, 0.3, 0.05
#: A sea below this size in the frame has no room for its name beside others, pixels at 1080 lines.
LEAST_SEA = 40.0
#: Sun's height over ground on which a sea's name may stand, degrees.
_IN_LIGHT = 2.0


@dataclass(frozen=True, eq=False)
class FittedName:
    """A feature of the frame with its chip. title: its name as it stands there."""

    mark: FeatureMark
    title: str
    request: Request
    colour: str


def plan_names(stage: Stage) -> Plan | NotFound:
    """The features that were asked for, in their order, each a layer, and why some cannot be shown; then of those
    offered as many as lie well in the frame, chosen only now that it is known what the frame shows."""
    wanted = stage.wanted
    found: list[FittedName] = []
    left: list[NotFound] = []
    for name in wanted.features:
        asked = _named_or_why_not(name, stage, LEAST_SEEN_ASKED)
        if isinstance(asked, FittedName):
            found.append(asked)
        elif asked.stage == "text":
            return asked
        else:
            left.append(asked)
    for name in wanted.offered:
        if len(found) >= wanted.most:
            break
        other = _named_or_why_not(name, stage, LEAST_SEEN) if name not in wanted.features else None
        if isinstance(other, NotFound) and other.stage == "text":
            return other
        if isinstance(other, FittedName) and wanted.format.safe.around(other.request.x, other.request.y):
            found.append(other)

    def draw(placed: PlacedLabel) -> Iterator[DrawnLayer]:
        placed.left_out.extend(left)
        names: set[str] = set()
        for named in found:
            key = named.request.key
            if key in placed.spots:
                shapes, texts = _draw_name(named, placed, stage)
                head, _, local = named.title.partition("\n")
                title = f"{head} ({local})" if local else head
                yield DrawnLayer(title=title, shapes=shapes, texts=texts, name=_new_name(f"feature-{key}", names))
            elif key in wanted.features:
                left_out = NotFound("feature", f"There is no room left for {key}.", "Ask for fewer features.")
                placed.left_out.append(left_out)

    return Plan(draw=draw, requests=tuple(n.request for n in found))


def _new_name(name: str, taken: set[str]) -> str:
    """A layer's name, another one for each."""
    base = found = slug(name)
    k = 1
    while found in taken:
        k += 1
        found = f"{base}-{k}"
    taken.add(found)
    return found


def _named_or_why_not(name: str, stage: Stage, least_seen: float) -> FittedName | NotFound:
    mark = find_mark(stage.annotation, name, least_seen)
    return _fit_name(mark, stage, must=True) if isinstance(mark, FeatureMark) else mark


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


def seas(stage: Stage) -> Plan | NotFound:
    """The seas and their like that are worth a name in the frame, the foremost first, in one layer; those asked for by
    name are out."""
    annotation, pose, wanted = stage.annotation, stage.pose, stage.wanted
    ratio = pose.radius_px / annotation.pose.radius_px if annotation.pose else 1.0
    marks = [
        m
        for m in annotation.features
        if m.feature.kind in AREA_KINDS
        and m.lit_fraction >= LEAST_LIT
        and m.seen >= LEAST_SEEN
        and m.radius_px * ratio >= LEAST_SEA * wanted.format.unit
        and m.feature.name not in wanted.features
    ]
    marks.sort(key=lambda m: (-m.prominence * m.seen, m.feature.name))
    found: list[FittedName] = []
    for mark in marks:
        if len(found) >= wanted.seas:
            break
        named = _fit_name(mark, stage, must=False)
        if isinstance(named, FittedName):
            found.append(named)
        elif named.stage == "text":
            return named

    def draw(placed: PlacedLabel) -> Iterator[DrawnLayer]:
        parts = [_draw_name(n, placed, stage) for n in found if n.request.key in placed.spots]
        if parts:
            yield DrawnLayer(
                title=stage.words["seas"],
                shapes=tuple(s for shapes, _ in parts for s in shapes),
                texts=tuple(t for _, texts in parts for t in texts),
            )

    return Plan(draw=draw, requests=tuple(n.request for n in found))


def _fit_name(mark: FeatureMark, stage: Stage, must: bool) -> FittedName | NotFound:
    feature, wanted, pose = mark.feature, stage.wanted, stage.pose
    fmt = wanted.format
    away = NotFound(
        "feature",
        f"{feature.name} is not in this part of the picture, or lies under a plate of the frame.",
        f"Choose another feature, or a frame about {feature.name} itself.",
    )
    title = wanted.texts.names.get(feature.name, feature.name)
    block = chip(title, fmt)
    if isinstance(block, NotFound):
        return block
    area = feature.kind in AREA_KINDS
    at = _sea_point(mark, stage) if area else _point(mark, pose)
    if at is None or not stage.free(*at):
        return away
    radius = 0.0
    if feature.kind == "crater":
        radius = max(feature.size_km / 2 / MOON_RADIUS_KM * pose.radius_px, 6 * fmt.unit) + 5 * fmt.unit
    elif not area:
        radius = 10 * fmt.unit
    if radius > 0.45 * min(fmt.width, fmt.height):
        radius, area = 0.0, True  # it is the whole frame: its name stands on it
    colour = SKY_BLUE if feature.kind in AREA_KINDS else GOLD
    return FittedName(
        mark,
        title,
        Request(key=feature.name, block=block, x=at[0], y=at[1], radius_px=radius, central=area, must=must),
        colour,
    )


def _point(mark: FeatureMark, pose: Pose) -> tuple[float, float] | None:
    course = course_vectors(mark.feature.name)
    if course is not None:
        middle = course[len(course) // 2]
        lat, lon = float(np.degrees(np.arcsin(middle[2]))), float(np.degrees(np.arctan2(middle[1], middle[0])))
    else:
        lat, lon = mark.feature.lat_deg, mark.feature.lon_deg
    at = surface_to_pixel(pose, lat, lon)
    return (float(at.x) + 0.5, float(at.y) + 0.5) if float(at.mu) > 0 else None


def _sea_point(mark: FeatureMark, stage: Stage) -> tuple[float, float] | None:
    """The middle of what is lit of a sea and in the frame: the point of its own ground nearest to that ground's
    mean."""
    seas, pose, fmt = sea_map(), stage.pose, stage.wanted.format
    cells = seas.cells[seas.number[mark.feature.name]]
    if not len(cells):
        return _point(mark, pose)
    seen = project(cells, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    x, y = _pixels(pose, cells)
    lat, lon = np.degrees(np.arcsin(cells[:, 2])), np.degrees(np.arctan2(cells[:, 1], cells[:, 0]))
    light = sun_altitude_deg(lat, lon, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg) > _IN_LIGHT
    edge = 30 * fmt.unit
    good = light & (seen.mu > 0.12) & stage.inside(x, y)
    good &= (x > edge) & (x < fmt.width - edge) & (y > edge) & (y < fmt.height - edge)
    for box in stage.fixed:
        good &= ~box.around(x, y)
    if good.sum() < 2:
        return None
    x, y = x[good] + 0.5, y[good] + 0.5
    k = int(np.argmin(np.hypot(x - x.mean(), y - y.mean())))
    return float(x[k]), float(y[k])


def _pixels(pose: Pose, vectors: FloatArray) -> tuple[FloatArray, FloatArray]:
    at = surface_to_pixel(
        pose, np.degrees(np.arcsin(vectors[:, 2])), np.degrees(np.arctan2(vectors[:, 1], vectors[:, 0]))
    )
    return at.x, at.y


def _draw_name(named: FittedName, placed: PlacedLabel, stage: Stage) -> tuple[tuple[Shape, ...], tuple[TextBox, ...]]:
    """Ring or dot, line and chip of a feature that found room; its chip is a plate from now on."""
    u, r = stage.format.unit, named.request
    spot = placed.spots[r.key]
    shapes: list[Shape] = list(_draw_mark(named, stage.pose, stage.format))
    if spot.leader:
        shapes.append(leader_path(r, spot, u, named.colour))
        if r.central:
            shapes.append(Dot(x=r.x - 0.5, y=r.y - 0.5, radius_px=6 * u, colour=named.colour))
    chip_shapes, texts = r.block.at(spot.x, spot.y, named.colour)
    shapes = list(placed.clear(shapes))
    placed.plates.append(chip_box(r, spot))
    return (*shapes, *chip_shapes), texts


def _draw_mark(named: FittedName, pose: Pose, fmt: Format) -> Iterator[Shape]:
    feature, u = named.mark.feature, fmt.unit
    if feature.kind == "crater":
        least = 12 * u / pose.radius_px * MOON_RADIUS_KM
        for points, closed in curves.rings(pose, feature, max(feature.size_km * 1.08, least)):
            yield Path(points=points, closed=closed, width_px=LINE * u, colour=named.colour)
        return
    course = course_vectors(feature.name)
    if course is not None:
        for run in curves.visible_runs(pose, course, False):
            for piece in curves.clip_to_frame(run, fmt.width, fmt.height, 20 * u):
                dash = (14 * u, 10 * u)
                yield Path(points=piece, width_px=LINE * u, colour=named.colour, opacity=0.95, dash=dash)
    elif feature.kind not in AREA_KINDS:
        yield Dot(x=named.request.x - 0.5, y=named.request.y - 0.5, radius_px=7 * u, colour=named.colour)
