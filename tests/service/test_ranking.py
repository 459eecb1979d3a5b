"""The order of the inbox: what is stored of a picture's quality, and what the sender's history adds to it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

from moondesk.quality.measurement import Quality, Terminator
from moondesk.quality.resolution import Resolution
from moondesk.quality.score import Weights
from moondesk.records import NotFound
from moondesk.service.programme.ranking import NAMES, facts_of, rate
from moondesk.service.settings.config import WEIGHTS
from moondesk.service.store import rundowns
from moondesk.service.store.measured import quality_of, quality_text
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

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
SHARP = Quality(
    2.5,
    Resolution(7.0, 0.1, 2.8, "limb", 7.0, 7.0),
    0.001,
    0.6,
    0.01,
    300.0,
    1.0,
    1.0,
    Terminator(0.6, ("Plato", "Clavius"), 20),
    384_400.0,
    0.0,
)
SOFT = replace(SHARP, resolution=Resolution(40.0, 0.1, 16.0, "limb", 40.0, 40.0))


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
        f"file:{name}{edition.id}",
        "mail",
        "x",
        (Enclosure(f"{name}.png", 9, f"{edition.id}" * 64, "image/png"),),
        NOW,
        name,
        f"{name.lower()}@example.org",
        place_name=place,
        equipment="6 inch Dobsonian",
    )
    submission = storage.add_submission(edition.id, arrival, NOW)
    (row,) = storage.read("select id from pictures where submission_id = ?", [submission])
    storage.add_annotation(
        StoredAnnotation(row["id"], fakes.annotation(), "fake 1", NOW, "0" * 16, quality_text(quality)), ["Copernicus"]
    )
    return row["id"]


def test_sharp_goes_first_and_who_was_on_air_yields(storage, config):
    first, second = (storage.add_edition(EditionPlan(n)) for n in (1, 2))
    shown = sent(storage, first, "Ann", SHARP)
    rundowns.add(storage, first.id, shown, "Ida", NOW)
    item = rundowns.rundown(storage, first.id).items[0].id
    rundowns.note_aired(storage, first.id, [item], NOW, "Ida", NOW)
    again, new, soft = (sent(storage, second, *what) for what in (("Ann", SHARP), ("Bo", SHARP, "Quill"), ("Cy", SOFT)))
    ranking = rate(storage, config, storage.pictures(second.id), 2, 3)
    totals = {k: ranking.of[k].total for k in (again, new, soft)}
    assert totals[new] > totals[again] > totals[soft]
    assert ranking.rested == {new, soft}
    parts = {p.name: p for p in ranking.of[again].parts}
    assert (parts["First time"].value, parts["Not shown lately"].value) == ("0", "50")
    assert parts["Not shown lately"].reason == "This sender was once on air in the last 10 editions."
    assert {p.name: p.value for p in ranking.of[new].parts}["Variety of places"] == "100"


def test_an_edition_does_not_count_against_itself(storage, config):
    edition = storage.add_edition(EditionPlan(1))
    picture = sent(storage, edition, "Ann", SHARP)
    rundowns.add(storage, edition.id, picture, "Ida", NOW)
    rundowns.note_aired(storage, edition.id, [rundowns.rundown(storage, edition.id).items[0].id], NOW, "Ida", NOW)
    ranking = rate(storage, config, storage.pictures(edition.id), 1, 3)
    assert {p.name: p.value for p in ranking.of[picture].parts}["First time"] == "100"


def test_detail_that_the_stated_telescope_cannot_give_is_told(storage, config):
    edition = storage.add_edition(EditionPlan(1))
    finer = replace(SHARP, resolution=Resolution(0.5, 0.05, 2.0, "texture", 0.5, 0.5))
    picture = sent(storage, edition, "Ann", finer)
    (concern,) = rate(storage, config, storage.pictures(edition.id), 1, 0).of[picture].concerns
    assert concern.startswith("Finer detail than a 152 mm aperture can give")


def test_what_is_not_known_of_a_sender_counts_for_nothing():
    sender = Submission(1, 1, NOW, Arrival("file:1", "folder", "a", ()))
    picture = SentPicture(1, sender, Enclosure("a.png", 9, "a" * 64, "image/png"))
    made = AnnotationSummary("annotated", True, "", NOW, "told", "agrees", (), "0" * 16, camera="Pixel 9")
    facts = facts_of(ListedPicture(picture, made), frozenset(), {}, {})
    assert (facts.first_time, facts.featured_lately, facts.place_lately, facts.equipment) == (None, None, None, "phone")
