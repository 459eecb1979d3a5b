"""When a picture was taken: the ranks of evidence, zones and their changes, and what is done with nonsense.

Independent routes: zoneinfo (the IANA time-zone database) for local times; offsets and dates of changes written out
here from the countries' published rules where marked. Files are written by Pillow, hostile ones byte by byte.
"""

from __future__ import annotations

import csv
import io
import json
import os
import struct
import zoneinfo
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, TiffImagePlugin

from moondesk.files.exif import ExifFields, read_exif
from moondesk.files.formats import open_picture
from moondesk.files.time_taken import UTC_OFFSETS_HOURS, WINDOW, read_taken
from moondesk.records import Known, Place, TimeReadings

NOTHING = Known()
BERLIN = {1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 18.0)}
KATHMANDU = {1: "N", 2: (27.0, 43.0, 0.0), 3: "E", 4: (85.0, 19.0, 0.0)}
AUCKLAND = {1: "S", 2: (36.0, 51.0, 0.0), 3: "E", 4: (174.0, 46.0, 0.0)}
OFFSET_TIME, OFFSET_TIME_ORIGINAL, SUBSEC_ORIGINAL = 0x9010, 0x9011, 0x9291


def photo(
    original: str | None = None,
    gps: dict[int, object] | None = None,
    kind: str = "JPEG",
    main: dict[int, object] | None = None,
    **tags: object,
) -> bytes:
    """A grey picture with EXIF; further tags by name of this module's constants in lower case."""
    details: dict[int, object] = {} if original is None else {0x9003: original}
    details.update({globals()[name.upper()]: value for name, value in tags.items()})
    exif = Image.Exif()
    exif.update(main or {})
    for pointer, directory in ((0x8769, details), (0x8825, gps)):
        if directory:
            exif[pointer] = directory
    if kind == "TIFF":  # an EXIF block is itself a TIFF, only without a picture; Pillow cannot write one with both
        return exif.tobytes().removeprefix(b"Exif\0\0")
    out = io.BytesIO()
    Image.new("L", (32, 32), 90).save(out, kind, exif=exif)
    return out.getvalue()


def exif_of(data: bytes) -> ExifFields:
    return read_exif(open_picture(data).exif)


def stamp(date: str, hour: float, minute: float, second: float) -> dict[int, object]:
    return {29: date, 7: (hour, minute, second)}


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc,arg-type]


def readings(taken: TimeReadings) -> list[tuple[str, datetime]]:
    return [(c.source, c.utc) for c in taken.candidates]


# --- ranks -----------------------------------------------------------------------------------------------------------


def test_no_date_at_all_is_the_normal_case() -> None:
    out = io.BytesIO()
    Image.new("L", (32, 32)).save(out, "JPEG")
    for data in (out.getvalue(), b"", b"nothing like a picture"):
        assert read_taken(data, NOTHING) == TimeReadings(candidates=(), earliest_utc=None, latest_utc=None)
    received = utc(2026, 5, 24, 9, 32)
    taken = read_taken(out.getvalue(), Known(received_utc=received))
    assert taken == TimeReadings(candidates=(), earliest_utc=received - timedelta(days=4), latest_utc=received)


def test_told_beats_everything_and_a_contradiction_is_named() -> None:
    told = utc(2026, 5, 23, 18, 2)
    data = photo("2026:05:23 22:01:56", {**BERLIN, **stamp("2026:05:23", 20, 1, 56)}, offset_time_original="+02:00")
    taken = read_taken(data, Known(taken_utc=told))
    assert readings(taken) == [("told", told)]
    assert "differs from the time told" in " ".join(taken.remarks)
    assert taken.local_text == "2026-05-23 22:01:56 UTC+02:00"
    assert read_taken(data, Known(taken_utc=utc(2026, 5, 23, 20, 10))).remarks == ()


def test_told_after_arrival_is_not_used() -> None:
    known = Known(received_utc=utc(2026, 5, 23, 21), taken_utc=utc(2026, 5, 24, 18))
    taken = read_taken(photo("2026:05:23 22:01:56", offset_time_original="+02:00"), known)
    assert readings(taken) == [("exif+offset", utc(2026, 5, 23, 20, 1, 56))]
    assert "later than its arrival" in taken.remarks[0]


def test_gps_stamp_beats_the_clock_that_agrees() -> None:
    data = photo("2026:05:23 22:01:56", {**BERLIN, **stamp("2026:05:23", 20, 1, 50.5)}, offset_time_original="+02:00")
    taken = read_taken(data, NOTHING)
    assert readings(taken) == [("gps", utc(2026, 5, 23, 20, 1, 50) + timedelta(milliseconds=500))]
    assert taken.candidates[0].offset_hours is None
    assert taken.remarks == ()
    assert taken.place is not None
    assert (taken.place.latitude_deg, taken.place.longitude_deg) == pytest.approx((52.52, 13.405))


def test_gps_stamp_that_contradicts_the_clock_keeps_both() -> None:
    data = photo("2026:05:23 22:01:56", stamp("2026:05:22", 20, 1, 56), offset_time_original="+02:00")
    taken = read_taken(data, NOTHING)
    assert readings(taken) == [("gps", utc(2026, 5, 22, 20, 1, 56)), ("exif+offset", utc(2026, 5, 23, 20, 1, 56))]
    assert "contradict" in taken.remarks[0]


def test_gps_week_rollover_is_recognised() -> None:
    # IS-GPS-200: the week number counts to 1023; 2026-05-23 less 7168 days is 2006-10-07
    data = photo("2026:05:23 22:01:56", stamp("2006:10:07", 20, 1, 56), offset_time_original="+02:00")
    taken = read_taken(data, NOTHING)
    assert readings(taken) == [("exif+offset", utc(2026, 5, 23, 20, 1, 56))]
    assert "1024 weeks" in taken.remarks[0]


def test_offset_time_original_with_subseconds() -> None:
    taken = read_taken(photo("2026:05:23 22:01:56", subsec_original="25", offset_time_original="+02:00"), NOTHING)
    assert taken.candidates[0].utc == utc(2026, 5, 23, 20, 1, 56) + timedelta(milliseconds=250)
    assert (taken.candidates[0].source, taken.candidates[0].offset_hours) == ("exif+offset", 2.0)
    assert (taken.earliest_utc, taken.latest_utc) == (None, None)


def test_offset_time_of_the_last_change_is_never_used() -> None:
    taken = read_taken(photo("2026:05:23 22:01:56", BERLIN, offset_time="-08:00"), NOTHING)
    assert readings(taken)[0] == ("exif+gps zone", utc(2026, 5, 23, 20, 1, 56))
    taken = read_taken(photo("2026:05:23 22:01:56", offset_time="-08:00"), NOTHING)
    assert {c.source for c in taken.candidates} == {"exif+any zone"}


def test_offset_that_the_place_does_not_keep_is_used_and_named() -> None:
    taken = read_taken(photo("2026:05:23 22:01:56", BERLIN, offset_time_original="-05:00"), NOTHING)
    assert readings(taken) == [("exif+offset", utc(2026, 5, 24, 3, 1, 56))]
    assert "UTC-05:00, but its place keeps UTC+02:00" in taken.remarks[0]
    # winter time kept in summer is a setting that many leave alone
    assert read_taken(photo("2026:05:23 22:01:56", BERLIN, offset_time_original="+01:00"), NOTHING).remarks == ()


# --- zones -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gps", "zone", "local"),
    [
        (BERLIN, "Europe/Berlin", datetime(2026, 1, 3, 17, 5)),
        (BERLIN, "Europe/Berlin", datetime(2026, 7, 3, 23, 5)),
        (KATHMANDU, "Asia/Kathmandu", datetime(2026, 3, 3, 19, 0)),
        (AUCKLAND, "Pacific/Auckland", datetime(2026, 1, 3, 21, 40)),
        (AUCKLAND, "Pacific/Auckland", datetime(2026, 6, 30, 6, 40)),
    ],
)
def test_zone_at_the_gps_position(gps: dict[int, object], zone: str, local: datetime) -> None:
    taken = read_taken(photo(local.strftime("%Y:%m:%d %H:%M:%S"), gps), NOTHING)
    assert readings(taken)[0] == ("exif+gps zone", local.replace(tzinfo=zoneinfo.ZoneInfo(zone)).astimezone(UTC))
    assert taken.remarks == ()


def test_offsets_of_zones_written_out() -> None:
    # published rules: Nepal +05:45 all year; New Zealand +13 in summer (January), +12 in winter; from memory
    assert [c.offset_hours for c in read_taken(photo("2026:03:03 19:00:00", KATHMANDU), NOTHING).candidates] == [5.75]
    # the other season's follows: a camera whose clock nobody changed
    summer = read_taken(photo("2026:01:03 21:40:00", AUCKLAND), NOTHING)
    assert [c.offset_hours for c in summer.candidates] == [13.0, 12.0]
    # 24 October: New York keeps summer time before and after, half a year apart too
    new_york = {1: "N", 2: (40.0, 42.0, 0.0), 3: "W", 4: (74.0, 0.0, 0.0)}
    autumn = read_taken(photo("2027:10:24 04:36:03", new_york), NOTHING)
    assert [c.offset_hours for c in autumn.candidates] == [-4.0, -5.0]


def test_time_skipped_by_summer_time_gives_both_readings() -> None:
    # Directive 2000/84/EC: last Sunday of March, 01:00 UTC, which is 29 March in 2026
    taken = read_taken(photo("2026:03:29 02:30:00", BERLIN), NOTHING)
    berlin = zoneinfo.ZoneInfo("Europe/Berlin")
    both = [datetime(2026, 3, 29, 2, 30, tzinfo=berlin, fold=fold).astimezone(UTC) for fold in (0, 1)]
    assert [c.utc for c in taken.candidates] == both == [utc(2026, 3, 29, 1, 30), utc(2026, 3, 29, 0, 30)]
    assert "02:30 never was in Europe/Berlin" in taken.remarks[0]


def test_time_repeated_at_the_end_of_summer_time_gives_both_readings() -> None:
    taken = read_taken(photo("2026:10:25 02:30:00", BERLIN), NOTHING)
    assert [c.utc for c in taken.candidates] == [utc(2026, 10, 25, 0, 30), utc(2026, 10, 25, 1, 30)]
    assert "02:30 was twice in Europe/Berlin" in taken.remarks[0]
    # an offset settles it
    settled = read_taken(photo("2026:10:25 02:30:00", BERLIN, offset_time_original="+01:00"), NOTHING)
    assert readings(settled) == [("exif+offset", utc(2026, 10, 25, 1, 30))]
    assert settled.remarks == ()


def test_told_place_beats_the_gps_position() -> None:
    taken = read_taken(photo("2026:03:03 19:00:00", BERLIN), Known(place=Place(27.7, 85.3)))
    assert readings(taken) == [("exif+place zone", utc(2026, 3, 3, 13, 15))]
    assert taken.place is not None
    assert taken.place.latitude_deg == pytest.approx(52.52)


def test_zones_to_try_come_first_and_all_others_follow() -> None:
    known = Known(zones=("Europe/Berlin", "Asia/Kathmandu"))
    taken = read_taken(photo("2026:01:03 17:05:00"), known)
    hours = [c.offset_hours for c in taken.candidates]
    assert hours[:3] == [1.0, 2.0, 5.75]
    assert [c.source for c in taken.candidates[:4]] == ["exif+zone"] * 3 + ["exif+any zone"]
    assert sorted(h for h in hours if h is not None) == list(UTC_OFFSETS_HOURS)


def test_without_any_zone_every_offset_in_use_is_a_reading() -> None:
    received = utc(2026, 1, 3, 18, 0)
    taken = read_taken(photo("2026:01:03 17:05:00"), Known(received_utc=received))
    # 17:05 at UTC-1 would be 18:05, inside the tolerance of ten minutes; further west is after the arrival
    assert [c.offset_hours for c in taken.candidates] == [h for h in UTC_OFFSETS_HOURS if h >= -1]
    assert taken.candidates[0].utc == utc(2026, 1, 3, 18, 5)
    assert taken.remarks == ()
    assert len(read_taken(photo("2026:01:03 17:05:00"), NOTHING).candidates) == len(UTC_OFFSETS_HOURS)


def test_list_of_offsets_is_that_of_the_time_zone_database() -> None:
    days = [datetime(year, month, 1) for year in range(2016, 2027) for month in (1, 4, 7, 10)]
    used = set()
    for name in zoneinfo.available_timezones():
        if name.split("/")[0] in ("Etc", "posix", "right") or name in ("Factory", "localtime", "posixrules"):
            continue
        zone = zoneinfo.ZoneInfo(name)
        for day in days:
            offset = day.replace(tzinfo=zone).utcoffset()
            assert offset is not None
            used.add(offset.total_seconds() / 3600)
    # ships and uninhabited islands keep -12, which only the Etc zones have
    assert used | {-12.0} == set(UTC_OFFSETS_HOURS)


# --- arrival ---------------------------------------------------------------------------------------------------------


def test_time_after_arrival_is_wrong() -> None:
    received = utc(2026, 5, 23, 20, 0)
    late = read_taken(photo("2026:05:23 22:30:00", offset_time_original="+02:00"), Known(received_utc=received))
    assert late.candidates == ()
    assert "later than the picture's arrival" in late.remarks[0]
    assert (late.earliest_utc, late.latest_utc) == (received - WINDOW, received)
    # clocks differ by minutes: that is no contradiction
    near = read_taken(photo("2026:05:23 22:05:00", offset_time_original="+02:00"), Known(received_utc=received))
    assert readings(near) == [("exif+offset", utc(2026, 5, 23, 20, 5))]
    assert near.remarks == ()


def test_reading_after_arrival_is_dropped_and_the_other_kept() -> None:
    received = utc(2026, 10, 25, 0, 40)
    taken = read_taken(photo("2026:10:25 02:30:00", BERLIN), Known(received_utc=received))
    assert [c.utc for c in taken.candidates] == [utc(2026, 10, 25, 0, 30)]
    gps = read_taken(
        photo("2026:05:23 22:01:56", stamp("2026:05:25", 20, 1, 56), offset_time_original="+02:00"),
        Known(received_utc=utc(2026, 5, 24)),
    )
    assert readings(gps) == [("exif+offset", utc(2026, 5, 23, 20, 1, 56))]
    assert "likeliest reading" in gps.remarks[-1]


def test_old_clock_is_kept_and_named() -> None:
    known = Known(received_utc=utc(2026, 5, 24))
    taken = read_taken(photo("2015:01:01 00:03:00", offset_time_original="+00:00"), known)
    assert readings(taken) == [("exif+offset", utc(2015, 1, 1, 0, 3))]
    assert "more than a year before" in taken.remarks[0]


# --- nonsense --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["0000:00:00 00:00:00", "1970:01:01 00:00:00", "2026:02:31 12:00:00", "9999:12:31 23:59:59", "yesterday evening"],
)
def test_impossible_date_is_ignored_and_named(text: str) -> None:
    taken = read_taken(photo(text, offset_time_original="+02:00"), NOTHING)
    assert taken.candidates == ()
    assert taken.local_text is None
    assert text in taken.remarks[0]


@pytest.mark.parametrize("text", ["    :  :     :  :  ", "                   ", ""])
def test_blank_date_is_just_unknown(text: str) -> None:
    assert read_taken(photo(text), NOTHING) == TimeReadings(candidates=(), earliest_utc=None, latest_utc=None)


@pytest.mark.parametrize("offset", ["+15:00", "-13:00", "+01:07", "Berlin"])
def test_impossible_offset_is_ignored_and_named(offset: str) -> None:
    taken = read_taken(photo("2026:05:23 22:01:56", BERLIN, offset_time_original=offset), NOTHING)
    assert readings(taken)[0] == ("exif+gps zone", utc(2026, 5, 23, 20, 1, 56))
    assert offset in taken.remarks[0]


@pytest.mark.parametrize("offset", ["   :  ", "      "])
def test_blank_offset_is_just_unknown(offset: str) -> None:
    taken = read_taken(photo("2026:05:23 22:01:56", BERLIN, offset_time_original=offset), NOTHING)
    assert taken.candidates[0].source == "exif+gps zone"
    assert taken.remarks == ()


NAN = TiffImagePlugin.IFDRational(0, 0)


@pytest.mark.parametrize(
    "gps",
    [
        {1: "N", 2: (0.0, 0.0, 0.0), 3: "E", 4: (0.0, 0.0, 0.0)},
        {1: "N", 2: (NAN, 31.0, 0.0), 3: "E", 4: (13.0, 24.0, 0.0)},
        {1: "N", 2: (97.0, 31.0, 0.0), 3: "E", 4: (13.0, 24.0, 0.0)},
        {1: "N", 2: (52.0, 31.0, 0.0), 3: "E", 4: (213.0, 24.0, 0.0)},
        {1: "N", 2: (52.0, 31.0, 0.0), 4: (13.0, 24.0, 0.0)},
        {1: "N", 2: (52.0, 31.0, 0.0)},
    ],
)
def test_impossible_position_is_ignored_and_named(gps: dict[int, object]) -> None:
    taken = read_taken(photo("2026:05:23 22:01:56", gps), NOTHING)
    assert taken.place is None
    assert {c.source for c in taken.candidates} == {"exif+any zone"}
    assert "GPS position" in taken.remarks[0]


@pytest.mark.parametrize(
    "gps",
    [stamp("2026:05:23", 25, 0, 0), stamp("0000:00:00", 20, 0, 0), {29: "2026:05:23", 7: (20.0, NAN, 0.0)},
     stamp("1980:01:06", 0, 0, 0), stamp("9999:12:31", 23, 59, 60.9)],
)  # fmt: skip
def test_impossible_gps_time_is_ignored_and_named(gps: dict[int, object]) -> None:
    taken = read_taken(photo("2026:05:23 22:01:56", gps, offset_time_original="+02:00"), NOTHING)
    assert [c.source for c in taken.candidates] == ["exif+offset"]
    assert "GPS time stamp" in taken.remarks[0]


def test_height_of_the_place() -> None:
    for below, metres, expected in ((b"\0", 34.5, 34.5), (b"\1", 12.0, -12.0), (b"\0", 1e6, 0.0)):
        fields = exif_of(photo(None, {**BERLIN, 5: below, 6: metres}))
        assert fields.place is not None
        assert fields.place.height_m == expected


def test_camera_names_its_maker_once() -> None:
    assert exif_of(photo(main={0x010F: "Handset", 0x0110: "H-5"})).camera == "Handset H-5"
    assert exif_of(photo(main={0x010F: "Handset ", 0x0110: "HANDSET H-5"})).camera == "HANDSET H-5"
    assert exif_of(photo(main={0x0110: "H-5\x00 x"})).camera == "H-5"
    assert exif_of(photo(main={0x010F: "\x1b[31m" + "x" * 300})).camera == "[31m" + "x" * 76


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_every_kind_of_file_is_read(kind: str) -> None:
    data = photo("2026:05:23 22:01:56", BERLIN, kind, {0x0110: "H-5"}, offset_time_original="+02:00")
    taken = read_taken(data, NOTHING)
    assert readings(taken) == [("exif+offset", utc(2026, 5, 23, 20, 1, 56))]
    assert taken.camera == "H-5"
    assert taken.place is not None


def test_wrong_calls_are_errors() -> None:
    with pytest.raises(ValueError, match="received_utc must be timezone-aware"):
        read_taken(b"", Known(received_utc=datetime(2026, 5, 23)))
    with pytest.raises(ValueError, match="'Europe/Atlantis' is not a time zone"):
        read_taken(b"", Known(zones=("Europe/Atlantis",)))


@pytest.mark.filterwarnings("ignore")  # Pillow warns about what it skips
def test_damaged_exif_gives_a_remark() -> None:
    broken = b"II*\0" + struct.pack("<I", 5000)
    data = b"\xff\xd8\xff\xe1" + struct.pack(">H", 8 + len(broken)) + b"Exif\0\0" + broken + b"\xff\xd9"
    assert read_taken(data, NOTHING).candidates == ()
    nonsense = b"Exif\0\0" + b"\x7f" * 40
    data = b"\xff\xd8\xff\xe1" + struct.pack(">H", 2 + len(nonsense)) + nonsense + b"\xff\xd9"
    assert "damaged" in read_taken(data, NOTHING).remarks[0]


@pytest.mark.filterwarnings("ignore")
def test_mutated_files_never_raise() -> None:
    rng = np.random.default_rng(20260103)
    gps = {**BERLIN, **stamp("2026:05:23", 20, 1, 56), 5: b"\0", 6: 34.5}
    full = photo("2026:05:23 22:01:56", gps, "JPEG", {0x010F: "Handset"}, offset_time_original="+02:00")
    seeds = [full, photo("2026:05:23 22:01:56", gps, "TIFF"), photo("2026:05:23 22:01:56", gps, "PNG")]
    known = Known(received_utc=utc(2026, 5, 24, 9), zones=("Europe/Berlin",))
    for i in range(900):
        data = bytearray(seeds[i % 3])
        for _ in range(int(rng.integers(1, 5))):
            data[int(rng.integers(4, min(len(data), 420)))] = int(rng.integers(0, 256))
        taken = read_taken(bytes(data), known)
        assert all(c.utc <= utc(2026, 5, 24, 9, 10) for c in taken.candidates)


# --- the shared scenes -----------------------------------------------------------------------------------------------


def test_shared_scenes_true_time_is_among_the_readings() -> None:
    shared = Path(os.environ.get("MOONDESK_SHARED", Path(__file__).resolve().parents[3] / "shared")) / "scenes"
    if not (shared / "truth.json").exists():
        pytest.skip("no shared scenes: set MOONDESK_SHARED to their folder")
    truth = {t["file"]: t for t in json.loads((shared / "truth.json").read_text())}
    with (shared / "submissions.csv").open() as table:
        received = {row["file"]: datetime.fromisoformat(row["received_utc"]) for row in csv.DictReader(table)}
    for name, true in truth.items():
        taken = read_taken((shared / name).read_bytes(), Known(received_utc=received[name]))
        when = datetime.fromisoformat(true["utc"]) + timedelta(hours=true["clock_error_h"])
        assert taken.earliest_utc is not None
        assert taken.latest_utc is not None
        if taken.candidates:
            assert min(abs(c.utc - when) for c in taken.candidates) < timedelta(minutes=1), name
        assert taken.earliest_utc <= datetime.fromisoformat(true["utc"]) <= taken.latest_utc, name
