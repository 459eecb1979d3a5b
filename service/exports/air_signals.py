"""What stands on air as pictures for a mixer: whole, as fill and key, and part by part.

    current.png            picture, names and credit; alpha as PNG has it (straight: colours are not multiplied by it)
    current-fill.png       the same on black: colours multiplied by alpha (premultiplied, "shaped"), no alpha
    current-key.png        the alpha of the same as grey: white is opaque, black nothing
    current-picture.png, current-names.png, current-credit.png      one part each, alpha straight
    next.png               what the next key would bring

Layers are laid over one another as a browser does (Porter and Duff's "over", Computer Graphics 18, 1984, on the values
as they are stored). What is read are frames that the tool itself has painted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from moondesk.service.programme.air_plan import PlannedLayer
from moondesk.service.programme.air_steps import OnAir

#: Width and height where nothing stands on air, and there is no frame to go by.
PLAIN = (1920, 1080)
#: Kinds of layers that are parts of the photograph; the credit is a part by itself, all else are names.
PICTURE = ("picture", "rendering", "spotlight", "against")
#: Where the second of two pictures begins, a line of this width, shares of the frame's height, and how much of it shows.
_EDGE, _EDGE_ALPHA = 0.0028, 0.85
STILLS = (
    "current.png",
    "current-fill.png",
    "current-key.png",
    "current-picture.png",
    "current-names.png",
    "current-credit.png",
    "next.png",
)
TEXTS = ("credit.txt", "state.json")
#: How a layer's file is read.
Read = Callable[[PlannedLayer], bytes]
#: Colours multiplied by alpha, and alpha, 0..1.
Premultiplied = NDArray[np.float32]


def still(name: str, now: OnAir | None, following: OnAir | None, read: Read) -> bytes:
    """One of `STILLS`, PNG."""
    if name == "next.png":
        return _png(_straight(_shown(following, "all", read)))
    if name == "current-fill.png":
        return _png(_bytes(_shown(now, "all", read)[..., :3]))
    if name == "current-key.png":
        return _png(_bytes(_shown(now, "all", read)[..., 3]))
    part = name.removesuffix(".png").partition("-")[2] or "all"
    return _png(_straight(_shown(now, part, read)))


def compared(layers: Iterable[PlannedLayer], read: Read) -> bytes:
    """A view with two pictures, each of them half, PNG."""
    return _png(_straight(_laid(layers, read, 50)))


def stills(now: OnAir | None, following: OnAir | None, read: Read) -> Mapping[str, bytes]:
    """All of them."""
    once = cache(read)
    return {name: still(name, now, following, once) for name in STILLS}


def part_of(kind: str) -> str:
    return "credit" if kind == "credit" else "picture" if kind in PICTURE else "names"


def _shown(shown: OnAir | None, part: str, read: Read) -> Premultiplied:
    layers = () if shown is None else shown.layers
    parts = tuple(x for x in layers if part in ("all", part_of(x.kind)))
    return _laid(parts, read, 0 if shown is None else shown.wipe)


def _laid(layers: Iterable[PlannedLayer], read: Read, wipe: int = 0) -> Premultiplied:
    """wipe: how far the second of two pictures has come in from the right, hundredths."""
    laid: Premultiplied | None = None
    for layer in layers:
        data = np.frombuffer(read(layer), np.uint8)
        found = cv2.imdecode(data, cv2.IMREAD_UNCHANGED)
        if found is None:
            raise OSError("a kept frame is no whole PNG; delete its folder")
        if found.ndim != 3 or found.shape[2] == 3:
            found = cv2.cvtColor(found, cv2.COLOR_BGR2BGRA if found.ndim == 3 else cv2.COLOR_GRAY2BGRA)
        if laid is None:
            laid = np.zeros((*found.shape[:2], 4), np.float32)
        if layer.kind == "against" and 0 < wipe < 100:
            found = _come_in(found, wipe)
        x, y, width, height = cv2.boundingRect(found[..., 3])  # most of a layer is empty
        if not width:
            continue
        there = np.s_[y : y + height, x : x + width]
        over = found[there].astype(np.float32) / 255.0
        over[..., :3] *= over[..., 3:]
        laid[there] = over + laid[there] * (1.0 - over[..., 3:])
    return np.zeros((PLAIN[1], PLAIN[0], 4), np.float32) if laid is None else laid


def _come_in(pixels: cv2.typing.MatLike, wipe: int) -> cv2.typing.MatLike:
    """The right part of a picture, with a line where it begins."""
    height, width = pixels.shape[:2]
    begins, half = round(width * (100 - wipe) / 100), max(1, round(_EDGE * height / 2))
    part = pixels.copy()
    part[:, :begins] = 0
    line = part[round(0.03 * height) : round(0.82 * height), max(begins - half, 0) : begins + half]
    line[:] = (255, 255, 255, round(255 * _EDGE_ALPHA))
    return part


def _straight(laid: Premultiplied) -> NDArray[np.uint8]:
    alpha = laid[..., 3:]
    colours = np.divide(laid[..., :3], alpha, out=np.zeros_like(laid[..., :3]), where=alpha > 0)
    return _bytes(np.concatenate([colours, alpha], axis=2))


def _bytes(shares: NDArray[np.float32]) -> NDArray[np.uint8]:
    return (np.clip(shares, 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)


def _png(pixels: NDArray[np.uint8]) -> bytes:
    done, data = cv2.imencode(".png", pixels, [cv2.IMWRITE_PNG_COMPRESSION, 1])
    if not done:
        raise OSError("the PNG encoder failed")
    return data.tobytes()
