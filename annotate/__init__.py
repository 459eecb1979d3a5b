"""The pure core: a picture's bytes and what is known of it in, a placed and labelled Moon out.

    bytes -> Picture -> Limbs -> Placed (pose, Sun)
          -> Clock, Terminator -> FeatureMarks -> Labels -> Annotation

No clock, network, environment, web or database here; conventions stand once in `annotate.records`.
"""

from annotate.pipeline import annotate_picture
from annotate.records import Annotation, Known, NotFound, Place

__all__ = ["Annotation", "Known", "NotFound", "Place", "annotate_picture"]
