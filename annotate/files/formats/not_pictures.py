"""What people send beside pictures that are opened: told by a small magic table, so that the refusal says what to do."""

from __future__ import annotations

import struct
from functools import cached_property

from moondesk.files.formats.heif import brands
from moondesk.files.picture_file import Headers, PictureFile, refuse
from moondesk.records import NotFound

AS_JPEG = "Please send the picture as JPEG or PNG."
FRAME = (
    "Please send the best single frame as JPEG or PNG: stop the video where the Moon is sharpest and save that frame "
    "as a picture."
)
_SCREEN = "Please export it as PNG or JPEG."

#: (offset, magic bytes, what it is, what to do); the first match counts.
_REFUSED: tuple[tuple[int, bytes, str, str], ...] = (
    (0, b"GIF8", "a GIF, which keeps only 256 colours", AS_JPEG),
    (0, b"%PDF-", "a PDF document", "Please send the picture itself as JPEG or PNG, not a document with it."),
    (0, b"%!PS", "a PostScript drawing", _SCREEN),
    (0, b"\xc5\xd0\xd3\xc6", "a PostScript drawing", _SCREEN),
    (0, b"8BPS", "a layered Photoshop document", _SCREEN),
    (0, b"PK\x03\x04", "a zip archive or office document", "Please unpack it and send the pictures themselves."),
    (0, b"Rar!\x1a\x07", "an archive", "Please unpack it and send the pictures themselves."),
    (0, b"7z\xbc\xaf\x27\x1c", "an archive", "Please unpack it and send the pictures themselves."),
    (0, b"\x1f\x8b", "a packed file", "Please unpack it and send what is in it."),
    (0, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an office document", "Please send the picture itself as JPEG or PNG."),
    (
        0,
        b'x\x9f>"',
        "a mail program's own wrapping (winmail.dat)",
        "Please send the picture as an ordinary attachment, the mail as plain text or HTML.",
    ),
    (0, b"II+\x00", "a BigTIFF", _SCREEN),
    (0, b"MM\x00+", "a BigTIFF", _SCREEN),
    (0, b"\xff\x0a", "a JPEG XL picture", AS_JPEG),
    (0, b"\x00\x00\x00\x0cJXL ", "a JPEG XL picture", AS_JPEG),
    (0, b"\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture", AS_JPEG),
    (0, b"\x1a\x45\xdf\xa3", "a video", FRAME),
    (0, b"\x00\x00\x01\xba", "a video", FRAME),
    (0, b"\x00\x00\x01\xb3", "a video", FRAME),
    (0, b"0&\xb2u\x8ef\xcf\x11", "a video", FRAME),
    (0, b"FLV\x01", "a video", FRAME),
    (0, b"LUCAM-RECORDER", "a video", FRAME),
    (8, b"AVI ", "a video", FRAME),
    # QuickTime files from before the file-type box, and those of some cameras
    (4, b"moov", "a video", FRAME),
    (4, b"mdat", "a video", FRAME),
    (4, b"wide", "a video", FRAME),
    (0, b"<", "a web page or drawing", _SCREEN),
)
_SOUND_BRANDS = {b"M4A ", b"M4B ", b"M4P "}
#: Written into the moving half of a Live Photo, by which it finds its still picture.
_LIVE_MARK = b"com.apple.quicktime.content.identifier"
#: Sizes of the second header of a BMP, the only thing that tells one from a text that begins with "BM".
_BMP_HEADERS = {12, 16, 40, 52, 56, 64, 108, 124}


class NotPicture(PictureFile):
    """Bytes of no format that is opened here: they hold nothing, and their refusal says what to send instead."""

    @classmethod
    def matches(cls, data: bytes) -> bool:
        return True

    def walk(self) -> Headers:
        return Headers(refusal=self.refusal)

    @cached_property
    def refusal(self) -> NotFound:
        data = self.data
        if not data:
            return refuse(
                "The file is empty.", "Please send the picture again; the transfer broke off before it began."
            )
        if brands(data):
            return _of_media(data)
        if data[:2] == b"BM" and len(data) > 18 and struct.unpack_from("<I", data, 14)[0] in _BMP_HEADERS:
            return refuse("The file is a BMP bitmap.", AS_JPEG)
        text = data[:64].lstrip(b"\xef\xbb\xbf \t\r\n")
        for offset, magic, what, advice in _REFUSED:
            if (text if magic == b"<" else data)[offset : offset + len(magic)] == magic:
                return refuse(f"The file is {what}.", advice)
        return refuse("The file is not a picture of a kind known here.")


def _of_media(data: bytes) -> NotFound:
    """Of a file of ISO media boxes, which videos share with pictures."""
    if brands(data)[0] in _SOUND_BRANDS:
        return refuse("The file is a sound recording.")
    if _LIVE_MARK in data:
        return refuse(
            "The file is the moving half of a Live Photo.",
            "If its still picture came along, that one is used. Otherwise: " + FRAME,
        )
    return refuse("The file is a video.", FRAME)
