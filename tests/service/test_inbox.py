"""The inbox: groups with their reasons, filters and search, newcomers, how the work stands, drafts of replies."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import fakes
import pytest
from fakes import add_edition

from moondesk.records import ClockVerdict, Status
from moondesk.sentences import sentences_of
from moondesk.service.programme.equipment import equipment_class
from moondesk.service.programme.letter.optics import read_equipment
from moondesk.service.programme.sorting import sort_picture
from moondesk.service.store import inbox, rundowns
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.inbox import PictureFilter
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import (
    AnnotationSummary,
    Arrival,
    ConsentRecord,
    EditionPlan,
    Enclosure,
    ListedPicture,
    SentPicture,
    StoredAnnotation,
    Submission,
    Suggestion,
)
from moondesk.service.store.submissions import add_submission
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.inbox.inbox_page import InboxQuery
from moondesk.service.web.desk.placing_words import progress_words

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
GIVEN = ConsentRecord(state="given", kind="phone", evidence="Yes.", noted_by="Ida", noted_utc=NOW)


def listed(
    arrival: Arrival | None = None, refused: str | None = None, asked: tuple[str, ...] = (), **summary: object
) -> ListedPicture:
    told = arrival or Arrival(
        key="file:1", source="folder", origin="a.png", enclosures=(), sender_name="Ilse", consents=(GIVEN,)
    )
    made = AnnotationSummary(
        status=Status.ANNOTATED,
        sure=True,
        reason="",
        taken_utc=NOW,
        time_source="told",
        clock_verdict=ClockVerdict.AGREES,
        best_seen=("Copernicus",),
        derived_key="0" * 16,
    )
    picture = SentPicture(
        1,
        Submission(1, 1, NOW, told),
        Enclosure(
            given_name="a.png",
            size_bytes=9,
            sha256="a" * 64,
            media_type="image/png",
            refusal=sentences_of(refused or ""),
        ),
    )
    waits = summary.pop("waits", False)
    return ListedPicture(picture, None if waits else replace(made, **summary), 0, asked)  # type: ignore[arg-type]


def test_ready_is_only_what_wants_nothing():
    assert (sort_picture(listed()).group, sort_picture(listed()).concerns) == ("ready", ())
    assert sort_picture(listed(waits=True)).group == "waiting"
    assert sort_picture(listed(refused="The file is a film.")).concerns == ("The file is a film.",)
    for status in (Status.NOT_MOON, Status.UNREADABLE):
        assert sort_picture(listed(status=status, reason="A lamp.")).group == "cannot"


NOTHING_SAID = Arrival(key="file:1", source="folder", origin="a", enclosures=(), sender_name="Ilse")
SUGGESTED = replace(NOTHING_SAID, suggestions=(Suggestion("consent", "suggested", "You may show it.", "mail"),))


@pytest.mark.parametrize(
    ("made", "words"),
    [
        ({"sure": False, "reason": "Two turns fit."}, "The placing is not certain. Two turns fit."),
        ({"status": Status.DISC_ONLY, "reason": "Too small."}, "Too small."),
        ({"clock_verdict": ClockVerdict.DISAGREES}, "The time given with it disagrees with the Moon in it"),
        ({"asked": ("Ann sent the same picture. Whose is it?",)}, "Ann sent the same picture. Whose is it?"),
        ({"arrival": NOTHING_SAID}, "No consent recorded."),
        ({"arrival": SUGGESTED}, "Consent in the mail, not confirmed."),
        ({"arrival": replace(NOTHING_SAID, sender_name="", consents=(GIVEN,))}, "Nobody to credit is known."),
        (
            {"arrival": replace(NOTHING_SAID, consents=(replace(GIVEN, minor=True),))},
            "A child seems to have taken it: a guardian must agree.",
        ),
    ],
)
def test_what_needs_a_look_says_why(made, words):
    found = sort_picture(listed(**made))
    assert found.group == "look"
    assert any(c.startswith(words) for c in found.concerns), found.concerns


def test_entry_terms_count_where_the_programme_says_so():
    assert sort_picture(listed(NOTHING_SAID), "Entry terms of 2026").group == "ready"


@pytest.mark.parametrize(
    ("words", "camera", "wanted"),
    [
        ("6 inch Dobsonian", None, "small"),
        ("8 inch Dobsonian", None, "larger"),
        ("through my telescope", None, "small"),
        ("10x50 binoculars", None, "compact"),
        ("just my phone", None, "phone"),
        ("", "Pixel 9", "phone"),
        ("", "DSC-RX10", "compact"),
        ("phone held to a 90 mm refractor", "iPhone 15", "small"),
        ("", None, ""),
    ],
)
def test_classes_of_equipment(words, camera, wanted):
    assert equipment_class(read_equipment(words), camera) == wanted


@pytest.fixture
def store(storage):
    """Two editions of three pictures each: Ann twice, Bo, Cy; one shows Plato."""
    for number, air in ((4, NOW - timedelta(days=2)), (5, NOW + timedelta(days=1))):
        edition = add_edition(
            storage,
            EditionPlan(
                number=number, kind="live", recording_utc=None, air_utc=air, evenings=(air.date(),), day_number=7
            ),
        )
        for k, (sender, place, equipment) in enumerate(
            (
                ("Ann", "Averim", "6 inch Dobsonian"),
                ("Bo" if number == 4 else "Cy", "Quill", "10 inch Newtonian"),
                ("Dee", "", "phone"),
            )
        ):
            enclosure = Enclosure(
                given_name=f"{sender}{number}.png", size_bytes=9, sha256=f"{number}{k}" * 32, media_type="image/png"
            )
            arrival = Arrival(
                key=f"file:{number}{k}",
                source="mail",
                origin="x",
                enclosures=(enclosure,),
                received_utc=NOW + timedelta(minutes=k),
                sender_name=sender,
                sender_address=f"{sender.lower()}@example.org",
                place_name=place,
                equipment=equipment,
                words_read="none",
            )
            submission = add_submission(storage, edition.id, arrival, NOW)
            picture = storage.read("select id from pictures where submission_id = ?", [submission])[0]["id"]
            if sender != "Dee":
                add_annotation(
                    storage,
                    StoredAnnotation(
                        picture_id=picture,
                        annotation=fakes.annotation(),
                        engine_version="fake 1",
                        made_utc=NOW,
                        derived_key="0" * 16,
                    ),
                    ["Copernicus", "Mare Imbrium"],
                )
    return storage


def names(store, **wanted):
    found = list_by_id(store, inbox.find(store, PictureFilter(**wanted), 50))
    return [p.picture.enclosure.given_name for p in found]


def test_finding(store):
    assert names(store) == ["Dee5.png", "Dee4.png", "Cy5.png", "Bo4.png", "Ann5.png", "Ann4.png"]
    assert names(store, edition_id=2) == ["Dee5.png", "Cy5.png", "Ann5.png"]
    assert names(store, words="copern ANN") == ["Ann5.png", "Ann4.png"]
    assert names(store, words="newton") == ["Cy5.png", "Bo4.png"]
    assert names(store, words="' or 1=1 --") == []
    assert names(store, place="quill", edition_id=1) == ["Bo4.png"]
    assert names(store, first_time=True) == ["Dee4.png", "Cy5.png", "Bo4.png", "Ann4.png"]
    assert names(store, feature="Copernicus", edition_id=2) == ["Cy5.png", "Ann5.png"]
    assert names(store, feature="Grimaldi") == [], "it lies in the dark"
    assert inbox.places(store, None) == ("Averim", "Quill")
    assert ("Copernicus", 2) in inbox.features_to_choose(store, 1)
    assert len(inbox.find(store, PictureFilter(), 4)) == 4


def test_what_is_left_of_earlier_evenings_is_offered_for_the_next_edition(client, store, monkeypatch):
    monkeypatch.setattr("moondesk.service.web.desk.inbox.inbox.now", lambda: NOW)
    monkeypatch.setattr("moondesk.service.web.access.sessions.now", lambda: NOW)
    assert names(store, left_before=5) == ["Dee4.png", "Bo4.png", "Ann4.png"]
    assert names(store, left_before=4) == []
    add_edition(store, EditionPlan(number=6, air_utc=NOW + timedelta(days=2)))
    fresh = client.get("/?edition=6").text
    assert "Nothing has come in for this edition yet" in fresh
    link = re.search(r'<a href="([^"]+)">Left from earlier evenings \((\d+)\)</a>', fresh)
    assert link[2] == "6"
    page = client.get(link[1].replace("&amp;", "&")).text
    assert "What you pick here goes into edition 6." in page
    assert re.findall(r'<h3><a href="/pictures/(\d+)">', page) != []
    assert 'name="left" value="1"' in page  # a filter stays among them
    assert "Bo" in client.get("/?edition=6&left=1&q=newton&place=quill").text
    picture = inbox.find(store, PictureFilter(words="Bo4"), 1)[0]
    token = re.search(r'name="token" value="([^"]+)"', page)[1]
    assert client.post("/rundown/6/add", data={"token": token, "picture_id": picture}).status_code == 303
    assert names(store, left_before=6) == ["Dee5.png", "Dee4.png", "Cy5.png", "Ann5.png", "Ann4.png"]
    assert "Left from earlier evenings (5)" in client.get("/?edition=6").text
    (item,) = rundowns.rundown(store, 3).items
    rundowns.take_out(store, 3, item.id, 1, "Ada", NOW)  # set aside: it is not offered again
    assert "Bo4.png" not in names(store, left_before=6)
    lamp = inbox.find(store, PictureFilter(words="Ann4"), 1)[0]
    add_annotation(
        store,
        StoredAnnotation(
            picture_id=lamp,
            annotation=fakes.bare("not_moon", "A lamp."),
            engine_version="fake 2",
            made_utc=NOW,
            derived_key="0" * 16,
        ),
        [],
    )
    assert "Ann4.png" not in names(store, left_before=6)
    page = client.get(f"/pictures/{picture}").text  # of edition 4, which is over
    assert 'action="/rundown/5/add"' in page


def test_a_placement_that_is_not_sure_leads_nobody_to_a_feature(store):
    picture = inbox.find(store, PictureFilter(words="Ann5"), 1)[0]
    add_annotation(
        store,
        StoredAnnotation(
            picture_id=picture,
            annotation=fakes.annotation(sure=False),
            engine_version="fake 2",
            made_utc=NOW,
            derived_key="0" * 16,
        ),
        [],
    )
    assert names(store, feature="Copernicus", edition_id=2) == ["Cy5.png"]


@pytest.fixture
def client(store, config):
    return create_app(config).test_client()


def heads(page: str) -> list[str]:
    return re.findall(r'<h3><a href="/pictures/\d+">([^<]+)</a>', page)


def test_the_page_opens_with_the_next_edition_and_narrows(client):
    page = client.get("/").text
    assert "Edition 5" in page
    assert sorted(heads(page)) == ["Ann", "Cy", "Dee"]
    assert "No consent recorded." in page
    assert "First time" in page.split("Cy</a>")[1].split("</li>")[0]
    assert "First time" not in page.split("Ann</a>")[1].split("</li>")[0]
    assert heads(client.get("/?edition=4&with=larger").text) == ["Bo"]
    assert heads(client.get("/?edition=4&with=phone").text) == ["Dee"]
    assert sorted(heads(client.get("/?edition=all&shows=Copernicus&first=1").text)) == ["Ann", "Bo", "Cy"]
    assert sorted(heads(client.get("/?edition=all&day=7").text)) == ["Ann", "Ann", "Bo", "Cy"]
    assert heads(client.get("/?edition=5&day=8").text) == []
    assert "No picture is all that you asked for." in client.get("/?edition=5&day=8").text
    assert client.get("/?edition=77").status_code == 404


def test_a_filter_stays_in_the_address_of_other_pages():
    asked = InboxQuery(
        edition="5",
        words="moon & stars",
        day=7,
        feature="Mare Imbrium",
        equipment="small",
        place="Quill",
        first_time=True,
        rest=3,
        order="time",
        page=2,
    )
    assert asked.address(page=3) == (
        "edition=5&q=moon+%26+stars&day=7&shows=Mare+Imbrium&with=small&place=Quill&first=1&rest=3&order=time&page=3"
    )


def test_how_the_work_stands(client):
    told = client.get("/progress").json
    assert told["words"].startswith("6 to be placed")
    assert told["latest"] > 0
    assert progress_words(0, 0, 9) == ""
    assert progress_words(118, 2, 60) == "120 to be placed, 2 of them at this moment; 60 a minute, about 2 min left."
    assert progress_words(3, 0, 0) == "3 to be placed."  # by the desk itself, in a moment
    assert progress_words(3, 0, 0, command="moondesk work") == (
        "3 to be placed; nothing is placing them now. In a terminal: moondesk work"
    )
    assert progress_words(2, 1, 0, command="moondesk work") == "3 to be placed, 1 of them at this moment."
    assert progress_words(3, 0, 0, "Placing has stopped.") == "3 to be placed. Placing has stopped."


def test_a_reply_is_drafted_and_not_sent(client, store):
    picture = inbox.find(store, PictureFilter(words="Ann5"), 1)[0]
    bad = replace(fakes.bare("not_moon", "This is a street lamp.", "Send one of the Moon."))
    add_annotation(
        store,
        StoredAnnotation(
            picture_id=picture, annotation=bad, engine_version="fake 2", made_utc=NOW, derived_key="0" * 16
        ),
        [],
    )
    assert f'href="/pictures/{picture}/reply"' in client.get("/").text
    page = client.get(f"/pictures/{picture}/reply").text
    for words in (
        "Dear Ann,",
        "We looked for the Moon&#39;s seas and craters in the picture and did not find them.",
        "never point a telescope",
        "ann@example.org",
    ):
        assert words in page, words
