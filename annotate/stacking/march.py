"""The march of the terminator as a film: moving light, and beside it what is a photograph, whose, and of which evening.

A frame is a photograph or lies between two, and says which. Under a photograph stands its sender's name alone; between
two both are named, for the light of both is in it. A row of marks below has an evening each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from moondesk.drawing.typefaces import REGULAR
from moondesk.records import ByteArray, NotFound
from moondesk.stacking.month import DatedFrame, MonthWords
from moondesk.stacking.moving_light import LightStep, moving_light
from moondesk.stacking.page import GOLD, QUIET, SOFT, WHITE, Page, bar, spot

#: Frames a second; frames that a photograph stands, and that the light takes at most from one evening to the next.
RATE, STANDS, DAY = 25, 22, 10
#: Frames between photographs that a film has at most: each is reckoned, a tenth of a second of work.
MOST_BETWEEN = 200
#: Pixels of the Moon's square, the same in both layouts, so that the light is reckoned once.
MOON = 900


@dataclass(frozen=True, kw_only=True)
class MarchLayout:
    """Where things stand. moon: corner of the Moon's square; column: left edge and width of the words, whose head
    begins at head_y, and whose picture's words at words_y; rail: y of the evenings' marks, with their first and last
    x."""

    width: int
    height: int
    moon: tuple[int, int]
    column: tuple[float, float]
    head_y: float
    words_y: float
    rail: tuple[float, float, float]


#: All words keep inside the text-safe area of `drawing.frame`: x 192 to 1727, y 54 to 1025 of 1920 x 1080.
LEVEL = MarchLayout(
    width=1920,
    height=1080,
    moon=(900, 40),
    column=(192.0, 660.0),
    head_y=120.0,
    words_y=440.0,
    rail=(996.0, 204.0, 1716.0),
)
UPRIGHT = MarchLayout(
    width=1080,
    height=1920,
    moon=(90, 430),
    column=(108.0, 864.0),
    head_y=170.0,
    words_y=1385.0,
    rail=(1768.0, 120.0, 960.0),
)


@dataclass(frozen=True, eq=False)
class MarchFrame:
    """rgb: one for each layout asked for; count: how many frames of the film it stands; true: it is a photograph;
    picture: index of that, or of the one before it."""

    rgb: tuple[ByteArray, ...]
    count: int
    true: bool
    picture: int


def march(
    pictures: Sequence[DatedFrame], words: MonthWords, layouts: Sequence[MarchLayout], steps_a_day: int = DAY
) -> Iterator[MarchFrame] | NotFound:
    """The film's frames. NotFound for fewer than two pictures, or a sign that no typeface has."""
    if len(pictures) < 2:
        return NotFound("march", "Only one picture, or none, is there to march.", "Two evenings are the least.")
    ordered = sorted(pictures, key=lambda p: p.day)
    steps_a_day = max(1, min(steps_a_day, MOST_BETWEEN // max(ordered[-1].day - ordered[0].day, 1)))
    pages = [_pages(ordered, words, layout) for layout in layouts]
    for page in pages:
        if isinstance(page, NotFound):
            return page
    return _frames(ordered, [p for p in pages if not isinstance(p, NotFound)], layouts, steps_a_day)


def _frames(
    pictures: Sequence[DatedFrame],
    pages: Sequence[dict[tuple[int, bool], ByteArray]],
    layouts: Sequence[MarchLayout],
    steps_a_day: int,
) -> Iterator[MarchFrame]:
    for step in moving_light(pictures, MOON, steps_a_day):
        true = step.share == 0.0
        at = float(pictures[step.first].day)
        if not true:
            at += step.share * (pictures[step.first + 1].day - pictures[step.first].day)
        rgb = tuple(
            _compose(page[(step.first, true)], step, at, layout) for page, layout in zip(pages, layouts, strict=True)
        )
        yield MarchFrame(rgb, STANDS if true else 1, true, step.first)


def _compose(page: ByteArray, step: LightStep, at: float, layout: MarchLayout) -> ByteArray:
    canvas = page.copy()
    x, y = layout.moon
    place = canvas[y : y + MOON, x : x + MOON]
    np.maximum(place, step.moon, out=place)
    on = Page(1, 1)
    on.pixels = canvas
    on.draw(spot(_rail_x(layout, at), layout.rail[0], 15.0, WHITE, hole=10.5))
    return canvas


def _rail_x(layout: MarchLayout, day: float) -> float:
    _, first, last = layout.rail
    return first + (last - first) * day / 29.0


def _pages(
    pictures: Sequence[DatedFrame], words: MonthWords, layout: MarchLayout
) -> dict[tuple[int, bool], ByteArray] | NotFound:
    """The page of each picture, and of the way from it to the next (False)."""
    found = {}
    for k in range(len(pictures)):
        for true in (True, False):
            if true or k + 1 < len(pictures):
                page = _page(pictures, words, layout, k, true).finish()
                if isinstance(page, NotFound):
                    return page
                found[(k, true)] = page
    return found


def _page(pictures: Sequence[DatedFrame], words: MonthWords, layout: MarchLayout, first: int, true: bool) -> Page:
    page = Page(layout.width, layout.height)
    page.pixels[...] = 0
    x, width = layout.column
    y = page.write(words.programme, x, layout.head_y, 31, width=width, colour=GOLD)
    y = page.write(words.title, x, y + 30, 44, width=width, most=2)
    page.write(words.span, x, y + 28, 30, width=width, colour=SOFT, weight=REGULAR, most=2)
    y = layout.words_y
    mark = words.true if true else words.between
    page.draw(bar(x, y, x + 10, y + 33, GOLD) if true else spot(x + 16, y + 16, 15, QUIET, hole=11))
    y = page.write(mark, x + 46, y + 1, 31, width=width - 46, colour=GOLD if true else SOFT, most=2)
    one = pictures[first]
    if true:
        y = page.write(one.words, x, y + 44, 46, width=width, most=3)
        page.write(words.heads[one.day], x, y + 36, 31, width=width, colour=SOFT, weight=REGULAR, most=2)
    else:
        for each in (one, pictures[first + 1]):
            y = page.write(each.words, x, y + 44, 34, width=width, colour=SOFT, most=2)
            y = page.write(words.days[each.day], x, y + 22, 30, width=width, colour=QUIET, weight=REGULAR)
    rail = layout.rail[0]
    dated = {p.day for p in pictures}
    for day in range(30):
        at = _rail_x(layout, day)
        page.draw(spot(at, rail, 7.0, GOLD) if day in dated else spot(at, rail, 4.0, "#4a5366"))
    return page
