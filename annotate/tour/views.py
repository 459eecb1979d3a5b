"""The views of a picture that are shown one after the other: as it was sent, upright, named, a part of it large."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from moondesk.drawing.frame import FrameRequest, Zoom
from moondesk.drawing.frame_names import find_mark
from moondesk.drawing.style import AREA_KINDS
from moondesk.records import Annotation, Feature, FeatureMark, NotFound
from moondesk.tour.relit import MOST_HOURS

#: Views of one tour at most; seconds that a view stands, and that a move takes (0: a cut).
MOST_VIEWS = 12
STANDS_S, MOVE_S = (0.5, 120.0), (0.0, 20.0)
#: A close-up shows so many times the size of a crater or hill, of a range, a sea and the like; within these bounds, km.
AROUND, AROUND_LONG, LEAST_KM, MOST_KM = 5.0, 1.6, 250.0, 1800.0
#: Of the default tour's feature: sizes in km, the share of it that is lit and the chance of making it out, at least.
_BEST_KM, _BEST_LIT, _BEST_SEEN = (50.0, 700.0), 0.5, 0.5


class ViewKind(StrEnum):
    """What a view shows of a picture."""

    #: All of it, not turned, nothing written but the credit.
    AS_SENT = "as_sent"
    #: North up (or as the eye sees it), nothing written but the credit.
    UPRIGHT = "upright"
    #: The same with names and lines.
    NAMED = "named"
    #: A part of it large, named.
    CLOSE_UP = "close_up"
    #: Upright in the light of other hours: a rendering, marked as one.
    RELIT = "relit"
    #: Beside a picture of another evening, both in one frame of the Moon.
    AGAINST = "against"


@dataclass(frozen=True, kw_only=True)
class View:
    """One view. feature: what a close-up is about, or what the light stays on. seconds: how long it stands; move_s: how
    long the move to it takes, which for the first view is none. spotlight: everything but the feature is dimmed. hours: of
    one that is relit, from the picture to its light, negative for earlier; against: which picture it is compared with, a
    number of whoever keeps them."""

    kind: ViewKind
    feature: str = ""
    seconds: float = 4.0
    move_s: float = 2.5
    spotlight: bool = False
    hours: float = 0.0
    against: int = 0

    @property
    def shows_names(self) -> bool:
        return self.kind in (ViewKind.NAMED, ViewKind.CLOSE_UP)


#: In which a light may stay on a feature; of which a film can be made.
_LIT = (ViewKind.UPRIGHT, ViewKind.NAMED, ViewKind.CLOSE_UP)
FILMED = (ViewKind.AS_SENT, *_LIT)
#: Views in their order.
Tour = tuple[View, ...]


def check_tour(tour: Sequence[View], annotation: Annotation) -> NotFound | None:
    """Why a tour cannot be shown of a picture; None where it can."""
    if not tour:
        return NotFound("tour", "There is no view in it.", "Add one.")
    if len(tour) > MOST_VIEWS:
        return NotFound("tour", f"{MOST_VIEWS} views are the most of one tour.", "Take some out.")
    if tour[0].kind is ViewKind.AGAINST:
        return NotFound("tour", "A tour begins with its own picture.", "Put another view before the comparison.")
    for view in tour:
        reason = why_no_view(view, annotation)
        if reason is not None:
            return reason
    return None


def why_no_view(view: View, annotation: Annotation) -> NotFound | None:
    """Why a view cannot be shown of a picture; None where it can."""
    if not (STANDS_S[0] <= view.seconds <= STANDS_S[1] and MOVE_S[0] <= view.move_s <= MOVE_S[1]):
        return NotFound(
            "tour",
            f"A view stands {STANDS_S[0]:g} to {STANDS_S[1]:g} seconds, and a move takes up to {MOVE_S[1]:g}.",
            "Choose others.",
        )
    if view.kind is not ViewKind.AS_SENT and (annotation.pose is None or not annotation.status.facts.is_named):
        return NotFound("tour", "The picture is not placed on the Moon.", "It can only be shown as it was sent.")
    if view.kind is ViewKind.CLOSE_UP and not view.feature:
        return NotFound("tour", "Nothing is named that is to be seen close.", "Name a feature.")
    if view.spotlight and (view.kind not in _LIT or not view.feature):
        return NotFound("tour", "Nothing is named that the light is to stay on.", "Name a feature of a turned picture.")
    if view.kind is ViewKind.RELIT and not 0.0 < abs(view.hours) <= MOST_HOURS:
        return NotFound(
            "tour", "A picture in another light wants hours.", f"Write up to {MOST_HOURS:g}, or as many before."
        )
    if view.kind is ViewKind.AGAINST and not view.against:
        return NotFound("tour", "No second picture is chosen.", "Choose one of another evening.")
    if view.feature:
        mark = find_mark(annotation, view.feature)
        return mark if isinstance(mark, NotFound) else None
    return None


def default_tour(annotation: Annotation) -> Tour:
    """As sent, upright, named, its best feature close, and back; of a picture that is not placed, as sent alone."""
    sent = View(kind=ViewKind.AS_SENT, seconds=4.0)
    if annotation.pose is None or not annotation.status.facts.is_named:
        return (sent,)
    whole = (sent, View(kind=ViewKind.UPRIGHT, seconds=2.0), View(kind=ViewKind.NAMED, seconds=6.0, move_s=0.0))
    best = best_feature(annotation)
    if best is None:
        return whole
    close = View(kind=ViewKind.CLOSE_UP, feature=best.feature.name, seconds=6.0, move_s=3.0)
    return (*whole, close, View(kind=ViewKind.NAMED, seconds=4.0))


def best_feature(annotation: Annotation) -> FeatureMark | None:
    """What is worth a close-up: the foremost that is seen well and has a form; None where there is none."""
    able = [
        m
        for m in annotation.features
        if m.feature.kind not in AREA_KINDS
        and m.feature.parent is None
        and _BEST_KM[0] <= m.feature.size_km <= _BEST_KM[1]
        and m.lit_fraction >= _BEST_LIT
        and m.seen >= _BEST_SEEN
    ]
    return max(able, key=lambda m: (m.prominence * m.seen, m.feature.name), default=None)


def zoom_of(feature: Feature) -> Zoom:
    """The part of the Moon that a close-up of a feature shows."""
    factor = AROUND if feature.kind == "crater" or feature.size_km < 100 else AROUND_LONG
    return Zoom(feature.lat_deg, feature.lon_deg, min(max(factor * feature.size_km, LEAST_KM), MOST_KM))


def request_for(view: View, annotation: Annotation, whole: FrameRequest) -> FrameRequest | NotFound:
    """What is asked of a view's frame. whole: of the picture's own frame, with all its words. Of one that is relit or
    compared: of the picture's own as it lies there before, see `rendered` and `shared`."""
    if view.kind is ViewKind.AS_SENT:
        return replace(whole, as_sent=True, zoom=None)
    if view.kind is not ViewKind.CLOSE_UP:
        return _naming(view.feature, whole) if view.spotlight else whole
    mark = find_mark(annotation, view.feature)
    if isinstance(mark, NotFound):
        return mark
    return replace(_naming(view.feature, whole), zoom=zoom_of(mark.feature))


def _naming(feature: str, whole: FrameRequest) -> FrameRequest:
    """The same with one feature named for certain."""
    others = tuple(name for name in (*whole.features, *whole.offered) if name != feature)
    return replace(whole, features=(feature,), offered=others)
