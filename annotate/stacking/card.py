"""A card for the sender: their picture, turned north up, with a few names, their own name under it, and whose programme
thanks them. For a feed and for a story.

The picture is a frame as on air, without lines, scale and lower third: what is said stands above and below it, larger.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np

from moondesk.comparison.levels import level
from moondesk.drawing.broadcast import frame_layers
from moondesk.drawing.composition import move_pose
from moondesk.drawing.frame import VERTICAL, FrameRequest, Texts
from moondesk.drawing.paint import paint
from moondesk.drawing.typefaces import REGULAR
from moondesk.drawing.upright import upright_pose
from moondesk.records import Annotation, ByteArray, NotFound
from moondesk.stacking.page import GOLD, QUIET, SOFT, Page, bar

CardShape = Literal["feed", "story"]

#: Layers of the frame that a card has, and the most names.
SHOWN = ("picture", "seas", "feature")
MOST, SEAS = 4, 3
WIDTH, MARGIN = 1080, 72
#: Of the square in the frame that the upright Moon is laid into, pixels.
SIDE = 1060
#: Free above and below Moon and names; rows in which an edge runs out; pixels.
EDGE, FADE = 18.0, 24.0


@dataclass(frozen=True, kw_only=True)
class CardLayout:
    """height: of the card; head_y: of the programme's name; picture: top and bottom of what Moon and names may take;
    scale: of the frame that they come from; foot_y: of the sender's name. A story keeps its upper and
    lower eighth free, where its own controls lie (common practice)."""

    height: int
    head_y: float
    picture: tuple[int, int]
    scale: float
    foot_y: float


LAYOUTS: dict[CardShape, CardLayout] = {
    "feed": CardLayout(height=1350, head_y=56.0, picture=(98, 1010), scale=0.8, foot_y=1020.0),
    "story": CardLayout(height=1920, head_y=222.0, picture=(266, 1386), scale=1.0, foot_y=1392.0),
}


@dataclass(frozen=True, kw_only=True)
class CardWords:
    """Ready made in the programme's language. credit: the sender's name as it is to stand; lines: under it, such as
    equipment and evening; thanks: the last line. texts: those of the frame, of which the credit does not count."""

    programme: str
    credit: str
    lines: tuple[str, ...]
    thanks: str
    texts: Texts


def card(
    rgb: ByteArray, annotation: Annotation, words: CardWords, shape: CardShape, offered: tuple[str, ...] = ()
) -> ByteArray | NotFound:
    """(height, 1080, 3). offered: features that may be named, the best first. NotFound without a name to credit, and for
    a sign that no typeface has."""
    if not words.credit:
        return NotFound("card", "Nobody has said how the sender is to be named.", "Ask the sender.")
    layout = LAYOUTS[shape]
    page = Page(WIDTH, layout.height)
    page.pixels[...] = 0
    moon = _moon_with_names(rgb, annotation, words.texts, layout, offered)
    if isinstance(moon, NotFound):
        return moon
    top, bottom = layout.picture
    page.lay(moon, (WIDTH - moon.shape[1]) / 2, (top + bottom - moon.shape[0]) / 2)
    width = WIDTH - 2 * MARGIN
    page.write(words.programme, MARGIN, layout.head_y, 27, width=width, colour=GOLD)
    page.draw(bar(MARGIN, layout.foot_y, MARGIN + 64, layout.foot_y + 5, GOLD))
    y = page.write(words.credit, MARGIN, layout.foot_y + 28, 41, width=width, most=2)
    for k, line in enumerate(words.lines):
        y = page.write(line, MARGIN, y + (24 if k else 34), 24, width=width, colour=SOFT, weight=REGULAR, most=2)
    page.write(words.thanks, MARGIN, y + 30, 21, width=width, colour=QUIET, weight=REGULAR)
    return page.finish()


def _moon_with_names(
    rgb: ByteArray, annotation: Annotation, texts: Texts, layout: CardLayout, offered: tuple[str, ...]
) -> ByteArray | NotFound:
    """The Moon at the common tone in an upright frame, cut to what it and its names take."""
    upright = upright_pose(annotation, SIDE)
    if isinstance(upright, NotFound):
        return upright
    assert annotation.pose is not None  # what has an upright copy has one
    left, top = (WIDTH - SIDE) / 2, (VERTICAL.height - SIDE) / 2
    room = round((layout.picture[1] - layout.picture[0]) / layout.scale)
    toned = level(rgb, annotation.pose)
    for most in range(MOST, -1, -1):  # fewer where they would not find room
        frame = frame_layers(
            toned,
            annotation,
            FrameRequest(
                format=VERTICAL,
                texts=replace(texts, credit="", lines=()),
                camera=move_pose(upright, upright.x + left, upright.y + top, upright.radius_px),
                offered=offered,
                most=most,
                seas=min(SEAS, most),
            ),
        )
        if isinstance(frame, NotFound):
            return frame
        layers = [layer for layer in frame.layers if layer.kind in SHOWN]
        boxes = [text.box for layer in layers for text in layer.texts]
        first = min([top + 0.1 * SIDE, *(b.y0 for b in boxes)]) - EDGE
        last = max([top + 0.9 * SIDE, *(b.y1 for b in boxes)]) + EDGE
        if last - first <= room:
            break
    canvas = np.zeros((VERTICAL.height, WIDTH, 4), np.uint8)
    for layer in layers:
        paint(canvas, layer.shapes)
    middle = (first + last) / 2
    start = round(min(max(middle - room / 2, 0), VERTICAL.height - room))
    cut = _fade(canvas[start : start + room, :, :3])
    if layout.scale == 1.0:
        return cut
    return np.asarray(cv2.resize(cut, None, fx=layout.scale, fy=layout.scale, interpolation=cv2.INTER_AREA), np.uint8)


def _fade(rgb: ByteArray) -> ByteArray:
    """Its edges run out into black: close-ups reach to them."""
    rows, columns = (np.minimum(np.arange(n) + 1, n - np.arange(n)) / FADE for n in rgb.shape[:2])
    share = np.clip(rows, 0.0, 1.0)[:, None] * np.clip(columns, 0.0, 1.0)[None]
    return np.asarray(np.rint(rgb * share[..., None]), np.uint8)
