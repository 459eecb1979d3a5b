"""When a picture was taken: one rule for every kind of evidence, every reading kept that the evidence allows.

    told  >  GPS stamp  >  camera clock + its offset  >  + zone of the position  >  + zones to try  >  + any offset

The camera clock's zone is never guessed away: where nothing gives it, each UTC offset in use somewhere is a reading,
and the picture itself (light and libration) has to choose. A reading later than the picture's arrival is wrong.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import tzfpy

from annotate.exif import ExifFields, read_exif
from annotate.records import Known, Place, Taken, TimeCandidate

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
    "exif+offset": 2.0,
    "exif+gps zone": 3.0,
    "exif+zone": 5.0,
    "exif+any zone": 5.0,
}

#: UTC offsets in civil use since 2016, hours (the time-zone database, 2026; checked against it by a test).
UTC_OFFSETS_HOURS = (
    -12.0, -11.0, -10.0, -9.5, -9.0, -8.0, -7.0, -6.0, -5.0, -4.5, -4.0, -3.5, -3.0, -2.5, -2.0, -1.0, 0.0, 1.0, 2.0,
    3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 5.75, 6.0, 6.5, 7.0, 8.0, 8.5, 8.75, 9.0, 9.5, 10.0, 10.5, 11.0, 12.0, 12.75, 13.0,
    13.75, 14.0,
)  # fmt: skip


def read_taken(data: bytes, known: Known) -> Taken:
    """When the picture in `data` can have been taken, best reading first; a damaged file gives remarks, not errors.

    Times in `known` must be timezone-aware and its zones IANA names (ValueError otherwise). The window is the four
    days before `known.received_utc`, both ends None where that is unknown.
    """
    received = _utc(known.received_utc, "received_utc")
    told = _utc(known.taken_utc, "taken_utc")
    zones = [_zone(name) for name in known.zones]
    exif = read_exif(data)
    remarks = list(exif.remarks)
    from_file = _from_file(exif, known.place, zones, received, remarks)
    if told is not None and received is not None and told > received + LATE_TOLERANCE:
        remarks.append("The time it is said to have been taken is later than its arrival: it was not used.")
        told = None
    if told is None:
        candidates = _not_after(from_file, received, remarks)
        _remark_old(candidates, received, remarks)
    else:
        candidates = [TimeCandidate(told, SIGMA_MINUTES["told"], "told")]
        _compare_with_told(told, from_file, remarks)
    return Taken(
        tuple(candidates),
        None if received is None else received - WINDOW,
        received,
        _local_text(exif),
        tuple(remarks),
        exif.place,
        exif.camera,
    )


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


def _local_text(exif: ExifFields) -> str | None:
    if exif.local is None:
        return None
    text = exif.local.isoformat(" ", "seconds")
    return text if exif.offset_minutes is None else f"{text} {_offset_text(exif.offset_minutes / 60)}"


def _offset_text(hours: float) -> str:
    minutes = round(abs(hours) * 60)
    return f"UTC{'-' if hours < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def _reading(local: datetime, offset_hours: float, source: str) -> TimeCandidate:
    utc = local.replace(tzinfo=timezone(timedelta(hours=offset_hours))).astimezone(UTC)
    return TimeCandidate(utc, SIGMA_MINUTES[source], source, offset_hours)


def _from_file(
    exif: ExifFields, known_place: Place | None, zones: list[ZoneInfo], received: datetime | None, remarks: list[str]
) -> list[TimeCandidate]:
    """The readings of the best evidence in the file; those of the next best follow only where the two contradict."""
    clock = _from_clock(exif, known_place, zones, received, remarks)
    if exif.gps_utc is None:
        return clock
    gps = TimeCandidate(exif.gps_utc, SIGMA_MINUTES["gps"], "gps")
    if exif.local is None:
        return [gps]
    shift = exif.local.replace(tzinfo=UTC) - exif.gps_utc
    if any(abs(shift - GPS_ROLLOVER - timedelta(hours=h)) <= GPS_TOLERANCE for h in UTC_OFFSETS_HOURS):
        remarks.append("The GPS date is 1024 weeks before the camera's, as from an old receiver: it was ignored.")
        return clock
    if exif.offset_minutes is None:
        agree = any(abs(shift - timedelta(hours=h)) <= GPS_TOLERANCE for h in UTC_OFFSETS_HOURS)
    else:
        agree = abs(shift - timedelta(minutes=exif.offset_minutes)) <= GPS_TOLERANCE
    if agree:
        return [gps]
    remarks.append("The GPS time and the camera's clock contradict each other; the GPS time is tried first.")
    return [gps, *clock]


def _from_clock(
    exif: ExifFields, known_place: Place | None, zones: list[ZoneInfo], received: datetime | None, remarks: list[str]
) -> list[TimeCandidate]:
    """Readings of the camera's clock: with its own offset, else the zone of the place, else any zone."""
    if exif.local is None:
        return []
    place, source = (exif.place, "exif+gps zone") if known_place is None else (known_place, "exif+zone")
    zone = _zone_at(place)
    if exif.offset_minutes is not None:
        hours = exif.offset_minutes / 60
        used = [] if zone is None else _offsets(zone, exif.local)
        if used and hours not in used:
            remarks.append(
                f"The camera wrote {_offset_text(hours)}, but its place keeps {_offset_text(used[0])}: "
                "one of its clock's settings may be wrong."
            )
        return [_reading(exif.local, hours, "exif+offset")]
    if zone is not None:
        _remark_change(zone, exif.local, remarks)
        return [_reading(exif.local, h, source) for h in _offsets(zone, exif.local)]
    first: list[float] = []
    for zone in zones:
        _remark_change(zone, exif.local, remarks)
        first += [h for h in _offsets(zone, exif.local) if h not in first]
    rest = [h for h in UTC_OFFSETS_HOURS if h not in first]
    if first:
        rest.sort(key=lambda h: abs(h - first[0]))
    else:
        # pictures are sent soon after they are taken: the reading closest before the arrival comes first
        rest.sort(key=abs if received is None else None)
    return [
        *(_reading(exif.local, h, "exif+zone") for h in first),
        *(_reading(exif.local, h, "exif+any zone") for h in rest),
    ]


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


def _remark_old(candidates: list[TimeCandidate], received: datetime | None, remarks: list[str]) -> None:
    if received is not None and candidates and max(c.utc for c in candidates) < received - timedelta(days=366):
        remarks.append("The recorded time is more than a year before the picture's arrival: the clock may be wrong.")


def _compare_with_told(told: datetime, from_file: list[TimeCandidate], remarks: list[str]) -> None:
    if from_file and min(abs(c.utc - told) for c in from_file) > timedelta(minutes=30):
        remarks.append("The camera's own time differs from the time told by more than half an hour.")
