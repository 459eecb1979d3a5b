"""Routes of questions by a link at the desk: ask, put the line into the reply, take back."""

from __future__ import annotations

from flask import Blueprint, Response, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import NotStoredError
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.questions import TITLES
from moondesk.service.programme.words import time_words
from moondesk.service.store import questions as kept
from moondesk.service.store.pictures import read_picture
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, show, storage
from moondesk.service.web.desk.inbox.asking import ask_by_link, asked_again, kind_of
from moondesk.service.web.desk.inbox.questions_page import AskedPage, language_told
from moondesk.service.web.desk.inbox.reply import add_to_draft
from moondesk.service.web.desk.views import PICTURE_ID

questions = Blueprint("questions", __name__)

QUESTION_ID = "<int(max=9007199254740991):question_id>"


@questions.post(f"/pictures/{PICTURE_ID}/questions")
def ask(picture_id: int) -> Response:
    """Make a question and show its link, this once: the store cannot tell it again."""
    kind, language = kind_of(request.form.get("kind", "")), request.form.get("language", "")
    picture = read_picture(storage(), picture_id)
    asked = ask_by_link(picture, kind, language, request.form.get("whole") == "yes")
    made = kept.question(storage(), asked.id)
    page = AskedPage(
        programme=config().programme,
        token=sessions.form_token(),
        id=asked.id,
        picture_id=picture_id,
        title=TITLES[kind],
        url=asked.url,
        line=asked.line,
        language=language or language_told(picture.submission.arrival, config().programme.language),
        link_token=asked.url.rpartition("/")[2],
        until=time_words(made.expires_utc, config().programme.zone),
    )
    answer = show("asked.html", page, 201)
    answer.headers["Cache-Control"] = "no-store"
    return answer


@questions.post(f"/questions/{QUESTION_ID}/reply")
def into_reply(question_id: int) -> AnyResponse:
    """Put the line with the link into the reply's draft. The link comes with the form, from the page that shows it."""
    found, link = kept.question(storage(), question_id), request.form.get("link", "")
    of_link = kept.question_of_token(storage(), link, sessions.now())
    if of_link is None or of_link.id != found.id:
        raise NotStoredError("This link has ended.", "Ask again from the picture's page.")
    programme = config().programme.language
    picture = read_picture(storage(), found.picture_ids[0])
    language = found.language or language_told(picture.submission.arrival, programme)
    asked = asked_again(found.id, link, found.kind, Language(language))
    add_to_draft(picture.id, found.kind, asked.url, asked.line)
    return redirect(url_for("reply.form", picture_id=picture.id), 303)


@questions.post(f"/questions/{QUESTION_ID}/revoke")
def revoke(question_id: int) -> AnyResponse:
    kept.revoke(storage(), question_id, sessions.actor().name, sessions.now())
    found = kept.question(storage(), question_id)
    return redirect(url_for("desk.picture", picture_id=found.picture_ids[0], _anchor="questions"), 303)
