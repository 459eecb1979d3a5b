"""The tables of the walk as sentences to be spoken, and its themes: none again while another serves, what was told comes last."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from moondesk.ideas.tonight import predict_tonight
from moondesk.notes.messages import in_english, places_of
from moondesk.notes.records import NotesNight
from moondesk.records import Place
from moondesk.script import write_tour as write_tour_module
from moondesk.script.people import century_of, person_of
from moondesk.script.records import Episode, Told
from moondesk.script.walks import LATELY, PEOPLE, choose_walk, find_walks, ground_of
from moondesk.script.wordings import _table
from moondesk.script.write_hidden import write_hidden
from tests.core.notes_truth import table
from tests.core.script_truth import tables, truth
from tests.core.tour_truth import CHECKS

MINE = ("theme", "stop", "light", "rank", "near", "person", "people", "landing", "imbrium", "nubium", "hidden")
OWN = ("about", "low", "high")


def sentences(groups):
    return [(key, s) for key, ways in _table().items() if key.partition(".")[0] in groups for w in ways for s in w.split(" | ")]  # fmt: skip


def test_sentences_are_for_speaking():
    every = sentences((*MINE, *OWN))
    assert len({s for _, s in every}) == len(every)
    for key, text in every:
        assert text[0].isupper() or text[0] in "{", (key, text)
        assert re.search(r"[.?]$", text), text
        assert "!" not in text
        assert len(text.split()) <= 36, text
        assert len(re.findall(r"{(?:km|hours|days|degrees|times|percent|other_km|year)}", text)) <= 1, text
        assert not re.search(r"\b(biggest|highest|deepest|unique|most beautiful)\b", text), text
        assert "largest" not in text or key.startswith(("rank", "hidden.largest")), text
    assert [key for key, s in sentences(OWN) if re.search(r"[{}]|\d", s.replace("Apollo 14", ""))] == []


def test_there_are_many_wordings_for_what_comes_often():
    counts = {key: len(ways) for key, ways in _table().items()}
    for key in ("stop.crater", "stop.crater_known", "stop.crater_on", "stop.known", "light.hours_up", "light.low", "light.shadow",
                "light.middling", "light.high", "light.hours_left", "light.part_rise", "person.named", "person.same",
                "near.beside", "hidden.comes", "hidden.gone", "theme.edge_rise", "theme.edge_set"):  # fmt: skip
        assert counts[key] >= 8, key
    for key in counts:
        group, _, name = key.partition(".")
        if group in OWN:
            assert name in table(), name


def test_people_belong_to_the_century_in_which_they_worked():
    told = {n: person_of(n) for n in ("Plato", "Tycho", "Kepler", "Copernicus", "Ptolemaeus", "Janssen")}
    assert {n: p.century for n, p in told.items()} == {
        "Plato": -4, "Tycho": 16, "Kepler": 17, "Copernicus": 16, "Ptolemaeus": 2, "Janssen": 19}  # fmt: skip
    assert told["Plato"].same
    assert not told["Tycho"].same
    assert century_of(told["Plato"].who) == -4
    assert person_of("Mare Imbrium") is None
    assert person_of("Gilbert") is None  # two people


def test_no_theme_comes_again_while_another_serves():
    first, history, keys = datetime(2026, 10, 14, 18, tzinfo=UTC), (), []
    for k in range(0, 22, 2):
        when = first + timedelta(days=k)
        day = timedelta(days=2)
        episode = Episode(number=k, programme="", day=when.date(), utc=when, sky=predict_tonight(when, None), history=history,
                          before=NotesNight(when.date() - day, when - day))  # fmt: skip
        ground = ground_of(episode)
        walk = choose_walk(episode, ground)
        assert walk is not None
        stops = [s.feature.lat_deg for s in walk.stops]
        assert stops == sorted(stops, reverse=True)
        assert len(stops) >= 3
        recent = {f for t in history[-LATELY:] for f in t.facts}
        assert f"walk:{walk.key}" not in recent or all(f"walk:{w.key}" in recent for w in find_walks(episode, ground))
        keys.append(walk.key)
        facts = frozenset({f"walk:{walk.key}", *(f"stop:{s.name}" for s in walk.stops)})
        history = (*history, Told(number=k, day=when.date(), utc=when, facts=facts))
    assert len(set(keys)) == len(keys)
    assert len({k.partition(" ")[0] for k in keys}) >= 7


def test_every_way_to_say_it_is_true(monkeypatch):
    """All wordings of the themes that an evening of the waxing and one of the waning Moon serve, chosen or not; of people's a third."""
    with truth() as t:
        for when in (datetime(2027, 2, 14, 18, tzinfo=UTC), datetime(2026, 11, 1, 3, tzinfo=UTC)):
            day = timedelta(days=1)
            episode = Episode(number=1, programme="", day=when.date(), utc=when, sky=predict_tonight(when, Place(42.7, 23.3)),
                              before=NotesNight(when.date() - day, when - day))  # fmt: skip
            passages = list(write_hidden(episode))
            walks = find_walks(episode, ground_of(episode))
            people = [w for w in walks if w.key.partition(" ")[0] in PEOPLE]
            for walk in [w for w in walks if w not in people[1::3] + people[2::3]]:
                monkeypatch.setattr(write_tour_module, "choose_walk", lambda *_, walk=walk: walk)
                passages += write_tour_module.write_tour(episode)
            lines = {(p.key, x.said.template): x for p in passages for way in p.ways for x in way}
            assert len(lines) > 2000
            for (key, template), line in lines.items():
                check = CHECKS.get(tables()[template])
                assert check is not None or not places_of(template), template
                assert check is None or check(t, episode, dict(line.said.values), line) == "", (key, in_english(line.said))  # fmt: skip
