"""May a picture go on air: the one place where it is decided. Pure.

Every page, file and answer that shows a picture, or says whether it may be shown, asks here. What is known of it stands
in its record as the store gives it: what was told and noted, how its mail's words were read, which letters hold it.
The rules in their order; each names what proves it, in tests/service.

Whose word counts (`standing_consent`):

1.  A person's note beats all words, the newest note the older ones.
    test_permission: test_the_newest_decision_counts
2.  A note about one picture is for that picture; a note about none for all that came with it.
    test_permission: test_a_record_of_one_picture_is_for_that_picture
3.  That the question went out is no answer: it counts where nothing else was said.
    test_permission: test_a_question_that_went_out_is_no_decision
4.  Without a note the programme's table or form counts, and where that is silent the words of the mail.
    test_permission: test_the_table_beats_the_mail
5.  A mail's words are a suggestion, never a consent: a person confirms them.
    test_permission: test_a_suggestion_never_counts_by_itself
6.  A no beats a condition, a condition a yes; words that were not understood are unclear.
    test_consent, test_consent_fails_closed
7.  An answer to what was sent is heard like the words of that mail, and counts over them; a no in one beats every note
    that was made before it came.
    test_threads
8.  The terms of entry count only where the programme has some and nothing else was said, and of a mail only where all
    of its words were understood.
    test_permission: test_entry_terms_count_only_where_the_programme_says_so_and_nothing_else_was_said
    test_consent_fails_closed: test_no_mail_in_another_language_is_ready_by_itself

What stops a picture (`permission`), all that do, in this order:

9.  Its consent is not given.
    test_permission: test_the_reasons
10. A child took it and no guardian has agreed, whoever else has (`consent.wording.Consent.agreed`).
    test_permission: test_a_child_needs_a_guardian
11. A letter from its sender waits to be read, whatever was agreed before.
    test_letters: test_a_letter_holds_what_a_person_has_allowed_and_what_comes_later
12. The same picture, or what may be the same, came from somebody who does not want it shown, until a person has said
    that the two are different pictures.
    test_permission: test_the_same_picture_as_a_refused_one_waits
13. It cannot be opened.
    test_permission: test_what_cannot_be_opened_cannot_be_shown

Nobody else decides (test_permission: test_every_outlet_says_the_same, test_nobody_else_decides).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, cast

from moondesk.service.programme.consent.wording import Consent, State, consent_in_table
from moondesk.service.store.records import Arrival, ConsentRecord, ListedPicture, SentPicture, Suggestion

#: The states of a consent that is not given; then "minor": a child took it and no guardian has agreed; "letter": one
#: from its sender waits to be read; "twin": a picture that seems to be the same was refused; "unusable": it is no picture that can be opened.
Reason = Literal["none", "suggested", "unclear", "asked", "refused", "minor", "letter", "twin", "unusable"]

WORDS: Mapping[Reason, str] = {
    "none": "nobody has said that it may be shown.",
    "suggested": "the mail seems to allow it, but nobody has read and confirmed that.",
    "unclear": "it is unclear whether its sender agrees: read the letter first.",
    "asked": "the sender was asked and has not answered yet.",
    "refused": "the sender does not want it shown.",
    "minor": "a child seems to have taken it, and no guardian has agreed.",
    "letter": "a letter from its sender waits to be read.",
    "twin": "what seems to be the same picture was sent by somebody who does not want it shown. Look whose it is, and "
    "say whether they are two pictures.",
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
    arrival: Arrival,
    picture_id: int | None = None,
    entry_terms: str = "",
    unusable: str = "",
    twins: Iterable[SentPicture] = (),
) -> Permission:
    """For one of an arrival's pictures; picture_id None: by what was said of all of it. entry_terms: see `standing_consent`.
    twins: other pictures that are the same, or may be."""
    consent = standing_consent(arrival, arrival.consents, picture_id, entry_terms)
    reasons: list[Reason] = []
    if consent.state != "given":
        reasons.append(consent.state)
    elif not consent.agreed:
        reasons.append("minor")
    if arrival.held_by:
        reasons.append("letter")
    if "refused" not in reasons and any(_is_refused(twin) for twin in twins):
        reasons.append("twin")
    if unusable:
        reasons.append("unusable")
    return Permission(consent, tuple(reasons), arrival.held_by, unusable)


def permission_of(listed: ListedPicture, entry_terms: str = "") -> Permission:
    """For a picture as lists give it."""
    found, summary = listed.picture, listed.summary
    unusable = found.enclosure.refused or (
        summary.reason or "It is no picture." if summary and not summary.status.facts.opens else ""
    )
    return permission(found.submission.arrival, found.id, entry_terms, unusable, listed.twins)


def _is_refused(picture: SentPicture) -> bool:
    arrival = picture.submission.arrival
    return standing_consent(arrival, arrival.consents, picture.id).state == "refused"


def reasons_not_to_air(listed: ListedPicture, entry_terms: str) -> tuple[str, ...]:
    """Sentences; none where it can go on air."""
    return permission_of(listed, entry_terms).stops


def standing_consent(
    arrival: Arrival, records: Iterable[ConsentRecord], picture_id: int | None = None, entry_terms: str = ""
) -> Consent:
    """The consent that counts: the newest decision that somebody made and noted; suggestions never count by themselves.

    records: of the submission, the oldest first. picture_id: those about other pictures are passed over; None: so are
    all that are about one. entry_terms: the programme's own, where entering under them is consent: they count where
    nothing else was said, of a way by which people enter under them (`arrivals.Way.terms_count`), and of a mail only where
    all of its words were understood. A child's picture needs a
    guardian's word, whoever else has agreed.
    """
    decided: ConsentRecord | None = None
    asked: ConsentRecord | None = None
    said = _consent_before_notes(arrival)
    minor, guardian = said.minor, False
    for record in records:
        if record.picture_id not in (None, picture_id):
            continue
        minor = minor if record.minor is None else record.minor
        if record.state == "asked":
            asked = record
            continue
        decided = record
        guardian = record.guardian if record.state == "given" else False
    answer = _answer_of(arrival)
    if decided is not None and answer is not None and answer.value == "refused" and _is_later(answer, decided):
        return replace(said, minor=minor)
    if decided is not None:
        return Consent(
            state=decided.state,
            kind=decided.kind,
            evidence=decided.evidence,
            minor=minor,
            guardian=guardian,
            noted_by=decided.noted_by,
            message_id=decided.message_id,
        )
    unread = said.state == "unclear" and not said.evidence  # of an older release: nobody has looked at its words
    if (said.state == "none" or unread) and asked is not None:
        return Consent(
            state="asked",
            kind=asked.kind,
            evidence=asked.evidence,
            minor=minor,
            guardian=False,
            noted_by=asked.noted_by,
            message_id=asked.message_id,
        )
    if said.state == "none" and entry_terms and arrival.way.terms_count:
        return Consent(state="given", kind="terms", evidence=entry_terms, minor=minor)
    return replace(said, minor=minor, message_id=(said.message_id or arrival.message_id) if said.kind == "mail" else "")


def _answer_of(arrival: Arrival) -> Suggestion | None:
    """The newest answer to what was sent."""
    return next((s for s in reversed(arrival.suggestions) if s.source == "answer" and s.field == "consent"), None)


def _is_later(answer: Suggestion, record: ConsentRecord) -> bool:
    """Doubt counts as later."""
    return answer.noted_utc is None or record.noted_utc is None or answer.noted_utc > record.noted_utc


def _consent_before_notes(arrival: Arrival) -> Consent:
    """What was said before anybody noted it: the table, else the mail, which is never read as "given"."""
    by_field = {s.field: s for s in arrival.suggestions}
    minor = "minor" in by_field
    answer, told = _answer_of(arrival), consent_in_table(arrival.consent)
    if answer is not None and (answer.value == "refused" or told.state != "given"):
        return Consent(
            state=cast(State, answer.value),
            kind="mail",
            evidence=answer.words,
            minor=minor,
            message_id=answer.message_id,
        )
    if told.state != "none":
        return Consent(state=told.state, kind=told.kind, evidence=told.evidence, minor=minor)
    said = by_field.get("consent")
    if said is None and arrival.way.is_mail and arrival.words_read not in ("none", "understood"):
        return Consent(state="unclear", kind="mail", evidence="", minor=minor)
    if said is None:
        return Consent(minor=minor)
    return Consent(state=cast(State, said.value), kind="mail", evidence=said.words, minor=minor)
