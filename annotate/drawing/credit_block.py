"""The words of the lower third, set: who took the picture, under it with what and when. Composed with the Moon, so their
size is known before the Moon's place is."""

from __future__ import annotations

from moondesk.drawing.blocks import Block, stack_lines
from moondesk.drawing.frame import Format, Texts
from moondesk.drawing.text import TextLine, clean_text, wrap_text
from moondesk.drawing.theme import Theme
from moondesk.drawing.typefaces import BOLD, CAP, REGULAR, Weight
from moondesk.records import NotFound

#: Height of capitals, lines of 1080: credit, lines under it on black or on a plate, and over the Moon.
CREDIT_CAP, LINE_CAP, ON_MOON_CAP = 37.0, 26.5, 30.5
#: Between two facts in one line.
BETWEEN = "  ·  "
#: The most lines of the credit, and of what stands under it.
_MOST_CREDIT, _MOST_LINES = 2, 4
#: Widths that are tried, shares of the safe area's.
_WIDTHS = (0.30, 0.36, 0.42, 0.48, 0.56, 0.66, 0.8, 1.0)


def credit_blocks(texts: Texts, fmt: Format, theme: Theme, on_moon: bool) -> tuple[Block, ...] | NotFound:
    """Every useful way to set them, the narrowest first; empty where there are no words. NotFound where a sign has no
    typeface, or the words are too long for a frame. on_moon: bare letters over the Moon, which must be higher."""
    line_cap = ON_MOON_CAP if on_moon else LINE_CAP
    facts = [clean_text(line) for line in texts.lines if clean_text(line)]
    if not texts.credit and not facts:
        return ()
    found: list[Block] = []
    for share in _WIDTHS:
        width = share * fmt.safe.width
        rows: list[tuple[TextLine, str]] = []
        if texts.credit:
            lines = wrap_text(texts.credit, 1.001 * CREDIT_CAP * fmt.unit / CAP, theme.cut(BOLD), width, _MOST_CREDIT)
            if not isinstance(lines, NotFound) and _widest(lines) > width and share == _WIDTHS[-1]:
                lines = wrap_text(
                    texts.credit, 1.001 * fmt.least_cap(False) / CAP, theme.cut(BOLD), width, _MOST_CREDIT + 1
                )
            if isinstance(lines, NotFound):
                return lines
            rows += [(line, theme.text) for line in lines]
        under = _facts(facts, 1.001 * line_cap * fmt.unit / CAP, width, theme.cut(REGULAR))
        if isinstance(under, NotFound):
            return under
        rows += [(line, theme.soft) for line in under]
        if _widest([line for line, _ in rows]) <= width:
            block = stack_lines(rows, loose=1.2)
            if not found or block.height < found[-1].height - 1:
                found.append(block)
    if not found:
        long = max((texts.credit, *facts), key=len)
        return NotFound(
            "credit", f"“{clean_text(long)}” is too long for the lower third.", "Write it shorter in the rundown."
        )
    # a tower of short lines only where nothing lower goes
    fewest = max(3, min(len(block.lines) for block in found))
    return tuple(block for block in found if len(block.lines) <= fewest)


def _widest(lines: tuple[TextLine, ...] | list[TextLine]) -> float:
    return max(line.ink.width for line in lines)


def _facts(facts: list[str], size: float, width: float, weight: Weight) -> tuple[TextLine, ...] | NotFound:
    """Facts one after another in a line as long as they fit, else each in its own lines."""
    rows: list[TextLine] = []
    k = 0
    while k < len(facts):
        for end in range(len(facts), k, -1):
            joined = wrap_text(BETWEEN.join(facts[k:end]), size, weight, width, 1 if end > k + 1 else _MOST_LINES)
            if isinstance(joined, NotFound):
                return joined
            if _widest(joined) <= width or end == k + 1:
                rows += joined
                k = end
                break
    return tuple(rows)
