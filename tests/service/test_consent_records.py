"""Notes of a consent as they are stored and listed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from fakes import add_edition

from moondesk.service.errors import NotStoredError
from moondesk.service.programme.listing import submission_object, submission_words
from moondesk.service.programme.permission import permission
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.records import Arrival, ConsentRecord, EditionPlan, Enclosure, Suggestion
from moondesk.service.store.submissions import add_consent, add_submission, each_submission, submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
YES = Suggestion("consent", "suggested", "You may show it.", "mail")
CHILD = Suggestion("minor", "yes", "My son took it.", "mail")
ARRIVAL = Arrival(
    key="mail:1",
    source="mail",
    origin="m.eml",
    enclosures=(),
    message_id="<1@x>",
    suggestions=(YES,),
    words_read="understood",
)
PHONE = ConsentRecord(state="given", kind="phone", evidence="Yes, do.", noted_by="Ilse")


def test_records_are_stored_and_listed(storage):
    edition = add_edition(storage, EditionPlan(number=1))
    enclosures = tuple(
        Enclosure(given_name=f"{k}.png", size_bytes=9, sha256=f"{k:064x}", media_type="image/png") for k in range(2)
    )
    number = add_submission(
        storage,
        edition.id,
        replace(
            ARRIVAL,
            enclosures=enclosures,
            consents=(ConsentRecord(state="given", kind="form", evidence="Form 3, ticked", noted_by="the sender"),),
        ),
        NOW,
    )
    later = NOW + timedelta(hours=1)
    add_consent(storage, number, replace(PHONE, state="refused", picture_id=2, noted_utc=later), NOW)
    add_consent(storage, number, PHONE, later)
    first, second, third = submission(storage, number).consents
    assert (first.kind, first.noted_utc, second.picture_id, second.noted_utc, third.noted_utc) == (
        "form",
        NOW,
        2,
        later,
        later,
    )
    (listed,) = each_submission(storage)
    line = submission_object(listed)
    assert line["consent"] == {"state": "given", "kind": "phone", "evidence": "Yes, do."}
    assert line["flags"] == []
    add_consent(storage, number, replace(PHONE, state="refused", evidence="Not this one.", picture_id=2), later)
    (listed,) = each_submission(storage)
    assert submission_object(listed)["flags"] == ["1.png: consent refused (Not this one.)."]
    assert "consent given" in submission_words(listed)


def test_a_record_names_who_noted_it_and_what_it_is_about(storage):
    edition = add_edition(storage, EditionPlan(number=1))
    number = add_submission(
        storage,
        edition.id,
        replace(
            ARRIVAL,
            enclosures=(Enclosure(given_name="a.png", size_bytes=9, sha256=f"{1:064x}", media_type="image/png"),),
        ),
        NOW,
    )
    with pytest.raises(ValueError, match="names who"):
        add_consent(storage, number, replace(PHONE, noted_by=" "), NOW)
    with pytest.raises(ValueError, match="not of submission"):
        add_consent(storage, number, replace(PHONE, picture_id=77), NOW)
    with pytest.raises(NotStoredError):
        add_consent(storage, 99, PHONE, NOW)


def test_an_arrival_from_the_store_carries_its_records(storage):
    """What pages ask of an arrival: never a yes for a picture that somebody has refused."""
    edition = add_edition(storage, EditionPlan(number=1))
    number = add_submission(
        storage,
        edition.id,
        replace(
            ARRIVAL,
            enclosures=tuple(
                Enclosure(given_name=f"{k}.png", size_bytes=9, sha256=f"{k:064x}", media_type="image/png")
                for k in range(2)
            ),
        ),
        NOW,
    )

    def state():
        return permission(read_picture(storage, 1).submission.arrival, 1).consent.state

    def states():
        return [permission(read_picture(storage, k).submission.arrival, k).consent.state for k in (1, 2)]

    assert state() == "suggested"
    add_consent(storage, number, replace(PHONE, state="asked"), NOW)
    assert state() == "suggested"
    add_consent(storage, number, PHONE, NOW)
    assert state() == "given"
    assert read_picture(storage, 1).submission.arrival.consents == submission(storage, number).consents
    add_consent(storage, number, replace(PHONE, state="refused", picture_id=2), NOW)
    assert states() == ["given", "refused"]
    add_consent(storage, number, PHONE, NOW)
    assert states() == ["given", "given"]
