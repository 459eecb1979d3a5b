"""Pictures of two evenings in one frame of the Moon, pixel on pixel and at one tone, to be wiped over or shown in turn.

Each is drawn by itself, from nothing of the other but the frame's pose. The first one's credit stands at the left, where
its part of the frame is when the second comes in from the right; in an upright frame the second's stands over it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from moondesk.comparison.common_frame import SKY_FROM, SKY_TO, Framed, common_pose, lookup_into
from moondesk.comparison.levels import level
from moondesk.drawing.areas import ring
from moondesk.drawing.background import lay
from moondesk.drawing.blocks import Block
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.broadcast import WORDS
from moondesk.drawing.composition import Composition
from moondesk.drawing.credit_block import credit_blocks
from moondesk.drawing.frame import AirFrame, Format, FrameLayer, FrameRequest
from moondesk.drawing.lower_third import lower_third
from moondesk.drawing.paint import paint
from moondesk.drawing.shapes import RasterShape, Shape
from moondesk.drawing.stage import Placed, Plan, Stage
from moondesk.records import Annotation, ByteArray, NotFound, Pose
from moondesk.tour.requests import SharedRequest

#: A whole disc's radius and the height of its middle, lines of a level frame of 1080; of an upright one that is as wide.
_LEVEL, _UPRIGHT = (404.0, 462.0), (470.0, 780.0)
#: Free between the two credits of an upright frame, lines.
_BETWEEN = 56.0


def shared_pose(first: Annotation, second: Annotation, fmt: Format) -> Pose | NotFound:
    """The Moon in a frame for two pictures: whole, or the part that both have where that is small."""
    for annotation in (first, second):
        if annotation.pose is None or not annotation.status.facts.is_named:
            return NotFound("tour", "One of the two pictures is not placed on the Moon.", "Choose another.")
    both = [Framed(a.pose, a.width, a.height) for a in (first, second) if a.pose is not None]
    radius, middle = (k * fmt.unit for k in (_UPRIGHT if fmt.upright else _LEVEL))
    side = min(fmt.width, fmt.height)
    part = common_pose(both, side)
    whole = common_pose(both, side, shared_part=False)
    if part == whole:
        return replace(whole, x=fmt.width / 2 - 0.5, y=middle - 0.5, radius_px=radius)
    return replace(part, x=part.x + (fmt.width - side) / 2, y=part.y + (fmt.height - side) / 2)


def shared_frame(rgb: ByteArray, annotation: Annotation, wanted: SharedRequest) -> AirFrame | NotFound:
    """One of the two: its picture and its credit."""
    pose, frame, fmt = annotation.pose, wanted.frame, wanted.format
    if pose is None:
        return NotFound("tour", "The picture is not placed on the Moon.", "It can only be shown as it was sent.")
    picture = Framed(pose, annotation.width, annotation.height)
    lookup, step = lookup_into(picture, frame), pose.radius_px / frame.radius_px
    laid = lay(level(rgb, pose), lookup, fmt, step)
    ys, xs = np.mgrid[0 : fmt.height, 0 : fmt.width].astype(np.float32)
    off = np.hypot(xs - frame.x, ys - frame.y) / frame.radius_px
    sky = np.clip((SKY_TO - off) / (SKY_TO - SKY_FROM), 0.0, 1.0)[..., None]
    ground = np.rint(laid.rgb * sky).astype(np.uint8)  # what two evenings' skies differ in says nothing
    whole = bool(frame.radius_px < min(fmt.width, fmt.height) / 2)
    credits = credit_blocks(wanted.whole.texts, fmt, wanted.whole.theme, on_moon=not whole)
    if isinstance(credits, NotFound):
        return credits
    block = _narrow_enough(credits, frame, fmt)
    theme = wanted.whole.theme if not wanted.second else replace(wanted.whole.theme, logo=None)
    stage = Stage(
        rgb=rgb,
        annotation=annotation,
        wanted=replace(wanted.whole, theme=theme),
        found=Composition(
            lookup=lookup, step=step, pose=frame, disc=(frame.x, frame.y, frame.radius_px), whole=whole, credit=block
        ),
        words={**WORDS, **wanted.whole.texts.words},
        black=whole,
    )
    plan = lower_third(stage)
    if isinstance(plan, NotFound):
        return plan
    shown: list[Shape] = [RasterShape(0, 0, ground)]
    if laid.cut and whole:  # where the picture ends, the Moon goes on
        shown.append(ring(frame.x + 0.5, frame.y + 0.5, frame.radius_px, 2.0 * fmt.unit, theme.soft, 0.35))
    layers = [FrameLayer(name="picture", kind="picture", title="", base=True, shapes=tuple(shown))]
    if plan is not None:
        shapes = _put_aside(plan, wanted) if wanted.second or stage.leftward else _shapes(plan)
        layers.append(
            FrameLayer(name="credit", kind="credit", title=wanted.whole.texts.credit, base=True, shapes=shapes)
        )
    return AirFrame(fmt, tuple(layers), None)


def credit_height(wanted: FrameRequest, frame: Pose) -> float:
    """How high a picture's credit stands in the frame, pixels."""
    credits = credit_blocks(wanted.texts, wanted.format, wanted.theme, on_moon=False)
    block = None if isinstance(credits, NotFound) else _narrow_enough(credits, frame, wanted.format)
    return block.height if block is not None else 0.0


def _narrow_enough(credits: tuple[Block, ...], frame: Pose, fmt: Format) -> Block | None:
    """Of the ways to set a credit the widest, so the lowest, that leaves the Moon and the other half alone."""
    if fmt.upright or not credits:
        return credits[-1] if credits else None

    def clear(block: Block) -> bool:
        down = fmt.safe.y1 - block.height - 26 * fmt.unit - (frame.y + 0.5)
        half = np.sqrt(max(frame.radius_px**2 - max(down, 0.0) ** 2, 0.0))
        return bool(fmt.safe.x0 + block.width + 26 * fmt.unit < min(frame.x + 0.5 - half, 0.48 * fmt.width))

    return next((b for b in reversed(credits) if clear(b)), credits[0])


def _shapes(plan: Plan) -> tuple[Shape, ...]:
    return tuple(shape for drawn in plan.draw(Placed(names={}, left_out=[])) for shape in drawn.shapes)


def _put_aside(plan: Plan, wanted: SharedRequest) -> tuple[Shape, ...]:
    """The lower third moved as a whole: the second's to the right, in an upright frame over the other's; one that is
    written from the right and would stand there to the left."""
    fmt = wanted.format
    canvas = np.zeros((fmt.height, fmt.width, 4), np.uint8)
    paint(canvas, _shapes(plan))
    rows, columns = (np.flatnonzero(canvas[..., 3].max(axis=k)) for k in (1, 0))
    if not len(rows):
        return ()
    ink = TurnedBox(float(columns[0]), float(rows[0]), float(columns[-1] + 1), float(rows[-1] + 1))
    pixels = np.ascontiguousarray(canvas[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1])
    if not wanted.second:
        return (RasterShape(int(ink.x0 if fmt.upright else fmt.safe.x0), int(ink.y0), pixels),)
    if fmt.upright:
        return (RasterShape(int(ink.x0), round(ink.y0 - wanted.under - _BETWEEN * fmt.unit), pixels),)
    return (RasterShape(round(fmt.safe.x1 - ink.width), int(ink.y0), pixels),)
