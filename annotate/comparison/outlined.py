"""Features outlined and named on a common frame, with the edge of the light then and now, as SVG elements."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from moondesk.comparison.changed_light import LightAtPlace, marks_of
from moondesk.drawing import curves
from moondesk.drawing.labelled import LAYERS, OverlayStyle, shapes_of
from moondesk.drawing.labels import labels_of
from moondesk.drawing.scene import is_area, is_long
from moondesk.drawing.shapes import Mark, Path, TextShape
from moondesk.drawing.style import NARROW_SCALE, LabelStyle, base_font_px, layer_of
from moondesk.drawing.svg import markup
from moondesk.records import Annotation, Clock, ClockVerdict, Feature, FeatureMark, Pose, Status, TimeReadings

#: Layers of the names; lines of reference would only be in the way of comparing.
NAMED: frozenset[str] = frozenset({"craters", "mountains", "seas"})
#: Text is this much larger than on a photograph of its own: two frames stand beside each other.
TEXT_SCALE = 1.35
#: On a phone it is as much larger as on one photograph, less what it is larger here already.
NARROW_TEXT_SCALE = TEXT_SCALE * NARROW_SCALE * 0.65
MOST_NAMES, MOST_NARROW = 14, 9


@dataclass(frozen=True)
class Outlined:
    """SVG elements in the frame's pixels, for a wide page and, with fewer and larger names, for a phone's."""

    wide: str
    narrow: str


def draw_outlines(
    features: Sequence[Feature], frame: Pose, size_px: int, before: LightAtPlace | None = None
) -> Outlined:
    """Rings about the features and names as far as there is room; the terminator of the frame's Sun, and dashed the one
    of `before`. Of a long feature (a range, a rille) only the name stands there: no ring says how it runs."""
    marks = tuple(replace(m, seen=1.0, lit_fraction=1.0) for m in marks_of(features, frame))
    versions = []
    for scale, most in ((TEXT_SCALE, MOST_NAMES), (NARROW_TEXT_SCALE, MOST_NARROW)):
        style = OverlayStyle(LabelStyle(text_scale=scale, max_labels=most), NAMED)
        annotation = _bare(frame, size_px, marks)
        labels = labels_of(annotation, style.labels)
        named = shapes_of(annotation, labels, style)
        font = base_font_px(size_px, size_px, frame.radius_px, scale)
        ringed = {x.name for x in labels if x.kind == "crater"}
        lines = [*_edges(frame, size_px, before, font), *_rings(marks, frame, size_px, font, ringed)]
        texts = [s for s in named if isinstance(s, TextShape)]
        versions.append(markup([*lines, *(s for s in named if not isinstance(s, TextShape)), *texts]))
    return Outlined(*versions)


def _bare(frame: Pose, size_px: int, marks: tuple[FeatureMark, ...]) -> Annotation:
    nothing = TimeReadings(candidates=(), earliest_utc=None, latest_utc=None)
    return Annotation(
        status=Status.ANNOTATED,
        sure=True,
        width=size_px,
        height=size_px,
        taken=nothing,
        time=None,
        clock=Clock(ClockVerdict.NO_CLOCK, None, None),
        pose=frame,
        features=marks,
    )


def _rings(marks: Sequence[FeatureMark], frame: Pose, size_px: int, font: float, done: set[str]) -> Iterator[Mark]:
    for mark in marks:
        f = mark.feature
        if f.name in done or is_long(mark):
            continue
        dash = (0.5 * font, 0.4 * font) if is_area(mark) else ()  # a sea is no circle: only about there
        layer, width = layer_of(f.kind), max(1.5, font / 12.0)
        for run in curves.rim(frame, f.lat_deg, f.lon_deg, f.size_km):
            for piece in curves.clip_to_frame(run, size_px, size_px, font):
                yield Path(
                    points=piece, width_px=width, colour=LAYERS[layer].colour, opacity=0.9, dash=dash, layer=layer
                )


def _edges(frame: Pose, size_px: int, before: LightAtPlace | None, font: float) -> Iterator[Mark]:
    """The terminator now, and that of the earlier light, dashed."""
    width, colour = max(1.2, font / 16.0), LAYERS["terminator"].colour
    poses: list[tuple[Pose, tuple[float, ...]]] = [(frame, ())]
    if before is not None:
        then = replace(frame, sub_solar_lat_deg=before.lat_deg, sub_solar_lon_deg=before.lon_deg)
        poses.append((then, (0.6 * font, 0.45 * font)))
    for pose, dash in poses:
        for run in curves.terminator(pose):
            for piece in curves.clip_to_frame(run, size_px, size_px, font):
                yield Path(points=piece, width_px=width, colour=colour, opacity=0.75, dash=dash, layer="terminator")
