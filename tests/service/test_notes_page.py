"""The notes' page: what it says of a stored picture, themes and claims without a script, what where nothing is."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from datetime import UTC, date, datetime

import fakes
import numpy as np
import pytest
from fakes import add_edition

from moondesk import records
from moondesk.ephemeris.aspect import aspect_at
from moondesk.notes.messages import in_english
from moondesk.notes.records import Notes
from moondesk.records import Place, Pose
from moondesk.sentences import sentences_of
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.media import sha256_of
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure, StoredAnnotation
from moondesk.service.store.submissions import add_submission
from moondesk.service.studio import Studio
from moondesk.service.studio.notes import notes_for
from moondesk.service.web.desk.app import create_app
from moondesk.visibility.marks import mark_features

VIENNA = Place(48.2, 16.4)
#: A day after the first quarter of 25 March 2026, 19:18 UTC (USNO).
WHEN = datetime(2026, 3, 26, 19, 0, tzinfo=UTC)


@pytest.fixture
def config(tmp_path):
    return Config(data_dir=tmp_path / "data", programme=Programme("The Evening Sky", "Europe/Vienna", VIENNA))


@pytest.fixture
def client(config):
    return create_app(config).test_client()


def annotation(sure: bool = True, when: datetime | None = WHEN) -> records.Annotation:
    """A Moon of 450 px radius; all that has light is said to be seen."""
    sky = aspect_at(WHEN, VIENNA)
    pose = Pose(x=500, y=500, radius_px=450, north_screen_deg=15.0, mirrored=True, libration_lat_deg=sky.libration_lat_deg, libration_lon_deg=sky.libration_lon_deg, sub_solar_lat_deg=sky.sub_solar_lat_deg,
                sub_solar_lon_deg=sky.sub_solar_lon_deg, distance_radii=sky.distance_km / 1737.4, sigma_pct_radius=0.05)  # fmt: skip
    marks = tuple(replace(m, seen=0.95 if m.lit_fraction > 0 else 0.0) for m in mark_features(
        pose, pose, np.full((1001, 1001), 0.5, np.float32), 1001, 1001, 2.0))  # fmt: skip
    time = records.TimeCandidate(when, 1.0, "told") if when else None
    return records.Annotation(
        status=records.Status.ANNOTATED, sure=sure, reasons=() if sure else sentences_of("Two turns fit."), width=1001, height=1001, taken=records.TimeReadings(candidates=(), earliest_utc=None, latest_utc=None), time=time,
        clock=records.Clock(records.ClockVerdict.AGREES if when else records.ClockVerdict.NO_CLOCK, None, None), limb=None, pose=pose,
        terminator=records.Terminator(sky.phase_angle_deg, sky.illuminated_fraction, 270.0, 0.1), aspect=sky if when else None,
        features=marks, dated=records.EveningKnowledge(records.EveningVerdict.SURE if when else records.EveningVerdict.UNKNOWN))  # fmt: skip


def keep(storage, found, evenings=(date(2026, 3, 26),), number=12) -> int:
    """A picture of an edition, its bytes told by the number; found None: it waits to be placed."""
    edition = add_edition(storage, EditionPlan(number=number, evenings=evenings))
    enclosure = Enclosure(
        given_name="a.png", size_bytes=10, sha256=sha256_of(fakes.png(shade=number)), media_type="image/png"
    )
    add_submission(storage, edition.id, Arrival(key=f"file:{number}", source="folder", origin="a.png", enclosures=(enclosure,),
                                               sender_name="Tove Lind"), WHEN)  # fmt: skip
    picture_id = list_pictures(storage, edition.id)[0].picture.id
    if found is not None:
        add_annotation(
            storage,
            StoredAnnotation(
                picture_id=picture_id, annotation=found, engine_version="fake 1", made_utc=WHEN, derived_key="ab" * 8
            ),
            [],
        )
    return picture_id


def text_of(client, path: str, status: int = 200) -> str:
    response = client.get(path)
    assert response.status_code == status
    body = re.sub(r"<(script|style)\b.*?</\1>", " ", response.get_data(as_text=True), flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


# --- what is told of a stored picture --------------------------------------------------------------------------------


def test_new_is_counted_from_the_last_evening_of_the_edition_before(storage, config) -> None:
    keep(storage, None, (date(2026, 3, 24), date(2026, 3, 25)), 11)
    picture_id = keep(storage, annotation())
    notes = notes_for(Studio(storage, config), picture_id, measure=False)
    assert isinstance(notes, Notes)
    new = [n.said for n in notes.notes if n.topic == "new"]
    assert new
    assert all(said.value("day") == date(2026, 3, 25) for said in new)
    coming = [n.said for n in notes.notes if n.topic == "coming"]
    assert coming[0].value("day") == date(2026, 3, 27)
    # in the rundown of a later edition that has an evening between, it is that one's
    keep(storage, None, (date(2026, 3, 26),), 20)
    keep(storage, None, (date(2026, 3, 30),), 21)
    later = notes_for(Studio(storage, config), picture_id, 21, measure=False)
    assert isinstance(later, Notes)
    assert not [n for n in later.notes if n.topic == "new"]  # the same evening: nothing is new


def test_without_an_edition_before_nothing_is_new(storage, config) -> None:
    notes = notes_for(Studio(storage, config), keep(storage, annotation()), measure=False)
    assert isinstance(notes, Notes)
    assert not [n for n in notes.notes if n.topic == "new"]


def test_a_picture_that_waits_has_no_notes(storage, config, client) -> None:
    picture_id = keep(storage, None)
    notes = notes_for(Studio(storage, config), picture_id, measure=False)
    assert isinstance(notes, records.NotFound)
    assert "not been placed yet" in text_of(client, f"/pictures/{picture_id}/notes")


# --- the page --------------------------------------------------------------------------------------------------------


def test_the_page_says_what_the_core_says(storage, config, client) -> None:
    keep(storage, None, (date(2026, 3, 25),), 11)
    picture_id = keep(storage, annotation())
    notes = notes_for(Studio(storage, config), picture_id, measure=False)
    assert isinstance(notes, Notes)
    text = text_of(client, f"/pictures/{picture_id}/notes")
    for note in notes.notes:
        assert in_english(note.said) in text
    assert "Tove Lind" in text
    assert "26 March 2026, 20:00 (19:00 UTC)" in text
    assert f'/pictures/{picture_id}/notes"' in client.get(f"/pictures/{picture_id}").get_data(as_text=True)


def test_a_theme_and_a_claim_without_a_script(storage, config, client) -> None:
    picture_id = keep(storage, annotation())
    page = client.get(f"/pictures/{picture_id}/notes?theme=light:edge&claim=half of the Sea of Rains is lit"
                      ).get_data(as_text=True)  # fmt: skip
    assert "<script" not in page[page.index("<main") :]  # the header's own keeps drafts
    assert '<option value="light:edge" selected>' in page
    assert "brings out their forms" in page
    assert "“half of the Sea of Rains is lit”" in html.unescape(page)
    assert re.search(r"The Sun is up over \d\d % of Mare Imbrium", page)
    assert page.count('name="theme"') == 2  # the choice, and kept beside the claim
    assert page.count('name="claim"') == 2


@pytest.mark.parametrize(("query", "words"), [
    ("?claim=the Moon is made of cheese", "Not understood"), ("?claim=Bailly is still dark", "True"),
    ("?claim=it is 1 day old", "False"), ("?theme=nothing:such", "Notes to speak from"),
    ("?claim=<script>alert(1)</script>", "“<script>alert(1)</script>”"), ("?claim=" + "x" * 900, "x" * 200 + "”"),
    ("?claim=%00%ff", "Not understood"), ("?claim=   ", "Notes to speak from"),
])  # fmt: skip
def test_whatever_is_typed_is_answered(storage, client, query: str, words: str) -> None:
    picture_id = keep(storage, annotation())
    assert words in text_of(client, f"/pictures/{picture_id}/notes{query}") or words in html.unescape(
        client.get(f"/pictures/{picture_id}/notes{query}").get_data(as_text=True))  # fmt: skip


def test_what_is_not_there_says_so(storage, client) -> None:
    picture_id = keep(storage, annotation())
    text_of(client, "/pictures/999/notes", 404)
    text_of(client, f"/pictures/{picture_id}/notes?edition=99", 404)
    assert "is no edition" in text_of(client, f"/pictures/{picture_id}/notes?edition=twelve", 400)


def test_an_uncertain_picture_says_so_before_anything(storage, client) -> None:
    text = text_of(client, f"/pictures/{keep(storage, annotation(sure=False))}/notes")
    assert text.index("not certain how the Moon lies") < text.index("This light")
    assert "Copernicus:" not in text


def test_without_a_time_the_page_has_no_hours(storage, client) -> None:
    text = text_of(client, f"/pictures/{keep(storage, annotation(when=None))}/notes?claim=it is 8 days old")
    assert "Time not known" in text
    assert "Cannot be told" in text
    assert "the Sun rose at its middle" not in text
    assert "What comes next" not in text


def test_sentences_are_in_the_programmes_language(storage, config) -> None:
    picture_id = keep(storage, annotation())
    other = replace(config, programme=replace(config.programme, language="bg"))
    page = create_app(other).test_client().get(f"/pictures/{picture_id}/notes").get_data(as_text=True)
    assert 'lang="bg"' in page
    assert "Mare Imbrium" in page


# --- for programs ----------------------------------------------------------------------------------------------------


def test_the_api_tells_the_same_sentences(storage, config, client) -> None:
    picture_id = keep(storage, annotation())
    notes = notes_for(Studio(storage, config), picture_id, measure=False)
    assert isinstance(notes, Notes)
    told = client.get(f"/api/pictures/{picture_id}/notes?claim=Bailly is dark").json
    assert [n["text"] for n in told["notes"]] == [in_english(n.said) for n in notes.notes]
    assert [t["key"] for t in told["themes"]] == [t.key for t in notes.themes]
    assert told["claim"]["verdict"] == "true"
    assert told["problem"] is None
    assert client.get(f"/api/pictures/{picture_id}/notes").json["claim"] is None
    assert client.get(f"/api/pictures/{picture_id}/notes?edition=99").status_code == 404


def test_the_api_says_why_there_are_no_notes(storage, client) -> None:
    told = client.get(f"/api/pictures/{keep(storage, None)}/notes?claim=it is full").json
    assert "not been placed" in told["problem"]
    assert told["notes"] == told["themes"] == []
    assert told["claim"] is None
