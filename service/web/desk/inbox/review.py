"""Drafts of an edition one under the other, each with the picture that goes with it: approved once they were seen.

What is approved is what the page showed: each draft has a mark of its words, its picture and its version, and one that
would be another by now is not approved. Drafts wait here of all who can be answered: not of a picture that is not placed
yet, of a letter that nobody has read, or of who has a letter that waits.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from flask import Blueprint, Response, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.editions import next_to_air
from moondesk.service.replies.draft import Draft
from moondesk.service.replies.message import is_address
from moondesk.service.replies.sending import SENT
from moondesk.service.settings.config import Programme
from moondesk.service.store import replies
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.media import roles_of
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedSubmission
from moondesk.service.store.replies import Reply, ReplyChangedError
from moondesk.service.store.submissions import submission, submissions_after
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, show, storage
from moondesk.service.web.desk.inbox.reply import (
    BODY_CHARACTERS,
    Answered,
    Wanted,
    answered_by,
    card_for,
    draft_of_answered,
    fallen_words,
    keep,
    typed_words,
)

review = Blueprint("review", __name__)

#: Drafts on one page, and submissions looked at in one go.
PER_PAGE, LOOKED_AT = 12, 60


@dataclass(frozen=True, kw_only=True)
class ReviewItem:
    """A draft as it would go out. image: key of the picture that goes with it, None where none does; card: the card that
    does, as `Reply.card` has it; mark: of all this;
    lang: "" where it was saved by a person; saved: whether it was."""

    submission_id: int
    picture_id: int | None
    letter_id: int | None
    sender: str
    to: str
    subject: str
    body: str
    image: str | None
    card: str
    version: int
    mark: str
    lang: str
    saved: bool
    fallen: str


@dataclass(frozen=True, kw_only=True)
class ReviewPage:
    """after: the submission that the page begins after; more: that of the next page, None on the last."""

    programme: Programme
    token: str
    editions: tuple[int, ...]
    edition: int | None
    after: int
    more: int | None
    items: tuple[ReviewItem, ...]
    done: str
    notice: str


@review.get("/replies/review")
def page() -> Response:
    return _page(200)


@review.post("/replies/review")
def approve_seen() -> AnyResponse:
    """Approve the drafts whose marks are sent, each as it was seen; only: that one, whatever else is ticked."""
    approved, changed, only = 0, 0, request.form.get("only")
    for told in [only] if only else request.form.getlist("seen"):
        number, _, mark = told.partition(":")
        item = _item(submission(storage(), int(number))) if number.isascii() and number.isdigit() else None
        if item is None or item.mark != mark or not is_address(item.to):
            changed += 1
            continue
        attached = item.picture_id if item.image else None
        try:
            keep(
                item.submission_id,
                item.to,
                item.subject,
                item.body,
                attached,
                item.version,
                approve=True,
                card=item.card,
            )
            approved += 1
        except ReplyChangedError:
            changed += 1
    if changed:
        notice = "One draft is another by now, and was not approved: look at it again." if changed == 1 else ""
        return _page(409, notice or f"{changed} drafts are others by now, and were not approved: look at them again.")
    return redirect(_address(approved) + (f"#after-{only.partition(':')[0]}" if only else ""), 303)


@review.post("/replies/review/<int(max=9007199254740991):submission_id>")
def save_one(submission_id: int) -> AnyResponse:
    """Keep a draft as it was changed here, or keep and approve it."""
    item = _item(submission(storage(), submission_id))
    subject, body = typed_words(request.form.get("subject", ""), request.form.get("body", ""))
    version, approve = request.form.get("version", ""), request.form.get("action") == "approve"
    if item is None or version != str(item.version):
        return _page(409, "Somebody has changed this reply meanwhile: nothing was saved.")
    if not subject or not body or len(body) > BODY_CHARACTERS or (approve and not is_address(item.to)):
        raise BadInputError(
            "Nothing was saved.",
            f"A reply wants a subject, words of up to {BODY_CHARACTERS} characters, and an address.",
        )
    try:
        keep(
            submission_id,
            item.to,
            subject,
            body,
            item.picture_id if item.image else None,
            item.version,
            approve,
            item.card,
        )
    except ReplyChangedError as error:
        return _page(409, f"{error} {error.advice}")
    return redirect(f"{_address(int(approve))}#{'after' if approve else 'reply'}-{submission_id}", 303)


def _address(approved: int) -> str:
    """Of the page that the form came from."""
    edition, after = _number("edition"), _number("after")
    return url_for("review.page", edition=edition, after=after or None, approved=approved or None)


def _number(name: str) -> int | None:
    text = request.values.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def _page(status: int, notice: str = "") -> Response:
    editions, number = list_editions(storage()), _number("edition")
    edition = read_edition(storage(), number) if number is not None else None
    edition = edition or next_to_air(editions, config().next_edition, sessions.now())
    after, approved = _number("after") or 0, _number("approved") or 0
    items = tuple(islice(_items(edition.id, after), PER_PAGE + 1)) if edition else ()
    return show(
        "review.html",
        ReviewPage(
            programme=config().programme,
            token=sessions.form_token(),
            editions=tuple(sorted({e.plan.number for e in editions}, reverse=True)),
            edition=edition.plan.number if edition else None,
            after=after,
            more=items[PER_PAGE - 1].submission_id if len(items) > PER_PAGE else None,
            items=items[:PER_PAGE],
            done=""
            if not approved
            else "One reply is approved."
            if approved == 1
            else f"{approved} replies are approved.",
            notice=notice,
        ),
        status,
    )


def _items(edition_id: int, after: int) -> Iterator[ReviewItem]:
    """Drafts that wait, in the order in which their submissions came."""
    while of := submissions_after(storage(), edition_id, after, LOOKED_AT):
        for one in of:
            item = _item(one)
            if item is not None:
                yield item
        after = of[-1].submission.id


def _item(of: ListedSubmission) -> ReviewItem | None:
    """None for what gets no draft, or has its reply."""
    arrival, found = of.submission.arrival, replies.reply_of(storage(), of.submission.id)
    if not (arrival.answer_to or arrival.sender_address) or arrival.held_by or (found and found.state != "draft"):
        return None
    if of.letter == "machine" or (of.letter == "letter" and of.letter_read_utc is None):
        return None
    answered = _answered(of)
    if answered is None:
        return None
    draft = draft_of_answered(answered, Wanted())
    to, subject, body = (found.to, found.subject, found.body) if found else (draft.to, draft.subject, draft.body)
    attached = found.picture_id if found else draft.picture_id
    image = None
    if attached and answered.stored and SENT in roles_of(answered.stored.annotation):
        image = answered.stored.derived_key
    card = found.card if found else ""
    if card and card != card_for(int(card.partition(":")[0])):  # not the one that was chosen: nobody has seen this one
        card = ""
    return ReviewItem(
        submission_id=of.submission.id,
        picture_id=answered.picture_id,
        letter_id=answered.letter_id,
        sender=sender_of(arrival),
        to=to,
        subject=subject,
        body=body,
        image=image,
        card=card,
        version=found.version if found else 0,
        mark=_mark(found, draft, f"{image} {card}"),
        lang="" if found else draft.language,
        saved=found is not None,
        fallen="" if found else fallen_words(arrival, "", draft),
    )


def _answered(of: ListedSubmission) -> Answered | None:
    """The first picture that could be opened speaks for its submission. None: it waits to be placed, or all of it is a
    version of what came before."""
    if not of.picture_ids:
        return Answered(submission_id=of.submission.id, arrival=of.submission.arrival)
    rows = tuple(zip(of.picture_ids, of.pictures, of.version_of, strict=True))
    if all(version is not None for _, _, version in rows):
        return None
    usable = [(k, status) for k, (enclosure, status), version in rows if enclosure.refused is None and version is None]
    picture_id, status = usable[0] if usable else (rows[0][0], "")
    return None if status is None else answered_by(list_by_id(storage(), [picture_id])[0])


def _mark(found: Reply | None, draft: Draft, image: str) -> str:
    """Sixteen hex digits for what a reader of the page sees."""
    whole = (found.to, found.subject, found.body) if found else (draft.to, draft.subject, draft.body)
    told = repr((whole, image, found.version if found else 0))
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()[:16]
