"""The look on air: a placed picture as a frame, its layers one by one and together.

    rgb, Annotation, FrameRequest -> compose_frame, lay -> plates that stand fast -> chips round them -> Frame

Every chip is placed with all others in sight, so any layers may stand together without touching. A layer is a row of
`LAYERS`, and how it plans and draws itself a function (see `stage`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from moondesk.drawing.background import lay
from moondesk.drawing.chips import RULE, LabelGround, place, ring
from moondesk.drawing.composition import compose_frame
from moondesk.drawing.frame import AirFrame, Format, FrameLayer, FrameRequest
from moondesk.drawing.frame_lines import EQUATOR, TERMINATOR, ZERO_MERIDIAN, directions, moon_lines
from moondesk.drawing.frame_names import plan_names, seas
from moondesk.drawing.lower_third import lower_third
from moondesk.drawing.paint import paint
from moondesk.drawing.scale_bar import inset, scale_bar
from moondesk.drawing.shapes import RasterShape, Shape
from moondesk.drawing.stage import AirLayer, PlacedLabel, Plan, Stage, fixed_plan
from moondesk.moon.geometry import pixel_to_surface, sun_altitude_deg
from moondesk.records import Annotation, ByteArray, FloatArray, NotFound, Pose

#: Grid on which the Moon's light is known for placing chips, pixels.
_CELL = 12.0


def _picture(stage: Stage) -> Plan:
    found, fmt = stage.found, stage.format
    laid = lay(stage.rgb, found.lookup, fmt, found.step)
    shapes: list[Shape] = [RasterShape(0, 0, laid.rgb)]
    if laid.cut and found.disc is not None:  # where the picture ends, the Moon goes on
        x, y, radius = found.disc
        shapes.append(ring(x + 0.5, y + 0.5, radius, 2.0 * fmt.unit, RULE, 0.9))
    return fixed_plan("", shapes)


#: In the order of revealing. Whose picture it is is never a step of its own: picture, scale and credit stand from the
#: start.
LAYERS = (
    AirLayer(kind="picture", claims=0, plan=_picture, base=True, over_moon=False),
    AirLayer(
        kind="directions",
        claims=3,
        plan=directions,
        words={"north": "N", "south": "S", "east": "E", "west": "W", "directions": "Directions on the Moon"},
    ),
    AirLayer(kind="terminator", claims=6, plan=moon_lines(TERMINATOR), words={"terminator": "Terminator"}),
    AirLayer(
        kind="lines",
        claims=7,
        plan=moon_lines(EQUATOR, ZERO_MERIDIAN),
        words={"equator": "Equator", "zero_meridian": "Zero meridian"},
    ),
    AirLayer(kind="seas", claims=8, plan=seas, words={"seas": "Seas"}),
    AirLayer(kind="feature", claims=5, plan=plan_names),
    AirLayer(kind="scale", claims=2, plan=scale_bar, words={"distance": "{km} km"}, base=True),
    AirLayer(kind="inset", claims=4, plan=inset, words={"inset": "Where on the Moon"}),
    AirLayer(
        kind="credit", claims=1, plan=lower_third, words={"caution": "Placing not certain"}, base=True, over_moon=False
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
    words = {**WORDS, **wanted.texts.words}
    stage = Stage(rgb=rgb, annotation=annotation, wanted=wanted, found=found, words=words)
    plans: dict[str, Plan] = {}
    for row in sorted(LAYERS, key=lambda row: row.claims):
        plan = row.plan(stage) if found.pose is not None or not row.over_moon else None
        if isinstance(plan, NotFound):
            return plan
        if plan is not None:
            plans[row.kind] = plan
            stage = replace(stage, fixed=(*stage.fixed, *plan.boxes), requests=(*stage.requests, *plan.requests))
    spots = {} if found.pose is None else place(stage.requests, _ground(stage, found.pose))
    placed, layers = PlacedLabel(spots=spots, plates=[], left_out=[]), []
    for row in LAYERS:
        if row.kind not in plans:
            continue
        for drawn in plans[row.kind].draw(placed):
            layers.append(
                FrameLayer(
                    name=drawn.name or row.kind,
                    kind=row.kind,
                    title=drawn.title,
                    base=row.base,
                    shapes=drawn.shapes,
                    texts=drawn.texts,
                )
            )
        placed.plates.extend(plans[row.kind].boxes)
    return AirFrame(wanted.format, tuple(layers), found.pose, tuple(placed.left_out))


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


def _ground(stage: Stage, pose: Pose) -> LabelGround:
    fmt = stage.format
    return LabelGround(
        safe=fmt.safe,
        side=float(min(fmt.width, fmt.height)),
        light=_light(pose, fmt),
        cell=_CELL * fmt.unit,
        fixed=stage.fixed,
        gap=7 * fmt.unit,
    )


def _light(pose: Pose, fmt: Format) -> FloatArray:
    """How much lit Moon there is in each cell of the frame, 0..1."""
    cell = _CELL * fmt.unit
    xs, ys = np.meshgrid(np.arange(cell / 2, fmt.width, cell), np.arange(cell / 2, fmt.height, cell))
    lat, lon = pixel_to_surface(pose, xs, ys)
    on = ~np.isnan(lat)
    sun = sun_altitude_deg(
        np.where(on, lat, 0.0), np.where(on, lon, 0.0), pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
    )
    return np.asarray(np.where(on, np.clip(sun / 15.0, 0.12, 1.0), 0.0))
