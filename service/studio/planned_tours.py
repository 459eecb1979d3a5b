"""The views of a tour as the plan on air has them: their layers, the moves between them, and which cannot be shown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from itertools import pairwise

from moondesk.checks.evening import time_to_state
from moondesk.drawing.frame import FORMATS, Format, FrameRequest, slug
from moondesk.records import Annotation, Feature, NotFound, Pose
from moondesk.service.jobs.frame_files import MadeFrame, make_frame
from moondesk.service.jobs.warm_pool import WarmPoolError
from moondesk.service.programme.air_plan import Matrix, Other, PlannedLayer, PlannedView
from moondesk.service.programme.air_plan import Move as PlannedMove
from moondesk.service.programme.credit import credit_words, sender_of
from moondesk.service.programme.frame_request import FrameOptions, layer_title
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.tour_words import rendering_words, title_of
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import Edition, ListedPicture
from moondesk.service.store.rundown_items import RundownItem
from moondesk.service.store.rundowns import item_of, rundown
from moondesk.service.store.tours import compared_with, kept_tour
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import LaterError, frame_of, options_of, wanted_of
from moondesk.tour.camera import Camera, camera_at, camera_for
from moondesk.tour.moves import make_move
from moondesk.tour.requests import RelitRequest, SharedRequest
from moondesk.tour.shared import credit_height, shared_pose
from moondesk.tour.views import View, ViewKind, request_for, why_no_view

#: Places of a move's way, ends included: between them straight pieces differ from it by less than a tenth of a pixel.
PLACES = 49
GONE = NotFound("tour", "The picture of the other evening is not there any more.", "Choose another.")


@dataclass(frozen=True)
class PlannedTour:
    """views: those that can be shown; missing: of each that cannot, what it is and why; waiting: more are being made."""

    views: tuple[PlannedView, ...] = ()
    missing: tuple[str, ...] = ()
    waiting: bool = False


@dataclass(frozen=True)
class _Shown:
    """A view with its camera; None where the picture is not placed."""

    view: View
    planned: PlannedView
    camera: Camera | None


def plan_tour(studio: Studio, item: RundownItem, listed: ListedPicture, shape: str) -> PlannedTour:
    """Of a tour that somebody chose for a picture that may be shown; empty where nobody chose one."""
    shown: list[_Shown] = []
    missing: list[str] = []
    waiting = False
    for n, view in enumerate(kept_tour(studio.storage, item.id), 1):
        try:
            found = plan_view(studio, item, listed, shape, view)
        except LaterError:
            waiting = True
            continue
        except WarmPoolError as error:
            found = NotFound("tour", str(error), error.advice)
        if not isinstance(found, NotFound) and found.view.kind is ViewKind.AGAINST and not shown:
            found = NotFound("tour", "No view of the picture itself stands before it.", "")
        if isinstance(found, NotFound):
            missing.append(f"View {n}, {title_of(view)}: {found.reason} {found.advice}".strip())
        else:
            shown.append(found)
    return PlannedTour(_led(studio, item, listed, shape, shown), tuple(missing), waiting)


def plan_view(studio: Studio, item: RundownItem, listed: ListedPicture, shape: str, view: View) -> _Shown | NotFound:
    """One view; NotFound says why it cannot be shown. May raise LaterError or WarmPoolError."""
    asked = options_of(studio.storage, item.id, shape)
    found = wanted_of(studio, item, listed, asked)
    if isinstance(found, NotFound):
        return found
    stored, sha, whole = found
    reason = why_no_view(view, stored.annotation)
    if reason is not None:
        return reason
    match view.kind:
        case ViewKind.AGAINST:
            return _compared(studio, item, listed, shape, view)
        case ViewKind.RELIT:
            time = time_to_state(stored.annotation)
            words = rendering_words(view.hours, time.utc if time else None, datetime.now(UTC))
            request = RelitRequest(whole=whole, hours=view.hours, words=studio.language.write(words))
            frame = make_frame(studio.media, studio.run, sha, stored.derived_key, stored.annotation, request)
            camera = camera_for(stored.annotation, whole)
        case _:
            frame = frame_of(studio, item, listed, asked, view)
            wanted = request_for(view, stored.annotation, whole)
            camera = None if isinstance(wanted, NotFound) else camera_for(stored.annotation, wanted)
    if isinstance(frame, NotFound):
        return frame
    return _Shown(view, _planned(view, frame, _layers(item, frame, view)), camera)


def _compared(studio: Studio, item: RundownItem, listed: ListedPicture, shape: str, view: View) -> _Shown | NotFound:
    """Two pictures in one frame. Each is drawn and kept with its own sender's files, and asked for by its own item, so
    that either goes when its own sender takes it back."""
    other = item_of(studio.storage, view.against)
    theirs = list_by_id(studio.storage, [other.picture_id]) if other else ()
    if other is None or not theirs or other.picture_id == item.picture_id:
        return GONE
    asked = FrameOptions(shape)
    first, second = wanted_of(studio, item, listed, asked), wanted_of(studio, other, theirs[0], asked)
    if isinstance(first, NotFound):
        return first
    if isinstance(second, NotFound):
        return NotFound("tour", f"Of the other evening's picture: {second.reason}", "See its entry in its rundown.")
    pose = shared_pose(first[0].annotation, second[0].annotation, FORMATS[asked.format])
    if isinstance(pose, NotFound):
        return pose
    frames: list[MadeFrame] = []
    under = credit_height(first[2], pose)
    for stored, sha, whole in (first, second):
        plain = FrameRequest(format=whole.format, texts=replace(whole.texts, names={}), theme=whole.theme)
        wanted = SharedRequest(whole=plain, frame=pose)
        if frames:
            wanted = replace(wanted, second=True, under=under)
        frame = make_frame(studio.media, studio.run, sha, stored.derived_key, stored.annotation, wanted)
        if isinstance(frame, NotFound):
            return frame
        frames.append(frame)
    own, over = (_layers(i, frame, view) for i, frame in zip((item, other), frames, strict=True))
    sender = sender_of(theirs[0].picture.submission.arrival)
    wipe = f"Wipe to {sender}"
    layers = (
        *(x for x in own if x.kind == "picture"),
        *(replace(x, name="against", kind="against", title=wipe, base=False) for x in over if x.kind == "picture"),
        *(x for x in own if x.kind == "credit"),
        *(replace(x, name="credit-against") for x in over if x.kind == "credit"),
    )
    told = Other(item=other.id, sender=sender, credit=credit_words(other, theirs[0])[0])
    planned = _planned(view, frames[0], layers)
    return _Shown(view, replace(planned, title=title_of(view, sender), other=told), camera_at(pose))


def shown_items(studio: Studio, edition: Edition) -> tuple[RundownItem, ...]:
    """All whose pictures can come on air in an edition: its own, those taken out among them, and those that they are
    compared with."""
    found = rundown(studio.storage, edition.id)
    own = {i.id: i for i in (*found.items, *found.out)}
    others = (item_of(studio.storage, k) for k in compared_with(studio.storage, edition.id) - set(own))
    return (*own.values(), *filter(None, others))


def stopped_items(studio: Studio, edition: Edition) -> list[int]:
    """Items whose pictures may not be shown as it stands now, whatever a window fetched before; also those that are
    compared with and are gone."""
    every = shown_items(studio, edition)
    listed = {p.picture.id: p for p in list_by_id(studio.storage, [i.picture_id for i in every])}
    terms = studio.config.entry_terms
    gone = compared_with(studio.storage, edition.id) - {i.id for i in every}
    stopped = [i.id for i in every if i.picture_id not in listed or reasons_not_to_air(listed[i.picture_id], terms)]
    return [*stopped, *sorted(gone)]


def _planned(view: View, frame: MadeFrame, layers: tuple[PlannedLayer, ...]) -> PlannedView:
    return PlannedView(
        title=title_of(view),
        layers=layers,
        width=frame.width,
        height=frame.height,
        kind=view.kind.value,
        feature=view.feature,
        seconds=view.seconds,
    )


def _layers(item: RundownItem, frame: MadeFrame, view: View) -> tuple[PlannedLayer, ...]:
    every = tuple(
        PlannedLayer(
            name=x.name,
            title=x.title or layer_title(x.kind),
            kind=x.kind,
            base=x.base,
            url=f"{item.id}/{x.name}/{frame.mark}",
        )
        for x in frame.layers
    )
    if view.spotlight:  # the light stands from the start, and nothing else is named
        own = slug(f"feature-{view.feature}")
        lit = {own.replace("feature-", "spotlight-", 1), *([own] if view.shows_names else [])}
        return tuple(replace(x, base=True) for x in every if x.base or x.kind == "credit" or x.name in lit)
    return tuple(x for x in every if x.base or x.kind == "credit" or view.shows_names)


def _led(
    studio: Studio, item: RundownItem, listed: ListedPicture, shape: str, shown: list[_Shown]
) -> tuple[PlannedView, ...]:
    """The views with the way from each to the next."""
    found = wanted_of(studio, item, listed, options_of(studio.storage, item.id, shape))
    if isinstance(found, NotFound) or not shown:
        return ()
    annotation, whole = found[0].annotation, found[2]
    moves = (_move(a, b, annotation, whole) for a, b in pairwise(shown))
    return (shown[0].planned, *(replace(b.planned, move=move) for b, move in zip(shown[1:], moves, strict=True)))


def _move(before: _Shown, after: _Shown, annotation: Annotation, whole: FrameRequest) -> PlannedMove | None:
    """None for a cut, and where the picture is not placed."""
    pose = annotation.pose
    if pose is None or before.camera is None or after.camera is None or after.view.move_s == 0.0:
        return None
    about = (_close_up(one.view, annotation) for one in (before, after))
    path, flips = _way(pose, before.camera, after.camera, whole.format, *about)
    return PlannedMove(matrix=path[-1][1], seconds=after.view.move_s, path=path, flips=flips)


@lru_cache(512)  # each window asks for the plan every few seconds
def _way(
    pose: Pose, start: Camera, end: Camera, frame: Format, first: Feature | None, last: Feature | None
) -> tuple[tuple[tuple[float, Matrix], ...], bool]:
    """The camera's way from one view to the next, by shares of its time; whether the picture is turned over on it."""
    move = make_move(pose, start, end, frame, first, last)
    shares = [k / (PLACES - 1) for k in range(PLACES)]
    return tuple((t, _rounded(move.matrix(t, pose))) for t in shares), move.flips


def _close_up(view: View, annotation: Annotation) -> Feature | None:
    marks = annotation.features if view.kind is ViewKind.CLOSE_UP else ()
    return next((m.feature for m in marks if m.feature.name == view.feature), None)


def _rounded(matrix: Matrix) -> Matrix:
    a, b, c, d, e, f = (round(v, 6) + 0.0 for v in matrix)
    return a, b, c, d, e, f
