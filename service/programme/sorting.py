"""Which of three groups a picture belongs to, and why it needs a look. Pure.

ready: sure, credited, agreed to, nothing asked. look: a person must see to something first. cannot: no picture of the
Moon that could be shown. waiting: not placed yet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from moondesk.records import ClockVerdict
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.permission import Reason, permission_of
from moondesk.service.store.records import ListedPicture

Group = Literal["ready", "look", "cannot", "waiting"]
GROUPS: tuple[tuple[Group, str], ...] = (
    ("ready", "Ready"),
    ("look", "Needs a look"),
    ("waiting", "Waiting to be placed"),
    ("cannot", "Cannot be used"),
)

CLOCK = "The time given with it disagrees with the Moon in it: say no time on air before you have looked."
CONCERNS: Mapping[Reason, str] = {
    "none": "No consent recorded.",
    "suggested": "Consent in the mail, not confirmed.",
    "unclear": "Unclear: read the letter first.",
    "refused": "Consent refused: it cannot go on air.",
    "asked": "Asked for consent; no answer yet.",
    "minor": "A child seems to have taken it: a guardian must agree.",
    "letter": "Held: a letter from its sender waits to be read.",
    "twin": "What seems to be the same picture was refused by who sent it: look whose it is.",
    "unusable": "It cannot be read.",
}


@dataclass(frozen=True)
class SortedPicture:
    """A picture with its group. concerns: sentences, the gravest first; empty where it is ready."""

    listed: ListedPicture
    group: Group
    concerns: tuple[str, ...] = ()


@lru_cache(maxsize=4096)
def sort_picture(listed: ListedPicture, entry_terms: str = "", further: tuple[str, ...] = ()) -> SortedPicture:
    """entry_terms: see `permission.standing_consent`. further: concerns that somebody else knows of (the rating's)."""
    enclosure, summary = listed.picture.enclosure, listed.summary
    if enclosure.refused:
        return SortedPicture(listed, "cannot", (enclosure.refused,))
    if summary is None:
        return SortedPicture(listed, "waiting")
    if not summary.status.facts.usable:
        return SortedPicture(listed, "cannot", (summary.reason,))
    concerns = [*_of_placing(listed), *_of_sender(listed, entry_terms), *further, *listed.asked]
    return SortedPicture(listed, "look" if concerns else "ready", tuple(concerns))


def _of_placing(listed: ListedPicture) -> list[str]:
    summary = listed.summary
    assert summary is not None
    if summary.status.facts.is_named and summary.sure:
        return [CLOCK] if summary.clock_verdict == ClockVerdict.DISAGREES else []
    if summary.status.facts.is_named:
        return [f"The placing is not certain. {summary.reason}".strip()]
    return [summary.reason or "No names can be given for it."]


def _of_sender(listed: ListedPicture, entry_terms: str) -> list[str]:
    credit = credit_of(listed.picture.submission.arrival)
    may = permission_of(listed, entry_terms)
    found = [CONCERNS[reason] for reason in may.reasons]
    if may.consent.minor and not may.consent.guardian and may.consent.state != "refused" and "minor" not in may.reasons:
        found.append(CONCERNS["minor"])
    if not credit.name and not credit.unnamed:
        found.append(credit.doubt or "Nobody to credit is known.")
    return found
