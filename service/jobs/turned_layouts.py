"""A picture laid out for another view: the turn, and the overlay drawn for it. Runs in a child (see `warm_pool`)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from moondesk.checks.evening import time_to_state
from moondesk.records import Annotation, NotFound, Place
from moondesk.service.jobs.checked_pictures import Drawing
from moondesk.service.jobs.engine import Engine

#: Views by their name in an address, with the screen angle of the Moon's north; "eye" follows from time and place.
NORTH = {"upright": 0.0, "south": 180.0}
VIEWS = ("sent", *NORTH, "eye")
#: Sizes of the text for a picture that is looked at more closely, in units of the ordinary one, with the most names:
#: as one zooms in, names keep a readable size, and those of smaller features join them.
FINER = {1.0: 42, 0.55: 100, 0.3: 160}


@dataclass(frozen=True, kw_only=True)
class TurnedLayout:
    """matrix: from the picture's pixels to the view's, as SVG has it. box: of the view, x, y, width, height.

    utc, altitude_deg: of the view of the eye, else None.
    """

    matrix: tuple[float, float, float, float, float, float]
    box: tuple[float, float, float, float]
    svg: Drawing
    #: Of the ordinary text at its ordinary size.
    font_px: float
    utc: datetime | None = None
    altitude_deg: float | None = None


def lay_out(
    engine: Engine, annotation: Annotation, view: str, place: Place | None, text: float = 1.0
) -> TurnedLayout | NotFound:
    """One of VIEWS of a placed picture. place: the programme's, wanted by the eye. text: one of FINER.

    ValueError for another view or text.
    """
    from moondesk.drawing import PictureTurn, annotate_turned, overlay_svg, style_for, turn_for
    from moondesk.drawing.style import base_font_px
    from moondesk.ephemeris.naked_eye import eye_view

    if view not in VIEWS or text not in FINER:
        raise ValueError(f"there is no view {view!r} with text {text}")
    if annotation.pose is None:
        return NotFound("view", "Only a placed picture can be turned by the Moon's north.", "Place it by hand first.")
    utc = altitude = None
    if view == "eye":
        time = time_to_state(annotation)
        if time is None:
            return NotFound(
                "view", "How the eye saw it hangs on the time, which is not known well enough.", "Set the time."
            )
        if place is None:
            return NotFound(
                "view",
                "How the eye sees it hangs on the programme's place, which is not set.",
                "Set it in the settings.",
            )
        seen = eye_view(time.utc, place)
        if isinstance(seen, NotFound):
            return seen
        north, utc, altitude = seen.north_screen_deg, seen.utc, seen.altitude_deg
    else:
        north = NORTH.get(view, 0.0)
    turn = (
        PictureTurn(annotation.width, annotation.height, False, 0.0) if view == "sent" else turn_for(annotation, north)
    )
    style = style_for(annotation, turn)
    labels = replace(style.labels, text_scale=max(0.3, style.labels.text_scale * text), max_labels=FINER[text])
    style = replace(style, labels=labels)
    turned = annotate_turned(annotation, turn)
    box = (-0.5, -0.5, float(turned.width), float(turned.height))
    return TurnedLayout(
        matrix=turn.matrix,
        box=box,
        svg=Drawing(overlay_svg(turned, style, turn.inside())),
        font_px=base_font_px(annotation.width, annotation.height, annotation.pose.radius_px),
        utc=utc,
        altitude_deg=altitude,
    )
