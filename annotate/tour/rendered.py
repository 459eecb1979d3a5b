"""A view in the light of other hours: the viewer's own disc as it will look, and on its frame the words that it is a
rendering. There is none without them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from moondesk.drawing.areas import rounded_rectangle
from moondesk.drawing.background import lay
from moondesk.drawing.boxes import TurnedBox
from moondesk.drawing.broadcast import frame_layers
from moondesk.drawing.frame import AirFrame, Format, FrameLayer
from moondesk.drawing.shapes import Shape
from moondesk.drawing.text import wrap_text
from moondesk.drawing.theme import Theme
from moondesk.drawing.typefaces import BOLD, CAP
from moondesk.moon.geometry import pixel_to_disc
from moondesk.records import Annotation, ByteArray, FloatArray, NotFound
from moondesk.tour.relit import RelitDisc, why_not_relit
from moondesk.tour.requests import RelitRequest

#: Kind and name of the layer with the words; it stands wherever the picture does.
RENDERING = "rendering"
#: Height of the capitals of its words, lines of 1080; how far they stand under a logo in an upright frame.
_CAP, _UNDER_LOGO = 32.0, 110.0


def rendered_frame(rgb: ByteArray, annotation: Annotation, wanted: RelitRequest) -> AirFrame | NotFound:
    """Picture, words and credit; NotFound for a picture that cannot be lit anew, and for words that cannot be set."""
    reason = why_not_relit(annotation)
    if reason is not None:
        return reason
    lit = RelitDisc(level_sky(rgb, annotation), annotation).at(wanted.hours)
    frame = frame_layers(lit, annotation, wanted.whole)
    if isinstance(frame, NotFound):
        return frame
    words = caption(wanted.words, wanted.format, wanted.whole.theme, frame.pose.x if frame.pose else 0.0)
    if not words:
        return NotFound("relit", "What says that it is a rendering cannot be written.", "Choose another language.")
    said = FrameLayer(name=RENDERING, kind=RENDERING, title=wanted.words, base=True, shapes=words)
    picture, credit = ([x for x in frame.layers if x.kind == kind] for kind in ("picture", "credit"))
    return replace(frame, layers=(*picture, said, *credit), left_out=())


def level_sky(rgb: ByteArray, annotation: Annotation) -> ByteArray:
    """The picture with its night sky's glow taken off once for all: what a single frame takes off hangs on how much of
    the sky is in it, and would change under way."""
    pose = annotation.pose
    if pose is None or not annotation.status.facts.is_named:
        return rgb

    def lookup(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        return x, y, np.hypot(*pixel_to_disc(pose, x, y))

    return lay(rgb, lookup, Format("hd", annotation.width, annotation.height), 1.0).rgb


def caption(words: str, fmt: Format, theme: Theme, moon_x: float) -> tuple[Shape, ...]:
    """Words on a plate in the upper corner that has no logo, where both are free in the one farther from the Moon; none
    where no typeface has their signs."""
    lines = wrap_text(words, _CAP * fmt.unit / CAP, BOLD, (0.9 if fmt.upright else 0.34) * fmt.safe.width, 4)
    if isinstance(lines, NotFound) or not lines:
        return ()
    step, pad, safe = lines[0].size_px * 1.28, 18.0 * fmt.unit, fmt.safe
    width = max(line.ink.x1 for line in lines)
    right = moon_x < fmt.width / 2
    if theme.logo is not None:
        right = theme.logo_corner == "upper left"
    left = safe.x1 - width if right and not fmt.upright else safe.x0
    top = safe.y0 + (_UNDER_LOGO * fmt.unit if fmt.upright and theme.logo is not None else 0.0)
    box = TurnedBox(left - pad, top, left + width + pad, top + step * len(lines) + 1.2 * pad)
    shapes: list[Shape] = [rounded_rectangle(box, 6 * fmt.unit, theme.plate)]
    for k, line in enumerate(lines):
        shapes.append(line.at(left, top + 0.6 * pad + step * (k + 0.5) + line.cap_px / 2, theme.text)[0])
    return tuple(shapes)
