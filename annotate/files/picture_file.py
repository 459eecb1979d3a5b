"""A picture file, opened once: its headers are walked once and its pixels decoded once, for whoever asks next.

    bytes --open_picture--> PictureFile (one class a format, see `formats`) -> exif, xmp, turn, size, refusal, pixels

The class is the format's row in the registry, an object is one file. Nothing is read before it is asked for: a date
costs no decoder, and what a decoder must not be given is refused by the headers alone, for each of them makes room for
what a header claims.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from moondesk.files.extras import Extra
from moondesk.files.fits_header import FitsFields
from moondesk.records import NotFound
from moondesk.sentences import sentence

#: More than any full frame that is sent by mail; decoded to RGB it takes 360 MB.
MAX_PIXELS = 120_000_000
#: A shorter side cannot hold a Moon whose limb could be measured.
MIN_SIDE_PX = 16
#: A longer strip than this, side to side, is reduced to a few pixels' width (phones' panoramas reach 10).
MAX_ASPECT = 30
#: No camera or program writes more of an XMP packet; what lies beyond is not read.
MOST_XMP_BYTES = 1 << 18
#: EXIF orientation to the turn that undoes it, as array operations (transpose first, then flips of y and x).
TURNS: dict[int, tuple[bool, bool, bool]] = {
    1: (False, False, False),
    2: (False, False, True),
    3: (False, True, True),
    4: (False, True, False),
    5: (True, False, False),
    6: (True, False, True),
    7: (True, True, True),
    8: (True, True, False),
}
BROKEN = NotFound("picture", sentence("file_damaged"), sentence("send_again"))
_NO_ROOM = NotFound("picture", sentence("too_much_memory"), sentence("send_half"))


@dataclass(frozen=True, eq=False, kw_only=True)
class Pixels:
    """Decoded pixels: (H, W) grey or (H, W, 3) RGB; uint8 and uint16 as stored, float32 linear 0..1."""

    pixels: NDArray[Any]
    #: Reduction already done by the decoder.
    draft: int = 1
    #: Size at full resolution.
    width: int
    height: int
    #: The turn as an EXIF orientation, where only the decoder knows it.
    turn: int | None = None


@dataclass(frozen=True, kw_only=True)
class Headers:
    """What the headers of one file say."""

    #: EXIF block (a small TIFF) and XMP packet (XMP specification, part 3), without their marks.
    exif: bytes | None = None
    xmp: bytes | None = None
    #: Width and height as they claim them, before the turn, of the largest picture where there are several; (0, 0)
    #: where they make no sense, None where only the decoder knows.
    size: tuple[int, int] | None = None
    #: The turn as an EXIF orientation, of a format that states it itself: the EXIF tag is passed over then.
    turn: int | None = None
    #: Why no decoder may be given the file, beside its size.
    refusal: NotFound | None = None


@dataclass(frozen=True, eq=False)
class PictureFile:
    """One picture file. A format is a subclass with the class's values below, which tells its files by what they begin
    with (`matches`), walks their headers (`walk`) and decodes them (`decode`).
    """

    data: bytes = field(repr=False)
    #: The pixels decoded last, by whether they are brightness alone: what the decoder was to reduce them by, and they.
    _kept: dict[bool, tuple[int, Pixels]] = field(default_factory=dict, init=False, repr=False)

    name: ClassVar[str] = ""
    media_type: ClassVar[str] = ""
    #: What people call it.
    words: ClassVar[str] = ""
    #: What a file chooser is told: media types and endings. What a file is, is told from its bytes alone.
    accept: ClassVar[str] = ""
    #: What has to be installed besides to open it.
    extra: ClassVar[Extra | None] = None
    #: Whether its library turns the picture itself.
    turned_by_library: ClassVar[bool] = False
    #: Whether it holds its brightness apart from its colours, so that it can be had alone.
    keeps_brightness: ClassVar[bool] = False
    #: Whether pixels that its decoder reduced take long enough to be kept for the next who asks.
    keeps_reduced: ClassVar[bool] = True
    #: What is said where its decoder fails.
    broken: ClassVar[NotFound] = BROKEN

    @classmethod
    def matches(cls, data: bytes) -> bool:
        """Whether bytes are a file of this format, by what they begin with."""
        raise NotImplementedError

    def walk(self) -> Headers:
        """What the headers say, without decoding a pixel; must not raise. Called once, by `headers`."""
        raise NotImplementedError

    @cached_property
    def headers(self) -> Headers:
        found = self.walk()
        return found if found.xmp is None else replace(found, xmp=found.xmp[:MOST_XMP_BYTES])

    @property
    def exif(self) -> bytes | None:
        return self.headers.exif

    @property
    def xmp(self) -> bytes | None:
        return self.headers.xmp

    @property
    def size(self) -> tuple[int, int] | None:
        return self.headers.size

    @property
    def header_fields(self) -> FitsFields | None:
        """When, where and with what it was taken, of a format whose own header says so; EXIF and XMP do not count then."""
        return None

    @cached_property
    def turn(self) -> int:
        """The turn as an EXIF orientation, 1 to 8 (EXIF 3.0, tag 0x0112); 1 where there is none or it makes no sense."""
        block = self.exif
        if self.headers.turn is not None:
            return self.headers.turn
        if not block or block[:2] not in (b"II", b"MM"):
            return 1
        value = tiff_tags(block).get(0x0112, (1,))[0]
        return value if 1 <= value <= 8 else 1

    @cached_property
    def refusal(self) -> NotFound | None:
        """Why no decoder may be given it, by the headers alone; None where one may."""
        if self.headers.refusal is not None or self.size is None:
            return self.headers.refusal
        return BROKEN if min(self.size) < 1 else check_size(*self.size)

    def reduction(self, width: int, height: int, turn: int, longest_px: int | None) -> int:
        """By how much its decoder reduces a picture of that size for one who needs its longer side so long."""
        return 1

    def decode(self, longest_px: int | None, luma: bool) -> Pixels | NotFound:
        """Pixels as the decoder gives them. May raise anything; called by `pixels` alone."""
        raise NotImplementedError

    def pixels(self, longest_px: int | None = None, luma: bool = False) -> Pixels | NotFound:
        """Its pixels as displayed.

        Those decoded last are kept and given again, where the decoder would reduce them by as much and that takes long.

        Parameters: how long the longer side need be for the caller, None for all of it; luma: of a picture in colour
        that keeps it apart the brightness alone, as it is stored (ITU-T T.871).
        Returns: the pixels, or NotFound with what the sender can do.
        Raises: nothing for what a file may be.
        """
        if self.refusal is not None:
            return self.refusal
        luma = luma and self.keeps_brightness
        if luma in self._kept:
            reduced_by, kept = self._kept[luma]
            if reduced_by == self.reduction(kept.width, kept.height, kept.turn or 1, longest_px):
                return kept
        self._kept.clear()
        try:
            # A hostile or damaged file makes the decoders raise nearly anything (OSError, SyntaxError, ValueError,
            # struct.error, EOFError, MemoryError, cv2.error ... were all seen under mutation), and each means the same.
            made = self.decode(longest_px, luma)
        except MemoryError:
            return _NO_ROOM
        except Exception:
            return self.broken
        if isinstance(made, NotFound):
            return made
        if made.pixels.dtype not in (np.uint8, np.uint16, np.float32) or made.pixels.shape[2:] not in ((), (3,)):
            return BROKEN
        shown = self._as_displayed(made)
        if shown.draft == 1 or self.keeps_reduced:
            self._kept[luma] = self.reduction(shown.width, shown.height, shown.turn or 1, longest_px), shown
        return shown

    def forget_pixels(self) -> None:
        """Gives the memory of the kept pixels free; they are decoded again when they are asked for again."""
        self._kept.clear()

    def _as_displayed(self, made: Pixels) -> Pixels:
        turn = made.turn or self.turn
        transpose, flip_y, flip_x = TURNS[1 if self.turned_by_library else turn]
        pixels, width, height = made.pixels, made.width, made.height
        if transpose:
            pixels, width, height = pixels.swapaxes(0, 1), height, width
        # in one piece, so that what is kept and what is made of it can be the same memory
        pixels = np.ascontiguousarray(pixels[:: -1 if flip_y else 1, :: -1 if flip_x else 1])
        return replace(made, pixels=pixels, width=width, height=height, turn=turn)


def refuse(code: str, *advices: str, **values: object) -> NotFound:
    """The expected failure of this stage. code, advices: of sentences.

    >>> refuse("is_gif").advice
    'Please send the picture as JPEG or PNG.'
    """
    return NotFound("picture", sentence(code, **values), tuple(map(sentence, advices or ("send_jpeg",))))


def check_size(width: int, height: int) -> NotFound | None:
    """Why a picture of that size, pixels, is not decoded; None where it is.

    >>> check_size(4000, 3000)
    >>> check_size(60_000, 60_000).reason
    'The picture has 60000 x 60000 pixels, more than the 120 million handled here.'
    """
    if width * height > MAX_PIXELS:
        millions = MAX_PIXELS // 1_000_000
        return refuse("too_many_pixels", "send_half", width=width, height=height, millions=millions)
    if min(width, height) < MIN_SIDE_PX:
        return refuse("too_few_pixels", "no_thumbnail", width=width, height=height)
    if max(width, height) > MAX_ASPECT * min(width, height):
        return refuse("strip", "send_itself", width=width, height=height)
    return None


def draft_factor(width: int, height: int, turn: int, longest_px: int | None) -> int:
    """How much a decoder that can may reduce: 8, 4, 2 or 1.

    Only what leaves the longer side at 90 % of `longest_px` or more, so that no resolution is given away. A reduced
    last column holds fewer full pixels than the others; turned round it would become the first and shift all others.

    Parameters: stored size, pixels; turn as an EXIF orientation; the longer side that is wanted, None for all of it.

    >>> draft_factor(4000, 3000, 1, 1110), draft_factor(4001, 3000, 6, 1110), draft_factor(4000, 3000, 1, None)
    (4, 1, 1)
    """
    for factor in (8, 4, 2):
        whole = width % factor == 0 and height % factor == 0
        if longest_px is not None and max(width, height) >= 0.9 * longest_px * factor and (turn == 1 or whole):
            return factor
    return 1


def tiff_tags(data: bytes) -> dict[int, tuple[int, ...]]:
    """Whole-number tags (BYTE, SHORT, LONG) of the first directory of a classic TIFF, as EXIF blocks are too; what
    cannot be read is left out.

    Source: TIFF revision 6.0, section 2. At most the first 16 values of a tag are read. Raises nothing.

    >>> tiff_tags(b"MM\\0*" + bytes([0, 0, 0, 8, 0, 1, 1, 18, 0, 3, 0, 0, 0, 1, 0, 6, 0, 0]))  # orientation 6
    {274: (6,)}
    """
    order = "<" if data[:2] == b"II" else ">"
    tags: dict[int, tuple[int, ...]] = {}
    try:
        (start,) = struct.unpack_from(order + "I", data, 4)
        (count,) = struct.unpack_from(order + "H", data, start)
        for i in range(count):
            at = start + 2 + 12 * i
            tag, kind, n = struct.unpack_from(order + "HHI", data, at)
            if kind not in (1, 3, 4) or n == 0:
                continue
            letter, size = {1: ("B", 1), 3: ("H", 2), 4: ("I", 4)}[kind]
            where = at + 8 if n * size <= 4 else struct.unpack_from(order + "I", data, at + 8)[0]
            tags[tag] = struct.unpack_from(f"{order}{min(n, 16)}{letter}", data, where)
    except struct.error:
        pass  # the file ends inside its directory: the tags read so far are what there is
    return tags
