"""Amounts as people say them ("more than half", "a third", "40 %", "all"), and how a share is judged against them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from moondesk.notes.claim_verdicts import Tolerance, Verdict

Sense = Literal["about", "more", "less", "some"]

_WORDS = {
    "half": 0.5, "third": 1 / 3, "thirds": 1 / 3, "quarter": 0.25, "quarters": 0.25, "tenth": 0.1, "fifth": 0.2,
    "all": 1.0, "fully": 1.0, "wholly": 1.0, "completely": 1.0, "entirely": 1.0, "none": 0.0, "nothing": 0.0,
}  # fmt: skip
_COUNTS = {"two": 2.0, "three": 3.0}
#: Of a feature's ground: seas have no sharp outlines. All and nothing are stricter.
GROUND, WHOLE = Tolerance(0.06, 0.12), Tolerance(0.03, 0.10)
#: Of the whole disc, whose lit part is known to a thousandth.
DISC = Tolerance(0.02, 0.06)
#: "More than": within this of the mark it is roughly so.
MARK_GROUND, MARK_DISC = Tolerance(0.03, 0.03), Tolerance(0.01, 0.01)
#: "Part of it": from here to here; beyond, up to the second pair, roughly.
PART, NEARLY_PART = (0.03, 0.97), (0.01, 0.99)


@dataclass(frozen=True)
class Amount:
    """A share from 0 to 1, and whether it is meant as about that, as more or less than it, or just as some of it."""

    value: float
    sense: Sense

    def judge(self, share: float, of_disc: bool = False) -> Verdict:
        """The verdict for a share that is measured; of_disc: of the whole Moon, whose share is exact."""
        if self.sense == "some":
            return "true" if _within(share, PART) else "roughly" if _within(share, NEARLY_PART) else "false"
        if self.sense == "about":
            return self.tolerance(of_disc).judge(share - self.value)
        over = share - self.value if self.sense == "more" else self.value - share
        return self.tolerance(of_disc).above(over)

    def tolerance(self, of_disc: bool = False) -> Tolerance:
        if self.sense != "about":
            return MARK_DISC if of_disc else MARK_GROUND
        return DISC if of_disc else WHOLE if self.value in (0.0, 1.0) else GROUND

    def other(self) -> Amount:
        """The same said of what is left: a third dark is two thirds lit."""
        senses: dict[Sense, Sense] = {"more": "less", "less": "more"}
        return Amount(1.0 - self.value, senses.get(self.sense, self.sense))


def _within(share: float, span: tuple[float, float]) -> bool:
    return span[0] <= share <= span[1]


def amount_of(words: str) -> Amount | None:
    """An amount in words; None for words that are none."""
    sense: Sense = "about"
    for start, meant in (("more than ", "more"), ("less than ", "less")):
        if words.startswith(start):
            sense, words = meant, words.removeprefix(start)  # type: ignore[assignment]
    if words in ("most", "mostly"):
        return Amount(0.5, "more")
    if words in ("part", "some", "partly", "partially"):
        return Amount(0.5, "some")
    number = re.fullmatch(r"(\d+(?:[.,]\d+)?) ?(?:%|percent)", words)
    if number:
        value = float(number.group(1).replace(",", ".")) / 100
        return Amount(value, sense) if value <= 1 else None
    parts = [w for w in words.split() if w not in ("a", "one")]
    if len(parts) == 2 and parts[0] in _COUNTS and parts[1] in _WORDS:
        value = _COUNTS[parts[0]] * _WORDS[parts[1]]
        return Amount(value, sense) if value <= 1 else None
    if len(parts) == 1 and parts[0] in _WORDS:
        return Amount(_WORDS[parts[0]], sense)
    return None
