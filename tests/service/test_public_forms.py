"""A form to a submission: kept, told apart, taken once; and the reading of its fields."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC, datetime

import fakes
import pytest

from moondesk.notes.messages import in_english
from moondesk.service.intake.forms import SentFile, SubmissionForm, take_form
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.permission import permission
from moondesk.service.settings.config import Config, IntakeLimits
from moondesk.service.store.letters import text_of
from moondesk.service.store.media import sha256_of
from moondesk.service.store.receipts import receipt
from moondesk.service.store.records import ConsentRecord, LetterPart
from moondesk.service.store.strays import original_hashes
from moondesk.service.store.submissions import each_submission
from moondesk.service.web.public.form import AGREED as AGREED_SAID
from moondesk.service.web.public.form import local_time, read_form

NOW = datetime(2026, 3, 25, 21, 0, tzinfo=UTC)
ID = "0" * 32
AGREED = in_english(AGREED_SAID)
YES = ConsentRecord(state="given", kind="form", evidence=AGREED, noted_by="the sender")
FORM = SubmissionForm(
    source="form",
    form_id=ID,
    name="Ilse from Vienna",
    address="ilse@example.org",
    place_name="Vienna",
    equipment="6 inch",
    consent=YES,
)


@pytest.fixture
def intake(storage, media, config):
    return Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
    )


def sent(data: bytes, name: str = "moon.png") -> SentFile:
    return SentFile(name, io.BytesIO(data))


def test_a_form_is_one_submission_with_all_its_pictures(intake, storage, media):
    pictures = [fakes.png(shade=k) for k in (10, 20)]
    taken = take_form(intake, FORM, [sent(p, f"{k}.png") for k, p in enumerate(pictures)], lambda key: "token " + key)
    assert taken.outcome == "taken"
    (listed,) = each_submission(storage)
    arrival = listed.submission.arrival
    assert (
        arrival.source,
        arrival.sender_name,
        arrival.credit_line,
        arrival.sender_address,
        arrival.place_name,
        arrival.equipment,
        arrival.received_utc,
    ) == ("form", "Ilse from Vienna", "Ilse from Vienna", "ilse@example.org", "Vienna", "6 inch", NOW)
    assert [e.given_name for e, _ in listed.pictures] == ["0.png", "1.png"]
    assert [media.path(sha256_of(p)).read_bytes() for p in pictures] == pictures
    assert [(c.state, c.kind, c.evidence) for c in listed.consents] == [("given", "form", AGREED)]
    assert receipt(storage, "token " + taken.key).submission_id == listed.submission.id


def test_what_was_typed_is_an_original_too_so_that_backups_are_whole(intake, storage, media):
    taken = take_form(intake, FORM, [sent(fakes.png())])
    record = json.loads(media.path(taken.key.partition(":")[2]).read_bytes())
    assert (record["name"], record["address"], record["consent"]) == ("Ilse from Vienna", "ilse@example.org", AGREED)
    for sha in original_hashes(storage):
        assert sha256_of(media.path(sha).read_bytes()) == sha


def test_the_same_form_twice_is_one_and_another_form_with_the_same_picture_is_another(intake, storage):
    first = take_form(intake, FORM, [sent(fakes.png())])
    again = take_form(intake, FORM, [sent(fakes.png())])
    assert (first.outcome, again.outcome, first.key) == ("taken", "known", again.key)
    other = take_form(intake, replace(FORM, form_id="1" * 32), [sent(fakes.png())])
    assert other.outcome == "taken"
    assert len(list(each_submission(storage))) == 2


def test_of_the_public_page_nothing_is_kept_but_pictures(intake, storage, media):
    page, pack = b"<html>hello</html>", b"PK\x03\x04" + b"x" * 60
    taken = take_form(intake, FORM, [sent(page, "a.jpg"), sent(pack, "b.zip"), sent(fakes.png())])
    assert taken.outcome == "taken"
    assert [e.refused is None for e in taken.enclosures] == [False, False, True]
    kept = {p.name for p in (media.root / "originals").rglob("*") if p.is_file()}
    assert kept == {sha256_of(fakes.png()), taken.key.partition(":")[2]}

    refused = take_form(intake, replace(FORM, form_id="2" * 32), [sent(page, "../a.jpg"), sent(b"", "")])
    assert (refused.outcome, [e.given_name for e in refused.enclosures]) == (
        "refused",
        ["../a.jpg", "picture without a name"],
    )
    assert len(list(each_submission(storage))) == 1


def test_a_picture_over_the_limit_is_refused_with_the_limit(intake, config):
    small = replace(intake, config=Config(data_dir=config.data_dir, limits=IntakeLimits(picture_bytes=1_000_000)))
    taken = take_form(small, FORM, [sent(fakes.png() + bytes(1_000_000), "big.png")])
    assert taken.enclosures[0].refused.startswith("It is larger than 1 MB")
    assert taken.enclosures[0].size_bytes > 1_000_000


@pytest.mark.parametrize("guardian", ["", "Ada Only, not Bo"])
def test_the_ticked_words_count_as_consent_by_form(intake, storage, guardian):
    fields = {"minor": "yes", "guardian": guardian, "guardian_agreed": "yes"} if guardian else {}
    take_form(intake, read(**fields).form, [sent(fakes.png())])
    (listed,) = each_submission(storage)
    consent = permission(listed.submission.arrival).consent
    assert (consent.state, consent.kind, AGREED in consent.evidence) == ("given", "form", True)
    assert (listed.consents[0].guardian, guardian in listed.consents[0].evidence) == (bool(guardian), True)


def test_who_asks_not_to_be_named_is_not(intake, storage):
    take_form(intake, replace(FORM, name="", unnamed=True), [sent(fakes.png())])
    (listed,) = each_submission(storage)
    assert credit_of(listed.submission.arrival).unnamed


# --- the fields ---------------------------------------------------------------------------------------------------

GOOD = {"name": "Ilse", "agreed": "yes"}


def read(**fields):
    return read_form({**GOOD, **fields}, ID, "Europe/Vienna", NOW)


def test_a_name_and_the_tick_are_enough():
    form = read().form
    assert (form.name, form.consent.evidence, form.consent.minor, form.consent.guardian) == (
        "Ilse",
        AGREED,
        False,
        False,
    )


@pytest.mark.parametrize(
    ("fields", "wrong"),
    [
        ({"name": "x" * 81}, "name"),
        ({"place": "x" * 121}, "place"),
        ({"address": "ilse"}, "address"),
        ({"address": "a@b.c, d@e.fr"}, "address"),
        ({"agreed": ""}, "agreed"),
        ({"taken": "yesterday"}, "taken"),
        ({"taken": "2026-03-26T22:00"}, "taken"),
        ({"taken": "1970-01-01T00:00"}, "taken"),
        ({"taken": "0001-01-01T00:00"}, "taken"),
        ({"taken": "9999-12-31T23:59"}, "taken"),
        ({"taken": "2026-03-25T20:00", "zone": "Nowhere/Land"}, "taken"),
        ({"taken": "2026-03-25T20:00", "zone": "../../etc/passwd"}, "taken"),
        ({"minor": "yes", "guardian_agreed": "yes"}, "guardian"),
        ({"minor": "yes", "guardian": "Ada"}, "guardian_agreed"),
        ({"equipment": "x" * 501}, "equipment"),
    ],
)
def test_what_is_wrong_is_told_beside_its_field_and_what_was_typed_is_kept(fields, wrong):
    reading = read(**fields)
    assert reading.form is None
    assert list(reading.complaints) == [wrong]
    assert reading.typed.name == {**GOOD, **fields}["name"].replace("\0", "")


def test_a_childs_picture_carries_its_guardians_word():
    consent = read(minor="yes", guardian="Ada Lind", guardian_agreed="yes").form.consent
    assert (consent.minor, consent.guardian) == (True, True)
    assert "parent or guardian" in consent.evidence
    assert "Ada Lind" in consent.evidence


@pytest.mark.parametrize("name", ["", " ", "\u202e\0"])
def test_an_empty_name_is_the_wish_not_to_be_named(name):
    form = read(name=name).form
    assert (form.name, form.unnamed) == ("", True)


def test_the_time_is_that_of_the_clock_named():
    assert read(taken="2026-03-25T20:04").form.taken_utc == datetime(2026, 3, 25, 19, 4, tzinfo=UTC)
    assert read(taken="2026-03-25T20:04", zone="UTC").form.taken_utc == datetime(2026, 3, 25, 20, 4, tzinfo=UTC)


def test_the_hour_that_never_was_and_the_hour_that_was_twice():
    """The European Union's clocks in 2026: forward on 29 March, back on 25 October, both at 01:00 UTC (2000/84/EC)."""
    with pytest.raises(ValueError, match="put forward"):
        local_time("2026-03-29T02:30", "Europe/Vienna")
    when, remark = local_time("2026-10-25T02:30", "Europe/Vienna")
    assert when is None
    assert "00:30 or 01:30 UTC" in str(remark)
    assert local_time("2026-10-25T03:30", "Europe/Vienna") == (datetime(2026, 10, 25, 2, 30, tzinfo=UTC), None)


# --- the language of the page, and the sender's own words ------------------------------------------------------------


def told(storage):
    (listed,) = each_submission(storage)
    return listed.submission.arrival


def test_the_ticked_words_are_kept_in_the_language_in_which_they_were_read(intake, storage, media):
    reading = read_form(
        {**GOOD, "minor": "yes", "guardian": "Ada", "guardian_agreed": "yes"}, ID, "UTC", NOW, Language("bg")
    )
    evidence = reading.form.consent.evidence
    assert evidence.startswith("Аз направих тези снимки")
    assert " [bg] Аз съм родител или настойник" in evidence
    assert evidence.endswith("(Ada)")
    taken = take_form(intake, reading.form, [sent(fakes.png())])
    assert json.loads(media.path(taken.key.partition(":")[2]).read_bytes())["language"] == "bg"
    consent = permission(told(storage)).consent
    assert (consent.state, consent.guardian) == ("given", True)
    assert [s.value for s in told(storage).suggestions if s.field == "language"] == ["bg"]


def test_a_story_is_read_as_a_mails_words_are(intake, storage):
    story = "With my 6 inch Dobsonian and a 25 mm eyepiece.\r\n\r\n\r\nIt was so cold!\u202e"
    form = read(story=story).form
    assert form.story == "With my 6 inch Dobsonian and a 25 mm eyepiece.\n\nIt was so cold!"
    take_form(intake, form, [sent(fakes.png())])
    arrival = told(storage)
    assert text_of(storage, 1) == (LetterPart("own", form.story),)
    facts = {s.field: (s.value, s.source) for s in arrival.suggestions}
    assert facts["eyepiece_mm"] == ("25", "form")
    assert permission(arrival).given


@pytest.mark.parametrize(
    "story",
    [
        "Please do not show the second one on air.",
        "Bitte nicht im Fernsehen zeigen.",
        "Моля, не показвайте снимката.",
        "I have changed my mind, please delete my picture.",
    ],
)
def test_a_no_in_the_story_is_stronger_than_the_tick(intake, storage, story):
    take_form(intake, read(story=story).form, [sent(fakes.png())])
    assert not permission(told(storage)).given


def test_a_child_in_the_story_wants_a_guardian(intake, storage):
    take_form(intake, read(story="I am 9 years old and took it with my dad's phone.").form, [sent(fakes.png())])
    assert permission(told(storage)).reasons == ("minor",)


def test_a_story_that_cannot_be_read_is_kept_all_the_same(intake, storage, monkeypatch):
    monkeypatch.setattr(intake.reader, "_pool", None)
    assert intake.reader.story("Anything.", "Ilse").words_read == "not_understood"
    assert intake.reader.story("", "Ilse").words_read == "none"


def test_a_story_has_a_length(storage):
    assert list(read(story="x" * 2_001).complaints) == ["story"]
    assert read(story="x" * 2_000).form.story == "x" * 2_000
