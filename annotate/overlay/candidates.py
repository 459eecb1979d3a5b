"""Where each name could stand: candidates by kind of feature, each with what it costs.

A crater's name touches its rim at one of twelve places or hangs on a leader line; a sea's stands on its own lit
ground; that of a range, valley or rille runs along the feature. Costs are in units in which 1 is about what it is worth
to have a prominent feature named: to the right and a little above costs least (E. Imhof, "Positioning Names on Maps",
1975), leader lines cost more the longer they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from annotate.geometry import disc_axes, disc_to_pixel, pixel_to_surface, project, sun_altitude_deg
from annotate.overlay.boxes import Ellipses, Rects, rects, segments
from annotate.overlay.courses import course_vectors
from annotate.overlay.scene import Candidates, Layout, Scene
from annotate.overlay.seas import sea_map
from annotate.records import FeatureMark, FloatArray, Pose

#: Ground counts as lit for a sea's name from this height of the Sun on, degrees: clear of the ragged edge of light.
LIT_SUN_DEG = 2.0

_AROUND = np.radians(np.arange(0.0, 360.0, 30.0))


def rims(marks: Sequence[FeatureMark], pose: Pose, font_px: float) -> Ellipses:
    """The ground that each mark stands for: a crater's foreshortened rim; a spot for peaks, capes and sites."""
    x, y = np.array([m.x for m in marks], float), np.array([m.y for m in marks], float)
    a = np.array([m.radius_px for m in marks], float)
    spot = np.array([m.feature.kind != "crater" for m in marks], bool)
    a = np.where(spot, np.clip(0.4 * a, 0.3 * font_px, 0.8 * font_px), np.maximum(a, 1.5))
    view = np.array([m.cos_view for m in marks], float)
    b = np.where(spot, a, np.maximum(a * np.clip(view, 0.0, 1.0), 1.5))
    cx, cy = (float(c) for c in disc_to_pixel(pose, 0.0, 0.0))
    dx, dy = x - cx, y - cy
    away = np.maximum(np.hypot(dx, dy), 1e-9)
    return Ellipses(x, y, a, b, np.where(away > 1e-6, dx / away, 1.0), np.where(away > 1e-6, dy / away, 0.0))


def _attached(px: FloatArray, py: FloatArray, dx: FloatArray, dy: FloatArray, layout: Layout) -> Rects:
    """Boxes that begin at the points p and lie away from them in the directions d."""
    sx, sy = np.clip(1.7 * dx, -1.0, 1.0), np.clip(1.7 * dy, -1.0, 1.0)
    return rects(
        px + sx * layout.width_px / 2,
        py + sy * layout.height_px / 2,
        np.full_like(px, layout.width_px),
        np.full_like(px, layout.height_px),
        np.zeros_like(px),
    )


def _preference(dx: FloatArray, dy: FloatArray) -> FloatArray:
    """0 to the right and 20 degrees up, 0.2 opposite."""
    return np.asarray(0.1 * (1.0 - (dx * np.cos(0.35) - dy * np.sin(0.35))))


def around_spot(
    scene: Scene, owner: int, spot: Ellipses, layout: Layout, number: int = 0, leaders_only: bool = False
) -> Candidates:
    """Names round a crater's rim or a spot (an Ellipses of length 1), near ones and ones on leader lines."""
    f = scene.font_px
    gap = 0.3 * f
    cx, cy = (float(c) for c in disc_to_pixel(scene.pose, 0.0, 0.0))
    out_x, out_y = float(spot.x[0]) - cx, float(spot.y[0]) - cy
    away = max(float(np.hypot(out_x, out_y)), 1e-6)
    base = np.arctan2(-out_y, out_x)

    theta, reach, leader, cost = [], [], [], []
    if not leaders_only:
        theta.append(_AROUND)
        reach.append(np.full(12, gap))
        leader.append(np.zeros(12, bool))
        cost.append(np.zeros(12))
    for far in (1.3, 2.4, 3.8, 5.6):
        theta.append(_AROUND + (0.26 if far in (2.4, 5.6) else 0.0))
        reach.append(np.full(12, far * f))
        leader.append(np.ones(12, bool))
        cost.append(np.full(12, 0.26 + 0.05 * far))
    to_limb = scene.pose.radius_px - away
    if to_limb < max(0.35 * scene.pose.radius_px, 7.0 * f):  # room in the sky beyond the limb
        fan = base + np.radians([0.0, -20.0, 20.0, -40.0, 40.0, -60.0, 60.0, -85.0, 85.0])
        # distance to the limb circle along each ray
        along = np.cos(fan - base) * away
        edge = -along + np.sqrt(np.maximum(along**2 + scene.pose.radius_px**2 - away**2, 0.0))
        for beyond in (1.0, 2.4, 4.2, 6.5):
            theta.append(fan)
            reach.append(np.maximum(edge + beyond * f - float(spot.a[0]), 1.2 * f))
            leader.append(np.ones(len(fan), bool))
            cost.append(0.22 + 0.06 * np.minimum((edge + beyond * f) / f, 12.0) + 0.15 * edge / scene.pose.radius_px)
    t = np.concatenate(theta)
    dx, dy = np.cos(t), -np.sin(t)
    rim = spot.reach(dx, dy)
    out = rim + np.concatenate(reach)
    x0, y0 = float(spot.x[0]), float(spot.y[0])
    box = _attached(x0 + dx * out, y0 + dy * out, dx, dy, layout)
    n = len(t)
    return Candidates(
        np.full(n, owner),
        np.full(n, number),
        box,
        np.zeros(n),
        x0 + dx * rim,
        y0 + dy * rim,
        np.concatenate(leader),
        np.concatenate(cost) + _preference(dx, dy),
    )


def along_course(scene: Scene, owner: int, mark: FeatureMark, layout: Layout) -> tuple[Candidates, Rects] | None:
    """Names along a long feature's lit course in the picture, and the course itself as rectangles not to be covered.

    None where the course is unknown or too little of it shows for a name.
    """
    vectors = course_vectors(mark.feature.name)
    if vectors is None:
        return None
    pose, f = scene.pose, scene.font_px
    disc = project(vectors, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    lat, lon = (
        np.degrees(np.arcsin(np.clip(vectors[:, 2], -1, 1))),
        np.degrees(np.arctan2(vectors[:, 1], vectors[:, 0])),
    )
    sun = sun_altitude_deg(lat, lon, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    # peaks catch the light before the plain does: 2 km of height sees a Sun 2.7 degrees below the horizon
    shown = (disc.mu > 0.08) & (sun > -1.5) & scene.inside(x, y)
    if shown.sum() < 3:
        return None
    edges = np.flatnonzero(np.diff(np.concatenate([[False], shown, [False]]).astype(int)))
    starts, ends = edges[::2], edges[1::2]
    k = int(np.argmax(ends - starts))
    x, y = x[starts[k] : ends[k]], y[starts[k] : ends[k]]
    if len(x) < 3:
        return None
    dx, dy = float(x[-1] - x[0]), float(y[-1] - y[0])
    length = float(np.hypot(dx, dy))
    if length < 0.3 * layout.width_px:
        return None
    if dx < 0 or (dx == 0 and dy > 0):
        dx, dy = -dx, -dy
    ux, uy = dx / length, dy / length
    mx, my = float(x[0] + x[-1]) / 2, float(y[0] + y[-1]) / 2
    bow = -(x - mx) * uy + (y - my) * ux  # downwards positive
    angle = float(np.degrees(np.arctan2(-uy, ux)))
    slide = max(0.0, min(0.35 * length, 0.5 * (length - layout.width_px) + 0.2 * length))
    px, py, cost = [], [], []
    for side in (-1.0, 1.0):
        for s in (0.0, -0.5, 0.5, -1.0, 1.0):
            # only the course beside the name decides how far off it must stand
            here = np.abs((x - mx) * ux + (y - my) * uy - s * slide) < 0.5 * layout.width_px + 0.3 * f
            edge = float(np.max(side * bow[here])) if here.any() else 0.0
            for extra in (0.0, 0.9):
                off = side * (edge + 0.5 * layout.height_px + (0.38 + extra) * f)
                px.append(mx + s * slide * ux - off * uy)
                py.append(my + s * slide * uy + off * ux)
                cost.append(0.05 + (0.04 if side > 0 else 0.0) + 0.08 * abs(s) + 0.12 * extra + abs(angle) / 900.0)
    n = len(px)
    box = rects(
        np.array(px), np.array(py), np.full(n, layout.width_px), np.full(n, layout.height_px), np.full(n, angle)
    )
    step = max(1, len(x) // 12)
    knots = np.unique(np.concatenate([np.arange(0, len(x), step), [len(x) - 1]]))
    course = segments(x[knots[:-1]], y[knots[:-1]], x[knots[1:]], y[knots[1:]], 0.5 * f)
    found = Candidates(
        np.full(n, owner),
        np.zeros(n, np.intp),
        box,
        np.full(n, angle),
        np.full(n, mx),
        np.full(n, my),
        np.zeros(n, bool),
        np.array(cost),
    )
    return found, course


def on_sea(scene: Scene, owner: int, mark: FeatureMark, layouts: Sequence[Layout]) -> list[Candidates]:
    """Names across a sea's lit ground in the picture; on a leader line as well, for seas smaller than their names."""
    pose, f = scene.pose, scene.font_px
    seas = sea_map()
    number = seas.number.get(mark.feature.name, -1)
    cells = seas.cells[number] if number >= 0 else np.zeros((0, 3))
    if not len(cells):
        return [around_spot(scene, owner, round_spot(mark.x, mark.y, 0.2 * f), layouts[-1], len(layouts) - 1)]
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    disc = project(cells, axes, pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    lat, lon = np.degrees(np.arcsin(cells[:, 2])), np.degrees(np.arctan2(cells[:, 1], cells[:, 0]))
    sun = sun_altitude_deg(lat, lon, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    shown = (disc.mu > 0.05) & (sun > LIT_SUN_DEG) & scene.inside(x, y)
    if not shown.any():
        return []
    x, y = x[shown], y[shown]
    weight = disc.mu[shown] * np.sqrt(np.clip(1.0 - cells[shown, 2] ** 2, 0.0, 1.0)) + 1e-6
    mx, my = float(np.average(x, weights=weight)), float(np.average(y, weights=weight))
    spread = float(np.sqrt(np.average((x - mx) ** 2 + (y - my) ** 2, weights=weight))) + 0.5 * f
    order = np.argsort(np.hypot(x - mx, y - my))
    keep = order[:: max(1, len(order) // 20)]
    px, py = np.concatenate([[mx], x[keep]]), np.concatenate([[my], y[keep]])
    n = len(px)
    found: list[Candidates] = []
    for k, layout in enumerate(layouts):
        if layout.font_px < layouts[0].font_px and any(np.any(c.cost < 0.25) for c in found):
            break  # the large letters have a good place
        box = rects(px, py, np.full(n, layout.width_px), np.full(n, layout.height_px), np.zeros(n))
        bx, by = box.points(7, 3)
        blat, blon = pixel_to_surface(pose, bx, by)
        bsun = sun_altitude_deg(
            np.nan_to_num(blat), np.nan_to_num(blon), pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
        )
        own = (seas.owner_at(blat, blon) == number) & scene.inside(bx, by) & (bsun > 0.5 * LIT_SUN_DEG)
        share = np.mean(own, axis=1)
        fits = np.flatnonzero((share >= 0.6) & own[:, 10])  # the middle of the box among them
        cost = 0.7 * (1.0 - share) + 0.22 * np.hypot(px - mx, py - my) / spread + 0.05 * k
        zero = np.zeros(len(fits))
        whole = np.zeros(len(fits), np.intp)
        found.append(
            Candidates(whole + owner, whole + k, box.take(fits), zero, px[fits], py[fits], zero > 0, cost[fits])
        )
    nearest = order[0]
    # on a leader line in ordinary letters, in two lines if it can be
    last = len(layouts) - 1
    spot = round_spot(float(x[nearest]), float(y[nearest]), 0.2 * f)
    hung = around_spot(scene, owner, spot, layouts[last], last, leaders_only=True)
    found.append(replace(hung, cost=hung.cost + 0.2))
    return found


def round_spot(x: float, y: float, radius: float) -> Ellipses:
    """A circle as an Ellipses of length 1."""
    one = np.ones(1)
    return Ellipses(one * x, one * y, one * radius, one * radius, one, 0.0 * one)
