"""The overlay: names and lines over a picture whose place on the Moon is known.

Pose + FeatureMark ... -> place_labels -> Label ... -> compose -> Shape ... -> draw_labelled | overlay_svg
                                        draw_upright, annotate_turned place their own
"""

from moondesk.drawing.draw import draw_labelled, draw_layers
from moondesk.drawing.labels import place_labels
from moondesk.drawing.shapes import Dot, Path, Shape, Text, compose
from moondesk.drawing.style import LAYERS, LabelStyle, Layer, OverlayStyle
from moondesk.drawing.svg import overlay_svg
from moondesk.drawing.turned import Turn, annotate_turned, style_for, turn_for
from moondesk.drawing.upright import annotate_upright, draw_upright

__all__ = [
    "LAYERS",
    "Dot",
    "LabelStyle",
    "Layer",
    "OverlayStyle",
    "Path",
    "Shape",
    "Text",
    "Turn",
    "annotate_turned",
    "annotate_upright",
    "compose",
    "draw_labelled",
    "draw_layers",
    "draw_upright",
    "overlay_svg",
    "place_labels",
    "style_for",
    "turn_for",
]
