"""The packaged typefaces and which of them has a sign. Each is opened when a text first wants it, and then kept.

Noto Sans in two weights for Latin, Greek and Cyrillic, faces of the same family for other scripts in the heavier one,
and last the overlay's own face, which has many signs besides. Licences and checksums stand beside the files.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from functools import cache, cached_property
from importlib.resources import files
from math import comb

import numpy as np
import uharfbuzz as hb

from moondesk.records import FloatArray

#: Weights of the family, and that of the desk's own face: DejaVu Sans Condensed Bold, narrow and with every accent of the
#: IAU's names (its licence stands beside it in annotate/data).
REGULAR, BOLD, CONDENSED = 400, 600, 700
_CONDENSED_FILE = "DejaVuSansCondensed-Bold.ttf"
#: Height of a capital letter, units of the size (the family's own figure; the overlay's face has 0.729).
CAP = 0.714

_TWO_WEIGHTS = ("latin", "latin-ext", "cyrillic", "cyrillic-ext", "greek", "vietnamese")
_SCRIPTS = ("devanagari", "arabic", "hebrew", "bengali", "tamil", "telugu", "thai", "georgian", "armenian", "ethiopic")
_CHINESE, _JAPANESE, _KOREAN = "noto-sans-sc-chinese-simplified", "noto-sans-jp-japanese", "noto-sans-kr-korean"
#: Points of a curved piece of an outline.
_STEPS = 7


@dataclass(frozen=True)
class Face:
    """One file. The cached parts make it cheap to ask again."""

    file: str

    @cached_property
    def font(self) -> hb.Font:
        return hb.Font(hb.Face(hb.Blob(_sfnt(self.file))))

    @cached_property
    def units(self) -> int:
        return int(self.font.face.upem)

    @cached_property
    def signs(self) -> frozenset[int]:
        """Code points that it has a glyph for."""
        return frozenset(self.font.face.unicodes)

    def has(self, text: str) -> bool:
        return all(ord(sign) in self.signs for sign in text)

    def outlines(self, glyph: int) -> tuple[FloatArray, ...]:
        """Closed outlines of a glyph, each (n, 2), units of the size, x right, y down from the baseline."""
        return _outlines(self, glyph)


@dataclass(frozen=True)
class OwnFace(Face):
    """A typeface that a theme brings along. file: its checksum. It is set so large that its capitals are as high as the
    family's, so heights of letters hold for it too."""

    data: bytes = field(default=b"", repr=False, compare=False)

    @cached_property
    def font(self) -> hb.Font:
        return hb.Font(hb.Face(hb.Blob(_unpacked(self.data))))

    @cached_property
    def units(self) -> int:
        glyph = self.font.get_nominal_glyph(ord("H"))
        extents = self.font.get_glyph_extents(glyph) if glyph is not None else None
        return round(abs(extents.height) / CAP) if extents is not None and extents.height else int(self.font.face.upem)


@dataclass(frozen=True)
class Cut:
    """A weight of the family, with a theme's own face tried before it for each sign."""

    weight: int
    own: OwnFace


Weight = int | Cut


@cache
def face(file: str) -> Face:
    """The face of a file in annotate/drawing/fonts, or the overlay's."""
    return Face(file)


def order(text: str, weight: Weight) -> tuple[Face, ...]:
    """All faces in the order in which a sign of this text is looked for."""
    if isinstance(weight, Cut):
        return (weight.own, *order(text, weight.weight))
    if weight == CONDENSED:
        return (face(_CONDENSED_FILE), *order(text, BOLD))
    east = [_CHINESE, _JAPANESE, _KOREAN]
    if any("\u3040" <= sign <= "\u30ff" for sign in text):
        east = [_JAPANESE, _CHINESE, _KOREAN]  # the same Chinese signs are written in each country's own way
    elif any("\uac00" <= sign <= "\ud7a3" for sign in text):
        east = [_KOREAN, _CHINESE, _JAPANESE]
    names = [
        *(f"noto-sans-{s}-{weight}" for s in _TWO_WEIGHTS),
        *(f"noto-sans-{s}-{BOLD}" for s in _SCRIPTS),
        *(f"{s}-{BOLD}" for s in east),
    ]
    return (*(face(f"{name}.woff") for name in names), face(_CONDENSED_FILE))


def _sfnt(file: str) -> bytes:
    if file == _CONDENSED_FILE:
        return files("moondesk").joinpath("data", file).read_bytes()
    return _unpacked(files("moondesk.drawing").joinpath("fonts", file).read_bytes())


def _unpacked(data: bytes) -> bytes:
    """A font file without the packing of the web's formats."""
    from fontTools.ttLib import TTFont  # only while a face is opened

    packed = TTFont(io.BytesIO(data), lazy=True, recalcTimestamp=False)
    packed.flavor = None
    plain = io.BytesIO()
    packed.save(plain, reorderTables=None)
    return plain.getvalue()


class _Pen:
    """Gathers a glyph's outlines with their curves as short straight pieces."""

    def __init__(self) -> None:
        self.done: list[list[tuple[float, float]]] = []

    def move_to(self, x: float, y: float, _: None) -> None:
        self.done.append([(x, y)])

    def line_to(self, x: float, y: float, _: None) -> None:
        self.done[-1].append((x, y))

    def curve_to(self, *numbers: float | None) -> None:
        """A Bezier curve by its further points, x and y in turn (and HarfBuzz's own data, which is none)."""
        plain = [n for n in numbers if n is not None]
        points = [self.done[-1][-1], *zip(plain[::2], plain[1::2], strict=True)]
        n = len(points) - 1
        for t in np.linspace(0, 1, _STEPS)[1:].tolist():
            shares = [comb(n, k) * (1 - t) ** (n - k) * t**k for k in range(n + 1)]
            x, y = (sum(s * p[axis] for s, p in zip(shares, points, strict=True)) for axis in (0, 1))
            self.done[-1].append((x, y))

    def close(self, _: None) -> None:
        pass


@cache
def _outlines(of: Face, glyph: int) -> tuple[FloatArray, ...]:
    pen, draw = _Pen(), hb.DrawFuncs()
    draw.set_move_to_func(pen.move_to)
    draw.set_line_to_func(pen.line_to)
    draw.set_quadratic_to_func(pen.curve_to)
    draw.set_cubic_to_func(pen.curve_to)
    draw.set_close_path_func(pen.close)
    of.font.draw_glyph(glyph, draw, None)
    return tuple(np.array(points) * [1 / of.units, -1 / of.units] for points in pen.done if len(points) > 2)
