"""The pure core: a picture's bytes and what is known of it in, a placed and labelled Moon out.

    bytes -> Picture -> Limbs -> Placed (pose, Sun)
          -> Clock, Terminator -> FeatureMarks -> Labels -> Annotation

No clock, network, environment, web or database here; conventions stand once in `moondesk.records`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from moondesk.pipeline import annotate_picture
    from moondesk.records import Annotation, Known, NotFound, Place

__all__ = ["Annotation", "Known", "NotFound", "Place", "annotate_picture"]


_HOME = {"annotate_picture": "pipeline"}


def __getattr__(name: str) -> Any:
    """A name when it is first asked for (PEP 562): who wants a part need not wait for the rest."""
    if name in __all__:
        return getattr(import_module(f"moondesk.{_HOME.get(name, 'records')}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
