"""Where each name could stand: candidates by kind of feature, each with what it costs.

A crater's name touches its rim at one of twelve places or hangs on a leader line; a sea's stands on its own lit
ground; that of a range, valley or rille runs along the feature. Costs are in units in which 1 is about what it is worth
to have a prominent feature named: to the right and a little above costs least (E. Imhof, "Positioning Names on Maps",
1975), leader lines cost more the longer they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from moondesk.drawing import curves
from moondesk.drawing.boxes import Ellipses, Rects, rects, segments
from moondesk.drawing.courses import course_vectors
from moondesk.drawing.scene import Candidates, Scene, SceneLayout
from moondesk.drawing.seas import sea_map
from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, sun_altitude_deg, unit_vector
from moondesk.records import FeatureMark, FloatArray, Pose

#: Ground counts as lit for a sea's name from this height of the Sun on, degrees: clear of the ragged edge of light.
LIT_SUN_DEG = 2.0

#: Directions and distances (in units of the font's size) of the places round a spot: near ones, then on leader lines.
_AROUND = np.radians(np.arange(0.0, 360.0, 30.0))
_GAP, _FAR = 0.3, (1.3, 2.4, 3.8, 5.6)
_TURNS = np.concatenate([_AROUND] + [_AROUND + (0.26 if far in (2.4, 5.6) else 0.0) for far in _FAR])
_REACH = np.repeat([_GAP, *_FAR], 12)
_COSTS = np.repeat([0.0, *(0.26 + 0.05 * far for far in _FAR)], 12)
#: In the sky beyond the limb: directions from the line that leads away from the disc's centre, and distances.
_FAN = np.radians([0.0, -20.0, 20.0, -40.0, 40.0, -60.0, 60.0, -85.0, 85.0])
_BEYOND = (1.0, 2.4, 4.2, 6.5)


@dataclass(frozen=True, eq=False, kw_only=True)
class LabelCandidate:
    """A feature named beside one spot. ellipse: of length 1; number: of the layout; cost: added to every place."""

    owner: int
    ellipse: Ellipses
    layout: SceneLayout
    number: int = 0
    leaders_only: bool = False
    cost: float = 0.0


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
    return Ellipses(
        x=x, y=y, a=a, b=b, nx=np.where(away > 1e-6, dx / away, 1.0), ny=np.where(away > 1e-6, dy / away, 0.0)
    )


def around_spots(scene: Scene, spots: Sequence[LabelCandidate]) -> Candidates:
    """Names round craters' rims and other spots, near ones and ones on leader lines: all spots at once."""
    f, radius = scene.font_px, scene.pose.radius_px
    spot = spots[0].ellipse.joined(s.ellipse for s in spots[1:]).take(np.s_[:, None])
    cx, cy = (float(c) for c in disc_to_pixel(scene.pose, 0.0, 0.0))
    out_x, out_y = spot.x - cx, spot.y - cy
    away = np.maximum(np.hypot(out_x, out_y), 1e-6)
    # distance to the limb circle along each ray of the fan
    along = np.cos(_FAN) * away
    edge = np.sqrt(np.maximum(along**2 + radius**2 - away**2, 0.0)) - along
    beyond = np.repeat(_BEYOND, len(_FAN)) * f
    edge = np.tile(edge, len(_BEYOND))
    shape = (len(spots), len(_TURNS) + len(beyond))
    theta, reach, cost = np.empty(shape), np.empty(shape), np.empty(shape)
    near, fan = np.s_[:, : len(_TURNS)], np.s_[:, len(_TURNS) :]
    theta[near], theta[fan] = _TURNS, np.arctan2(-out_y, out_x) + np.tile(_FAN, len(_BEYOND))
    reach[near], reach[fan] = _REACH * f, np.maximum(edge + beyond - spot.a, 1.2 * f)
    cost[near], cost[fan] = _COSTS, 0.22 + 0.06 * np.minimum((edge + beyond) / f, 12.0) + 0.15 * edge / radius
    wanted = np.ones(shape, bool)
    wanted[:, :12] = ~np.array([s.leaders_only for s in spots])[:, None]
    wanted[fan] = radius - away < max(0.35 * radius, 7.0 * f)  # room in the sky beyond the limb
    dx, dy = np.cos(theta), -np.sin(theta)
    # the best direction is to the right and 20 degrees up
    cost += np.array([s.cost for s in spots])[:, None] + 0.1 * (1.0 - (dx * np.cos(0.35) - dy * np.sin(0.35)))
    rim = spot.reach(dx, dy)
    wide, high = (np.array([getattr(s.layout, n) for s in spots])[:, None] for n in ("width_px", "height_px"))
    # boxes begin at the end of the way and lie away from it
    x = spot.x + dx * (rim + reach) + np.clip(1.7 * dx, -1.0, 1.0) * wide / 2
    y = spot.y + dy * (rim + reach) + np.clip(1.7 * dy, -1.0, 1.0) * high / 2
    k, way = np.nonzero(wanted)
    one = np.ones(len(k))
    box = Rects(x=x[wanted], y=y[wanted], half_w=wide[k, 0] / 2, half_h=high[k, 0] / 2, ux=one, uy=0.0 * one)
    return Candidates(
        owner=np.array([s.owner for s in spots])[k],
        layout=np.array([s.number for s in spots])[k],
        box=box,
        angle_deg=0.0 * one,
        anchor_x=(spot.x + dx * rim)[wanted],
        anchor_y=(spot.y + dy * rim)[wanted],
        leader=way >= 12,
        cost=cost[wanted],
    )


def along_course(scene: Scene, owner: int, mark: FeatureMark, layout: SceneLayout) -> tuple[Candidates, Rects] | None:
    """Names along a long feature's lit course in the picture, and the course itself as rectangles not to be covered.

    None where the course is unknown or too little of it shows for a name.
    """
    f, shown = scene.font_px, _shown_course(scene, mark)
    if shown is None:
        return None
    x, y = shown
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
    places = []  # x, y, cost
    for side, s in product((-1.0, 1.0), (0.0, -0.5, 0.5, -1.0, 1.0)):
        # only the course beside the name decides how far off it must stand
        here = np.abs((x - mx) * ux + (y - my) * uy - s * slide) < 0.5 * layout.width_px + 0.3 * f
        edge = float(np.max(side * bow[here])) if here.any() else 0.0
        for extra in (0.0, 0.9):
            off = side * (edge + 0.5 * layout.height_px + (0.38 + extra) * f)
            cost = 0.05 + (0.04 if side > 0 else 0.0) + 0.08 * abs(s) + 0.12 * extra + abs(angle) / 900.0
            places.append((mx + s * slide * ux - off * uy, my + s * slide * uy + off * ux, cost))
    px, py, costs = np.array(places).T
    n = len(places)
    step = max(1, len(x) // 12)
    knots = np.unique(np.concatenate([np.arange(0, len(x), step), [len(x) - 1]]))
    found = Candidates(
        owner=np.full(n, owner),
        layout=np.zeros(n, np.intp),
        box=rects(px, py, np.full(n, layout.width_px), np.full(n, layout.height_px), np.full(n, angle)),
        angle_deg=np.full(n, angle),
        anchor_x=np.full(n, mx),
        anchor_y=np.full(n, my),
        leader=np.zeros(n, bool),
        cost=costs,
    )
    return found, segments(x[knots[:-1]], y[knots[:-1]], x[knots[1:]], y[knots[1:]], 0.5 * f)


def _shown_course(scene: Scene, mark: FeatureMark) -> tuple[FloatArray, FloatArray] | None:
    """The longest stretch of a feature's course that is in the light and in the picture, pixels."""
    vectors, pose = course_vectors(mark.feature.name), scene.pose
    if vectors is None:
        return None
    disc = project(vectors, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    lat = np.degrees(np.arcsin(np.clip(vectors[:, 2], -1, 1)))
    lon = np.degrees(np.arctan2(vectors[:, 1], vectors[:, 0]))
    sun = sun_altitude_deg(lat, lon, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    # peaks catch the light before the plain does: 2 km of height sees a Sun 2.7 degrees below the horizon
    stretches = curves.stretches((disc.mu > 0.08) & (sun > -1.5) & scene.inside(x, y))
    start, end = max(stretches, key=lambda s: s[1] - s[0], default=(0, 0))
    return (x[start:end], y[start:end]) if end - start >= 3 else None


def on_seas(
    scene: Scene, owners: Sequence[int], marks: Sequence[FeatureMark], layouts: Sequence[Sequence[SceneLayout]]
) -> tuple[list[Candidates], list[LabelCandidate]]:
    """Names across the seas' lit ground in the picture, and spots to hang them on where a sea is smaller than its name.

    owners, marks, layouts: of the seas.
    """
    pose, f, seas = scene.pose, scene.font_px, sea_map()
    numbers = [seas.number.get(m.feature.name, -1) for m in marks]
    cells = [seas.cells[k] if k >= 0 else np.zeros((0, 3)) for k in numbers]
    every = np.concatenate([np.zeros((0, 3)), *cells])
    disc = project(every, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    sun = every @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    shown = (disc.mu > 0.05) & (sun > np.sin(np.radians(LIT_SUN_DEG))) & scene.inside(x, y)
    weight = disc.mu * np.sqrt(np.clip(1.0 - every[:, 2] ** 2, 0.0, 1.0)) + 1e-6
    ends = np.cumsum([len(c) for c in cells]).tolist()
    found: list[Candidates] = []
    spots: list[LabelCandidate] = []
    for owner, mark, sizes, number, own, end in zip(owners, marks, layouts, numbers, cells, ends, strict=True):
        last = len(sizes) - 1
        if not len(own):
            spots.append(
                LabelCandidate(
                    owner=owner, ellipse=round_spot(mark.x, mark.y, 0.2 * f), layout=sizes[last], number=last
                )
            )
            continue
        here = end - len(own) + np.flatnonzero(shown[end - len(own) : end])
        if not len(here):
            continue
        shown_cells = np.stack([x[here], y[here], weight[here]])
        named, nearest = _across(scene, owner, number, sizes, shown_cells)
        found += named
        # on a leader line in ordinary letters, in two lines if it can be
        k = here[nearest]
        spot = round_spot(float(x[k]), float(y[k]), 0.2 * f)
        spots.append(
            LabelCandidate(owner=owner, ellipse=spot, layout=sizes[last], number=last, leaders_only=True, cost=0.2)
        )
    return found, spots


#: Points of a box at which a sea's ground is asked for, in half sizes; the middle is one of them.
_ACROSS, _DOWN = (g.ravel() for g in np.meshgrid(np.linspace(-1, 1, 7), np.linspace(-1, 1, 3)))
_MIDDLE = 10


def _across(
    scene: Scene, owner: int, number: int, layouts: Sequence[SceneLayout], cells: FloatArray
) -> tuple[list[Candidates], int]:
    """Names on a sea of which these cells (x, y, weight) are shown, and the index of the cell nearest to their weighted
    middle."""
    x, y, weight = cells
    total = weight.sum()
    mx, my = float(weight @ x / total), float(weight @ y / total)
    away = np.hypot(x - mx, y - my)
    spread = float(np.sqrt(weight @ (away * away) / total)) + 0.5 * scene.font_px
    order = np.argsort(away)
    keep = order[:: -(-len(order) // 20)]
    px, py = np.concatenate([[mx], x[keep]]), np.concatenate([[my], y[keep]])
    half_w, half_h = (np.array([getattr(s, n) for s in layouts]) / 2 for n in ("width_px", "height_px"))
    bx = px[None, :, None] + half_w[:, None, None] * _ACROSS
    by = py[None, :, None] + half_h[:, None, None] * _DOWN
    cell = scene.ground.at(bx, by)
    own = (scene.ground.sea[cell] == number) & (scene.ground.sun[cell] > np.sin(np.radians(0.5 * LIT_SUN_DEG)))
    share = own.mean(axis=2)
    fits = (share >= 0.6) & own[:, :, _MIDDLE]
    cost = 0.7 * (1.0 - share) + 0.22 * np.hypot(px - mx, py - my) / spread + 0.05 * np.arange(len(layouts))[:, None]
    large = np.array([s.font_px >= layouts[0].font_px for s in layouts])
    if (fits & (cost < 0.25))[large].any():
        fits &= large[:, None]  # the large letters have a good place
    k, n = np.nonzero(fits)
    one = np.ones(len(k))
    box = Rects(x=px[n], y=py[n], half_w=half_w[k], half_h=half_h[k], ux=one, uy=0.0 * one)
    named = Candidates(
        owner=np.full(len(k), owner),
        layout=k,
        box=box,
        angle_deg=0.0 * one,
        anchor_x=px[n],
        anchor_y=py[n],
        leader=one < 0,
        cost=cost[k, n],
    )
    return [named], int(order[0])


def round_spot(x: float, y: float, radius: float) -> Ellipses:
    """A circle as an Ellipses of length 1."""
    one = np.ones(1)
    return Ellipses(x=one * x, y=one * y, a=one * radius, b=one * radius, nx=one, ny=0.0 * one)
