"""Weighed signs: a number is told by the steps that it reaches, and what is learnt of places tells them as it should."""

import numpy as np
import pytest

from moondesk.service.programme.letter.place_words import candidates, read_places
from moondesk.service.programme.letter.weighing import BUCKETS, Weights, buckets_of, steps_of, weights_of
from tests.letters.score import cases, judge, read
from tests.letters.test_place_words import WRITTEN


def test_a_number_reaches_its_steps_and_those_below() -> None:
    assert steps_of("n", 1.2, 0.0, 3.0, 0.5) == ["n>0", "n>0.5", "n>1"]
    assert steps_of("n", 9.0, 0.0, 1.0, 0.5) == ["n>0", "n>0.5", "n>1"]
    assert steps_of("n", -0.1, 0.0, 1.0, 0.5) == ["n<0"]


def test_signs_count_once_and_in_any_order() -> None:
    weights = np.zeros(BUCKETS, dtype=np.int8)
    weights[buckets_of(["a"])] = 10
    learnt = Weights(weights, 0.1, 0.0, 0.5)
    assert learnt.chance([]) == 0.5
    assert learnt.chance(["a", "b"]) == learnt.chance(["b", "a", "a"]) == pytest.approx(1 / (1 + np.exp(-1)))


def test_what_is_less_likely_than_the_bar_is_no_place() -> None:
    bar = weights_of("place").bar
    assert 0.5 <= bar < 1.0
    for words in ("I took it in Springfield.", "My brother in Boston sent me his telescope.", "in Leeds"):
        sure = [c for c in candidates(words, ("en",), WRITTEN) if weights_of("place").chance(c.signs) >= bar]
        assert bool(sure) == bool(read_places(words, ("en",), WRITTEN))
    assert candidates("", ("en",), WRITTEN) == []


def test_a_place_of_voices_that_no_word_was_written_for() -> None:
    """Measured of all ten languages: 95 of a hundred that are told are right, and 90 of a hundred are found."""
    counts = [judge(c, read(c))["place"] for code in ("bg", "fr", "ar") for c in cases("apart", code)]
    right, wrong, missed = (sum(getattr(c, name) for c in counts) for name in ("right", "wrong", "missed"))
    assert right >= 0.85 * (right + wrong)
    assert right >= 0.80 * (right + missed)
