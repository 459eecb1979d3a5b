"""The views of the API that read: each asks the store and shapes what it says."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from flask import url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.jobs.engine import engine_version, product_version
from moondesk.service.programme.evenings_to_come import FIRST, LAST, air_of, first_evening
from moondesk.service.programme.evenings_to_come import evening_to_come as evening_to_come
from moondesk.service.programme.permission import permission_of
from moondesk.service.store import inbox, queue, rundowns, versions
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.decisions import decisions_of
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.inbox import PictureFilter
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import count_pictures, list_by_id, read_picture
from moondesk.service.store.records import Edition, ListedPicture, SentPicture, StoredAnnotation
from moondesk.service.store.rundown_items import Rundown
from moondesk.service.store.submissions import submission as one_submission
from moondesk.service.store.submissions import submissions_after
from moondesk.service.web.access.sessions import now
from moondesk.service.web.api import shapes
from moondesk.service.web.api.document import document
from moondesk.service.web.api.responses import json_answer, with_etag
from moondesk.service.web.current import calendar, config, storage
from moondesk.service.web.making import derived_picture, letter_text, roles_at_hand, studio
from moondesk.service.web.problems import ProblemError

Asked = Mapping[str, Any]


def openapi() -> Any:
    return document(product_version())


def editions() -> Any:
    return {"editions": [shapes.edition(e) for e in list_editions(storage())]}


def edition(number: int) -> Any:
    found = read_edition(storage(), number)
    return shapes.edition_counts(found, count_pictures(storage(), found.id))


def submissions(number: int, query: Asked) -> Any:
    most = query["limit"]
    found = submissions_after(storage(), read_edition(storage(), number).id, query["after"], most + 1)
    told = [shapes.submission(s, config().entry_terms) for s in found[:most]]
    return {"submissions": told, "next_after": told[-1]["id"] if len(found) > most else None}


def submission(submission_id: int) -> Any:
    return shapes.submission(one_submission(storage(), submission_id), config().entry_terms)


def letter(submission_id: int) -> Any:
    one_submission(storage(), submission_id)  # NotStoredError where there is none
    parts = letter_text(submission_id)
    return {
        "submission_id": submission_id,
        "kept": parts is not None,
        "parts": [{"kind": p.kind, "text": p.text} for p in parts or ()],
    }


def pictures(query: Asked) -> Any:
    asked = query["edition"]
    wanted = PictureFilter(
        edition_id=read_edition(storage(), asked).id if asked is not None else None,
        words=query["q"],
        feature=query["shows"],
        place=query["place"],
        first_time=query["first_time"],
    )
    start, most = query["offset"], query["limit"]
    ids = inbox.find(storage(), wanted, start + most + 1)[start:]
    numbers = {e.id: e.plan.number for e in list_editions(storage())}
    return {
        "pictures": [
            shapes.picture_row(p, numbers.get(p.picture.submission.edition_id))
            for p in list_by_id(storage(), ids[:most])
        ],
        "next_offset": start + most if len(ids) > most else None,
    }


def picture(picture_id: int) -> Any:
    found, stored = read_picture(storage(), picture_id), read_annotation(storage(), picture_id)
    number = next(e.plan.number for e in list_editions(storage()) if e.id == found.submission.edition_id)
    images = {role: url_for("api.image", picture_id=picture_id, image=role) for role in _available(found, stored)}
    copies = shapes.versions(
        picture_id,
        versions.best_of(storage(), picture_id),
        versions.group_of(storage(), picture_id),
        versions.pairs_of(storage(), picture_id),
    )
    (listed,) = list_by_id(storage(), [picture_id])
    return shapes.picture(
        found,
        stored,
        decisions_of(storage(), picture_id),
        permission_of(listed, config().entry_terms),
        edition=number,
        images=images,
        versions=copies,
    )


def features(picture_id: int, query: Asked) -> Any:
    found, stored = read_picture(storage(), picture_id), read_annotation(storage(), picture_id)
    return shapes.features(found, stored.annotation if stored else None, query["min_seen"])


def notes(picture_id: int, query: Asked) -> Any:
    # what it is made of is loaded at the first request that asks
    from moondesk.notes.claims import check_claim
    from moondesk.service.programme.picture_notes import time_taken
    from moondesk.service.studio.notes import notes_for

    stored = read_annotation(storage(), picture_id)
    if query["edition"] is not None:
        read_edition(storage(), query["edition"])
    claim = query["claim"].strip()
    checked = check_claim(claim, stored.annotation, time_taken(stored.annotation)) if claim and stored else None
    found = notes_for(studio(), picture_id, query["edition"], measure=False)
    return shapes.notes(picture_id, found, studio().language, claim, checked)


def image(picture_id: int, image: str) -> AnyResponse:
    return derived_picture(picture_id, image)


def rundown(number: int) -> Any:
    edition = read_edition(storage(), number)
    found = rundowns.rundown(storage(), edition.id)
    return with_etag(json_answer(rundown_told(found, edition)), found.version)


def rundown_told(found: Rundown, edition: Edition) -> dict[str, Any]:
    return shapes.rundown(found, edition, _pictures_of(found), config())


def coming(query: Asked) -> Any:
    # the sky is computed by parts of the core that no other request needs: loaded at the first one that asks
    from moondesk.service.web.api.evening_shapes import evening_object

    programme, counted = config().programme, calendar()
    air = air_of(list_editions(storage()), counted)
    first = date.fromisoformat(query["first"]) if query["first"] else first_evening(now(), air, counted)
    days = [first + timedelta(days=k) for k in range(query["evenings"])] if first <= LAST else [first]
    if not FIRST <= days[0] <= days[-1] <= LAST:
        raise ProblemError(422, "The Moon is predicted for the years 1900 to 2099.", "Ask for evenings of these years.")
    return {
        "place_known": programme.place is not None,
        "evenings": [
            evening_object(
                evening_to_come(day, air, programme.zone, programme.place), counted.day_of_date(day), programme.zone
            )
            for day in days
        ],
    }


def progress() -> Any:
    placed, _ = inbox.progress(storage(), (now() - timedelta(minutes=1)).isoformat())
    return shapes.progress(queue.counts(storage(), engine_version(), now()), placed)


def _available(found: SentPicture, stored: StoredAnnotation | None) -> list[str]:
    """Pictures that were made, or are drawn when they are asked for: as on the picture's page."""
    sha = found.enclosure.sha256
    if stored is None or sha is None:
        return []
    return list(roles_at_hand(Media(config().data_dir), sha, stored))


def _pictures_of(found: Rundown) -> dict[int, ListedPicture]:
    return {p.picture.id: p for p in list_by_id(storage(), [i.picture_id for i in found.items])}
