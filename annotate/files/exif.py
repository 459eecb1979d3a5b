"""What a picture's EXIF block says about when, where and with what it was taken, each value checked on its own.

A damaged or nonsensical field becomes a remark, never an exception and never a silent default. No rule about which
value to believe is here: see `time_taken`. Tags are those of EXIF 3.0 (CIPA DC-008).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from PIL import Image

from moondesk.records import Place

#: No digital camera wrote EXIF before the standard's first version (1995); clocks that lost their setting say 1970 or
#: 1980. The other end only keeps nonsense out: nothing here knows what year it is.
FIRST_YEAR, LAST_YEAR = 1990, 2100

_MAKE, _MODEL, _EXIF_IFD, _GPS_IFD = 0x010F, 0x0110, 0x8769, 0x8825
#: OffsetTimeOriginal; its neighbour OffsetTime (0x9010) belongs to the time the file was last changed.
_TIME_ORIGINAL, _OFFSET_ORIGINAL, _SUBSEC_ORIGINAL = 0x9003, 0x9011, 0x9291
_LAT_REF, _LAT, _LON_REF, _LON, _HEIGHT_REF, _HEIGHT, _GPS_TIME, _GPS_DATE = 1, 2, 3, 4, 5, 6, 7, 29

_DATE_TIME = re.compile(r"(\d{4})[:\-/.](\d\d?)[:\-/.](\d\d?)[ T](\d\d?):(\d\d?)(?::(\d\d?))?")
_DATE = re.compile(r"(\d{4})[:\-/.](\d\d?)[:\-/.](\d\d?)")
_OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)")


@dataclass(frozen=True, kw_only=True)
class ExifFields:
    """The valid fields of one file; None where a field is missing, empty or makes no sense (then remarks say so)."""

    #: DateTimeOriginal with its fraction: the camera's own clock, naive.
    local: datetime | None = None
    #: UTC offset that the camera wrote for that time, minutes.
    offset_minutes: int | None = None
    gps_utc: datetime | None = None
    place: Place | None = None
    #: Maker and model.
    camera: str | None = None
    remarks: tuple[str, ...] = ()


def read_exif(block: bytes | None) -> ExifFields:
    """Fields of a file's EXIF block (`PictureFile.exif`); all None where there is none.

    Returns: times naive where they are the camera's own clock, UTC where GPS gives them; degrees, metres.
    Raises: nothing; what is damaged becomes a remark. Source: EXIF 3.0 (CIPA DC-008).

    >>> read_exif(None).camera is None
    True
    >>> read_exif(b"MM no TIFF").remarks
    ("The file's EXIF data are damaged; what could be read of them was used.",)
    """
    if not block:
        return ExifFields()
    remarks: list[str] = []
    main, details, gps = _directories(block, remarks)
    local = _local(details, remarks)
    return ExifFields(
        local=local,
        offset_minutes=None if local is None else _offset(details, remarks),
        gps_utc=_gps_utc(gps, remarks),
        place=_read_place(gps, remarks),
        camera=_camera(main),
        remarks=tuple(remarks),
    )


_Tags = dict[int, Any]


def _directories(block: bytes, remarks: list[str]) -> tuple[_Tags, _Tags, _Tags]:
    """Main, EXIF and GPS directory as plain dictionaries, as far as each can be read."""
    exif = Image.Exif()
    main: _Tags = {}
    found: list[_Tags] = []
    broken = False
    try:
        exif.load(block)
    except Exception:  # a mutated block makes the parser raise eight and more kinds; all mean a damaged block
        broken = True
    else:
        main, broken = _copy_tags(exif, (_MAKE, _MODEL))
    for pointer, wanted in (
        (_EXIF_IFD, (_TIME_ORIGINAL, _OFFSET_ORIGINAL, _SUBSEC_ORIGINAL)),
        (_GPS_IFD, (_LAT_REF, _LAT, _LON_REF, _LON, _HEIGHT_REF, _HEIGHT, _GPS_TIME, _GPS_DATE)),
    ):
        try:
            tags, bad = _copy_tags(exif.get_ifd(pointer), wanted)
        except Exception:
            tags, bad = {}, True
        found.append(tags)
        broken = broken or bad
    if broken:
        remarks.append("The file's EXIF data are damaged; what could be read of them was used.")
    return main, found[0], found[1]


def _copy_tags(source: Mapping[int, Any], wanted: tuple[int, ...]) -> tuple[_Tags, bool]:
    """The wanted tags, each read on its own because values are parsed on access; and whether one could not be."""
    tags: _Tags = {}
    bad = False
    for tag in wanted:
        try:
            value = source.get(tag)
        except Exception:
            bad = True
            continue
        if value is not None:
            tags[tag] = value
    return tags, bad


def _text(value: Any) -> str:
    """Printable text of a tag, stripped, at most 80 characters; empty for anything else than text."""
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    if not isinstance(value, str):
        return ""
    return "".join(c for c in value.split("\0")[0] if c.isprintable()).strip()[:80]


def _numbers(value: Any, count: int) -> list[float] | None:
    """Exactly `count` finite numbers, None otherwise (a rational with denominator 0 reads as not-a-number)."""
    values = value if isinstance(value, tuple | list) else (value,)
    try:
        numbers = [float(v) for v in values]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return numbers if len(numbers) == count and all(map(math.isfinite, numbers)) else None


def _blank(text: str) -> bool:
    """EXIF writes an unknown date or offset as blanks, with or without the colons: that is no contradiction."""
    return not text.strip(" :")


def _local(tags: _Tags, remarks: list[str]) -> datetime | None:
    text = _text(tags.get(_TIME_ORIGINAL))
    if _blank(text):
        return None
    match = _DATE_TIME.match(text)
    try:
        local = datetime(*(int(part or 0) for part in match.groups())) if match else None  # type: ignore[arg-type]
    except ValueError:  # zero dates, the 31st of February, hour 24
        local = None
    if local is None or not FIRST_YEAR <= local.year <= LAST_YEAR:
        remarks.append(f"The camera's time reads “{text}”, which is no usable date: it was ignored.")
        return None
    fraction = _text(tags.get(_SUBSEC_ORIGINAL))
    if fraction.isascii() and fraction.isdigit():
        local += timedelta(microseconds=int((fraction + "00000")[:6]))
    return local


def offset_minutes(text: str) -> int | None:
    """Minutes of a UTC offset as written, "Z" or "+02:00"; None for one that is in use nowhere: those in use are whole
    quarters of an hour between -12:00 and +14:00.

    >>> offset_minutes("-03:30"), offset_minutes("Z"), offset_minutes("+15:00")
    (-210, 0, None)
    """
    if text == "Z":
        return 0
    match = _OFFSET.fullmatch(text)
    minutes = int(match[1] + "1") * (int(match[2]) * 60 + int(match[3])) if match else 1
    return minutes if -12 * 60 <= minutes <= 14 * 60 and minutes % 15 == 0 else None


def _offset(tags: _Tags, remarks: list[str]) -> int | None:
    text = _text(tags.get(_OFFSET_ORIGINAL))
    if _blank(text):
        return None
    minutes = offset_minutes(text)
    if minutes is None:
        remarks.append(f"The camera's UTC offset reads “{text}”, which is in use nowhere: it was ignored.")
    return minutes


def _gps_utc(tags: _Tags, remarks: list[str]) -> datetime | None:
    date_text, time_value = _text(tags.get(_GPS_DATE)), tags.get(_GPS_TIME)
    if _blank(date_text) or time_value is None:
        return None
    match, time = _DATE.match(date_text), _numbers(time_value, 3)
    utc = None
    if match and time and 0 <= time[0] < 24 and 0 <= time[1] < 60 and 0 <= time[2] < 61:
        try:
            day = datetime(int(match[1]), int(match[2]), int(match[3]), tzinfo=UTC)
            utc = day + timedelta(hours=time[0], minutes=time[1], seconds=time[2])
        except (ValueError, OverflowError):
            utc = None
    if utc is None or not FIRST_YEAR <= utc.year <= LAST_YEAR:
        remarks.append(f"The GPS time stamp (date “{date_text}”) makes no sense: it was ignored.")
        return None
    return utc


def _read_place(tags: _Tags, remarks: list[str]) -> Place | None:
    if tags.get(_LAT) is None and tags.get(_LON) is None:
        return None
    north, east = _text(tags.get(_LAT_REF)).upper()[:1], _text(tags.get(_LON_REF)).upper()[:1]
    lat, lon = _angle(tags.get(_LAT)), _angle(tags.get(_LON))
    if lat is None or lon is None or lat > 90 or lon > 180 or north not in ("N", "S") or east not in ("E", "W"):
        remarks.append("The GPS position makes no sense: it was ignored.")
        return None
    if lat < 1e-4 and lon < 1e-4:  # ten metres: a receiver without a fix, not a boat in the Gulf of Guinea
        remarks.append("The GPS position is latitude 0, longitude 0, as written without a fix: it was ignored.")
        return None
    return Place(-lat if north == "S" else lat, -lon if east == "W" else lon, _height(tags))


def _angle(value: Any) -> float | None:
    parts = _numbers(value, 3)
    if parts is None or min(parts) < 0 or parts[1] > 60 or parts[2] > 60:
        return None
    return parts[0] + parts[1] / 60 + parts[2] / 3600


def _height(tags: _Tags) -> float:
    """Height in metres; 0 where it is missing or not on the Earth's surface or in an aircraft."""
    height = _numbers(tags.get(_HEIGHT), 1)
    if height is None:
        return 0.0
    reference = tags.get(_HEIGHT_REF)
    below = reference in (1, b"\x01", 3, b"\x03")
    metres = -height[0] if below else height[0]
    return metres if -500 <= metres <= 20_000 else 0.0


def _camera(tags: _Tags) -> str | None:
    make, model = _text(tags.get(_MAKE)), _text(tags.get(_MODEL))
    if make and model.lower().startswith(make.lower()):
        make = ""
    return f"{make} {model}".strip() or None
