"""The photograph inside a screenshot: found by the flat paper round it, cut out, and what is placed in it put back.

A phone's or computer's surface is drawn: large areas of exactly one value, with straight edges along rows and columns.
No lens makes such. Where such areas reach in from the picture's border, what they leave is the photograph, provided
that it fills its rectangle and meets it in straight sides. A black sky that was clipped is flat too, but what it
leaves is round. Surfaces are stacked (status line, header, chat, bubble), so that the search goes on in what was found.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from moondesk.files.picture import decode
from moondesk.files.picture_file import PictureFile
from moondesk.records import Annotation, Float32Array, FloatArray, NotFound, Picture, PictureRegion, TimeReadings

#: Levels of an 8-bit file within which an area is of one value.
SAME = 1.6
#: Share of the picture's border line that must be of one value before anything is searched for.
FLAT_LINE = 0.9
#: Of the rectangle, the photograph fills at least this share (corners may be rounded); of its sides, it lies along it.
FILLS, ALONG = 0.92, 0.7
#: The same on the first, coarse look.
LOOSE = (0.82, 0.4)
#: The photograph is at least this share of the picture, and each of its sides this many working pixels.
LEAST_SHARE, LEAST_SIDE = 0.05, 80
#: Drawn things left and right, above and below (letters, signs) that tell a screenshot from a plain border.
SIGNS = 4
#: Nothing is decoded more finely than this for the sake of a small photograph in a large surface.
MOST_PX = 4096
#: Longer side to shorter one of a phone's screen, at least (16:9).
PHONE_ASPECT = 1.7


@dataclass(frozen=True, kw_only=True)
class PhotographBox:
    """A rectangle of the displayed picture at full resolution: x0, y0 included, x1, y1 not. drawn: the surround is a
    screen's, with signs or in several layers; else a plain border."""

    x0: int
    y0: int
    x1: int
    y1: int
    drawn: bool


def photograph_in(picture: Picture) -> PhotographBox | None:
    """The photograph's rectangle inside a screenshot or border; None where the picture is a photograph itself."""
    shown = picture.luminance
    height, width = shown.shape
    x0, y0, x1, y1, layers, signs = 0, 0, width, height, 0, 0
    while layers < 5:
        part = shown[y0:y1, x0:x1]
        # every second pixel tells a round rest from a rectangle: a clipped black sky ends here, cheaply
        if not _has_flat_border(part) or _inner(_levels(part[::2, ::2]), LOOSE, LEAST_SIDE // 2) is None:
            break
        found = _inner(_levels(part))
        if found is None:
            break
        (left, top, right, bottom), more = found
        # the line on a side is part surround, part inside: it is left out
        x1, y1 = (x1 if right == x1 - x0 else x0 + right - 1), (y1 if bottom == y1 - y0 else y0 + bottom - 1)
        x0, y0 = x0 + left + (left > 0), y0 + top + (top > 0)
        layers, signs = layers + 1, signs + more
        if (x1 - x0) * (y1 - y0) < LEAST_SHARE * width * height:
            return None
    if not layers:
        return None
    tall = max(width, height) >= PHONE_ASPECT * min(width, height)
    k = picture.shrink
    return PhotographBox(
        x0=round(x0 * k),
        y0=round(y0 * k),
        x1=round(x1 * k) if x1 < width else picture.width,
        y1=round(y1 * k) if y1 < height else picture.height,
        drawn=signs >= SIGNS or layers > 1 or tall,
    )


def decode_part(
    data: bytes | PictureFile, box: PhotographBox, longest_px: int, first: Picture | None = None
) -> Picture | NotFound:
    """As `decode`, of the rectangle alone, its longer side about `longest_px` where the file has so many.

    first: the whole picture so decoded, where it is at hand.
    """
    whole = first or decode(data, longest_px)
    if isinstance(whole, NotFound):
        return whole
    share = max(box.x1 - box.x0, box.y1 - box.y0) / max(whole.width, whole.height)
    if whole.shrink > 1.0 and share < 0.9:
        finer = decode(data, min(round(longest_px / share), MOST_PX))
        whole = finer if isinstance(finer, Picture) else whole
    return cut_out(whole, box)


def cut_out(picture: Picture, box: PhotographBox) -> Picture:
    """The part of a decoded picture within the box, at whole working pixels, as a picture of its own."""
    k = picture.shrink
    x0, y0 = int(np.ceil(box.x0 / k - 1e-6)), int(np.ceil(box.y0 / k - 1e-6))
    x1, y1 = max(int(box.x1 / k + 1e-6), x0 + 1), max(int(box.y1 / k + 1e-6), y0 + 1)
    luminance = np.ascontiguousarray(picture.luminance[y0:y1, x0:x1])
    redness = None if picture.redness is None else np.ascontiguousarray(picture.redness[y0:y1, x0:x1])
    for array in (luminance, redness):
        if array is not None:
            array.setflags(write=False)
    return replace(
        picture,
        luminance=luminance,
        redness=redness,
        width=round(luminance.shape[1] * k),
        height=round(luminance.shape[0] * k),
        cut_from=(x0 * k, y0 * k, picture.width, picture.height),
    )


def put_back(part: Annotation, picture: Picture) -> Annotation:
    """An annotation of a picture that may be cut out, as one of the whole."""
    if picture.cut_from is None:
        return part
    dx, dy, width, height = picture.cut_from
    whole = replace(shift_annotation(part, dx, dy), width=width, height=height)
    return replace(whole, photograph=PictureRegion(dx, dy, part.width, part.height))


def shift_annotation(annotation: Annotation, dx: float, dy: float) -> Annotation:
    """All that lies in the picture moved by so many pixels."""
    pose, limb, stop = annotation.pose, annotation.limb, annotation.field_stop
    if pose is not None:
        pose = replace(pose, x=pose.x + dx, y=pose.y + dy, axis_x=pose.axis_x + dx, axis_y=pose.axis_y + dy)
    return replace(
        annotation,
        pose=pose,
        field_stop=None if stop is None else replace(stop, x=stop.x + dx, y=stop.y + dy),
        limb=None if limb is None else replace(limb, x=limb.x + dx, y=limb.y + dy),
        features=tuple(replace(m, x=m.x + dx, y=m.y + dy) for m in annotation.features),
    )


def without_own_clock(taken: TimeReadings) -> TimeReadings:
    """What a screenshot's file says of time: nothing of the photograph, only when the screenshot was made."""
    told = tuple(c for c in taken.candidates if c.source in ("told", "letter"))
    if len(told) == len(taken.candidates) and taken.local_text is None and not taken.confirmed_by:
        return taken
    made = "The file is a screenshot: its own time, which says when that was made, is not used."
    return replace(taken, candidates=told, local_text=None, confirmed_by="", remarks=(*taken.remarks, made))


def _levels(luminance: Float32Array) -> Float32Array:
    """Values of an 8-bit sRGB file (IEC 61966-2-1), not rounded."""
    light = np.clip(luminance, 0.0, 1.0).astype(np.float32)
    bent = np.asarray(cv2.pow(light, 1 / 2.4)).reshape(light.shape)
    return np.asarray(255.0 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * bent - 0.055), np.float32)


def _borders(array: FloatArray | Float32Array) -> list[FloatArray]:
    """The border lines, one pixel inside: top, bottom, left, right."""
    return [np.asarray(line, float) for line in (array[1], array[-2], array[:, 1], array[:, -2])]


def _has_flat_border(luminance: Float32Array) -> bool:
    if min(luminance.shape) < LEAST_SIDE:
        return False
    for line in _borders(luminance):
        levels = _levels(line.astype(np.float32))
        if np.mean(np.abs(levels - np.median(levels)) < SAME) > FLAT_LINE:
            return True
    return False


def _inner(
    levels: Float32Array, shape: tuple[float, float] = (FILLS, ALONG), least_side: int = LEAST_SIDE
) -> tuple[tuple[int, int, int, int], int] | None:
    """The rectangle that flat areas about it leave, and how many small things stand in them."""
    box3 = np.ones((3, 3), np.uint8)
    flat = cv2.dilate(levels, box3) - cv2.erode(levels, box3) < SAME
    lines = [float(np.median(line)) for line in _borders(levels)]
    # across first: bars above and below a photograph as wide as the screen, whose own sky may be flat too
    for sides in ((0, 1), (2, 3), (0, 1, 2, 3)):
        paper = _paper(levels, flat, [(s, lines[s]) for s in sides])
        if paper is None:
            continue
        found = _rectangle(cv2.dilate(paper, box3) == 0, levels, shape, least_side)
        if found is not None:
            return found
    return None


def _paper(levels: Float32Array, flat: np.ndarray, sides: list[tuple[int, float]]) -> np.ndarray | None:
    """Flat areas of one value that reach in from the given sides along nearly their whole length."""
    height, width = levels.shape
    paper = np.zeros((height, width), np.uint8)
    for side, value in sides:
        area = (flat & (np.abs(levels - value) < SAME)).astype(np.uint8)
        edge = _borders(area)[side]
        if edge.mean() < FLAT_LINE - 0.1:
            continue
        _, labels = cv2.connectedComponents(area, connectivity=4)
        touching = _borders(labels)[side].astype(int)
        names = np.unique(touching[touching > 0])
        paper |= np.isin(labels, names).astype(np.uint8)
    return paper if paper.mean() > 0.02 else None


def _rectangle(
    rest: np.ndarray, levels: Float32Array, shape: tuple[float, float], least_side: int
) -> tuple[tuple[int, int, int, int], int] | None:
    height, width = rest.shape
    mask = rest.astype(np.uint8)
    letters, *_ = cv2.connectedComponents(mask, connectivity=4)
    # letters that touch the photograph are thin and fall away
    mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((7, 7), np.uint8)), np.uint8)
    n, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    if n < 2:
        return None
    k = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    x, y, w, h, _ = (int(v) for v in stats[k])
    if min(w, h) < least_side or (w > 0.98 * width and h > 0.98 * height):
        return None
    part = (labels[y : y + h, x : x + w] == k).astype(np.uint8)
    outline, _ = cv2.findContours(part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    cv2.drawContours(part, outline, -1, 1, cv2.FILLED)
    if part.mean() < shape[0]:
        return None
    slack = max(3, round(0.012 * max(w, h)))
    reached = (
        part[:slack].any(axis=0),
        part[-slack:].any(axis=0),
        part[:, :slack].any(axis=1),
        part[:, -slack:].any(axis=1),
    )
    if min(float(side.mean()) for side in reached) < shape[1]:
        return None
    return _sharpen_box(levels, (x, y, x + w, y + h), slack), letters - 2


def _sharpen_box(levels: Float32Array, box: tuple[int, int, int, int], slack: int) -> tuple[int, int, int, int]:
    """Each side moved to the straightest step within reach: a JPEG's ringing stands off it by up to a block."""
    height, width = levels.shape
    x0, y0, x1, y1 = box
    inset_x, inset_y = (x1 - x0) // 6, (y1 - y0) // 6  # the corners may be rounded

    def best(lines: Float32Array, at: int, size: int) -> int:
        """lines: (size, M) across the side; at: the side."""
        if at in (0, size):
            return at
        low, high = max(at - slack, 1), min(at + slack + 1, size)
        step = np.median(np.abs(np.diff(lines[low - 1 : high], axis=0)), axis=1)
        k = int(np.argmax(step))
        return low + k if step[k] > 4 * SAME and step[k] > 3 * np.median(step) else at

    across, along = levels[:, x0 + inset_x : x1 - inset_x], levels[y0 + inset_y : y1 - inset_y, :].T
    return best(along, x0, width), best(across, y0, height), best(along, x1, width), best(across, y1, height)
