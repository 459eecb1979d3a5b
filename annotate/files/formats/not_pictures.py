"""What people send beside pictures that are opened: told by a small magic table, so that the refusal says what to do."""

from __future__ import annotations

from functools import cached_property

from moondesk.files.formats.heif import brands
from moondesk.files.picture_file import Headers, PictureFile, refuse
from moondesk.records import NotFound

#: (offset, magic bytes, what it is, what to do) as codes; the first match counts.
_REFUSED: tuple[tuple[int, bytes, str, str], ...] = (
    (0, b"GIF8", "is_gif", "send_jpeg"),
    (0, b"%PDF-", "is_pdf", "send_no_document"),
    (0, b"%!PS", "is_postscript", "export_it"),
    (0, b"\xc5\xd0\xd3\xc6", "is_postscript", "export_it"),
    (0, b"8BPS", "is_photoshop", "export_it"),
    (0, b"PK\x03\x04", "is_zip", "unpack_pictures"),
    (0, b"Rar!\x1a\x07", "is_archive", "unpack_pictures"),
    (0, b"7z\xbc\xaf\x27\x1c", "is_archive", "unpack_pictures"),
    (0, b"\x1f\x8b", "is_packed", "unpack_it"),
    (0, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "is_office", "send_itself_jpeg"),
    (0, b'x\x9f>"', "is_winmail", "send_attached"),
    (0, b"II+\x00", "is_bigtiff", "export_it"),
    (0, b"MM\x00+", "is_bigtiff", "export_it"),
    (0, b"\xff\x0a", "is_jpeg_xl", "send_jpeg"),
    (0, b"\x00\x00\x00\x0cJXL ", "is_jpeg_xl", "send_jpeg"),
    (0, b"\x00\x00\x00\x0cjP  ", "is_jpeg_2000", "send_jpeg"),
    (0, b"\x1a\x45\xdf\xa3", "is_video", "send_frame"),
    (0, b"\x00\x00\x01\xba", "is_video", "send_frame"),
    (0, b"\x00\x00\x01\xb3", "is_video", "send_frame"),
    (0, b"0&\xb2u\x8ef\xcf\x11", "is_video", "send_frame"),
    (0, b"FLV\x01", "is_video", "send_frame"),
    (0, b"LUCAM-RECORDER", "is_video", "send_frame"),
    (8, b"AVI ", "is_video", "send_frame"),
    # QuickTime files from before the file-type box, and those of some cameras
    (4, b"moov", "is_video", "send_frame"),
    (4, b"mdat", "is_video", "send_frame"),
    (4, b"wide", "is_video", "send_frame"),
    (0, b"<", "is_web_page", "export_it"),
)
_SOUND_BRANDS = {b"M4A ", b"M4B ", b"M4P "}
#: Written into the moving half of a Live Photo, by which it finds its still picture.
_LIVE_MARK = b"com.apple.quicktime.content.identifier"


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
            return refuse("file_empty", "send_whole")
        if brands(data):
            return _of_media(data)
        text = data[:64].lstrip(b"\xef\xbb\xbf \t\r\n")
        for offset, magic, what, advice in _REFUSED:
            if (text if magic == b"<" else data)[offset : offset + len(magic)] == magic:
                return refuse(what, advice)
        return refuse("is_unknown")


def _of_media(data: bytes) -> NotFound:
    """Of a file of ISO media boxes, which videos share with pictures."""
    if brands(data)[0] in _SOUND_BRANDS:
        return refuse("is_sound")
    if _LIVE_MARK in data:
        return refuse("is_live_half", "live_still", "send_frame")
    return refuse("is_video", "send_frame")
