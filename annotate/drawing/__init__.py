"""Names and lines over a picture whose place on the Moon is known: one engine, a look for the desk and one for air.

Annotation -> labels_of -> Label ... -> compose -> Shape ... -> draw_labelled | draw_upright | overlay_svg
Annotation, FrameRequest -> broadcast.frame_layers -> Frame of Shapes -> flatten | layer_rgba | frame_svg

A layer is a row: of `labelled.LAYERS`, or of `broadcast.LAYERS`.
Labels are placed when something is drawn and stored nowhere: how they stand is no part of what was measured.
"""

from moondesk.drawing.labelled import LAYERS, OverlayLayer, OverlayStyle, compose, draw_labelled, draw_layers
from moondesk.drawing.labels import labels_of
from moondesk.drawing.scene import Label
from moondesk.drawing.shapes import Dot, Path, Shape, TextShape
from moondesk.drawing.style import LabelStyle
from moondesk.drawing.svg import overlay_svg
from moondesk.drawing.turned import PictureTurn, annotate_turned, style_for, turn_for
from moondesk.drawing.upright import annotate_upright, draw_upright, in_original

__all__ = [
    "LAYERS",
    "Dot",
    "Label",
    "LabelStyle",
    "OverlayLayer",
    "OverlayStyle",
    "Path",
    "PictureTurn",
    "Shape",
    "TextShape",
    "annotate_turned",
    "annotate_upright",
    "compose",
    "draw_labelled",
    "draw_layers",
    "draw_upright",
    "in_original",
    "labels_of",
    "overlay_svg",
    "style_for",
    "turn_for",
]
