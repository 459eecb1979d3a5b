"""Which features get a name and where it stands: no two touch, none covers a feature that it does not name.

Point-feature labelling is NP-hard (J. Christensen, J. Marks, S. Shieber, ACM ToG 14(3), 1995), and a picture needs a
good answer in milliseconds: candidates by kind, those that cover something or leave the frame struck out, then the most
prominent features choose first, then names that found no room push one neighbour to its second choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from annotate.geometry import pixel_to_surface
from annotate.overlay import curves
from annotate.overlay.boxes import BoolArray, Ellipses, IndexArray, Rects, covering, rects, segments, touching
from annotate.overlay.candidates import along_course, around_spot, on_sea, rims, round_spot
from annotate.overlay.choice import Choice, conflicts, keep_off_features
from annotate.overlay.directions import direction_marks
from annotate.overlay.scene import Candidates, Inside, Layout, Scene, gather, is_area, is_long, layouts_of
from annotate.overlay.seas import sea_map
from annotate.overlay.style import REFERENCE_CRATER, SPOT_KINDS, LabelStyle, base_font_px
from annotate.records import FeatureMark, FloatArray, Label, Pose

#: Names considered, as a multiple of those wanted; marks that must not be covered; candidates kept for each name.
_POOL, _PROTECTED, _KEPT = 1.5, 150, 15


def whole_frame(width: int, height: int) -> Inside:
    """The pixels of an ordinary picture: all of it."""
    return lambda x, y: np.asarray((x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1))


def place_labels(
    width: int, height: int, pose: Pose, marks: Sequence[FeatureMark], style: LabelStyle, inside: Inside | None = None
) -> tuple[Label, ...]:
    """Labels for a picture of width x height pixels, the most prominent features first.

    marks: the features in the picture, in its pixels. inside: which pixels are picture, where that is not the whole
    frame (a turned copy); names may stand outside, what they name may not. Time: 35 to 75 ms for 900
    marks (one core of a shared machine, November 2026).
    """
    if width < 1 or height < 1:
        raise ValueError(f"the picture is {width} x {height}")
    if pose.radius_px <= 0:
        raise ValueError(f"the disc's radius is {pose.radius_px}")
    f = base_font_px(width, height, pose.radius_px, style.text_scale)
    scene = Scene(width, height, pose, f, inside or whole_frame(width, height))
    chosen = [
        m for m in marks if m.lit_fraction >= style.min_lit and m.seen >= style.min_seen and m.feature.parent is None
    ]
    there = scene.inside(np.array([m.x for m in chosen], float), np.array([m.y for m in chosen], float))
    chosen = [m for m, ok in zip(chosen, there.tolist(), strict=True) if ok]
    chosen.sort(key=lambda m: (-m.prominence * m.seen, m.feature.name))
    wanted = min(style.max_labels, room(scene))
    pool = chosen[: int(np.ceil(_POOL * wanted))]
    if not pool:
        return ()
    layouts = [layouts_of(m, f, style.meanings) for m in pool]
    everything, courses, course_owner = _candidates(scene, pool, layouts)
    if not len(everything):
        return ()
    guarded = [m for m in chosen[:_PROTECTED] if not is_area(m) and not is_long(m)]
    minor = [m for m in chosen[_PROTECTED : 2 * _PROTECTED] if m.feature.kind == "crater"]
    reference = [m for m in marks if m.feature.name == REFERENCE_CRATER and m.sun_altitude_deg > 0]
    everything = _judge(scene, everything, pool, guarded + reference, minor, courses, course_owner)
    if not len(everything):
        return ()
    value = np.array([m.prominence * m.seen + (0.1 if is_area(m) else 0.0) for m in pool])
    clash = conflicts(everything, f)
    keep_off_features(clash, everything, pool, scene)
    picked = Choice(everything, clash, value, wanted).best()
    return tuple(_label(everything, int(c), pool, layouts) for c in picked)


def room(scene: Scene) -> int:
    """How many names a picture holds without looking crowded: by its lit ground, in units of the text's size."""
    x, y = np.meshgrid(np.linspace(0, scene.width - 1, 72), np.linspace(0, scene.height - 1, 72))
    cell = scene.width * scene.height / x.size
    ground = cell * float(np.sum(scene.lit(x, y) & scene.inside(x, y)))
    return int(5 + ground / (34.0 * scene.font_px**2))


def _candidates(
    scene: Scene, pool: Sequence[FeatureMark], layouts: Sequence[tuple[Layout, ...]]
) -> tuple[Candidates, Rects, FloatArray]:
    spots = rims(pool, scene.pose, scene.font_px)
    parts: list[Candidates] = []
    lines: list[tuple[int, Rects]] = []
    for k, mark in enumerate(pool):
        if is_area(mark):
            parts += on_sea(scene, k, mark, layouts[k])
            continue
        course = along_course(scene, k, mark, layouts[k][0]) if is_long(mark) else None
        if course is not None:
            named, line = course
            parts.append(named)
            lines.append((k, line))
            # where nothing is free along it: level, on a leader line to the middle of what shows of it
            spot = round_spot(float(named.anchor_x[0]), float(named.anchor_y[0]), 0.3 * scene.font_px)
            hung = around_spot(scene, k, spot, layouts[k][0], leaders_only=True)
            parts.append(replace(hung, cost=hung.cost + 0.4))
            continue
        spot = Ellipses(*(getattr(spots, n)[k : k + 1] for n in ("x", "y", "a", "b", "nx", "ny")))
        parts.append(around_spot(scene, k, spot, layouts[k][0]))
    joined = Rects(
        *(
            np.concatenate([getattr(r, n) for _, r in lines]) if lines else np.zeros(0)
            for n in ("x", "y", "half_w", "half_h", "ux", "uy")
        )
    )
    owner = np.concatenate([np.full(len(r), k) for k, r in lines]) if lines else np.zeros(0)
    return gather(parts), joined, owner


def _judge(
    scene: Scene,
    every: Candidates,
    pool: Sequence[FeatureMark],
    guarded: Sequence[FeatureMark],
    minor: Sequence[FeatureMark],
    courses: Rects,
    course_owner: FloatArray,
) -> Candidates:
    """Strikes out the candidates that must not be, adds to the cost of the rest, keeps the best few of each name."""
    f = scene.font_px
    names = np.array([m.feature.name for m in pool])
    area = np.array([is_area(m) for m in pool])
    rim = rims(guarded, scene.pose, f)
    guarded_names = np.array([m.feature.name for m in guarded])
    fixed = _direction_boxes(scene)

    # what may not be: outside the frame, over a feature, over a direction, a sea's name on another sea
    ex, ey = every.box.extent()
    margin = 0.4 * f
    good = (every.box.x - ex >= margin) & (every.box.x + ex <= scene.width - 1 - margin)
    good &= (every.box.y - ey >= margin) & (every.box.y + ey <= scene.height - 1 - margin)
    every = every.take(good)
    i, j = covering(every.box.grow(0.08 * f), rim)
    # the peaks of a range stand where its own name belongs; `keep_off_features` sees to those that are named
    along = np.array([is_long(m) for m in pool])[every.owner] & ~every.leader
    peak = np.array([m.feature.kind in SPOT_KINDS for m in guarded], bool)
    every = every.take(_without(len(every), i[~(along[i] & peak[j])]))
    struck = [
        touching(every.box.grow(0.08 * f), courses)[0],
        touching(every.box.grow(0.3 * f), fixed)[0],
        touching(every.leaders(0.15 * f), fixed)[0],
    ]
    hung_seas = np.flatnonzero(area[every.owner] & every.leader)
    struck.append(hung_seas[_on_foreign_sea(scene, every.take(hung_seas), names)])
    every = every.take(_without(len(every), np.concatenate(struck)))

    cost = every.cost.copy()
    hung = np.flatnonzero(every.leader)
    lines = every.leaders(0.15 * f).take(hung)
    i, j = covering(lines, rim)
    foreign = names[every.owner[hung[i]]] != guarded_names[j]
    np.add.at(cost, hung[i[foreign]], 0.07)
    i, j = touching(lines, courses)
    np.add.at(cost, hung[i[every.owner[hung[i]] != course_owner[j]]], 0.05)
    # a name that nearly touches a rim that it does not name could be read as that crater's
    beside = np.flatnonzero(~every.leader)
    i, j = covering(every.box.take(beside).grow(0.4 * f), rim)
    foreign = names[every.owner[beside[i]]] != guarded_names[j]
    np.add.at(cost, beside[i[foreign]], 0.3)
    if minor:
        i, j = covering(every.box, rims(minor, scene.pose, f))
        np.add.at(cost, i, 0.02 + 0.25 * np.array([m.prominence * m.seen for m in minor])[j])
    cost[np.unique(touching(every.box, _lines(scene))[0])] += 0.05
    px, py = every.box.points(3, 2)
    hides = np.mean(scene.lit(px, py), axis=1)
    cost += np.where(area[every.owner] & ~every.leader, 0.0, 0.12 * hides)
    on_disc = np.mean(np.hypot(px - scene.pose.x, py - scene.pose.y) < scene.pose.radius_px, axis=1)
    cost += on_disc * 4.0 * every.box.half_w * every.box.half_h / scene.pose.radius_px**2

    order = np.lexsort((cost, every.owner))
    _, start = np.unique(every.owner[order], return_index=True)
    rank = np.arange(len(order)) - np.repeat(start, np.diff(np.append(start, len(order))))
    order = order[rank < _KEPT]
    kept = every.take(order)
    return Candidates(
        kept.owner, kept.layout, kept.box, kept.angle_deg, kept.anchor_x, kept.anchor_y, kept.leader, cost[order]
    )


def _without(n: int, struck: IndexArray) -> BoolArray:
    keep = np.ones(n, bool)
    keep[struck] = False
    return keep


def _on_foreign_sea(scene: Scene, every: Candidates, names: NDArray[np.str_]) -> BoolArray:
    """True for places of which a quarter or more lies on the ground of another sea than the one named."""
    seas = sea_map()
    own = np.array([seas.number.get(str(n), -2) for n in names])[every.owner]
    ground = seas.owner_at(*pixel_to_surface(scene.pose, *every.box.points(5, 2)))
    return np.asarray(np.mean((ground >= 0) & (ground != own[:, None]), axis=1) > 0.25)


def _lines(scene: Scene) -> Rects:
    """Limb, terminator, equator and zero meridian in short pieces: a name had better not lie on one."""
    pose = scene.pose
    runs = [
        curves.limb(pose, 120),
        *curves.terminator(pose, 120),
        *curves.equator(pose, 120),
        *curves.zero_meridian(pose, 61),
    ]
    ends = [np.asarray(r) for r in runs]
    a, b = np.concatenate([e[:-1] for e in ends]), np.concatenate([e[1:] for e in ends])
    near = scene.inside(a[:, 0], a[:, 1]) | scene.inside(b[:, 0], b[:, 1])
    return segments(a[near, 0], a[near, 1], b[near, 0], b[near, 1], 2.0)


def _direction_boxes(scene: Scene) -> Rects:
    marks = direction_marks(scene.width, scene.height, scene.pose, scene.font_px)
    if not marks:
        return Rects(*(np.zeros(0) for _ in range(6)))
    get = {
        n: np.array([getattr(m, n) for m in marks])
        for n in ("x", "y", "width_px", "height_px", "from_x", "from_y", "to_x", "to_y")
    }
    box = rects(get["x"], get["y"], get["width_px"], get["height_px"], np.zeros(len(marks)))
    line = segments(get["from_x"], get["from_y"], get["to_x"], get["to_y"], 0.4 * scene.font_px)
    return Rects(
        *(np.concatenate([getattr(box, n), getattr(line, n)]) for n in ("x", "y", "half_w", "half_h", "ux", "uy"))
    )


def _label(every: Candidates, c: int, pool: Sequence[FeatureMark], layouts: Sequence[tuple[Layout, ...]]) -> Label:
    owner = int(every.owner[c])
    layout = layouts[owner][int(every.layout[c])]
    feature = pool[owner].feature
    return Label(
        feature.name,
        layout.text,
        feature.kind,
        float(every.box.x[c]),
        float(every.box.y[c]),
        layout.width_px,
        layout.height_px,
        layout.font_px,
        float(every.anchor_x[c]),
        float(every.anchor_y[c]),
        bool(every.leader[c]),
        float(every.angle_deg[c]),
    )
