"""A letter as a whole: what its words say, each fact with the words that it was read from. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from moondesk.service.programme.consent.wording import Consent, read_words
from moondesk.service.programme.letter.names import credit_by_rules, read_credit
from moondesk.service.programme.letter.optics import read_equipment
from moondesk.service.programme.letter.place_words import by_clocks_of, read_places
from moondesk.service.programme.letter.stories import read_story
from moondesk.service.programme.letter.time_signs import TimeInWords
from moondesk.service.programme.letter.time_words import read_time
from moondesk.service.programme.letter.tongues import languages_of
from moondesk.service.programme.mail_text import MailBody
from moondesk.service.store.records import SuggestedField, Suggestion, WordsRead

FROM_MAIL = "mail"


@dataclass(frozen=True, kw_only=True)
class LetterReading:
    """consent: what all of it says about showing, its child and its withdrawal among it; facts: as suggestions."""

    consent: Consent
    words_read: WordsRead
    languages: tuple[str, ...] = ()
    taken: TimeInWords | None = None
    facts: tuple[Suggestion, ...] = ()

    def value(self, field: SuggestedField) -> str:
        """The value of the first fact of that field; "" where there is none."""
        return next((fact.value for fact in self.facts if fact.field == field), "")


def read_letter(subject: str, sender: str, body: MailBody, written: datetime | None = None) -> LetterReading:
    """Read a mail's subject and text. sender: the name of its From line; written: when, by the sender's clock; None: no
    time is read of it."""
    own = body.words("own")
    text = f"{subject}\n\n{own}"
    languages = languages_of(text)
    equipment, credit = read_equipment(text), read_credit(text, sender)
    names = f"{sender} {credit_by_rules(own).name}"
    consent, words = read_words(subject, own, body.words("quoted"), body.words("signature"), names, body.whole)
    found: list[tuple[SuggestedField, str, str]] = []
    if equipment.aperture_mm is not None:
        found.append(("aperture_mm", str(equipment.aperture_mm), equipment.words))
    if equipment.eyepiece_mm is not None:
        found.append(("eyepiece_mm", f"{equipment.eyepiece_mm:g}", equipment.words))
    if equipment.kind:
        found.append(("equipment_kind", equipment.kind, equipment.words))
    if equipment.camera:
        found.append(("camera", equipment.camera, equipment.words))
    if consent.state != "none":
        found.append(("consent", consent.state, consent.evidence))
    if consent.minor:
        found.append(("minor", "yes", consent.child_words))
    if consent.guardian:
        found.append(("guardian", "yes", consent.guardian_words))
    if consent.withdrawal:
        found.append(("withdrawal", "yes", consent.withdrawal_words))
    if credit.name:
        found.append(("credit", credit.name, credit.words))
    if credit.unnamed:
        found.append(("unnamed", "yes", credit.words))
    places = read_places(text_of_places(text, body, credit.name), languages, written)
    found += [("place", place.value, place.words) for place in places]
    taken = read_time(text, by_clocks_of(places, written)) if written else None
    if taken:
        found.append(("taken", taken.value, taken.words))
    if languages:
        found.append(("language", languages[0], ""))
    if story := read_story(own):
        found.append(("story", story, story))
    return LetterReading(
        consent=consent,
        words_read=words,
        languages=languages,
        taken=taken,
        facts=tuple(Suggestion(field, value, words, FROM_MAIL) for field, value, words in found),
    )


def text_of_places(text: str, body: MailBody, name: str | None = None) -> str:
    """What of a letter is read for places. text: its subject and own words; name: whom it names; None: as it is read."""
    # "Ann of Leeds" does not say where she stood; "Ann, of Leeds" may
    named = (read_credit(text).name if name is None else name).partition(",")[0]
    told = text.replace(named, " \u2026 ") if named else text
    return f"{told}\n{body.words('signature')}"
