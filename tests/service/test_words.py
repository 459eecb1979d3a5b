"""Words for the presenter: true, short, in the programme's zone."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from fakes import annotation, bare

from moondesk.records import Evening, Place, Status
from moondesk.service.cli.console import line_of
from moondesk.service.programme.words import (
    best_seen,
    evenings_words,
    hour_words,
    join_names,
    light_words,
    place_words,
    sigma_words,
    status_words,
    time_words,
)


@pytest.mark.parametrize(
    ("when", "zone", "words"),
    [
        (datetime(2026, 3, 25, 19, 4, tzinfo=UTC), "Europe/Vienna", "25 March 2026, 20:04 (19:04 UTC)"),
        (datetime(2026, 6, 25, 23, 4, tzinfo=UTC), "Europe/Vienna", "26 June 2026, 01:04 (23:04 UTC on 25 June)"),
        (datetime(2026, 1, 5, 19, 4, tzinfo=UTC), "Europe/Lisbon", "5 January 2026, 19:04 UTC"),
        (datetime(2026, 1, 5, 19, 4, tzinfo=UTC), "Asia/Kathmandu", "6 January 2026, 00:49 (19:04 UTC on 5 January)"),
    ],
)
def test_times(when, zone, words):
    assert time_words(when, zone) == words
    assert words.endswith(f" {hour_words(when, zone)}")


@pytest.mark.parametrize(
    ("minutes", "words"), [(1, "to the minute"), (45, "± 45 min"), (180, "± 3.0 h"), (4320, "± 3.0 days")]
)
def test_how_well_a_time_is_known(minutes, words):
    assert sigma_words(minutes) == words


def test_evenings_that_fit_a_picture_without_a_date():
    evenings = tuple(Evening(datetime(year, 3, 9, 23, 30, tzinfo=UTC), 1.0, 2.0, 1 / 3) for year in (2020, 2012, 1998))
    assert evenings_words(evenings, "UTC", 2) == "9 March 2020, 9 March 2012 and 1 more"
    assert evenings_words(evenings[:2], "Europe/Vienna", 2) == "10 March 2020, 10 March 2012 and others"
    assert evenings_words((), "UTC", 2) == ""
    dated = replace(annotation(), time=None, evenings=evenings)
    assert "evening unknown; fits 9 March 2020, 9 March 2012 and 1 more" in line_of("a.jpg", dated, "UTC")


def test_status_names_its_confidence():
    assert status_words(Status.ANNOTATED, True) == "Names: sure"
    assert status_words(Status.ANNOTATED, False) == "Names: not sure"
    assert status_words(Status.NOT_MOON, False) == "Not the Moon"


def test_best_seen_is_lit_seen_named_and_in_the_frame():
    placed = annotation()
    assert [m.feature.name for m in best_seen(placed, 9)] == ["Copernicus", "Mare Imbrium"]
    assert best_seen(bare("disc_only"), 9) == ()
    marks = placed.features
    lettered = replace(marks[0], feature=replace(marks[0].feature, name="Copernicus B", parent="Copernicus"))
    outside = replace(marks[0], x=80.0)
    assert best_seen(replace(placed, features=(lettered, outside)), 9) == ()


def test_what_this_light_singles_out_leads_before_the_seas():
    """The seas outdo all else on most evenings; the first three names are still two with a form, then a sea."""
    placed = annotation()
    crater, sea = placed.features[:2]

    def mark(like, name, kind, prominence, seen=0.9):
        return replace(like, feature=replace(like.feature, name=name, kind=kind), prominence=prominence, seen=seen)

    marks = (
        mark(sea, "Sea one", "sea", 0.9),
        mark(sea, "Sea two", "ocean", 0.8),
        mark(sea, "Bay", "bay", 0.7),
        mark(crater, "Crater", "crater", 0.5),
        mark(crater, "Range", "mountain range", 0.6),
        mark(crater, "Small", "crater", 0.2),
        mark(crater, "Lost", "crater", 1.0, seen=0.3),
    )

    def names(features, count):
        return [m.feature.name for m in best_seen(replace(placed, features=features), count)]

    assert names(marks, 3) == ["Range", "Crater", "Sea one"]
    assert names(marks, 9) == ["Range", "Crater", "Sea one", "Sea two", "Bay", "Small"]
    assert names(marks, 1) == ["Range"]
    assert names(marks[:3], 3) == ["Sea one", "Sea two", "Bay"]
    assert names(marks[3:], 3) == ["Range", "Crater", "Small"]
    high, low = (replace(m, sun_altitude_deg=h) for m, h in zip(marks[:2], (50.0, 5.0), strict=True))
    assert names((high, low), 2) == ["Sea two", "Sea one"]  # nearer to the terminator
    assert names((high, replace(low, prominence=0.4)), 2) == ["Sea one", "Sea two"]  # but no rival


def test_light():
    copernicus, imbrium, grimaldi = annotation().features
    assert light_words(copernicus) == "Sun 12° high"
    assert light_words(imbrium) == "its centre in the dark, about half of it lit"
    assert light_words(grimaldi) == "in the dark"
    assert light_words(replace(copernicus, sun_altitude_deg=1.0, lit_fraction=0.76)) == (
        "Sun just up, about three quarters of it lit"
    )
    assert light_words(replace(imbrium, lit_fraction=0.1)) == "its centre in the dark, about a tenth of it lit"


def test_lists_and_places():
    assert [join_names(x) for x in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == ["", "a", "a and b", "a, b and c"]
    assert place_words(Place(-33.857, 18.424)) == "33.86° S, 18.42° E"
