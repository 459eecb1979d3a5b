"""The pure core as the shell calls it, loaded only when pictures are to be placed (it costs a second to import)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import metadata
from typing import Any

from annotate.records import Annotation, Known, NotFound


@dataclass(frozen=True)
class Engine:
    """What the shell needs of the core. Functions at module level, so that it can be sent to a worker process.

    rgb is (H, W, 3) uint8 as displayed. version goes with every annotation; when it changes, pictures are placed anew.
    """

    version: str
    annotate: Callable[[bytes, Known], Annotation]
    decode_rgb: Callable[[bytes], Any]
    draw_labelled: Callable[[Any, Annotation], Any]
    draw_upright: Callable[[Any, Annotation], Any | NotFound]
    overlay_svg: Callable[[Annotation], str]


def engine_version() -> str:
    """Version of the installed product."""
    try:
        return metadata.version("moondesk")
    except metadata.PackageNotFoundError:
        return "source tree"


def load_engine() -> Engine:
    """The product's own core."""
    from annotate import annotate_picture, overlay, picture

    return Engine(engine_version(), annotate_picture, picture.decode_rgb, overlay.draw_labelled, overlay.draw_upright,
                  overlay.overlay_svg)
