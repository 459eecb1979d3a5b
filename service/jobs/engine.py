"""The pure core as the shell calls it, loaded only when pictures are to be placed, and the mark by which it is known.

A picture is placed anew when what placed it has changed. The product's number does not tell: a core changed under the
same number would leave old placements standing, and a release that only touches the pages would redo them all. So the
mark is made of the bytes of the core, its sources and data, and of the module that writes the derived pictures. A
changed comment makes a new mark as well, which costs time and is never wrong. Libraries are not in it: their releases
seldom move a placement, and a store need not be redone for each.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from moondesk.service.folders import CORE, SHELL

if TYPE_CHECKING:
    from moondesk.corrections import Corrections
    from moondesk.quality.measurement import Quality
    from moondesk.records import Annotation, Known, NotFound

#: What the workers share from their start.
PRELOAD = ("moondesk.service.jobs.preload",)
#: Of the core, what has no say in what comes of a picture: what is made of placed pictures afterwards.
NO_SAY = ("comparison", "notes", "shadows", "drawing", "stacking", "exports", "__pycache__")
#: Folders and files that decide what comes of a picture.
ENGINE_FILES = (*sorted(p for p in CORE.iterdir() if p.name not in NO_SAY), SHELL / "jobs" / "derived_pictures.py")


def by_hand(data: bytes, known: Known, corrections: Corrections, earlier: Annotation | None) -> Annotation | NotFound:
    """The core's own way with corrections, loaded at the first of them."""
    from moondesk.corrections import correct_picture

    return correct_picture(data, known, corrections, earlier)


def quality(rgb: Any, annotation: Annotation) -> Quality | NotFound:
    """The core's own measures of a picture, loaded at the first of them."""
    from moondesk.quality.measurement import measure_quality

    return measure_quality(rgb, annotation)


@dataclass(frozen=True, kw_only=True)
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
    #: With what is set by hand, and the annotation that is corrected, if any (see `moondesk.corrections`).
    correct: Callable[[bytes, Known, Corrections, Annotation | None], Annotation | NotFound] = by_hand
    measure: Callable[[Any, Annotation], Quality | NotFound] = quality


#: How a worker comes by its engine.
Loader = Callable[[], Engine]


@dataclass(frozen=True)
class WithEngine:
    """A function of (Engine, ...) as one of (...), for a child: the engine is loaded there. Both must be picklable."""

    load: Loader
    declared: Callable[..., Any]

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        return self.declared(_loaded(self.load), *args, **kwargs)


@cache
def _loaded(load: Loader) -> Engine:
    import cv2

    cv2.setNumThreads(1)
    return load()


def product_version() -> str:
    """Version of the installed product."""
    from importlib import metadata  # a tenth of the time in which the command line starts

    try:
        return metadata.version("moondesk")
    except metadata.PackageNotFoundError:
        return "source tree"


@cache
def engine_version() -> str:
    """The mark of the core in use; 10 ms, once in a process."""
    return content_mark(ENGINE_FILES)


def content_mark(paths: Iterable[Path]) -> str:
    """Twelve hex digits for names and bytes of files, and of all files below folders (compiled and hidden ones out).

    Line ends of text do not count: a clone may have written them as its system does.
    """
    total = hashlib.sha256()
    for top in paths:
        files = sorted(top.rglob("*")) if top.is_dir() else [top]
        for file in files:
            name = file.relative_to(top.parent).as_posix()
            if file.is_file() and "/." not in name and "__pycache__" not in name:
                data = file.read_bytes()
                if b"\0" not in data:
                    data = data.replace(b"\r\n", b"\n")
                total.update(f"{name}\0{len(data)}\0".encode())
                total.update(data)
    return total.hexdigest()[:12]


def load_engine() -> Engine:
    """The product's own core."""
    from moondesk import annotate_picture, drawing
    from moondesk.files import picture

    return Engine(
        version=engine_version(),
        annotate=annotate_picture,
        decode_rgb=picture.decode_rgb,
        draw_labelled=drawing.draw_labelled,
        draw_upright=drawing.draw_upright,
        overlay_svg=drawing.overlay_svg,
    )
