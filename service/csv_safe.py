"""Tables for spreadsheets: CSV whose cells stay text. Pure."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

#: What a spreadsheet reads as the beginning of a formula, narrow, full-width and small (Unicode's blocks FF00 and
#: FE50), with what it overlooks before it: blanks, quotes, marks without width.
_FORMULA = r"[\s\"\u200b-\u200f\u2060\ufeff]*[=+\-@＝＋－＠﹢﹣﹦﹫−]"
#: Where a cell begins: at its own start, and after what some languages' spreadsheets take for the mark between cells.
_BEGIN = re.compile(rf"(^|[;\t\r\n])(?={_FORMULA})")


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """RFC 4180 with a head, every cell in quotes; a byte order mark, by which spreadsheets know UTF-8.

    None is an empty cell; numbers stay numbers, also negative ones. An apostrophe keeps text that would be read as a
    formula text, also where a spreadsheet divides cells at the semicolon, the tab or the end of a line.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_ALL)
    writer.writerow(columns)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return "\ufeff" + out.getvalue()


def _cell(value: object) -> object:
    if not isinstance(value, str):
        return value
    guarded = _BEGIN.sub(r"\1'", value)
    return f"'{guarded}" if guarded[:1] in ("\t", "\r", "\n") else guarded
