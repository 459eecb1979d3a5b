"""Which consent counts: the newest decision that somebody made; suggestions never; a child's needs a guardian."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from moondesk.service.errors import NotStoredError
from moondesk.service.programme.listing import listed_line, listed_words
from moondesk.service.programme.permission import permission
from moondesk.service.programme.suggestions import standing
from moondesk.service.store.consents import add_consent, consents_of
from moondesk.service.store.records import Arrival, ConsentRecord, EditionPlan, Enclosure, Suggestion

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


def test_a_suggestion_never_counts_by_itself():
    said = standing(ARRIVAL, ())
    assert (said.state, said.evidence, said.message_id, said.agreed) == (
        "suggested",
        "You may show it.",
        "<1@x>",
        False,
    )
    confirmed = standing(
        ARRIVAL, [ConsentRecord(state="given", kind="mail", evidence=YES.words, message_id="<1@x>", noted_by="Ilse")]
    )
    assert (confirmed.state, confirmed.kind, confirmed.noted_by, confirmed.message_id, confirmed.agreed) == (
        "given",
        "mail",
        "Ilse",
        "<1@x>",
        True,
    )


def test_the_newest_decision_counts():
    no = ConsentRecord(
        state="refused", kind="mail", evidence="Please do not, after all.", message_id="<2@x>", noted_by="Ilse"
    )
    assert not standing(ARRIVAL, [PHONE, no]).agreed
    assert standing(ARRIVAL, [PHONE, no, PHONE]).agreed
    assert standing(ARRIVAL, [PHONE, no]).evidence == "Please do not, after all."


def test_a_question_that_went_out_is_no_decision():
    asked = ConsentRecord(state="asked", kind="mail", evidence="May we show it?", noted_by="Ilse")
    bare = replace(ARRIVAL, suggestions=())
    assert standing(bare, [asked]).state == "asked"
    assert standing(ARRIVAL, [asked]).state == "suggested"  # the answer may be there already: a person reads it
    assert standing(bare, [PHONE, asked]).agreed


def test_a_child_needs_a_guardian():
    of_child = replace(ARRIVAL, suggestions=(CHILD,))
    assert not standing(of_child, [PHONE]).agreed
    assert standing(of_child, [replace(PHONE, guardian=True)]).agreed
    assert standing(of_child, [replace(PHONE, minor=False)]).agreed  # somebody asked: it was no child
    assert not standing(ARRIVAL, [PHONE, ConsentRecord(state="asked", kind="phone", noted_by="Bo", minor=True)]).agreed
    assert not standing(of_child, [replace(PHONE, guardian=True), PHONE]).agreed


def test_a_record_of_one_picture_is_for_that_picture():
    records = [
        PHONE,
        ConsentRecord(state="refused", kind="phone", evidence="Not the second.", noted_by="Ilse", picture_id=2),
    ]
    assert [standing(ARRIVAL, records, k).agreed for k in (1, 2, None)] == [True, False, True]


def test_entry_terms_count_only_where_the_programme_says_so_and_nothing_else_was_said():
    bare = replace(ARRIVAL, suggestions=())
    assert standing(bare, ()).state == "none"
    assert standing(bare, (), None, "Terms of 2026").agreed
    assert standing(bare, (), None, "Terms of 2026").kind == "terms"
    assert not standing(replace(bare, suggestions=(CHILD,)), (), None, "Terms").agreed
    doubt = replace(bare, suggestions=(replace(YES, value="refused", words="Please do not show it."),))
    assert standing(doubt, (), None, "Terms").state == "refused"


def test_records_are_stored_and_listed(storage):
    edition = storage.add_edition(EditionPlan(number=1))
    enclosures = tuple(
        Enclosure(given_name=f"{k}.png", size_bytes=9, sha256=f"{k:064x}", media_type="image/png") for k in range(2)
    )
    number = storage.add_submission(
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
    first, second, third = consents_of(storage, number)
    assert (first.kind, first.noted_utc, second.picture_id, second.noted_utc, third.noted_utc) == (
        "form",
        NOW,
        2,
        later,
        later,
    )
    (listed,) = storage.submissions()
    line = listed_line(listed)
    assert line["consent"] == {"state": "given", "kind": "phone", "evidence": "Yes, do."}
    assert line["flags"] == []
    add_consent(storage, number, replace(PHONE, state="refused", evidence="Not this one.", picture_id=2), later)
    (listed,) = storage.submissions()
    assert listed_line(listed)["flags"] == ["1.png: consent refused (Not this one.)."]
    assert "consent given" in listed_words(listed)


def test_a_record_names_who_noted_it_and_what_it_is_about(storage):
    edition = storage.add_edition(EditionPlan(number=1))
    number = storage.add_submission(
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
    edition = storage.add_edition(EditionPlan(number=1))
    number = storage.add_submission(
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
        return permission(storage.picture(1).submission.arrival, 1).consent.state

    def states():
        return [permission(storage.picture(k).submission.arrival, k).consent.state for k in (1, 2)]

    assert state() == "suggested"
    add_consent(storage, number, replace(PHONE, state="asked"), NOW)
    assert state() == "suggested"
    add_consent(storage, number, PHONE, NOW)
    assert state() == "given"
    assert storage.picture(1).submission.arrival.consents == consents_of(storage, number)
    add_consent(storage, number, replace(PHONE, state="refused", picture_id=2), NOW)
    assert states() == ["given", "refused"]
    add_consent(storage, number, PHONE, NOW)
    assert states() == ["given", "given"]
