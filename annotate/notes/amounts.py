"""Shares as people say them ("more than half", "a third", "40 %", "all"), and how one is judged against what is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from moondesk.notes.claim_verdicts import Tolerance, Verdict

Sense = Literal["about", "more", "less", "some"]

#: Of a feature's ground: seas have no sharp outlines. All and nothing are stricter.
GROUND, WHOLE = Tolerance(0.08, 0.14), Tolerance(0.03, 0.10)
#: Of the whole disc, whose lit part is known to a thousandth.
DISC = Tolerance(0.02, 0.06)
#: "More than": within this of the mark it is roughly so.
MARK_GROUND, MARK_DISC = Tolerance(0.03, 0.03), Tolerance(0.01, 0.01)
#: "Part of it": from here to here; beyond, up to the second pair, roughly.
PART, NEARLY_PART = (0.03, 0.97), (0.01, 0.99)


@dataclass(frozen=True)
class Share:
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

    def other(self) -> Share:
        """The same said of what is left: a third dark is two thirds lit."""
        senses: dict[Sense, Sense] = {"more": "less", "less": "more"}
        return Share(1.0 - self.value, senses.get(self.sense, self.sense))


def _within(share: float, span: tuple[float, float]) -> bool:
    return span[0] <= share <= span[1]
