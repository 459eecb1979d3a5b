"""Decisions of people: noted with who and when, taken back, never lost, and gone with the person they are about."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage

import fakes
import pytest
from fakes import add_edition

from moondesk.corrections import Corrections
from moondesk.records import Place
from moondesk.service.errors import NotStoredError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.store import decisions
from moondesk.service.store.decided import DecidedChange, Decision, apply_decisions, corrections_of, standing_changes
from moondesk.service.store.decisions import ChangedMeanwhileError
from moondesk.service.store.forget import forget, submissions_of
from moondesk.service.store.pictures import list_pictures, read_picture
from moondesk.service.store.records import Arrival
from moondesk.service.store.submissions import add_submission, each_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
CIRCLE = DecidedChange("circle", {"x": 40.0, "y": 30.0, "radius": 20.5})
PINS = DecidedChange("pins", {"pins": [["Tycho", 10.0, 11.5], ["Plato", 60.0, 50.0]]})


def note(storage, picture_id, *changes, who="Ada", now=NOW):
    with storage.writing():
        decisions.insert_changes(storage, picture_id, changes, who, now)


def undo(storage, decision_id, who="Bo"):
    with storage.writing():
        decisions.take_back(storage, decision_id, who, NOW + timedelta(hours=1))


@pytest.fixture
def ids(tmp_path, storage, media, config):
    """Ids of two pictures of one mail and of one of another."""
    folder = tmp_path / "in"
    folder.mkdir()
    mails = (("1.eml", "Ilse Quendel <ilse@example.org>", (1, 2)), ("2.eml", "Bo <bo@x.org>", (3,)))
    for name, sender, shades in mails:
        mail = EmailMessage()
        mail["From"] = sender
        mail.set_content("My Moon.")
        for shade in shades:
            mail.add_attachment(fakes.png(shade=shade), maintype="image", subtype="png", filename=f"{shade}.png")
        (folder / name).write_bytes(mail.as_bytes())
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    return [
        p.picture.id for p in sorted(list_pictures(storage, edition.id), key=lambda p: p.picture.enclosure.given_name)
    ]


def test_the_last_that_stands_counts_and_undo_brings_back_the_one_before(storage, ids):
    first = ids[0]
    assert decisions.standing_corrections(storage, first) is None
    note(storage, first, CIRCLE, DecidedChange("hand", {"mirrored": True}))
    note(storage, first, DecidedChange("hand", {"mirrored": False}), PINS, who="Bo")
    want = Corrections((40.0, 30.0, 20.5), (("Tycho", 10.0, 11.5), ("Plato", 60.0, 50.0)), False)
    assert decisions.standing_corrections(storage, first) == want
    listed = decisions.decisions_of(storage, first)
    assert [(d.kind, d.who, d.made_utc) for d in listed] == [
        ("circle", "Ada", NOW),
        ("hand", "Ada", NOW),
        ("hand", "Bo", NOW),
        ("pins", "Bo", NOW),
    ]
    undo(storage, listed[2].id)
    assert decisions.standing_corrections(storage, first) == replace(want, mirrored=True)
    (taken,) = (d for d in decisions.decisions_of(storage, first) if d.undone_utc)
    assert (taken.undone_by, taken.undone_utc, taken.who) == ("Bo", NOW + timedelta(hours=1), "Bo")
    assert decisions.standing_corrections(storage, ids[1]) is None


def test_what_was_taken_back_is_not_taken_back_twice(storage, ids):
    note(storage, ids[0], CIRCLE)
    (made,) = decisions.decisions_of(storage, ids[0])
    undo(storage, made.id)
    with pytest.raises(ChangedMeanwhileError, match="already"):
        undo(storage, made.id, "Cy")
    assert decisions.decisions_of(storage, ids[0])[0].undone_by == "Bo"
    with pytest.raises(NotStoredError):
        decisions.decision(storage, ids[0], made.id + 7)
    with pytest.raises(NotStoredError):
        decisions.decision(storage, ids[2], made.id)


def test_every_reader_sees_what_was_decided(storage, ids):
    """Name, credit and equipment hold for all pictures of a mail; time and place for the one they were said of."""
    when = datetime(2026, 3, 25, 19, 30, tzinfo=UTC)
    told = (("sender_name", "Ilse Quendel-Roth"), ("credit_line", "I. Q."), ("equipment", "8 inch Newtonian"))
    note(
        storage,
        ids[0],
        *(DecidedChange(kind, {"text": text}) for kind, text in told),
        DecidedChange("time", {"utc": when.isoformat()}),
        DecidedChange("place", {"name": "Graz", "latitude_deg": 47.07, "longitude_deg": 15.44}),
    )
    mine, sister, other = (read_picture(storage, k).submission.arrival for k in ids)
    assert (mine.sender_name, mine.credit_line, mine.equipment) == ("Ilse Quendel-Roth", "I. Q.", "8 inch Newtonian")
    assert (mine.taken_utc, mine.place, mine.place_name) == (when, Place(47.07, 15.44), "Graz")
    assert mine.known().taken_utc == when
    assert (sister.sender_name, sister.credit_line, sister.taken_utc) == ("Ilse Quendel-Roth", "I. Q.", None)
    assert (sister.place, sister.place_name) == (None, "")
    assert other.sender_name == "Bo"
    listed = {p.picture.id: p.picture.submission.arrival.sender_name for p in list_pictures(storage, 1)}
    assert [listed[k] for k in ids] == ["Ilse Quendel-Roth", "Ilse Quendel-Roth", "Bo"]
    assert next(iter(each_submission(storage))).submission.arrival.credit_line == "I. Q."
    # the sister's page lists what was said of the sender, not the picture's own
    assert [d.kind for d in decisions.decisions_of(storage, ids[1])] == ["sender_name", "credit_line", "equipment"]
    for made in decisions.decisions_of(storage, ids[0]):
        undo(storage, made.id)
    back = read_picture(storage, ids[0]).submission.arrival
    assert (back.sender_name, back.credit_line, back.taken_utc, back.place) == ("Ilse Quendel", "", None, None)


def test_two_at_once_do_not_overwrite_each_other(storage, ids):
    seen = decisions.revision(storage, ids[0])
    decisions.check_revision(storage, ids[0], seen)
    note(storage, ids[0], CIRCLE)
    with pytest.raises(ChangedMeanwhileError, match="Somebody else"):
        decisions.check_revision(storage, ids[0], seen)
    seen = decisions.revision(storage, ids[0])
    undo(storage, decisions.decisions_of(storage, ids[0])[0].id)
    with pytest.raises(ChangedMeanwhileError):
        decisions.check_revision(storage, ids[0], seen)


def test_half_a_decision_is_none(storage, ids):
    with pytest.raises(ValueError, match="JSON"):
        note(storage, ids[0], CIRCLE, DecidedChange("pins", {"pins": [["Tycho", float("nan"), 1.0]]}))
    with pytest.raises(ValueError, match="names who"):
        note(storage, ids[0], CIRCLE, who=" ")
    assert decisions.decisions_of(storage, ids[0]) == ()


def test_a_person_is_forgotten_with_all_decisions_about_them(storage, media, config, ids):
    note(storage, ids[0], DecidedChange("sender_name", {"text": "Zulfiqar Thornfeather"}), who="Ada")
    note(storage, ids[2], CIRCLE)
    forget(storage, media, "ilse@example.org", NOW)
    left = storage.read("select picture_id from decisions")
    assert left == [{"picture_id": ids[2]}]
    storage.close()
    for path in config.data_dir.rglob("*"):
        if path.is_file():
            assert b"Thornfeather" not in path.read_bytes(), path.name


def test_a_person_without_an_address_is_found_by_the_name_that_was_corrected(storage, config):
    from moondesk.service.store.records import EditionPlan, Enclosure

    edition = add_edition(storage, EditionPlan(number=7))
    arrival = Arrival(
        key="file:x",
        source="folder",
        origin="x.png",
        enclosures=(Enclosure(given_name="x.png", size_bytes=1, sha256=None, media_type=None),),
        sender_name="Ils",
    )
    own = add_submission(storage, edition.id, arrival, NOW)
    (picture,) = (p.picture.id for p in list_pictures(storage, edition.id))
    note(storage, picture, DecidedChange("sender_name", {"text": "Ilse"}))
    assert submissions_of(storage, "ilse") == (own,)
    assert submissions_of(storage, "Ils") == (own,)


def test_pure_rules():
    made = [
        Decision(
            id=k,
            picture_id=1,
            kind=kind,
            what={"k": k},
            who="Ada",
            made_utc=NOW,
            undone_utc=NOW if gone else None,
            undone_by="Bo" if gone else None,
        )
        for k, kind, gone in ((1, "a", False), (2, "a", True), (3, "b", True), (4, "future kind", False))
    ]
    assert standing_changes(made) == (DecidedChange("a", {"k": 1}), DecidedChange("future kind", {"k": 4}))
    assert corrections_of([DecidedChange("split", {"from": 3}), DecidedChange("time", {"utc": None})]) is None
    told = Arrival(key="k", source="mail", origin="o", enclosures=(), place=Place(1.0, 2.0, 300.0), taken_utc=NOW)
    assert apply_decisions(told, [DecidedChange("time", {"utc": None})]).taken_utc is None
    assert (
        apply_decisions(told, [DecidedChange("place", {"name": "", "latitude_deg": None, "longitude_deg": None})]).place
        is None
    )
    higher = apply_decisions(told, [DecidedChange("place", {"name": "Hut", "latitude_deg": 1.5, "longitude_deg": 2.5})])
    assert higher.place == Place(1.5, 2.5, 300.0)
    assert apply_decisions(told, [DecidedChange("split", {"from": 3})]) == told
