"""The lower third: who took the picture and with what, the day of the lunation, the evening, as it was composed.

Bare letters at the lower left beside the theme's own mark, with a dark edge over the Moon; on an opaque plate before a
bright sky, or where the theme wants one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import cv2
import numpy as np

from moondesk.drawing.areas import bar, rounded_rectangle
from moondesk.drawing.blocks import EDGE_ON_VEIL, box_at
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.frame import TextBox
from moondesk.drawing.paint import rgb_of
from moondesk.drawing.shapes import RasterShape, Shape
from moondesk.drawing.stage import DrawnLayer, Placed, Plan, Stage
from moondesk.records import ByteArray, NotFound

_PAD, _RULE = 22.0, 7.0
#: The logo is at most as high and as wide, pixels at 1080 lines.
_LOGO_HIGH, _LOGO_WIDE = 84.0, 260.0
#: How dense the veil over a frame's foot is, and from how far above to how far below the foot's edge it gets so, lines
#: of 1080: letters stand out from it, and what lies under it is still seen.
_VEIL, _RISE = 0.38, 90.0


def lower_third(stage: Stage) -> Plan | NotFound | None:
    """The words with their mark; None where nothing is to stand there."""
    block, fmt, theme = stage.found.credit, stage.format, stage.theme
    logo = _logo(stage)
    marks, taken = ([logo[0]], [logo[1]]) if logo else ([], [])
    if block is None:
        return _on_ground("", stage, marks, (), taken) if logo or stage.found.pose is not None else None
    u, safe = fmt.unit, fmt.safe
    pad = _PAD * u
    leftward = stage.leftward  # its lines begin at the right, and so there it stands, with its mark
    ink = box_at(block, safe.x1 if leftward else safe.x0, safe.y1 - block.height / 2, "right" if leftward else "left")
    sky = stage.found.whole and not stage.black  # of twilight or day: letters of this height want a plate there
    small = not stage.black and block.lines[-1].cap_px < fmt.least_cap(False)
    plate = theme.lower_third == "plate" or sky or small
    mark = pad + _RULE * u
    around, out = (0.8 * pad, pad) if plate else (0.3 * pad, 0.0)
    box = TurnedBox(
        ink.x0 - (out if leftward else mark),
        ink.y0 - around,
        min(ink.x1 + (mark if leftward else out), fmt.width),
        ink.y1 + around,
    )
    shapes: list[Shape] = [rounded_rectangle(box, 6 * u, theme.plate)] if plate else []
    if theme.lower_third == "line":
        top = ink.y0 - 0.55 * pad
        shapes.append(bar(ink.x0, top - 3 * u, ink.x1, top, theme.accent))
        box = replace(box, y0=min(top - 3 * u, box.y0))
    else:
        x0 = box.x1 - _RULE * u if leftward else box.x0
        shapes.append(bar(x0, box.y0, x0 + _RULE * u, box.y1, theme.accent))
    letters, texts = block.at(
        ink.x1 if leftward else ink.x0,
        safe.y1 - block.height / 2,
        "right" if leftward else "left",
        "" if plate else theme.halo,
        EDGE_ON_VEIL,
    )
    if plate:
        texts = tuple(replace(text, ground=theme.plate, plate=True) for text in texts)
    # line by line: beside a short one there is room for the scale
    lines = [box] if plate else [replace(box, x1=ink.x0), replace(box, x0=ink.x1), *(t.box.grow(4 * u) for t in texts)]
    return _on_ground(stage.wanted.texts.credit, stage, (*marks, *shapes, *letters), texts, [*lines, *taken])


def _on_ground(
    title: str, stage: Stage, shapes: Sequence[Shape], texts: Sequence[TextBox], boxes: Sequence[TurnedBox]
) -> Plan:
    """What stands fast, over the dark ground of the frame's foot where that has one."""

    def draw(placed: Placed) -> Iterator[DrawnLayer]:
        under = [] if placed.zone is None else [_ground(placed.zone, stage)]
        if under or shapes:
            yield DrawnLayer(title=title, shapes=(*under, *shapes), texts=tuple(texts))

    return Plan(draw=draw, boxes=tuple(boxes))


def _ground(zone: TurnedBox, stage: Stage) -> RasterShape:
    """A dark veil over the frame's foot that begins unseen above it and lets the Moon through everywhere."""
    rise = _RISE * stage.format.unit
    top = round(zone.y0 - rise)
    share = np.clip(np.arange(stage.format.height - top) / (2 * rise), 0.0, 1.0)
    pixels = np.empty((len(share), stage.format.width, 4), np.uint8)
    pixels[..., :3] = rgb_of(stage.theme.halo)
    pixels[..., 3] = np.rint(255 * _VEIL * share * share * (3.0 - 2.0 * share))[:, None]
    return RasterShape(0, top, pixels)


def _logo(stage: Stage) -> tuple[RasterShape, TurnedBox] | None:
    """The theme's logo in its corner of the text's area, and the room that it takes."""
    asset, fmt = stage.theme.logo, stage.format
    if asset is None:
        return None
    pixels = read_logo(asset.data)
    scale = min(_LOGO_HIGH * fmt.unit / pixels.shape[0], _LOGO_WIDE * fmt.unit / pixels.shape[1])
    size = max(1, round(pixels.shape[1] * scale)), max(1, round(pixels.shape[0] * scale))
    # what is transparent has no colour of its own: multiplied in while it is resized, or its rim darkens
    light = pixels.astype(np.float32)
    light[..., :3] = light[..., :3] * (light[..., 3:] / 255.0)
    small = cv2.resize(light, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR)
    small[..., :3] = small[..., :3] * (255.0 / np.maximum(small[..., 3:], 1.0))
    left = fmt.safe.x0 if stage.theme.logo_corner == "upper left" else fmt.safe.x1 - size[0]
    shape = RasterShape(round(left), round(fmt.safe.y0), np.clip(np.rint(small), 0, 255).astype(np.uint8))
    return shape, TurnedBox(shape.x, shape.y, shape.x + size[0], shape.y + size[1])


def read_logo(data: bytes) -> ByteArray:
    """The pixels of a PNG with alpha, (h, w, 4). ValueError for another file, and for one without alpha."""
    found = (
        cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED) if data[:8] == b"\x89PNG\r\n\x1a\n" else None
    )
    if found is None:
        raise ValueError("it is no PNG")
    if found.ndim != 3 or found.shape[2] != 4 or found.dtype != np.uint8:
        raise ValueError("it has no alpha channel of eight bits")
    return np.asarray(cv2.cvtColor(found, cv2.COLOR_BGRA2RGBA), np.uint8)
