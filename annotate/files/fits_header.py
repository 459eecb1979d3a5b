"""FITS headers: the cards of each part of a file, and when, where and with what its picture was taken.

Source: FITS Standard 4.0 (IAU FITS Working Group, 2018), by section. Read here and not by a library, so that size and
layout are known before any memory is asked for, and a date costs no import.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from moondesk.records import Place

BLOCK, _CARD = 2880, 80
#: Headers longer than this, and files of more parts, are not from a camera.
_MOST_CARDS, _MOST_PARTS = 10_000, 50
FIRST_YEAR, LAST_YEAR = 1990, 2100
#: Time scales by how far they are ahead of UTC, seconds (section 9.2; since 2017, and until a leap second is put in).
_AHEAD_S = {
    "UTC": 0.0,
    "UT": 0.0,
    "UT1": 0.0,
    "GMT": 0.0,
    "TAI": 37.0,
    "IAT": 37.0,
    "GPS": 18.0,
    "TT": 69.184,
    "TDT": 69.184,
    "ET": 69.184,
    "TDB": 69.184,
    "TCB": 69.184,
    "TCG": 69.184,
}
#: An exposure longer than this is not one of the Moon: the number means something else.
_LONGEST_S = 3600.0


Value = str | float | bool


@dataclass(frozen=True)
class HeaderUnit:
    """One header of a file and where its data lie. values: the first card of each keyword; comments: its comment."""

    values: dict[str, Value]
    comments: dict[str, str]
    start: int
    index: int

    def number(self, name: str, otherwise: float) -> float:
        value = self.values.get(name, otherwise)
        return otherwise if isinstance(value, str) else float(value)

    def whole(self, name: str, otherwise: int) -> int:
        value = self.number(name, otherwise)
        return int(value) if abs(value) < 2**62 else -1

    @property
    def packed(self) -> bool:
        """Whether it is a table that holds a tile-compressed image (section 10)."""
        return self.values.get("ZIMAGE") is True

    @property
    def axes(self) -> tuple[int, ...]:
        """Lengths of the image's axes, the fastest first; empty where it has none."""
        z = "Z" if self.packed else ""
        return tuple(self.whole(f"{z}NAXIS{k}", -1) for k in range(1, min(self.whole(f"{z}NAXIS", 0), 9) + 1))

    @property
    def is_image(self) -> bool:
        kind = self.values.get("XTENSION", "IMAGE")
        return len(self.axes) >= 2 and (self.packed or kind == "IMAGE")

    @property
    def data_bytes(self) -> int:
        """Size of the data, 4.4.1 and 7; 0 where the header makes no sense."""
        lengths = [self.whole(f"NAXIS{k}", -1) for k in range(1, min(self.whole("NAXIS", 0), 9) + 1)]
        if not lengths or min(lengths) < 0:
            return 0
        size = self.whole("PCOUNT", 0)
        product = 1
        for length in lengths:
            product *= length
        return max(0, abs(self.whole("BITPIX", 8)) // 8 * self.whole("GCOUNT", 1) * (size + product))


def parts(data: bytes) -> tuple[HeaderUnit, ...]:
    """All headers of a file, as far as they can be read; none where its bytes are no FITS.

    >>> head = b"".join(card.ljust(80) for card in (b"SIMPLE  = T", b"NAXIS   = 2", b"NAXIS1  = 9", b"NAXIS2  = 7", b"END"))
    >>> parts(head)[0].axes
    (9, 7)
    """
    found: list[HeaderUnit] = []
    at = 0
    while len(found) < _MOST_PARTS and at < len(data):
        part = _header(data, at, len(found))
        if part is None or not ({"SIMPLE", "XTENSION"} & part.values.keys()):
            break
        found.append(part)
        at = part.start + -(-part.data_bytes // BLOCK) * BLOCK
    return tuple(found)


@dataclass(frozen=True, kw_only=True)
class FitsFields:
    """Valid fields of a file's headers; None where one is missing or makes no sense (then remarks say so)."""

    #: Middle of the exposure.
    utc: datetime | None = None
    #: The same, naive, where the header itself calls its time local.
    local: datetime | None = None
    #: Keyword that the time comes from.
    keyword: str = ""
    place: Place | None = None
    camera: str | None = None
    remarks: tuple[str, ...] = ()


def read_fits(found: Sequence[HeaderUnit]) -> FitsFields:
    """Fields of the first image's header, and of the first header where that is silent.

    Parameters: what `parts` gives. Raises: nothing; what makes no sense becomes a remark.
    """
    image = next((part for part in found if part.is_image), None)
    if image is None:
        return FitsFields()
    values, comments = {**found[0].values, **image.values}, {**found[0].comments, **image.comments}
    remarks: list[str] = []
    when, keyword = _when(values, remarks)
    utc = local = None
    if when is not None:
        scale = str(values.get("TIMESYS", "UTC")).strip().upper()
        comment = comments.get(keyword, "").lower()
        if scale == "LOCAL" or ("local" in comment and "ut" not in comment):
            local = when
        elif scale in _AHEAD_S:
            utc = when.replace(tzinfo=UTC) - timedelta(seconds=_AHEAD_S[scale])
        else:
            remarks.append(
                f"The FITS header's time is in “{_value_words(scale)}”, a scale not known here: it was ignored."
            )
    return FitsFields(
        utc=utc,
        local=local,
        keyword=keyword if when is not None else "",
        place=_read_place(values, remarks),
        camera=_camera(values),
        remarks=tuple(remarks),
    )


def _when(values: dict[str, Value], remarks: list[str]) -> tuple[datetime | None, str]:
    """Middle of the exposure in the header's own scale: DATE-AVG, else DATE-BEG or DATE-OBS and half the exposure.

    DATE-OBS is the beginning by common practice; DATE alone is when the file was written (4.4.2.1) and never asked for.
    """
    for keyword in ("DATE-AVG", "DATE-BEG", "DATE-OBS"):
        text = values.get(keyword)
        if not isinstance(text, str) or not text.strip():
            continue
        when = _instant(text, values)
        if when is None:
            remarks.append(f"The FITS header's {keyword} reads “{_value_words(text)}”, no usable time: it was ignored.")
            continue
        exposure = values.get("EXPTIME", values.get("EXPOSURE", values.get("XPOSURE", 0.0)))
        if keyword != "DATE-AVG" and isinstance(exposure, float) and 0 < exposure <= _LONGEST_S:
            when += timedelta(seconds=exposure / 2)
        return when, keyword
    return None, ""


def _instant(text: str, values: dict[str, Value]) -> datetime | None:
    """A date with its time of day (9.1.1); where the date stands alone, the time of TIME-OBS (common practice)."""
    text = text.strip()
    time = values.get("TIME-OBS", values.get("UT"))
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text) and isinstance(time, str):
        text = f"{text}T{time.strip()}"
    match = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(\.\d+)?Z?", text)
    if match is None:
        return None
    try:
        # a second of 60 is legal, for leap seconds
        year, month, day, hour, minute = (int(part) for part in match.groups()[:5])
        when = datetime(year, month, day, hour, minute) + timedelta(seconds=int(match[6]))
    except (ValueError, OverflowError):
        return None
    when += timedelta(microseconds=int(((match[7] or ".")[1:] + "000000")[:6]))
    return when if FIRST_YEAR <= when.year <= LAST_YEAR else None


def _read_place(values: dict[str, Value], remarks: list[str]) -> Place | None:
    """The observer by the standard's own keywords (9.2.3): degrees, east positive, metres."""
    lat, lon, height = (values.get(name) for name in ("OBSGEO-B", "OBSGEO-L", "OBSGEO-H"))
    if isinstance(lat, float) and isinstance(lon, float):
        if abs(lat) <= 90 and abs(lon) <= 360:
            low = isinstance(height, float) and -500 <= height <= 20_000
            return Place(lat, (lon + 180) % 360 - 180, float(height) if low else 0.0)  # type: ignore[arg-type]
        remarks.append("The FITS header's position makes no sense: it was ignored.")
    elif "SITELONG" in values or "LONG-OBS" in values:
        remarks.append("The FITS header names a site, but programs count such longitudes east or west: it was ignored.")
    return None


def _camera(values: dict[str, Value]) -> str | None:
    names = [_value_words(str(values[k])) for k in ("INSTRUME", "TELESCOP") if isinstance(values.get(k), str)]
    return ", ".join(dict.fromkeys(filter(None, names))) or None


def _value_words(text: str) -> str:
    return "".join(c for c in text if c.isprintable()).strip()[:80]


_TEXT = re.compile(r"'((?:[^']|'')*)'\s*(?:/(.*))?")


def _header(data: bytes, at: int, index: int) -> HeaderUnit | None:
    """The header that begins at an offset; None where it has no end."""
    values: dict[str, Value] = {}
    comments: dict[str, str] = {}
    for count in range(_MOST_CARDS):
        card = data[at + _CARD * count : at + _CARD * (count + 1)].decode("latin-1")
        if len(card) < _CARD:
            return None
        name = card[:8].rstrip()
        if name == "END":
            return HeaderUnit(values, comments, at + -(-_CARD * (count + 1) // BLOCK) * BLOCK, index)
        if card[8:10] != "= " or name in values:
            continue
        body = card[10:].strip()
        text = _TEXT.match(body)
        if text:
            values[name], comment = text[1].replace("''", "'").rstrip(), text[2]
        else:
            plain, _, comment = body.partition("/")
            value = _plain_value(plain.strip())
            if value is None:
                continue
            values[name] = value
        comments[name] = (comment or "").strip()
    return None


def _plain_value(text: str) -> Value | None:
    """A logical or a number (4.2.2 to 4.2.4); None for anything else."""
    if text in ("T", "F"):
        return text == "T"
    try:
        value = float(text.upper().replace("D", "E"))
    except ValueError:
        return None
    return value if abs(value) < 1e300 else None
