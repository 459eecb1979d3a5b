"""Words that were weighed: what a voice that they never met says weighs as it should, and no yes comes of it."""

import time

import numpy as np
import pytest

from moondesk.service.lexicons.lexicon import FOLDER
from moondesk.service.programme.consent.wording import consent_in_mail
from moondesk.service.programme.letter.learnt import MEANINGS, learnt, weigh
from moondesk.service.programme.letter.reading import read_letter
from moondesk.service.programme.mail_text import parts_of
from tests.builders.build_learnt_words import _matrix, learn, sentences_of
from tests.letters.score import LANGUAGES


@pytest.fixture(scope="module")
def held_out():
    """Of Japanese and German: chances of the sentences of the half "practice" and of the lists, by weights made without them."""
    found = []
    for code in ("ja", "de"):
        said, own = sentences_of(code)
        matrix, voices = _matrix(said.features), np.array(said.voices)
        for voice in ("practice", "lists"):
            held = np.flatnonzero(voices[:own] == voice)
            made = learn(matrix, said, np.flatnonzero(voices != voice))
            sums = np.array([matrix[held] @ weights + offset for weights, offset in made]).T
            found.append((sums, np.array(said.means)[held], np.array(said.known)[held]))
    return tuple(np.concatenate(part) for part in zip(*found, strict=True))


@pytest.mark.parametrize(("meaning", "floor"), [("no", 0.85), ("withdrawal", 0.9), ("child", 0.9)])
def test_a_voice_that_was_not_met_is_ranked_by_meaning(held_out, meaning, floor):
    """How often a sentence with a meaning weighs more than one without it."""
    sums, means, known = held_out
    k = MEANINGS.index(meaning)
    have = sums[(known[:, k] > 0) & (means[:, k] > 0), k]
    lack = sums[(known[:, k] > 0) & (means[:, k] == 0), k]
    assert (have[:, None] > lack[None, :]).mean() >= floor


@pytest.mark.parametrize(
    "sentence",
    [
        "I would not be happy for you to show it on the programme.",
        "You are welcome to use it only if my neighbour agrees.",
        "Yes, sure, show it to the whole world, as if I would ever agree to that, so don't.",
        "Would you be happy to show it on the programme?",
        "Are you pleased to show my picture?",
        "Thanks!\n\n> Yes, you may show my picture on air.\n\nSee you",
        "Ihr dürft das Bild nicht in der Sendung zeigen.",
        "Wenn mein Vater zustimmt, dürfen Sie es gern zeigen.",
        "Vous ne pouvez pas montrer ma photo dans votre émission.",
        "No pueden mostrar mi foto en el programa.",
        "Não podem mostrar a minha foto no programa.",
        "Не може да показвате снимката ми в предаването.",
        "मेरी तस्वीर कार्यक्रम में मत दिखाइए।",
        "माझा फोटो कार्यक्रमात दाखवू नका.",
        "番組で写真を見せないでください。",
        "لا تعرضوا صورتي في البرنامج.",
    ],
)
def test_a_yes_that_is_negated_conditional_or_mocked_is_none(sentence):
    assert read_letter("", "", parts_of(sentence)).consent.state != "suggested"


def test_a_language_that_has_no_list_has_learnt_nothing():
    assert learnt("fi") is None
    assert consent_in_mail("Saatte mielellään näyttää kuvani ohjelmassa.").state != "suggested"


def test_words_without_letters_weigh_nothing():
    assert weigh("...", "en") == frozenset()


@pytest.mark.parametrize("code", LANGUAGES)
def test_weights_are_small_and_soon_loaded(code):
    path = FOLDER / f"{code}.learnt.npz"
    assert path.stat().st_size < 300_000
    learnt.cache_clear()
    start = time.process_time()
    held = learnt(code)
    assert time.process_time() - start < 0.25  # 5 ms where it was measured
    assert held.weights.shape[0] == len(MEANINGS) == len(held.bars)
