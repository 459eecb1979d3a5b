"""The look on air: a placed picture as a frame, its layers one by one and together.

    rgb, Annotation, FrameRequest -> compose_frame, lay -> what stands fast -> names round it -> Frame

Every name is placed with all others in sight, so any layers may stand together without touching. A layer is a row of
`LAYERS`, and how it plans and draws itself a function (see `stage`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from moondesk.drawing.areas import circle
from moondesk.drawing.background import Laid, lay
from moondesk.drawing.composition import compose_frame
from moondesk.drawing.frame import AirFrame, FrameLayer, FrameRequest
from moondesk.drawing.frame_lines import EQUATOR, TERMINATOR, ZERO_MERIDIAN, directions, moon_lines
from moondesk.drawing.frame_names import plan_names, seas
from moondesk.drawing.lower_third import lower_third
from moondesk.drawing.name_places import place_names
from moondesk.drawing.paint import paint
from moondesk.drawing.scale_bar import inset, scale_bar
from moondesk.drawing.shapes import Path, RasterShape, Shape
from moondesk.drawing.stage import AirLayer, DrawnLayer, Placed, Plan, Stage
from moondesk.records import Annotation, ByteArray, NotFound


def _picture(stage: Stage, laid: Laid) -> Plan:
    found, u = stage.found, stage.format.unit

    def draw(placed: Placed) -> Iterator[DrawnLayer]:
        shapes: list[Shape] = [RasterShape(0, 0, laid.rgb)]
        if laid.cut and found.disc is not None and found.whole:  # where the picture ends, the Moon goes on
            x, y, radius = found.disc
            limb = tuple((float(px), float(py)) for px, py in circle(x, y, radius, 360))
            line = Path(points=limb, width_px=2.0 * u, colour=stage.theme.soft, opacity=0.35, closed=True)
            shapes += placed.clear([line], rings=True)
        yield DrawnLayer(title="", shapes=tuple(shapes))

    return Plan(draw=draw)


#: In the order of revealing. Whose picture it is is never a step of its own: picture, scale and credit stand from the
#: start; with the credit comes the ground under all that stands at the frame's foot, so it lies lowest.
LAYERS = (
    AirLayer(kind="credit", claims=1, plan=lower_third, base=True, over_moon=False),
    AirLayer(kind="seas", claims=8, plan=seas, words={"seas": "Seas"}),
    AirLayer(kind="feature", claims=7, plan=plan_names),
    AirLayer(kind="terminator", claims=4, plan=moon_lines(TERMINATOR), words={"terminator": "Terminator"}),
    AirLayer(
        kind="lines",
        claims=5,
        plan=moon_lines(EQUATOR, ZERO_MERIDIAN, origin=True),
        words={"equator": "Equator", "zero_meridian": "Zero meridian"},
    ),
    AirLayer(
        kind="directions",
        claims=6,
        plan=directions,
        words={"north": "N", "east": "E", "directions": "Directions on the Moon"},
    ),
    AirLayer(kind="inset", claims=3, plan=inset, words={"inset": "Where on the Moon"}),
    AirLayer(
        kind="scale",
        claims=2,
        plan=scale_bar,
        words={"distance": "{km} km", "caution": "Placing not certain"},
        base=True,
    ),
)
#: The English of all fixed words of a frame, by key.
WORDS: Mapping[str, str] = MappingProxyType({key: words for row in LAYERS for key, words in row.words.items()})


def frame_layers(rgb: ByteArray, annotation: Annotation, wanted: FrameRequest) -> AirFrame | NotFound:
    """The layers of a frame, in the order of revealing.

    rgb: (H, W, 3) uint8 as displayed, in the annotation's pixels. Without a pose there are picture and credit alone.
    NotFound for a zoom that the picture does not show, and for words with a sign that no typeface has.
    """
    if rgb.shape != (annotation.height, annotation.width, 3) or rgb.dtype != np.uint8:
        raise ValueError(f"the picture must be ({annotation.height}, {annotation.width}, 3) uint8, not {rgb.shape}")
    found = compose_frame(annotation, wanted)
    if isinstance(found, NotFound):
        return found
    laid = lay(rgb, found.lookup, wanted.format, found.step)
    stage = Stage(
        rgb=rgb,
        annotation=annotation,
        wanted=wanted,
        found=found,
        words={**WORDS, **wanted.texts.words},
        black=laid.black and found.whole and found.disc is not None,
    )
    plans: dict[str, Plan] = {"picture": _picture(stage, laid)}
    for row in sorted(LAYERS, key=lambda row: row.claims):
        plan = row.plan(stage) if found.pose is not None or not row.over_moon else None
        if isinstance(plan, NotFound):
            return plan
        if plan is not None:
            plans[row.kind] = plan
            stage = replace(
                stage,
                fixed=(*stage.fixed, *plan.boxes),
                requests=(*stage.requests, *plan.requests),
                keys=stage.keys + plan.keys,
            )
    names = {} if found.pose is None else place_names(stage)
    rings = tuple(r.ring for r in stage.requests if r.key in names and r.ring)
    placed = Placed(names=names, left_out=[], unit=wanted.format.unit, taken=stage.fixed, zone=stage.zone, rings=rings)
    bases = {row.kind for row in LAYERS if row.base} | {"picture"}
    layers = tuple(
        FrameLayer(
            name=drawn.name or kind,
            kind=kind,
            title=drawn.title,
            base=kind in bases,
            shapes=drawn.shapes,
            texts=drawn.texts,
        )
        for kind in ("picture", *(row.kind for row in LAYERS))
        if kind in plans
        for drawn in plans[kind].draw(placed)
    )
    return AirFrame(wanted.format, layers, found.pose, tuple(placed.left_out))


def flatten(frame: AirFrame) -> ByteArray:
    """All layers in one, (H, W, 3) uint8."""
    canvas = np.zeros((frame.format.height, frame.format.width, 4), np.uint8)
    for layer in frame.layers:
        paint(canvas, layer.shapes)
    return np.ascontiguousarray(canvas[..., :3])


def layer_rgba(frame: AirFrame, layer: FrameLayer) -> ByteArray:
    """One layer by itself, (H, W, 4) uint8, alpha not multiplied in."""
    canvas = np.zeros((frame.format.height, frame.format.width, 4), np.uint8)
    paint(canvas, layer.shapes)
    return canvas
