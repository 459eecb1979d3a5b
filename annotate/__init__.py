"""The pure core: a picture's bytes and what is known of it in, a placed and labelled Moon out.

    bytes -> Picture -> Limbs -> Placed (pose, Sun)
          -> Clock, Terminator -> FeatureMarks -> Labels -> Annotation

No clock, network, environment, web or database here; conventions stand once in `annotate.records`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from annotate.records import Annotation, Known, NotFound, Place

if TYPE_CHECKING:
    from annotate.pipeline import annotate_picture

__all__ = ["Annotation", "Known", "NotFound", "Place", "annotate_picture"]


def __getattr__(name: str) -> Any:
    """`annotate_picture` when first asked for (PEP 562): who wants the records alone need not wait for the rest."""
    if name == "annotate_picture":
        from annotate.pipeline import annotate_picture

        return annotate_picture
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
