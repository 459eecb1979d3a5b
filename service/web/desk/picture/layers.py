"""The overlay's layers for a page: its groups taken out of the stored SVG, so that each can be switched on its own."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass

SVG = "http://www.w3.org/2000/svg"
#: The order in which the switches stand; a layer that the overlay has and this list has not comes last.
TITLES = {
    "seas": "Seas",
    "craters": "Craters",
    "mountains": "Mountains",
    "directions": "Directions",
    "terminator": "Terminator",
    "equator": "Equator",
    "zero-meridian": "Zero meridian",
    "limb": "Limb",
}
ORDER = tuple(TITLES)


@dataclass(frozen=True)
class Layer:
    """slug: for ids and style rules."""

    slug: str
    title: str


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
            if len(element):
                found.append((ORDER.index(slug) if slug in ORDER else len(ORDER), Layer(slug, TITLES.get(slug, name))))
        parts.append(ET.tostring(element, encoding="unicode"))
    found.sort(key=lambda item: item[0])
    group = ET.Element(f"{{{SVG}}}g", {k: v for k, v in root.attrib.items() if k.startswith("font-")})
    opening, closing = ET.tostring(group, encoding="unicode", short_empty_elements=False).split("><")
    markup = f"{opening}>{''.join(parts)}<{closing}"
    return OverlayMarkup((x, y, width, height), tuple(layer for _, layer in found), markup)
