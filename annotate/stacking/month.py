"""A month from many senders: the contact sheet, and the march of the terminator as frames of an animation.

Both lay all pictures into one frame of the Moon (north up, not mirrored, one libration, one scale) and write under each
whose it is and which day of the lunation; the frame's own size is small beside its words, so that they are read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from moondesk.comparison.common_frame import Framed, common_pose, into_frame
from moondesk.records import ByteArray, NotFound, Pose
from moondesk.stacking.captions import GROUND, strip

#: Pixels of the Moon's square in the animation, and of the strip of words under it; pictures between two, faded.
SIDE, STRIP, FADES = 640, 80, 4
#: The sheet: columns and rows of days, a day's square and the strip under it, the head, all in pixels.
COLUMNS, ROWS, CELL, CAPTION, HEAD = 6, 5, 880, 120, 360
EMPTY = "#2a3140"


@dataclass(frozen=True, eq=False)
class DatedFrame:
    """One picture. rgb: (H, W, 3) uint8 as displayed; pose: in its pixels; day: counted from the month's first evening,
    which is 0; words: its credit as it is to stand there."""

    rgb: ByteArray
    pose: Pose
    day: int
    words: str


def march(pictures: Sequence[DatedFrame], head: Sequence[str]) -> Iterator[ByteArray] | NotFound:
    """Frames (SIDE + STRIP, SIDE, 3) in the order given, each picture and the fade to the next. head: of each, the
    words of its day. NotFound for fewer than two, or a sign that no typeface has."""
    if len(pictures) < 2:
        return NotFound("march", "Only one picture, or none, is there to march.", "Two evenings are the least.")
    strips = [strip(p.words, h, SIDE, STRIP) for p, h in zip(pictures, head, strict=True)]
    for one in strips:
        if isinstance(one, NotFound):
            return one
    return _frames(pictures, [s for s in strips if not isinstance(s, NotFound)])


def _frames(pictures: Sequence[DatedFrame], strips: list[ByteArray]) -> Iterator[ByteArray]:
    framed = [Framed(p.pose, p.rgb.shape[1], p.rgb.shape[0]) for p in pictures]
    pose = common_pose(framed, SIDE, shared_part=False)
    before: ByteArray | None = None
    earlier = strips[0]
    for picture, one, under in zip(pictures, framed, strips, strict=True):
        now = np.vstack([into_frame(picture.rgb, one, pose, SIDE).rgb, under])
        if before is not None:
            for k in range(1, FADES + 1):
                share = k / (FADES + 1)
                mixed = (1 - share) * before[:SIDE].astype(np.float32) + share * now[:SIDE].astype(np.float32)
                # words never stand on one another: those of whose picture is the stronger
                yield np.vstack([np.rint(mixed).astype(np.uint8), under if share > 0.5 else earlier])
        yield now
        before, earlier = now, under


def contact_sheet(pictures: Sequence[DatedFrame], title: str, heads: Sequence[str]) -> ByteArray | NotFound:
    """A poster of a month, (H, 5940, 3): one picture a day, empty places with their date. pictures: at most one of each
    day; heads: the words of each of the 30 days. NotFound for no picture, or a sign that no typeface has."""
    if not pictures:
        return NotFound("sheet", "No picture of this lunation may be shown.", "Choose another one.")
    framed = {p.day: Framed(p.pose, p.rgb.shape[1], p.rgb.shape[0]) for p in pictures}
    pose = common_pose(list(framed.values()), CELL, shared_part=False)
    by_day = {p.day: p for p in pictures}
    margin = (5940 - COLUMNS * CELL) // (COLUMNS + 1)
    width, height = 5940, HEAD + ROWS * (CELL + CAPTION + margin)
    page = np.empty((height, width, 3), np.uint8)
    page[...] = GROUND
    top = strip("–", title, width, HEAD)
    if isinstance(top, NotFound):
        return top
    page[: HEAD // 2] = top[: HEAD // 2]  # the title alone
    for k in range(COLUMNS * ROWS):
        row, column = divmod(k, COLUMNS)
        y, x = HEAD + row * (CELL + CAPTION + margin), margin + column * (CELL + margin)
        picture = by_day.get(k)
        under = strip(picture.words if picture else "–", heads[k], CELL, CAPTION)
        if isinstance(under, NotFound):
            return under
        if picture is not None:
            page[y : y + CELL, x : x + CELL] = into_frame(picture.rgb, framed[k], pose, CELL).rgb
        else:
            _ring(page[y : y + CELL, x : x + CELL])
        page[y + CELL : y + CELL + CAPTION, x : x + CELL] = under
    return page


def _ring(cell: ByteArray) -> None:
    """Where no picture is, the Moon's place."""
    ys, xs = np.mgrid[0:CELL, 0:CELL]
    distance = np.hypot(xs - CELL / 2, ys - CELL / 2)
    cell[np.abs(distance - 0.485 * CELL) < 3] = [int(EMPTY[i : i + 2], 16) for i in (1, 3, 5)]
