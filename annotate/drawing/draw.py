"""Paints the overlay into a picture at full resolution, with a dark halo under every line and letter.

Each shape is a small mask of coverage, antialiased (lines by OpenCV at a sixteenth of a pixel, letters by Pillow),
laid over the pixels that it touches and no others: the time goes with the ink, not with the picture (20 to 120 ms).
"""

from __future__ import annotations

from collections.abc import Iterable

import cv2
import numpy as np
from PIL import Image, ImageDraw

from moondesk.drawing.boxes import Inside
from moondesk.drawing.font import baselines, font
from moondesk.drawing.shapes import Dot, Path, Shape, Text, compose
from moondesk.drawing.style import HALO, LAYERS, Layer, OverlayStyle
from moondesk.records import Annotation, ByteArray, FloatArray

_SHIFT = 4  # fractional bits of OpenCV's line coordinates


def draw_labelled(rgb: ByteArray, annotation: Annotation, style: OverlayStyle | None = None) -> ByteArray:
    """A copy of an (H, W, 3) picture, in the annotation's pixels, with the overlay on it."""
    _check(rgb, annotation)
    out = np.ascontiguousarray(rgb).copy()
    paint(out, compose(annotation, style))
    return out


def draw_layers(
    annotation: Annotation, style: OverlayStyle | None = None, inside: Inside | None = None
) -> dict[Layer, ByteArray]:
    """Each layer by itself as an (H, W, 4) array, transparent where nothing is drawn. inside: see `compose`."""
    shapes = compose(annotation, style, inside)
    layers = {}
    for layer in LAYERS:
        canvas = np.zeros((annotation.height, annotation.width, 4), np.uint8)
        paint(canvas, [s for s in shapes if s.layer == layer])
        layers[layer] = canvas
    return layers


def paint(canvas: ByteArray, shapes: Iterable[Shape]) -> None:
    """Paints shapes into an (H, W, 3) or (H, W, 4) array in place: halos under all lines first, then ink, then texts.

    A text's halo is laid over the lines, so that a line under a name is dimmed and not the name.
    """
    shapes = list(shapes)
    lines = [s for s in shapes if not isinstance(s, Text)]
    for shape in lines:
        _line_or_dot(canvas, shape, halo=True)
    for shape in lines:
        _line_or_dot(canvas, shape, halo=False)
    texts = [_text_mask(s) for s in shapes if isinstance(s, Text)]
    inks = [s.colour for s in shapes if isinstance(s, Text)]
    for x0, y0, _, halo in texts:
        _blend(canvas, x0, y0, halo, HALO)
    for (x0, y0, ink, _), colour in zip(texts, inks, strict=True):
        _blend(canvas, x0, y0, ink, colour)


def _check(rgb: ByteArray, annotation: Annotation) -> None:
    if rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.dtype != np.uint8:
        raise ValueError(f"the picture must be (H, W, 3) uint8, not {rgb.shape} {rgb.dtype}")
    if rgb.shape[:2] != (annotation.height, annotation.width):
        raise ValueError(
            f"the picture is {rgb.shape[1]} x {rgb.shape[0]}, its annotation is for "
            f"{annotation.width} x {annotation.height}: was the EXIF turn applied?"
        )


def _rgb(colour: str) -> FloatArray:
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], float)


def _blend(canvas: ByteArray, x0: int, y0: int, mask: ByteArray, colour: str) -> None:
    """Lays a colour over the canvas where mask (coverage, 0..255), whose corner is at (x0, y0), is not 0."""
    height, width = canvas.shape[:2]
    left, top = max(x0, 0), max(y0, 0)
    right, bottom = min(x0 + mask.shape[1], width), min(y0 + mask.shape[0], height)
    if left >= right or top >= bottom:
        return
    part = mask[top - y0 : bottom - y0, left - x0 : right - x0]
    rows, cols = np.nonzero(part)
    alpha = part[rows, cols].astype(np.float32)[:, None] / 255.0
    rows, cols = rows + top, cols + left
    ink = _rgb(colour).astype(np.float32)
    under = canvas[rows, cols].astype(np.float32)
    if canvas.shape[2] == 3:
        canvas[rows, cols] = np.rint(under + alpha * (ink - under)).astype(np.uint8)
        return
    below = under[:, 3:] / 255.0 * (1.0 - alpha)
    total = alpha + below
    mixed = (alpha * ink + below * under[:, :3]) / np.maximum(total, 1e-6)
    canvas[rows, cols] = np.rint(np.concatenate([mixed, 255.0 * total], axis=1)).astype(np.uint8)


def _line_or_dot(canvas: ByteArray, shape: Path | Dot, halo: bool) -> None:
    if isinstance(shape, Dot):
        extra = max(1.5, 0.7 * shape.radius_px) if halo else 0.0
        r = shape.radius_px + extra
        x0, y0 = int(np.floor(shape.x - r - 2)), int(np.floor(shape.y - r - 2))
        side = int(np.ceil(2 * r + 5))
        yy, xx = np.mgrid[0:side, 0:side]
        cover = np.clip(r + 0.5 - np.hypot(xx + x0 - shape.x, yy + y0 - shape.y), 0, 1) * (0.8 if halo else 1.0)
        _blend(canvas, x0, y0, np.rint(255 * cover).astype(np.uint8), HALO if halo else shape.colour)
        return
    points = np.asarray(shape.points, float)
    pieces = _dashes(points, shape.dash) if shape.dash else [points]
    thick = shape.width_px * 2.0 + 2.0 if halo else shape.width_px
    opacity = 0.5 * shape.opacity if halo else shape.opacity
    height, width = canvas.shape[:2]
    low = np.maximum(np.floor(points.min(axis=0) - thick - 2), [-8, -8]).astype(int)
    high = np.minimum(np.ceil(points.max(axis=0) + thick + 2), [width + 8, height + 8]).astype(int)
    if (high <= low).any():
        return
    x0, y0 = int(low[0]), int(low[1])
    # a thin line is drawn twice as large and shrunk: OpenCV's widths are whole pixels
    scale = 2 if thick < 6 else 1
    mask: ByteArray = np.zeros(((int(high[1]) - y0) * scale, (int(high[0]) - x0) * scale), np.uint8)
    fixed = [np.rint(((p - [x0, y0] + 0.5) * scale - 0.5) * 2**_SHIFT).astype(np.int32) for p in pieces if len(p) > 1]
    cv2.polylines(mask, fixed, shape.closed and not shape.dash, 255, max(1, round(thick * scale)), cv2.LINE_AA, _SHIFT)
    if scale == 2:
        half = (mask.shape[1] // 2, mask.shape[0] // 2)
        mask = np.asarray(cv2.resize(mask, half, interpolation=cv2.INTER_AREA), np.uint8)
    _blend(canvas, x0, y0, np.rint(mask * opacity).astype(np.uint8), HALO if halo else shape.colour)


def _dashes(points: FloatArray, dash: tuple[float, ...]) -> list[FloatArray]:
    """The strokes of a dashed line, as lines of their own."""
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    on, off = dash[0], dash[1]
    pieces = []
    for start in np.arange(0.0, at[-1], on + off):
        s = np.unique(np.concatenate([[start], at[(at > start) & (at < start + on)], [min(start + on, at[-1])]]))
        pieces.append(np.stack([np.interp(s, at, points[:, 0]), np.interp(s, at, points[:, 1])], axis=1))
    return pieces


def _text_mask(text: Text) -> tuple[int, int, ByteArray, ByteArray]:
    """(x0, y0, letters, halo) of a text: masks with their corner at pixel (x0, y0)."""
    turned = abs(text.angle_deg) > 0.05
    scale = 2.0 if turned else 1.0
    face = font(text.font_px * scale)
    halo_px = max(2.0, 0.13 * text.font_px)
    lines = text.text.split("\n")
    pad = 3.0 * halo_px + 2.0
    half_w, half_h = text.width_px / 2 + pad, 0.62 * text.font_px * len(lines) * 1.1 + pad
    w, h = int(np.ceil(2 * half_w * scale)), int(np.ceil(2 * half_h * scale))
    # the text's centre in the mask; level text keeps its fraction of a pixel
    x0, y0 = int(np.floor(text.x - half_w)), int(np.floor(text.y - half_h))
    cx, cy = (w / 2, h / 2) if turned else (text.x - x0 + 0.5, text.y - y0 + 0.5)
    ink, edge = Image.new("L", (w + 2, h + 2)), Image.new("L", (w + 2, h + 2))
    for line, offset in zip(lines, baselines(text.text, text.font_px), strict=True):
        at = (cx, cy + offset * scale)
        ImageDraw.Draw(ink).text(at, line, fill=255, font=face, anchor="ms")
        ImageDraw.Draw(edge).text(at, line, fill=255, font=face, anchor="ms", stroke_width=halo_px * scale * 0.8)
    letters, halo = np.array(ink), np.array(edge)
    if turned:
        t = np.radians(text.angle_deg)
        c, s = np.cos(t), np.sin(t)
        reach_x = int(np.ceil(half_w * abs(c) + half_h * abs(s))) + 1
        reach_y = int(np.ceil(half_w * abs(s) + half_h * abs(c))) + 1
        x0, y0 = int(np.floor(text.x)) - reach_x, int(np.floor(text.y)) - reach_y
        # from a pixel of the picture back to the mask, which is twice as large
        matrix = np.array([[c * scale, -s * scale, 0.0], [s * scale, c * scale, 0.0]])
        matrix[:, 2] = np.array([cx - 0.5, cy - 0.5]) - matrix[:, :2] @ np.array([text.x - x0, text.y - y0])
        size = (2 * reach_x + 2, 2 * reach_y + 2)
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        blurred = cv2.GaussianBlur(letters, (0, 0), 0.6)
        letters, halo = (
            cv2.warpAffine(blurred, matrix, size, flags=flags),
            cv2.warpAffine(halo, matrix, size, flags=flags),
        )
    soft = cv2.GaussianBlur(halo, (0, 0), 0.5 * halo_px)
    both = np.maximum(soft.astype(np.float32) * 0.85, halo.astype(np.float32) * 0.72)
    return x0, y0, letters, np.rint(both).astype(np.uint8)
