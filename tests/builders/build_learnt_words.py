"""Weigh words by the letters of `tests/letters/corpus` that may be looked at: what `letter.learnt` reads with.

    python -m tests.builders.build_learnt_words

Writes `service/lexicons/data/CODE.learnt.npz` of each language. Of the lists of sentences in `tests/letters` each is one
voice, and of the corpus each file; the bars are set by sentences of a voice that the weights were made without, of all
languages together. Halves that are only measured, and "eighth", are never opened here. Of a whole mail nobody says which
sentence means what: where it means something, the likeliest one is taken for it, where not, none of them does.
"""

from __future__ import annotations

import importlib
import sys
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import scipy.sparse

from moondesk.service.lexicons.lexicon import FOLDER, lexicon
from moondesk.service.programme.letter.learnt import BUCKETS, MEANINGS, buckets_of
from moondesk.service.programme.mail_text import sentences
from tests.builders.logistic import fit
from tests.letters.score import CORPUS, LANGUAGES, MEASURED_ONLY, cases

HALVES = ("open", "practice", "further", "fifth", "sixth", "seventh", "ninth")
#: Names of the lists in test_words_CODE.py, and what their sentences mean.
LISTS = {
    "no": ("NO", "REFUSED", "REFUSALS"),
    "withdrawal": ("BACK", "TAKEN_BACK", "WITHDRAWALS"),
    "child": ("CHILD", "CHILDREN"),
    "yes": ("YES", "AGREED"),
    "open": ("OPEN",),
    "": ("NOTHING", "NEUTRAL", "PLAIN"),
}
#: What is not known of the sentences of such a list.
UNTOLD = {"no": "withdrawal", "withdrawal": "no", "child": "no", "yes": "child", "open": "child"}
#: How much weights are held down; of the sentences without a meaning, the share that may be past its
#: bar: of these the rules doubt few.
RIDGE = 0.01
ALARMS = {"no": 0.02, "withdrawal": 0.006, "child": 0.012}
#: Languages so near that one learns of the other's sentences too (Daumé, "Frustratingly easy domain adaptation", 2007).
SISTERS = {"es": "pt", "pt": "es", "hi": "mr", "mr": "hi"}
#: A feature of fewer sentences is left out.
RARE = 2


@dataclass
class Sentences:
    """What to learn of: features, of each meaning whether it has it, whether that is known, its voice, and of which mail
    that means something it is one of the sentences (-1: none)."""

    features: list[Any] = field(default_factory=list)
    means: list[list[float]] = field(default_factory=list)
    known: list[list[float]] = field(default_factory=list)
    voices: list[str] = field(default_factory=list)
    mails: list[int] = field(default_factory=list)

    def add(self, code: str, text: str, means: list[float], known: list[float], voice: str, mail: int = -1) -> None:
        found = buckets_of(text, lexicon(code))
        if len(found):
            self.features.append(found)
            self.means.append(means)
            self.known.append(known)
            self.voices.append(voice)
            self.mails.append(mail)


def sentences_of(code: str) -> tuple[Sentences, int]:
    """What a language learns of, and how many of the sentences are its own: the first."""
    found = Sentences()
    _add_all(code, found)
    own = len(found.voices)
    if code in SISTERS:
        _add_all(SISTERS[code], found)
    return found, own


def _add_all(code: str, found: Sentences) -> None:
    mails = max(found.mails, default=0)
    for half in HALVES:
        assert half not in MEASURED_ONLY
        if not (CORPUS / f"{code}.{half}.jsonl").exists():
            continue
        for case in cases(half, code):
            truth = case.truth
            means = [float(truth.get("consent") == "no"), *(float(bool(truth.get(m))) for m in ("withdrawal", "child"))]
            known = [1.0] * len(MEANINGS)
            if truth.get("withdrawal") and truth.get("consent") != "no":
                known[MEANINGS.index("no")] = 0.0
            if not case.is_mail:
                found.add(code, case.text, means, known, half)
                continue
            mails += 1
            for sentence in sentences(case.body.words("own")):
                found.add(
                    code, sentence, means, [-1.0 if m else k for m, k in zip(means, known, strict=True)], half, mails
                )
    module = importlib.import_module(f"tests.letters.test_words_{code}")
    for meaning, names in LISTS.items():
        for name in names:
            said = getattr(module, name, ())
            for text in said.strip().splitlines() if isinstance(said, str) else said:
                if isinstance(text, str) and text.strip():
                    means = [float(m == meaning) for m in MEANINGS]
                    known = [0.0 if m in UNTOLD.get(meaning, "").split() else 1.0 for m in MEANINGS]
                    found.add(code, text.strip(), means, known, "lists")


def _matrix(features: list[Any]) -> scipy.sparse.csr_matrix:
    rows = np.cumsum([0] + [len(f) for f in features])
    values = np.concatenate([np.full(len(f), len(f) ** -0.5) for f in features])
    return scipy.sparse.csr_matrix((values, np.concatenate(features), rows), shape=(len(features), BUCKETS))


def learn(matrix: Any, found: Sentences, rows: Any) -> list[tuple[Any, float]]:
    """Of each meaning weights and offset, by some of the sentences; those of mails in a second pass."""
    means, known, mails = np.array(found.means)[rows], np.array(found.known)[rows], np.array(found.mails)[rows]
    some = matrix[rows]
    learnt = []
    for k in range(len(MEANINGS)):
        sure = known[:, k] > 0
        weights, offset = fit(some[sure], means[sure, k], np.ones(sure.sum()), ridge=RIDGE, rare=RARE)
        unsure = np.flatnonzero(known[:, k] < 0)
        if len(unsure):
            sums = some[unsure] @ weights
            best = [unsure[mails[unsure] == m][np.argmax(sums[mails[unsure] == m])] for m in np.unique(mails[unsure])]
            sure[best] = True
            weights, offset = fit(some[sure], means[sure, k], np.ones(sure.sum()), ridge=RIDGE, rare=RARE)
        learnt.append((weights, offset))
    return learnt


def past(chances: Any, means: Any, meaning: str) -> float:
    """The lowest bar that keeps what is asked of a meaning."""
    order = np.argsort(-chances, kind="stable")
    right = np.cumsum(means[order])
    count = np.arange(1, len(order) + 1)
    kept = (count - right) <= ALARMS[meaning] * (len(means) - means.sum())
    last = int(np.flatnonzero(kept)[-1])
    bar = float(chances[order[last]])
    print(
        f"{meaning:10} bar {bar:.3f}: {right[last] / means.sum():.0%} of {means.sum():.0f}, wrong {count[last] - right[last]:.0f}"
    )
    return bar


def main() -> None:
    chances: list[Any] = []
    means: list[Any] = []
    known: list[Any] = []
    made = {}
    for code in LANGUAGES:
        found, own = sentences_of(code)
        matrix = _matrix(found.features)
        voices = np.array(found.voices)
        apart = np.zeros((len(voices), len(MEANINGS)))
        for voice in sorted(set(voices)):
            held = voices == voice
            for k, (weights, offset) in enumerate(learn(matrix, found, np.flatnonzero(~held))):
                apart[held, k] = 1 / (1 + np.exp(-(matrix[held] @ weights + offset)))
        made[code] = learn(matrix, found, np.arange(len(voices)))
        chances.append(apart[:own])
        means.append(np.array(found.means)[:own])
        known.append(np.array(found.known)[:own])
        print(code, len(voices), flush=True)
    all_chances, all_means, all_known = np.concatenate(chances), np.concatenate(means), np.concatenate(known)
    sure = all_known > 0
    bars = [past(all_chances[sure[:, k], k], all_means[sure[:, k], k], meaning) for k, meaning in enumerate(MEANINGS)]
    for code, learnt in made.items():
        weights = np.array([w for w, _ in learnt])
        steps = np.abs(weights).max(axis=1) / 127
        np.savez_compressed(
            FOLDER / f"{code}.learnt.npz",
            weights=np.round(weights / steps[:, None]).astype(np.int8),
            steps=steps.astype(np.float32),
            offsets=np.array([o for _, o in learnt], dtype=np.float32),
            bars=np.array(bars, dtype=np.float32),
        )


if __name__ == "__main__":
    sys.exit(main())
