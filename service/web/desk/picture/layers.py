"""The overlay's layers for a page: its groups taken out of the stored SVG, so that each can be switched on its own."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass

from moondesk.drawing.labelled import LAYERS

SVG = "http://www.w3.org/2000/svg"
#: By their slug, in the order of their switches.
_ROWS = {row.slug: row for row in sorted(LAYERS.values(), key=lambda row: row.switch)}


@dataclass(frozen=True)
class Layer:
    """slug: for ids; number: of its switch, for style rules."""

    slug: str
    title: str
    number: int
    colour: str


@dataclass(frozen=True)
class OverlayMarkup:
    """What goes into the page's own <svg>. view_box: x, y, width, height in the picture's pixels."""

    view_box: tuple[float, float, float, float]
    layers: tuple[Layer, ...]
    #: SVG elements; made by the core from numbers and the catalogue's names, all text escaped.
    markup: str


def overlay_markup(svg: str) -> OverlayMarkup | None:
    """The layers of an overlay document; None where it is not one. Empty layers get no switch."""
    try:
        root = ET.fromstring(svg)
        x, y, width, height = (float(v) for v in (root.get("viewBox") or "").replace(",", " ").split())
    except (ET.ParseError, ValueError):
        return None
    ET.register_namespace("", SVG)
    found = []
    parts = []
    for element in root:
        name = element.get("id")
        if element.tag == f"{{{SVG}}}g" and name is not None:
            slug = name.replace(" ", "-")
            element.set("id", f"layer-{slug}")
            row = _ROWS.get(slug)
            if row is not None:
                element.set("class", f"layer-{row.switch}")
                if len(element):
                    found.append(Layer(slug, row.title, row.switch, row.colour))
        parts.append(ET.tostring(element, encoding="unicode"))
    found.sort(key=lambda layer: layer.number)
    group = ET.Element(f"{{{SVG}}}g", {k: v for k, v in root.attrib.items() if k.startswith("font-")})
    opening, closing = ET.tostring(group, encoding="unicode", short_empty_elements=False).split("><")
    markup = f"{opening}>{''.join(parts)}<{closing}"
    return OverlayMarkup((x, y, width, height), tuple(found), markup)
