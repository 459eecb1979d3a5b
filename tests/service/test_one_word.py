"""One picture, one word: notes, reply, frame, page and exports say the same share and the same day, or none.

Of each kind one picture, rendered and placed from its bytes: a clock that agrees, a date that was told, no date at all.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from moondesk import Known, annotate_picture
from moondesk.ephemeris.aspect import aspect_at
from moondesk.exports.json_line import json_line
from moondesk.notes.messages import Number, in_english
from moondesk.notes.picture_notes import notes_of
from moondesk.records import Place
from moondesk.service.exports.open_data import _row
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.certainty_words import certainty
from moondesk.service.programme.evenings import days_old, load_calendar, older_words
from moondesk.service.programme.frame_request import lines_of
from moondesk.service.replies.draft import Circumstances, draft_of
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.records import AnnotationSummary, Arrival, Enclosure, ListedPicture, SentPicture, Submission
from moondesk.service.web.desk.picture.facts import moon_facts, time_facts
from moondesk.service.web.desk.picture.nights import nights_of
from tests.scenes import FileTags, SceneSpec, render

WHEN = datetime(2027, 3, 14, 19, 20, tzinfo=UTC)
HOME = Place(45.0, 12.0)
CONFIG = Config(data_dir=Path("/nowhere"), programme=Programme("The Evening Sky", "Europe/Vienna"))
CALENDAR = load_calendar(CONFIG)
BARE = FileTags(time=False, offset=False, place=False, make=None, model=None)
CLOCKED = replace(BARE, time=True, offset=True)
SPEC = SceneSpec(WHEN, HOME, x=318.4, y=245.7, radius_px=181.3, north_screen_deg=67.0, width=640, height=480, seed=3,
                 tags=BARE)  # fmt: skip


def placed(kind):
    tags = CLOCKED if kind == "clock" else BARE
    data = render(replace(SPEC, tags=tags)).data
    known = {
        "clock": Known(received_utc=WHEN + timedelta(hours=3), place=HOME),
        "told": Known(taken_utc=WHEN, place=HOME),
        "unknown": Known(now_utc=WHEN + timedelta(days=900)),
    }[kind]
    return annotate_picture(data, known)


def listed_of(a, received=None):
    enclosure = Enclosure(given_name="moon.jpg", size_bytes=9, sha256="0" * 64, media_type="image/jpeg")
    came = Arrival(
        key="file:1",
        source="mail",
        origin="moon.jpg",
        enclosures=(enclosure,),
        received_utc=received,
        sender_name="Ilse Kern",
        sender_address="ilse@viewers.example",
    )
    summary = AnnotationSummary(
        status=a.status,
        sure=a.sure,
        reason=a.reason,
        taken_utc=a.time.utc if a.time else None,
        time_source=a.time.source if a.time else "",
        clock_verdict=a.clock.verdict,
        best_seen=(),
        derived_key="0" * 16,
        evening=a.dated.verdict,
    )
    return ListedPicture(SentPicture(1, Submission(1, 1, WHEN, came), enclosure), summary)


@pytest.fixture(scope="module", params=["clock", "told", "unknown"])
def one(request):
    return request.param, placed(request.param)


def share_in(text):
    return {int(word.split()[-1]) for word in text.split(" %")[:-1] if word.split()[-1].isdigit()}


def test_every_place_says_the_same_share_of_light(one):
    kind, a = one
    assert a.sure
    listed = listed_of(a)
    notes = notes_of(a, a.time.utc if a.time else None)
    noted = next(n.said.value("percent") for n in notes.notes if "disc is lit" in n.said.template)
    assert isinstance(noted, Number)
    said = {round(noted.value)}
    said |= share_in(draft_of("The Evening Sky", listed.picture, a, Circumstances(), Language()).body)
    said |= share_in(next(f.value for f in moon_facts(a) if f.label == "Lit part"))
    said.add(round(100 * json_line("a.jpg", "", a)["terminator"]["illuminated_fraction"]))
    said.add(round(100 * _row(listed, a, CALENDAR, 1, ()).illuminated_fraction))
    assert len(said) == 1, (kind, said)
    truth = 100 * aspect_at(WHEN, HOME).illuminated_fraction
    assert next(iter(said)) == pytest.approx(truth, abs=1.0 if kind != "unknown" else 3.0)


def test_every_place_says_the_same_day_or_none(one):
    kind, a = one
    listed = listed_of(a)
    row = _row(listed, a, CALENDAR, 1, ())
    lines = lines_of(a, listed.picture.submission.arrival.equipment, CALENDAR)
    frame = " ".join(line if isinstance(line, str) else in_english(line) for line in lines)
    page = {f.label: f for f in time_facts(a, listed.picture.submission.arrival, CALENDAR)}
    evening = next(s for s in certainty(a, "Ada", "Europe/Vienna") if s.about == "Evening")
    if kind == "unknown":
        assert (row.evening, row.day_number, row.taken_utc) == (None, None, None)
        assert (frame, page["Taken"].value, evening.tone) == ("", "Not known", "open")
        assert a.clock.picture_utc is None  # no hours from a search that had no date to begin with
        assert "±" not in f"{frame}{evening.words}{page['Clock'].value}{page['Clock'].note}"
        reply = draft_of("The Evening Sky", listed.picture, a, Circumstances(), Language()).body
        assert not any(str(year) in reply for year in range(1990, 2030))
        return
    assert row.evening == "2027-03-14"
    assert page["Evening"].value == "14 March 2027"
    assert "14 March 2027" in frame
    assert f"Day {row.day_number} of the lunation" in frame
    assert page["Evening"].note == f"day {row.day_number} of the lunation"
    assert evening.tone == ("sure" if kind == "clock" else "unsure")
    assert evening.words.startswith("Told by Ada") is (kind == "told")


def test_an_undated_picture_with_sure_names_is_offered_its_nights(one):
    kind, a = one
    nights = nights_of(a, "Europe/Vienna", CALENDAR, False)
    assert (nights is not None) is (kind == "unknown")
    if nights is not None:
        assert any(f"Evening of {e.utc.day}" in n.words for e, n in zip(a.evenings, nights.choices, strict=False))
        assert all(0 < int(n.sigma_minutes) <= 180 for n in nights.choices)
        picked = a.evenings[0]
        named = annotate_picture(render(SPEC).data, Known(taken_utc=picked.utc, taken_sigma_minutes=150.0))
        assert named.dated.verdict == "told"
        assert named.time.sigma_minutes == 150.0  # a night that was named is not known to the minute


def test_an_old_picture_is_told_at_the_card_and_a_fresh_one_is_not(one):
    kind, a = one
    fresh, old = listed_of(a, WHEN + timedelta(days=2)), listed_of(a, WHEN + timedelta(days=6 * 365.25 + 3))
    if kind == "unknown":
        assert days_old(listed_of(a)) is None
        assert "fit none of the days before it came" in older_words(old)
        return
    assert days_old(fresh) == pytest.approx(2.0, abs=0.01)
    assert older_words(fresh) == ""
    assert older_words(old) == "An older picture: taken 6 years before it came."
