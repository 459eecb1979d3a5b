"""Which features get a name and where it stands: no two touch, none covers a feature that it does not name.

Point-feature labelling is NP-hard (J. Christensen, J. Marks, S. Shieber, ACM ToG 14(3), 1995), and a picture needs a
good answer in milliseconds: candidates by kind, those that cover something or leave the frame struck out, then the most
prominent features choose first, then names that found no room push one neighbour to its second choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from moondesk.drawing.boxes import (
    BoolArray,
    Ellipses,
    IndexArray,
    Inside,
    Rects,
    covering,
    no_rects,
    rects,
    segments,
    touching,
)
from moondesk.drawing.candidates import LabelCandidate, along_course, around_spots, on_seas, rims, round_spot
from moondesk.drawing.choice import WORTH, LabelChoice, conflicts, keep_off_features
from moondesk.drawing.directions import direction_marks
from moondesk.drawing.scene import (
    Candidates,
    Label,
    Scene,
    SceneLayout,
    is_area,
    is_long,
    layouts_of,
    no_candidates,
    survey,
)
from moondesk.drawing.seas import sea_map
from moondesk.drawing.style import REFERENCE_CRATER, SPOT_KINDS, LabelStyle, base_font_px
from moondesk.files.screenshot import shift_annotation
from moondesk.moon.geometry import in_field
from moondesk.records import Annotation, FeatureMark, FieldStop, FloatArray, Pose

#: Names considered, as a multiple of those wanted; marks that must not be covered; candidates of each name that are
#: judged (the cheapest by themselves) and then kept (the cheapest with all they cover).
_POOL, _PROTECTED, _JUDGED, _KEPT = 1.5, 150, 60, 12


def whole_frame(width: int, height: int, field: FieldStop | None = None) -> Inside:
    """The pixels of an ordinary picture: all of it, or what lies inside an eyepiece's field."""

    def inside(x: FloatArray, y: FloatArray) -> BoolArray:
        framed = np.asarray((x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1))
        return framed if field is None else framed & in_field(field, x, y)

    return inside


def labels_of(
    annotation: Annotation, style: LabelStyle | None = None, inside: Inside | None = None
) -> tuple[Label, ...]:
    """Labels of an annotated picture; none without a pose. Nothing stands beside a photograph that is a part of it.

    inside: which pixels are picture, where that is not the whole frame (a turned copy).
    """
    if annotation.pose is None:
        return ()
    style, part = style or LabelStyle(), annotation.photograph
    if part is not None and inside is None:
        cut = replace(
            shift_annotation(annotation, -part.x, -part.y), width=part.width, height=part.height, photograph=None
        )
        return tuple(
            replace(k, x=k.x + part.x, y=k.y + part.y, anchor_x=k.anchor_x + part.x, anchor_y=k.anchor_y + part.y)
            for k in labels_of(cut, style)
        )
    width, height = annotation.width, annotation.height
    inside = inside or whole_frame(width, height, annotation.field_stop)
    return place_labels(width, height, annotation.pose, annotation.features, style, inside)


def place_labels(
    width: int, height: int, pose: Pose, marks: Sequence[FeatureMark], style: LabelStyle, inside: Inside | None = None
) -> tuple[Label, ...]:
    """Labels for a picture of width x height pixels, the most prominent features first.

    marks: the features in the picture, in its pixels. inside: which pixels are picture, where that is not the whole
    frame (a turned copy); names may stand outside, what they name may not. Time: 5 to 20 ms of one core for 900 marks
    (November 2026).
    """
    if width < 1 or height < 1:
        raise ValueError(f"the picture is {width} x {height}")
    if pose.radius_px <= 0:
        raise ValueError(f"the disc's radius is {pose.radius_px}")
    f = base_font_px(width, height, pose.radius_px, style.text_scale)
    inside = inside or whole_frame(width, height)
    scene = Scene(
        width=width, height=height, pose=pose, font_px=f, inside=inside, ground=survey(width, height, pose, inside)
    )
    chosen = [
        m for m in marks if m.lit_fraction >= style.min_lit and m.seen >= style.min_seen and m.feature.parent is None
    ]
    there = inside(np.array([m.x for m in chosen], float), np.array([m.y for m in chosen], float))
    chosen = [m for m, ok in zip(chosen, there.tolist(), strict=True) if ok]
    chosen.sort(key=lambda m: (-m.prominence * m.seen, m.feature.name))
    wanted = min(style.max_labels, room(scene))
    pool = chosen[: int(np.ceil(_POOL * wanted))]
    if not pool:
        return ()
    layouts = [layouts_of(m, f) for m in pool]
    value = np.array([m.prominence * m.seen + (0.1 if is_area(m) else 0.0) for m in pool])
    everything, courses, course_owner = _candidates(scene, pool, layouts)
    everything = everything.take(_possible(scene, everything, value))
    everything = everything.take(_cheapest(everything.owner, everything.cost, _JUDGED))
    guarded = [m for m in chosen[:_PROTECTED] if not is_area(m) and not is_long(m)]
    minor = [m for m in chosen[_PROTECTED : 2 * _PROTECTED] if m.feature.kind == "crater"]
    reference = [m for m in marks if m.feature.name == REFERENCE_CRATER and m.sun_altitude_deg > 0]
    obstacles = _Obstacles(
        guarded=guarded + reference,
        rims=rims(guarded + reference, pose, f),
        minor=minor,
        courses=courses,
        course_owner=course_owner,
    )
    everything = _add_costs(scene, _strike_out(scene, everything, pool, obstacles), pool, obstacles)
    if not len(everything):
        return ()
    clash = conflicts(everything, f)
    keep_off_features(clash, everything, pool, scene)
    picked = LabelChoice(everything, clash, value, wanted).best()
    return tuple(_label(everything, int(c), pool, layouts) for c in picked)


def room(scene: Scene) -> int:
    """How many names a picture holds without looking crowded: by its lit ground, in units of the text's size."""
    return int(5 + scene.ground.sunlit_px2() / (34.0 * scene.font_px**2))


def _possible(scene: Scene, every: Candidates, value: FloatArray) -> BoolArray:
    """Candidates that lie in the frame and are worth their cost."""
    ex, ey = every.box.extent()
    margin = 0.4 * scene.font_px
    good = every.cost <= WORTH + value[every.owner]
    good &= (every.box.x - ex >= margin) & (every.box.x + ex <= scene.width - 1 - margin)
    good &= (every.box.y - ey >= margin) & (every.box.y + ey <= scene.height - 1 - margin)
    return good


def _candidates(
    scene: Scene, pool: Sequence[FeatureMark], layouts: Sequence[tuple[SceneLayout, ...]]
) -> tuple[Candidates, Rects, FloatArray]:
    rim = rims(pool, scene.pose, scene.font_px)
    areas = [k for k, mark in enumerate(pool) if is_area(mark)]
    parts, spots = on_seas(scene, areas, [pool[k] for k in areas], [layouts[k] for k in areas])
    lines: list[tuple[int, Rects]] = []
    for k, mark in enumerate(pool):
        if is_area(mark):
            continue
        course = along_course(scene, k, mark, layouts[k][0]) if is_long(mark) else None
        if course is None:
            spots.append(LabelCandidate(owner=k, ellipse=rim.take(slice(k, k + 1)), layout=layouts[k][0]))
            continue
        named, line = course
        parts.append(named)
        lines.append((k, line))
        # where nothing is free along it: level, on a leader line to the middle of what shows of it
        spot = round_spot(float(named.anchor_x[0]), float(named.anchor_y[0]), 0.3 * scene.font_px)
        spots.append(LabelCandidate(owner=k, ellipse=spot, layout=layouts[k][0], leaders_only=True, cost=0.4))
    if spots:
        parts.append(around_spots(scene, spots))
    owner = np.concatenate([np.zeros(0), *(np.full(len(r), k) for k, r in lines)])
    return no_candidates().joined(parts), no_rects().joined(r for _, r in lines), owner


@dataclass(frozen=True, eq=False, kw_only=True)
class _Obstacles:
    """What names keep off. guarded: features that may not be covered, and their rims; minor: those that had better not
    be; courses: of long features, and the owner of each piece."""

    guarded: Sequence[FeatureMark]
    rims: Ellipses
    minor: Sequence[FeatureMark]
    courses: Rects
    course_owner: FloatArray


def _strike_out(scene: Scene, every: Candidates, pool: Sequence[FeatureMark], obstacles: _Obstacles) -> Candidates:
    """Strikes out the candidates that must not be: over a feature, over a direction, a sea's name on another sea."""
    f, guarded = scene.font_px, obstacles.guarded
    i, j = covering(every.box.grow(0.08 * f), obstacles.rims)
    # the peaks of a range stand where its own name belongs; `keep_off_features` sees to those that are named
    along = np.array([is_long(m) for m in pool])[every.owner] & ~every.leader
    peak = np.array([m.feature.kind in SPOT_KINDS for m in guarded], bool)
    every = every.take(_without(len(every), i[~(along[i] & peak[j])]))
    fixed = _direction_boxes(scene)
    hung = np.flatnonzero(every.leader)
    hung_seas = np.flatnonzero(np.array([is_area(m) for m in pool])[every.owner] & every.leader)
    struck = [
        touching(every.box.grow(0.08 * f), obstacles.courses)[0],
        touching(every.box.grow(0.3 * f), fixed)[0],
        hung[touching(every.take(hung).leaders(0.15 * f), fixed)[0]],
        hung_seas[_on_foreign_sea(scene, every.take(hung_seas), pool)],
    ]
    return every.take(_without(len(every), np.concatenate(struck)))


def _add_costs(scene: Scene, every: Candidates, pool: Sequence[FeatureMark], obstacles: _Obstacles) -> Candidates:
    """Adds to the cost of the candidates what they cover, and keeps the best few of each name."""
    f, rim, minor = scene.font_px, obstacles.rims, obstacles.minor
    area = np.array([is_area(m) for m in pool])
    number = {m.feature.name: k for k, m in enumerate(pool)}
    own = np.array([number.get(m.feature.name, -1) for m in obstacles.guarded], int)  # owner of each rim, -1 for none
    cost = every.cost.copy()
    hung = np.flatnonzero(every.leader)
    lines = every.take(hung).leaders(0.15 * f)
    i, j = covering(lines, rim)
    np.add.at(cost, hung[i[every.owner[hung[i]] != own[j]]], 0.07)
    i, j = touching(lines, obstacles.courses)
    np.add.at(cost, hung[i[every.owner[hung[i]] != obstacles.course_owner[j]]], 0.05)
    # a name that nearly touches a rim that it does not name could be read as that crater's
    beside = np.flatnonzero(~every.leader)
    i, j = covering(every.box.take(beside).grow(0.4 * f), rim)
    np.add.at(cost, beside[i[every.owner[beside[i]] != own[j]]], 0.3)
    if minor:
        i, j = covering(every.box, rims(minor, scene.pose, f))
        np.add.at(cost, i, 0.02 + 0.25 * np.array([m.prominence * m.seen for m in minor])[j])
    px, py = every.box.points(5, 2)
    cell = scene.ground.at(px, py)
    piece, lit = scene.ground.piece[cell], scene.ground.sun[cell] > 0
    cost += 0.05 * (piece != piece[:, :1]).any(axis=1)  # limb, terminator, equator or zero meridian run through it
    cost += np.where(area[every.owner] & ~every.leader, 0.0, 0.12 * lit.mean(axis=1))
    cost += (piece > 0).mean(axis=1) * 4.0 * every.box.half_w * every.box.half_h / scene.pose.radius_px**2

    order = _cheapest(every.owner, cost, _KEPT)
    return replace(every.take(order), cost=cost[order])


def _cheapest(owner: IndexArray, cost: FloatArray, most: int) -> IndexArray:
    """Indices of the cheapest candidates of each owner, at most `most` of each, owner by owner."""
    order = np.lexsort((cost, owner))
    _, start = np.unique(owner[order], return_index=True)
    rank = np.arange(len(order)) - np.repeat(start, np.diff(np.append(start, len(order))))
    return np.asarray(order[rank < most])


def _without(n: int, struck: IndexArray) -> BoolArray:
    keep = np.ones(n, bool)
    keep[struck] = False
    return keep


def _on_foreign_sea(scene: Scene, every: Candidates, pool: Sequence[FeatureMark]) -> BoolArray:
    """True for places of which a quarter or more lies on the ground of another sea than the one named."""
    seas = sea_map()
    own = np.array([seas.number.get(m.feature.name, -2) for m in pool])[every.owner]
    ground = scene.ground.sea[scene.ground.at(*every.box.points(5, 2))]
    return np.asarray(np.mean((ground >= 0) & (ground != own[:, None]), axis=1) > 0.25)


def _direction_boxes(scene: Scene) -> Rects:
    marks = direction_marks(scene.width, scene.height, scene.pose, scene.font_px)
    at, size, start, end = (
        np.array(rows, float).reshape(-1, 2).T
        for rows in ([m.at for m in marks], [m.size for m in marks], [m.start for m in marks], [m.end for m in marks])
    )
    box = rects(at[0], at[1], size[0], size[1], np.zeros(len(marks)))
    return box.joined([segments(start[0], start[1], end[0], end[1], 0.4 * scene.font_px)])


def _label(every: Candidates, c: int, pool: Sequence[FeatureMark], layouts: Sequence[tuple[SceneLayout, ...]]) -> Label:
    owner = int(every.owner[c])
    layout = layouts[owner][int(every.layout[c])]
    feature = pool[owner].feature
    return Label(
        name=feature.name,
        text=layout.text,
        kind=feature.kind,
        x=float(every.box.x[c]),
        y=float(every.box.y[c]),
        width_px=layout.width_px,
        height_px=layout.height_px,
        font_px=layout.font_px,
        anchor_x=float(every.anchor_x[c]),
        anchor_y=float(every.anchor_y[c]),
        leader=bool(every.leader[c]),
        angle_deg=float(every.angle_deg[c]),
    )
