"""What a person says to what was read in a letter: right, wrong, or neither; and the story that is kept of it."""

from __future__ import annotations

from flask import redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError
from moondesk.service.jobs import hand_corrections
from moondesk.service.store import decisions, queue
from moondesk.service.store.decided import DecidedChange
from moondesk.service.store.letter_facts import LetterFact, decide_fact, fact
from moondesk.service.store.pictures import list_picture_ids, read_picture
from moondesk.service.store.submissions import add_consent
from moondesk.service.texts import clean_text
from moondesk.service.web.access import sessions
from moondesk.service.web.current import storage
from moondesk.service.web.desk.picture.accepting import accept, note_consent
from moondesk.service.web.desk.picture.correcting import bench
from moondesk.service.web.desk.views import PICTURE_ID, desk

STORY_CHARACTERS = 400


@desk.post(f"/pictures/{PICTURE_ID}/facts/<int(max=9007199254740991):fact_id>")
def decide(picture_id: int, fact_id: int) -> AnyResponse:
    """right, no (of unclear words about showing), wrong, or open: nobody has said."""
    found = read_picture(storage(), picture_id)
    one = fact(storage(), found.submission.id, fact_id)
    action = request.form.get("action", "")
    who, now = sessions.actor().name, sessions.now()
    if action in ("right", "no"):
        _accept(picture_id, one, action == "no")
        decide_fact(storage(), one, "accepted", who, now)
    elif action in ("wrong", "open"):
        decide_fact(storage(), one, "wrong" if action == "wrong" else "", who, now)
        if one.field == "taken" and (action == "wrong" or one.decided == "wrong"):  # the placing goes by it
            queue.ask_again(storage(), list_picture_ids(storage(), one.submission_id))
    return redirect(url_for("desk.picture", picture_id=picture_id, _anchor="letter"), 303)


def _accept(picture_id: int, one: LetterFact, refused: bool) -> None:
    found = read_picture(storage(), picture_id)
    arrival, who, now = found.submission.arrival, sessions.actor().name, sessions.now()
    if one.field == "consent" and one.value == "unclear":
        add_consent(storage(), found.submission.id, note_consent(one, arrival, not refused, who), now)
        return
    follows = accept(one, arrival, who)
    if follows.consent is not None:
        add_consent(storage(), found.submission.id, follows.consent, now)
    if follows.change is not None:
        _decide(picture_id, follows.change)


@desk.post(f"/pictures/{PICTURE_ID}/story")
def keep_story(picture_id: int) -> AnyResponse:
    """Keep what the presenter may tell of it; empty: nothing."""
    text = clean_text(request.form.get("story", ""), 2_000)
    if len(text) > STORY_CHARACTERS:
        raise BadInputError(
            f"A story keeps to {STORY_CHARACTERS} characters; this has {len(text)}.",
            "Make it shorter: it is told in a breath.",
        )
    if text != read_picture(storage(), picture_id).submission.arrival.story:
        _decide(picture_id, DecidedChange("story", {"text": text}))
    return redirect(url_for("desk.picture", picture_id=picture_id, _anchor="letter"), 303)


def _decide(picture_id: int, change: DecidedChange) -> None:
    who, now = sessions.actor().name, sessions.now()
    seen = decisions.revision(storage(), picture_id)
    hand_corrections.correct(bench(), picture_id, (change,), who, seen, now)
