"""The order of the inbox: what is stored of a picture's quality, and what the sender's history adds to it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

from fakes import add_edition

from moondesk.quality.measurement import Quality, TerminatorMeasure
from moondesk.quality.resolution import Resolution
from moondesk.quality.score import Weights
from moondesk.records import ClockVerdict, NotFound, Status
from moondesk.service.programme.ranking import NAMES, facts_of, rate
from moondesk.service.settings.config import WEIGHTS
from moondesk.service.store import rundowns
from moondesk.service.store.aired import appearances
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.measured import quality_of, quality_text
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import (
    AnnotationSummary,
    Arrival,
    EditionPlan,
    Enclosure,
    ListedPicture,
    SentPicture,
    StoredAnnotation,
    Submission,
)
from moondesk.service.store.submissions import add_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
SHARP = Quality(
    km_per_px=2.5,
    resolution=Resolution(km=7.0, ln_sigma=0.1, px=2.8, source="limb", focus_km=7.0, blur_km=7.0),
    burnt_share=0.001,
    level=0.6,
    noise=0.01,
    signal_to_noise=300.0,
    framed_share=1.0,
    disc_share=1.0,
    terminator=TerminatorMeasure(0.6, ("Plato", "Clavius"), 20),
    distance_km=384_400.0,
    sharpened=0.0,
)
SOFT = replace(SHARP, resolution=Resolution(km=40.0, ln_sigma=0.1, px=16.0, source="limb", focus_km=40.0, blur_km=40.0))


def test_what_is_stored_comes_back():
    for quality in (
        SHARP,
        replace(SHARP, terminator=None, noise=math.inf),
        NotFound("quality", "Not placed.", "Look."),
        replace(SHARP, resolution=NotFound("resolution", "No limb.", "")),
    ):
        back = quality_of(quality_text(quality))
        if isinstance(quality, Quality) and quality.noise == math.inf:
            assert math.isnan(back.noise)  # a number that is none says nothing, whichever it was
            back = replace(back, noise=math.inf)
        assert back == quality


def test_the_settings_weigh_the_parts_that_there_are():
    assert Weights(**WEIGHTS) == Weights()
    assert set(NAMES) == set(WEIGHTS)


def sent(storage, edition, name, quality, place="Averim"):
    import fakes

    arrival = Arrival(
        key=f"file:{name}{edition.id}",
        source="mail",
        origin="x",
        enclosures=(
            Enclosure(given_name=f"{name}.png", size_bytes=9, sha256=f"{edition.id}" * 64, media_type="image/png"),
        ),
        received_utc=NOW,
        sender_name=name,
        sender_address=f"{name.lower()}@example.org",
        place_name=place,
        equipment="6 inch Dobsonian",
    )
    submission = add_submission(storage, edition.id, arrival, NOW)
    (row,) = storage.read("select id from pictures where submission_id = ?", [submission])
    add_annotation(
        storage,
        StoredAnnotation(
            picture_id=row["id"],
            annotation=fakes.annotation(),
            engine_version="fake 1",
            made_utc=NOW,
            derived_key="0" * 16,
            quality=quality_text(quality),
        ),
        ["Copernicus"],
    )
    return row["id"]


def test_sharp_goes_first_and_who_was_on_air_yields(storage, config):
    first, second = (add_edition(storage, EditionPlan(number=n)) for n in (1, 2))
    shown = sent(storage, first, "Ann", SHARP)
    rundowns.add(storage, first.id, shown, "Ida", NOW)
    item = rundowns.rundown(storage, first.id).items[0].id
    rundowns.note_aired(storage, first.id, [item], NOW, "Ida", NOW)
    again, new, soft = (sent(storage, second, *what) for what in (("Ann", SHARP), ("Bo", SHARP, "Quill"), ("Cy", SOFT)))
    ranking = rate(list_pictures(storage, second.id), appearances(storage, before=2), config.weights, 3)
    totals = {k: ranking.of[k].total for k in (again, new, soft)}
    assert totals[new] > totals[again] > totals[soft]
    assert ranking.rested == {new, soft}
    parts = {p.name: p for p in ranking.of[again].parts}
    assert (parts["First time"].value, parts["Not shown lately"].value) == ("0", "50")
    assert parts["Not shown lately"].reason == "This sender was once on air in the last 10 editions."
    assert {p.name: p.value for p in ranking.of[new].parts}["Variety of places"] == "100"


def test_an_edition_does_not_count_against_itself(storage, config):
    edition = add_edition(storage, EditionPlan(number=1))
    picture = sent(storage, edition, "Ann", SHARP)
    rundowns.add(storage, edition.id, picture, "Ida", NOW)
    rundowns.note_aired(storage, edition.id, [rundowns.rundown(storage, edition.id).items[0].id], NOW, "Ida", NOW)
    ranking = rate(list_pictures(storage, edition.id), appearances(storage, before=1), config.weights, 3)
    assert {p.name: p.value for p in ranking.of[picture].parts}["First time"] == "100"


def test_detail_that_the_stated_telescope_cannot_give_is_told(storage, config):
    edition = add_edition(storage, EditionPlan(number=1))
    finer = replace(
        SHARP, resolution=Resolution(km=0.5, ln_sigma=0.05, px=2.0, source="texture", focus_km=0.5, blur_km=0.5)
    )
    picture = sent(storage, edition, "Ann", finer)
    (concern,) = (
        rate(list_pictures(storage, edition.id), appearances(storage, before=1), config.weights).of[picture].concerns
    )
    assert concern.startswith("Finer detail than a 152 mm aperture can give")


def test_what_is_not_known_of_a_sender_counts_for_nothing():
    sender = Submission(1, 1, NOW, Arrival(key="file:1", source="folder", origin="a", enclosures=()))
    picture = SentPicture(
        1, sender, Enclosure(given_name="a.png", size_bytes=9, sha256="a" * 64, media_type="image/png")
    )
    made = AnnotationSummary(
        status=Status.ANNOTATED,
        sure=True,
        reason="",
        taken_utc=NOW,
        time_source="told",
        clock_verdict=ClockVerdict.AGREES,
        best_seen=(),
        derived_key="0" * 16,
        camera="Pixel 9",
    )
    facts = facts_of(ListedPicture(picture, made), frozenset(), {}, {})
    assert (facts.first_time, facts.featured_lately, facts.place_lately, facts.equipment) == (None, None, None, "phone")
