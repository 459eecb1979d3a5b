"""A ZIP archive's files, with limits on everything that its maker chose. Pure: bytes in, bytes out.

What an archive says about sizes is not believed: each file is unpacked up to its limit and no further, and all together
up to theirs. Only stored and deflated files are opened: the other methods let a few bytes ask for gigabytes of memory.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from contextlib import suppress
from dataclasses import dataclass

from moondesk.records import NotFound
from moondesk.sentences import Sentence, sentence
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.texts import clean_text

MAGIC = b"PK\x03\x04"
#: What the standard library is known to raise on damaged or forged archives.
ARCHIVE_ERRORS = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
    struct.error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    OSError,
    ValueError,
    IndexError,
    OverflowError,
)
#: One entry of the directory at the end; counted before the library makes an object of each.
_ENTRY = b"PK\x01\x02"
_MOST_ENTRIES = 5_000
_OFFICE = ("[content_types].xml", "mimetype", "meta-inf/manifest.xml")
#: Where office documents keep their pictures (ECMA-376, ODF 1.3), and what of it is no photograph.
_OFFICE_PICTURES = re.compile(
    r"(?:(?:word|ppt|xl)/media|pictures|media)/[^/]+\.(?!emf|wmf|svm|gif$)\w+$", re.IGNORECASE
)
#: What systems put into archives by themselves.
_CLUTTER = ("thumbs.db", "desktop.ini", ".ds_store")
_CHUNK = 1 << 20
#: The directory of 5,000 entries is shorter.
_DIRECTORY_BYTES = 2_000_000


@dataclass(frozen=True)
class ArchiveMember:
    """A file of an archive. name: the last part of its path. data None: it could not be had; refusal says why."""

    name: str
    data: bytes | None
    refusal: tuple[Sentence, ...] = ()


def is_archive(data: bytes) -> bool:
    """True for a ZIP archive; an office document is one too."""
    return data[:4] == MAGIC


def unpack(data: bytes, limits: IntakeLimits) -> tuple[ArchiveMember, ...] | NotFound:
    """The files of an archive in its order, those that systems add by themselves left out."""
    again = sentence("send_themselves")
    if data.count(_ENTRY) > _MOST_ENTRIES:
        return NotFound("archive", sentence("archive_entries", count=_MOST_ENTRIES), again)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = [e for e in archive.infolist() if not e.is_dir()]
            if any(e.filename.lower() in _OFFICE for e in entries):
                return NotFound("archive", sentence("archive_office"), again)
            return _members(archive, [e for e in entries if not _is_clutter(e.filename)], limits)
    except ARCHIVE_ERRORS:
        return NotFound("archive", sentence("archive_damaged"), again)


def is_office(data: bytes) -> bool:
    """Whether a ZIP archive says, in one of its names, that it is an office document."""
    directory = data[-_DIRECTORY_BYTES:].lower() if is_archive(data) else b""
    return any(name.encode() in directory for name in _OFFICE if "." in name)


def office_pictures(data: bytes, limits: IntakeLimits) -> tuple[ArchiveMember, ...] | NotFound:
    """The pictures in an office document; none where it has none, or is another kind of archive."""
    if data.count(_ENTRY) > _MOST_ENTRIES:
        return NotFound("archive", sentence("archive_entries", count=_MOST_ENTRIES), sentence("send_picture_itself"))
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = [e for e in archive.infolist() if _OFFICE_PICTURES.match(e.filename)]
            return _members(archive, entries, limits)
    except ARCHIVE_ERRORS:
        return NotFound("archive", sentence("archive_damaged"), sentence("send_picture_itself"))


def _members(
    archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo], limits: IntakeLimits
) -> tuple[ArchiveMember, ...]:
    found: list[ArchiveMember] = []
    left = limits.archive_bytes
    for count, entry in enumerate(entries):
        name = _name(entry)
        if count >= limits.archive_files:
            more = sentence("archive_files", count=limits.archive_files)
            found.append(ArchiveMember(name, None, (more, sentence("fewer_at_a_time"))))
            break
        member = _member(archive, entry, name, min(limits.picture_bytes, left), limits)
        left -= len(member.data or b"")
        found.append(member)
    return tuple(found)


def _member(
    archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str, most: int, limits: IntakeLimits
) -> ArchiveMember:
    if entry.flag_bits & 0x1:
        return ArchiveMember(name, None, (sentence("locked"), sentence("send_unlocked")))
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return ArchiveMember(name, None, (sentence("packed_oddly"), sentence("send_itself")))
    parts: list[bytes] = []
    size = 0
    try:
        with archive.open(entry) as file:
            while chunk := file.read(_CHUNK):
                size += len(chunk)
                if size > most:
                    alone = most == limits.picture_bytes
                    megabytes = limits.picture_bytes // 1_000_000
                    why = sentence("larger_than" if alone else "archive_too_large", megabytes=megabytes)
                    return ArchiveMember(name, None, (why, sentence("ask_smaller")))
                parts.append(chunk)
    except ARCHIVE_ERRORS:
        return ArchiveMember(name, None, (sentence("damaged_inside"), sentence("send_itself")))
    return ArchiveMember(name, b"".join(parts))


def _name(entry: zipfile.ZipInfo) -> str:
    """The last part of the path. Names are UTF-8 where the archive says so; many are without saying so."""
    name = entry.filename
    if not entry.flag_bits & 0x800:
        with suppress(UnicodeError):
            name = name.encode("cp437").decode("utf-8")
    return clean_text(name.replace("\\", "/").rsplit("/", 1)[-1], 120) or "file without a name"


def _is_clutter(path: str) -> bool:
    parts = path.replace("\\", "/").lower().split("/")
    return "__macosx" in parts or parts[-1] in _CLUTTER or parts[-1].startswith("._")
