"""What the placing of names works with: the scene, the ways to set a name, and sets of candidate places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from moondesk.drawing.boxes import BoolArray, IndexArray, Inside, Many, Rects, no_rects, segments
from moondesk.drawing.seas import sea_map
from moondesk.drawing.style import AREA_KINDS, LONG_KINDS, kind_scale
from moondesk.drawing.text import text_size
from moondesk.moon.geometry import disc_axes, disc_to_pixel, lift, pixel_to_disc, unit_vector
from moondesk.records import FeatureMark, Float32Array, FloatArray, Kind, Pose

#: Cells along the longer side of the part that is surveyed.
CELLS = 128


@dataclass(frozen=True, eq=False, kw_only=True)
class SceneGround:
    """Flat arrays over the cells, a ring of empty ones round them (sky, or no picture).

    sun: sine of the Sun's height, -1 for empty. sea: number of the sea, -1 for none. piece: 0 for empty, else which
    side of equator, zero meridian and terminator. cell_px2: area of a cell. (x0, y0): centre of the first of the ring.
    """

    x0: float
    y0: float
    step: float
    columns: int
    rows: int
    sun: Float32Array
    sea: NDArray[np.int16]
    piece: NDArray[np.uint8]

    def at(self, x: FloatArray, y: FloatArray) -> IndexArray:
        """Index of the cell that holds each point."""
        column = np.clip((x - self.x0) / self.step + 0.5, 0, self.columns - 1).astype(np.intp)
        row = np.clip((y - self.y0) / self.step + 0.5, 0, self.rows - 1).astype(np.intp)
        return row * self.columns + column

    def sunlit_px2(self) -> float:
        """Area of the sunlit ground in the picture."""
        return self.step**2 * float(np.count_nonzero(self.sun > 0))


def survey(width: int, height: int, pose: Pose, inside: Inside) -> SceneGround:
    """The ground of a picture of width x height pixels; `inside` tells which of them are picture."""
    t = np.radians(np.arange(0.0, 360.0, 6.0))
    limb_x, limb_y = disc_to_pixel(pose, np.cos(t), np.sin(t))
    left, right = max(float(limb_x.min()), 0.0), min(float(limb_x.max()), width - 1.0)
    top, bottom = max(float(limb_y.min()), 0.0), min(float(limb_y.max()), height - 1.0)
    step = max(right - left, bottom - top, 1.0) / (CELLS - 1)
    columns, rows = (max(int(np.ceil(k / step)), 0) + 3 for k in (right - left, bottom - top))
    x0, y0 = left - step, top - step
    x, y = np.meshgrid(x0 + step * np.arange(columns), y0 + step * np.arange(rows))
    u, v = pixel_to_disc(pose, x, y)
    on = (u * u + v * v < 1.0) & inside(x, y)
    on[[0, -1]], on[:, [0, -1]] = False, False
    on = on.ravel()
    sun, sea = np.full(on.size, -1.0, np.float32), np.full(on.size, -1, np.int16)
    piece = np.zeros(on.size, np.uint8)
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    spot = lift(u.ravel()[on], v.ravel()[on], axes, pose.distance_radii)
    sine = spot @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    sun[on] = sine
    lat, lon = np.degrees(np.arcsin(np.clip(spot[:, 2], -1, 1))), np.degrees(np.arctan2(spot[:, 1], spot[:, 0]))
    sea[on] = sea_map().owner_at(lat, lon)
    piece[on] = 1 + (lat > 0) + 2 * (lon > 0) + 4 * (sine > 0)
    return SceneGround(x0=x0, y0=y0, step=step, columns=columns, rows=rows, sun=sun, sea=sea, piece=piece)


@dataclass(frozen=True, eq=False, kw_only=True)
class Candidates(Many):
    """n places for the names of several features. owner: index of the feature; layout: index into its layouts."""

    owner: IndexArray
    layout: IndexArray
    box: Rects
    angle_deg: FloatArray
    anchor_x: FloatArray
    anchor_y: FloatArray
    leader: BoolArray
    cost: FloatArray

    def __len__(self) -> int:
        return len(self.owner)

    def leaders(self, thick: float) -> Rects:
        """Leader lines as thin rectangles; those without one shrink to nothing far outside every picture."""
        x, y = nearest_on_box(self.box, self.anchor_x, self.anchor_y)
        far = np.where(self.leader, 0.0, -1e7)
        return segments(
            x + far,
            y + far,
            np.where(self.leader, self.anchor_x, x) + far,
            np.where(self.leader, self.anchor_y, y) + far,
            thick,
        )


@dataclass(frozen=True, kw_only=True)
class Label:
    """A name placed in a picture: where its text box stands and what it points at. Pixels, full resolution."""

    name: str
    text: str
    kind: Kind
    #: Centre of the text box.
    x: float
    y: float
    width_px: float
    height_px: float
    font_px: float
    #: The point of the feature that the label belongs to (a sea: its lit part in the frame).
    anchor_x: float
    anchor_y: float
    #: True where a leader line runs from the box to the anchor.
    leader: bool
    #: Turn of the baseline, degrees counter-clockwise as displayed from level (-90..90).
    angle_deg: float = 0.0


@dataclass(frozen=True)
class SceneLayout:
    """A way to set a name: its text (lines separated by newlines), font size and box, pixels."""

    text: str
    font_px: float
    width_px: float
    height_px: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Scene:
    """What the candidates need of a picture. font_px: ordinary text; inside: which pixels are picture."""

    width: int
    height: int
    pose: Pose
    font_px: float
    inside: Inside
    ground: SceneGround


def nearest_on_box(box: Rects, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The point of each rectangle that is nearest to (x, y): where a leader line starts."""
    dx, dy = x - box.x, y - box.y
    a = np.clip(dx * box.ux + dy * box.uy, -box.half_w, box.half_w)
    b = np.clip(-dx * box.uy + dy * box.ux, -box.half_h, box.half_h)
    return box.x + a * box.ux - b * box.uy, box.y + a * box.uy + b * box.ux


def layouts_of(mark: FeatureMark, font_px: float) -> tuple[SceneLayout, ...]:
    """The ways to set a feature's name, the preferred one first."""
    feature = mark.feature
    sizes = [font_px * kind_scale(feature.kind, feature.size_km)]
    texts = [feature.name]
    if feature.kind in AREA_KINDS:
        head, _, tail = feature.name.partition(" ")
        if tail:
            texts.append(f"{head}\n{tail}")
        if sizes[0] > font_px:  # a large sea of which little is lit, or little in the frame
            sizes.append(font_px)
    return tuple(SceneLayout(t, size, *text_size(t, size)) for size in sizes for t in texts)


def no_candidates() -> Candidates:
    none, index = np.zeros(0), np.zeros(0, np.intp)
    return Candidates(
        owner=index,
        layout=index,
        box=no_rects(),
        angle_deg=none,
        anchor_x=none,
        anchor_y=none,
        leader=np.zeros(0, bool),
        cost=none,
    )


def is_long(mark: FeatureMark) -> bool:
    """True for ranges, valleys, rilles and their like."""
    return mark.feature.kind in LONG_KINDS


def is_area(mark: FeatureMark) -> bool:
    """True for seas and their like."""
    return mark.feature.kind in AREA_KINDS
