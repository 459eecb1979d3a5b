"""The pure core as the shell calls it, loaded only when pictures are to be placed, and the version by which it is known.

A picture is placed anew when that version is another. It is made of numbers that people raise where results change (see
`moondesk.revisions`), not of the product's number: a release that only touches pages leaves every placement standing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from moondesk.revisions import MEASURES, PLACEMENT

if TYPE_CHECKING:
    from moondesk.corrections import Corrections
    from moondesk.files.picture_file import PictureFile
    from moondesk.quality.measurement import Quality
    from moondesk.records import Annotation, Known, NotFound

#: What the workers share from their start.
PRELOAD = ("moondesk.service.jobs.preload",)


def by_hand(
    data: bytes | PictureFile, known: Known, corrections: Corrections, earlier: Annotation | None
) -> Annotation | NotFound:
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
    annotate: Callable[[Any, Known], Annotation]
    decode_rgb: Callable[[Any], Any]
    draw_labelled: Callable[[Any, Annotation], Any]
    draw_upright: Callable[[Any, Annotation], Any | NotFound]
    overlay_svg: Callable[[Annotation], str]
    #: Bytes to what `annotate`, `correct` and `decode_rgb` take, so that one picture is read once for all of them.
    open: Callable[[bytes], Any] = bytes
    #: With what is set by hand, and the annotation that is corrected, if any (see `moondesk.corrections`).
    correct: Callable[[Any, Known, Corrections, Annotation | None], Annotation | NotFound] = by_hand
    measure: Callable[[Any, Annotation], Quality | NotFound] = quality


#: How a worker comes by its engine.
Loader = Callable[[], Engine]


@dataclass(frozen=True)
class WithEngine:
    """A function of (Engine, ...) as one of (...), for a child: the engine is loaded there. Both must be picklable."""

    load: Loader
    declared: Callable[..., Any]

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        return self.declared(_load(self.load), *args, **kwargs)


@cache
def _load(load: Loader) -> Engine:
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


def engine_version() -> str:
    """Of the core in use. Earlier releases had a hash of twelve digits here: what they placed is placed anew once."""
    return f"{PLACEMENT}.{MEASURES}"


def load_engine() -> Engine:
    """The product's own core."""
    from moondesk import annotate_picture, drawing
    from moondesk.files import formats, picture

    return Engine(
        version=engine_version(),
        open=formats.open_picture,
        annotate=annotate_picture,
        decode_rgb=picture.decode_rgb,
        draw_labelled=drawing.draw_labelled,
        draw_upright=drawing.draw_upright,
        overlay_svg=drawing.overlay_svg,
    )
