"""Weigh what stands around names in the letters of `tests/letters/corpus` that may be looked at: for `letter.learnt_names`.

    python -m tests.builders.build_learnt_names

Writes `service/lexicons/data/names.npz`. Halves that are only measured are never opened. What is set by the figures of
letters left out: each file is left out once, with files of other languages and other hands. First names and family names
are those of the lists of the library Faker (MIT), kept as numbers of words.
"""

from __future__ import annotations

import importlib
import random
import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any
from zlib import crc32

import numpy as np
import scipy.optimize
import scipy.sparse

from moondesk.service.lexicons.folding import fold
from moondesk.service.lexicons.lexicon import FOLDER
from moondesk.service.programme.letter.learnt_names import RULES_WORTH, WEIGHTS
from moondesk.service.programme.letter.name_signs import TELLING, Signs, key_of, rule_signs, signs_of, span_signs
from moondesk.service.programme.letter.names import rule_of
from moondesk.service.programme.letter.sign_table import BUCKETS
from tests.builders.build_learnt_words import HALVES
from tests.letters import test_names, test_other_voices
from tests.letters.score import LANGUAGES, MEASURED_ONLY, _fold, cases

LOCALES = (
    "ar_AA ar_AE ar_DZ ar_EG ar_JO ar_PS ar_SA bg_BG de_AT de_CH de_DE en_AU en_CA en_GB en_IE en_IN en_NG en_NZ en_US es_AR es_CL"
    " es_CO es_ES es_MX fr_BE fr_CA fr_CH fr_FR hi_IN ja_JP mr_IN ne_NP pt_BR pt_PT ru_RU it_IT nl_NL pl_PL tr_TR"
)
FOLDS = 7
RIDGE = 0.3
#: A sign of fewer letters is left out.
RARE = 2
COPIES = 2


@dataclass
class Letter:
    code: str
    half: str
    text: str
    sender: str
    name: str
    unnamed: bool
    fold: int


def listed_names() -> frozenset[str]:
    """First names ("f ann") and family names ("l lee") of many countries, folded."""
    found: set[str] = set()
    for locale in LOCALES.split():
        try:
            provider = importlib.import_module(f"faker.providers.person.{locale}").Provider
        except ImportError:
            continue
        for key in dir(provider):
            if "name" not in key or "format" in key:
                continue
            said = getattr(provider, key)
            if isinstance(said, (tuple, list, dict)):
                for one in said:
                    for word in one if isinstance(one, tuple) else (one,):
                        if isinstance(word, str):
                            kind = "l" if "last" in key else "f"
                            found |= {f"{kind} {fold(piece).text}" for piece in word.split() if "{" not in piece}
    return frozenset(w for w in found if len(w) > 3 or w[2:] > "\u3000")


def letters() -> list[Letter]:
    found = []
    for place, code in enumerate(LANGUAGES):
        for number, half in enumerate(HALVES):
            assert half not in MEASURED_ONLY
            for case in cases(half, code):
                truth = case.truth
                text = f"{case.subject}\n\n{case.body.words('own')}"
                found.append(
                    Letter(
                        code,
                        half,
                        text,
                        case.sender,
                        truth.get("name", ""),
                        bool(truth.get("unnamed")),
                        (number + place) % FOLDS,
                    )
                )
    for line in test_names.SENTENCES.strip().splitlines():
        said, _, name = line.rpartition("|")
        text = "\n\n" + said.strip().replace("\\n", "\n")
        found.append(Letter("", "lists", text, "", name.strip(), False, len(found) % FOLDS))
    for line in test_other_voices.SENTENCES.strip().splitlines():
        means, _, said = line.partition("|")
        means = means.strip()
        if means.startswith("=") or means == "unnamed":
            name = means.removeprefix("=") if means != "unnamed" else ""
            found.append(Letter("", "lists", f"\n\n{said.strip()}", "", name, not name, len(found) % FOLDS))
    return found


PARTS = (
    "rule",
    "begin",
    "end",
    "inside",
    "told",
    "hidden",
    "span",
    "begin_listed",
    "end_listed",
    "told_listed",
    "hidden_listed",
)
#: How often a name of letters left out must be right where one is told; a wish to stay unnamed, which alarms more than harms.
RIGHT = {"named": 0.96, "unnamed": 0.9}


def exchanged(given: list[Letter]) -> list[Letter]:
    """Copies of the letters with another's name of the same language: that it is this name tells nothing."""
    chosen = random.Random(1)
    names = {one.code: [o.name for o in given if o.code == one.code and o.name] for one in given}
    found = []
    for one in given:
        for _ in range(COPIES if one.name and one.name in one.text else 0):
            other = chosen.choice(names[one.code])
            found.append(
                replace(
                    one,
                    text=one.text.replace(one.name, other),
                    sender=one.sender.replace(one.name, other),
                    name=other,
                    half="exchanged",
                )
            )
    return found


class Counted:
    """All letters as one: matrices of signs, stretches, and whose each is."""

    def __init__(self, given: list[Letter], listed: frozenset[str]) -> None:
        self.letters = given
        self.signs: list[Signs] = []
        rows: dict[str, list[list[int]]] = {k: [] for k in PARTS}
        spans: list[Any] = []
        self.span_letter: list[int] = []
        self.hidden_letter: list[int] = []
        right: list[bool] = []
        #: Half of the letters are learnt of without the listed ways, which were written with all of them in sight: a
        #: stranger's words are on no list.
        self.keeps: dict[str, list[float]] = {part: [] for part in PARTS[:6]}
        sizes = dict.fromkeys(rows, 0)
        for number, letter in enumerate(given):
            one = signs_of(letter.text, letter.sender, listed.__contains__)
            self.signs.append(one)
            found = one.spans()
            firsts, lasts = found[:, 0], found[:, 1]
            begin_token = np.array([b[0] for b in one.begin], dtype=np.int64)
            end_token = np.array([e[0] for e in one.end], dtype=np.int64)
            sentence = np.array(one.sentence, dtype=np.int64)
            if len(found):
                spans.append(
                    np.stack(
                        [
                            firsts + sizes["begin"],
                            lasts + sizes["end"],
                            begin_token[firsts] + sizes["inside"],
                            end_token[lasts] + sizes["inside"] + 1,
                            sentence[begin_token[firsts]] + sizes["told"],
                        ]
                    )
                )
                wanted = _fold(letter.name)
                right += [bool(wanted) and _fold(one.name(r)) == wanted for r in found.tolist()]
                self.span_letter += [number] * len(found)
                rows["span"] += span_signs(one, found, letter.sender)
                ruled, rank = rule_of(letter.text)
                rows["rule"] += rule_signs(one, found, ruled.name, rank)
                self.keeps["rule"] += [float(crc32(letter.text.encode()) % 3 == 0)] * len(found)
            rows["begin"] += [b[2] for b in one.begin]
            rows["end"] += [e[2] for e in one.end]
            rows["inside"] += one.inside
            rows["told"] += one.told
            rows["hidden"] += one.hidden
            for part in PARTS[-4:]:
                rows[part] += getattr(one, part)
            listed_known = crc32(letter.text.encode()) % 2 == 0
            for part, whole in zip(
                ("begin", "end", "told", "hidden"), (one.begin, one.end, one.told, one.hidden), strict=True
            ):
                self.keeps[part] += [float(listed_known)] * len(whole)
            self.hidden_letter += [number] * len(one.hidden)
            sizes = {k: len(v) for k, v in rows.items()}
        self.spans = np.concatenate(spans, axis=1)
        self.right = np.array(right)
        self.of_span = np.array(self.span_letter)
        self.of_hidden = np.array(self.hidden_letter)
        made = {k: _matrix(v, scaled=k in ("told", "hidden")) for k, v in rows.items()}
        self.plain = {k: made[k] for k in PARTS[:7]}
        self.whole, self.matrices = dict(self.plain), dict(self.plain)
        self.matrices["rule"] = (scipy.sparse.diags(self.keeps["rule"]) @ made["rule"]).tocsr()
        self.whole["rule"] = (RULES_WORTH * made["rule"]).tocsr()
        self.plain["rule"] = (0 * made["rule"]).tocsr()
        for part in ("begin", "end", "told", "hidden"):
            listed_rows = made[f"{part}_listed"]
            self.whole[part] = (made[part] + listed_rows).tocsr()
            self.matrices[part] = (made[part] + scipy.sparse.diags(self.keeps[part]) @ listed_rows).tocsr()

    def sums(self, w: Any, bias: Any, matrices: Any = None) -> tuple[Any, Any]:
        """Of each stretch and of each sentence what speaks for it."""
        m, s = matrices or self.matrices, self.spans
        within = np.concatenate([[0.0], np.cumsum(m["inside"] @ w)])
        spans = (m["begin"] @ w)[s[0]] + (m["end"] @ w)[s[1]] + within[s[3]] - within[s[2]]
        spans += (m["told"] @ w)[s[4]] + m["span"] @ w + m["rule"] @ w + bias[0]
        return spans, m["hidden"] @ w + bias[1]

    def chances(self, w: Any, bias: Any, matrices: Any) -> tuple[Any, Any]:
        spans, hidden = self.sums(w, bias, matrices)
        total = self._total(spans, hidden)
        return np.exp(spans - total[self.of_span]), np.exp(hidden - total[self.of_hidden])

    def _total(self, spans: Any, hidden: Any) -> Any:
        """The logarithm of the sum over all that a letter may say, nothing among it."""
        count = len(self.letters)
        top = np.zeros(count)
        np.maximum.at(top, self.of_span, spans)
        np.maximum.at(top, self.of_hidden, hidden)
        total = np.exp(-top)
        total += np.bincount(self.of_span, np.exp(spans - top[self.of_span]), count)
        total += np.bincount(self.of_hidden, np.exp(hidden - top[self.of_hidden]), count)
        return np.log(total) + top

    def fit(self, used: Any) -> tuple[Any, Any]:
        """Weights by regularised maximum likelihood of the letters used."""
        m, s = self.matrices, self.spans
        count = len(self.letters)
        turned = {k: v.T.tocsr() for k, v in m.items()}
        found = np.bincount(self.of_span, self.right, count) > 0
        hide = np.array([one.unnamed for one in self.letters])
        named = np.array([bool(one.name) for one in self.letters])
        weight = (np.asarray(used) & ~(named & ~found)).astype(float)

        common = sum(np.asarray(v.getnnz(axis=0)) for v in m.values()) >= RARE

        def loss(v: Any) -> tuple[float, Any]:
            w, bias = v[:-2], v[-2:]
            spans, hidden = self.sums(w, bias)
            total = self._total(spans, hidden)
            p, q = np.exp(spans - total[self.of_span]), np.exp(hidden - total[self.of_hidden])
            p_right = np.bincount(self.of_span, p * self.right, count)
            q_right = np.bincount(self.of_hidden, q, count)
            none = np.exp(-total)
            wanted = np.where(found, p_right, np.where(hide, q_right, none)) + 1e-300
            value = -(weight * np.log(wanted)).sum() + RIDGE / 2 * (w @ w)
            # of what is right its share of it is taken off
            share_p = p * self.right / (p_right + 1e-300)[self.of_span] * found[self.of_span]
            share_q = q / (q_right + 1e-300)[self.of_hidden] * (hide & ~found)[self.of_hidden]
            gp = (p - share_p) * weight[self.of_span]
            gq = (q - share_q) * weight[self.of_hidden]
            slope = turned["begin"] @ np.bincount(s[0], gp, m["begin"].shape[0])
            slope += turned["end"] @ np.bincount(s[1], gp, m["end"].shape[0])
            steps = np.bincount(s[2], gp, m["inside"].shape[0] + 1) - np.bincount(s[3], gp, m["inside"].shape[0] + 1)
            slope += turned["inside"] @ np.cumsum(steps)[:-1]
            slope += turned["told"] @ np.bincount(s[4], gp, m["told"].shape[0])
            slope += turned["span"] @ gp + turned["rule"] @ gp
            slope += turned["hidden"] @ gq
            return float(value), np.concatenate([(slope + RIDGE * w) * common, [gp.sum(), gq.sum()]])

        best = scipy.optimize.minimize(
            loss, np.zeros(BUCKETS + 2), jac=True, method="L-BFGS-B", options={"maxiter": 120, "maxcor": 8}
        )
        return best.x[:-2], best.x[-2:]

    def best(self, chances: Any, number: int) -> tuple[str, float]:
        """Of a letter the likeliest name, all its places together, and how likely."""
        found: dict[str, float] = {}
        first, last = np.searchsorted(self.of_span, [number, number + 1])
        begun, ended = self._bases[number]
        for k in np.flatnonzero(chances[first:last] > 1e-3) + first:
            row = (int(self.spans[0, k]) - begun, int(self.spans[1, k]) - ended)
            key = key_of(self.signs[number].name(row))
            found[key] = found.get(key, 0.0) + float(chances[k])
        return max(found.items(), key=lambda one: one[1], default=("", 0.0))

    @cached_property
    def _bases(self) -> list[tuple[int, int]]:
        """Of each letter its first rows of ways to begin and to end."""
        begun = np.cumsum([0] + [len(one.begin) for one in self.signs])
        ended = np.cumsum([0] + [len(one.end) for one in self.signs])
        return list(zip(begun.tolist(), ended.tolist(), strict=True))


def _matrix(rows: list[list[int]], scaled: bool) -> scipy.sparse.csr_matrix:
    starts = np.cumsum([0] + [len(r) for r in rows])
    where = np.concatenate([np.array(r, dtype=np.int32) for r in rows])
    values = np.concatenate([np.full(len(r), TELLING * len(r) ** -0.5 if scaled and r else 1.0) for r in rows])
    return scipy.sparse.csr_matrix((values, where, starts), shape=(len(rows), BUCKETS))


def lowest(chances: Any, right: Any, wanted: float, of: int, name: str) -> float:
    """The lowest bar past which the share wanted is right."""
    order = np.argsort(-chances, kind="stable")
    shares = np.cumsum(right[order]) / np.arange(1, len(order) + 1)
    enough = np.flatnonzero(shares >= wanted)
    last = int(enough[-1]) if len(enough) else 0
    bar = float(chances[order[last]])
    print(f"{name}: bar {bar:.3f}, {shares[last]:.1%} right, {shares[last] * (last + 1) / of:.0%} of {of}")
    return bar


def save(path: Path, made: Any, listed: Iterable[str], bars: dict[str, float]) -> None:
    """Write weights in steps of a 127th of the largest one."""
    step = float(np.abs(made).max()) / 127
    values = np.round(made / step).astype(np.int8)
    used = np.flatnonzero(values).astype(np.int32)
    numbers = np.unique(np.array([crc32(word.encode()) for word in listed], dtype=np.uint32))
    np.savez_compressed(
        path,
        used=used,
        values=values[used],
        step=np.float32(step),
        listed=numbers,
        bar_names=np.array(list(bars)),
        bars=np.array(list(bars.values()), dtype=np.float32),
    )


def main() -> None:
    listed = listed_names()
    given = letters()
    given += exchanged(given)
    counted = Counted(given, listed)
    folds = np.array([one.fold for one in given])
    told = [("", 0.0)] * len(given)
    hidden = np.zeros(len(given))
    for number in range(FOLDS):
        w, bias = counted.fit(folds != number)
        spans, asks = counted.chances(w, bias, counted.whole)
        sums = np.bincount(counted.of_hidden, asks, len(given))
        for k in np.flatnonzero(folds == number).tolist():
            told[k], hidden[k] = counted.best(spans, k), sums[k]
        print(f"left out: {number}", flush=True)
    told_of = np.array([one.half != "exchanged" for one in given])
    right = np.array([bool(one.name) and key_of(one.name) == name for one, (name, _) in zip(given, told, strict=True)])
    unnamed = np.array([one.unnamed for one in given])
    chances = np.array([chance for _, chance in told])
    names = sum(bool(one.name) for one in given if one.half != "exchanged")
    for half in (*HALVES, "lists"):
        of = np.array([one.half == half for one in given])
        if of.any():
            lowest(
                chances[of], right[of], RIGHT["named"], sum(bool(one.name) for one in given if one.half == half), half
            )
    bars = {
        "named": lowest(chances[told_of], right[told_of], RIGHT["named"], names, "named"),
        "unnamed": lowest(hidden[told_of], unnamed[told_of], RIGHT["unnamed"], int(unnamed.sum()), "unnamed"),
    }
    w, bias = counted.fit(np.ones(len(given), dtype=bool))
    save(FOLDER / WEIGHTS, w, listed, {"named offset": float(bias[0]), "unnamed offset": float(bias[1])} | bars)
    print(f"{len(given)} letters, {(FOLDER / WEIGHTS).stat().st_size} bytes")


if __name__ == "__main__":
    sys.exit(main())
