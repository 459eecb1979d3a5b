"""The notes to speak from of one picture, with a theme to choose and a claim to check."""

from __future__ import annotations

from flask import request

from moondesk.notes.claims import check_claim
from moondesk.service.errors import BadInputError
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.picture_notes import time_taken
from moondesk.service.programme.words import time_words
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.pictures import read_picture
from moondesk.service.studio.notes import notes_for
from moondesk.service.web.current import config, render, storage
from moondesk.service.web.desk.picture.notes_page import NotesQuery, Subject, notes_page
from moondesk.service.web.desk.views import PICTURE_ID, desk
from moondesk.service.web.making import studio

#: A claim is a sentence.
LONGEST = 200


@desk.get(f"/pictures/{PICTURE_ID}/notes")
def notes(picture_id: int) -> str:
    """?edition=N counts what is new from the edition before that; ?theme=key; ?claim=sentence."""
    found, stored = read_picture(storage(), picture_id), read_annotation(storage(), picture_id)
    edition = next(e.plan.number for e in list_editions(storage()) if e.id == found.submission.edition_id)
    asked = request.args.get("edition", "")
    if asked:
        if not (asked.isascii() and asked.isdigit() and len(asked) < 10):
            raise BadInputError(f"“{asked[:20]}” is no edition.", "Editions have numbers.")
        edition = read_edition(storage(), int(asked)).plan.number
    when = time_taken(stored.annotation) if stored else None
    claim = " ".join(request.args.get("claim", "").split())[:LONGEST]
    checked = check_claim(claim, stored.annotation, when) if claim and stored else None
    subject = Subject(
        picture_id=picture_id,
        edition_number=edition,
        sender=sender_of(found.submission.arrival),
        when=time_words(when, config().programme.zone) if when else "Time not known",
        story=found.submission.arrival.story,
        derived_key=stored.derived_key if stored and stored.annotation.status.facts.opens else None,
    )
    return render(
        "notes.html",
        notes_page(
            config().programme,
            subject,
            notes_for(studio(), picture_id, edition),
            studio().language,
            NotesQuery(request.args.get("theme", "")[:60], claim, checked),
        ),
    )
