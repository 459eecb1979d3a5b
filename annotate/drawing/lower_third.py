"""The lower third: who took the picture and with what, the day of the lunation, the evening.

On an opaque plate in night blue with a rule of moonlight gold, at the left below or beside the Moon. Where the placing
is not certain, that stands above the credit.
"""

from __future__ import annotations

from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.chips import EMBER, GOLD, PLATE, SOFT, WHITE, polygon
from moondesk.drawing.frame import Format, TextBox
from moondesk.drawing.shapes import Shape
from moondesk.drawing.stage import Plan, Stage, fixed_plan
from moondesk.drawing.text import TextLine, clean_text, wrap_text
from moondesk.drawing.typefaces import BOLD, CAP, REGULAR
from moondesk.records import NotFound

#: Height of capitals, pixels at 1080 lines: credit, lines under it, caution.
CREDIT_CAP, LINE_CAP, CAUTION_CAP = 36.0, 27.0, 27.0
#: Width of the text beside the Moon, and the most lines of credit and of each line under it.
BESIDE, MOST_CREDIT, MOST_LINE = 610.0, 2, 2
_RULE, _PAD = 8.0, 26.0


def lower_third(stage: Stage) -> Plan | NotFound | None:
    """The plate with its lines; None where nothing is to stand there."""
    texts, fmt = stage.wanted.texts, stage.format
    caution = stage.found.pose is not None and not stage.annotation.sure
    u = fmt.unit
    safe = fmt.safe
    wanted = [(stage.words["caution"], CAUTION_CAP, BOLD, EMBER, 2)] if caution else []
    wanted += [(texts.credit, CREDIT_CAP, BOLD, WHITE, MOST_CREDIT)] if texts.credit else []
    wanted += [(line, LINE_CAP, REGULAR, SOFT, MOST_LINE) for line in texts.lines if clean_text(line)]
    rows: list[tuple[TextLine, str]] = []
    for text, cap, weight, colour, most in wanted:
        lines = _fit_text(text, cap * u, weight, most, fmt)
        if isinstance(lines, NotFound):
            return lines
        rows += [(line, colour) for line in lines]
    if not rows:
        return None
    pad = _PAD * u
    steps = [line.size_px * 1.28 for line, _ in rows]
    bottom = safe.y1 + 0.55 * pad
    left = safe.x0 - pad - _RULE * u
    width = max(line.ink.x1 - min(line.ink.x0, 0.0) for line, _ in rows)
    height = sum(steps) + 1.35 * pad
    box = TurnedBox(left, bottom - height, min(safe.x0 + width + 1.4 * pad, fmt.width), bottom)
    slant = 0.16 * height
    shapes: list[Shape] = [
        polygon(
            [
                (box.x0, box.y0),
                (box.x1 + slant * 0.5, box.y0),
                (box.x1 - slant * 0.5 + 0.3 * pad, box.y1),
                (box.x0, box.y1),
            ],
            PLATE,
        ),
        polygon(
            [(box.x0, box.y0), (box.x0 + _RULE * u, box.y0), (box.x0 + _RULE * u, box.y1), (box.x0, box.y1)],
            EMBER if caution else GOLD,
        ),
    ]
    boxes = []
    y = box.y0 + 0.62 * pad
    for (line, colour), step in zip(rows, steps, strict=True):
        baseline = y + step / 2 + CAP * line.size_px / 2
        fill, ink = line.at(safe.x0 - min(line.ink.x0, 0.0), baseline, colour)
        shapes.append(fill)
        boxes.append(TextBox(text=line.text, box=ink, cap_px=line.cap_px, colour=colour, ground=PLATE, plate=True))
        y += step
    return fixed_plan(texts.credit, shapes, boxes, [TurnedBox(box.x0, box.y0, box.x1 + slant * 0.5, box.y1)])


def _fit_text(text: str, cap_px: float, weight: int, most: int, fmt: Format) -> tuple[TextLine, ...] | NotFound:
    """The text beside the Moon if it fits there, at the least size if need be; else across the frame."""
    least = fmt.least_cap(True)
    across = fmt.safe.width
    beside = across if fmt.upright else BESIDE * fmt.unit
    for width, cap, lines in (
        (beside, cap_px, most),
        (beside, max(least, 0.8 * cap_px), most),
        (across, cap_px, most),
        (across, least, most + 1),
    ):
        found = wrap_text(text, cap * 1.001 / CAP, weight, width, lines)
        if isinstance(found, NotFound):
            return found
        if max(line.ink.width for line in found) <= width:
            return found
    return NotFound(
        "credit", f"“{clean_text(text)}” is too long for the lower third.", "Write it shorter in the rundown."
    )
