"""What is asked of a frame and what comes back: records alone.

    Wanted (format, texts, turn, zoom, features) -> frame_layers -> Frame of FrameLayers -> flatten | layer_rgba | svg

Coordinates of a frame count from the corner of its first pixel, x right, y down, because letters and plates are areas;
what comes through a pose counts from the pixel's centre, and half a pixel is added where it is drawn.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from moondesk.drawing.broadcast.formats import HD, Box, Format
from moondesk.drawing.broadcast.shapes import AirShape
from moondesk.records import NotFound, Pose

#: "picture", "scale" and "credit" stand from the start: whose picture it is is never a step of its own. The others are
#: revealed.
LayerKind = Literal["picture", "credit", "directions", "terminator", "lines", "seas", "feature", "scale", "inset"]


@dataclass(frozen=True, kw_only=True)
class Texts:
    """All words of a frame, ready made in the programme's language, exactly as they are to stand there.

    credit: "" where no name is shown. lines: under it, such as the equipment, the day of the lunation and the evening's
    date. caution: shown where the placing is not sure. distance: template with {km}. names: a feature's name as it is
    to be shown, by the IAU's (lines parted by newlines); that itself where there is none. directions, seas, inset: what
    those layers are called.
    """

    credit: str = ""
    lines: tuple[str, ...] = ()
    caution: str = "Placing not certain"
    north: str = "N"
    south: str = "S"
    east: str = "E"
    west: str = "W"
    directions: str = "Directions on the Moon"
    terminator: str = "Terminator"
    equator: str = "Equator"
    zero_meridian: str = "Zero meridian"
    distance: str = "{km} km"
    seas: str = "Seas"
    inset: str = "Where on the Moon"
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
class Wanted:
    """What a frame is to show. north_screen_deg: where the Moon's north is to stand (0: upright, see `sky.eye` for the
    eye's view). features: names that somebody asked for, each a layer, in the order of revealing; of one that cannot be
    shown the reason is told. offered: others, the best first, of which those that lie well in the finished frame fill
    up to `most`; of these nothing is told. seas: how many at most."""

    format: Format = HD
    texts: Texts = field(default_factory=Texts)
    north_screen_deg: float = 0.0
    zoom: Zoom | None = None
    features: tuple[str, ...] = ()
    offered: tuple[str, ...] = ()
    most: int = 6
    seas: int = 9


@dataclass(frozen=True, kw_only=True)
class TextBox:
    """A line of text in a frame: the rectangle round its ink, what it stands on, and the height of its capitals.

    ground: colour of the plate under it; plate: whether nothing shines through that plate.
    """

    text: str
    box: Box
    cap_px: float
    colour: str
    ground: str
    plate: bool


@dataclass(frozen=True, eq=False, kw_only=True)
class FrameLayer:
    """One layer. name: fit for a file and an id ("picture", "feature-copernicus"); base: it stands from the start;
    title: the feature or the words of the layer."""

    name: str
    kind: LayerKind
    title: str
    base: bool
    shapes: tuple[AirShape, ...]
    texts: tuple[TextBox, ...] = ()


@dataclass(frozen=True, eq=False)
class Frame:
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
