"""The table that comes with a folder of pictures (submissions.csv), read with patience.

Columns, all but `file` optional: file, received_utc, taken_utc, latitude, longitude, place, name, credit, equipment,
consent. Any order; commas, semicolons or tabs; with or without a byte-order mark. A value that cannot be read costs
that value and a sentence, never its row.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from moondesk.records import Known, Place
from moondesk.sentences import Sentence, sentence
from moondesk.service.errors import BadInputError
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.texts import clean_text

T = TypeVar("T")

TABLE_NAME = "submissions.csv"
COLUMNS = (
    "file",
    "received_utc",
    "taken_utc",
    "latitude",
    "longitude",
    "place",
    "name",
    "credit",
    "equipment",
    "consent",
)

_ANGLE = re.compile(r"^([+-]?\d+(?:[.,]\d+)?)\s*°?\s*([NSEW]?)$", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class TableRow:
    """One row: what is said about one file. remarks: sentences about values that could not be read."""

    file: str
    received_utc: datetime | None = None
    taken_utc: datetime | None = None
    position: Place | None = None
    place_name: str = ""
    name: str = ""
    credit: str = ""
    equipment: str = ""
    consent: str = ""
    remarks: tuple[Sentence, ...] = ()

    def known(self, zones: tuple[str, ...] = ()) -> Known:
        """What the placing may take for granted."""
        return Known(received_utc=self.received_utc, taken_utc=self.taken_utc, place=self.position, zones=zones)


@dataclass(frozen=True)
class Table:
    """All rows by file name; remarks concern the table as a whole."""

    rows: dict[str, TableRow] = field(default_factory=dict)
    remarks: tuple[Sentence, ...] = ()

    def row_for(self, path: str) -> TableRow | None:
        """The row of a file: by its name as given, else by its bare name (letter case and accent form aside)."""
        given = _key(path)
        return self.rows.get(given) or self.rows.get(given.rsplit("/", 1)[-1])


def read_table(path: Path, limits: IntakeLimits | None = None) -> Table:
    """The table of a file. Raises BadInputError where it cannot be opened or is no such table at all."""
    limits = limits or IntakeLimits()
    try:
        if path.stat().st_size > limits.table_bytes:
            raise BadInputError(
                f"{path.name} is larger than {limits.table_bytes // 1_000_000} MB.", "Is it the right file?"
            )
        data = path.read_bytes()
    except OSError as error:
        raise BadInputError(
            f"{path} cannot be read: {error.strerror}.", "Check the name and its permissions."
        ) from error
    return parse_table(data, path.name, limits)


def parse_table(data: bytes, name: str = TABLE_NAME, limits: IntakeLimits | None = None) -> Table:
    """The table of a file's bytes. Raises BadInputError where it has no column `file`."""
    limits = limits or IntakeLimits()
    text = _text(data)
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: dict[str, TableRow] = {}
    remarks: list[Sentence] = []
    columns: list[str] | None = None
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if columns is None:
                columns = [re.sub(r"[\s-]+", "_", cell.strip().lower()) for cell in cells]
                if "file" not in columns:
                    raise BadInputError(
                        f'{name} has no column "file"; its first line reads: {first.strip()[:80]}',
                        f"Name the columns in the first line: {', '.join(COLUMNS)}.",
                    )
                continue
            if len(rows) >= limits.table_rows:
                remarks.append(sentence("table_rows", table=name, count=limits.table_rows))
                break
            where = {"table": name, "line": str(reader.line_num)}
            row = _row(dict(zip(columns, cells, strict=False)), where)
            if row is None:
                remarks.append(sentence("table_no_file", **where))
            elif _key(row.file) in rows:
                remarks.append(sentence("table_twice", **where, file=row.file))
            else:
                rows[_key(row.file)] = row
    except csv.Error as error:
        remarks.append(sentence("table_broken", table=name, line=reader.line_num, why=error))
    if columns is None:
        raise BadInputError(f"{name} is empty.", f"Name the columns in the first line: {', '.join(COLUMNS)}.")
    return Table(rows, tuple(remarks))


def parse_utc(text: str) -> datetime:
    """An instant from ISO 8601 text; one without an offset is UTC, as the column's name says. Raises ValueError."""
    when = datetime.fromisoformat(text.strip().upper().replace(" UTC", "Z").replace(" Z", "Z"))
    when = when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)
    if not 1900 <= when.year <= 2100:
        raise ValueError(f"the year {when.year}")
    return when


def parse_angle(text: str, letters: str, limit: float) -> float:
    """Degrees: "48.2", "48,2", "48.2 N", "16,4° E". letters: the positive and the negative one. Raises ValueError."""
    match = _ANGLE.match(text.strip())
    letter = match.group(2).upper() if match else ""  # no O: it is east in German, west in French and Spanish
    if not match or (letter and letter not in letters):
        raise ValueError(text)
    value = float(match.group(1).replace(",", "."))
    if letter == letters[1]:
        value = -abs(value)
    if abs(value) > limit:
        raise ValueError(text)
    return value


def _row(cells: dict[str, str], where: dict[str, str]) -> TableRow | None:
    file = clean_text(cells.get("file", "")).replace("\\", "/")
    if not file:
        return None
    remarks: list[Sentence] = []

    def read(column: str, reader: Callable[[str], T], otherwise: str) -> T | None:
        text = (cells.get(column) or "").strip()
        if not text:
            return None
        try:
            return reader(text)
        except (ValueError, OverflowError):
            remarks.append(sentence(otherwise, **where, column=column, text=clean_text(text, 60)))
            return None

    received = read("received_utc", parse_utc, "table_no_time")
    taken = read("taken_utc", parse_utc, "table_no_time")
    latitude = read("latitude", lambda t: parse_angle(t, "NS", 90), "table_no_latitude")
    longitude = read("longitude", lambda t: parse_angle(t, "EW", 180), "table_no_longitude")
    if (latitude is None) != (longitude is None):
        remarks.append(sentence("table_half_place", **where))
    place = Place(latitude, longitude) if latitude is not None and longitude is not None else None
    place_name, name, credit, equipment, consent = (
        clean_text(cells.get(c) or "") for c in ("place", "name", "credit", "equipment", "consent")
    )
    return TableRow(
        file=file,
        received_utc=received,
        taken_utc=taken,
        position=place,
        place_name=place_name,
        name=name,
        credit=credit,
        equipment=equipment,
        consent=consent,
        remarks=tuple(remarks),
    )


def _text(data: bytes) -> str:
    """Text of a table: UTF-8 with or without mark, UTF-16 as spreadsheets write it, else Windows' western letters."""
    for encoding in ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig",):
        try:
            return data.decode(encoding).replace("\0", "")
        except UnicodeDecodeError:
            break
    return data.decode("cp1252", errors="replace").replace("\0", "")


def _key(file: str) -> str:
    return unicodedata.normalize("NFC", file.replace("\\", "/").removeprefix("./")).casefold()
