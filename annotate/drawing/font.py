"""The packaged font and its measures: DejaVu Sans Condensed Bold, which has every accent of the IAU's names.

The licence stands beside it in annotate/data. Text is measured and drawn with the same plain layout (no shaping), so
a width computed here is the width drawn.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from io import BytesIO

from PIL import ImageFont

FONT_FILE = "DejaVuSansCondensed-Bold.ttf"
#: CSS family for the SVG: the packaged face first, then what a system is likely to have.
FONT_FAMILY = "'DejaVu Sans Condensed', 'DejaVu Sans', Verdana, sans-serif"

#: Distance of two baselines, and height of a capital letter, in units of the font size (the face's own: 0.729).
LINE_STEP = 1.14
CAP_HEIGHT = 0.729

_UNIT_PX = 200.0


@lru_cache(maxsize=1)
def _font_bytes() -> bytes:
    return files("moondesk").joinpath("data", FONT_FILE).read_bytes()


@lru_cache(maxsize=64)
def font(size_px: float) -> ImageFont.FreeTypeFont:
    """The packaged face at a size in pixels (fractions allowed)."""
    return ImageFont.truetype(BytesIO(_font_bytes()), size_px, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=8192)
def _unit_width(line: str) -> float:
    return font(_UNIT_PX).getlength(line) / _UNIT_PX


def text_size(text: str, font_px: float) -> tuple[float, float]:
    """Width and height in pixels of the box of a text, whose lines are separated by newlines."""
    lines = text.split("\n")
    width = max(_unit_width(line) for line in lines) * font_px
    return width, (1.0 + LINE_STEP * (len(lines) - 1)) * font_px


def baselines(text: str, font_px: float) -> tuple[float, ...]:
    """Offsets of the lines' baselines below the centre of the text's box, pixels."""
    n = text.count("\n") + 1
    first = 0.5 * CAP_HEIGHT - 0.5 * LINE_STEP * (n - 1)
    return tuple((first + LINE_STEP * i) * font_px for i in range(n))
