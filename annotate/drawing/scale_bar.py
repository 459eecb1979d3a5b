"""A scale bar in kilometres, and the small Moon that shows where a close-up lies. Shapes and numbers only."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import replace

import cv2
import numpy as np

from moondesk.drawing.areas import polygon, ring, rounded_rectangle
from moondesk.drawing.blocks import EDGE_ON_VEIL, Align, box_at, stack_lines
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.composition import move_pose
from moondesk.drawing.sampling import Sampler, within
from moondesk.drawing.shapes import Fill, RasterShape, Shape
from moondesk.drawing.stage import DrawnLayer, Placed, Plan, Stage, fixed_plan
from moondesk.drawing.text import set_line
from moondesk.drawing.typefaces import CAP, REGULAR
from moondesk.moon.geometry import disc_to_pixel, pixel_to_disc, pixel_to_surface, unit_vector
from moondesk.moon.relight import as_displayed, disc_model, light
from moondesk.records import MOON_RADIUS_KM, FloatArray, NotFound, Pose

#: The bar is at most this long, pixels at 1080 lines; its words' capitals.
LONGEST, WORDS_CAP = 300.0, 26.5
#: Radius of the small Moon.
INSET = 112.0


def km_between(pose: Pose, x0: float, y0: float, x1: float, y1: float) -> float:
    """Kilometres along the ground between two pixels of a frame; nan off the disc."""
    lat, lon = pixel_to_surface(pose, np.array([x0, x1]), np.array([y0, y1]))
    a, b = unit_vector(lat, lon)
    return float(MOON_RADIUS_KM * 2 * np.arcsin(min(float(np.linalg.norm(a - b)) / 2, 1.0)))


def bar_px(pose: Pose, x: float, y: float, km: float) -> float:
    """Length in pixels of a level bar that, laid on the ground with its middle at (x, y), spans so many kilometres.

    True there and in that direction alone: the ground is foreshortened towards the limb (by the cosine of the angle
    from the disc's middle, in the direction away from it), so a bar laid elsewhere or across would be of another
    length. nan where the bar would reach beyond the limb.
    """
    low, high = 0.0, 2.0 * pose.radius_px
    for _ in range(60):
        middle = (low + high) / 2
        spans = km_between(pose, x - middle / 2, y, x + middle / 2, y)
        low, high = (middle, high) if spans < km else (low, middle)
    spans = km_between(pose, x - low / 2, y, x + low / 2, y)
    return low if abs(spans - km) < 0.01 * km else float("nan")


def scale_bar(stage: Stage) -> Plan | NotFound | None:
    """The bar with its words at the lower right (left, where the credit stands at the right); true at the frame's middle, of a whole disc at the disc's. Where the
    placing is not certain, that stands small above it. None where there is no ground at that middle, and nothing to
    say."""
    pose, fmt, theme = stage.pose, stage.format, stage.theme
    u = fmt.unit
    x, y = (pose.x, pose.y) if stage.found.whole else ((fmt.width - 1) / 2, (fmt.height - 1) / 2)
    fits = [
        (km, px) for km in (1, 2, 5, 10, 20, 50, 100, 200, 500) for px in [bar_px(pose, x, y, km)] if px <= LONGEST * u
    ]
    if not fits:
        return None if stage.annotation.sure else _caution(stage, fmt.safe.y1)
    km, length = fits[-1]
    cap = max(WORDS_CAP * u, fmt.least_cap(stage.black))
    line = set_line(_distance(km, stage), 1.001 * cap / CAP, stage.theme.cut(REGULAR))
    if isinstance(line, NotFound):
        return line
    block = stack_lines([(line, theme.soft)])
    low = fmt.safe.y1
    wide = max(length, block.width)
    left = fmt.safe.x0 if stage.leftward else fmt.safe.x1 - wide
    middle = left + wide / 2
    box = TurnedBox(left, low - 20 * u - block.height, left + wide, low)
    for taken in sorted(stage.fixed, key=lambda b: -b.y0):
        if box.grow(22 * u).touches(taken):
            low = taken.y0 - 23 * u
            box = TurnedBox(left, low - 20 * u - block.height, left + wide, low)
    x0, x1, thick, tick = middle - length / 2, middle + length / 2, 3.5 * u, 12 * u
    rule = [
        (x0, low),
        (x0, low - tick),
        (x0 + thick, low - tick),
        (x0 + thick, low - thick),
        (x1 - thick, low - thick),
        (x1 - thick, low - tick),
        (x1, low - tick),
        (x1, low),
    ]
    letters, texts = block.at(middle, low - 20 * u - block.height / 2, "middle", theme.halo, EDGE_ON_VEIL)
    edge = polygon(
        [(x0 - 2 * u, low + 2 * u), (x0 - 2 * u, low - tick), (x1 + 2 * u, low - tick), (x1 + 2 * u, low + 2 * u)],
        theme.halo,
        0.5,
    )
    under = (edge,) if not stage.found.whole or not stage.black else ()
    plan = fixed_plan(line.text, (*under, polygon(rule, theme.soft), *letters), texts, [box])
    caution = None if stage.annotation.sure else _caution(stage, box.y0 - 18 * u)
    return plan if caution is None else caution if isinstance(caution, NotFound) else _together(plan, caution)


def _distance(km: int, stage: Stage) -> str:
    """The bar's words, in the digits that the credit is written in."""
    texts = stage.wanted.texts
    written = (c for c in "".join((texts.credit, *texts.lines)) if c.isdecimal() and not c.isascii())
    digit = next(written, "0")
    zero = ord(digit) - unicodedata.decimal(digit)
    return stage.words["distance"].format(km=km).translate({ord("0") + k: zero + k for k in range(10)})


def _caution(stage: Stage, low: float) -> Plan | NotFound:
    """The words that the placing is not certain, with their lower edge at a height. It is nothing of the sender's, so it
    does not stand with the credit."""
    cap = max(WORDS_CAP * stage.format.unit, stage.format.least_cap(stage.black))
    line = set_line(stage.words["caution"], 1.001 * cap / CAP, stage.theme.cut(REGULAR))
    if isinstance(line, NotFound):
        return line
    block = stack_lines([(line, stage.theme.caution)])
    align: Align = "left" if stage.leftward else "right"
    x = stage.format.safe.x0 if stage.leftward else stage.format.safe.x1
    for taken in stage.fixed:
        if box_at(block, x, low - block.height / 2, align).grow(14 * stage.format.unit).touches(taken):
            low = min(low, taken.y0 - 20 * stage.format.unit)
    letters, texts = block.at(x, low - block.height / 2, align, stage.theme.halo, EDGE_ON_VEIL)
    return fixed_plan(line.text, letters, texts, [box_at(block, x, low - block.height / 2, align)])


def _together(one: Plan, other: Plan) -> Plan:
    """Two plans of fixed things as one layer."""

    def draw(placed: Placed) -> Iterator[DrawnLayer]:
        first, second = (next(iter(plan.draw(placed))) for plan in (one, other))
        yield replace(first, shapes=(*first.shapes, *second.shapes), texts=(*first.texts, *second.texts))

    return Plan(draw=draw, boxes=(*one.boxes, *other.boxes))


def inset(stage: Stage) -> Plan | None:
    """The whole disc small in the upper left corner of a close-up, with the frame's own part in a box on it. What the
    picture has not of the disc is drawn from our maps."""
    rgb, source, pose, fmt = stage.rgb, stage.annotation.pose, stage.pose, stage.format
    if stage.found.whole or source is None:
        return None
    u = fmt.unit
    radius = INSET * u
    x, y = fmt.safe.x0 + radius, fmt.safe.y0 + radius
    small = move_pose(pose, x - 0.5, y - 0.5, radius)
    half = int(np.ceil(radius)) + 2
    x0, y0 = int(x) - half, int(y) - half
    ys, xs = np.mgrid[y0 : y0 + 2 * half, x0 : x0 + 2 * half].astype(np.float64)
    u_, v_ = pixel_to_disc(small, xs, ys)
    px, py = disc_to_pixel(source, u_, v_)
    pixels = np.empty((*xs.shape, 4), np.uint8)
    photo = Sampler(rgb, source.radius_px / radius).at(px, py, cv2.INTER_LINEAR)
    has = within(px, py, rgb.shape[1], rgb.shape[0])
    pixels[..., :3] = np.where(has[..., None], photo, _from_maps(small, u_, v_)[..., None])
    pixels[..., 3] = np.rint(255 * np.clip((1.0 - np.hypot(u_, v_)) * radius + 0.5, 0.0, 1.0))
    # the frame's corners on the small disc: the same view, so the part is a rectangle there too
    f = radius / pose.radius_px
    left, top = x + (0 - pose.x - 0.5) * f, y + (0 - pose.y - 0.5) * f
    part = TurnedBox(left, top, left + fmt.width * f, top + fmt.height * f)
    plate = TurnedBox(x - radius - 12 * u, y - radius - 12 * u, x + radius + 12 * u, y + radius + 12 * u)
    shapes: list[Shape] = [
        rounded_rectangle(plate, 22 * u, stage.theme.plate),
        rounded_rectangle(TurnedBox(x - radius, y - radius, x + radius, y + radius), radius, "#000000"),
        RasterShape(x0, y0, pixels),
        ring(x, y, radius, 2 * u, stage.theme.soft, 0.5),
        _frame_of(part, plate, 4 * u, stage.theme.accent),
    ]
    return fixed_plan(stage.words["inset"], shapes, boxes=[plate])


def _from_maps(pose: Pose, u: FloatArray, v: FloatArray) -> FloatArray:
    """The Moon of our own maps in the picture's light, dimmed: what the picture itself does not have."""
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, pose.radius_px, pose.distance_radii)
    shown = as_displayed(light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)).astype(np.float32)
    x, y = model.centre + pose.radius_px * u, model.centre - pose.radius_px * v
    found = cv2.remap(shown, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    return np.asarray(np.maximum(0.6 * found, 22.0), np.float64)


def _frame_of(part: TurnedBox, within: TurnedBox, width: float, colour: str) -> Fill:
    """A rectangle's line, kept inside a plate and never so small that it is not seen."""
    cx, cy = part.middle
    w, h = max(part.width, 5 * width), max(part.height, 5 * width)
    room = within.grow(-1.5 * width)
    x0, x1 = max(cx - w / 2, room.x0), min(cx + w / 2, room.x1)
    y0, y1 = max(cy - h / 2, room.y0), min(cy + h / 2, room.y1)
    outer = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    inner = np.array(
        [(x0 + width, y0 + width), (x1 - width, y0 + width), (x1 - width, y1 - width), (x0 + width, y1 - width)]
    )
    return Fill((outer, inner[::-1].copy()), colour)
