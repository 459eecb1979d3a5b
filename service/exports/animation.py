"""Frames to files that play: MP4 with an encoder that is an extra, small WebP and GIF with Pillow.

Colours of the film are those of high definition (ITU-R BT.709: primaries, transfer, matrix) in video range, and file
and frames say so (ITU-T H.273: 1). A frame is encoded as it is composed: none is kept.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from fractions import Fraction
from typing import TYPE_CHECKING

from moondesk.records import ByteArray
from moondesk.service.errors import DeskError
from moondesk.stacking.march import RATE

if TYPE_CHECKING:
    import av

#: Milliseconds that a photograph and a step between two stand in a small animation.
STANDS_MS, STEP_MS = 900, 110
KINDS = {".webp": "WEBP", ".gif": "GIF"}
_BT709, _VIDEO, _FULL = 1, 1, 2


class NoEncoderError(DeskError):
    """The extra that writes MP4 is not installed."""


class Film:
    """An MP4 that is being written: H.264, 4:2:0, which browsers, telephones and mixers play."""

    def __init__(self, width: int, height: int) -> None:
        try:
            import av
        except ImportError as error:
            raise NoEncoderError(
                "MP4 wants an encoder that is not installed.",
                "Install it with: pip install 'moondesk[video]'; or ask for .webp or .gif.",
            ) from error
        self._out = io.BytesIO()
        self._file = av.open(self._out, "w", format="mp4")
        stream = self._file.add_stream("libx264", rate=RATE, options={"crf": "17", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        context = stream.codec_context
        context.time_base = Fraction(1, RATE)
        context.color_primaries, context.color_trc, context.colorspace = _BT709, _BT709, _BT709
        context.color_range = _VIDEO
        self._stream, self._count = stream, 0

    def add(self, rgb: ByteArray, count: int) -> None:
        """A frame that stands for so many."""
        import av

        picture = av.VideoFrame.from_ndarray(rgb, format="rgb24").reformat(
            format="yuv420p",
            src_colorspace=_BT709,
            dst_colorspace=_BT709,
            src_color_range=_FULL,
            dst_color_range=_VIDEO,
        )
        picture.colorspace, picture.color_range = _BT709, _VIDEO
        picture.color_primaries, picture.color_trc = _BT709, _BT709
        for _ in range(count):
            picture.pts, picture.time_base = self._count, Fraction(1, RATE)
            self._count += 1
            self._write(picture)

    def finish(self) -> bytes:
        self._write(None)
        self._file.close()
        return self._out.getvalue()

    def _write(self, picture: av.VideoFrame | None) -> None:
        self._file.mux(self._stream.encode(picture))


def animation(frames: Iterable[tuple[ByteArray, bool]], suffix: str) -> bytes:
    """WebP or GIF that runs for ever. frames: each with whether it is a photograph, which stands longer.

    Raises ValueError for another suffix.
    """
    from PIL import Image

    if suffix not in KINDS:
        raise ValueError(f"an animation ends in {', '.join(KINDS)}, not {suffix}")
    images: list[Image.Image] = []
    times: list[int] = []
    for rgb, true in frames:
        images.append(Image.fromarray(rgb))
        times.append(STANDS_MS if true else STEP_MS)
    out, kind = io.BytesIO(), KINDS[suffix]
    options = {"quality": 82, "method": 3} if kind == "WEBP" else {}
    images[0].save(out, kind, save_all=True, append_images=images[1:], duration=times, loop=0, **options)
    return out.getvalue()
