"""Mailboxes as files: the raw mails of an mbox file or a Maildir, one after the other. Nothing is changed in them.

mbox (RFC 4155, and the "rd" way of marking its quoted lines): mails one after the other, each after a line that starts
with "From ". Maildir: a folder with cur, new and tmp, a file a mail; what lies in tmp is still being delivered.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from moondesk.records import NotFound
from moondesk.sentences import sentence

#: "From sender Wed Mar 25 21:05:00 2026", with or without a zone. A sentence that begins with "From" has no such end.
_START = re.compile(rb"From \S+ .{0,40}\d{1,2}:\d{2}(?::\d{2})?.{0,20}\b\d{4}\b.{0,12}\r?\n?$")
_HEADER = re.compile(rb"[!-9;-~]+:")
_QUOTED = re.compile(rb">+From ")
#: A line longer than this is read in pieces; no header is.
_LINE_BYTES = 65_536


def is_mbox(head: bytes) -> bool:
    """Whether a file is an mbox, by its first bytes (a kilobyte will do)."""
    first, _, rest = head.partition(b"\n")
    return _START.match(first + b"\n") is not None and (not rest or _HEADER.match(rest) is not None)


def mbox_mails(file: BinaryIO, most_bytes: int) -> Iterator[bytes | NotFound]:
    """The raw mails of an mbox file, without the lines that part them; one that is too large as NotFound.

    A new mail starts where an empty line, a "From " line with a date and a header follow one another.
    """
    parts: list[bytes] = []
    size, begun, after_blank, line_start = 0, False, True, True
    line = file.readline(_LINE_BYTES)
    while line:
        following = file.readline(_LINE_BYTES)
        if after_blank and _START.match(line) and (not following or _HEADER.match(following)):
            if begun:
                yield _mail(parts, size, most_bytes)
            parts, size, begun = [], 0, True
        elif begun:
            size += len(line)
            if size <= most_bytes:
                parts.append(line[1:] if line_start and _QUOTED.match(line) else line)
        after_blank, line_start = line in (b"\n", b"\r\n"), line.endswith(b"\n")
        line = following
    if begun:
        yield _mail(parts, size, most_bytes)


def _mail(parts: list[bytes], size: int, most_bytes: int) -> bytes | NotFound:
    if size > most_bytes:
        return NotFound("mail", sentence("mail_larger_than", megabytes=most_bytes // 1_000_000), sentence("ask_fewer"))
    if parts and parts[-1] in (b"\n", b"\r\n"):  # the empty line belongs to the mailbox, not to the mail
        parts = parts[:-1]
    return b"".join(parts)


def is_maildir(folder: Path) -> bool:
    return (folder / "cur").is_dir() and (folder / "new").is_dir()


def maildir_files(folder: Path) -> list[Path]:
    """The mails of a Maildir, trashed ones and drafts left out; in the order of arrival, which their names tell."""
    paths = [p for part in ("cur", "new") for p in (folder / part).iterdir()]
    return sorted((p for p in paths if _is_delivered(p)), key=_by_arrival)


def _by_arrival(path: Path) -> list[tuple[int, str]]:
    """Numbers in a name count as numbers: seconds, and microseconds that are written without zeros before them."""
    return [
        (int(part), "") if part.isdecimal() and part.isascii() else (0, part)
        for part in re.split(r"([0-9]{1,18})", path.name)
    ]


def _is_delivered(path: Path) -> bool:
    _, mark, flags = path.name.rpartition(":2,")
    put_away = bool(mark) and bool({"T", "D"} & set(flags))
    return path.is_file() and not path.is_symlink() and not path.name.startswith(".") and not put_away
