"""The registry of picture formats: one class each, in a module of its own, and one list.

A new format is a module here with a subclass of `PictureFile`, and its place in `FORMATS`. Nothing else asks what kind
a file is: the desk's and the public pages' lists, their file choosers and the tests of all formats follow this list.
"""

from __future__ import annotations

from moondesk.files.formats.bmp import BmpFile
from moondesk.files.formats.fits import FitsFile
from moondesk.files.formats.heif import AvifFile, HeicFile
from moondesk.files.formats.jpeg import JpegFile
from moondesk.files.formats.not_pictures import NotPicture
from moondesk.files.formats.png import PngFile
from moondesk.files.formats.raw import RawFile
from moondesk.files.formats.tiff import TiffFile
from moondesk.files.formats.webp import WebpFile
from moondesk.files.picture_file import PictureFile

#: In the order in which people are told of them; no two claim the same bytes.
FORMATS: tuple[type[PictureFile], ...] = (
    JpegFile, PngFile, HeicFile, TiffFile, WebpFile, AvifFile, BmpFile, FitsFile, RawFile,
)  # fmt: skip


def open_picture(data: bytes | PictureFile) -> PictureFile:
    """A picture file, of whatever format its bytes are; neither its name nor a type that somebody states is asked.

    Parameters: the file's bytes, or what this gave before, which is given back as it is.
    Returns: a `PictureFile`; for bytes of no format that is opened here a `NotPicture`, whose refusal says what to do.
    Raises: nothing; no more than the beginning is read.

    >>> open_picture(b"%PDF-1.7").refusal.reason
    'The file is a PDF document.'
    """
    if isinstance(data, PictureFile):
        return data
    return next((row for row in FORMATS if row.matches(data)), NotPicture)(data)


def usable_formats() -> tuple[type[PictureFile], ...]:
    """The formats that this installation opens.

    >>> [row.words for row in usable_formats()][:2]
    ['JPEG', 'PNG']
    """
    return tuple(row for row in FORMATS if row.extra is None or row.extra.is_usable())
