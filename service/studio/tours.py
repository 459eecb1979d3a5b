"""The tour of a rundown's picture: its views as they were chosen, their frames for the plan on air, the whole as a clip."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from moondesk.drawing.frame import FrameRequest
from moondesk.drawing.frame_names import LEAST_LIT, LEAST_SEEN
from moondesk.records import Annotation, Feature, NotFound
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.jobs.frame_files import MadeFrame, decode_photo
from moondesk.service.jobs.missing_pictures import at_hand
from moondesk.service.programme.air_plan import Matrix, PlannedLayer, PlannedView
from moondesk.service.programme.air_plan import Move as PlannedMove
from moondesk.service.programme.frame_request import FrameOptions, layer_title
from moondesk.service.programme.tour_words import title_of
from moondesk.service.store.records import ListedPicture
from moondesk.service.store.rundown_items import RundownItem
from moondesk.service.store.tours import kept_tour
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import frame_of, options_of, wanted_of
from moondesk.tour.camera import camera_for
from moondesk.tour.clip import Clip
from moondesk.tour.moves import make_move
from moondesk.tour.views import Tour, View, ViewKind, check_tour, default_tour, request_for

#: Places of a move's way, ends included: between them straight pieces differ from it by less than a tenth of a pixel.
PLACES = 49
#: Features that the page offers, at most.
OFFERED = 60


def tour_of(studio: Studio, item: RundownItem, listed: ListedPicture) -> Tour | NotFound:
    """As it was chosen for a picture of the rundown, else the usual one."""
    found = wanted_of(studio, item, listed, options_of(studio.storage, item.id, "hd"))
    if isinstance(found, NotFound):
        return found
    return kept_tour(studio.storage, item.id) or default_tour(found[0].annotation)


def why_not_toured(studio: Studio, item: RundownItem, listed: ListedPicture, tour: Tour) -> NotFound | None:
    """Why these views cannot be shown of a picture; None where they can."""
    found = wanted_of(studio, item, listed, options_of(studio.storage, item.id, "hd"))
    return found if isinstance(found, NotFound) else check_tour(tour, found[0].annotation)


def features_for(studio: Studio, item: RundownItem, listed: ListedPicture) -> tuple[str, ...]:
    """What a view of a picture can be about, the foremost first."""
    found = wanted_of(studio, item, listed, options_of(studio.storage, item.id, "hd"))
    marks = () if isinstance(found, NotFound) else found[0].annotation.features
    able = [m for m in marks if m.feature.parent is None and m.lit_fraction >= LEAST_LIT and m.seen >= LEAST_SEEN]
    able.sort(key=lambda m: (-m.prominence * m.seen, m.feature.name))
    return tuple(m.feature.name for m in able[:OFFERED])


def clip_of(
    studio: Studio,
    item: RundownItem,
    listed: ListedPicture,
    tour: Tour | None,
    asked: FrameOptions,
    rate: Fraction,
    bare: bool = False,
) -> Clip | NotFound:
    """What is to be drawn of a picture as a clip; NotFound says why there is none. tour: None for the item's own."""
    found = wanted_of(studio, item, listed, asked)
    if isinstance(found, NotFound):
        return found
    stored, sha, wanted = found
    views = tour or kept_tour(studio.storage, item.id) or default_tour(stored.annotation)
    reason = check_tour(views, stored.annotation)
    if reason is not None:
        return reason
    try:
        photo = at_hand(studio.media, studio.run, sha, stored.derived_key, stored.annotation)
    except (NotStoredError, BadInputError) as error:
        return NotFound("clip", str(error), error.advice)
    if photo is None:
        return NotFound("clip", "The picture is not at hand any more.", "Place it anew.")
    pixels = studio.run(decode_photo, photo.read_bytes())
    rgb = np.frombuffer(pixels, np.uint8).reshape(stored.annotation.height, stored.annotation.width, 3)
    return Clip(rgb=rgb, annotation=stored.annotation, whole=wanted, tour=views, rate=rate, bare=bare)


def views_of(studio: Studio, item: RundownItem, listed: ListedPicture, shape: str) -> tuple[PlannedView, ...]:
    """The views of a tour that somebody chose for a picture, with their layers as those of the plan, and the moves
    between them; empty where nobody chose one, or a view cannot be shown any more."""
    asked = options_of(studio.storage, item.id, shape)
    found = wanted_of(studio, item, listed, asked)
    tour = kept_tour(studio.storage, item.id)
    if isinstance(found, NotFound) or check_tour(tour, found[0].annotation) is not None:
        return ()
    annotation, whole = found[0].annotation, found[2]
    planned: list[PlannedView] = []
    for k, view in enumerate(tour):
        frame = frame_of(studio, item, listed, asked, view)
        if isinstance(frame, NotFound):
            return ()
        planned.append(
            PlannedView(
                title=title_of(view),
                layers=_layers(item, frame, view),
                move=_move(tour[k - 1], view, annotation, whole) if k else None,
                width=frame.width,
                height=frame.height,
                kind=view.kind.value,
                feature=view.feature,
                seconds=view.seconds,
            )
        )
    return tuple(planned)


def _layers(item: RundownItem, frame: MadeFrame, view: View) -> tuple[PlannedLayer, ...]:
    return tuple(
        PlannedLayer(
            name=x.name,
            title=x.title or layer_title(x.kind),
            kind=x.kind,
            base=x.base,
            url=f"{item.id}/{x.name}/{frame.mark}",
        )
        for x in frame.layers
        if x.base or x.kind == "credit" or view.shows_names
    )


def _move(before: View, after: View, annotation: Annotation, whole: FrameRequest) -> PlannedMove | None:
    """None for a cut, and where the picture is not placed."""
    asked = [request_for(view, annotation, whole) for view in (before, after)]
    start, end = (None if isinstance(w, NotFound) else camera_for(annotation, w) for w in asked)
    if annotation.pose is None or start is None or end is None or after.move_s == 0.0:
        return None
    about = (_close_up(view, annotation) for view in (before, after))
    move = make_move(annotation.pose, start, end, whole.format, *about)
    shares = [k / (PLACES - 1) for k in range(PLACES)]
    path = tuple((t, _rounded(move.matrix(t, annotation.pose))) for t in shares)
    return PlannedMove(matrix=path[-1][1], seconds=after.move_s, path=path, flips=move.flips)


def _close_up(view: View, annotation: Annotation) -> Feature | None:
    marks = annotation.features if view.kind is ViewKind.CLOSE_UP else ()
    return next((m.feature for m in marks if m.feature.name == view.feature), None)


def _rounded(matrix: Matrix) -> Matrix:
    a, b, c, d, e, f = (round(v, 6) + 0.0 for v in matrix)
    return a, b, c, d, e, f
