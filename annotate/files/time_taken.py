"""When a picture was taken: one rule for every kind of evidence, every reading kept that the evidence allows.

    told  >  GPS stamp, FITS header  >  camera clock + its offset  >  + offset in XMP  >  + zone of the position
          >  + zones to try  >  + any offset  >  the letter        (the file's name and the arrival: only not later)

The camera clock's zone is never guessed away: where nothing gives it, each UTC offset in use somewhere is a reading,
and the picture itself (light and libration) has to choose. A reading later than the picture's arrival is wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import tzfpy

from moondesk.files.exif import read_exif
from moondesk.files.filenames import NamedDay, day_in_name
from moondesk.files.formats import open_picture
from moondesk.files.picture_file import PictureFile
from moondesk.files.xmp import XmpFields, read_xmp
from moondesk.records import Known, Place, TimeCandidate, TimeReadings

#: Where the clock is missing or wrong, the picture is taken to be at most this old when it arrives: a nightly
#: programme's viewers send what they have just seen.
WINDOW = timedelta(days=4)
#: Clocks of cameras and mail servers differ by minutes (common practice): less than this after arrival is no error.
LATE_TOLERANCE = timedelta(minutes=10)
#: GPS receivers count weeks modulo 1024 (interface specification IS-GPS-200, 3.3.4): a stale receiver is that far back.
GPS_ROLLOVER = timedelta(weeks=1024)
#: GPS and camera clock agree where they differ by a UTC offset in use, give or take this.
GPS_TOLERANCE = timedelta(minutes=5)

#: One standard deviation by source, minutes (common practice: a stated time is rounded, a receiver keeps its last fix
#: for a while, a phone follows its network, a camera's clock drifts by minutes between settings).
SIGMA_MINUTES = {
    "told": 2.0,
    "gps": 1.0,
    "fits": 2.0,
    "exif+offset": 2.0,
    "xmp+offset": 3.0,
    "exif+gps zone": 3.0,
    "exif+place zone": 5.0,
    "exif+zone": 5.0,
    "exif+any zone": 5.0,
}

#: Source of what the sender's letter says.
LETTER = "letter"

#: UTC offsets in civil use since 2016, hours (the time-zone database, 2026; checked against it by a test).
UTC_OFFSETS_HOURS = (
    -12.0, -11.0, -10.0, -9.5, -9.0, -8.0, -7.0, -6.0, -5.0, -4.5, -4.0, -3.5, -3.0, -2.5, -2.0, -1.0, 0.0, 1.0, 2.0,
    3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 5.75, 6.0, 6.5, 7.0, 8.0, 8.5, 8.75, 9.0, 9.5, 10.0, 10.5, 11.0, 12.0, 12.75, 13.0,
    13.75, 14.0,
)  # fmt: skip


def read_taken(data: bytes | PictureFile, known: Known) -> TimeReadings:
    """When the picture in `data` can have been taken, best reading first; a damaged file gives remarks, not errors.

    The window is the four days before `known.received_utc`, both ends None where that is unknown.

    Parameters: the file's bytes, or the file opened; what is known of it beside them.
    Raises: ValueError where a time of `known` has no zone or a zone of it is no IANA name.

    >>> read_taken(b"", Known(received_utc=datetime(2026, 10, 18, 21, tzinfo=UTC))).earliest_utc.isoformat()
    '2026-10-14T21:00:00+00:00'
    """
    received = _utc(known.received_utc, "received_utc")
    told = _utc(known.taken_utc, "taken_utc")
    zones = [_zone(name) for name in known.zones]
    remarks: list[str] = []
    written = _written_time(open_picture(data), remarks)
    from_file = _from_file(written, known.place, zones, received, remarks)
    if told is not None and received is not None and told > received + LATE_TOLERANCE:
        remarks.append("The time it is said to have been taken is later than its arrival: it was not used.")
        told = None
    confirmed = ""
    if told is None:
        candidates = _not_after(from_file, received, remarks)
        _remark_old(candidates, received, remarks)
        candidates += _from_letter(known.letter, candidates, received, remarks)
    else:
        candidates = [TimeCandidate(told, known.taken_sigma_minutes, "told")]
        confirmed = _compare_with_told(candidates[0], from_file, remarks)
    earliest, latest = _window(
        received, day_in_name(known.given_name), [c for c in candidates if c.source != LETTER], remarks
    )
    return TimeReadings(
        candidates=tuple(candidates),
        earliest_utc=earliest,
        latest_utc=latest,
        local_text=_local_text(written),
        remarks=tuple(remarks),
        place=written.place,
        camera=written.camera,
        confirmed_by=confirmed,
    )


@dataclass(frozen=True, kw_only=True)
class _Written:
    """What a file says of its time, from whichever of its blocks; None where none does."""

    #: The camera's clock, naive, its offset and the source that an offset makes of it.
    local: datetime | None = None
    offset_minutes: int | None = None
    offset_source: str = "exif+offset"
    #: An instant without a zone to guess, and its source.
    utc: datetime | None = None
    utc_source: str = "gps"
    #: A second opinion, tried last.
    other: TimeCandidate | None = None
    place: Place | None = None
    camera: str | None = None


def _written_time(file: PictureFile, remarks: list[str]) -> _Written:
    fits = file.header_fields
    if fits is not None:
        remarks += fits.remarks
        return _Written(local=fits.local, utc=fits.utc, utc_source="fits", place=fits.place, camera=fits.camera)
    exif, xmp = read_exif(file.exif), read_xmp(file.xmp)
    remarks += [*exif.remarks, *xmp.remarks]
    written = _Written(
        local=exif.local,
        offset_minutes=exif.offset_minutes,
        utc=exif.gps_utc or xmp.gps_utc,
        place=exif.place or xmp.place,
        camera=exif.camera,
    )
    return _with_xmp(written, xmp, remarks)


def _with_xmp(written: _Written, xmp: XmpFields, remarks: list[str]) -> _Written:
    """EXIF first; XMP gives the time where EXIF has none, the offset where it fits, and a contradiction where not."""
    if xmp.local is None:
        return written
    if written.local is None:
        remarks.append(f"The time stands in the file's XMP data alone ({xmp.property}), where programs write it.")
        return replace(written, local=xmp.local, offset_minutes=xmp.offset_minutes, offset_source="xmp+offset")
    if xmp.offset_minutes is None:
        if abs(written.local - xmp.local) > GPS_TOLERANCE:
            remarks.append("The file's EXIF and XMP data give different times; that of EXIF is used.")
        return written
    utc = xmp.local - timedelta(minutes=xmp.offset_minutes)
    if written.offset_minutes is None:
        # the same clock as EXIF's, or the same instant in another zone
        offset = round((written.local - utc) / timedelta(minutes=15)) * 15
        if abs(written.local - utc - timedelta(minutes=offset)) <= timedelta(minutes=1) and (
            offset / 60 in UTC_OFFSETS_HOURS
        ):
            return replace(written, offset_minutes=offset, offset_source="xmp+offset")
    elif abs(written.local - timedelta(minutes=written.offset_minutes) - utc) <= GPS_TOLERANCE:
        return written
    remarks.append("The file's EXIF and XMP data give different times; that of EXIF is tried first.")
    return replace(
        written,
        other=TimeCandidate(
            utc.replace(tzinfo=UTC), SIGMA_MINUTES["xmp+offset"], "xmp+offset", xmp.offset_minutes / 60
        ),
    )


def _window(
    received: datetime | None, named: NamedDay | None, candidates: list[TimeCandidate], remarks: list[str]
) -> tuple[datetime | None, datetime | None]:
    """Bounds of the search where the clock is missing or wrong. A day in the file's name only ever ends it earlier, and
    only where the file has no clock: the name would repeat what that says."""
    earliest = None if received is None else received - WINDOW
    if named is None:
        return earliest, received
    if candidates:
        if all(c.utc > named.ends_utc for c in candidates):
            remarks.append(f"The file's name gives the day {named.words}; the recorded time is later. One is wrong.")
        return earliest, received
    if received is not None and named.begins_utc > received + LATE_TOLERANCE:
        remarks.append(f"The file's name gives the day {named.words}; that is after its arrival and was not used.")
        return earliest, received
    if earliest is not None and named.ends_utc < earliest:
        remarks.append(f"The file's name gives the day {named.words}; that is long before its arrival: an old picture?")
        return earliest, received
    if received is None and named.kind not in ("camera", "message"):
        remarks.append(f"The file's name gives the day {named.words}; it was not used.")
        return None, None
    remarks.append(f"The file's name gives the day {named.words}: it was taken no later.")
    latest = named.ends_utc if received is None else min(received, named.ends_utc)
    return earliest or latest - WINDOW, latest


def _utc(when: datetime | None, name: str) -> datetime | None:
    if when is None:
        return None
    if when.tzinfo is None or when.utcoffset() is None:
        raise ValueError(f"{name} must be timezone-aware, not {when.isoformat()}")
    return when.astimezone(UTC)


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(f"{name!r} is not a time zone of the IANA database, such as 'Europe/Berlin'") from error


def _local_text(written: _Written) -> str | None:
    if written.local is None:
        fits = written.utc if written.utc_source == "fits" else None
        return None if fits is None else f"{fits.replace(tzinfo=None).isoformat(' ', 'seconds')} UTC+00:00"
    text = written.local.isoformat(" ", "seconds")
    return text if written.offset_minutes is None else f"{text} {_offset_text(written.offset_minutes / 60)}"


def _offset_text(hours: float) -> str:
    minutes = round(abs(hours) * 60)
    return f"UTC{'-' if hours < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def _reading(local: datetime, offset_hours: float, source: str) -> TimeCandidate:
    utc = local.replace(tzinfo=timezone(timedelta(hours=offset_hours))).astimezone(UTC)
    return TimeCandidate(utc, SIGMA_MINUTES[source], source, offset_hours)


def _from_file(
    written: _Written, known_place: Place | None, zones: list[ZoneInfo], received: datetime | None, remarks: list[str]
) -> list[TimeCandidate]:
    """The readings of the best evidence in the file; those of the next best follow only where the two contradict."""
    clock = _from_clock(written, known_place, zones, received, remarks)
    if written.other is not None:
        clock.append(written.other)
    if written.utc is None:
        return clock
    gps = TimeCandidate(written.utc, SIGMA_MINUTES[written.utc_source], written.utc_source)
    if written.local is None:
        return [gps]
    shift = written.local.replace(tzinfo=UTC) - written.utc
    if any(abs(shift - GPS_ROLLOVER - timedelta(hours=h)) <= GPS_TOLERANCE for h in UTC_OFFSETS_HOURS):
        remarks.append("The GPS date is 1024 weeks before the camera's, as from an old receiver: it was ignored.")
        return clock
    if written.offset_minutes is None:
        agree = any(abs(shift - timedelta(hours=h)) <= GPS_TOLERANCE for h in UTC_OFFSETS_HOURS)
    else:
        agree = abs(shift - timedelta(minutes=written.offset_minutes)) <= GPS_TOLERANCE
    if agree:
        return [gps]
    remarks.append("The GPS time and the camera's clock contradict each other; the GPS time is tried first.")
    return [gps, *clock]


def _from_clock(
    written: _Written, known_place: Place | None, zones: list[ZoneInfo], received: datetime | None, remarks: list[str]
) -> list[TimeCandidate]:
    """Readings of the camera's clock: with its own offset, else the zone of the place, else any zone."""
    local = written.local
    if local is None:
        return []
    place, source = (written.place, "exif+gps zone") if known_place is None else (known_place, "exif+place zone")
    zone = _zone_at(place)
    if written.offset_minutes is not None:
        hours = written.offset_minutes / 60
        used = [] if zone is None else _offsets(zone, local)
        if used and hours not in used:
            remarks.append(
                f"The camera wrote {_offset_text(hours)}, but its place keeps {_offset_text(used[0])}: "
                "one of its clock's settings may be wrong."
            )
            if written.offset_source == "xmp+offset":  # perhaps only that of the computer which wrote the packet
                return [_reading(local, h, s) for h, s in ((hours, "xmp+offset"), *((h, source) for h in used))]
        return [_reading(local, hours, written.offset_source)]
    if zone is not None:
        _remark_change(zone, local, remarks)
        return [_reading(local, h, source) for h in _offsets(zone, local)]
    first: list[float] = []
    for zone in zones:
        _remark_change(zone, local, remarks)
        first += [h for h in _offsets(zone, local) if h not in first]
    rest = [h for h in UTC_OFFSETS_HOURS if h not in first]
    if first:
        names = " and ".join(dict.fromkeys(zone.key for zone in zones))
        remarks.append(f"The camera's clock has no time zone: {names} (the sender's or programme's) is tried first.")
        rest.sort(key=lambda h: abs(h - first[0]))
    else:
        # pictures are sent soon after they are taken: the reading closest before the arrival comes first
        rest.sort(key=abs if received is None else None)
    return [*(_reading(local, h, "exif+zone") for h in first), *(_reading(local, h, "exif+any zone") for h in rest)]


def _zone_at(place: Place | None) -> ZoneInfo | None:
    """Time zone of a place, at sea the nautical one; None without a place or where it is unknown."""
    if place is None:
        return None
    name = tzfpy.get_tz(place.longitude_deg, place.latitude_deg)
    try:
        return ZoneInfo(name) if name else None
    except (ZoneInfoNotFoundError, ValueError, OSError):  # the polygon's zone is newer than the installed database
        return None


def _offset_at(zone: ZoneInfo, local: datetime, fold: int = 0) -> float:
    offset = local.replace(tzinfo=zone, fold=fold).utcoffset()
    return 0.0 if offset is None else offset.total_seconds() / 3600


def _offsets(zone: ZoneInfo, local: datetime) -> list[float]:
    """UTC offsets (hours) under which a clock in that zone can have shown `local`, likeliest first.

    The legal one (both, in the hour that summer time skips or repeats), then that of the other season: a
    camera whose owner forgot to change its clock.
    """
    offsets = [_offset_at(zone, local, 0), _offset_at(zone, local, 1)]
    offsets += [_offset_at(zone, local + timedelta(days=days)) for days in (-182, -91, 91, 182)]
    return list(dict.fromkeys(offsets))


def _remark_change(zone: ZoneInfo, local: datetime, remarks: list[str]) -> None:
    before, after = _offset_at(zone, local, 0), _offset_at(zone, local, 1)
    if before < after:
        remarks.append(
            f"The camera's time {local:%H:%M} never was in {zone.key} that day: its clocks were put forward. "
            "Both readings are tried."
        )
    elif before > after:
        remarks.append(
            f"The camera's time {local:%H:%M} was twice in {zone.key} that day: its clocks were put back. "
            "Both readings are tried."
        )


def _not_after(candidates: list[TimeCandidate], received: datetime | None, remarks: list[str]) -> list[TimeCandidate]:
    """Drop what is later than the arrival, and say so unless it only narrows an unknown zone."""
    if received is None or not candidates:
        return candidates
    kept = [c for c in candidates if c.utc <= received + LATE_TOLERANCE]
    lost_first = candidates[0] not in kept and candidates[0].source != "exif+any zone"
    if not kept:
        remarks.append("The recorded time is later than the picture's arrival: the clock is wrong and was not used.")
    elif lost_first:
        remarks.append("The likeliest reading of the recorded time is later than the picture's arrival: not used.")
    return kept


def _from_letter(
    said: TimeCandidate | None, from_file: list[TimeCandidate], received: datetime | None, remarks: list[str]
) -> list[TimeCandidate]:
    """The letter's time as the last reading, and what it and the file's own say of each other."""
    if said is None:
        return []
    utc = _utc(said.utc, "letter")
    if utc is None or (received is not None and utc > received + LATE_TOLERANCE):
        remarks.append("The time that the letter gives is later than its arrival: it was not used.")
        return []
    spare = timedelta(minutes=max(30.0, 2.0 * said.sigma_minutes))
    if from_file and all(abs(c.utc - utc) > spare for c in from_file):
        remarks.append("The letter gives another time than the file; the picture's light has to choose.")
    return [replace(said, utc=utc, source=LETTER)]


def _remark_old(candidates: list[TimeCandidate], received: datetime | None, remarks: list[str]) -> None:
    if received is not None and candidates and max(c.utc for c in candidates) < received - timedelta(days=366):
        remarks.append("The recorded time is more than a year before the picture's arrival: the clock may be wrong.")


def _compare_with_told(told: TimeCandidate, from_file: list[TimeCandidate], remarks: list[str]) -> str:
    """The source of the file's reading that says the same; "" where none does."""
    nearest = min(from_file, key=lambda c: abs(c.utc - told.utc), default=None)
    if nearest is None:
        return ""
    apart = abs(nearest.utc - told.utc)
    if apart > timedelta(minutes=max(30.0, 2.0 * told.sigma_minutes)):
        beyond = "more than half an hour" if apart < timedelta(hours=48) else f"{apart.days} days"
        remarks.append(f"The camera's own time differs from the time told by {beyond}.")
        return ""
    return nearest.source
