"""The mail that brings the link to a receipt: written by the program, the same for everybody, with nothing typed in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime

from moondesk.notes.messages import say
from moondesk.service.languages.catalogue import Language
from moondesk.service.replies.message import OutgoingMail, mail_of, new_message_id
from moondesk.service.replies.sending import Post, Send
from moondesk.service.replies.smtp import send
from moondesk.service.store import receipt_mails
from moondesk.service.store.storage import Storage


def receipt_words(programme: str, link: str, language: Language) -> tuple[str, str]:
    """Subject and body."""
    sentences = (
        say("We have what you sent to {programme}. Thank you!", programme=programme),
        say("This link shows how it stands, and lets you take everything back: {link}", link=link),
        say("Whoever has the link can take the pictures back, so please keep it to yourself."),
        say("If it was not you who sent them, please use the link to take them back, or answer this mail."),
    )
    subject = language.write(say("Your receipt from {programme}", programme=programme))
    return subject, "\n\n".join([*map(language.write, sentences), programme])


def send_receipts(
    storage: Storage,
    programme: str,
    post: Post,
    link_of: Callable[[str], str],
    now: Callable[[], datetime],
    send_one: Send = send,
) -> Iterator[str]:
    """Mail the links that are due; how each ended. link_of: the link for a submission's key."""
    while (due := receipt_mails.claim(storage, now())) is not None:
        subject, body = receipt_words(programme, link_of(due.key), Language(due.language))
        written = OutgoingMail(due.to, subject, body, new_message_id(post.sender.address))
        try:
            mail = mail_of(post.sender, written, now(), automatic=True)
        except ValueError:
            yield "failed"
            continue
        outcome = send_one(post.server, post.sender.address, due.to, mail)
        if outcome.ending == "later":
            receipt_mails.later(storage, due, now())
        yield outcome.ending
