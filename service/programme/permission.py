"""May a picture go on air: the one place where it is decided. Pure.

Every page, file and answer that shows a picture, or says whether it may be shown, asks here. What is known of it stands
in its record as the store gives it: what was told and noted, how its mail's words were read, which letters hold it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from moondesk.service.programme.consent.wording import Consent
from moondesk.service.programme.suggestions import standing
from moondesk.service.settings.config import Config
from moondesk.service.store.records import Arrival, ListedPicture

#: The states of a consent that is not given; then "minor": a child took it and no guardian has agreed; "letter": one
#: from its sender waits to be read; "unusable": it is no picture that can be opened.
Reason = Literal["none", "suggested", "unclear", "asked", "refused", "minor", "letter", "unusable"]

WORDS: Mapping[Reason, str] = {
    "none": "nobody has said that it may be shown.",
    "suggested": "the mail seems to allow it, but nobody has read and confirmed that.",
    "unclear": "it is unclear whether its sender agrees: read the letter first.",
    "asked": "the sender was asked and has not answered yet.",
    "refused": "the sender does not want it shown.",
    "minor": "a child seems to have taken it, and no guardian has agreed.",
    "letter": "a letter from its sender waits to be read.",
    "unusable": "it cannot be read.",
}
STOP = "Cannot go on air:"


@dataclass(frozen=True)
class Permission:
    """consent: the one that counts. reasons: why it may not go on air, empty where it may. held_by: ids of letters that
    nobody has read; unusable: why it cannot be opened."""

    consent: Consent
    reasons: tuple[Reason, ...] = ()
    held_by: tuple[int, ...] = ()
    unusable: str = ""

    @property
    def given(self) -> bool:
        return not self.reasons

    @property
    def stops(self) -> tuple[str, ...]:
        """The reasons as sentences."""
        return tuple(f"{STOP} {WORDS[r]}{f' {self.unusable}' if r == 'unusable' else ''}".strip() for r in self.reasons)


def permission(
    arrival: Arrival, picture_id: int | None = None, entry_terms: str = "", unusable: str = ""
) -> Permission:
    """For one of an arrival's pictures; picture_id None: by what was said of all of it. entry_terms: see `standing`."""
    consent = standing(arrival, arrival.consents, picture_id, entry_terms)
    reasons: list[Reason] = []
    if consent.state != "given":
        reasons.append(consent.state)
    elif not consent.agreed:
        reasons.append("minor")
    if arrival.held_by:
        reasons.append("letter")
    if unusable:
        reasons.append("unusable")
    return Permission(consent, tuple(reasons), arrival.held_by, unusable)


def permission_of(listed: ListedPicture, entry_terms: str = "") -> Permission:
    """For a picture as lists give it."""
    found, summary = listed.picture, listed.summary
    unusable = found.enclosure.refused or (
        summary.reason or "It is no picture." if summary and summary.status == "unreadable" else ""
    )
    return permission(found.submission.arrival, found.id, entry_terms, unusable)


def stops_of(listed: ListedPicture, config: Config) -> tuple[str, ...]:
    """Why a picture cannot go on air: sentences; none where it can."""
    return permission_of(listed, config.entry_terms).stops
