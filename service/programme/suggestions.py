"""What a mail's words suggest: equipment, consent, credit. Pure."""

from __future__ import annotations

from moondesk.service.programme.consent.wording import Consent, read_words
from moondesk.service.programme.credit import read_credit
from moondesk.service.programme.equipment import read_equipment
from moondesk.service.programme.mail_text import MailBody
from moondesk.service.store.records import SuggestedField, Suggestion, WordsRead

FROM_MAIL = "mail"


def read_of(subject: str, sender: str, body: MailBody) -> tuple[Consent, WordsRead]:
    """What all the words of a mail say about showing its picture, and whether they were understood."""
    own = body.words("own")
    names = f"{sender} {read_credit(own).name}"
    return read_words(subject, own, body.words("quoted"), body.words("signature"), names, body.whole)


def suggestions_of(subject: str, sender: str, body: MailBody) -> tuple[Suggestion, ...]:
    """What the subject and the sender's own words of a mail suggest."""
    text = f"{subject}\n\n{body.words('own')}"
    equipment, consent, credit = read_equipment(text), read_of(subject, sender, body)[0], read_credit(text)
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
