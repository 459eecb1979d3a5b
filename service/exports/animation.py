"""Frames to one file that plays: WebP and GIF with Pillow, MP4 with an encoder that is an extra."""

from __future__ import annotations

import io
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from moondesk.records import ByteArray
from moondesk.service.errors import DeskError
from moondesk.stacking.month import FADES

#: Milliseconds that a picture and a step of a fade stand.
STANDS_MS, FADE_MS = 900, 90
#: MP4: pictures a second, each standing a whole number of them.
RATE = 30
KINDS = {".webp": "WEBP", ".gif": "GIF", ".mp4": "MP4"}


class NoEncoderError(DeskError):
    """The extra that writes MP4 is not installed."""


def animation(frames: Sequence[ByteArray], suffix: str) -> bytes:
    """WebP or GIF that runs for ever, or an MP4 that runs once; a picture stands longer than a fade's step.

    Raises NoEncoderError for .mp4 where no encoder is installed, ValueError for another suffix.
    """
    if suffix not in KINDS:
        raise ValueError(f"an animation ends in {', '.join(KINDS)}, not {suffix}")
    times = [STANDS_MS if k % (FADES + 1) == 0 else FADE_MS for k in range(len(frames))]
    return _mp4(frames, times) if suffix == ".mp4" else _loop(frames, times, KINDS[suffix])


def _loop(frames: Sequence[ByteArray], times: list[int], kind: str) -> bytes:
    from PIL import Image

    images = [Image.fromarray(frame) for frame in frames]
    out = io.BytesIO()
    images[0].save(out, kind, save_all=True, append_images=images[1:], duration=times, loop=0)
    return out.getvalue()


def _mp4(frames: Sequence[ByteArray], times: list[int]) -> bytes:
    """H.264, 4:2:0: what browsers and mixers play. An odd row or column is cut off."""
    try:
        import av
    except ImportError as error:
        raise NoEncoderError(
            "MP4 wants an encoder that is not installed.",
            "Install it with: pip install 'moondesk[video]'; or ask for .webp or .gif.",
        ) from error
    height, width = (n - n % 2 for n in frames[0].shape[:2])
    out = io.BytesIO()
    with av.open(out, "w", format="mp4") as file:
        stream = file.add_stream("libx264", rate=RATE, options={"crf": "18"})
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.codec_context.time_base = Fraction(1, RATE)
        count = 0
        for frame, ms in zip(frames, times, strict=True):
            for _ in range(max(1, round(ms * RATE / 1000))):
                picture = av.VideoFrame.from_ndarray(np.ascontiguousarray(frame[:height, :width]), format="rgb24")
                picture.pts = count
                count += 1
                file.mux(stream.encode(picture))
        file.mux(stream.encode())
    return out.getvalue()
