"""Corrections by hand at the desk: placed again, kept with who and when, taken back, still there with a newer core."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import fakes
import pytest

from moondesk.corrections import Corrections
from moondesk.records import Annotation, Known, NotFound, Place
from moondesk.service.errors import NotStoredError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs import hand_corrections
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.hand_corrections import UnusableError, annotate_corrected, knowledge_of
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool, WarmPoolError
from moondesk.service.store import decisions
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.decided import DecidedChange
from moondesk.service.store.decisions import ChangedMeanwhileError
from moondesk.service.store.forget import forget
from moondesk.service.store.media import derived_key
from moondesk.service.store.pictures import list_pictures, read_picture
from moondesk.service.store.records import Arrival
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.picture.correct_form import MOST_PINS, details_of, read_details, read_marks

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
PINS = [{"name": "Tycho", "x": 40.0, "y": 41.0}, {"name": "Plato", "x": 42.0, "y": 12.0}]


def correct(data: bytes, known: Known, corrections: Corrections, earlier: Annotation | None) -> Annotation | NotFound:
    """What is set shows: the hand, the circle's middle, the time; sure of it with pins."""
    names = [name for name, _, _ in corrections.pins]
    if "Nowhere" in names:
        return NotFound("by hand", "The IAU's list has no feature called “Nowhere”.", "Did you mean Newton?")
    if "Crash" in names:
        os._exit(9)
    made = fakes.annotation(bool(names), known)
    pose = made.pose
    assert pose is not None
    if corrections.mirrored is not None:
        pose = replace(pose, mirrored=corrections.mirrored)
    if corrections.limb_circle is not None:
        x, y, radius = corrections.limb_circle
        pose = replace(pose, x=x, y=y, radius_px=radius)
    return replace(made, pose=pose)


def load():
    return replace(fakes.load(), correct=correct)


def load_newer():
    return replace(load(), version="fake 2")


@pytest.fixture
def app(config):
    app = create_app(config, now=lambda: NOW)
    app.extensions["moondesk.workshop"] = WarmPool(load, 60, InProcess())
    return app


@pytest.fixture
def ids(folder, storage, media, config):
    """Ids of placed pictures by name: a.png unsure of Ilse's, b.jpg of Bo's."""
    (folder / "a.png").write_bytes(fakes.png(fakes.UNSURE))
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, load, "fake 1", lambda: NOW))
    return {p.picture.enclosure.given_name: p.picture.id for p in list_pictures(storage, edition.id)}


class Person:
    """Somebody at the desk with a browser."""

    def __init__(self, app):
        self.client = app.test_client()

    def page(self, picture_id):
        return self.client.get(f"/pictures/{picture_id}").get_data(as_text=True)

    def looked(self, picture_id):
        """(token, revision) of the page as it is now."""
        page = self.page(picture_id)
        return re.search(r'name="token" value="([^"]+)"', page)[1], re.search(r'name="seen" value="([^"]+)"', page)[1]

    def send(self, picture_id, looked=None, **body):
        token, seen = looked or self.looked(picture_id)
        return self.client.post(
            f"/pictures/{picture_id}/corrections",
            json={"seen": seen, **body},
            headers={"X-Form-Token": token, "Accept": "application/json"},
        )

    def form(self, picture_id, looked=None, path="corrections", **fields):
        token, seen = looked or self.looked(picture_id)
        return self.client.post(f"/pictures/{picture_id}/{path}", data={"token": token, "seen": seen, **fields})


@pytest.fixture
def person(app):
    return Person(app)


# --- at the desk -----------------------------------------------------------------------------------------------------


def test_what_is_set_by_hand_is_placed_and_kept(person, ids, storage, media):
    number = ids["a.png"]
    before = read_annotation(storage, number)
    assert before.annotation.sure is False
    answer = person.send(number, pins=PINS, mirrored=False)
    assert (answer.status_code, answer.json) == (200, {"go": f"/pictures/{number}"})
    after = read_annotation(storage, number)
    assert (after.annotation.sure, after.annotation.pose.mirrored) == (True, False)
    assert (after.engine_version, after.made_utc) == ("fake 1", NOW)
    assert after.derived_key != before.derived_key
    made = decisions.decisions_of(storage, number)
    assert [(d.kind, d.who, d.made_utc) for d in made] == [("pins", "desk", NOW), ("hand", "desk", NOW)]
    page = person.page(number)
    assert "Sure: the names are in the right places." in page
    assert "Set on the picture: Tycho and Plato" in page
    assert "desk, 26 March 2026, 09:00 (08:00 UTC)" in page
    sha = read_picture(storage, number).enclosure.sha256
    for role in ("photo", "overlay", "labelled", "upright", "thumbnail"):
        assert media.derived(sha, after.derived_key, role), role


def test_undo_takes_back_and_says_who(person, ids, storage):
    number = ids["a.png"]
    before = read_annotation(storage, number)
    person.send(number, pins=PINS)
    person.send(number, circle={"x": 33, "y": 22, "radius": 11})
    pins, circle = decisions.decisions_of(storage, number)
    assert read_annotation(storage, number).annotation.pose.x == 33.0
    answer = person.form(number, path=f"corrections/{circle.id}/undo")
    assert (answer.status_code, answer.headers["Location"]) == (303, f"/pictures/{number}")
    assert read_annotation(storage, number).annotation.pose.x == 40.0
    assert read_annotation(storage, number).annotation.sure
    person.form(number, path=f"corrections/{pins.id}/undo")
    back = read_annotation(storage, number)
    assert (back.annotation, back.derived_key) == (before.annotation, before.derived_key)
    assert person.page(number).count("taken back: desk, 26 March 2026") == 2
    again = person.form(number, path=f"corrections/{pins.id}/undo")
    assert again.status_code == 409
    assert "already" in again.get_data(as_text=True)
    assert person.form(number, path="corrections/999/undo").status_code == 404


def test_details_are_put_right_without_script(person, ids, storage):
    number = ids["b.jpg"]
    answer = person.form(
        number,
        sender_name="Bo Lindqvist",
        credit_line="",
        equipment="8 inch Dobsonian",
        place_name="Graz",
        latitude="47,07",
        longitude="15.44",
        taken="2026-03-25T20:30",
        zone="Europe/Vienna",
    )
    assert answer.status_code == 303
    arrival = read_picture(storage, number).submission.arrival
    assert (arrival.sender_name, arrival.equipment, arrival.place_name) == ("Bo Lindqvist", "8 inch Dobsonian", "Graz")
    assert arrival.place == Place(47.07, 15.44)
    assert arrival.taken_utc == datetime(2026, 3, 25, 19, 30, tzinfo=UTC)
    assert read_annotation(storage, number).annotation.time.utc == arrival.taken_utc  # placed again with the time
    page = person.page(number)
    assert "<h1>Bo Lindqvist</h1>" in page
    assert 'value="2026-03-25T20:30"' in page
    assert "Taken 25 March 2026, 20:30 (19:30 UTC)" in page
    # sent once more as it stands: nothing is decided a second time
    looked = person.looked(number)
    fields = details_of(arrival, "Europe/Vienna")
    same = person.form(number, looked, **{k: getattr(fields, k) for k in fields.__dataclass_fields__})
    assert same.status_code == 422
    assert "Nothing differs" in same.get_data(as_text=True)


def test_a_name_alone_places_nothing_again(person, ids, storage):
    number = ids["a.png"]
    before = read_annotation(storage, number)
    assert person.form(number, credit_line="Ilse Q. from Vienna").status_code == 303
    assert read_annotation(storage, number) == before
    assert read_picture(storage, number).submission.arrival.credit_line == "Ilse Q. from Vienna"
    assert [d.kind for d in decisions.decisions_of(storage, number)] == ["credit_line"]


def test_two_people_at_once(app, ids, storage):
    number = ids["a.png"]
    ada, bo = Person(app), Person(app)
    seen_by_bo = bo.looked(number)
    assert ada.send(number, pins=PINS).status_code == 200
    late = bo.send(number, seen_by_bo, mirrored=True)
    assert late.status_code == 409
    assert "Somebody else has corrected this picture meanwhile" in late.json["notice"]
    assert len(decisions.decisions_of(storage, number)) == 1
    assert bo.send(number, mirrored=True).status_code == 200


def test_of_two_in_the_same_instant_the_second_is_told(app, ids, storage, media, monkeypatch):
    """The picture is placed before the store is locked: what changed meanwhile is seen at the commit."""
    number, other = ids["a.png"], Person(app)
    desk = hand_corrections.Desk(storage, media, app.extensions["moondesk.workshop"], ())
    run, again = desk.workshop.run, []

    def slow(*args):
        made = run(*args)
        if not again:
            again.append(1)
            assert other.send(number, circle={"x": 9, "y": 9, "radius": 9}).status_code == 200
        return made

    monkeypatch.setattr(desk.workshop, "run", slow)
    with pytest.raises(ChangedMeanwhileError):
        hand_corrections.correct(
            desk, number, (DecidedChange("hand", {"mirrored": True}),), "Ada", decisions.revision(storage, number), NOW
        )
    assert [d.kind for d in decisions.decisions_of(storage, number)] == ["circle"]


@pytest.mark.parametrize("step", ["placed", "drawn"])
def test_who_is_forgotten_meanwhile_leaves_nothing(app, ids, storage, media, config, monkeypatch, step):
    number = ids["a.png"]
    sha = read_picture(storage, number).enclosure.sha256
    desk = hand_corrections.Desk(storage, media, app.extensions["moondesk.workshop"], ())
    at = {"placed": "run", "drawn": "attend"}[step]
    act = getattr(desk.workshop, at)

    def forgotten(fn, *args):
        made = act(fn, *args)
        with Storage(config.data_dir) as other:
            forget(other, media, "Ilse", NOW)
        written = config.data_dir / "derived" / sha[:2] / sha / ("0" * 16) / "late.png"
        written.parent.mkdir(parents=True)
        written.write_bytes(b"by a child that had read the picture before")
        return made

    monkeypatch.setattr(desk.workshop, at, forgotten)
    change, seen = (DecidedChange("hand", {"mirrored": True}),), decisions.revision(storage, number)
    if step == "placed":
        with pytest.raises(NotStoredError):
            hand_corrections.correct(desk, number, change, "Ada", seen, NOW)
    else:  # the callback of what is drawn comes last
        hand_corrections.correct(desk, number, change, "Ada", seen, NOW)
    assert not list((config.data_dir / "derived").rglob(f"{sha}/*"))
    assert storage.read("select id from decisions") == []


@pytest.mark.parametrize(("body", "words"), [
    ({}, "Nothing is set yet"),
    ({"pins": [{"name": "Nowhere", "x": 1, "y": 1}, PINS[0]]}, "no feature called “Nowhere”. Did you mean"),
    ({"pins": [{"name": " ", "x": 1, "y": 1}]}, "has no name"),
    ({"pins": [PINS[0]] * (MOST_PINS + 1)}, "are the most"),
    ({"pins": [{"name": "Tycho", "x": "1", "y": 1}]}, "cannot be read"),
    ({"pins": [{"name": "Tycho", "y": 1}]}, "cannot be read"),
    ({"pins": 7}, "cannot be read"),
    ({"circle": {"x": 1, "y": 1, "radius": -4}}, "no size"),
    ({"circle": {"x": 1e9, "y": 1, "radius": 4}}, "cannot be read"),
    ({"circle": [1, 2, 3]}, "cannot be read"),
    ({"mirrored": "yes"}, "cannot be read"),
])  # fmt: skip
def test_what_cannot_be_used_is_said_and_changes_nothing(person, ids, storage, body, words):
    number = ids["a.png"]
    before = read_annotation(storage, number)
    answer = person.send(number, **body)
    assert answer.status_code == 422
    assert words in answer.json["notice"]
    assert read_annotation(storage, number) == before
    assert decisions.decisions_of(storage, number) == ()


@pytest.mark.parametrize("data", [b"", b"[]", b"7", b"null", b'{"seen": ', b'{"circle": {"x": NaN}}', b"\xff\xfe"])
def test_odd_bodies_are_told(person, ids, data):
    token, _ = person.looked(ids["a.png"])
    answer = person.client.post(
        f"/pictures/{ids['a.png']}/corrections",
        data=data,
        content_type="application/json",
        headers={"X-Form-Token": token, "Accept": "application/json"},
    )
    assert answer.status_code in (409, 422)
    assert answer.json["notice"]


def test_nobody_elses_page_can_correct(person, ids, storage):
    number = ids["a.png"]
    _, seen = person.looked(number)
    for headers in ({}, {"X-Form-Token": "1.2.3"}):
        answer = person.client.post(
            f"/pictures/{number}/corrections",
            json={"seen": seen, "mirrored": True},
            headers={"Accept": "application/json", **headers},
        )
        assert answer.status_code == 400
    assert decisions.decisions_of(storage, number) == ()


def test_pictures_that_wait_or_are_refused(person, ids, storage, folder, media, config):
    refused = ids["page.jpg"]
    assert person.form(refused, sender_name="Cy").status_code == 303  # its sender may be named all the same
    assert "<h1>Cy</h1>" in person.page(refused)
    (folder / "late.png").write_bytes(fakes.png(shade=77))
    list(
        Intake(
            storage=storage,
            media=media,
            edition=open_edition(storage, config, NOW, lambda _: None),
            config=config,
            now=lambda: NOW,
        ).take_path(folder)
    )
    (waiting,) = (p.picture.id for p in list_pictures(storage, 1) if p.picture.enclosure.given_name == "late.png")
    assert person.form(waiting, taken="2026-03-25T20:30", zone="UTC").status_code == 303
    assert read_annotation(storage, waiting) is None
    list(place_waiting(storage, media, config, load, "fake 1", lambda: NOW))
    assert read_annotation(storage, waiting).annotation.time.utc == datetime(2026, 3, 25, 20, 30, tzinfo=UTC)
    assert person.send(999, ("x", "y"), mirrored=True).status_code in (400, 404)


def test_what_is_not_drawn_yet_is_drawn_when_it_is_asked_for(person, ids, storage, media):
    number = ids["a.png"]
    person.send(number, pins=PINS)
    sha, key = read_picture(storage, number).enclosure.sha256, read_annotation(storage, number).derived_key
    for role in ("labelled", "upright", "thumbnail"):  # as if the desk had been ended right after the commit
        media.derived(sha, key, role).unlink()
    assert "labelled.png" in person.page(number)
    with person.client.get(f"/pictures/{number}/labelled.png") as answer:
        assert (answer.status_code, answer.mimetype) == (200, "image/png")
    with person.client.get(f"/pictures/{number}/thumbnail.jpg") as answer:
        assert answer.status_code == 200
    assert person.client.get(f"/pictures/{number}/screen.jpg").status_code == 404  # so small a picture needs none


# --- the child -------------------------------------------------------------------------------------------------------


def test_a_picture_that_ends_its_child_is_told_and_nothing_is_kept(ids, storage, media, config):
    shop = WarmPool(load, 60)
    desk = hand_corrections.Desk(storage, media, shop, ())
    number = ids["a.png"]
    try:
        seen = decisions.revision(storage, number)
        crash = DecidedChange("pins", {"pins": [["Crash", 1.0, 1.0], ["Tycho", 9.0, 9.0]]})
        with pytest.raises(WarmPoolError, match="nothing was changed"):
            hand_corrections.correct(desk, number, (crash,), "Ada", seen, NOW)
        assert decisions.decisions_of(storage, number) == ()
        fine = DecidedChange("pins", {"pins": [["Plato", 1.0, 1.0], ["Tycho", 9.0, 9.0]]})
        hand_corrections.correct(desk, number, (fine,), "Ada", seen, NOW)  # the next one has a new child
        assert read_annotation(storage, number).annotation.sure
        nowhere = DecidedChange("pins", {"pins": [["Nowhere", 1.0, 1.0], ["Tycho", 9.0, 9.0]]})
        seen = decisions.revision(storage, number)
        with pytest.raises(UnusableError, match="Nowhere"):
            hand_corrections.correct(desk, number, (nowhere,), "Ada", seen, NOW)
    finally:
        shop.close()


def test_a_late_child_is_told(config):
    shop = WarmPool(fakes.load, 0.5)
    try:
        with pytest.raises(WarmPoolError, match="longer than"):
            shop.run(sleep)
    finally:
        shop.close()


def sleep(engine) -> None:
    import time

    time.sleep(30)


# --- whoever places by the queue -------------------------------------------------------------------------------------


def test_a_newer_core_keeps_what_was_set(person, ids, storage, media, config):
    number = ids["a.png"]
    person.send(number, pins=PINS, mirrored=False, circle={"x": 33, "y": 22, "radius": 11})
    person.form(number, taken="2026-03-25T20:30", zone="UTC")
    by_hand = read_annotation(storage, number)
    assert {
        p.id: s.engine_version for p, s in place_waiting(storage, media, config, load_newer, "fake 2", lambda: NOW)
    }[number] == "fake 2"
    newer = read_annotation(storage, number)
    assert newer.engine_version == "fake 2"
    assert newer.derived_key != by_hand.derived_key
    pose = newer.annotation.pose
    assert (pose.x, pose.mirrored, newer.annotation.time.utc.hour) == (33.0, False, 20)
    assert newer.annotation.sure
    circle = next(d for d in decisions.decisions_of(storage, number) if d.kind == "circle")
    person.form(number, path=f"corrections/{circle.id}/undo")  # and it can still be taken back
    assert read_annotation(storage, number).annotation.pose.x == 40.0


def test_keys_of_derived_pictures_tell_corrections_apart(storage, ids):
    arrival = read_picture(storage, ids["a.png"]).submission.arrival
    known = knowledge_of(arrival, "a.png", ("Europe/Vienna",), NOW)
    set_by_hand = [None, Corrections(mirrored=True), Corrections(mirrored=False), Corrections((1.0, 2.0, 3.0))]
    keys = {derived_key("fake 1", known, c) for c in set_by_hand} | {derived_key("fake 2", known, set_by_hand[1])}
    assert len(keys) == 5
    later = knowledge_of(arrival, "a.png", ("Europe/Vienna",), NOW + timedelta(days=3))
    assert derived_key("fake 1", later, set_by_hand[1]) == derived_key("fake 1", known, set_by_hand[1])


def test_what_a_newer_core_cannot_use_is_said_and_never_sure():
    gone = Corrections(pins=(("Nowhere", 1.0, 1.0), ("Tycho", 9.0, 9.0)))
    found = annotate_corrected(load(), fakes.png(), Known(), gone)
    assert (found.status, found.sure) == ("annotated", False)
    assert "set by hand cannot be used any more" in found.reason


def test_a_repeated_correction_with_the_same_words_is_a_decision_of_its_own(person, ids, storage):
    number = ids["a.png"]
    person.send(number, mirrored=True)
    person.send(number, mirrored=True)
    first, second = decisions.decisions_of(storage, number)
    person.form(number, path=f"corrections/{second.id}/undo")
    assert read_annotation(storage, number).annotation.pose.mirrored is True  # the first one stands again
    assert decisions.decision(storage, number, first.id).undone_utc is None


# --- pure ------------------------------------------------------------------------------------------------------------


def test_only_what_differs_is_decided():
    told = Arrival(
        key="k",
        source="mail",
        origin="o",
        enclosures=(),
        sender_name="Ilse",
        place=Place(48.2, 16.4),
        place_name="Vienna",
        taken_utc=datetime(2026, 3, 25, 19, 4, 7, tzinfo=UTC),
    )
    stands = details_of(told, "Europe/Vienna")
    assert stands.taken == "2026-03-25T20:04:07"
    same = {name: getattr(stands, name) for name in stands.__dataclass_fields__}
    assert read_details(same, told, "Europe/Vienna").changes == ()
    assert read_details({}, told, "Europe/Vienna").changes == ()
    moved = read_details({**same, "taken": "2026-03-25T19:04:07", "zone": "UTC"}, told, "Europe/Vienna")
    assert moved.changes == (DecidedChange("time", {"utc": "2026-03-25T19:04:07+00:00"}),)  # said again, in UTC
    gone = read_details({**same, "taken": ""}, told, "Europe/Vienna")
    assert gone.changes == (DecidedChange("time", {"utc": None}),)
    nowhere = read_details({**same, "place_name": "", "latitude": "", "longitude": ""}, told, "Europe/Vienna")
    assert nowhere.changes == (DecidedChange("place", {"name": "", "latitude_deg": None, "longitude_deg": None}),)
    south = read_details({**same, "latitude": "\u221233.9", "longitude": "18.4"}, told, "Europe/Vienna")
    assert south.changes[0].what["latitude_deg"] == -33.9


@pytest.mark.parametrize(("fields", "words"), [
    ({"latitude": "91", "longitude": "0"}, "no place at 91"),
    ({"latitude": "north", "longitude": "0"}, "two numbers"),
    ({"latitude": "48", "longitude": ""}, "two numbers"),
    ({"latitude": "nan", "longitude": "1"}, "no place at nan"),
    ({"taken": "yesterday"}, "no day with a time"),
    ({"taken": "2026-03-29T02:30", "zone": "Europe/Vienna"}, "put forward"),  # EU rule: 2026 March 29, 01:00 UTC
    ({"taken": "2026-10-25T02:30", "zone": "Europe/Vienna"}, "twice"),  # and back on October 25
    ({"taken": "2026-03-25T20:30", "zone": "Nowhere/Town"}, "not known"),
    ({"sender_name": "x" * 300}, "keep it to 80"),
])  # fmt: skip
def test_wrong_details_have_a_sentence_each(fields, words):
    wanted = read_details(fields, Arrival(key="k", source="mail", origin="o", enclosures=()), "Europe/Vienna")
    assert wanted.changes == ()
    assert words in wanted.complaint


def test_marks_are_read_as_they_stand():
    pin = {"name": "  mare\u202e  imbrium ", "x": 1, "y": 2}
    sent = {"circle": {"x": 1.239, "y": 2, "radius": 3}, "pins": [*PINS, pin], "mirrored": True}
    circle, pins, hand = read_marks(sent).changes
    assert circle == DecidedChange("circle", {"x": 1.24, "y": 2.0, "radius": 3.0})
    assert [name for name, _, _ in pins.what["pins"]] == ["Tycho", "Plato", "mare imbrium"]
    assert hand.what == {"mirrored": True}
    for nothing in (None, 3, [], {"circle": None, "pins": [], "mirrored": None}):
        assert read_marks(nothing).complaint


def test_two_runs_of_the_clock(person, ids, storage, app):
    """Decisions carry the desk's clock, not the form's."""
    number = ids["a.png"]
    later = create_app(app.extensions["moondesk.config"], now=lambda: NOW + timedelta(days=1))
    later.extensions["moondesk.workshop"] = app.extensions["moondesk.workshop"]
    Person(later).send(number, mirrored=True)
    assert decisions.decisions_of(storage, number)[0].made_utc == NOW + timedelta(days=1)
