"""What an episode's text says and shows: each sentence against the truth, each mark against the plan, nobody named who may
not be. The Moon of 19 October 2026, 19:00 UTC: 61 % lit, Tycho 85 km (NASA's Moon phase page; the IAU's gazetteer)."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from moondesk.notes.messages import in_english
from moondesk.notes.sky_picture import sky_picture
from moondesk.script.marks import read_text
from moondesk.script.records import Cue
from moondesk.service.programme.air_plan import AirItem, AirPlan, PlannedLayer, PlannedView
from moondesk.service.programme.air_steps import Stand as Shown
from moondesk.service.programme.air_steps import Step, on_air
from moondesk.service.programme.episode_check import Ground, Stand, check_text, stands_before
from moondesk.service.programme.episode_steps import steps_of, wanted_frames, with_views
from moondesk.service.programme.spoken_text import Withheld, may_be_spoken, measured_rate
from moondesk.service.store.episode_items import EpisodeItem, KeptEpisode, Source, words_of_names
from moondesk.tour.views import View, ViewKind

WHEN = datetime(2026, 10, 19, 19, tzinfo=UTC)
SKY = Ground(number=0, annotation=sky_picture(WHEN, None), when=WHEN, basis="sky")


def told(text, *sources, ground=SKY, before=Stand()):  # noqa: B008  frozen
    return check_text(text, sources, lambda _: ground, before).sentences


@pytest.mark.parametrize(
    ("sentence", "state"),
    [
        ("Good evening.", "own"),
        ("Send us two pictures tomorrow.", "own"),
        ("Tycho is eighty-five kilometres from rim to rim.", "true"),
        ("Tycho is 120 kilometres wide.", "false"),
        ("Tycho is 95 kilometres wide.", "doubtful"),
        ("The Moon is a waxing gibbous.", "true"),
        ("The Moon is a waning crescent.", "false"),
        ("It weighs 5 kilometres of cheese.", "doubtful"),
        ("North is up.", "doubtful"),  # no picture stands
    ],
)
def test_a_sentence_that_nobody_composed_is_read_as_a_claim(sentence, state):
    (found,) = told(sentence)
    assert found.state == state


def test_there_and_it_mean_what_was_spoken_of_last():
    found = told("[light: Tycho] Look. The Sun rose there fourteen hours ago. It is 120 km across. And Plato is dark.")
    assert [s.state for s in found] == ["own", "true", "false", "false"]
    assert "85 km" in in_english(found[2].said)
    assert found[1].read_as == "The Sun rose over Tycho fourteen hours ago."


def test_a_composed_sentence_is_known_by_its_words_while_nothing_has_changed_under_it():
    source = Source(sentence="Tycho is as wide as a county.", facts=("size:Tycho",), basis="sky")
    (found,) = told("Tycho is as wide\nas a county.", source)
    assert (found.state, found.facts) == ("computed", ("size:Tycho",))
    (changed,) = told("Tycho is as wide as a county.", source, ground=replace(SKY, basis="x"))
    assert changed.state == "doubtful"
    unplaced = Ground(number=3, annotation=None, when=None, basis="y")
    on_it = check_text("Tycho is 85 km wide. Tycho is lit.", (), lambda n: unplaced if n else SKY, Stand(picture=3))
    assert [s.state for s in on_it.sentences] == ["true", "doubtful"]
    (typed,) = told("Tycho is as wide as a country.", source)
    assert typed.state == "own"


def test_a_claim_is_checked_against_the_picture_that_stands_where_it_is_spoken():
    asked = []
    text = "Plato is lit. [picture 2: as sent] Plato is lit. [nothing] Plato is lit."

    def ground(number):
        asked.append(number)
        return SKY

    check_text(text, (), ground, Stand(picture=1))
    assert list(dict.fromkeys(asked)) == [1, 2, 0]
    items = [
        EpisodeItem(id=k, position=k, kind="tour", title="", text=t)
        for k, t in ((1, "[picture 3: named] A."), (2, "B."))
    ]
    assert stands_before(items, 2).picture == 3


# --- marks ------------------------------------------------------------------------------------------------------------


def layer(name, kind="feature", base=False):
    return PlannedLayer(name=name, title=name, kind=kind, base=base, url=f"7/{name}/m")


PICTURE, CREDIT = layer("picture", "picture", True), layer("credit", "credit")
NAMED = (
    PICTURE,
    layer("directions", "directions"),
    CREDIT,
    layer("Tycho"),
    layer("Plato"),
    layer("Plato", "spotlight"),
)
ITEM = AirItem(
    id=7, place=1, sender="Ilse", credit="Ilse", pronunciation="", note="", story="", seconds=60, layers=(PICTURE, CREDIT),
    stops=(), notes=(),
    views=(
        PlannedView(title="As it was sent", layers=(PICTURE, CREDIT), kind="as_sent"),
        PlannedView(title="Named", layers=NAMED),
        PlannedView(title="Close: Tycho", layers=(PICTURE, layer("Tycho")), kind="close_up", feature="Tycho"),
    ),
)  # fmt: skip
PLAN = AirPlan(edition=12, programme="", items=(ITEM,), left_out=(), spare=None)


def shown(text, numbers=None):
    cues = [part for part in read_text(text) if isinstance(part, Cue)]
    found = steps_of(PLAN, numbers or {1: 7, 2: None}, cues, lambda name: (name,))
    told = []
    for one in found:
        air = None if one.stand is None or one.why is not None else on_air(PLAN, one.stand)
        if air is None:
            told.append(one.why.reason)
        else:
            told.append("|".join([str(air.view), *(x.name + "!" * (x.kind == "spotlight") for x in air.layers)]))
    return told


def test_each_mark_is_a_step_of_the_plan():
    text = "[picture 1: as sent] a [credit] b [name: Plato] c [name: Tycho] d [light: Plato] e [close: Tycho] f [lines]"
    assert shown(text) == [
        "1|picture",
        "1|picture|credit",
        "2|picture|Plato",
        "2|picture|Tycho|Plato",
        "2|picture|credit|Plato|Plato!",
        "3|picture|Tycho",
        "2|picture|directions",
    ]


def test_a_mark_that_the_frames_cannot_show_says_so_and_leaves_what_stands():
    assert shown("[light: Plato] a [picture 2: named] b [picture 9: named]") == [
        "No picture stands here.",
        "There is no picture 2 in the rundown.",
        "There is no picture 9 in the rundown.",
    ]
    cues = [Cue(show="as sent", picture=1), Cue(show="light", feature="Clavius"), Cue(show="nothing")]
    first, second, third = steps_of(PLAN, {1: 7}, cues, lambda name: (name,))
    assert second.stand == first.stand == Shown(step=Step(item=7, view=1))
    assert "no light for Clavius" in second.why.reason
    assert "script's names" in second.why.advice
    assert third.stand.blank
    wanted = wanted_frames({1: 7}, cues)[7]
    assert (wanted.features, [v.kind for v in wanted.views]) == (("Clavius",), ["as_sent"])
    tour = with_views((View(kind=ViewKind.CLOSE_UP, feature="Tycho"),), wanted.views)
    assert [view.kind for view in tour] == ["as_sent", "named", "close_up"]


# --- who may not be named, and how fast it is spoken ------------------------------------------------------------------


def test_nothing_that_is_spoken_names_one_who_may_not_be_named():
    item = EpisodeItem(
        id=1, position=1, kind="pictures", title="Ilse's Moon",
        text="[picture 1: as sent] This is by Ilse Brandt.\n\nThank you, Ilse. Tycho is lit. Bo saw it too.",
    )  # fmt: skip
    kept = KeptEpisode(edition_id=1, items=(item,))
    whole = frozenset({"Ilse Brandt"})
    (found,) = may_be_spoken(kept, Withheld(whole, words_of_names(whole)))
    assert (found.title, found.text) == ("", "[picture 1: as sent]\n\nTycho is lit. Bo saw it too.")


def test_the_rate_is_that_of_speech_without_its_pauses():
    stretches = [(26, 12.0), (13, 6.0), (26, 12.5), (13, 60.0), (1, 0.1)]
    assert measured_rate(stretches) == 128
    assert measured_rate(stretches[:1]) is None
    assert measured_rate([(200, 2.0)]) is None
