"""A picture laid out for another view: the turn, and the overlay drawn for it. Runs in a child (see `workshop`)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from annotate.records import Annotation, NotFound, Place
from service.work.engine import Engine

#: Views by their name in an address, with the screen angle of the Moon's north; "eye" follows from time and place.
NORTH = {"upright": 0.0, "south": 180.0}
VIEWS = (*NORTH, "eye")


@dataclass(frozen=True)
class Layout:
    """matrix: from the picture's pixels to the view's, as SVG has it. box: of the view, x, y, width, height.

    utc, altitude_deg: of the view of the eye, else None.
    """

    matrix: tuple[float, float, float, float, float, float]
    box: tuple[float, float, float, float]
    svg: str
    utc: datetime | None = None
    altitude_deg: float | None = None


def lay_out(engine: Engine, annotation: Annotation, view: str, place: Place | None) -> Layout | NotFound:
    """One of VIEWS of a placed picture; ValueError for another name. place: the programme's, wanted by the eye."""
    from annotate.overlay import annotate_turned, overlay_svg, style_for, turn_for
    from annotate.sky.eye import eye_view

    if view not in VIEWS:
        raise ValueError(f"there is no view {view!r}")
    if annotation.pose is None:
        return NotFound("view", "Only a placed picture can be turned by the Moon's north.", "Place it by hand first.")
    utc = altitude = None
    if view == "eye":
        if annotation.time is None:
            return NotFound("view", "How the eye saw it hangs on the time, which is not known.", "Set the time.")
        if place is None:
            return NotFound("view", "How the eye sees it hangs on the programme's place, which is not set.",
                            "Set it in the settings.")
        seen = eye_view(annotation.time.utc, place)
        if isinstance(seen, NotFound):
            return seen
        north, utc, altitude = seen.north_screen_deg, seen.utc, seen.altitude_deg
    else:
        north = NORTH[view]
    turn = turn_for(annotation, north)
    style = style_for(annotation, turn)
    turned = annotate_turned(annotation, turn, style)
    box = (-0.5, -0.5, float(turned.width), float(turned.height))
    return Layout(turn.matrix, box, overlay_svg(turned, style, turn.inside()), utc, altitude)
