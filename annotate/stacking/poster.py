"""A month's poster: every picture at one scale and tone, as large as their number lets them be, none of them nameless.

What is missing takes no place: only photographs stand in the middle, and the lunation's evenings as a row of small Moons
below, a mark under each that somebody has photographed. On paper each picture has its sender's name under it; on a
telephone, where such names would be too small, it has its date, and the names follow below.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import cv2
import numpy as np

from moondesk.comparison.common_frame import into_frame
from moondesk.comparison.predicted import predicted_moon
from moondesk.drawing.text import set_line
from moondesk.drawing.typefaces import BOLD, CAP, REGULAR
from moondesk.ephemeris.aspect import aspect_at
from moondesk.records import ByteArray, NotFound
from moondesk.stacking.month import DatedFrame, MonthWords, framed_of, levelled, pose_of_all
from moondesk.stacking.page import GOLD, QUIET, SOFT, Page, bar

#: Least distance of two discs, shares of one.
APART = 0.06
#: Of the row of evenings: what the night side gets, and what the light of those without a picture is dimmed to.
NIGHT, FAINT = 44, 0.6
#: Words grow with their picture, up to this.
MOST_GROWN = 1.7


@dataclass(frozen=True, kw_only=True)
class PosterFormat:
    """width, height: pixels. top, bottom: shares of the height that stay free (a story's own controls lie there).
    named: whether each picture has its name under it; small: capitals of the least words, thousandths of the width."""

    width: int
    height: int
    top: float
    bottom: float
    named: bool
    small: float


#: A3 at 300 dots an inch, and A2 at 212: 297 x 420 mm. Telephones: a feed's and a story's usual sizes.
PAPER = PosterFormat(width=3508, height=4961, top=0.035, bottom=0.03, named=True, small=9.5)
FEED = PosterFormat(width=1080, height=1350, top=0.04, bottom=0.035, named=False, small=16.0)
STORY = PosterFormat(width=1080, height=1920, top=0.115, bottom=0.125, named=False, small=17.0)


def poster(pictures: Sequence[DatedFrame], words: MonthWords, shape: PosterFormat) -> ByteArray | NotFound:
    """(height, width, 3). pictures: at most one of each day. NotFound for none, or a sign that no typeface has."""
    if not pictures:
        return NotFound("sheet", "No picture of this lunation may be shown.", "Choose another one.")
    ordered = sorted(pictures, key=lambda p: p.day)
    page, u = Page(shape.width, shape.height), shape.width / 1000
    left, right = 55 * u, shape.width - 55 * u
    top = _head(page, words, shape, left, right)
    bottom = _foot(page, ordered, words, shape, left, right)
    _tiles(page, ordered, words, shape, (left, top, right, bottom))
    return page.finish()


def _head(page: Page, words: MonthWords, shape: PosterFormat, left: float, right: float) -> float:
    u, y = shape.width / 1000, shape.top * shape.height
    small = 1.15 * shape.small * u
    y = page.write(words.programme, left, y, 17 * u, width=right - left, colour=GOLD)
    y = page.write(words.title, left, y + 21 * u, 45 * u, width=right - left)
    half = 0.62 * (right - left)
    page.write(
        words.lunation, right, y + 23 * u, small * 1.1, width=0.36 * (right - left), colour=SOFT, weight=REGULAR,
        anchor="right",
    )  # fmt: skip
    y = page.write(words.span, left, y + 23 * u, small * 1.1, width=half, colour=SOFT, weight=REGULAR)
    page.draw(bar(left, y + 20 * u, right, y + 21.5 * u, GOLD, 0.85))
    return y + 34 * u


def _foot(
    page: Page, pictures: Sequence[DatedFrame], words: MonthWords, shape: PosterFormat, left: float, right: float
) -> float:
    """The row of evenings with its legend, and names where pictures have none under them; its y at the top."""
    u = shape.width / 1000
    small = shape.small * u
    rows = [] if shape.named else _name_rows(pictures, words, small, right - left)
    y = (1 - shape.bottom) * shape.height - small
    page.write(words.method, left, y, 0.86 * small, width=right - left, colour=QUIET, weight=REGULAR)
    y -= 1.9 * small
    page.draw(bar(left, y + 0.35 * small, left + 1.6 * small, y + 0.75 * small, GOLD))
    page.write(words.legend, left + 2.2 * small, y, 0.86 * small, width=right - left - 2.2 * small, colour=SOFT,
               weight=REGULAR)  # fmt: skip
    step = (right - left) / len(words.evenings)
    size = 2 * int(0.46 * step)
    y -= size + 2.2 * small
    dated = {p.day for p in pictures}
    for k, when in enumerate(words.evenings):
        moon = predicted_moon(aspect_at(when, None), max(2 * size, 48))
        moon = np.maximum(moon, np.where(moon > 0, np.uint8(NIGHT), np.uint8(0)))  # a new Moon is an evening too
        moon = np.asarray(cv2.resize(moon, (size, size), interpolation=cv2.INTER_AREA), np.uint8)
        shown = np.repeat(moon[..., None], 3, axis=2)
        x = left + k * step + (step - size) / 2
        page.lay(shown if k in dated else (shown * FAINT).astype(np.uint8), x, y)
        if k in dated:
            page.draw(bar(x + 0.1 * size, y + size + 0.5 * small, x + 0.9 * size, y + size + 0.9 * small, GOLD))
    y -= 1.2 * small
    for row in reversed(rows):
        y -= 2.0 * small
        for date, name, from_date, from_name in row:
            page.write(date, left + from_date, y, small, width=right - left, colour=GOLD, weight=REGULAR)
            page.write(name, left + from_name, y, small, width=right - left - from_name)
    return y - (1.6 * small if rows else 0.6 * small)


def _name_rows(
    pictures: Sequence[DatedFrame], words: MonthWords, cap: float, width: float
) -> list[list[tuple[str, str, float, float]]]:
    """Dates and names in rows, as many as they want: date, name, where each begins. Each is set by itself, so that
    names of another script and direction stand in nobody's way."""
    rows: list[list[tuple[str, str, float, float]]] = [[]]
    at = 0.0
    for p in pictures:
        date = words.days[p.day]
        wide, name = _width(date, cap, REGULAR), _width(p.words, cap, BOLD)
        if rows[-1] and at + wide + 0.7 * cap + name > width:
            rows.append([])
            at = 0.0
        rows[-1].append((date, p.words, at, at + wide + 0.7 * cap))
        at += wide + 0.7 * cap + name + 2.0 * cap
    return rows


def _width(words: str, cap: float, weight: int) -> float:
    line = set_line(words, cap / CAP, weight)
    return 0.0 if isinstance(line, NotFound) else line.ink.width


def grid(count: int, width: float, height: float, under: float) -> tuple[list[int], float]:
    """(pictures in each row, side of a picture's square) for the largest squares with so much room under each.

    >>> grid(5, 900.0, 900.0, 60.0)[0]
    [2, 3]
    """
    best: tuple[list[int], float] = ([count], 0.0)
    for rows in range(1, count + 1):
        across = ceil(count / rows)
        side = min(width / (across + APART * (across - 1)), height / rows - under)
        if side > best[1]:
            few, more = divmod(count, rows)
            best = [few + (rows - 1 - k < more) for k in range(rows)], side
    return best


def _tiles(
    page: Page,
    pictures: Sequence[DatedFrame],
    words: MonthWords,
    shape: PosterFormat,
    room: tuple[float, float, float, float],
) -> None:
    left, top, right, bottom = room
    u = shape.width / 1000
    least = (1.25 if shape.named else 0.95) * shape.small * u
    cap = least
    for _ in range(3):
        under = (7.0 if shape.named else 2.8) * cap
        rows, side = grid(len(pictures), right - left, bottom - top, under)
        side = min(side, 0.86 * (right - left))
        cap = least * min(max(side / (170 * u), 1.0) ** 0.6, MOST_GROWN)
    size = int(side)
    pose = pose_of_all(pictures, size)
    spare = (bottom - top - len(rows) * (side + under)) / (len(rows) + 1)
    every = iter(pictures)
    for row, count in enumerate(rows):
        y = top + spare + row * (side + under + spare)
        apart = min((right - left - count * side) / max(count - 1, 1), 0.14 * side)
        start = (left + right) / 2 - (count * side + (count - 1) * apart) / 2
        for k in range(count):
            picture = next(every)
            x = start + k * (side + apart)
            shown = into_frame(levelled(picture), framed_of(picture), pose, size)
            moon = shown.rgb.copy()
            moon[~shown.framed] = 0
            page.lay(moon, x, y)
            middle, below = x + side / 2, y + side + 0.5 * cap
            if shape.named:
                head = " · ".join(w for w in (words.numbers[picture.day], words.days[picture.day]) if w)
                below = page.write(head, middle, below, 0.82 * cap, width=side, colour=GOLD, weight=REGULAR,
                                   anchor="middle")  # fmt: skip
                page.write(picture.words, middle, below + 0.75 * cap, cap, width=0.98 * side, anchor="middle", most=2)
            else:
                page.write(words.days[picture.day], middle, below, cap, width=side, colour=GOLD, weight=REGULAR,
                           anchor="middle")  # fmt: skip
