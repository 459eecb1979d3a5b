"""The overlay as an SVG document: the same shapes, one group per layer, to lie over the picture.

The viewBox is the picture's pixels, shifted by half a pixel: SVG counts from the corner of the first pixel, we from its
centre. No script, no style sheet, nothing loaded from elsewhere. Each text carries its measured length, so that it
keeps its box where the packaged font is not at hand.

Names of a 1200 px wide page are a third as large on a phone: each layer holds them a second time, fewer and larger, in
a group of class `narrow` that is not displayed unless a page's style sheet says so (and hides the group `wide`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from html import escape

from moondesk.drawing.boxes import Inside
from moondesk.drawing.font import FONT_FAMILY, baselines, text_size
from moondesk.drawing.shapes import Dot, Path, Shape, Text, compose
from moondesk.drawing.style import HALO, LAYERS, NARROW_SCALE, OverlayStyle
from moondesk.records import Annotation


def overlay_svg(annotation: Annotation, style: OverlayStyle | None = None, inside: Inside | None = None) -> str:
    """A standalone SVG document with a group for every layer of the style, id = the layer's name with hyphens.

    inside: which pixels are picture, where that is not the whole frame (see `turned`).
    """
    style = style or OverlayStyle()
    versions = [("wide", "", compose(annotation, style, inside))]
    if annotation.pose is not None:
        versions.append(("narrow", ' display="none"', _for_narrow_screens(annotation, style, inside)))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-0.5 -0.5 {annotation.width} {annotation.height}" '
        f'width="{annotation.width}" height="{annotation.height}" font-family="{FONT_FAMILY}" font-weight="bold">'
    ]
    for layer in LAYERS:
        if layer not in style.layers:
            continue
        parts.append(f'<g id="{layer.replace(" ", "-")}">')
        for name, hidden, shapes in versions:
            mine = [s for s in shapes if s.layer == layer]
            if mine:
                parts.append(f'<g class="{name}"{hidden}>{markup(mine)}</g>')
        parts.append("</g>")
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def markup(shapes: Sequence[Shape]) -> str:
    """Shapes as SVG elements: the halos of all lines first."""
    return "\n".join([*(_halo(s) for s in shapes if not isinstance(s, Text)), *(_element(s) for s in shapes)])


def _for_narrow_screens(annotation: Annotation, style: OverlayStyle, inside: Inside | None) -> tuple[Shape, ...]:
    labels = replace(style.labels, text_scale=min(NARROW_SCALE * style.labels.text_scale, 4.0))
    return compose(annotation, replace(style, labels=labels), inside)


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _d(path: Path) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in path.points) + ("Z" if path.closed else "")


def _halo(shape: Path | Dot) -> str:
    if isinstance(shape, Dot):
        r = shape.radius_px + max(1.5, 0.7 * shape.radius_px)
        return f'<circle cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(r)}" fill="{HALO}" opacity="0.8"/>'
    dash = f' stroke-dasharray="{" ".join(_n(v) for v in shape.dash)}"' if shape.dash else ""
    return (
        f'<path d="{_d(shape)}" fill="none" stroke="{HALO}" stroke-width="{_n(2 * shape.width_px + 2)}" '
        f'opacity="{_n(0.5 * shape.opacity)}"{dash}/>'
    )


def _element(shape: Shape) -> str:
    if isinstance(shape, Dot):
        return f'<circle cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.radius_px)}" fill="{shape.colour}"/>'
    if isinstance(shape, Path):
        dash = f' stroke-dasharray="{" ".join(_n(v) for v in shape.dash)}"' if shape.dash else ""
        return (
            f'<path d="{_d(shape)}" fill="none" stroke="{shape.colour}" stroke-width="{_n(shape.width_px)}" '
            f'opacity="{_n(shape.opacity)}"{dash}/>'
        )
    halo = max(4.0, 0.26 * shape.font_px)
    turn = ""
    if abs(shape.angle_deg) > 0.05:
        turn = f' transform="rotate({_n(-shape.angle_deg)} {_n(shape.x)} {_n(shape.y)})"'
    lines = []
    for line, offset in zip(shape.text.split("\n"), baselines(shape.text, shape.font_px), strict=True):
        width, _ = text_size(line, shape.font_px)
        lines.append(
            f'<tspan x="{_n(shape.x)}" y="{_n(shape.y + offset)}" textLength="{_n(width)}" '
            f'lengthAdjust="spacingAndGlyphs">{escape(line, quote=False)}</tspan>'
        )
    return (
        f'<text text-anchor="middle" font-size="{_n(shape.font_px)}" fill="{shape.colour}" stroke="{HALO}" '
        f'stroke-width="{_n(halo)}" stroke-opacity="0.8" stroke-linejoin="round" paint-order="stroke"{turn}>'
        f"{''.join(lines)}</text>"
    )
