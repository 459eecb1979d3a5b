"""How frames of a programme look: colours by what they stand for, the lower third's form, typeface and logo. A record.

Colours of the house's own themes are of the set by M. Okabe and K. Ito (2008) where kinds must be told apart, lightened
for letters on black; kinds differ in form as well (a ring, a course with brackets, slanting letters), so that no colour
carries a meaning alone. Every colour of letters has a contrast of 4.5 to 1 at least against halo, plate and black (WCAG
2.2, success criterion 1.4.3); `Theme` refuses others.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, fields
from typing import Literal

from moondesk.drawing.typefaces import Cut, OwnFace, Weight

LowerThird = Literal["rule", "plate", "line"]
LOWER_THIRDS: tuple[LowerThird, ...] = ("rule", "plate", "line")
Corner = Literal["upper left", "upper right"]
CORNERS: tuple[Corner, ...] = ("upper left", "upper right")
LEAST_CONTRAST = 4.5
#: Fields that letters are written in; what they must be read against.
LETTERS = ("text", "soft", "seas", "craters", "ranges", "terminator", "grid", "caution")
GROUNDS = ("plate", "halo")


@dataclass(frozen=True)
class Asset:
    """A file that a theme brings along, known by its checksum."""

    sha256: str
    data: bytes = field(repr=False, compare=False)


@dataclass(frozen=True, kw_only=True)
class Theme:
    """text, soft: the credit and what stands under it; accent: the lower third's own mark; plate: opaque ground where
    letters must lie over the Moon; halo: dark edge round bare letters; logo: a PNG with alpha; typeface: a font file
    that is asked for each sign before the packaged ones."""

    name: str = "Nightglass"
    text: str = "#f7f9fd"
    soft: str = "#c3d0e6"
    accent: str = "#ffd36b"
    seas: str = "#a9d9ff"
    craters: str = "#ffd98a"
    ranges: str = "#ffb08f"
    terminator: str = "#e9a5f2"
    grid: str = "#7fe0c3"
    caution: str = "#ffa765"
    plate: str = "#0b1424"
    halo: str = "#06080c"
    lower_third: LowerThird = "rule"
    logo: Asset | None = None
    logo_corner: Corner = "upper right"
    typeface: Asset | None = None

    def __post_init__(self) -> None:
        for f in fields(self):
            value = getattr(self, f.name)
            if f.name in (*LETTERS, *GROUNDS, "accent") and not re.fullmatch(r"#[0-9a-f]{6}", value):
                raise ValueError(f"{f.name}: {value!r} is no colour like #a9d9ff")
        if self.lower_third not in LOWER_THIRDS or self.logo_corner not in CORNERS:
            raise ValueError(f"there is no such form: {self.lower_third}, {self.logo_corner}")
        for ink in LETTERS:
            for ground in GROUNDS:
                ratio = contrast_ratio(getattr(self, ink), getattr(self, ground))
                if ratio < LEAST_CONTRAST:
                    raise ValueError(f"{ink} on {ground} has a contrast of {ratio:.1f}, less than {LEAST_CONTRAST}")

    def cut(self, weight: int) -> Weight:
        """A weight of letters, in the theme's own typeface where it has one."""
        if self.typeface is None:
            return weight
        return Cut(weight, OwnFace(self.typeface.sha256, self.typeface.data))


def _luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(share * c for share, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast_ratio(one: str, other: str) -> float:
    """Contrast of two colours by WCAG 2.2, 1 to 21."""
    a, b = _luminance(one), _luminance(other)
    return (max(a, b) + 0.05) / (min(a, b) + 0.05)


#: The house's own looks.
NIGHTGLASS = Theme()
HARBOUR = Theme(
    name="Harbour Slate",
    text="#ffffff",
    soft="#d5dde0",
    accent="#4fc3d9",
    seas="#8fe3f2",
    craters="#f4f1e6",
    ranges="#f7c59f",
    terminator="#e6a8ee",
    grid="#b7e08a",
    plate="#10252b",
    lower_third="plate",
)
ALMANAC = Theme(
    name="Paper Almanac",
    text="#f6efe2",
    soft="#d8cdb9",
    accent="#d98b5f",
    seas="#b9cbe0",
    craters="#f0dfb4",
    ranges="#e6b48f",
    terminator="#d9a3cd",
    grid="#b5cfae",
    plate="#1d1712",
    lower_third="line",
)
THEMES = {"nightglass": NIGHTGLASS, "harbour-slate": HARBOUR, "paper-almanac": ALMANAC}
