"""What a picture's XMP packet says of when and where it was taken; which of its dates are the exposure's.

    exif:DateTimeOriginal, photoshop:DateCreated   the exposure (XMP specification, part 2; MWG guidelines 2.0)
    exif:GPSTimeStamp                              the exposure, UTC; exif:GPSLatitude, GPSLongitude its place
    xmp:CreateDate, xmp:ModifyDate and the like    when the file was made or edited: never used

Programs write the packet when a picture is saved anew, often where EXIF is gone; an offset in it may be that of the
computer. Found by text, not by an XML parser: nothing in a stranger's packet is expanded, and broken XML costs nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from moondesk.files.exif import FIRST_YEAR, LAST_YEAR, offset_minutes
from moondesk.records import Place

#: The best first. photoshop:DateCreated is the day of what is shown, and is often typed in by hand.
_EXPOSURE = ("exif:DateTimeOriginal", "photoshop:DateCreated")
_GPS = "exif:GPSTimeStamp"
#: ISO 8601 as XMP has it (part 1, 8.2.1.2); the time and its offset may be missing.
_DATE = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?:T(\d\d):(\d\d)(?::(\d\d)(\.\d+)?)?\s?(Z|[+-]\d\d:?\d\d)?)?")


_ANGLE = re.compile(r"(\d{1,3}),(\d{1,2}(?:\.\d{1,9})?)(?:,(\d{1,2}(?:\.\d{1,9})?))?([NSEW])", re.ASCII)


@dataclass(frozen=True, kw_only=True)
class XmpFields:
    """Valid dates of a packet, None where there is none. local: naive; offset_minutes: of it, where it is written."""

    local: datetime | None = None
    offset_minutes: int | None = None
    gps_utc: datetime | None = None
    #: Name of the property that `local` comes from.
    property: str = ""
    place: Place | None = None
    remarks: tuple[str, ...] = ()


def read_xmp(packet: bytes | None) -> XmpFields:
    """Dates of the exposure in a file's XMP packet (`PictureFile.xmp`); all None where there is none.

    Raises: nothing; what makes no sense becomes a remark. Source: XMP specification, parts 1 and 2.

    >>> found = read_xmp(b'<x exif:DateTimeOriginal="2026-10-18T20:42:10+02:00"/>')
    >>> found.local.isoformat(), found.offset_minutes
    ('2026-10-18T20:42:10', 120)
    """
    if not packet:
        return XmpFields()
    text = packet.decode("utf-8", "replace")
    remarks: list[str] = []
    gps = _date(text, _GPS, remarks)
    gps_utc = None
    if gps is not None and gps[1] is not None:
        gps_utc = (gps[0] - timedelta(minutes=gps[1])).replace(tzinfo=UTC)
    place = _read_place(text, remarks)
    for name in _EXPOSURE:
        found = _date(text, name, remarks)
        if found is not None:
            return XmpFields(
                local=found[0],
                offset_minutes=found[1],
                gps_utc=gps_utc,
                property=name,
                place=place,
                remarks=tuple(remarks),
            )
    return XmpFields(gps_utc=gps_utc, place=place, remarks=tuple(remarks))


def _value(text: str, name: str, remarks: list[str]) -> str | None:
    """Text of a property, written as attribute or element; None where it is missing or given in several ways."""
    found = re.findall(rf"\b{name}\s*(?:=\s*[\"']|>)\s*([^\"'<>]{{1,40}})", text)
    values = {value.strip() for value in found if value.strip()}
    if len(values) > 1:  # a picture composed of others may carry the dates of each
        remarks.append(f"The file's XMP gives {name} in {len(values)} ways: it was ignored.")
    return values.pop() if len(values) == 1 else None


def _read_place(text: str, remarks: list[str]) -> Place | None:
    """Degrees and minutes with the hemisphere's letter, "48,12.5N" or "48,12,30N" (XMP specification, part 2)."""
    angles = []
    for name, letters in (("exif:GPSLatitude", "NS"), ("exif:GPSLongitude", "EW")):
        value = _value(text, name, remarks)
        match = _ANGLE.fullmatch(value or "")
        if match is None or match[4] not in letters or float(match[2]) >= 60 or float(match[3] or 0) >= 60:
            if value is not None:
                remarks.append("The position in the file's XMP makes no sense: it was ignored.")
            return None
        angle = int(match[1]) + float(match[2]) / 60 + float(match[3] or 0) / 3600
        angles.append(-angle if match[4] in "SW" else angle)
    # ten metres from 0, 0: a receiver without a fix
    if abs(angles[0]) > 90 or abs(angles[1]) > 180 or max(map(abs, angles)) < 1e-4:
        remarks.append("The position in the file's XMP makes no sense: it was ignored.")
        return None
    return Place(angles[0], angles[1])


def _date(text: str, name: str, remarks: list[str]) -> tuple[datetime, int | None] | None:
    """Local time and offset of a property; None without a time of day."""
    value = _value(text, name, remarks)
    if value is None:
        return None
    match = _DATE.fullmatch(value)
    try:
        local = datetime(*(int(part or 0) for part in match.groups()[:6])) if match else None  # type: ignore[arg-type]
    except ValueError:
        local = None
    if match is None or local is None or not FIRST_YEAR <= local.year <= LAST_YEAR:
        shown = "".join(c for c in value if c.isprintable())
        remarks.append(f"The file's XMP gives {name} as “{shown}”, which is no usable date: it was ignored.")
        return None
    if match[4] is None:
        return None  # a day alone dates no exposure to the hour
    if match[7]:
        local += timedelta(microseconds=int((match[7][1:] + "00000")[:6]))
    return local, _minutes(match[8], name, remarks)


def _minutes(text: str | None, name: str, remarks: list[str]) -> int | None:
    minutes = None if text is None else offset_minutes(text)
    if text is not None and minutes is None:
        remarks.append(f"The file's XMP gives {name} an offset of {text}, which is in use nowhere: it was ignored.")
    return minutes
