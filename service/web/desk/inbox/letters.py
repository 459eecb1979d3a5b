"""The letters' routes: all of them, one with the pictures that it holds, and saying that it was read."""

from __future__ import annotations

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.programme.credit import sender_of
from moondesk.service.replies.drafting import draft_for_letter
from moondesk.service.store import letters as kept
from moondesk.service.store import replies, rundowns, withdrawals
from moondesk.service.store.letter_facts import letters_with
from moondesk.service.store.letters import Letter
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.questions import latest_questions, questions_of
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.submissions import add_consent, submission
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, render, storage
from moondesk.service.web.desk.inbox.letters_page import (
    FoundLetter,
    LetterCard,
    LettersPage,
    card_of,
    erase_page,
    letter_page,
    text_view,
    words_around,
)
from moondesk.service.web.desk.inbox.questions_page import question_rows
from moondesk.service.web.desk.views import LETTER_ID
from moondesk.service.web.making import letter_text

letters = Blueprint("letters", __name__)

#: Shown of each list.
MOST = 200
MOST_FOUND, FIND_CHARACTERS = 60, 120
REFUSED = "Read in a letter"


@letters.get("/letters")
def listed() -> str:
    words = " ".join(request.args.get("find", "").split())[:FIND_CHARACTERS]
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
            find=words,
            found=_found(words),
        ),
    )


def _found(words: str) -> tuple[FoundLetter, ...]:
    found = []
    for submission_id in letters_with(storage(), words, MOST_FOUND):
        of = submission(storage(), submission_id)
        text = "\n".join(part.text for part in kept.text_of(storage(), submission_id) or ())
        arrival = of.submission.arrival
        found.append(
            FoundLetter(
                sender=sender_of(arrival),
                subject=arrival.subject,
                around=words_around(text, words),
                letter_id=submission_id if of.letter else None,
                picture_id=next(iter(of.picture_ids), None),
            )
        )
    return tuple(found)


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
            withdrawals.taken_back(storage(), letter_id),
            replies.reply_of(storage(), letter_id) is not None,
        ),
    )


@letters.post(f"/letters/{LETTER_ID}")
def read(letter_id: int) -> AnyResponse:
    """Say that it was read; "refuse": and that its sender's pictures are not to be shown; "not_meant": and that nothing was to be
    taken back; "again": it is unread."""
    action, who, now = request.form.get("action", ""), sessions.actor().name, sessions.now()
    found = kept.letter(storage(), letter_id)
    if found.outcome == "erased":  # what it took back is gone, and it goes too
        return redirect(url_for("letters.page", letter_id=letter_id), 303)
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
    if action in ("read", "refuse", "again", "not_meant"):
        kept.set_read(storage(), letter_id, action != "again", who, now, "not_meant" if action == "not_meant" else "")
    return redirect(url_for("letters.page", letter_id=letter_id), 303)


@letters.get(f"/letters/{LETTER_ID}/erase")
def ask_erase(letter_id: int) -> str:
    """What goes with the submissions that were ticked: to be said once more."""
    found, ids = kept.letter(storage(), letter_id), _ticked(letter_id, request.args.getlist("submission"))
    return render(
        "letter_erase.html",
        erase_page(config(), sessions.form_token(), found, ids, withdrawals.what_goes(storage(), ids)),
    )


@letters.post(f"/letters/{LETTER_ID}/erase")
def erase(letter_id: int) -> AnyResponse:
    """Erase them, and draft the answer that says so."""
    who, now = sessions.actor().name, sessions.now()
    ids = _ticked(letter_id, request.form.getlist("submission"))
    withdrawals.erase(storage(), Media(config().data_dir), letter_id, ids, who, now)
    draft = draft_for_letter(storage(), config(), submission(storage(), letter_id).submission.arrival, "erased")
    if replies.reply_of(storage(), letter_id) is None:
        replies.keep(storage(), letter_id, draft.to, draft.subject, draft.body, None, 0, who, now)
    return redirect(url_for("letters.page", letter_id=letter_id), 303)


def _ticked(letter_id: int, given: list[str]) -> tuple[int, ...]:
    """Those of its sender's submissions that were ticked."""
    return tuple(k for k in withdrawals.taken_back(storage(), letter_id) if str(k) in given)


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
