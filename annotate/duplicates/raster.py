"""A file as it is compared with others: its brightness, and the steps to which a JPEG rounded it."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from PIL import JpegImagePlugin

from moondesk.files.formats import open_picture
from moondesk.files.formats.jpeg import JpegFile
from moondesk.files.picture import decode_grey, decode_rgb
from moondesk.files.picture_file import TURNS, PictureFile
from moondesk.records import ByteArray, FloatArray, NotFound


@dataclass(frozen=True, eq=False, kw_only=True)
class PixelRaster:
    """grey: (H, W) uint8, see `picture.decode_grey`. steps: (8, 8) of the JPEG's quantisation of it, [vertical,
    horizontal frequency] as displayed; None: not a JPEG. left, top: of the first block, px."""

    file: PictureFile
    grey: ByteArray
    steps: FloatArray | None
    left: int = 0
    top: int = 0

    def rgb(self) -> ByteArray:
        """(H, W, 3) uint8 as displayed: decoded now, for few comparisons need it."""
        found = decode_rgb(self.file)
        return np.repeat(self.grey[..., None], 3, axis=2) if isinstance(found, NotFound) else found


def read_raster(data: bytes | PictureFile) -> PixelRaster | NotFound:
    """Bytes to what is compared."""
    file = open_picture(data)
    grey = decode_grey(file)
    if isinstance(grey, NotFound):
        return grey
    if not isinstance(file, JpegFile):
        return PixelRaster(file=file, grey=grey, steps=None)
    with JpegImagePlugin.JpegImageFile(io.BytesIO(file.data)) as image:
        inks, tables = len(image.getbands()), image.quantization
    if 0 not in tables or inks == 4:
        return PixelRaster(file=file, grey=grey, steps=None)
    steps = np.array(tables[0], float).reshape(8, 8)
    # blocks are counted from the stored picture's corner, which the EXIF turn may have brought to another one
    transposed, upside_down, mirrored = TURNS[file.turn]
    height, width = grey.shape
    return PixelRaster(
        file=file,
        grey=grey,
        steps=steps.T if transposed else steps,
        left=width % 8 if mirrored else 0,
        top=height % 8 if upside_down else 0,
    )
