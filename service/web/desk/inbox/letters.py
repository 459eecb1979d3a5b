"""The letters' routes: all of them, one with the pictures that it holds, and saying that it was read."""

from __future__ import annotations

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.store import letters as kept
from moondesk.service.store import rundowns
from moondesk.service.store.letters import Letter
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.questions import latest_questions, questions_of
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.submissions import add_consent
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, render, storage
from moondesk.service.web.desk.inbox.letters_page import LetterCard, LettersPage, card_of, letter_page, text_view
from moondesk.service.web.desk.inbox.questions_page import question_rows
from moondesk.service.web.making import letter_text

letters = Blueprint("letters", __name__)

LETTER_ID = "<int(max=9007199254740991):letter_id>"
#: Shown of each list.
MOST = 200
REFUSED = "Read in a letter"


@letters.get("/letters")
def listed() -> str:
    unread, done = kept.unread(storage(), MOST), kept.read_letters(storage(), MOST)
    more = kept.count_unread(storage()) - len(unread)
    return render(
        "letters.html",
        LettersPage(
            programme=config().programme,
            token=sessions.form_token(),
            unread=cards_of(unread),
            done=cards_of(done),
            note=f"{more} more wait to be read." if more > 0 else "",
            questions=question_rows(latest_questions(storage(), MOST), config().programme.zone, sessions.now()),
        ),
    )


@letters.get(f"/letters/{LETTER_ID}")
def page(letter_id: int) -> str:
    found = kept.letter(storage(), letter_id)
    ids = kept.pictures_held_by(storage(), letter_id)[:MOST]
    return render(
        "letter.html",
        letter_page(
            config(),
            sessions.form_token(),
            found,
            text_view(letter_text(letter_id)),
            list_by_id(storage(), ids),
            rundowns.places(storage(), ids),
            question_rows(
                questions_of(storage(), kept.submissions_held_by(storage(), letter_id)),
                config().programme.zone,
                sessions.now(),
            ),
        ),
    )


@letters.post(f"/letters/{LETTER_ID}")
def read(letter_id: int) -> AnyResponse:
    """Say that it was read; "refuse": and that its sender's pictures are not to be shown; "again": it is unread."""
    action, who, now = request.form.get("action", ""), sessions.actor().name, sessions.now()
    found = kept.letter(storage(), letter_id)
    if action == "refuse":  # first: were it released before, a picture would be free between the two
        for submission_id in kept.submissions_held_by(storage(), letter_id):
            add_consent(
                storage(),
                submission_id,
                ConsentRecord(
                    state="refused",
                    kind="mail",
                    evidence=f"{REFUSED}: {found.subject}" if found.subject else REFUSED,
                    message_id=found.message_id,
                    noted_by=who,
                ),
                now,
            )
    if action in ("read", "refuse", "again"):
        kept.set_read(storage(), letter_id, action != "again", who, now)
    return redirect(url_for("letters.page", letter_id=letter_id), 303)


def cards_of(found: tuple[Letter, ...]) -> tuple[LetterCard, ...]:
    zone = config().programme.zone
    return tuple(
        card_of(
            one,
            kept.text_of(storage(), one.id),
            len(kept.pictures_held_by(storage(), one.id)) if one.holds else 0,
            zone,
        )
        for one in found
    )
