"""The frames of a clip to one file: ProRes 4444 in QuickTime, or VP9 in WebM, both with alpha, for editing and mixers.

Alpha is straight (not multiplied in). Colours are those of high definition (ITU-R BT.709: primaries, transfer, matrix)
in video range, and every frame and stream says so. A frame is encoded as it is drawn: none is kept.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from moondesk.records import ByteArray
from moondesk.service.errors import BadInputError, DeskError
from moondesk.service.store.media import whole_file

#: Frames a second, as they are called and exactly (SMPTE ST 12-1).
RATES = MappingProxyType(
    {"25": Fraction(25), "29.97": Fraction(30000, 1001), "50": Fraction(50), "59.94": Fraction(60000, 1001)}
)
CodecName = Literal["prores", "vp9"]
#: Of ITU-T H.273: 1 is BT.709 for primaries, transfer and matrix; video range; of a picture's own values, full range.
_BT709, _VIDEO, _FULL = 1, 1, 2


@dataclass(frozen=True, kw_only=True)
class Codec:
    """encoder, layout of pixels and options are FFmpeg's; container is too, and suffix that of its files."""

    encoder: str
    container: str
    suffix: str
    layout: str
    options: MappingProxyType[str, str]


CODECS: MappingProxyType[str, Codec] = MappingProxyType(
    {
        "prores": Codec(
            encoder="prores_ks",
            container="mov",
            suffix=".mov",
            layout="yuva444p10le",
            options=MappingProxyType({"profile": "4444", "alpha_bits": "16"}),
        ),
        # good quality without a bit rate in mind; alpha wants every frame shown, so none is hidden for reference, and
        # without those nothing is gained by frames looked ahead at, 220 MB of them in high definition
        "vp9": Codec(
            encoder="libvpx-vp9",
            container="webm",
            suffix=".webm",
            layout="yuva420p",
            options=MappingProxyType(
                {
                    "crf": "20",
                    "b": "0",
                    "deadline": "good",
                    "cpu-used": "4",
                    "row-mt": "1",
                    "auto-alt-ref": "0",
                    "lag-in-frames": "0",
                }
            ),
        ),
    }
)


class NoEncoderError(DeskError):
    """The extra that writes films is not installed."""


def write_clip(target: Path, frames: Iterable[ByteArray], size: tuple[int, int], rate: Fraction, codec: Codec) -> int:
    """A file of (H, W, 4) frames of that (width, height); how many there were. It is there whole or not at all, whatever
    the frames raise. Raises NoEncoderError where the extra is not installed."""
    try:
        import av
    except ImportError as error:
        raise NoEncoderError(
            "A clip wants an encoder that is not installed.", "Install it with: pip install 'moondesk[video]'."
        ) from error
    if target.suffix.lower() != codec.suffix:
        raise BadInputError(
            f"{target.name} does not end in {codec.suffix}.", "Name the file so, or choose another codec."
        )
    count = 0
    with whole_file(target, to_hand=True) as file, av.open(file, "w", format=codec.container) as film:
        stream = film.add_stream(codec.encoder, rate=rate, options=dict(codec.options))
        assert isinstance(stream, av.VideoStream)  # of such an encoder
        stream.width, stream.height = size
        stream.pix_fmt = codec.layout
        context = stream.codec_context
        context.time_base = 1 / rate
        context.color_primaries, context.color_trc, context.colorspace = _BT709, _BT709, _BT709
        context.color_range = _VIDEO
        for pixels in frames:
            picture = av.VideoFrame.from_ndarray(pixels, format="rgba").reformat(
                format=codec.layout,
                src_colorspace=_BT709,
                dst_colorspace=_BT709,
                src_color_range=_FULL,
                dst_color_range=_VIDEO,
            )
            picture.colorspace, picture.color_range = _BT709, _VIDEO
            picture.color_primaries, picture.color_trc = _BT709, _BT709
            picture.pts, picture.time_base = count, 1 / rate
            count += 1
            film.mux(stream.encode(picture))
        film.mux(stream.encode())
    return count
