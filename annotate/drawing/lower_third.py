"""The lower third: who took the picture and with what, the day of the lunation, the evening, as it was composed.

Bare letters at the lower left beside the theme's own mark, with a dark edge over the Moon; on an opaque plate before a
bright sky, or where the theme wants one.
"""

from __future__ import annotations

from dataclasses import replace

from moondesk.drawing.areas import polygon, rounded_rectangle
from moondesk.drawing.blocks import box_at
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.shapes import Shape
from moondesk.drawing.stage import Plan, Stage, fixed_plan
from moondesk.records import NotFound

_PAD, _RULE = 22.0, 7.0


def lower_third(stage: Stage) -> Plan | NotFound | None:
    """The words with their mark; None where nothing is to stand there."""
    block, fmt, theme = stage.found.credit, stage.format, stage.theme
    if block is None:
        return None
    u, safe = fmt.unit, fmt.safe
    pad = _PAD * u
    ink = box_at(block, safe.x0, safe.y1 - block.height / 2, "left")
    sky = stage.found.whole and not stage.black  # of twilight or day: letters of this height want a plate there
    small = not stage.black and block.lines[-1].cap_px < fmt.least_cap(False)
    plate = theme.lower_third == "plate" or sky or small
    shapes: list[Shape] = []
    if plate:
        box = TurnedBox(ink.x0 - pad - _RULE * u, ink.y0 - 0.8 * pad, min(ink.x1 + pad, fmt.width), ink.y1 + 0.8 * pad)
        shapes.append(rounded_rectangle(box, 6 * u, theme.plate))
    else:
        box = TurnedBox(ink.x0 - pad - _RULE * u, ink.y0 - 0.3 * pad, ink.x1, ink.y1 + 0.3 * pad)
    if theme.lower_third == "line":
        top = ink.y0 - 0.55 * pad
        shapes.append(
            polygon([(ink.x0, top - 3 * u), (ink.x1, top - 3 * u), (ink.x1, top), (ink.x0, top)], theme.accent)
        )
        box = replace(box, y0=top - 3 * u) if not plate else box
    else:
        x0 = box.x0
        shapes.append(
            polygon([(x0, box.y0), (x0 + _RULE * u, box.y0), (x0 + _RULE * u, box.y1), (x0, box.y1)], theme.accent)
        )
    letters, texts = block.at(safe.x0, safe.y1 - block.height / 2, "left", "" if plate else theme.halo)
    if plate:
        texts = tuple(replace(text, ground=theme.plate, plate=True) for text in texts)
    return fixed_plan(stage.wanted.texts.credit, (*shapes, *letters), texts, [box])
