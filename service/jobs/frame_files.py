"""Frames for air as files: painted once in a child process, kept beside the picture's other derived files.

    derived/ab/abcd.../KEY/air-MARK/    layers.json, NN-NAME.png for each layer, whole.png, whole.svg

MARK stands for all that a frame hangs on: the placing, what is wanted with all its words, and the number of
how frames are made.
The folder goes when the sender is forgotten. What is decoded is the store's own photo.jpg, rebuilt from pixels, so
nothing of what came in can reach a frame; PNGs are written from arrays alone.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
import zlib
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from moondesk.drawing.frame import AirFrame, FrameRequest
from moondesk.records import Annotation, ByteArray, NotFound
from moondesk.revisions import FRAMES
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.jobs.checked_pictures import Drawing, Picture
from moondesk.service.jobs.engine import Engine
from moondesk.service.jobs.missing_pictures import at_hand, drop_if_forgotten
from moondesk.service.jobs.warm_pool import WarmPoolError
from moondesk.service.store.media import Media, write_folder
from moondesk.tour.requests import RelitRequest, SharedRequest

#: Kept frames of one picture; the oldest go first.
MOST = 32
LISTING, WHOLE, DRAWING = "layers.json", "whole.png", "whole.svg"
_MARK, _NAME = re.compile(r"[0-9a-f]{16}"), re.compile(r"[a-z0-9][a-z0-9-]{0,99}")


@dataclass(frozen=True, kw_only=True)
class MadeLayer:
    """One layer: `FrameLayer` without its shapes, and its file's name."""

    name: str
    title: str
    kind: str
    base: bool
    file: str


@dataclass(frozen=True, kw_only=True)
class MadeFrame:
    """A frame in its folder. left_out: sentences about what was asked for and is not in it."""

    folder: Path
    mark: str
    format: str
    width: int
    height: int
    layers: tuple[MadeLayer, ...]
    left_out: tuple[str, ...]

    def file(self, name: str) -> Path | None:
        """File of a layer, of WHOLE or DRAWING; None for another name."""
        if name in (WHOLE, DRAWING):
            return self.folder / name
        return next((self.folder / layer.file for layer in self.layers if f"{layer.name}.png" == name), None)


#: What can be asked of a picture.
Wanted = FrameRequest | RelitRequest | SharedRequest
#: How a function of the core is run in a child: `WarmPool.run`, for the command line `warm_pool.at_once`.
Run = Callable[..., Any]


def make_frame(
    media: Media, run: Run, sha256: str, derived_key: str, annotation: Annotation, wanted: Wanted
) -> MadeFrame | NotFound:
    """The frame of a picture, made now if it is not there yet."""
    mark = frame_mark(derived_key, wanted)
    folder = media.derived_folder(sha256, derived_key) / f"air-{mark}"
    if not (folder / LISTING).is_file():
        try:
            photo = at_hand(media, run, sha256, derived_key, annotation)
        except (NotStoredError, BadInputError) as error:
            return NotFound("frame", str(error), error.advice)
        if photo is None:
            return NotFound("frame", "The picture is not at hand any more.", "Place it anew.")
        painted = run(paint_frame, photo.read_bytes(), annotation, wanted)
        if isinstance(painted, NotFound):
            return painted
        write_folder(folder, _files(painted, wanted), ".air-")
        try:
            drop_if_forgotten(media, sha256, derived_key)
        except NotStoredError as error:
            return NotFound("frame", str(error), error.advice)
        _thin_out(folder)
    found = _read(folder, mark)
    with contextlib.suppress(OSError):  # the newest used stay
        os.utime(folder)
    return found


def frame_mark(derived_key: str, wanted: Wanted) -> str:
    """What a frame hangs on, as sixteen hex digits."""
    return hashlib.sha256(f"{FRAMES} {derived_key} {wanted!r}".encode()).hexdigest()[:16]


def find_frame(media: Media, sha256: str, derived_key: str, mark: str) -> MadeFrame | None:
    """The frame of that mark, if it is there already."""
    if not _MARK.fullmatch(mark):
        return None
    folder = media.derived_folder(sha256, derived_key) / f"air-{mark}"
    return _read(folder, mark) if (folder / LISTING).is_file() else None


def _files(painted: Painted, wanted: Wanted) -> dict[str, bytes]:
    """A frame's files under names made here."""
    layers, files = [], {}
    for k, layer in enumerate(painted.layers, 1):
        if not _NAME.fullmatch(layer.name):
            raise WarmPoolError("The frame's layers have names that are none.", "Try again; report it if that stays.")
        file = f"{k:02}-{layer.name}.png"
        files[file] = layer.png
        layers.append(MadeLayer(name=layer.name, title=layer.title, kind=layer.kind, base=layer.base, file=file))
    shape = wanted.format
    told = {
        "format": shape.name,
        "width": shape.width,
        "height": shape.height,
        "layers": [asdict(layer) for layer in layers],
        "left_out": painted.left_out,
    }
    return files | {
        WHOLE: painted.whole,
        DRAWING: painted.drawing.encode(),
        LISTING: json.dumps(told, ensure_ascii=False).encode(),
    }


def _read(folder: Path, mark: str) -> MadeFrame:
    told = json.loads((folder / LISTING).read_text(encoding="utf-8"))
    return MadeFrame(
        folder=folder,
        mark=mark,
        format=told["format"],
        width=told["width"],
        height=told["height"],
        layers=tuple(MadeLayer(**layer) for layer in told["layers"]),
        left_out=tuple(told["left_out"]),
    )


def _thin_out(folder: Path) -> None:
    with contextlib.suppress(OSError):  # another request may remove the same ones
        kept = sorted(folder.parent.glob("air-*"), key=lambda p: p.stat().st_mtime, reverse=True)
        for old in kept[MOST:]:
            if old != folder:
                shutil.rmtree(old, ignore_errors=True)


# --- in a child ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class PaintedLayer:
    """As `MadeLayer`, with its pixels."""

    name: str
    title: str
    kind: str
    base: bool
    png: Picture


@dataclass(frozen=True)
class Painted:
    """A frame's layers, all of them on each other, and as a drawing."""

    layers: tuple[PaintedLayer, ...]
    whole: Picture
    drawing: Drawing
    left_out: tuple[str, ...]


def paint_frame(engine: Engine, photo: bytes, annotation: Annotation, wanted: Wanted) -> Painted | NotFound:
    from moondesk.drawing.broadcast import flatten, layer_rgba
    from moondesk.drawing.svg import frame_svg
    from moondesk.tour.spotlight import with_spotlights

    frame = _drawn(engine.decode_rgb(photo), annotation, wanted)
    if isinstance(frame, NotFound):
        return frame
    lit = with_spotlights(frame, annotation)
    layers = tuple(
        PaintedLayer(
            name=layer.name,
            title=layer.title,
            kind=layer.kind,
            base=layer.base,
            png=Picture(png(layer_rgba(frame, layer))),
        )
        for layer in lit.layers
    )
    return Painted(
        layers,
        Picture(png(flatten(frame))),
        Drawing(frame_svg(frame)),
        tuple(f"{n.reason} {n.advice}".strip() for n in frame.left_out),
    )


def _drawn(rgb: ByteArray, annotation: Annotation, wanted: Wanted) -> AirFrame | NotFound:
    from moondesk.drawing.broadcast import frame_layers
    from moondesk.tour.rendered import rendered_frame
    from moondesk.tour.shared import shared_frame

    match wanted:
        case RelitRequest():
            return rendered_frame(rgb, annotation, wanted)
        case SharedRequest():
            return shared_frame(rgb, annotation, wanted)
        case FrameRequest():
            return frame_layers(rgb, annotation, wanted)


def decode_photo(engine: Engine, photo: bytes) -> bytes:
    """Pixels of the store's own photograph, row by row, three bytes each."""
    return bytes(engine.decode_rgb(photo).tobytes())


#: Signature and first chunk of a PNG, and the chunk that stands after them: sRGB, shown as it is perceived (PNG, third
#: edition, 11.3.2.5: rendering intent 0).
_HEADER = 33
_SRGB = b"\x00\x00\x00\x01sRGB\x00" + zlib.crc32(b"sRGB\x00").to_bytes(4, "big")


def png(pixels: ByteArray) -> bytes:
    """A PNG of (H, W, 3) or (H, W, 4) pixels that says that its colours are sRGB, without any text or time in it."""
    import cv2

    code = cv2.COLOR_RGB2BGR if pixels.shape[2] == 3 else cv2.COLOR_RGBA2BGRA
    done, data = cv2.imencode(".png", cv2.cvtColor(pixels, code))
    if not done:
        raise OSError("the PNG encoder failed")
    plain = data.tobytes()
    return plain[:_HEADER] + _SRGB + plain[_HEADER:]
