"""Routes of a question that is answered by a link. Who has the link may answer: no account, no cookie.

Looking changes nothing, for programs that guard mail open what stands in it; an answer is sent by its button. The link
itself is the secret, so that no other page can make a browser send the form.
"""

from __future__ import annotations

from flask import Response, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.notes.messages import Message, say
from moondesk.service.errors import NotStoredError
from moondesk.service.languages import REPLY_LANGUAGES
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.questions import BY_LINK, choices_of
from moondesk.service.store import questions
from moondesk.service.store.annotations import read_derived_key
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.questions import Question
from moondesk.service.web.current import show, storage
from moondesk.service.web.public.question_form import Typed, gone_page, question_page, read_answer, typed_of
from moondesk.service.web.public.tongue import tongue, use_language
from moondesk.service.web.public.views import app, asking, upload

#: Answers that are kept of one question; a refusal is taken after them too.
MOST_ANSWERS = 100


@upload.get("/q/<token>")
def show_question(token: str) -> Response:
    found = _find(token)
    return _page(token, found) if found else _gone()


@upload.get("/q/<token>/<int(max=99):number>.jpg")
def question_picture(token: str, number: int) -> Response:
    """A small picture that the question is about, made of its pixels: without what the file says."""
    found = _find(token)
    if found is None or number >= len(found.picture_ids):
        return _gone()
    picture_id = found.picture_ids[number]
    key, sha = read_derived_key(storage(), picture_id), read_picture(storage(), picture_id).enclosure.sha256
    path = Media(app().config.data_dir).derived(sha, key, "thumbnail") if key and sha else None
    try:
        data = path.read_bytes() if path else b""
    except FileNotFoundError:  # placed anew, or erased, at this moment
        data = b""
    if not data:
        raise NotStoredError("This picture is not at hand.")
    return _unkept(Response(data, mimetype="image/jpeg"))


@upload.post("/q/<token>")
def answer_question(token: str) -> AnyResponse:
    found, here = _find(token), app()
    if found is None:
        return _gone()
    choices = choices_of(found.kind, len(found.picture_ids), found.aired_utc is not None)
    choice = next((c for c in choices if c.name == request.form.get("choice")), None)
    typed = typed_of(request.form)
    if choice is None:
        return _page(token, found, typed, say("Please choose one of the answers."), 422)
    if len(found.answers) >= MOST_ANSWERS and choice.name != "no":
        return _page(token, found, typed, say("This was changed too often. Please write to us instead."), 429)
    reading = read_answer(found, choice, typed, here.config.programme, tongue(), here.now())
    if reading.answer is None:
        return _page(token, found, typed, reading.complaint, 422)
    before = found.answer
    same = before and (before.choice, before.words) == (reading.answer.choice, reading.answer.words)
    if not same and not questions.answer(storage(), found.id, reading.answer, reading.then, BY_LINK):
        return _gone()
    return redirect(url_for("upload.show_question", token=token, language=tongue().code), 303)


def _find(token: str) -> Question | None:
    """The open question of a link; who guesses is slowed, see `views.admit`."""
    found = questions.question_of_token(storage(), token, app().now())
    use_language(found.language if found else "", REPLY_LANGUAGES)
    if found is not None:
        app().limits.tries.give_back(asking())
    return found


def _page(
    token: str, found: Question, typed: Typed | None = None, complaint: Message | None = None, status: int = 200
) -> Response:
    here = app()
    pictures = [read_picture(storage(), k) for k in found.picture_ids]
    shown = tuple(
        (url_for("upload.question_picture", token=token, number=n), p.enclosure.given_name)
        for n, p in enumerate(pictures)
        if read_derived_key(storage(), p.id)
    )
    credit = credit_of(pictures[0].submission.arrival).name if pictures else ""
    page = question_page(
        found,
        here.config.programme,
        tongue(),
        url_for("upload.show_question", token=token),
        shown,
        credit,
        here.public.contact,
        typed,
        complaint,
    )
    return _unkept(show("public_question.html", page, status))


def _gone() -> Response:
    here = app()
    return _unkept(show("public_gone.html", gone_page(here.config.programme, tongue(), here.public.contact), 404))


def _unkept(answer: Response) -> Response:
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer
