"""Replies at the desk: the draft of one, changed and approved by a person; the list of all; sending what is approved.

A draft stands in the store only once somebody has saved or approved it; until then the page shows what would be
written, made anew each time from what is known by now.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Blueprint, Response, current_app, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError
from moondesk.service.jobs.missing_pictures import at_hand
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.equipment import class_of
from moondesk.service.programme.ranking import CLASSES
from moondesk.service.programme.words import time_words
from moondesk.service.replies.draft import Circumstances, Draft, draft_of
from moondesk.service.replies.message import From, is_address, new_message_id
from moondesk.service.replies.postman import ReplySender
from moondesk.service.replies.question_line import with_question
from moondesk.service.replies.sending import mail_bytes, post_of
from moondesk.service.settings.config import Programme
from moondesk.service.store import replies
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.feature_names import language_of
from moondesk.service.store.measured import measured_quality
from moondesk.service.store.media import Media, roles_of
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.store.records import ListedPicture, StoredAnnotation
from moondesk.service.store.replies import Reply, ReplyChangedError, State
from moondesk.service.store.submissions import submission
from moondesk.service.web.access import sessions
from moondesk.service.web.current import calendar, config, render, show, storage
from moondesk.service.web.desk.inbox.asking import ask_by_link, kind_of
from moondesk.service.web.desk.inbox.questions_page import AskForm, ask_form, usable_pictures
from moondesk.service.web.desk.picture.nights import nights_to_ask
from moondesk.service.web.desk.views import PICTURE_ID
from moondesk.service.web.making import workshop

reply = Blueprint("reply", __name__)

BODY_CHARACTERS, SUBJECT_CHARACTERS = 8_000, 180
STATE_WORDS: Mapping[State, str] = {
    "draft": "Draft",
    "approved": "Approved, not sent yet",
    "sending": "Being sent",
    "sent": "Sent",
    "failed": "Refused",
    "unknown": "Nobody knows whether it arrived",
}
QUEUED, AGAIN = "Queued, goes out in a moment", "Queued, not taken yet"
NO_SERVER = (
    "Approved. No mail server is set, so nothing sends it: copy the text into your own mail, or take it as a file"
)
#: What the list shows apart, in this order.
GROUPS: tuple[tuple[str, tuple[State, ...]], ...] = (
    ("Wants a decision", ("unknown", "failed")),
    ("To go out", ("approved", "sending")),
    ("Drafts", ("draft",)),
    ("Sent", ("sent",)),
)


@dataclass(frozen=True, kw_only=True)
class ReplyPage:
    """state: None while nothing is saved. can_send: whether a mail server is set; version: of what is shown.

    queued: whether it goes out by itself; moving: whether that may have changed in a few seconds.
    image: key of the labelled picture that goes with it, None where none does; attach: whether it shall.
    """

    programme: Programme
    token: str
    picture_id: int
    sender: str
    to: str
    subject: str
    body: str
    image: str | None
    attach: bool
    state: State | None
    state_words: str
    words: str
    told: str
    version: int
    can_send: bool
    queued: bool
    moving: bool
    address_known: bool
    untranslated: tuple[str, ...]
    notice: str
    ask: AskForm


@dataclass(frozen=True, kw_only=True)
class ReplyRow:
    """A reply in the list. picture_id: None where it answers a letter; letter_id: its submission.

    told: when and by whom; words: what the last try brought."""

    picture_id: int | None
    letter_id: int
    sender: str
    subject: str
    told: str
    words: str


@dataclass(frozen=True, kw_only=True)
class RepliesPage:
    programme: Programme
    token: str
    groups: tuple[tuple[str, tuple[ReplyRow, ...]], ...]
    can_send: bool
    waiting: int
    moving: bool
    notice: str


@reply.get(f"/pictures/{PICTURE_ID}/reply")
def form(picture_id: int) -> Response:
    return _reply_page(picture_id, 200)


@reply.post(f"/pictures/{PICTURE_ID}/reply")
def save(picture_id: int) -> AnyResponse:
    """Save the draft, or save and approve it, or also queue it to be sent."""
    listed = _find_picture(picture_id)
    arrival = listed.picture.submission.arrival
    subject = " ".join(request.form.get("subject", "").split())[:SUBJECT_CHARACTERS]
    body = request.form.get("body", "").replace("\r\n", "\n").replace("\0", "").strip()
    action = request.form.get("action", "save")
    asks = action.removeprefix("ask-") if action.startswith("ask-") else ""
    to = request.form.get("to", arrival.answer_to or arrival.sender_address).strip()
    if not subject or not body or len(body) > BODY_CHARACTERS:
        return _reply_page(
            picture_id,
            422,
            f"Nothing was saved: a reply wants a subject, and words of up to {BODY_CHARACTERS} characters.",
        )
    if action in ("approve", "send") and not is_address(to):
        return _reply_page(picture_id, 422, "Nothing was saved: there is no address to send it to. Type one.")
    submission_id, who, now = listed.picture.submission.id, sessions.actor().name, sessions.now()
    attached = picture_id if request.form.get("attach") == "yes" else None
    try:
        if asks:
            replies.check_draft(storage(), submission_id, _version())
            line = ask_by_link(listed.picture, kind_of(asks), request.form.get("language", ""), whole=True).line
            body = with_question(body, line)
        kept = replies.keep(storage(), submission_id, to, subject, body, attached, _version(), who, now)
        if action in ("approve", "send"):
            replies.approve(storage(), submission_id, kept.version, new_message_id(_from().address), who, now)
        if action == "send":
            _queue(submission_id, kept.version + 1)
    except ReplyChangedError as error:
        return _reply_page(picture_id, 409, f"{error} {error.advice}")
    return redirect(url_for("reply.form", picture_id=picture_id), 303)


def add_to_draft(picture_id: int, line: str) -> None:
    """Put a line into the draft as it stands, or as it would first be written, and keep it. Raises ReplyChangedError."""
    listed = _find_picture(picture_id)
    found = replies.reply_of(storage(), listed.picture.submission.id)
    draft = _draft(listed, read_annotation(storage(), picture_id))
    replies.keep(
        storage(),
        listed.picture.submission.id,
        found.to if found else draft.to,
        found.subject if found else draft.subject,
        with_question(found.body if found else draft.body, line),
        _picture_of(found, draft),
        found.version if found else 0,
        sessions.actor().name,
        sessions.now(),
    )


@reply.post(f"/pictures/{PICTURE_ID}/reply/<any(back, send, arrived, again):what>")
def change(picture_id: int, what: str) -> AnyResponse:
    """Take the approval back, queue what is approved, or say how an unknown end was, or that it went another way."""
    submission_id, who, now = _find_picture(picture_id).picture.submission.id, sessions.actor().name, sessions.now()
    try:
        if what == "back":
            replies.take_back(storage(), submission_id, _version(), who, now)
        elif what in ("arrived", "again"):
            replies.decide(storage(), submission_id, what == "arrived", _version(), who, now)
        else:
            _queue(submission_id, _version())
    except ReplyChangedError as error:
        return _reply_page(picture_id, 409, f"{error} {error.advice}")
    return redirect(url_for("reply.form", picture_id=picture_id), 303)


@reply.get(f"/pictures/{PICTURE_ID}/reply.eml")
def eml(picture_id: int) -> Response:
    """The approved reply as a file for a mail program."""
    found = replies.reply_of(storage(), _find_picture(picture_id).picture.submission.id)
    if found is None or found.state == "draft":
        raise BadInputError("Only an approved reply is written.", "Approve it first.")
    try:
        data = mail_bytes(storage(), config(), _from(), found, found.changed_utc)
    except ValueError as error:
        raise BadInputError(f"The mail cannot be written: {error}.", "Correct the address.") from error
    return Response(
        data,
        mimetype="message/rfc822",
        headers={"Content-Disposition": f'attachment; filename="reply-{picture_id}.eml"'},
    )


@reply.get("/replies")
def listed() -> str:
    every = replies.replies(storage())
    rows: dict[State, list[ReplyRow]] = {}
    for one in every:
        rows.setdefault(one.state, []).append(_row(one))
    groups = tuple((head, tuple(row for state in states for row in rows.get(state, []))) for head, states in GROUPS)
    can_send = post_of(config()) is not None
    notice = "" if can_send or "approved" not in rows else f"{NO_SERVER}."
    return render(
        "replies.html",
        RepliesPage(
            programme=config().programme,
            token=sessions.form_token(),
            groups=tuple(g for g in groups if g[1]),
            can_send=can_send,
            waiting=sum(one.state == "approved" and one.queued_utc is None for one in every),
            moving=can_send and any(map(_is_moving, every)),
            notice=notice,
        ),
    )


@reply.post("/replies/send")
def send_all() -> AnyResponse:
    """Queue all that is approved."""
    _check_server()
    replies.queue_all(storage(), sessions.actor().name, sessions.now())
    _wake()
    return redirect(url_for("reply.listed"), 303)


def _queue(submission_id: int, version: int) -> None:
    """Say to send an approved one. Raises ReplyChangedError; BadInputError where there is no mail server."""
    _check_server()
    replies.queue(storage(), submission_id, version, sessions.actor().name, sessions.now())
    _wake()


def _check_server() -> None:
    if post_of(config()) is None:
        raise BadInputError(
            "No mail server is set: nothing was queued.",
            "Set [smtp] in moondesk.toml, or copy the text into your own mail.",
        )


def _wake() -> None:
    postman: ReplySender | None = current_app.extensions.get("moondesk.postman")
    if postman is not None:
        postman.wake()


def _reply_page(picture_id: int, status: int, notice: str = "") -> Response:
    listed = _find_picture(picture_id)
    arrival, stored = listed.picture.submission.arrival, read_annotation(storage(), picture_id)
    found = replies.reply_of(storage(), listed.picture.submission.id)
    asks = request.args.get("ask") == "evening" and status < 400
    draft = _draft(listed, stored, asks)
    if asks and found is not None:
        notice = "A reply to this sender stands below as it was written: ask for the evening in it."
    typed = request.form if status >= 400 else {}
    attached = _picture_of(found, draft)
    post = post_of(config())
    page = ReplyPage(
        programme=config().programme,
        token=sessions.form_token(),
        picture_id=picture_id,
        sender=sender_of(arrival),
        to=typed.get("to") or (found.to if found else draft.to),
        subject=typed.get("subject") or (found.subject if found else draft.subject),
        body=typed.get("body") or (found.body if found else draft.body),
        image=_image(attached),
        attach=attached is not None,
        state=found.state if found else None,
        state_words=_state_words(found, post is not None) if found else "Draft, not saved",
        words=found.words if found else "",
        told=_status_words(found),
        version=found.version if found else 0,
        can_send=post is not None,
        queued=bool(found and found.queued_utc),
        moving=post is not None and found is not None and _is_moving(found),
        address_known=bool(arrival.answer_to or arrival.sender_address),
        untranslated=draft.untranslated if found is None or found.state == "draft" else (),
        notice=notice,
        ask=ask_form(
            config(), picture_id, arrival, usable_pictures(submission(storage(), listed.picture.submission.id))
        ),
    )
    return show("reply.html", page, status)


def _find_picture(picture_id: int) -> ListedPicture:
    read_picture(storage(), picture_id)  # NotStoredError where there is none
    return list_by_id(storage(), [picture_id])[0]


def _draft(listed: ListedPicture, stored: StoredAnnotation | None, asks: bool = False) -> Draft:
    """asks: for the evening on which the picture was taken."""
    nights = None if not asks else nights_to_ask(stored.annotation, calendar()) if stored else ()
    return draft_of(
        config().programme.name,
        listed.picture,
        stored.annotation if stored else None,
        Circumstances(measured_quality(stored.quality) if stored else None, CLASSES.get(class_of(listed))),
        language_of(storage(), config().programme.language),
        nights,
    )


def _picture_of(found: Reply | None, draft: Draft) -> int | None:
    return found.picture_id if found else draft.picture_id


def _image(picture_id: int | None) -> str | None:
    """Key of a picture's derived files, its labelled one drawn by now; None where it has none."""
    if picture_id is None:
        return None
    found, stored = read_picture(storage(), picture_id), read_annotation(storage(), picture_id)
    if stored is None or "labelled" not in roles_of(stored.annotation) or found.enclosure.sha256 is None:
        return None
    at_hand(
        Media(config().data_dir),
        workshop().run,
        found.enclosure.sha256,
        stored.derived_key,
        stored.annotation,
        "labelled",
    )
    return stored.derived_key


def _row(one: Reply) -> ReplyRow:
    of = submission(storage(), one.submission_id)
    return ReplyRow(
        picture_id=one.picture_id or next(iter(of.picture_ids), None),
        letter_id=one.submission_id,
        sender=sender_of(of.submission.arrival),
        subject=one.subject,
        told=_status_words(one),
        words=one.words,
    )


def _state_words(found: Reply, can_send: bool) -> str:
    if found.state != "approved":
        return STATE_WORDS[found.state]
    if not can_send:
        return NO_SERVER
    return STATE_WORDS["approved"] if found.queued_utc is None else AGAIN if found.next_utc else QUEUED


def _is_moving(found: Reply) -> bool:
    return found.state == "sending" or (found.state == "approved" and bool(found.queued_utc) and not found.next_utc)


def _status_words(found: Reply | None) -> str:
    if found is None:
        return ""
    zone = config().programme.zone
    if found.sent_utc:
        return f"sent {time_words(found.sent_utc, zone)}, approved by {found.who}"
    later = f", next try {time_words(found.next_utc, zone)}" if found.next_utc else ""
    queued = found.queued_utc if found.state in ("approved", "sending") else None
    when = f"queued {time_words(queued, zone)}" if queued else time_words(found.changed_utc, zone)
    return f"{found.who}, {when}{later}"


def _from() -> From:
    post = post_of(config())
    return post.sender if post else From(config().programme.name, "programme@example.invalid")


def _version() -> int:
    text = request.form.get("version", "0")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else -1
