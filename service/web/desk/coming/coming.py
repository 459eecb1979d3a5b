"""The evenings to come: the page, and the drawn Moons on it."""

from __future__ import annotations

from datetime import date, timedelta

from flask import Blueprint, Response, request, send_file

from moondesk.comparison.predicted import Orientation
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.jobs.comparison_pictures import moon_file, moon_mark
from moondesk.service.programme.evenings_to_come import FIRST, LAST, Air, Coming, air_of, evening_to_come, first_evening
from moondesk.service.store.editions import list_editions
from moondesk.service.store.media import Media
from moondesk.service.web.access import sessions
from moondesk.service.web.current import calendar, config, render, storage
from moondesk.service.web.desk.coming.coming_page import EVENINGS, LARGE_PX, SMALL_PX, Predicted, coming_page

coming_evenings = Blueprint("coming", __name__)


@coming_evenings.get("/coming")
def page() -> str:
    air = air_of(list_editions(storage()), calendar())
    first = _date(request.args.get("from"))
    chosen_day = _date(request.args.get("evening"))
    first = first or chosen_day or first_evening(sessions.now(), air, calendar())
    if chosen_day is None or not first <= chosen_day < first + timedelta(days=EVENINGS):
        chosen_day = first
    week = [_coming(first + timedelta(days=k), air) for k in range(EVENINGS)]
    chosen = week[(chosen_day - first).days]
    before, after = (_coming(chosen_day + timedelta(days=k), air) for k in (-1, 1))
    view = _view(request.args.get("view"))
    predicted = Predicted(
        air=air,
        week=week,
        chosen=chosen,
        around=(before, after),
        view=view,
        marks={c.evening: moon_mark(c.shown, SMALL_PX, _view(None)) for c in week},
        large_mark=moon_mark(chosen.shown, LARGE_PX, view),
    )
    return render("coming.html", coming_page(config().programme, calendar(), predicted))


@coming_evenings.get("/coming/<evening>/moon.png")
def moon(evening: str) -> Response:
    """The drawn Moon of an evening: ?size=small or large, ?view=eye or north."""
    day = _date(evening)
    size = {"small": SMALL_PX, "large": LARGE_PX}.get(request.args.get("size", "small"))
    if day is None or size is None:
        raise NotStoredError("There is no such drawing.", "Go back to the evenings.")
    one = _coming(day, air_of(list_editions(storage()), calendar()))
    path = moon_file(Media(config().data_dir), one.shown, size, _view(request.args.get("view")))
    response = send_file(path, mimetype="image/png", conditional=True, max_age=3600)
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response


def _coming(day: date, air: Air) -> Coming:
    return evening_to_come(day, air, config().programme.zone, config().programme.place)


def _view(asked: str | None) -> Orientation:
    if config().programme.place is None or asked == "north":
        return "north"
    return "eye"


def _date(text: str | None) -> date | None:
    """A day of the address; None where none was named. Raises BadInputError for one that is none, or too far away."""
    if not text:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise BadInputError(f"“{text[:20]}” is no date.", "Write it as 2026-03-26.") from error
    if not FIRST <= day <= LAST:
        raise BadInputError("The Moon is predicted for the years 1900 to 2099.", "Choose a day of these years.")
    return day
