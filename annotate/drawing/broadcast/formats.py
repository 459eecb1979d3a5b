"""The frames' formats: their sizes, where text may stand, and how large it must be. Numbers only.

Text keeps inside 10 % of the width and 5 % of the height (figures F: x 192 to 1727 and y 54 to 1025 of 1920 x 1080);
that is the narrower of the areas in use, so it holds for the others too. Capital letters are at least 30 lines high at
1080 lines, 26 on an opaque plate (figures F, a clearing house's rule for high definition). Sizes go with the shorter
side: an upright frame is looked at on a telephone, where it is as wide as a level one is high.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

FormatName = Literal["hd", "uhd", "vertical"]

#: Share of width and of height at each edge that is free of text: 192 / 1920 and 54 / 1080.
TEXT_MARGIN_X, TEXT_MARGIN_Y = 0.1, 0.05
#: Least height of a capital letter, lines of a frame whose shorter side has 1080.
LEAST_CAP, LEAST_CAP_ON_PLATE = 30.0, 26.0


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels as drawing counts them: (0, 0) is the corner of the first pixel, not its centre."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        return self.y1 - self.y0

    @property
    def middle(self) -> tuple[float, float]:
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    def grow(self, px: float) -> Box:
        return Box(self.x0 - px, self.y0 - px, self.x1 + px, self.y1 + px)

    def around(self, x: Any, y: Any) -> Any:
        """Whether points, numbers or arrays, lie inside."""
        return (x > self.x0) & (x < self.x1) & (y > self.y0) & (y < self.y1)

    def touches(self, other: Box) -> bool:
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    def holds(self, other: Box) -> bool:
        """Whether the other lies in it, to a hundredth of a pixel."""
        return (
            other.x0 >= self.x0 - 0.01
            and other.y0 >= self.y0 - 0.01
            and other.x1 <= self.x1 + 0.01
            and other.y1 <= self.y1 + 0.01
        )


@dataclass(frozen=True)
class Format:
    """A frame's size in pixels."""

    name: FormatName
    width: int
    height: int

    @property
    def unit(self) -> float:
        """How many pixels one line of a frame of 1080 lines is here."""
        return min(self.width, self.height) / 1080.0

    @property
    def upright(self) -> bool:
        """Higher than wide."""
        return self.height > self.width

    @property
    def safe(self) -> Box:
        """Where text may stand."""
        x, y = TEXT_MARGIN_X * self.width, TEXT_MARGIN_Y * self.height
        return Box(x, y, self.width - x, self.height - y)

    def least_cap(self, plate: bool) -> float:
        """Least height of a capital letter, pixels; plate: on an opaque one."""
        return self.unit * (LEAST_CAP_ON_PLATE if plate else LEAST_CAP)


HD = Format("hd", 1920, 1080)
UHD = Format("uhd", 3840, 2160)
VERTICAL = Format("vertical", 1080, 1920)
FORMATS: MappingProxyType[str, Format] = MappingProxyType({f.name: f for f in (HD, UHD, VERTICAL)})
