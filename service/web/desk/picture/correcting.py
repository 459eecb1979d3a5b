"""Correcting one picture by hand: a view parses, has it placed again, answers; scripts by JSON, forms by 303."""

from __future__ import annotations

from collections.abc import Callable

from flask import jsonify, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import DeskError
from moondesk.service.jobs import hand_corrections
from moondesk.service.store import decisions
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import read_picture
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, storage, wants_json
from moondesk.service.web.desk.picture.correct_form import WantedCorrection, read_details, read_marks
from moondesk.service.web.desk.views import PICTURE_ID, desk
from moondesk.service.web.making import workshop


def bench() -> hand_corrections.Desk:
    return hand_corrections.Desk(storage(), Media(config().data_dir), workshop(), config().zones)


@desk.post(f"/pictures/{PICTURE_ID}/corrections")
def correct(picture_id: int) -> AnyResponse:
    found = read_picture(storage(), picture_id)
    if request.is_json:
        sent = request.get_json(silent=True)
        wanted = read_marks(sent)
        seen = str(sent.get("seen", "")) if isinstance(sent, dict) else ""
    else:
        wanted = read_details(request.form, found.submission.arrival, config().programme.zone)
        seen = request.form.get("seen", "")
    return _answer(picture_id, lambda: _correct(picture_id, wanted, seen))


@desk.post(f"/pictures/{PICTURE_ID}/corrections/<int(max=9007199254740991):decision_id>/undo")
def undo(picture_id: int, decision_id: int) -> AnyResponse:
    seen = request.form.get("seen", "") or decisions.revision(storage(), picture_id)
    return _answer(
        picture_id,
        lambda: hand_corrections.undo(bench(), picture_id, decision_id, sessions.actor().name, seen, sessions.now()),
    )


def _correct(picture_id: int, wanted: WantedCorrection, seen: str) -> None:
    if wanted.complaint:
        raise hand_corrections.UnusableError(wanted.complaint)
    hand_corrections.correct(bench(), picture_id, wanted.changes, sessions.actor().name, seen, sessions.now())


def _answer(picture_id: int, act: Callable[[], None]) -> AnyResponse:
    try:
        act()
    except DeskError as error:
        if not wants_json():
            raise
        answer = jsonify(notice=f"{error} {error.advice}".strip())
        answer.status_code = error.http_status
        return answer
    page = url_for("desk.picture", picture_id=picture_id)
    return jsonify(go=page) if wants_json() else redirect(page, 303)
