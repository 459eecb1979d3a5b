"""What a sender's words suggest, and what is told and suggested of a submission taken together. Pure.

Told beats suggested: where the programme's table or a form says something, a mail's words are not asked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import cast

from moondesk.service.intake.mail import Mail
from moondesk.service.programme.consent.wording import Consent, State, consent_in_table, read_words
from moondesk.service.programme.credit import Credit, read_credit
from moondesk.service.programme.equipment import Equipment, read_equipment
from moondesk.service.store.records import Arrival, ConsentRecord, SuggestedField, Suggestion, WordsRead

FROM_MAIL = "mail"


def read_of(mail: Mail) -> tuple[Consent, WordsRead]:
    """What all the words of a mail say about showing its picture, and whether they were understood."""
    names = f"{mail.sender_name} {read_credit(mail.text).name}"
    return read_words(
        mail.subject, mail.text, mail.body.words("quoted"), mail.body.words("signature"), names, mail.body.whole
    )


def suggestions_of(mail: Mail) -> tuple[Suggestion, ...]:
    """What the subject and the sender's own words of a mail suggest."""
    text = f"{mail.subject}\n\n{mail.text}"
    equipment, consent, credit = read_equipment(text), read_of(mail)[0], read_credit(text)
    found: list[tuple[SuggestedField, str, str]] = []
    if equipment.aperture_mm is not None:
        found.append(("aperture_mm", str(equipment.aperture_mm), equipment.words))
    if equipment.eyepiece_mm is not None:
        found.append(("eyepiece_mm", f"{equipment.eyepiece_mm:g}", equipment.words))
    if equipment.kind:
        found.append(("equipment_kind", equipment.kind, equipment.words))
    if consent.state != "none":
        found.append(("consent", consent.state, consent.evidence))
    if consent.minor:
        found.append(("minor", "yes", consent.evidence))
    if credit.name:
        found.append(("credit", credit.name, credit.words))
    if credit.unnamed:
        found.append(("unnamed", "yes", credit.words))
    return tuple(Suggestion(field, value, words, FROM_MAIL) for field, value, words in found)


def equipment_of(arrival: Arrival) -> Equipment:
    """The optics: what the table's words say, else what the mail's suggest."""
    if arrival.equipment:
        told = read_equipment(arrival.equipment)
        return Equipment(told.aperture_mm, told.eyepiece_mm, told.kind, arrival.equipment)
    by_field = {s.field: s for s in arrival.suggestions}
    aperture, eyepiece = by_field.get("aperture_mm"), by_field.get("eyepiece_mm")
    kind = by_field.get("equipment_kind")
    first = aperture or eyepiece or kind
    return Equipment(
        int(aperture.value) if aperture else None,
        float(eyepiece.value) if eyepiece else None,
        kind.value if kind else "",
        first.words if first else "",
    )


def _said(arrival: Arrival) -> Consent:
    """What was said before anybody noted it: the table, else the mail, which is never read as "given"."""
    by_field = {s.field: s for s in arrival.suggestions}
    minor = "minor" in by_field
    told = consent_in_table(arrival.consent)
    if told.state != "none":
        return Consent(state=told.state, kind=told.kind, evidence=told.evidence, minor=minor)
    said = by_field.get("consent")
    if said is None and arrival.source == "mail" and arrival.words_read not in ("none", "understood"):
        return Consent(state="unclear", kind="mail", evidence="", minor=minor)
    if said is None:
        return Consent(minor=minor)
    return Consent(state=cast(State, said.value), kind="mail", evidence=said.words, minor=minor)


def standing(
    arrival: Arrival, records: Iterable[ConsentRecord], picture_id: int | None = None, entry_terms: str = ""
) -> Consent:
    """The consent that counts: the newest decision that somebody made and noted; suggestions never count by themselves.

    records: of the submission, the oldest first. picture_id: those about other pictures are passed over; None: so are
    all that are about one. entry_terms: the programme's own, where entering under them is consent: they count where
    nothing else was said, and of a mail only where all of its words were understood. A child's picture needs a
    guardian's word, whoever else has agreed.
    """
    decided: ConsentRecord | None = None
    asked: ConsentRecord | None = None
    said = _said(arrival)
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
    if said.state == "none" and entry_terms:
        return Consent(state="given", kind="terms", evidence=entry_terms, minor=minor)
    return replace(said, minor=minor, message_id=arrival.message_id if said.kind == "mail" else "")


def credit_of(arrival: Arrival) -> Credit:
    """How the sender is to be named: as the table says, else as the mail asks, else by the name of the account.

    unnamed (with an empty name): the sender asks not to be named.
    """
    if arrival.credit_line:
        return Credit(arrival.credit_line)
    by_field = {s.field: s for s in arrival.suggestions}
    if "unnamed" in by_field:
        return Credit("", True, by_field["unnamed"].words)
    if "credit" in by_field:
        return Credit(by_field["credit"].value, False, by_field["credit"].words)
    return Credit(arrival.sender_name)
