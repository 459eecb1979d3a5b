"""The table of a folder: what real spreadsheets write, and what people type."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from moondesk.records import Place
from moondesk.service.errors import BadInputError
from moondesk.service.intake.tables import parse_angle, parse_table, parse_utc
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.texts import clean_text


def test_mark_semicolons_and_decimal_commas_of_a_european_spreadsheet():
    data = "\ufeffFile;Received UTC;Latitude;Longitude;Name\r\nmond.jpg;2026-05-24 21:05;48,2;16,4;Jörg\r\n".encode()
    row = parse_table(data).row_for("mond.jpg")
    assert row.received_utc == datetime(2026, 5, 24, 21, 5, tzinfo=UTC)
    assert row.position == Place(48.2, 16.4)
    assert (row.name, row.remarks) == ("Jörg", ())


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding):
    assert parse_table("file,name\na.jpg,Zoë\n".encode(encoding)).row_for("a.jpg").name == "Zoë"


def test_a_bad_value_costs_that_value_and_a_sentence_not_its_row():
    data = b"file,received_utc,taken_utc,latitude,longitude,name\na.jpg,yesterday,1826-01-01,95,16,Bo\n"
    row = parse_table(data).row_for("a.jpg")
    assert (row.name, row.received_utc, row.taken_utc, row.position) == ("Bo", None, None, None)
    assert str(row.remarks[0]) == (
        'submissions.csv, line 2: received_utc "yesterday" is not a time like 2026-05-24T21:05:00Z; it was left out.'
    )
    assert len(row.remarks) == 4  # also the year, the latitude, and the longitude alone


def test_odd_rows_are_told_and_the_others_kept():
    data = b"file,name\n,nobody\na.jpg,First\nA.JPG,Second\n\nb.jpg\nc.jpg,C,more,cells\n"
    table = parse_table(data)
    assert [r.file for r in table.rows.values()] == ["a.jpg", "b.jpg", "c.jpg"]
    assert table.row_for("a.jpg").name == "First"
    assert tuple(map(str, table.remarks)) == (
        "submissions.csv, line 2: no file is named; the line was left out.",
        "submissions.csv, line 4: A.JPG is named twice; the first line counts.",
    )


def test_a_row_is_found_by_its_path_or_its_bare_name():
    table = parse_table(b"file,name\nsub/a.jpg,A\nb.jpg,B\n./c.jpg,C\n")
    assert [table.row_for(p).name for p in ("sub/a.jpg", "anywhere/b.jpg", "c.jpg")] == ["A", "B", "C"]
    assert table.row_for("a.jpg") is None


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "submissions.csv is empty"),
        (b"name,place\nBo,here\n", 'has no column "file"; its first line reads: name,place'),
        (b"\x00\x01\x02", "has no column"),
    ],
)
def test_what_is_no_table_at_all_is_an_error_with_the_next_step(data, sentence):
    with pytest.raises(BadInputError, match=sentence) as caught:
        parse_table(data)
    assert "file" in caught.value.advice


def test_endless_tables_and_cells_are_cut():
    table = parse_table(b"file\n" + b"".join(b"%d.jpg\n" % i for i in range(9)), limits=IntakeLimits(table_rows=5))
    assert (len(table.rows), [str(r) for r in table.remarks]) == (
        5,
        ["submissions.csv has more than 5 rows; the rest was left out."],
    )
    huge = parse_table(b'file,name\na.jpg,"' + b"x" * 200_000 + b'"\n')
    assert "field larger than field limit" in str(huge.remarks[0])


@pytest.mark.parametrize(
    ("text", "value"), [("48.2", 48.2), ("-33,9", -33.9), ("33.9 S", -33.9), ("48.2° n", 48.2), ("+5", 5.0)]
)
def test_latitudes(text, value):
    assert parse_angle(text, "NS", 90) == value


@pytest.mark.parametrize("text", ["91", "48.2 E", "48 12 30", "north", "nan", "1e1", "16 O"])
def test_what_is_no_latitude(text):
    with pytest.raises(ValueError, match=r".*"):
        parse_angle(text, "NS", 90)


def test_an_offset_is_honoured_and_none_is_utc():
    assert parse_utc("2026-05-24T23:05+02:00") == parse_utc("2026-05-24 21:05 UTC") == parse_utc("2026-05-24 21:05")


def test_names_are_one_line_without_overrides():
    assert clean_text("  Bo\u202e\nThe\0 <script>\u200d ") == "Bo The <script>\u200d"
    assert clean_text("月面 चंद्र") == "月面 चंद्र"
