"""What is asked of a frame and what comes back: records alone.

    FrameRequest (format, texts, turn, zoom, features) -> frame_layers -> Frame of FrameLayers -> flatten | layer_rgba | svg

Coordinates of a frame count from the corner of its first pixel, x right, y down, because letters and plates are areas;
what comes through a pose counts from the pixel's centre, and half a pixel is added where it is drawn.

Text keeps inside 10 % of the width and 5 % of the height (figures F: x 192 to 1727 and y 54 to 1025 of 1920 x 1080);
that is the narrower of the areas in use, so it holds for the others too. Capital letters are at least 30 lines high at
1080 lines, 26 on an opaque plate (figures F, a clearing house's rule for high definition). Sizes go with the shorter
side: an upright frame is looked at on a telephone, where it is as wide as a level one is high.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.shapes import Shape
from moondesk.drawing.theme import NIGHTGLASS, Theme
from moondesk.records import NotFound, Pose

FormatName = Literal["hd", "uhd", "vertical"]

#: Share of width and of height at each edge that is free of text: 192 / 1920 and 54 / 1080.
TEXT_MARGIN_X, TEXT_MARGIN_Y = 0.1, 0.05
#: And below in an upright frame, where those who show it lay their own words and buttons over it (common practice).
TEXT_BELOW_UPRIGHT = 0.12
#: Least height of a capital letter, lines of a frame whose shorter side has 1080.
LEAST_CAP, LEAST_CAP_ON_PLATE = 30.0, 26.0


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
    def safe(self) -> TurnedBox:
        """Where text may stand."""
        x, y = TEXT_MARGIN_X * self.width, TEXT_MARGIN_Y * self.height
        below = TEXT_BELOW_UPRIGHT * self.height if self.upright else y
        return TurnedBox(x, y, self.width - x, self.height - below)

    def least_cap(self, plate: bool) -> float:
        """Least height of a capital letter, pixels; plate: on an opaque one."""
        return self.unit * (LEAST_CAP_ON_PLATE if plate else LEAST_CAP)


HD = Format("hd", 1920, 1080)
UHD = Format("uhd", 3840, 2160)
VERTICAL = Format("vertical", 1080, 1920)
FORMATS: MappingProxyType[str, Format] = MappingProxyType({f.name: f for f in (HD, UHD, VERTICAL)})


@dataclass(frozen=True, kw_only=True)
class Texts:
    """All words of a frame, ready made in the programme's language, exactly as they are to stand there.

    credit: "" where no name is shown. lines: under it, such as the equipment, the day of the lunation and the evening's
    date. words: those of the layers by their key, the English of `broadcast.WORDS` where one is not given. names: a
    feature's name as it is to be shown, by the IAU's (lines parted by newlines); that itself where there is none.
    """

    credit: str = ""
    lines: tuple[str, ...] = ()
    words: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Zoom:
    """A part of the Moon that fills the frame: its middle, and the kilometres along the frame's shorter side there."""

    lat_deg: float
    lon_deg: float
    across_km: float

    def __post_init__(self) -> None:
        if not (-90 <= self.lat_deg <= 90 and -180 <= self.lon_deg <= 180 and 10 <= self.across_km <= 3500):
            raise ValueError(f"there is no such part of the Moon: {self}")


@dataclass(frozen=True, kw_only=True)
class FrameRequest:
    """What a frame is to show. north_screen_deg: where the Moon's north is to stand (0: upright, see `ephemeris.naked_eye` for the
    eye's view). features: names that somebody asked for, each a layer, in the order of revealing; of one that cannot be
    shown the reason is told. offered: others, the best first, of which those that lie well in the finished frame fill
    up to `most`; of these nothing is told. seas: how many at most. camera: the Moon as it is to stand in the frame (a
    view of a move), in the frame's own pixels; None: as the composition places it, see `composition.compose_frame`.
    as_sent: all of the picture as it came, with the credit alone."""

    format: Format = HD
    texts: Texts = field(default_factory=Texts)
    north_screen_deg: float = 0.0
    zoom: Zoom | None = None
    camera: Pose | None = None
    features: tuple[str, ...] = ()
    offered: tuple[str, ...] = ()
    most: int = 8
    seas: int = 4
    theme: Theme = NIGHTGLASS
    as_sent: bool = False


@dataclass(frozen=True, kw_only=True)
class TextBox:
    """A line of text in a frame: the rectangle round its ink, what it stands on, and the height of its capitals.

    ground: colour of the plate under it; plate: whether nothing shines through that plate; halo: bare letters with a
    dark edge of that colour round them.
    """

    text: str
    box: TurnedBox
    cap_px: float
    colour: str
    ground: str
    plate: bool
    halo: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class FrameLayer:
    """One layer. name: fit for a file and an id ("picture", "feature-copernicus"); base: it stands from the start;
    kind: of its row in `broadcast.LAYERS`; title: the feature or the words of the layer."""

    name: str
    kind: str
    title: str
    base: bool
    shapes: tuple[Shape, ...]
    texts: tuple[TextBox, ...] = ()


@dataclass(frozen=True, eq=False)
class AirFrame:
    """A frame as its layers, in the order in which they are revealed and lie over one another.

    pose: of the Moon in the frame; None where the picture has none. left_out: what was asked for and cannot be shown.
    """

    format: Format
    layers: tuple[FrameLayer, ...]
    pose: Pose | None
    left_out: tuple[NotFound, ...] = ()


def slug(name: str) -> str:
    """A name as small Latin letters, figures and hyphens, fit for files and ids; "" where it has none of them."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")
