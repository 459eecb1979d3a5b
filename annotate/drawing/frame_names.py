"""Which seas and features get a chip in a frame, what each points at, and how it is drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.boxes import Box, Inside
from moondesk.drawing.chips import GOLD, SKY_BLUE, Request, Spot, chip, leader
from moondesk.drawing.courses import course_vectors
from moondesk.drawing.frame import Format, TextBox, Wanted
from moondesk.drawing.frame_lines import LINE, Curve
from moondesk.drawing.seas import sea_map
from moondesk.drawing.shapes import Dot, Path, Shape
from moondesk.drawing.style import AREA_KINDS, layer_of
from moondesk.moon.geometry import disc_axes, project, sun_altitude_deg, surface_to_pixel
from moondesk.records import MOON_RADIUS_KM, Annotation, FeatureMark, FloatArray, NotFound, Pose

#: As for every label: less light or less chance of being made out, and nothing is pointed at.
LEAST_LIT, LEAST_SEEN, LEAST_SEEN_ASKED = 0.05, 0.3, 0.05
#: A sea below this size in the frame has no room for its name beside others, pixels at 1080 lines.
LEAST_SEA = 40.0
#: Where along a line (from the top, the equator from the left) its words may point, the best first; so far from the
#: features that are pointed at is far enough, pixels at 1080 lines.
_ALONG = {
    "terminator": (0.86, 0.78, 0.7, 0.14, 0.22, 0.3, 0.6, 0.4, 0.5),
    "equator": (0.9, 0.8, 0.1, 0.2, 0.7, 0.3, 0.5),
    "zero meridian": (0.12, 0.2, 0.3, 0.88, 0.8, 0.7, 0.5),
}
_CLEAR = 130.0
#: Sun's height over ground on which a sea's name may stand, degrees.
_IN_LIGHT = 2.0


@dataclass(frozen=True, eq=False)
class Named:
    """A feature of the frame with its chip. title: its name as it stands there."""

    mark: FeatureMark
    title: str
    request: Request
    colour: str


@dataclass(frozen=True, eq=False, kw_only=True)
class Stage:
    """A frame as names need it. pose: of the Moon in it; inside: which of its pixels are picture; fixed: boxes that
    stand fast on it."""

    annotation: Annotation
    pose: Pose
    wanted: Wanted
    inside: Inside
    fixed: tuple[Box, ...]

    def free(self, x: float, y: float) -> bool:
        """Whether a point of the frame is picture and under no plate."""
        fmt = self.wanted.format
        return (
            0 < x < fmt.width
            and 0 < y < fmt.height
            and bool(self.inside(np.array([x]), np.array([y]))[0])
            and not any(b.around(x, y) for b in self.fixed)
        )


def asked_features(stage: Stage) -> tuple[tuple[Named, ...], tuple[NotFound, ...]] | NotFound:
    """The features that were asked for, in their order, and why some cannot be shown; then of those offered as many as
    lie well in the frame, chosen only now that it is known what the frame shows."""
    wanted = stage.wanted
    found: list[Named] = []
    left: list[NotFound] = []
    for name in wanted.features:
        asked = _shown(name, stage, LEAST_SEEN_ASKED)
        if isinstance(asked, Named):
            found.append(asked)
        elif asked.stage == "text":
            return asked
        else:
            left.append(asked)
    for name in wanted.offered:
        if len(found) >= wanted.most:
            break
        other = _shown(name, stage, LEAST_SEEN) if name not in wanted.features else None
        if isinstance(other, NotFound) and other.stage == "text":
            return other
        if isinstance(other, Named) and wanted.format.safe.around(other.request.x, other.request.y):
            found.append(other)
    return tuple(found), tuple(left)


def _shown(name: str, stage: Stage, least_seen: float) -> Named | NotFound:
    mark = shown_mark(stage.annotation, name, least_seen)
    return _named(mark, stage, must=True) if isinstance(mark, FeatureMark) else mark


def shown_mark(annotation: Annotation, name: str, least_seen: float = LEAST_SEEN_ASKED) -> FeatureMark | NotFound:
    """The feature of that name in a picture, if there is light on it and it can be made out; else why not."""
    mark = next((m for m in annotation.features if m.feature.name == name), None)
    if mark is None:
        return NotFound("feature", f"{name} is not in this picture.", "Choose another feature.")
    if mark.lit_fraction < LEAST_LIT:
        return NotFound("feature", f"{name} is not in the light of this picture.", "Choose another feature.")
    if mark.seen < least_seen:
        return NotFound("feature", f"{name} cannot be made out in this picture.", "Choose another feature.")
    return mark


def seas(stage: Stage) -> tuple[Named, ...] | NotFound:
    """The seas and their like that are worth a name in the frame, the foremost first; those asked for by name are
    out."""
    annotation, pose, wanted = stage.annotation, stage.pose, stage.wanted
    u = wanted.format.unit
    ratio = pose.radius_px / annotation.pose.radius_px if annotation.pose else 1.0
    marks = [
        m
        for m in annotation.features
        if m.feature.kind in AREA_KINDS
        and m.lit_fraction >= LEAST_LIT
        and m.seen >= LEAST_SEEN
        and m.radius_px * ratio >= LEAST_SEA * u
        and m.feature.name not in wanted.features
    ]
    marks.sort(key=lambda m: (-m.prominence * m.seen, m.feature.name))
    found: list[Named] = []
    for mark in marks:
        if len(found) >= wanted.seas:
            break
        named = _named(mark, stage, must=False)
        if isinstance(named, NotFound):
            if named.stage == "text":
                return named
            continue
        found.append(named)
    return tuple(found)


def _named(mark: FeatureMark, stage: Stage, must: bool) -> Named | NotFound:
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
    return Named(
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


def drawn(named: Named, spot: Spot, pose: Pose, fmt: Format) -> tuple[tuple[Shape, ...], tuple[TextBox, ...]]:
    """Ring or dot, line and chip of a feature."""
    u, r = fmt.unit, named.request
    shapes: list[Shape] = list(_marked(named, pose, fmt))
    if spot.leader:
        x0, y0, x1, y1 = leader(r, spot)
        layer = layer_of(named.mark.feature.kind)
        shapes.append(
            Path(
                layer=layer,
                points=((x0 - 0.5, y0 - 0.5), (x1 - 0.5, y1 - 0.5)),
                closed=False,
                width_px=3 * u,
                colour=named.colour,
            )
        )
        if r.central:
            shapes.append(Dot(layer=layer, x=r.x - 0.5, y=r.y - 0.5, radius_px=6 * u, colour=named.colour))
    chip_shapes, texts = r.block.at(spot.x, spot.y, named.colour)
    return (*shapes, *chip_shapes), texts


def _marked(named: Named, pose: Pose, fmt: Format) -> Iterator[Shape]:
    feature, u = named.mark.feature, fmt.unit
    layer = layer_of(feature.kind)
    if feature.kind == "crater":
        least = 12 * u / pose.radius_px * MOON_RADIUS_KM
        size = max(feature.size_km * 1.08, least)
        for run in curves.rim(pose, feature.lat_deg, feature.lon_deg, size):
            points = np.asarray(run)
            whole = bool(np.hypot(*(points[0] - points[-1])) < 1e-6)
            yield Path(
                layer=layer, points=run[:-1] if whole else run, closed=whole, width_px=LINE * u, colour=named.colour
            )
        return
    course = course_vectors(feature.name)
    if course is not None:
        for run in curves.visible_runs(pose, course, False):
            for piece in curves.clip_to_frame(run, fmt.width, fmt.height, 20 * u):
                yield Path(
                    layer=layer,
                    points=piece,
                    closed=False,
                    width_px=LINE * u,
                    colour=named.colour,
                    opacity=0.95,
                    dash=(14 * u, 10 * u),
                )
    elif feature.kind not in AREA_KINDS:
        yield Dot(layer=layer, x=named.request.x - 0.5, y=named.request.y - 0.5, radius_px=7 * u, colour=named.colour)


def curve_requests(
    lines: Sequence[Curve], fmt: Format, fixed: Sequence[Box], features: Sequence[Named]
) -> tuple[tuple[Request, Curve], ...] | NotFound:
    """The words of lines on the Moon, each pointing at a place of its line that lies well in the frame, and away from
    the features that are pointed at."""
    found = []
    safe = fmt.safe.grow(-20 * fmt.unit)
    busy = np.array([(n.request.x, n.request.y) for n in features]).reshape(-1, 2)
    for curve in lines:
        block = chip(curve.words, fmt)
        if isinstance(block, NotFound):
            return block
        p = curve.points
        good = safe.around(p[:, 0], p[:, 1])
        for b in fixed:
            good &= ~b.around(p[:, 0], p[:, 1])
        if not good.any():
            continue
        p = p[good]
        p = p[np.argsort(p[:, 0] if curve.name == "equator" else p[:, 1])]
        at = [p[int(share * (len(p) - 1))] for share in _ALONG[curve.name]]
        room = [
            min(float(np.hypot(*(busy - point).T).min()) if len(busy) else np.inf, _CLEAR * fmt.unit) for point in at
        ]
        x, y = at[int(np.argmax(room))].tolist()  # of those with room enough the first
        found.append((Request(key=curve.name, block=block, x=x, y=y, radius_px=4 * fmt.unit, must=True), curve))
    return tuple(found)
