"""The page of a picture's tour: which views of it are shown, in which order, how long each.

GET  /rundown/E/items/I/tour           the page: a row for each view with a still of it
POST /rundown/E/items/I/tour           all rows, and what was pressed (field "do"): keep, add, usual, plain, or up,
                                       down, remove with the row's number
GET  /rundown/E/items/I/tour/N.png     the still of the N-th view, from 1
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

from flask import Blueprint, Response, make_response, redirect, request, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.records import NotFound
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.exports.air_signals import compared
from moondesk.service.jobs.frame_files import WHOLE
from moondesk.service.programme.air_plan import PlannedLayer
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.tour_words import HOURS_TO_TOMORROW, KINDS, title_of, view_of
from moondesk.service.settings.config import Programme
from moondesk.service.store.editions import read_edition
from moondesk.service.store.records import Edition
from moondesk.service.store.rundowns import rundown
from moondesk.service.store.tours import keep_tour, kept_tour
from moondesk.service.studio.frames import frame_of, layer_png, options_of
from moondesk.service.studio.planned_tours import plan_view
from moondesk.service.studio.tours import features_for, others_for, tour_of, why_not_toured
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, render, storage
from moondesk.service.web.desk.onair.frames import find_item
from moondesk.service.web.desk.rundown.rundown import ITEM
from moondesk.service.web.making import studio
from moondesk.tour.views import MOST_VIEWS, MOVE_S, STANDS_S, Tour, View, ViewKind

tours = Blueprint("tours", __name__)

#: What a row can be told to do with itself, as the button's value before the row's number.
_MOVES = {"up": -1, "down": 1}


@dataclass(frozen=True)
class ViewRow:
    """A view on the page. still: address of its picture."""

    number: int
    kind: str
    title: str
    feature: str
    seconds: float
    move_s: float
    spotlight: bool
    hours: float
    against: int
    still: str


@dataclass(frozen=True, kw_only=True)
class TourPage:
    """notice: why there is no tour, else empty. chosen: whether it is the one on air, and not the usual one offered.
    place: in the rundown, 1 for the first; 0: out of it."""

    programme: Programme
    edition: int
    place: int
    item_id: int
    picture_id: int
    sender: str
    notice: str
    chosen: bool
    rows: tuple[ViewRow, ...]
    kinds: tuple[tuple[str, str], ...]
    features: tuple[str, ...]
    #: (item, words) of pictures that this one may be compared with.
    others: tuple[tuple[int, str], ...]
    most: int
    stands: tuple[float, float]
    moves: tuple[float, float]


@tours.get(f"{ITEM}/tour")
def page(number: int, item_id: int) -> Response:
    item, listed = find_item(number, item_id)
    found = tour_of(studio(), item, listed)
    rows = () if isinstance(found, NotFound) else found
    kept = kept_tour(storage(), item.id)
    others = () if isinstance(found, NotFound) else others_for(studio(), item, number)
    senders = {other.item_id: other.sender for other in others}
    page = TourPage(
        programme=config().programme,
        edition=number,
        place=next(
            (
                k
                for k, i in enumerate(rundown(storage(), read_edition(storage(), number).id).items, 1)
                if i.id == item.id
            ),
            0,
        ),
        item_id=item_id,
        picture_id=listed.picture.id,
        sender=sender_of(listed.picture.submission.arrival),
        notice=f"{found.reason} {found.advice}".strip() if isinstance(found, NotFound) else "",
        chosen=bool(kept),
        rows=tuple(
            ViewRow(
                n,
                view.kind.value,
                title_of(view, senders.get(view.against, "")),
                view.feature,
                view.seconds,
                view.move_s,
                view.spotlight,
                view.hours or HOURS_TO_TOMORROW,
                view.against,
                url_for(
                    "tours.still",
                    number=number,
                    item_id=item_id,
                    place=n,
                    v=hashlib.sha256(repr(view).encode()).hexdigest()[:8],
                ),
            )
            for n, view in enumerate(rows, 1)
        ),
        kinds=tuple((kind.value, words) for kind, words in KINDS.items()),
        features=() if isinstance(found, NotFound) else features_for(studio(), item, listed),
        others=tuple((other.item_id, other.words) for other in others),
        most=MOST_VIEWS,
        stands=STANDS_S,
        moves=MOVE_S,
    )
    return make_response(render("tour.html", page))


@tours.post(f"{ITEM}/tour")
def keep(number: int, item_id: int) -> AnyResponse:
    """Keep the rows as they stand in the form, after what was pressed."""
    item, listed = find_item(number, item_id)
    deed, _, place = request.form.get("do", "keep").partition("-")
    tour: Tour | NotFound = () if deed in ("plain", "usual") else _after(_read_rows(), deed, place)
    if deed == "usual":
        keep_tour(storage(), item.id, (), sessions.actor().name, sessions.now())
        tour = tour_of(studio(), item, listed)
    reason = tour if isinstance(tour, NotFound) else why_not_toured(studio(), item, listed, tour) if tour else None
    if isinstance(tour, NotFound) or reason is not None:
        assert reason is not None
        raise BadInputError(reason.reason, reason.advice)
    keep_tour(storage(), item.id, tour, sessions.actor().name, sessions.now())
    return redirect(url_for("tours.page", number=number, item_id=item_id), 303)


@tours.get(f"{ITEM}/tour/<int(min=1,max=99):place>.png")
def still(number: int, item_id: int, place: int) -> Response:
    item, listed = find_item(number, item_id)
    tour = tour_of(studio(), item, listed)
    if isinstance(tour, NotFound):
        raise NotStoredError(tour.reason, tour.advice)
    if place > len(tour):
        raise NotStoredError("The tour has no such view.", "Load the page again.")
    view = tour[place - 1]
    if view.spotlight or view.kind in (ViewKind.RELIT, ViewKind.AGAINST):
        shown = plan_view(studio(), item, listed, "hd", view)
        if isinstance(shown, NotFound):
            raise NotStoredError(shown.reason, shown.advice)
        edition = read_edition(storage(), number)
        response = Response(compared(shown.planned.layers, lambda x: _read(edition, x)), mimetype="image/png")
    else:
        made = frame_of(studio(), item, listed, options_of(storage(), item.id, "hd"), view)
        if isinstance(made, NotFound):
            raise NotStoredError(made.reason, made.advice)
        path = made.file("picture.png" if view.kind is ViewKind.UPRIGHT else WHOLE)
        assert path is not None
        response = send_file(path, conditional=True)
    response.headers["Cache-Control"] = "private, max-age=600"
    return response


def _read(edition: Edition, layer: PlannedLayer) -> bytes:
    item_id, name, mark = layer.url.split("/")
    return layer_png(studio(), edition, int(item_id), name, mark)


def _read_rows() -> list[View]:
    """The form's rows in their order. Raises BadInputError for what is none."""
    form = request.form
    rows = zip(*(form.getlist(name) for name in ("kind", "feature", "seconds", "move")), strict=False)
    lit = form.getlist("light")
    found = []
    for n, (kind, feature, seconds, move) in enumerate(list(rows)[:MOST_VIEWS], 1):
        if kind not in KINDS:
            raise BadInputError("There is no such view.", "Load the page again.")
        hours, against = (form.get(f"{name}-{n}", "").strip() for name in ("hours", "against"))
        named = feature.strip()[:80] if kind == ViewKind.CLOSE_UP or str(n) in lit else ""
        try:
            view = view_of(ViewKind(kind), named, seconds.strip(), move.strip(), str(n) in lit)
            if kind == ViewKind.RELIT:
                view = replace(view, hours=float(hours) if hours else HOURS_TO_TOMORROW)
            elif kind == ViewKind.AGAINST:
                view = replace(view, against=int(against) if against else 0)
            found.append(view)
        except ValueError:
            raise BadInputError(f"View {n} has a number that is none.", "Write seconds, like 4 or 2.5.") from None
    return found


def _after(views: list[View], deed: str, place: str) -> Tour:
    """The rows after a button was pressed. Raises BadInputError for one that there is not."""
    if deed == "keep":
        return tuple(views)
    if deed == "add" and len(views) < MOST_VIEWS:
        return (*views, View(kind=ViewKind.NAMED) if views else View(kind=ViewKind.AS_SENT))
    at = int(place) - 1 if place.isascii() and place.isdigit() else -1
    if not 0 <= at < len(views) or deed not in (*_MOVES, "remove"):
        raise BadInputError("There is no such view any more.", "Load the page again.")
    view = views.pop(at)
    if deed in _MOVES:
        views.insert(max(at + _MOVES[deed], 0), view)
    return tuple(views)
