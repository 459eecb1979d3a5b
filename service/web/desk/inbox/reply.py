"""Replies at the desk: the draft of one, changed and approved by a person; the list of all; sending what is approved.

A draft stands in the store only once somebody has saved or approved it; until then the page shows what would be
written, made anew each time from what is known by now. One that was saved as it was drafted may be drafted anew in
another language; what a person has changed stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from flask import Blueprint, Response, current_app, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError
from moondesk.service.exports.share_card import PlannedCard, plan_card
from moondesk.service.jobs.missing_pictures import at_hand
from moondesk.service.languages import REPLY_LANGUAGES, own_name
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.words import time_words
from moondesk.service.replies.draft import Draft
from moondesk.service.replies.drafting import draft_for_letter, picture_draft, senders_language
from moondesk.service.replies.letter_draft import LETTERS, LetterIs, letter_is
from moondesk.service.replies.message import From, is_address, new_message_id
from moondesk.service.replies.postman import ReplySender
from moondesk.service.replies.question_line import question_line, with_question
from moondesk.service.replies.sending import SENT, mail_bytes, post_of
from moondesk.service.replies.voices import Voice
from moondesk.service.settings.config import Programme
from moondesk.service.store import letters as letters_store
from moondesk.service.store import replies
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.media import Media, roles_of
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.store.records import Arrival, ListedPicture, QuestionKind, StoredAnnotation
from moondesk.service.store.replies import Reply, ReplyChangedError, State
from moondesk.service.store.submissions import submission
from moondesk.service.web.access import sessions
from moondesk.service.web.current import calendar, config, render, show, storage
from moondesk.service.web.desk.inbox.asking import ask_by_link, kind_of
from moondesk.service.web.desk.inbox.questions_page import AskForm, ask_form, usable_pictures
from moondesk.service.web.desk.picture.nights import nights_to_ask
from moondesk.service.web.desk.views import LETTER_ID, PICTURE_ID
from moondesk.service.web.making import letter_text, studio, workshop

reply = Blueprint("reply", __name__)

BODY_CHARACTERS, SUBJECT_CHARACTERS = 8_000, 180
#: To whom a draft may speak, as the desk calls it.
VOICES: Mapping[Voice, str] = {
    Voice.ADULT: "a grown-up",
    Voice.CHILD: "a child",
    Voice.GUARDIAN: "the grown-up of a child",
}
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
class Answered:
    """What a reply answers: a picture, or a letter without one (listed None)."""

    submission_id: int
    arrival: Arrival
    listed: ListedPicture | None = None
    stored: StoredAnnotation | None = None

    @property
    def picture_id(self) -> int | None:
        return self.listed.picture.id if self.listed else None

    @property
    def letter_id(self) -> int | None:
        return None if self.listed else self.submission_id

    @property
    def page(self) -> str:
        """Its reply's address."""
        return url_for("reply.form", picture_id=self.picture_id, letter_id=self.letter_id)


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """How a draft is asked for. language: its code, "" the sender's; voice: None the one that follows; what: of a letter,
    None as it was read; asks: for the evening on which a picture was taken."""

    language: str = ""
    voice: Voice | None = None
    what: LetterIs | None = None
    asks: bool = False


@dataclass(frozen=True, kw_only=True)
class DraftChoices:
    """What the page offers for drafting anew: values, their words, and the chosen one. what: of letters alone."""

    language: str
    languages: tuple[tuple[str, str], ...]
    voice: str
    voices: tuple[tuple[str, str], ...]
    what: str
    whats: tuple[tuple[str, str], ...]
    asks: bool


@dataclass(frozen=True, kw_only=True)
class ReplyPage:
    """One of picture_id and letter_id names what is answered. choices: None where nothing may be drafted anew. lang: the
    language's code, "" where a person has changed the words; fallen: why the draft is not in the language wanted.
    state: None while nothing is saved. can_send: whether a mail server is set; version: of what is shown.

    queued: whether it goes out by itself; moving: whether that may have changed in a few seconds.
    image: key of the labelled picture that goes with it, None where none does; attach: whether it shall. card: the card
    that can go with it, or does, as `Reply.card` has it, "" for none; with_card: whether it shall.
    """

    programme: Programme
    token: str
    picture_id: int | None
    letter_id: int | None
    sender: str
    to: str
    subject: str
    body: str
    image: str | None
    attach: bool
    card: str
    with_card: bool
    state: State | None
    state_words: str
    words: str
    told: str
    version: int
    can_send: bool
    queued: bool
    moving: bool
    address_known: bool
    choices: DraftChoices | None
    lang: str
    fallen: str
    notice: str
    ask: AskForm | None


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
@reply.get(f"/letters/{LETTER_ID}/reply")
def form(picture_id: int = 0, letter_id: int = 0) -> AnyResponse:
    answered = _find(picture_id, letter_id)
    if letter_id and answered.listed is not None:  # a letter that came with a picture has that picture's reply
        return redirect(answered.page, 303)
    return _reply_page(answered, 200)


@reply.post(f"/pictures/{PICTURE_ID}/reply")
@reply.post(f"/letters/{LETTER_ID}/reply")
def save(picture_id: int = 0, letter_id: int = 0) -> AnyResponse:
    """Save the draft, or save and approve it, or also queue it to be sent."""
    answered = _find(picture_id, letter_id)
    subject, body = typed_words(request.form.get("subject", ""), request.form.get("body", ""))
    action = request.form.get("action", "save")
    asks = action.removeprefix("ask-") if action.startswith("ask-") else ""
    to = request.form.get("to", answered.arrival.answer_to or answered.arrival.sender_address).strip()
    if not subject or not body or len(body) > BODY_CHARACTERS:
        return _reply_page(
            answered,
            422,
            f"Nothing was saved: a reply wants a subject, and words of up to {BODY_CHARACTERS} characters.",
        )
    if action in ("approve", "send") and not is_address(to):
        return _reply_page(answered, 422, "Nothing was saved: there is no address to send it to. Type one.")
    attached = picture_id if picture_id and request.form.get("attach") == "yes" else None
    card = request.form.get("card", "")
    if card and card != card_for(picture_id):
        return _reply_page(answered, 409, "Nothing was saved: the card is another by now. Look at it as it is below.")
    try:
        if asks and answered.listed:
            replies.check_draft(storage(), answered.submission_id, _version())
            kind = kind_of(asks)
            asked = ask_by_link(answered.listed.picture, kind, request.form.get("language", ""), whole=True)
            body = with_question(body, _line_in(request.form.get("drafted", ""), kind, asked.url) or asked.line)
        approve = action in ("approve", "send")
        version = keep(answered.submission_id, to, subject, body, attached, _version(), approve, card)
        if action == "send":
            _queue(answered.submission_id, version)
    except ReplyChangedError as error:
        return _reply_page(answered, 409, f"{error} {error.advice}")
    return redirect(answered.page, 303)


def add_to_draft(picture_id: int, kind: QuestionKind, url: str, otherwise: str) -> None:
    """Put the line that asks by a link into the draft as it would first be written, in its language, or as it stands
    (otherwise: the line for that), and keep it. Raises ReplyChangedError."""
    answered = _find(picture_id)
    found = replies.reply_of(storage(), answered.submission_id)
    draft = draft_of_answered(answered, Wanted())
    line = otherwise if found else _line_in(draft.language, kind, url) or otherwise
    replies.keep(
        storage(),
        answered.submission_id,
        found.to if found else draft.to,
        found.subject if found else draft.subject,
        with_question(found.body if found else draft.body, line),
        found.picture_id if found else draft.picture_id,
        found.version if found else 0,
        sessions.actor().name,
        sessions.now(),
        found.card if found else "",
    )


def card_for(picture_id: int) -> str:
    """The card that can go with a reply about a picture, as `Reply.card` has it; "" where there is none of it."""
    planned = plan_card(studio(), picture_id, "feed") if picture_id else None
    return f"{picture_id}:{planned.mark}" if isinstance(planned, PlannedCard) else ""


def _line_in(language: str, kind: QuestionKind, url: str) -> str:
    """The line that asks by a link in the language of a draft; "" where that is not known, or lacks it."""
    said = question_line(kind, url)
    here = Language(language) if language in REPLY_LANGUAGES else None
    return here.write(said) if here and not here.missing([said]) else ""


def typed_words(subject: str, body: str) -> tuple[str, str]:
    """Subject and body as they are kept."""
    return " ".join(subject.split())[:SUBJECT_CHARACTERS], body.replace("\r\n", "\n").replace("\0", "").strip()


def keep(
    submission_id: int,
    to: str,
    subject: str,
    body: str,
    attached: int | None,
    version: int,
    approve: bool,
    card: str = "",
) -> int:
    """Keep the words, and let them go out; the reply's version then. Raises ReplyChangedError."""
    who, now = sessions.actor().name, sessions.now()
    kept = replies.keep(storage(), submission_id, to, subject, body, attached, version, who, now, card)
    if not approve:
        return kept.version
    replies.approve(storage(), submission_id, kept.version, new_message_id(_from().address), who, now)
    return kept.version + 1


@reply.post(f"/pictures/{PICTURE_ID}/reply/<any(back, send, arrived, again):what>")
@reply.post(f"/letters/{LETTER_ID}/reply/<any(back, send, arrived, again):what>")
def change(what: str, picture_id: int = 0, letter_id: int = 0) -> AnyResponse:
    """Take the approval back, queue what is approved, or say how an unknown end was, or that it went another way."""
    answered = _find(picture_id, letter_id)
    submission_id, who, now = answered.submission_id, sessions.actor().name, sessions.now()
    try:
        if what == "back":
            replies.take_back(storage(), submission_id, _version(), who, now)
        elif what in ("arrived", "again"):
            replies.decide(storage(), submission_id, what == "arrived", _version(), who, now)
        else:
            _queue(submission_id, _version())
    except ReplyChangedError as error:
        return _reply_page(answered, 409, f"{error} {error.advice}")
    return redirect(answered.page, 303)


@reply.get(f"/pictures/{PICTURE_ID}/reply.eml")
@reply.get(f"/letters/{LETTER_ID}/reply.eml")
def eml(picture_id: int = 0, letter_id: int = 0) -> Response:
    """The approved reply as a file for a mail program."""
    found = replies.reply_of(storage(), _find(picture_id, letter_id).submission_id)
    if found is None or found.state == "draft":
        raise BadInputError("Only an approved reply is written.", "Approve it first.")
    try:
        data = mail_bytes(storage(), config(), _from(), found, found.changed_utc)
    except ValueError as error:
        raise BadInputError(f"The mail cannot be written: {error}.", "Correct the address.") from error
    return Response(
        data,
        mimetype="message/rfc822",
        headers={"Content-Disposition": f'attachment; filename="reply-{picture_id or letter_id}.eml"'},
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


def _reply_page(answered: Answered, status: int, notice: str = "") -> Response:
    found = replies.reply_of(storage(), answered.submission_id)
    wanted = _wanted() if status < 400 else Wanted()
    draft = draft_of_answered(answered, wanted)
    drafted = found is None or (found.state == "draft" and _is_as_drafted(found, answered))
    anew = drafted and (wanted != Wanted() or found is None)
    if wanted.asks and found is not None and not drafted:
        notice = "A reply to this sender stands below as it was written: ask for the evening in it."
    typed = request.form if status >= 400 else {}
    shown = None if anew else found
    attached = shown.picture_id if shown else draft.picture_id
    post = post_of(config())
    page = ReplyPage(
        programme=config().programme,
        token=sessions.form_token(),
        picture_id=answered.picture_id,
        letter_id=answered.letter_id,
        sender=sender_of(answered.arrival),
        to=typed.get("to") or (found.to if found else draft.to),
        subject=typed.get("subject") or (shown.subject if shown else draft.subject),
        body=typed.get("body") or (shown.body if shown else draft.body),
        image=_image(attached),
        attach=attached is not None,
        card=found.card if found and found.state != "draft" else card_for(answered.picture_id or 0),
        with_card=bool(found and found.card),
        state=found.state if found else None,
        state_words=_state_words(found, post is not None) if found else "Draft, not saved",
        words=found.words if found else "",
        told=_status_words(found),
        version=found.version if found else 0,
        can_send=post is not None,
        queued=bool(found and found.queued_utc),
        moving=post is not None and found is not None and _is_moving(found),
        address_known=bool(answered.arrival.answer_to or answered.arrival.sender_address),
        choices=_choices(answered, wanted, draft) if drafted else None,
        lang=draft.language if anew else "",
        fallen=fallen_words(answered.arrival, wanted.language, draft) if drafted else "",
        notice=notice,
        ask=_ask_form(answered),
    )
    return show("reply.html", page, status)


def _ask_form(answered: Answered) -> AskForm | None:
    """A letter without a picture is asked nothing by a link."""
    if answered.picture_id is None:
        return None
    count = usable_pictures(submission(storage(), answered.submission_id))
    return ask_form(config(), answered.picture_id, answered.arrival, count)


def _find(picture_id: int, letter_id: int = 0) -> Answered:
    """Raises NotStoredError."""
    if letter_id and not picture_id:
        letters_store.letter(storage(), letter_id)
        of = submission(storage(), letter_id)
        if not of.picture_ids:
            return Answered(submission_id=letter_id, arrival=of.submission.arrival)
        picture_id = of.picture_ids[0]
    read_picture(storage(), picture_id)  # NotStoredError where there is none
    listed = list_by_id(storage(), [picture_id])[0]
    return answered_by(listed)


def answered_by(listed: ListedPicture) -> Answered:
    return Answered(
        submission_id=listed.picture.submission.id,
        arrival=listed.picture.submission.arrival,
        listed=listed,
        stored=read_annotation(storage(), listed.picture.id),
    )


def _wanted() -> Wanted:
    """What the address asks for; what is no choice is not asked."""
    language, voice, what = (request.args.get(name, "") for name in ("language", "voice", "what"))
    return Wanted(
        language=language if language in REPLY_LANGUAGES else "",
        voice=next((one for one in Voice if one == voice), None),
        what=next((code for code, _ in LETTERS if code == what), None),
        asks=request.args.get("ask") == "evening",
    )


def draft_of_answered(answered: Answered, wanted: Wanted) -> Draft:
    listed, stored = answered.listed, answered.stored
    if listed is None:
        what = wanted.what or _letter_is(answered)
        return draft_for_letter(storage(), config(), answered.arrival, what, wanted.language, wanted.voice)
    nights: tuple[date, ...] | None = None
    if wanted.asks:
        came = listed.picture.submission.stored_utc.date()
        nights = nights_to_ask(stored.annotation, calendar(), came) if stored else ()
    return picture_draft(storage(), config(), listed, stored, wanted.language, wanted.voice, nights)


def _letter_is(answered: Answered) -> LetterIs:
    if letters_store.letter(storage(), answered.submission_id).outcome == "erased":
        return "erased"
    return letter_is(answered.arrival, letter_text(answered.submission_id) or ())


def _is_as_drafted(found: Reply, answered: Answered) -> bool:
    """Whether a saved draft has the words in which it can be drafted: nobody has changed them."""
    whats: tuple[LetterIs | None, ...] = (None,) if answered.listed else tuple(code for code, _ in LETTERS)
    return any(
        draft_of_answered(answered, Wanted(language=language, voice=voice, what=what, asks=asks)).body == found.body
        for language in REPLY_LANGUAGES
        for voice in Voice
        for what in whats
        for asks in ((False, True) if answered.listed else (False,))
    )


def _choices(answered: Answered, wanted: Wanted, draft: Draft) -> DraftChoices:
    letter = answered.listed is None
    return DraftChoices(
        language=draft.language,
        languages=tuple((code, own_name(code)) for code in REPLY_LANGUAGES),
        voice=draft.voice,
        voices=tuple((voice.value, words) for voice, words in VOICES.items()),
        what=(wanted.what or _letter_is(answered)) if letter else "",
        whats=LETTERS if letter else (),
        asks=wanted.asks,
    )


def fallen_words(arrival: Arrival, language: str, draft: Draft) -> str:
    """Why a draft is in another language than that of the sender, or the one asked for; "" where it is in that."""
    wanted = language or senders_language(arrival)
    if not wanted or wanted == draft.language:
        return ""
    here = own_name(draft.language)
    if wanted not in REPLY_LANGUAGES:
        return f"The sender writes in another language ({wanted}), for which there are no sentences: this is in {here}."
    lacking = " · ".join(draft.untranslated)
    return f"Not all of it is translated into {own_name(wanted)}, so all of it is in {here}. Not translated: {lacking}"


def _image(picture_id: int | None) -> str | None:
    """Key of a picture's derived files, the one that goes with a reply drawn by now; None where it has none."""
    if picture_id is None:
        return None
    found, stored = read_picture(storage(), picture_id), read_annotation(storage(), picture_id)
    if stored is None or SENT not in roles_of(stored.annotation) or found.enclosure.sha256 is None:
        return None
    at_hand(
        Media(config().data_dir), workshop().run, found.enclosure.sha256, stored.derived_key, stored.annotation, SENT
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
