"""Copies of a picture: what the tool takes for one picture, what it asks, and what a person says to that."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flask import redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.words import time_words
from moondesk.service.store import versions
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedPicture, Pair
from moondesk.service.store.storage import Storage
from moondesk.service.web.access.sessions import actor, now
from moondesk.service.web.current import storage
from moondesk.service.web.desk.views import PICTURE_ID, desk


@dataclass(frozen=True, kw_only=True)
class PairView:
    """Another picture that is, or may be, the same. tone: "sure" it is, "unsure" asked, "unplaced" it is not.

    said: who said so and when; empty where nobody has. best: the other is the one of the two that is shown.
    """

    pair_id: int
    other_id: int
    sender: str
    given_name: str
    derived_key: str | None
    tone: str
    verdict: str
    words: str
    said: str
    best: bool
    may_say: tuple[tuple[str, str], ...]


def pairs_shown(store: Storage, zone: str, picture_id: int) -> tuple[PairView, ...]:
    """All pairs of a picture, those that are asked about first."""
    pairs = versions.pairs_of(store, picture_id)
    other = {pair.id: pair.other_id if pair.picture_id == picture_id else pair.picture_id for pair in pairs}
    found = {p.picture.id: p for p in list_by_id(store, tuple(other.values()))} if pairs else {}
    shown = [
        _view(
            pair if pair.picture_id == picture_id else _beside_other(pair, found[other[pair.id]]),
            found[other[pair.id]],
            zone,
        )
        for pair in pairs
        if other[pair.id] in found
    ]
    return tuple(sorted(shown, key=lambda v: (v.tone != "unsure", v.tone != "sure", v.pair_id)))


def _beside_other(pair: Pair, first: ListedPicture) -> Pair:
    return replace(pair, message=pair.message.beside_other(first.picture.submission.arrival.sender_name))


def _view(pair: Pair, listed: ListedPicture, zone: str) -> PairView:
    may_say: tuple[tuple[str, str], ...]
    if pair.open:
        tone, verdict = "unsure", "Perhaps the same picture"
        may_say = (("same", "One picture"), ("different", "Two pictures"))
    elif pair.stands:
        tone, verdict = "sure", "The same picture"
        may_say = (("different", "No, two pictures"),)
    else:
        tone, verdict = "unplaced", "Another picture"
        may_say = (("same", "No, one picture"),)
    if pair.decided is not None:
        may_say = (("undo", "Take it back"),)
    said = (
        f"Said by {pair.decided_by}, {time_words(pair.decided_utc, zone)}." if pair.decided and pair.decided_utc else ""
    )
    summary = listed.summary
    return PairView(
        pair_id=pair.id,
        other_id=listed.picture.id,
        sender=sender_of(listed.picture.submission.arrival),
        given_name=listed.picture.enclosure.given_name,
        derived_key=summary.derived_key if summary and summary.status.facts.opens else None,
        tone=tone,
        verdict=verdict,
        words=pair.words,
        said=said,
        best=pair.better_id == listed.picture.id,
        may_say=may_say,
    )


#: What a person may say, and what it is stored as.
SAID = {"same": "same", "different": "different", "undo": None}


@desk.post(f"/pictures/{PICTURE_ID}/pairs/<int(max=9007199254740991):pair_id>")
def say_of_pair(picture_id: int, pair_id: int) -> AnyResponse:
    """Note that two pictures are one, or are not; "undo" takes it back."""
    said = request.form.get("said", "")
    if said not in SAID:
        raise BadInputError("It was not said whether the two are one picture.", "Use one of the buttons.")
    versions.decide(storage(), pair_id, SAID[said], actor().name, now())  # type: ignore[arg-type]
    return redirect(url_for("desk.picture", picture_id=picture_id, _anchor="copies"), 303)
