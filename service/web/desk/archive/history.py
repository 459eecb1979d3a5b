"""What was on air, when, by whom, and the frame as it was: GET /history?q=WORDS&feature=NAME, /history/ID/frame.png.

A line whose picture was taken back since shows neither name nor frame.
"""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, Response, request, send_file

from moondesk.records import ClockVerdict
from moondesk.service.errors import NotStoredError
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.words import date_words, time_words
from moondesk.service.settings.config import Programme
from moondesk.service.store import aired
from moondesk.service.store.inbox import features_to_choose
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedPicture
from moondesk.service.web.current import calendar, config, render, storage

history = Blueprint("history", __name__)

TAKEN_BACK = "Taken back by its sender since."
FORGOTTEN = "Its sender was forgotten; only this line stays."


@dataclass(frozen=True, kw_only=True)
class LineView:
    """picture_id None: nothing may be shown of it; told: why. frame: whether one is kept; mark: of its bytes."""

    id: int
    edition: int
    when: str
    picture_id: int | None
    sender: str
    credit: str
    evening: str
    equipment: str
    frame: str
    told: str


@dataclass(frozen=True, kw_only=True)
class HistoryPage:
    programme: Programme
    words: str
    feature: str
    features: tuple[str, ...]
    lines: tuple[LineView, ...]
    more: bool


MOST = 200


@history.get("/history")
def page() -> str:
    words = " ".join(request.args.get("q", "").split())[:100]
    feature = " ".join(request.args.get("feature", "").split())[:80]
    found = aired.lines(storage(), words, feature, MOST + 1)
    pictures = {p.picture.id: p for p in list_by_id(storage(), [x.picture_id for x in found if x.picture_id])}
    lines = [_line(x, pictures.get(x.picture_id or 0)) for x in found[:MOST]]
    if words or feature:  # a name that leads to a line that does not show it would tell it all the same
        lines = [x for x in lines if x.picture_id is not None or words == str(x.edition)]
    return render(
        "history.html",
        HistoryPage(
            programme=config().programme,
            words=words,
            feature=feature,
            features=tuple(name for name, _ in features_to_choose(storage(), None)),
            lines=tuple(lines),
            more=len(found) > MOST,
        ),
    )


@history.get("/history/<int(max=9007199254740991):line_id>/frame.png")
def frame(line_id: int) -> Response:
    """The frame exactly as it was aired."""
    found = aired.line(storage(), line_id)
    listed = list_by_id(storage(), [found.picture_id]) if found and found.picture_id else ()
    if not found or not found.frame or not listed or reasons_not_to_air(listed[0], config().entry_terms):
        raise NotStoredError("No frame is kept here, or it may not be shown any more.", "Go back to the history.")
    answer = send_file(
        Media(config().data_dir).path(found.frame),
        mimetype="image/png",
        download_name=f"edition-{found.edition_number}-{line_id}.png",
        conditional=True,
    )
    answer.headers["Cache-Control"] = "private, no-cache"
    return answer


def _line(found: aired.Aired, listed: ListedPicture | None) -> LineView:
    when = time_words(found.aired_utc, config().programme.zone)
    if listed is None or reasons_not_to_air(listed, config().entry_terms):
        return LineView(
            id=found.id,
            edition=found.edition_number,
            when=when,
            picture_id=None,
            sender="",
            credit="",
            evening="",
            equipment="",
            frame="",
            told=FORGOTTEN if listed is None else TAKEN_BACK,
        )
    arrival, summary = listed.picture.submission.arrival, listed.summary
    evening = ""
    if summary and summary.taken_utc and summary.clock_verdict != ClockVerdict.DISAGREES:
        seen = calendar().evening(summary.taken_utc)
        evening = date_words(seen.date) + ("" if seen.day_number is None else f", day {seen.day_number}")
    return LineView(
        id=found.id,
        edition=found.edition_number,
        when=when,
        picture_id=listed.picture.id,
        sender=sender_of(arrival),
        credit=found.credit or "no name was shown",
        evening=evening,
        equipment=arrival.equipment,
        frame=found.frame[:16],
        told="",
    )
