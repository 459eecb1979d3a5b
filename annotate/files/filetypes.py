"""What kind of file the bytes are, told from the bytes alone by a small magic table.

Neither the file's name nor the type a browser or mail program states is asked: both are often wrong. Eight kinds are
decoded, two of them by extras that may not be installed; the others that people send are recognised so that the refusal
says what to do.
"""

from __future__ import annotations

import struct
from typing import Literal

from moondesk.files.containers import tiff_tags
from moondesk.files.iso_media import brands
from moondesk.records import NotFound

FileKind = Literal["jpeg", "png", "webp", "tiff", "avif", "fits", "heic", "raw"]

MEDIA_TYPES: dict[FileKind, str] = {
    "jpeg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
    "tiff": "image/tiff",
    "avif": "image/avif",
    "fits": "image/fits",
    "heic": "image/heic",
    "raw": "image/x-raw",  # makers' own formats have no registered type in common
}

AS_JPEG = "Please send the picture as JPEG or PNG."
FRAME = (
    "Please send the best single frame as JPEG or PNG: stop the video where the Moon is sharpest and save that frame "
    "as a picture."
)
DEVELOPED = "Please develop it in the camera or a photo program and send it as JPEG or 16-bit TIFF."
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
#: What raw files begin with that are not built as TIFF (Olympus, Panasonic, Fujifilm, Sigma, Minolta).
_RAW_MAGIC = (b"IIRO", b"IIRS", b"MMOR", b"IIU\x00", b"FUJIFILMCCD-RAW", b"FOVb", b"\x00MRM")
#: Compression of TIFF-built raw files that no picture has: Nikon 34713, Pentax 65535, Sony 32767, Kodak 65000.
_RAW_COMPRESSION = {34713, 65535, 32767, 65000}
#: Photometric interpretation of sensor data: colour filter array, linear raw (TIFF/EP, DNG 1.7).
_RAW_PHOTOMETRIC = {32803, 34892}
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs"}
_AVIF_BRANDS = {b"avif", b"avis"}
#: Says only that it is a HEIF; which codec it needs stands among the compatible brands.
_ANY_HEIF = {b"mif1", b"msf1", b"mif2"}
_SOUND_BRANDS = {b"M4A ", b"M4B ", b"M4P "}
#: Written into the moving half of a Live Photo, by which it finds its still picture.
_LIVE_MARK = b"com.apple.quicktime.content.identifier"
#: Sizes of the second header of a BMP, the only thing that tells one from a text that begins with "BM".
_BMP_HEADERS = {12, 16, 40, 52, 56, 64, 108, 124}


def refuse(reason: str, advice: str = AS_JPEG) -> NotFound:
    """The expected failure of this stage."""
    return NotFound("picture", reason, advice)


def sniff(data: bytes) -> FileKind | NotFound:
    """FileKind of a picture file that can be decoded (some only by an extra), or why not."""
    if not data:
        return refuse("The file is empty.", "Please send the picture again; the transfer broke off before it began.")
    if data[:3] == b"\xff\xd8\xff":
        return "jpeg"
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        return "png"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    if data[:4] in (b"II*\x00", b"MM\x00*"):
        return "raw" if _is_raw_tiff(data) else "tiff"
    if data[:9] == b"SIMPLE  =":  # FITS Standard 4.0, 4.4.1.1
        return "fits"
    if data.startswith(_RAW_MAGIC):
        return "raw"
    if data[4:8] == b"ftyp":
        return _media_kind(data)
    if data[:2] == b"BM" and len(data) > 18 and struct.unpack_from("<I", data, 14)[0] in _BMP_HEADERS:
        return refuse("The file is a BMP bitmap.", AS_JPEG)
    text = data[:64].lstrip(b"\xef\xbb\xbf \t\r\n")
    for offset, magic, what, advice in _REFUSED:
        if (text if magic == b"<" else data)[offset : offset + len(magic)] == magic:
            return refuse(f"The file is {what}.", advice)
    return refuse("The file is not a picture of a kind known here.")


def _is_raw_tiff(data: bytes) -> bool:
    """Whether a TIFF is a camera's raw file: those of most makers are TIFFs whose first picture is a thumbnail
    (NewSubfileType bit 0) or that carry the DNG version; a thumbnail must never be placed as if it were the photograph.
    """
    tags = tiff_tags(data)
    return (
        data[8:10] == b"CR"
        or 50706 in tags
        or bool(tags.get(254, (0,))[0] & 1)
        or tags.get(259, (1,))[0] in _RAW_COMPRESSION
        or tags.get(262, (1,))[0] in _RAW_PHOTOMETRIC
    )


def _media_kind(data: bytes) -> FileKind | NotFound:
    """Of a file of ISO media boxes: pictures and videos share them."""
    major, *compatible = brands(data)
    if major in _ANY_HEIF:
        return "avif" if _AVIF_BRANDS & set(compatible) else "heic"
    if major in _AVIF_BRANDS:
        return "avif"
    if major in _HEIF_BRANDS:
        return "heic"
    if major == b"crx ":
        return "raw"
    if major in _SOUND_BRANDS:
        return refuse("The file is a sound recording.")
    if _LIVE_MARK in data:
        return refuse(
            "The file is the moving half of a Live Photo.",
            "If its still picture came along, that one is used. Otherwise: " + FRAME,
        )
    return refuse("The file is a video.", FRAME)
