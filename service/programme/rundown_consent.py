"""May a picture of the rundown be shown, and if not, how to get there: sentences, and the question to send. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import quote

from moondesk.service.programme.consent.wording import Consent
from moondesk.service.programme.permission import permission
from moondesk.service.programme.suggestions import credit_of
from moondesk.service.programme.words import time_words
from moondesk.service.settings.config import Config
from moondesk.service.store.records import ConsentRecord, SentPicture

_CAME: Mapping[str, str] = {
    "form": "on the form",
    "mail": "in writing",
    "phone": "by phone",
    "person": "in person",
    "table": "as the table says",
    "terms": "by entering under the programme's terms",
    "": "",
}


@dataclass(frozen=True, kw_only=True)
class ConsentView:
    """How the consent stands, and how to get one."""

    #: How the consent stands, with its words, and who noted it when; empty where there is none.
    words: str
    noted: str
    #: Where to ask, the question, and both as a draft for the reader's own mail program; "" where not known.
    address: str
    channel: str
    link: str
    question: str
    mailto: str
    #: Words of a mail that wait for somebody to confirm them, and the mail that they stand in.
    suggested: str
    message_id: str
    minor: bool


def consent_view(picture: SentPicture, config: Config) -> ConsentView:
    """How the consent for one picture stands."""
    arrival = picture.submission.arrival
    consent = permission(arrival, picture.id, config.entry_terms).consent
    quoted = f": “{consent.evidence.removesuffix('.')}”" if consent.evidence else ""  # another ends the line
    words = ""
    if consent.state == "given":
        words = f"Consent {_CAME[consent.kind]}{quoted}" + (", by a guardian" if consent.guardian else "")
    elif consent.state == "asked":
        words = f"Asked {_CAME[consent.kind]}{quoted}"
    elif consent.state == "unclear":
        words = f"Not clear from the words{quoted}" if quoted else "Nobody has read the words yet"
    elif consent.state != "none":
        words = f"The sender{quoted or ' has said so'}"
    question = _question(picture, config)
    subject = f"Re: {arrival.subject}" if arrival.subject else f"Your picture for {config.programme.name}"
    address = arrival.sender_address
    return ConsentView(
        words=words,
        noted=_noted(consent, arrival.consents, picture.id, config.programme.zone),
        address=address,
        channel=arrival.channel,
        link=arrival.link if arrival.link.startswith(("https://", "http://")) else "",
        question=question,
        mailto=f"mailto:{quote(address, safe='@')}?subject={quote(subject)}&body={quote(question)}" if address else "",
        suggested=consent.evidence if consent.state in ("suggested", "unclear") else "",
        message_id=consent.message_id or arrival.message_id,
        minor=consent.minor,
    )


def _question(picture: SentPicture, config: Config) -> str:
    """The question to the sender, ready to be sent or read out."""
    arrival, programme = picture.submission.arrival, config.programme.name
    name = credit_of(arrival).name or arrival.sender_name
    return "\n".join(
        (
            f"Dear {name}," if name else "Good evening,",
            "",
            f"thank you for your picture “{picture.enclosure.given_name}”. May we show it in {programme}?",
            "",
            "If so, please answer with a sentence like “Yes, you may show it.”, and tell us how you wish to be named, or "
            "that you do not wish to be named. If somebody under age took it, we need the sentence from a parent or "
            "guardian.",
            "",
            "Without your answer we do not show it.",
            "",
            programme,
        )
    )


def _noted(consent: Consent, records: tuple[ConsentRecord, ...], picture_id: int, zone: str) -> str:
    """Who noted what counts, and when."""
    if not consent.noted_by:
        return ""
    for record in reversed(records):
        if record.picture_id in (None, picture_id) and record.state == consent.state and record.noted_utc:
            return f"Noted by {consent.noted_by}, {time_words(record.noted_utc, zone)}"
    return f"Noted by {consent.noted_by}"
