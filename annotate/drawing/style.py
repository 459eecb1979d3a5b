"""What the overlay of the desk looks like: sizes, kinds of features (on air: `theme`). Numbers only.

Colours are of the set by M. Okabe and K. Ito (Color Universal Design, 2008), lightened where they must stand on black;
kinds differ in form as well (rings, no ring, tilt), so that colour never carries a meaning alone. None of them
reaches WCAG's contrast over a bright highland (white 1.5, yellow 1.2 against #D0D0D0), hence the dark halo under
every line and letter.
"""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.records import Kind

AREA_KINDS: frozenset[Kind] = frozenset({"sea", "ocean", "lake", "bay", "marsh", "plain"})
LONG_KINDS: frozenset[Kind] = frozenset({"mountain range", "valley", "rille", "ridge", "scarp", "crater chain"})
SPOT_KINDS: frozenset[Kind] = frozenset({"mountain", "cape", "landing site", "bright patch"})

#: Name of the reference crater of the Moon's coordinates.
REFERENCE_CRATER = "Mösting A"

HALO = "#06080c"


def layer_of(kind: Kind) -> str:
    """The layer that a feature of a kind is drawn in."""
    if kind in AREA_KINDS:
        return "seas"
    if kind in LONG_KINDS or kind in ("mountain", "cape"):
        return "mountains"
    return "craters"


@dataclass(frozen=True, kw_only=True)
class LabelStyle:
    """How labels are chosen and sized.

    text_scale multiplies the size that follows from picture and disc. min_seen and min_lit (0..1) are the least
    probability of being made out and the least share in sunlight of a feature that gets a label.
    """

    text_scale: float = 1.0
    min_seen: float = 0.2
    min_lit: float = 0.05
    max_labels: int = 42

    def __post_init__(self) -> None:
        if not 0.3 <= self.text_scale <= 4.0:
            raise ValueError(f"text_scale {self.text_scale} is outside 0.3..4")
        if self.max_labels < 0:
            raise ValueError(f"max_labels {self.max_labels} is negative")


#: Text for a screen 360 px wide in units of the ordinary one: 11 px at least there instead of 4.5.
NARROW_SCALE = 2.4


def base_font_px(width: int, height: int, radius_px: float, text_scale: float = 1.0) -> float:
    """Size of ordinary text in pixels for a picture of width x height with a disc of radius_px.

    1/50 of the disc's diameter, but between 1/80 and 1/60 of the picture's longer side: 15 to 20 px where the whole
    picture is shown 1200 px wide.
    """
    longer = float(max(width, height))
    return text_scale * min(max(2.0 * radius_px / 50.0, longer / 80.0), longer / 60.0)


def kind_scale(kind: Kind, size_km: float) -> float:
    """Size of a feature's name in units of ordinary text."""
    if kind == "ocean":
        return 1.35
    if kind == "sea":
        return 1.22 if size_km >= 300.0 else 1.05
    return 1.0
