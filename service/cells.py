"""Tables for spreadsheets: CSV whose cells stay text. Pure."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

#: Cells that a spreadsheet would take for a formula begin with one of these; an apostrophe before keeps them text.
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """RFC 4180 with a head; a byte order mark, by which spreadsheets know UTF-8. None is an empty cell; numbers stay
    numbers, also negative ones."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return "\ufeff" + out.getvalue()


def _cell(value: object) -> object:
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value
