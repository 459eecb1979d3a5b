"""Scripts of some evenings of a lunation: their length, what is told twice, what is called new, and every number anew.

All thirty evenings, with rendered pictures: `python -m tests.benchmarks.scripts`.
"""

from __future__ import annotations

from collections import Counter

import pytest

from moondesk.notes.messages import in_english, places_of, say
from moondesk.script.compose import compose
from moondesk.script.marks import read_text, sentences_of, write_script
from moondesk.script.orders import KINDS, orders
from moondesk.script.records import Cue, Episode, Line, OrderTemplate, Passage, Script
from moondesk.script.wordings import sentences
from tests.core.script_evenings import RATE, month
from tests.core.script_truth import mistakes, tables, told_twice_as_new, truth, worst_shared

#: A crescent, the evening past the half, the full Moon, one of the morning, one without a Moon: five minutes each.
DAYS, MINUTES = (4, 8, 9, 15, 24, 28), 5.0


@pytest.fixture(scope="module")
def evenings() -> list[tuple[Episode, Script]]:
    return list(month(days=DAYS, minutes=MINUTES))


def test_lengths_keep_within_a_tenth(evenings):
    for episode, script in evenings:
        assert 0.9 <= script.words / (RATE * MINUTES) <= 1.1, episode.day
        spoken = write_script(script, in_english)
        assert sum(len(s.split()) for s in sentences_of(spoken)) == pytest.approx(script.words, abs=12)


def test_every_number_is_found_again(evenings):
    with truth() as sky:
        assert [m for episode, script in evenings for m in mistakes(sky, episode, script)] == []


def test_nothing_is_told_as_new_twice_and_few_sentences_come_again(evenings):
    assert told_twice_as_new(evenings) == []
    assert worst_shared([script for _, script in evenings])[0] <= 0.1
    for _, script in evenings:
        spoken = sentences_of(write_script(script, in_english))
        assert [s for s, n in Counter(spoken).items() if n > 1] == []


def test_marks_are_read_back_and_name_pictures_that_there_are(evenings):
    for episode, script in evenings:
        cues = [c for c in read_text(write_script(script, in_english)) if isinstance(c, Cue)]
        assert cues == [line.cue for line in script.lines if line.cue is not None]
        assert {c.picture for c in cues} <= {0, *(p.number for p in episode.pictures)}
        assert bool(cues) == bool(episode.pictures)


def test_the_same_evening_gives_the_same_script(evenings):
    again = next(month(days=DAYS[:1], minutes=MINUTES))
    assert again[1] == evenings[0][1]


def test_wordings_are_told_apart_and_for_speaking():
    forms = [s for one in sentences() for s in ((one,) if isinstance(one, str) else one)]
    assert len(tables()) == len(sentences())
    for text in forms:
        assert places_of(text) is not None
        assert "!" not in text
        assert text[-1] in ".?}:;" or text.endswith("story}"), text
        assert len(text.split()) <= 45, text


def test_running_orders_cover_each_age_of_the_moon():
    for k in range(0, 305):
        assert sum(o.days[0] <= k / 10 < o.days[1] for o in orders()) == 1, k / 10
    for order in orders():
        assert sum(order.shares.values()) == pytest.approx(1.0, abs=0.011), order.name
        assert list(order.shares) == sorted(order.shares, key=KINDS.index) or order.name.startswith("no Moon")


# --- the rules of putting together, on passages of the test's own ----------------------------------------------------


def _passage(key: str, *ways: str, **more) -> Passage:
    facts = more.pop("facts", ())
    return Passage(key=key, ways=tuple((Line(said=say(w), facts=facts),) for w in ways), **more)


def _script(evenings, history=(), words: float = 30.0, **passages) -> Script:
    from dataclasses import replace

    episode = replace(evenings[0][0], history=history)
    order = OrderTemplate(name="test", days=(0.0, 30.0), shares=dict.fromkeys(passages, 1.0 / len(passages)))
    return compose(episode, order, 60.0 * words / RATE, RATE, in_english, passages)


def test_what_must_be_said_stays_and_worth_decides_about_the_rest(evenings):
    must = _passage("a", "One two three four five six seven eight nine ten.", must=True)
    dear = _passage("b", "This is worth a great deal to all of us here.", worth=0.9)
    cheap = _passage("c", "This is worth very little to anybody of us here.", worth=0.1)
    script = _script(evenings, words=21, opening=[must, cheap, dear])
    assert [in_english(line.said)[:8] for line in script.lines] == ["One two ", "This is "]
    assert script.left == ("c",)
    assert "great deal" in in_english(script.lines[1].said)


def test_a_passage_waits_for_the_one_that_it_needs(evenings):
    first = _passage("a", "Here is the crater that I mean to show you now.", worth=0.2)
    then = _passage("b", "It is quite wide.", worth=0.9, after="a")
    assert list(_script(evenings, words=14, opening=[first, then]).left) == []
    assert set(_script(evenings, words=6, opening=[first, then]).left) == {"a", "b"}


def test_the_history_chooses_the_words_and_what_comes_last(evenings):
    from moondesk.script.history import told_of

    one, other = "Good evening to all of you out there.", "Welcome to everybody who looks up tonight."
    greeting = _passage("a", one, other, must=True)
    news = _passage("b", "Tycho has come into the light since last time.", facts=("new:Tycho",), worth=0.9)
    size = _passage("c", "Clavius is wider than any of you would believe.", facts=("size:Clavius",), worth=0.5)
    plain = _passage("d", "The seas are dark and the highlands are bright.", facts=("seas:",), worth=0.4)
    passages = {"opening": [greeting, news, size, plain]}
    first = _script(evenings, words=25, **passages)
    told = told_of(evenings[0][0], first, in_english)
    assert {"new:Tycho", "size:Clavius"} <= told.facts
    second = _script(evenings, (told,), words=17, **passages)
    said = {in_english(line.said) for line in second.lines}
    assert not said & {one, other} & told.sentences
    assert "Tycho" not in str(said)
    assert any("seas" in s for s in said)
