"""Shapes as SVG documents: the desk's overlay, and a frame for air. No script, no style sheet, nothing loaded.

Lines, dots and texts are counted from pixels' centres and SVG counts from the corner of the first one: an overlay's
viewBox is shifted by half a pixel, in a frame they are. An overlay's texts carry their measured length, so that they
keep their box where the packaged font is not at hand; a frame's letters are outlines, so no typeface is wanted, and its
photograph is a JPEG of the frame's own pixels (nothing of the file that came in).

Names of a 1200 px wide page are a third as large on a phone: each layer of an overlay holds them a second time, fewer
and larger, in a group of class `narrow` that is not displayed unless a page's style sheet says so (and hides the group
`wide`).
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import replace
from html import escape

import cv2
import numpy as np

from moondesk.drawing.boxes import Inside
from moondesk.drawing.frame import AirFrame
from moondesk.drawing.labelled import LAYERS, OverlayStyle, compose
from moondesk.drawing.shapes import Dot, Fill, Path, RasterShape, Shape, TextShape
from moondesk.drawing.style import HALO, NARROW_SCALE
from moondesk.drawing.text import FONT_FAMILY, baselines, text_size
from moondesk.records import Annotation, ByteArray, FloatArray

#: Of the photograph within: no step of it is seen on a screen, at a tenth of the size without loss.
QUALITY = 93


def overlay_svg(annotation: Annotation, style: OverlayStyle | None = None, inside: Inside | None = None) -> str:
    """A standalone SVG document with a group for every layer of the style, id = the layer's name with hyphens.

    inside: which pixels are picture, where that is not the whole frame (see `turned`).
    """
    style = style or OverlayStyle()
    versions = [("wide", "", compose(annotation, style, inside))]
    if annotation.pose is not None:  # for narrow screens
        larger = replace(style.labels, text_scale=min(NARROW_SCALE * style.labels.text_scale, 4.0))
        versions.append(("narrow", ' display="none"', compose(annotation, replace(style, labels=larger), inside)))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-0.5 -0.5 {annotation.width} {annotation.height}" '
        f'width="{annotation.width}" height="{annotation.height}" font-family="{FONT_FAMILY}" font-weight="bold">'
    ]
    for layer, row in LAYERS.items():
        if layer not in style.layers:
            continue
        parts.append(f'<g id="{row.slug}">')
        for name, hidden, shapes in versions:
            mine = [s for s in shapes if s.layer == layer]
            if mine:
                parts.append(f'<g class="{name}"{hidden}>{markup(mine)}</g>')
        parts.append("</g>")
    return "\n".join([*parts, "</svg>\n"])


def frame_svg(frame: AirFrame) -> str:
    """A document with a group for each layer, its name as id; width and height are the frame's pixels."""
    w, h = frame.format.width, frame.format.height
    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" width="{w}" height="{h}">']
    for layer in frame.layers:
        title = f"<title>{escape(layer.title or layer.kind, quote=False)}</title>"
        parts.append(f'<g id="{escape(layer.name)}">{title}')
        for shape in layer.shapes:
            area = isinstance(shape, Fill | RasterShape)
            parts.append(_element(shape) if area else f'<g transform="translate(0.5 0.5)">{markup([shape])}</g>')
        parts.append("</g>")
    return "\n".join([*parts, "</svg>\n"])


def markup(shapes: Sequence[Shape]) -> str:
    """Shapes as SVG elements: the halos of all lines first."""
    return "\n".join([*(_halo(s) for s in shapes if isinstance(s, Path | Dot)), *(_element(s) for s in shapes)])


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _halo(shape: Path | Dot) -> str:
    if isinstance(shape, Dot):
        r = shape.radius_px + max(1.5, 0.7 * shape.radius_px)
        return f'<circle cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(r)}" fill="{HALO}" opacity="0.8"/>'
    return _element(replace(shape, colour=HALO, width_px=2 * shape.width_px + 2, opacity=0.5 * shape.opacity))


def _element(shape: Shape) -> str:
    if isinstance(shape, Fill):
        d = "".join(f"M{_points(o)}Z" for o in shape.outlines)
        opacity = "" if shape.opacity >= 1.0 else f' fill-opacity="{shape.opacity:g}"'
        letters = f' role="img" aria-label="{escape(shape.says)}"' if shape.says else ""
        if shape.halo:
            letters += (
                f' stroke="{shape.halo}" stroke-width="{_n(2 * shape.halo_px)}" stroke-opacity="0.88" '
                'stroke-linejoin="round" paint-order="stroke"'
            )
        return f'<path d="{d}" fill="{shape.colour}"{opacity}{letters}/>'
    if isinstance(shape, RasterShape):
        height, width = shape.pixels.shape[:2]
        kind, data = _pack(shape.pixels)
        return (
            f'<image x="{shape.x}" y="{shape.y}" width="{width}" height="{height}" '
            f'href="data:image/{kind};base64,{base64.b64encode(data).decode()}"/>'
        )
    if isinstance(shape, Dot):
        return f'<circle cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.radius_px)}" fill="{shape.colour}"/>'
    if isinstance(shape, Path):
        d = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in shape.points) + ("Z" if shape.closed else "")
        dash = f' stroke-dasharray="{" ".join(_n(v) for v in shape.dash)}"' if shape.dash else ""
        return (
            f'<path d="{d}" fill="none" stroke="{shape.colour}" stroke-width="{_n(shape.width_px)}" '
            f'opacity="{_n(shape.opacity)}"{dash}/>'
        )
    return _text(shape)


def _text(text: TextShape) -> str:
    turn = ""
    if abs(text.angle_deg) > 0.05:
        turn = f' transform="rotate({_n(-text.angle_deg)} {_n(text.x)} {_n(text.y)})"'
    lines = [
        f'<tspan x="{_n(text.x)}" y="{_n(text.y + offset)}" textLength="{_n(text_size(line, text.font_px)[0])}" '
        f'lengthAdjust="spacingAndGlyphs">{escape(line, quote=False)}</tspan>'
        for line, offset in zip(text.text.split("\n"), baselines(text.text, text.font_px), strict=True)
    ]
    return (
        f'<text text-anchor="middle" font-size="{_n(text.font_px)}" fill="{text.colour}" stroke="{HALO}" '
        f'stroke-width="{_n(max(4.0, 0.26 * text.font_px))}" stroke-opacity="0.8" stroke-linejoin="round" '
        f'paint-order="stroke"{turn}>{"".join(lines)}</text>'
    )


def _pack(pixels: ByteArray) -> tuple[str, bytes]:
    if pixels.shape[2] == 3:
        kind, array = "jpeg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
        done, data = cv2.imencode(".jpg", array, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    else:
        kind, array = "png", cv2.cvtColor(pixels, cv2.COLOR_RGBA2BGRA)
        done, data = cv2.imencode(".png", array)
    if not done:
        raise OSError(f"the {kind} encoder failed")
    return kind, np.asarray(data).tobytes()


def _points(outline: FloatArray) -> str:
    return "L".join(f"{x:.2f} {y:.2f}" for x, y in outline.tolist())
