"""Dates beside those of EXIF: XMP packets, FITS headers, file names; which date the exposure, and how they rank.

Independent routes: Pillow and tifffile as writers of the packets, astropy as writer of FITS and for its time scales.
"""

from __future__ import annotations

import io
import warnings
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
import tifffile
from astropy.time import Time
from picture_files import fits, saved, scene
from PIL import Image, PngImagePlugin, features

from moondesk.files.filenames import day_in_name
from moondesk.files.fits_header import FitsFields
from moondesk.files.formats import open_picture
from moondesk.files.time_taken import WINDOW, read_taken
from moondesk.files.xmp import XmpFields, read_xmp
from moondesk.records import Known, Place, TimeReadings

RECEIVED = datetime(2026, 10, 20, 8, tzinfo=UTC)
ARRIVED = Known(received_utc=RECEIVED)
#: The instant that most files here mean.
WHEN = datetime(2026, 10, 18, 18, 42, 10, tzinfo=UTC)


def packet(**properties: str) -> bytes:
    """A packet as photo programs write it, properties as attributes; names with one underscore for the colon."""
    inside = " ".join(f'{name.replace("_", ":", 1)}="{value}"' for name, value in properties.items())
    return (
        f'<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF>'
        f"<rdf:Description {inside}></rdf:Description></rdf:RDF></x:xmpmeta>"
    ).encode()


def jpeg(xmp: bytes, original: str | None = None, offset: str | None = None) -> bytes:
    exif = Image.Exif()
    details = {0x9003: original, 0x9011: offset}
    exif[0x8769] = {tag: value for tag, value in details.items() if value}
    return saved(scene(), "JPEG", xmp=xmp, **({"exif": exif.tobytes()} if original else {}))


def xmp_of(data: bytes) -> XmpFields:
    return read_xmp(open_picture(data).xmp)


def fits_of(data: bytes) -> FitsFields:
    fields = open_picture(data).header_fields
    assert fields is not None
    return fields


def readings(taken: TimeReadings) -> list[tuple[str, datetime]]:
    return [(c.source, c.utc) for c in taken.candidates]


# --- XMP -------------------------------------------------------------------------------------------------------------


def files_with(xmp: bytes) -> dict[str, bytes]:
    plain, packed = PngImagePlugin.PngInfo(), PngImagePlugin.PngInfo()
    plain.add_itxt("XML:com.adobe.xmp", xmp.decode())
    packed.add_itxt("XML:com.adobe.xmp", xmp.decode(), zip=True)
    tiff = io.BytesIO()
    tifffile.imwrite(tiff, scene(), photometric="rgb", extratags=[(700, 1, len(xmp), xmp, True)])
    files = {
        "jpeg": saved(scene(), "JPEG", xmp=xmp),
        "png": saved(scene(), "PNG", pnginfo=plain),
        "png packed": saved(scene(), "PNG", pnginfo=packed),
        "webp": saved(scene(), "WEBP", xmp=xmp),
        "tiff": tiff.getvalue(),
    }
    if features.check("avif"):
        files["avif"] = saved(scene(64, 64), "AVIF", xmp=xmp)
    return files


def test_xmp_of_every_kind_of_file_is_read() -> None:
    for name, data in files_with(packet(exif_DateTimeOriginal="2026-10-18T20:42:10+02:00")).items():
        fields = xmp_of(data)
        assert (fields.local, fields.offset_minutes) == (datetime(2026, 10, 18, 20, 42, 10), 120), name
        assert readings(read_taken(data, ARRIVED)) == [("xmp+offset", WHEN)], name


def test_xmp_as_elements_with_fractions_and_zulu() -> None:
    inside = b"<exif:DateTimeOriginal>\n 2026-10-18T18:42:10.5Z </exif:DateTimeOriginal>"
    data = jpeg(packet().replace(b"></rdf:Description>", b">" + inside + b"</rdf:Description>"))
    assert readings(read_taken(data, ARRIVED)) == [("xmp+offset", WHEN + timedelta(milliseconds=500))]


@pytest.mark.parametrize(
    "name",
    ["xmp_CreateDate", "xmp_ModifyDate", "xmp_MetadataDate", "stEvt_when", "exif_DateTimeDigitized", "tiff_DateTime"],
)
def test_dates_of_the_file_date_no_exposure(name: str) -> None:
    taken = read_taken(jpeg(packet(**{name: "2026-10-18T20:42:10+02:00"})), ARRIVED)
    assert taken.candidates == ()
    assert taken.local_text is None


def test_date_created_counts_where_the_original_time_is_missing() -> None:
    # MWG guidelines 2.0: photoshop:DateCreated mirrors the original time
    fields = xmp_of(
        jpeg(packet(photoshop_DateCreated="2026-10-18T20:42:10+02:00", xmp_CreateDate="2026-10-19T09:00:00+02:00"))
    )
    assert (fields.local, fields.property) == (datetime(2026, 10, 18, 20, 42, 10), "photoshop:DateCreated")
    both = xmp_of(jpeg(packet(photoshop_DateCreated="2026-10-17", exif_DateTimeOriginal="2026-10-18T20:42:10")))
    assert (both.local, both.property) == (datetime(2026, 10, 18, 20, 42, 10), "exif:DateTimeOriginal")
    assert xmp_of(jpeg(packet(photoshop_DateCreated="2026-10-17"))).local is None  # a day alone


def test_offset_in_xmp_gives_exif_its_zone() -> None:
    local = "2026:10:18 20:42:10"
    for written in ("2026-10-18T20:42:10+02:00", "2026-10-18T18:42:10Z", "2026-10-18T14:42:10-04:00"):
        taken = read_taken(jpeg(packet(exif_DateTimeOriginal=written), local), ARRIVED)
        assert readings(taken) == [("xmp+offset", WHEN)], written
        assert taken.candidates[0].offset_hours == 2.0
        assert taken.local_text == "2026-10-18 20:42:10 UTC+02:00"
        assert taken.remarks == ()
    # EXIF's own offset comes first
    taken = read_taken(jpeg(packet(exif_DateTimeOriginal="2026-10-18T20:42:10+02:00"), local, "+02:00"), ARRIVED)
    assert readings(taken) == [("exif+offset", WHEN)]


def test_offset_in_xmp_that_the_place_does_not_keep_may_be_the_computers() -> None:
    # Tenerife keeps UTC+1 in summer; the packet was written at home
    data = jpeg(packet(exif_DateTimeOriginal="2026-10-18T20:42:10+02:00"), "2026:10:18 20:42:10")
    taken = read_taken(data, Known(received_utc=RECEIVED, place=Place(28.3, -16.5)))
    assert [(c.source, c.offset_hours) for c in taken.candidates] == [
        ("xmp+offset", 2.0),
        ("exif+place zone", 1.0),
        ("exif+place zone", 0.0),
    ]
    assert "its place keeps UTC+01:00" in taken.remarks[0]


def test_xmp_that_contradicts_exif_is_named_and_tried_last() -> None:
    edited = packet(exif_DateTimeOriginal="2026-10-19T20:50:00+02:00")
    taken = read_taken(jpeg(edited, "2026:10:18 20:42:10", "+02:00"), ARRIVED)
    assert readings(taken) == [("exif+offset", WHEN), ("xmp+offset", datetime(2026, 10, 19, 18, 50, tzinfo=UTC))]
    assert "EXIF and XMP data give different times" in taken.remarks[0]
    local = read_taken(
        jpeg(packet(exif_DateTimeOriginal="2026-10-19T20:50:00"), "2026:10:18 20:42:10", "+02:00"), ARRIVED
    )
    assert readings(local) == [("exif+offset", WHEN)]
    assert "that of EXIF is used" in local.remarks[0]


def test_xmp_without_offset_is_a_clock_without_zone() -> None:
    taken = read_taken(
        jpeg(packet(exif_DateTimeOriginal="2026-10-18T20:42:10")),
        Known(received_utc=RECEIVED, zones=("Europe/Vienna",)),
    )
    assert readings(taken)[0] == ("exif+zone", WHEN)
    assert "XMP data alone" in taken.remarks[0]
    assert "Europe/Vienna (the sender's or programme's) is tried first" in taken.remarks[1]


def test_gps_time_in_xmp() -> None:
    taken = read_taken(jpeg(packet(exif_GPSTimeStamp="2026-10-18T18:42:10Z")), ARRIVED)
    assert readings(taken) == [("gps", WHEN)]


@pytest.mark.parametrize(
    ("lat", "lon", "expected"),
    [("48,12.5N", "16,22,30E", (48 + 12.5 / 60, 16 + 22.5 / 60)), ("33,30S", "70,40.25W", (-33.5, -70 - 40.25 / 60))],
)
def test_place_in_xmp(lat: str, lon: str, expected: tuple[float, float]) -> None:
    taken = read_taken(
        jpeg(packet(exif_GPSLatitude=lat, exif_GPSLongitude=lon, exif_DateTimeOriginal="2026-10-18T20:42:10")), ARRIVED
    )
    assert taken.place is not None
    assert (taken.place.latitude_deg, taken.place.longitude_deg) == pytest.approx(expected)
    assert taken.candidates[0].source == "exif+gps zone"


@pytest.mark.parametrize(
    ("lat", "lon"), [("95,0N", "16,0E"), ("48,61N", "16,0E"), ("48,12E", "16,0E"), ("0,0N", "0,0E"), ("north", "east")]
)
def test_nonsense_place_in_xmp_is_named(lat: str, lon: str) -> None:
    taken = read_taken(jpeg(packet(exif_GPSLatitude=lat, exif_GPSLongitude=lon)), ARRIVED)
    assert taken.place is None
    assert "makes no sense" in taken.remarks[0]


@pytest.mark.parametrize(
    "value",
    [
        "0000-00-00T00:00:00Z",
        "1970-01-01T00:00:00Z",
        "2026-02-31T10:00:00Z",
        "yesterday",
        "2026-10-18T25:00:00Z",
        "&xxe;",
        "2026-10-18T20:42:10+02:00 or so",
    ],
)
def test_nonsense_in_xmp_is_ignored_and_named(value: str) -> None:
    taken = read_taken(jpeg(packet(exif_DateTimeOriginal=value)), ARRIVED)
    assert taken.candidates == ()
    assert "no usable date" in taken.remarks[0]


def test_offset_in_use_nowhere_and_two_dates_in_xmp() -> None:
    odd = xmp_of(jpeg(packet(exif_DateTimeOriginal="2026-10-18T20:42:10+15:30")))
    assert (odd.local, odd.offset_minutes) == (datetime(2026, 10, 18, 20, 42, 10), None)
    assert "in use nowhere" in odd.remarks[0]
    twice = packet(exif_DateTimeOriginal="2026-10-18T20:42:10Z") + packet(exif_DateTimeOriginal="2020-01-01T10:00:00Z")
    fields = xmp_of(jpeg(twice))
    assert fields.local is None
    assert "in 2 ways" in fields.remarks[0]


def test_entities_in_xmp_are_not_expanded() -> None:
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>' + packet(
        exif_DateTimeOriginal="2026-10-18T18:42:10Z", dc_title="&b;"
    )
    assert readings(read_taken(jpeg(bomb), ARRIVED)) == [("xmp+offset", WHEN)]


# --- FITS ------------------------------------------------------------------------------------------------------------

FRAME = np.zeros((20, 30), np.int16)


def test_date_obs_is_utc_with_its_source_and_the_exposure_has_a_middle() -> None:
    taken = read_taken(fits(FRAME, DATE_OBS="2026-10-18T18:42:08.5", EXPTIME=3.0, INSTRUME="Camera 5"), ARRIVED)
    assert readings(taken) == [("fits", WHEN)]
    assert taken.candidates[0].offset_hours is None
    assert taken.local_text == "2026-10-18 18:42:10 UTC+00:00"
    assert taken.camera == "Camera 5"
    # DATE, when the file was written, is never asked for
    assert read_taken(fits(FRAME, DATE="2026-10-18T18:42:10"), ARRIVED) == TimeReadings(
        candidates=(), earliest_utc=RECEIVED - WINDOW, latest_utc=RECEIVED
    )


@pytest.mark.parametrize("scale", ["TAI", "TT", "TDB", "UTC"])
def test_time_scales(scale: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # dates of the future
        written = getattr(Time(WHEN.replace(tzinfo=None), scale="utc"), scale.lower()).isot
    fields = fits_of(fits(FRAME, DATE_OBS=written, TIMESYS=scale))
    assert fields.utc is not None
    assert abs(fields.utc - WHEN) < timedelta(milliseconds=5)  # TDB and TT differ by up to 2 ms


def test_time_of_day_in_a_card_of_its_own_and_in_an_extension() -> None:
    data = fits(FRAME, "image", DATE_OBS="2026-10-18", TIME_OBS="18:42:10.0")
    assert fits_of(data).utc == WHEN
    assert fits_of(fits(FRAME, DATE_OBS="2026-10-18T18:41:00", DATE_AVG="2026-10-18T18:42:10")).utc == WHEN


@pytest.mark.parametrize(
    "cards",
    [
        {"TIMESYS": "LOCAL", "DATE_OBS": "2026-10-18T20:42:10"},
        {"DATE_OBS": ("2026-10-18T20:42:10", "Local time of exposure")},
    ],
)
def test_local_time_in_a_fits_header_wants_a_zone(cards: dict[str, object]) -> None:
    data = fits(FRAME, **cards)
    taken = read_taken(data, Known(received_utc=RECEIVED, zones=("Europe/Vienna",)))
    assert readings(taken)[0] == ("exif+zone", WHEN)


def test_place_only_by_the_keywords_of_the_standard() -> None:
    taken = read_taken(fits(FRAME, OBSGEO_B=48.2, OBSGEO_L=343.6, OBSGEO_H=180.0), ARRIVED)
    assert taken.place is not None
    place = taken.place
    assert (place.latitude_deg, place.longitude_deg, place.height_m) == pytest.approx((48.2, -16.4, 180))
    doubtful = read_taken(fits(FRAME, SITELAT="48 12 00", SITELONG="16 22 00"), ARRIVED)
    assert doubtful.place is None
    assert "count such longitudes east or west" in doubtful.remarks[0]
    assert "makes no sense" in fits_of(fits(FRAME, OBSGEO_B=148.2, OBSGEO_L=16.4)).remarks[0]


@pytest.mark.parametrize("text", ["2026-10-18", "18/10/26", "2026-13-18T10:00:00", "1980-01-01T00:00:00", "tonight"])
def test_fits_date_that_is_no_time_is_named(text: str) -> None:
    fields = fits_of(fits(FRAME, DATE_OBS=text))
    assert fields.utc is None
    assert text in fields.remarks[0]
    unknown = fits_of(fits(FRAME, DATE_OBS="2026-10-18T18:42:10", TIMESYS="MOON"))
    assert "a scale not known here" in unknown.remarks[0]


# --- names -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("IMG_20261018_204210.jpg", "camera"),
        ("IMG20261018204210.jpg", "camera"),
        ("PXL_20261018_184210123.MP.jpg", "camera"),
        ("20261018_204210.jpg", "camera"),
        ("IMG-20261018-WA0007.jpg", "message"),
        ("WhatsApp Image 2026-10-18 at 20.42.10.jpeg", "message"),
        ("signal-2026-10-18-204210_002.jpeg", "message"),
        ("photo_2026-10-18_20-42-10.jpg", "message"),
        ("Screenshot_20261018-204210_Gallery.png", "screenshot"),
        ("Screenshot 2026-10-18 at 20.42.10.png", "screenshot"),
        ("moon 2026.10.18.png", "other"),
        ("2026-10-18-1842_3-Moon.png", "other"),
    ],
)
def test_day_in_a_name(name: str, kind: str) -> None:
    found = day_in_name(name)
    assert found is not None
    assert (found.day, found.kind) == (date(2026, 10, 18), kind)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "moon.jpg",
        "DSC_1234.JPG",
        "IMG_20261318_204210.jpg",
        "20260231.png",
        "1760818930123.jpg",
        "2026-10-18 to 2026-10-19.png",
        "18-10-2026.jpg",
        "x" * 5000,
    ],
)
def test_name_without_a_day(name: str) -> None:
    assert day_in_name(name) is None


def test_name_only_ends_the_window_and_only_without_a_clock() -> None:
    plain = saved(scene(), "JPEG")
    known = Known(received_utc=RECEIVED, given_name="IMG-20261016-WA0007.jpg")
    taken = read_taken(plain, known)
    assert taken.candidates == ()
    # noon after that day where it ends last: 2026-10-17 12:00 at UTC-12
    assert (taken.earliest_utc, taken.latest_utc) == (RECEIVED - WINDOW, datetime(2026, 10, 18, tzinfo=UTC))
    assert "2026-10-16" in taken.remarks[0]
    assert "day of receipt" in taken.remarks[0]
    clocked = read_taken(jpeg(packet(), "2026:10:15 20:42:10", "+02:00"), known)
    assert (clocked.latest_utc, clocked.remarks) == (RECEIVED, ())
    later = read_taken(jpeg(packet(), "2026:10:19 20:42:10", "+02:00"), known)
    assert "One is wrong" in later.remarks[0]


def test_name_serves_where_nothing_else_is_known() -> None:
    plain = saved(scene(), "JPEG")
    taken = read_taken(plain, Known(given_name="PXL_20261018_184210123.jpg"))
    latest = datetime(2026, 10, 20, tzinfo=UTC)
    assert (taken.earliest_utc, taken.latest_utc) == (latest - WINDOW, latest)
    serial = read_taken(plain, Known(given_name="plate 20101010.png"))
    assert (serial.earliest_utc, serial.latest_utc) == (None, None)
    assert "was not used" in serial.remarks[0]


@pytest.mark.parametrize(
    ("name", "words"),
    [("IMG_20261025_204210.jpg", "after its arrival"), ("IMG_20190518_204210.jpg", "an old picture?")],
)
def test_name_that_does_not_fit_the_arrival_is_named_and_not_used(name: str, words: str) -> None:
    taken = read_taken(saved(scene(), "JPEG"), Known(received_utc=RECEIVED, given_name=name))
    assert (taken.earliest_utc, taken.latest_utc) == (RECEIVED - WINDOW, RECEIVED)
    assert words in taken.remarks[0]
