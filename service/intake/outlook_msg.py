"""A mail that was saved as .msg (MS-OXMSG): files, text and sender of it. Pure: bytes in, bytes out.

A compound file with one stream a property, named by its tag; each attachment is a folder.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import olefile

from moondesk.service.settings.config import IntakeLimits

SIGNATURE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
MOST_ENTRIES = 5_000
TEXT_BYTES = 400_000
_PROPERTIES = "__properties_version1.0"
# MS-OXPROPS: tags of sender's name and address (SMTP's, else as it was given), text, and of an attachment
_NAME, _SMTP, _GIVEN, _TEXT = "0C1A", "5D01", "0C1F", "1000"
_BYTES, _LONG_NAME, _SHORT_NAME = "37010102", "3707", "3704"


@dataclass
class SavedMail:
    """left_out: how many of its files were too many or too large."""

    sender_name: str = ""
    sender_address: str = ""
    text: str = ""
    files: list[tuple[str, bytes]] = field(default_factory=list)
    left_out: int = 0


def read_saved_mail(data: bytes, limits: IntakeLimits) -> SavedMail | None:
    """None where it is another document of that kind. Raises what olefile raises on damaged ones."""
    if data[:8] != SIGNATURE:
        return None
    with olefile.OleFileIO(io.BytesIO(data)) as ole:
        if not ole.exists(_PROPERTIES):
            return None
        found = SavedMail(
            sender_name=_text(ole, "", _NAME),
            sender_address=_text(ole, "", _SMTP) or _text(ole, "", _GIVEN),
            text=_text(ole, "", _TEXT),
        )
        if "@" not in found.sender_address:  # an address inside a company's own directory
            found.sender_address = ""
        folders = {
            e[0] for e in ole.listdir(streams=True, storages=True)[:MOST_ENTRIES] if e[0].lower().startswith("__attach")
        }
        left = limits.archive_bytes
        for count, folder in enumerate(sorted(folders)):
            path = f"{folder}/__substg1.0_{_BYTES}"
            size = ole.get_size(path) if ole.exists(path) else -1
            if size < 0:
                continue  # a mail inside, or a link
            if count >= limits.archive_files or size > min(left, limits.picture_bytes):
                found.left_out += 1
                continue
            content = ole.openstream(path).read(size)
            left -= len(content)
            name = _text(ole, f"{folder}/", _LONG_NAME) or _text(ole, f"{folder}/", _SHORT_NAME)
            found.files.append((name, content))
        return found


def _text(ole: olefile.OleFileIO, folder: str, tag: str) -> str:
    for kind, charset in (("001F", "utf-16-le"), ("001E", "cp1252")):
        path = f"{folder}__substg1.0_{tag}{kind}"
        if ole.exists(path):
            return str(ole.openstream(path).read(TEXT_BYTES).decode(charset, "replace").replace("\0", ""))
    return ""
