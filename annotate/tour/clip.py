"""The frames of a clip, one by one: views at rest and moves between them.

At each instant the picture is drawn where the camera has it. Names, rings and the ends of leaders travel with the ground
and fade: those of the view that is left at the start of a move, those of the view to come at its end; what a close-up is
about is ringed and named all the way. What stands in the margins (credit, scale) does not move; the scale counts at rest
alone, and the credit changes its lines at half of the way.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import cv2
import numpy as np

from moondesk.drawing.background import lay
from moondesk.drawing.broadcast import frame_layers
from moondesk.drawing.frame import AirFrame, Format, FrameRequest, slug
from moondesk.drawing.paint import paint
from moondesk.drawing.shapes import Shape
from moondesk.records import Annotation, ByteArray, Feature, Float32Array, FloatArray, NotFound, Pose
from moondesk.tour.camera import Camera, camera_for, lookup_of, pose_in
from moondesk.tour.moves import Move, affine_between, ease, make_move
from moondesk.tour.relit import RelitDisc
from moondesk.tour.rendered import caption, level_sky
from moondesk.tour.rider import rider
from moondesk.tour.spotlight import dimmed, light_mask
from moondesk.tour.views import Tour, View, ViewKind, request_for

#: What stands in the margins, by the kinds of layers; all else travels with the Moon.
STAYS = frozenset({"credit", "scale", "inset"})
#: Shares of a move during which what was named fades out, and from when on what is to be named fades in.
_OUT, _IN = 0.22, 0.78
#: Where the credit is set otherwise after a move, the one is gone at half of it and the other comes: never both at once.
_CREDIT = 0.07
#: Letters are as opaque as this, a ground under them is not.
_LETTERS = 0.9
#: A layer that is revealed fades in within so many seconds; the next begins so much later; all stand after so much of
#: the view's time.
_FADE_S, _NEXT_S, _ALL_BY = 0.4, 0.45, 0.5
#: Seconds that a picture stands before its light moves, and after.
RELIT_BEFORE_S, RELIT_AFTER_S = 1.5, 2.5


@dataclass(frozen=True, eq=False, kw_only=True)
class Sheet:
    """A layer as pixels: (h, w, 4) float32 0..1, alpha multiplied in, its corner at (x, y) of the frame. begins_s: when
    it is revealed after its view has begun; base: it stands from the start."""

    x: int
    y: int
    pixels: Float32Array
    stays: bool = False
    credit: bool = False
    base: bool = True
    begins_s: float = 0.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Shot:
    """A view as it is drawn at rest. camera: None where the picture is not placed; ground: (H, W, 3)."""

    view: View
    camera: Camera | None
    ground: ByteArray
    sheets: tuple[Sheet, ...]
    feature: Feature | None


@dataclass(frozen=True, eq=False, kw_only=True)
class Clip:
    """What is to be drawn. whole: what is asked of the picture's own frame, with its format and all words. rate: frames
    a second, exact. bare: layers alone over nothing, for key and fill."""

    rgb: ByteArray
    annotation: Annotation
    whole: FrameRequest
    tour: Tour
    rate: Fraction
    bare: bool = False

    @property
    def format(self) -> Format:
        return self.whole.format

    @property
    def seconds(self) -> Fraction:
        return self.count / self.rate

    @property
    def count(self) -> int:
        """How many frames it has."""
        told = sum(v.seconds + (v.move_s if k else 0.0) for k, v in enumerate(self.tour))
        return max(1, round(Fraction(told).limit_denominator(1000) * self.rate))


def why_not_drawn(clip: Clip) -> NotFound | None:
    """Why a view of the clip cannot be drawn; None where all can."""
    for view in clip.tour:
        wanted = request_for(view, clip.annotation, clip.whole)
        if isinstance(wanted, NotFound):
            return wanted
    return None


def frames(clip: Clip) -> Iterator[ByteArray]:
    """Its frames in order, each (H, W, 4) uint8, alpha not multiplied in. Two views are kept at a time. ValueError for
    a view that cannot be drawn: see `why_not_drawn`."""
    clip = replace(clip, rgb=level_sky(clip.rgb, clip.annotation))
    shot = _must(shoot(clip, clip.tour[0]))
    drawn = begun = 0.0
    count = 0
    for k, view in enumerate(clip.tour):
        begun = drawn
        drawn = begun + view.seconds
        still: ByteArray | None = None
        at, until = 0.0, _settled(shot)
        while count / clip.rate < drawn - 1e-9 and count < clip.count:
            since = float(count / clip.rate) - begun
            if still is None or at < until:
                still = _rest(clip, shot, since, k > 0 and view.move_s > 0.0)
            at = since
            yield still
            count += 1
        if k + 1 == len(clip.tour):
            while count < clip.count and still is not None:  # a rounded last frame
                yield still
                count += 1
            return
        coming = _must(shoot(clip, clip.tour[k + 1]))
        length = coming.view.move_s
        while count / clip.rate < drawn + length - 1e-9 and count < clip.count:
            yield _moving(clip, shot, coming, (float(count / clip.rate) - drawn) / length)
            count += 1
        drawn += length
        shot = coming


def _must(shot: Shot | NotFound) -> Shot:
    if isinstance(shot, NotFound):
        raise ValueError(f"{shot.reason} {shot.advice}")
    return shot


def shoot(clip: Clip, view: View) -> Shot | NotFound:
    """A view as it is at rest; NotFound where it cannot be drawn."""
    wanted = request_for(view, clip.annotation, clip.whole)
    if isinstance(wanted, NotFound):
        return wanted
    frame = frame_layers(clip.rgb, clip.annotation, wanted)
    if isinstance(frame, NotFound):
        return frame
    picture, *layers = frame.layers
    ground = np.zeros((clip.format.height, clip.format.width, 4), np.uint8)
    paint(ground, picture.shapes)
    feature = next((m.feature for m in clip.annotation.features if m.feature.name == view.feature), None)
    shown = replace(frame, layers=tuple(x for x in layers if x.base or x.kind in STAYS or view.shows_names))
    return Shot(
        view=view,
        camera=camera_for(clip.annotation, wanted),
        ground=np.ascontiguousarray(ground[..., :3]),
        sheets=_sheets(shown, view),
        feature=feature,
    )


def _sheets(frame: AirFrame, view: View) -> tuple[Sheet, ...]:
    own = slug(f"feature-{view.feature}")
    revealed = sorted((layer for layer in frame.layers if not layer.base), key=lambda layer: layer.name != own)
    step = min(_NEXT_S, _ALL_BY * view.seconds / max(len(revealed), 1))
    found = []
    for layer in frame.layers:
        sheet = _painted(layer.shapes, frame.format)
        if sheet is not None:
            begins = 0.0 if layer.base else step * revealed.index(layer)
            found.append(
                replace(
                    sheet, stays=layer.kind in STAYS, credit=layer.kind == "credit", base=layer.base, begins_s=begins
                )
            )
    return tuple(found)


def _painted(shapes: Iterable[Shape], fmt: Format) -> Sheet | None:
    """Shapes as a sheet no larger than their ink; None without any."""
    canvas = np.zeros((fmt.height, fmt.width, 4), np.uint8)
    paint(canvas, shapes)
    alpha = canvas[..., 3]
    rows, columns = np.flatnonzero(alpha.max(axis=1)), np.flatnonzero(alpha.max(axis=0))
    if not len(rows):
        return None
    part = canvas[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1].astype(np.float32) / np.float32(255)
    part[..., :3] *= part[..., 3:]
    return Sheet(x=int(columns[0]), y=int(rows[0]), pixels=part)


def _settled(shot: Shot) -> float:
    """Seconds after which all is revealed."""
    return max((s.begins_s for s in shot.sheets if not s.base), default=-_FADE_S) + _FADE_S


class _Canvas:
    """A frame while it is drawn: (H, W, 4) float32, alpha multiplied in."""

    def __init__(self, clip: Clip, ground: ByteArray | None) -> None:
        self.pixels = np.zeros((clip.format.height, clip.format.width, 4), np.float32)
        if ground is not None:
            self.pixels[..., :3] = ground.astype(np.float32) / 255.0
            self.pixels[..., 3] = 1.0

    def add(self, sheet: Sheet, opacity: float, matrix: FloatArray | None = None) -> None:
        """A sheet laid over it; matrix: (2, 3), where its pixels go (corner coordinates); None: they stay."""
        if opacity <= 0.0:
            return
        pixels, x, y = sheet.pixels, sheet.x, sheet.y
        if matrix is not None:
            pixels, x, y = _warp(sheet, matrix, self.pixels.shape[:2])
        height, width = self.pixels.shape[:2]
        left, top = max(x, 0), max(y, 0)
        right, bottom = min(x + pixels.shape[1], width), min(y + pixels.shape[0], height)
        if left < right and top < bottom:
            part = pixels[top - y : bottom - y, left - x : right - x] * np.float32(opacity)
            place = self.pixels[top:bottom, left:right]
            place *= 1.0 - part[..., 3:]
            place += part

    def shade(self, mask: Float32Array, strength: float) -> None:
        """The spotlight's shade laid over it."""
        alpha = dimmed(mask, strength)[..., 3:].astype(np.float32) / 255.0
        self.pixels *= 1.0 - alpha
        self.pixels[..., 3:] += alpha

    def done(self) -> ByteArray:
        """(H, W, 4) uint8, alpha not multiplied in."""
        alpha = self.pixels[..., 3:]
        straight = self.pixels / np.maximum(alpha, 1e-6)
        straight[..., 3:] = alpha
        return np.asarray(np.rint(np.clip(straight, 0.0, 1.0) * 255.0), np.uint8)


def _warp(sheet: Sheet, matrix: FloatArray, size: tuple[int, int]) -> tuple[Float32Array, int, int]:
    """A sheet's pixels where a matrix takes them, within the frame: pixels and their corner."""
    h, w = sheet.pixels.shape[:2]
    corners = np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])
    corners += [sheet.x, sheet.y]
    there = corners @ matrix[:, :2].T + matrix[:, 2]
    x0, y0 = np.maximum(np.floor(there.min(axis=0)).astype(int) - 1, 0)
    x1, y1 = np.minimum(np.ceil(there.max(axis=0)).astype(int) + 1, size[::-1])
    if x1 <= x0 or y1 <= y0:
        return np.zeros((0, 0, 4), np.float32), 0, 0
    # OpenCV counts from pixels' centres
    own = matrix.copy()
    own[:, 2] += matrix[:, :2] @ [sheet.x + 0.5, sheet.y + 0.5] - [x0 + 0.5, y0 + 0.5]
    moved = cv2.warpAffine(sheet.pixels, own, (int(x1 - x0), int(y1 - y0)), flags=cv2.INTER_LINEAR)
    return np.asarray(moved, np.float32), int(x0), int(y0)


def _rest(clip: Clip, shot: Shot, since: float, arrived: bool) -> ByteArray:
    """A view at rest, so many seconds after it has begun; arrived: by a move of the camera."""
    canvas = _Canvas(clip, None if clip.bare else shot.ground)
    if shot.camera is not None:
        _dim(canvas, clip, shot, shot.camera, 1.0)
    for sheet in shot.sheets:
        canvas.add(sheet, 1.0 if sheet.base else min(max((since - sheet.begins_s) / _FADE_S, 0.0), 1.0))
    if arrived and since < _FADE_S and shot.view.kind is ViewKind.CLOSE_UP and shot.feature and shot.camera:
        name = _rider(clip, shot.feature, shot.camera)
        if name is not None:
            canvas.add(name, 1.0 - since / _FADE_S)
    return canvas.done()


def _pose(clip: Clip) -> Pose:
    assert clip.annotation.pose is not None
    return clip.annotation.pose


def move_between(clip: Clip, before: Shot, after: Shot) -> Move | None:
    """The move from one view to the next; None where one is not placed."""
    pose = clip.annotation.pose
    if pose is None or before.camera is None or after.camera is None:
        return None
    about = [s.feature if s.view.kind is ViewKind.CLOSE_UP else None for s in (before, after)]
    return make_move(pose, before.camera, after.camera, clip.format, *about)


def _moving(clip: Clip, before: Shot, after: Shot, t: float) -> ByteArray:
    """A move after a share of its time."""
    move = move_between(clip, before, after)
    if move is None:
        return _dissolving(clip, before, after, ease(t))
    camera, pose = move.at(t), _pose(clip)
    still = move.start == move.end
    canvas = _Canvas(clip, None if clip.bare else before.ground if still else ground_at(clip, camera))
    seen = camera.hand == 1.0 and camera.lens == 0.0  # as the eye sees it: features can be pointed at
    if seen:
        _dim(canvas, clip, before, camera, 1.0 - ease(t))
        _dim(canvas, clip, after, camera, ease(t))
    leaves, comes = 1.0 - ease((t - 0.5 + _CREDIT) / _CREDIT), ease((t - 0.5) / _CREDIT)
    if _same_lines(before, after):
        leaves, comes = 1.0 - ease(2.0 * t - 1.0), ease(2.0 * t)
    for shot, home, fades, credit in (
        (before, move.start, 1.0 - ease(t / _OUT), leaves),
        (after, move.end, ease((t - _IN) / (1.0 - _IN)), comes),
    ):
        matrix = _between(home, camera, pose)
        for sheet in shot.sheets:
            if shot is after and not sheet.base:
                continue  # is revealed when its view has begun
            if not sheet.stays:
                canvas.add(sheet, fades, matrix)
            elif not _is_among(sheet, after if shot is before else before):
                canvas.add(sheet, credit if sheet.credit else fades)
            elif shot is after:
                canvas.add(sheet, 1.0)
    about = after if after.view.kind is ViewKind.CLOSE_UP else before
    if seen and about.feature is not None and about.view.kind is ViewKind.CLOSE_UP:
        name = _rider(clip, about.feature, camera)
        if name is not None:
            leaving = 1.0 - ease((t - _IN) / (1.0 - _IN)) if about is before else 1.0
            canvas.add(name, min(ease(t / _OUT), leaving))
    return canvas.done()


def _dissolving(clip: Clip, before: Shot, after: Shot, share: float) -> ByteArray:
    """Between views that no camera joins."""
    ground = before.ground + np.float32(share) * (after.ground.astype(np.float32) - before.ground)
    canvas = _Canvas(clip, None if clip.bare else np.rint(ground).astype(np.uint8))
    for shot, opacity in ((before, 1.0 - share), (after, share)):
        for sheet in shot.sheets:
            canvas.add(sheet, opacity if shot is before or sheet.base else 0.0)
    return canvas.done()


def _dim(canvas: _Canvas, clip: Clip, shot: Shot, camera: Camera, strength: float) -> None:
    if shot.view.spotlight and shot.feature is not None and strength > 0.0:
        canvas.shade(light_mask(shot.feature, pose_in(camera, _pose(clip)), clip.format), strength)


def ground_at(clip: Clip, camera: Camera) -> ByteArray:
    """The picture as a camera on its way has it, (H, W, 3)."""
    pose = _pose(clip)
    return lay(clip.rgb, lookup_of(camera, pose), clip.format, pose.radius_px / camera.radius_px).rgb


def _between(home: Camera, camera: Camera, pose: Pose) -> FloatArray:
    """(2, 3): what takes a view's own frame to where another camera has the picture."""
    a, b, c, d, e, f = affine_between(home, camera, pose)
    return np.array([[a, c, e], [b, d, f]])


def _is_among(sheet: Sheet, others: Shot) -> bool:
    """Whether the same stands in the same place in another view: then it stands through the move."""
    return any(
        s.stays and (s.x, s.y, s.base) == (sheet.x, sheet.y, sheet.base) and np.array_equal(s.pixels, sheet.pixels)
        for s in others.sheets
    )


def _same_lines(before: Shot, after: Shot) -> bool:
    """Whether both credits have the same letters in the same place, be it on another ground: then one of them stands
    whole all the way."""
    boxes = []
    for shot in (before, after):
        for sheet in shot.sheets:
            if sheet.credit:
                rows, columns = np.nonzero(sheet.pixels[..., 3] > _LETTERS)
                if len(rows):
                    boxes.append(
                        (sheet.x + columns.min(), sheet.x + columns.max(), sheet.y + rows.min(), sheet.y + rows.max())
                    )
    return len(boxes) == 2 and bool(np.abs(np.subtract(boxes[0], boxes[1])).max() <= 1)


def _rider(clip: Clip, feature: Feature, camera: Camera) -> Sheet | None:
    """The ring and the name that stay with a feature while the camera moves."""
    title = clip.whole.texts.names.get(feature.name, feature.name).split("\n")[-1]
    shapes = rider(feature, title, pose_in(camera, _pose(clip)), clip.format, clip.whole.theme)
    return _painted(shapes, clip.format)


def relit_frames(clip: Clip, hours: float, seconds: float, words: str) -> Iterator[ByteArray]:
    """The picture upright, first as it was taken, then its light moving on by so many hours in so many seconds. words:
    what says that it is a rendering; they stand before anything moves, and to the end. ValueError without them, and for
    a picture that cannot be lit anew (see `why_not_relit`) or words without letters."""
    clip = replace(clip, rgb=level_sky(clip.rgb, clip.annotation))
    shot = _must(shoot(clip, View(kind=ViewKind.UPRIGHT)))
    moon_x = shot.camera.x if shot.camera else 0.0
    said = _painted(caption(words, clip.format, clip.whole.theme, moon_x), clip.format)
    if said is None or shot.camera is None:
        raise ValueError("a rendering bears words that say so, and wants a placed picture")
    disc, drawn, ground = RelitDisc(clip.rgb, clip.annotation), -1.0, shot.ground
    for n in range(relit_count(clip.rate, seconds)):
        t = float(n / clip.rate)
        share = ease((t - RELIT_BEFORE_S) / seconds)
        if share != drawn:
            lit = replace(clip, rgb=disc.at(hours * share))
            ground, drawn = shot.ground if share == 0.0 else ground_at(lit, shot.camera), share
        canvas = _Canvas(clip, ground)
        for sheet in shot.sheets:
            canvas.add(sheet, 1.0)
        canvas.add(said, min(1.0, max(0.0, (t - RELIT_BEFORE_S + 2 * _FADE_S) / _FADE_S)))
        yield canvas.done()


def relit_count(rate: Fraction, seconds: float) -> int:
    """How many frames `relit_frames` gives."""
    return round(Fraction(RELIT_BEFORE_S + seconds + RELIT_AFTER_S).limit_denominator(1000) * rate)
