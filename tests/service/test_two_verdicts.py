"""Names and evening, two verdicts at the desk: the card, the page, the rundown and the program's list say both."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import fakes
import pytest

from moondesk.checks.verdict import FRAMED
from moondesk.quality.measurement import Quality, TerminatorMeasure
from moondesk.quality.resolution import Resolution
from moondesk.records import Clock, ClockVerdict, Evening, EveningKnowledge, EveningVerdict, TimeCandidate
from moondesk.sentences import SENTENCES, sentences_of
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.hand_corrections import knowledge_of
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.air_plan import MAKING, AirItem, PlannedLayer, plan_of
from moondesk.service.programme.ranking import rate
from moondesk.service.programme.words import light_words
from moondesk.service.replies.advice import advice_for
from moondesk.service.replies.draft import Circumstances, draft_of
from moondesk.service.replies.voices import salutation
from moondesk.service.store.aired import appearances
from moondesk.service.store.annotations import add_annotation, read_annotation
from moondesk.service.store.measured import quality_text
from moondesk.service.store.pictures import list_by_id, list_pictures
from moondesk.service.web.api.shapes import picture_row
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.comparing.compare_page import gap_in_words

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
EVENINGS = tuple(Evening(datetime(year, 3, 9, 22, 0, tzinfo=UTC), 0.4, 2.5, 0.3) for year in (2020, 2012))
GOOD = Quality(
    km_per_px=3.0,
    resolution=Resolution(km=12.0, ln_sigma=0.1, px=4.0, source="limb", focus_km=12.0, blur_km=12.0, halo=0.02),
    burnt_share=0.0,
    level=0.7,
    noise=0.01,
    signal_to_noise=300.0,
    framed_share=1.0,
    disc_share=1.0,
    terminator=TerminatorMeasure(0.6, ("Copernicus", "Tycho"), 40),
    distance_km=384_400.0,
    sharpened=0.02,
)
REASON = "Nobody has said when it was taken, and nothing in the file does."


@pytest.fixture
def desk(folder, storage, media, config):
    """A client, and the id of a placed picture whose names are sure and whose evening is unknown."""
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    ids = {p.picture.enclosure.given_name: p.picture.id for p in list_pictures(storage, edition.id)}
    stored = read_annotation(storage, ids["a.png"])
    undated = replace(
        stored.annotation,
        time=None,
        evenings=EVENINGS,
        clock=Clock(ClockVerdict.NO_CLOCK, None, None),
        dated=EveningKnowledge(EveningVerdict.UNKNOWN, REASON, "Ask the sender when it was taken."),
    )
    add_annotation(storage, replace(stored, annotation=undated), [])
    app = create_app(config, now=lambda: NOW)
    app.extensions["moondesk.workshop"] = WarmPool(fakes.load, 60, InProcess())
    return app.test_client(), ids["a.png"]


def card(page, picture_id):
    return re.search(rf'<li class="card[^>]*data-picture="{picture_id}".*?</li>', page, re.S).group(0)


def listed_of(storage, picture_id):
    return list_by_id(storage, [picture_id])[0]


def test_an_undated_picture_has_sure_names_and_an_unknown_evening_everywhere(desk, storage):
    client, picture_id = desk
    for page in (card(client.get("/").text, picture_id), client.get(f"/pictures/{picture_id}").text):
        assert "Names: sure" in page
        assert "Evening: unknown" in page
        assert 'class="mark sure"' in page
        assert "Names: not sure" not in page
        assert "Evening: sure" not in page
    row = picture_row(listed_of(storage, picture_id), 1)
    assert (row["sure"], row["evening"], row["taken_utc"]) == (True, "unknown", None)


def test_it_was_this_night_is_told_by_whoever_presses_it(desk, storage):
    client, picture_id = desk
    page = client.get(f"/pictures/{picture_id}").text
    assert "Evening of 9 March 2020" in page
    form = re.search(r"<li><form[^>]*>(?:(?!</form>).)*9 March 2020.*?</form>", page, re.S).group(0)
    sent = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form))
    assert client.post(f"/pictures/{picture_id}/corrections", data=sent).status_code == 303
    arrival = listed_of(storage, picture_id).picture.submission.arrival
    assert arrival.taken_utc == EVENINGS[0].utc
    assert knowledge_of(arrival, "a.png", (), NOW).taken_sigma_minutes == 150.0  # a night, not a minute
    told = client.get(f"/pictures/{picture_id}").text
    assert f"Evening: told by {arrival.taken_by}" in told
    assert arrival.taken_by
    assert "Evening: sure" not in told
    assert "It was that night" in told  # among what people decided


def test_the_question_to_the_sender_is_drafted(desk):
    client, picture_id = desk
    page = client.get(f"/pictures/{picture_id}").text
    assert f'href="/pictures/{picture_id}/reply?ask=evening"' in page
    asked = client.get(f"/pictures/{picture_id}/reply?ask=evening").text
    assert "on which evening the picture was taken" in asked
    assert "this date, among others: 9 March 2020." in asked  # 2012 fits too, and is too long ago to ask of
    assert "on which evening" not in client.get(f"/pictures/{picture_id}/reply").text


def test_an_old_picture_says_so_on_its_card_and_scores_less(desk, storage, config):
    client, picture_id = desk
    stored = read_annotation(storage, picture_id)
    came = listed_of(storage, picture_id).picture.submission.arrival.received_utc
    scores = []
    for days in (1, 2200):
        time = TimeCandidate(came - timedelta(days=days), 2.0, "exif+offset")
        dated = replace(
            stored.annotation,
            time=time,
            evenings=(),
            clock=Clock(ClockVerdict.AGREES, time.utc, 1.0),
            dated=EveningKnowledge(EveningVerdict.SURE),
        )
        add_annotation(storage, replace(stored, annotation=dated, quality=quality_text(GOOD)), [])
        page = card(client.get("/").text, picture_id)
        assert ("An older picture: taken 6 years before it came." in page) is (days > 100)
        rated = rate([listed_of(storage, picture_id)], appearances(storage, before=None), config.weights).of[picture_id]
        scores.append(rated.total)
        part = next(p for p in rated.parts if p.name == "Of these days")
        assert part.reason == f"Taken {'6 years' if days > 100 else 'within the days'} before it came."
    assert scores[0] > scores[1] + 5


def test_a_picture_of_unknown_evening_is_not_scored_as_fresh(desk, storage, config):
    """It is of none of the days before it came: light and libration were looked for in them."""
    _, picture_id = desk
    stored = read_annotation(storage, picture_id)
    add_annotation(storage, replace(stored, quality=quality_text(GOOD)), [])
    rated = rate([listed_of(storage, picture_id)], appearances(storage, before=None), config.weights).of[picture_id]
    assert next(p for p in rated.parts if p.name == "Of these days").value == "0"


# --- sentences that were false ---------------------------------------------------------------------------------------


def drafted(picture, a, **more):
    return draft_of(
        "The Evening Sky", picture, a, Circumstances(more.get("quality"), more.get("equipment")), Language()
    )


def test_nearly_all_is_not_about_nearly_all():
    mark = fakes.annotation().features[0]
    assert light_words(replace(mark, lit_fraction=0.96)) == "Sun 12\u00b0 high, nearly all of it lit"
    assert light_words(replace(mark, lit_fraction=0.5)) == "Sun 12\u00b0 high, about half of it lit"


@pytest.mark.parametrize(
    "reason",
    [
        "Only 5 places in the picture agree with the Moon's surface; that does not settle where it lies.",
        SENTENCES["burnt_out"],
        FRAMED.reason,
    ],
)
def test_a_reply_has_no_machine_words_and_does_not_say_that_it_cannot_be_shown(desk, storage, reason):
    picture = listed_of(storage, desk[1]).picture
    body = drafted(picture, replace(fakes.bare("unplaced", reason), advices=sentences_of("Pin two features."))).body
    assert "cannot show" not in body
    assert "places" not in body
    assert "a.png" not in body  # no file's name
    assert reason not in body
    for sentence in re.findall(r"[^.!?:\n]+: ([A-Z]\w+)", body):
        pytest.fail(f"a capital in mid-sentence: {sentence}")


def test_an_unknown_date_is_no_doubt_about_how_it_lies(desk, storage):
    stored = read_annotation(storage, desk[1])
    body = drafted(listed_of(storage, desk[1]).picture, stored.annotation).body
    assert "certain" not in body
    assert "Copernicus" in body


@pytest.mark.parametrize(
    ("credit", "sender", "place", "name"),
    [
        ("Ann Berg, Ruse", "", "Ruse", "Ann Berg"),
        ("Ann Berg, Ruse", "Ann Berg", "", "Ann Berg"),
        ("Ann Berg (Ruse)", "", "", "Ann Berg"),
        ("Ann Berg from Ruse", "", "", "Ann Berg"),
        ("Ann and Bo", "Bo", "", "Bo"),
        ("Ann and Bo", "", "", "Ann and Bo"),
        ("", "Ann", "", "Ann"),
        ("", "", "", ""),
    ],
)
def test_a_sender_is_not_greeted_as_a_town(credit, sender, place, name):
    assert salutation(credit, sender, place) == name


def test_a_reply_gives_one_tip_and_none_to_a_close_up():
    poor = replace(GOOD, burnt_share=0.4, level=0.2, signal_to_noise=5.0, framed_share=0.9)
    assert [m.template for m in advice_for(fakes.annotation(), poor, "phone")] == [
        "A good part of the bright side has turned pure white in the picture.",
        "Next time, touch the Moon on the phone's screen and slide the brightness down a little.",
    ]
    big = replace(
        fakes.annotation(),
        width=900,
        height=700,
        pose=replace(fakes.annotation().pose, x=450.0, y=350.0, radius_px=320.0),
    )
    fine = replace(GOOD, framed_share=0.11)
    assert advice_for(big, fine, "small telescope") == ()
    assert advice_for(big, replace(fine, framed_share=0.9), "small telescope") == ()
    assert "whole edge" in advice_for(big, replace(fine, framed_share=0.9), "phone")[0].template


def test_a_frame_that_is_being_made_is_no_reason_not_to_be_on_air():
    def item(n, layers=(), stops=()):
        return AirItem(
            id=n,
            place=n,
            sender=f"Sender {n}",
            credit="",
            pronunciation="",
            note="",
            seconds=40,
            layers=layers,
            stops=stops,
            notes=(),
            story="",
        )

    ready = (PlannedLayer(name="photo", title="Photo", kind="photo", base=True, url="x"),)
    plan = plan_of(1, "The Evening Sky", (item(1, ready), item(2, (), (MAKING,)), item(3, (), ("No consent.",))), None)
    assert (plan.making, plan.left_out) == (("Sender 2",), (("Sender 3", "No consent."),))
    assert plan.as_json()["making"] == ("Sender 2",)


@pytest.mark.parametrize(("days", "words"), [(2244, "6 years 1 month"), (120, "3 months"), (2.5, "2 days 12 hours")])
def test_years_between_two_pictures_are_said_in_years(days, words):
    assert gap_in_words(timedelta(days=days)) == words


def test_a_button_is_no_statement():
    from importlib.resources import files

    text = (files("moondesk.service.web") / "templates" / "rundown.html").read_text(encoding="utf-8")
    assert "were on air ({{" not in text
