"""The evening on which the disc has just passed half: what a presenter by common practice shows on it is in the script, and
what that evening's sky makes false is not. Truth by DE421, the catalogue and the namesakes' table."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from script_evenings import HOME, SENDERS, _supposed

from moondesk.ideas.tonight import predict_tonight
from moondesk.notes.messages import in_english
from moondesk.notes.records import NotesNight
from moondesk.script.compose import compose
from moondesk.script.orders import order_for
from moondesk.script.records import Cue, Episode, EpisodePicture, Script
from tests.core.notes_truth import table
from tests.core.script_truth import tables, truth
from tests.core.tour_truth import is_night, mistakes, share, sun

#: Evenings (18 UTC) of five lunations on which 52 to 65 percent are lit and the edge of the light stands 5 to 15 degrees west of the zero meridian.
EVENINGS = ((2026, 11, 17), (2026, 12, 17), (2027, 2, 14), (2027, 4, 14), (2027, 6, 12))
GREEKS = ("Aristillus", "Autolycus", "Archimedes")


def episode_of(when: datetime) -> Episode:
    name, town, place, instrument, *_ = SENDERS[0]
    picture = EpisodePicture(number=1, credit=name, about=predict_tonight(when, place), annotation=_supposed(when, place, 20, True),
                             when=when, place=place, place_name=town, instrument=instrument, simple=True)  # fmt: skip
    day = timedelta(days=1)
    return Episode(number=7, programme="The Moon Tonight", day=when.date(), utc=when, sky=predict_tonight(when, HOME), pictures=(picture,),
                   lead=1, before=NotesNight(when.date() - day, when - day), following=NotesNight(when.date() + day, when + day))  # fmt: skip


def script_of(episode: Episode, minutes: float = 10.0) -> Script:
    return compose(episode, order_for(episode), 60 * minutes, 130.0, in_english)


@pytest.fixture(scope="module")
def evenings() -> list[tuple[Episode, Script]]:
    episodes = [episode_of(datetime(*day, 18, tzinfo=UTC)) for day in EVENINGS]
    return [(e, script_of(e)) for e in episodes]


def said(script: Script) -> dict[str, list[str]]:
    """Sentences by the table that they come from."""
    found: dict[str, list[str]] = {}
    for line in script.lines:
        found.setdefault(tables().get(line.said.template, ""), []).append(in_english(line.said))
    return found


def test_what_the_trade_shows_is_said_and_true(evenings):
    with truth() as t:
        for e, script in evenings:
            told, when = said(script), e.about.when
            every = " ".join(in_english(line.said) for line in script.lines)
            assert -15 <= t.edge(when, None) <= -5
            assert mistakes(t, e, script) == []
            # the shape; the edge near the zero meridian, the equator across it, the small crater that fixes it
            if t.lit(when, None) > 52:
                assert "waxing gibbous" in every.casefold(), e.day
            assert {"directions.edge_rise", "directions.equator"} <= told.keys()
            assert all("zero meridian" in s for s in told["theme.middle"])
            assert "Mösting A" in every or sun(t, "Mösting A", when) < 1.6, e.day
            # the Sea of Rains with the ranges round it
            before, now = (share(t, "Mare Imbrium", w) for w in (e.before.utc, when))
            assert ("imbrium.new" in told) == (before <= 0.12) or 0.08 < before < 0.16
            assert "imbrium.more" in told or "imbrium.new" in told or now - before < 0.25
            ranges = " ".join(told["imbrium.ranges"])
            assert all(name in ranges for name in ("the Alps", "the Caucasus", "the Apennines"))
            # three Greeks from north to south
            greeks = " ".join(told["people.old_nation"])
            assert sorted(GREEKS, key=greeks.index) == list(GREEKS)
            assert "Greek" in greeks
            # the Sea of Clouds
            if share(t, "Mare Nubium", e.before.utc) < 0.08 and share(t, "Mare Nubium", when) > 0.12:
                assert any("newly seen" in s.casefold() or "new" in s.casefold() for s in told["nubium.new"])
            # the two craters next in size to the largest, with their sizes; that one is dark
            if min(share(t, n, when) for n in ("Clavius", "Deslandres")) > 0.25:
                giants = " ".join(told["rank.pair"])
                assert all(w in giants for w in ("Clavius", "231", "Deslandres", "227", "second", "third"))
            assert is_night(t, "Bailly", when)
            assert any("still in the dark" in s or "still night" in s for s in told["hidden.largest"])
            # Tycho and its rays
            rays = [s for k in ("dark", "edge", "low", "soon") for s in told.get(f"hidden.rays_{k}", ())]
            assert any("Tycho" in s for s in rays), e.day
            assert any("ray" in s for s in rays)
            # a simple instrument
            assert "pictures.simple" in told


def test_what_is_shown_is_pointed_at(evenings):
    for _, script in evenings:
        lit = {line.cue.feature for line in script.lines if isinstance(line.cue, Cue) and line.cue.show == "light"}
        assert {"Mösting A", "Mare Imbrium", "Clavius"} <= lit or "rank.pair" not in said(script)
        assert all(name in table() for name in lit)


def test_five_minutes_keep_it(evenings):
    for e, _ in evenings[::3]:
        told = said(script_of(e, 5.0))
        assert {"imbrium.ranges", "people.old_nation", "hidden.largest"} <= told.keys()


def test_other_evenings_do_not_borrow_it():
    """A day before the half, four days after it, the mirrored evening of the waning Moon, and one without an evening before."""
    for when in ((2026, 11, 15), (2026, 11, 21), (2026, 12, 2)):
        told = said(script_of(episode_of(datetime(*when, 18, tzinfo=UTC))))
        assert not {"imbrium.new", "imbrium.more", "nubium.new", "rank.pair", "theme.middle"} & told.keys()
    alone = replace(episode_of(datetime(2026, 11, 17, 18, tzinfo=UTC)), before=None)
    told = said(script_of(alone))
    assert not {"imbrium.new", "imbrium.more", "nubium.new", "stop.new"} & told.keys()
    assert "imbrium.plain" in told
