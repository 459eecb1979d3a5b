"""Sentences that keep their numbers."""

from __future__ import annotations

from datetime import date

import pytest

from moondesk.notes.messages import Listed, Name, Number, Term, fill, in_english, say, say_many, write_english


def test_the_parts_stay_what_they_were():
    said = say("{name}, {kind}, is {width} km wide.", name=Name("Plato"), kind=Term("crater"), width=Number(1101.26, 1))
    assert in_english(said) == "Plato, crater, is 1,101.3 km wide."
    assert said.value("width") == Number(1101.26, 1)


def test_lists_dates_and_clauses():
    inner = say("seen at {place}", place=Name("Ostrand"))
    said = say("{who}, on {day}, {how}.", who=Listed(tuple(map(Name, "ABC"))), day=date(2026, 11, 7), how=inner)
    assert in_english(said) == "A, B and C, on 7 November 2026, seen at Ostrand."


@pytest.mark.parametrize(("count", "text"), [(1, "One picture."), (0, "0 pictures."), (12, "12 pictures.")])
def test_wording_by_count(count, text):
    assert in_english(say_many("One picture.", "{count} pictures.", count)) == text


def test_a_place_that_nothing_fills_is_a_wrong_call():
    with pytest.raises(ValueError, match="width"):
        say("{width} km")


def test_another_language_orders_the_parts_its_own_way():
    said = say("{name} is {width} km wide.", name=Name("Plato"), width=Number(101, 0))
    assert fill(said, "Breite {width} km: {name}", write_english) == "Breite 101 km: Plato"
