"""The rundown: what is typed into it (text in, values or a sentence out), how a picture's consent stands and how to get
one, what to look at before it goes on air. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import quote

from moondesk.records import ClockVerdict
from moondesk.service.programme.consent.wording import Consent, consent_in_mail, consent_in_table
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.evenings import Calendar, older_words
from moondesk.service.programme.permission import permission
from moondesk.service.programme.words import date_words, time_words
from moondesk.service.settings.config import Programme
from moondesk.service.store.records import (
    Arrival,
    ConsentKind,
    ConsentRecord,
    ConsentState,
    Edition,
    ListedPicture,
    SentPicture,
)
from moondesk.service.store.rundown_items import MOST_SECONDS, MOST_TIME, RundownItem, Value
from moondesk.service.texts import clean_text

#: Characters at most.
CREDIT, PRONUNCIATION, NOTE, WORDS = 120, 200, 1_000, 500
#: How a consent can have come: (value, words).
WAYS: tuple[tuple[ConsentKind, str], ...] = (("phone", "by phone"), ("person", "in person"), ("mail", "in writing"))
ANSWERS: tuple[ConsentState, ...] = ("given", "refused", "asked")
LENGTH_ADVICE = "Type it as 1:30 (minutes and seconds) or 1.5 (minutes)."
_CLOCK = re.compile(r"([0-9]{1,4}):([0-5][0-9])")
_MINUTES = re.compile(r"[0-9]{1,4}([.,][0-9]{1,3})?")


@dataclass(frozen=True, kw_only=True)
class ItemForm:
    """The fields of an item's form, as they stand in it. default: the sender's credit as the form showed it."""

    length: str
    credit: str
    default: str
    unnamed: bool
    pronunciation: str
    note: str


@dataclass(frozen=True)
class ItemReading:
    """values: by field of the item; empty where `complaints` (by field of the form) says what is wrong."""

    typed: ItemForm
    values: Mapping[str, Value]
    complaints: Mapping[str, str]


def length_words(seconds: int) -> str:
    """1:30; 0:05; 75:00."""
    return f"{seconds // 60}:{seconds % 60:02d}"


def seconds_of(text: str, most: int = MOST_SECONDS) -> int:
    """A length as it is typed. Raises ValueError with the sentence."""
    text = text.strip()
    clock = _CLOCK.fullmatch(text)
    if clock:
        seconds = int(clock[1]) * 60 + int(clock[2])
    elif _MINUTES.fullmatch(text):
        seconds = round(float(text.replace(",", ".")) * 60)
    else:
        raise ValueError(f"“{clean_text(text, 20)}” is no length. {LENGTH_ADVICE}" if text else LENGTH_ADVICE)
    if not 1 <= seconds <= most:
        raise ValueError(f"A length lies between 0:01 and {length_words(most)}.")
    return seconds


def time_of(text: str) -> int | None:
    """The programme's time for pictures, None where the field is left empty. Raises ValueError with the sentence."""
    return seconds_of(text, MOST_TIME) if text.strip() else None


def form_of(item: RundownItem, arrival: Arrival) -> ItemForm:
    """An item's form as it is first shown."""
    return form_from(
        {field: item.value(field) for field in ("seconds", "credit_line", "pronunciation", "note")},
        credit_of(arrival).name,
    )


def form_from(values: Mapping[str, Value], default: str) -> ItemForm:
    line = values["credit_line"]
    return ItemForm(
        length=length_words(int(values["seconds"] or 0)),
        credit=default if line is None else str(line),
        default=default,
        unnamed=line == "",
        pronunciation=str(values["pronunciation"]),
        note=str(values["note"]),
    )


def read_item(form: Mapping[str, str], arrival: Arrival) -> ItemReading:
    """An item's form as it was sent.

    A credit that is left as the sender's own stands follows it from then on; an emptied one goes back to it.
    """
    typed = ItemForm(
        length=form.get("length", ""),
        credit=form.get("credit", ""),
        default=form.get("default", ""),
        unnamed=bool(form.get("unnamed")),
        pronunciation=form.get("pronunciation", ""),
        note=form.get("note", ""),
    )
    wrong: dict[str, str] = {}
    values: dict[str, Value] = {}
    try:
        values["seconds"] = seconds_of(typed.length)
    except ValueError as error:
        wrong["length"] = str(error)
    for field, most in (("credit", CREDIT), ("pronunciation", PRONUNCIATION), ("note", NOTE)):
        text = clean_text(getattr(typed, field), 5_000)
        if len(text) > most:
            wrong[field] = f"Please keep it to {most} characters; it has {len(text)}."
        values["credit_line" if field == "credit" else field] = text
    line = str(values["credit_line"])
    if typed.unnamed:
        values["credit_line"] = ""
    elif line in ("", clean_text(typed.default, 5_000)):
        values["credit_line"] = None
    elif "credit" not in wrong and names_one_who_asked_not_to_be(line, arrival):
        wrong["credit"] = (
            "The sender asks not to be named, and this line names them. Write one without the name, or "
            "tick that no name is shown."
        )
    return ItemReading(typed, {} if wrong else values, wrong)


def names_one_who_asked_not_to_be(line: str, arrival: Arrival) -> bool:
    """Whether a credit names a sender who asks not to be named: by the name, or one of its words."""
    if not credit_of(arrival).unnamed:
        return False
    # Not the "de" of a name, which is also that of a town.
    words = {w.casefold() for w in re.findall(r"\w+", arrival.sender_name) if len(w) > 2 or (w[0].isupper() and w[1:])}
    return any(w.casefold() in words for w in re.findall(r"\w+", line))


@dataclass(frozen=True, kw_only=True)
class ConsentReading:
    """record None: `complaint` says what is wrong. whole: it is meant for all that came with the picture."""

    record: ConsentRecord | None
    complaint: str = ""
    words: str = ""
    way: str = ""
    guardian: bool = False
    whole: bool = False


def read_consent(form: Mapping[str, str], picture_id: int, who: str) -> ConsentReading:
    """What somebody notes of a sender's answer, or that the question went out."""
    words, way, guardian, whole = (
        clean_text(form.get("words", ""), 5_000),
        form.get("way", ""),
        bool(form.get("guardian")),
        bool(form.get("whole")),
    )
    answer = next((a for a in ANSWERS if a == form.get("answer")), None)
    kind = next((k for k, _ in WAYS if k == way), None)
    wrong = ""
    if answer is None or kind is None:
        wrong = "Please choose how it came, and what the answer is."
    elif len(words) > WORDS:
        wrong = f"Please keep the words to {WORDS} characters; they have {len(words)}."
    elif answer == "given" and not words:
        wrong = "Please note the words in which they agreed."
    elif answer == "given" and not _is_yes(words):
        wrong = "These words are no clear yes. Note those that are, or that the question was asked."
    if wrong or answer is None or kind is None:
        return ConsentReading(record=None, complaint=wrong, words=words, way=way, guardian=guardian, whole=whole)
    record = ConsentRecord(
        state=answer,
        kind=kind,
        evidence=words,
        message_id=form.get("message_id", "")[:1_000] if kind == "mail" else "",
        noted_by=who,
        picture_id=None if whole else picture_id,
        guardian=guardian,
        minor=True if guardian else None,
    )
    return ConsentReading(record=record, complaint="", words=words, way=way, guardian=guardian, whole=whole)


def _is_yes(words: str) -> bool:
    return consent_in_mail(words).state == "suggested" or consent_in_table(f"by phone: {words}").state == "given"


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


def consent_view(picture: SentPicture, programme: Programme, entry_terms: str) -> ConsentView:
    """How the consent for one picture stands."""
    arrival = picture.submission.arrival
    consent = permission(arrival, picture.id, entry_terms).consent
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
    question = _question(picture, programme.name)
    subject = f"Re: {arrival.subject}" if arrival.subject else f"Your picture for {programme.name}"
    address = arrival.sender_address
    return ConsentView(
        words=words,
        noted=_noted_words(consent, arrival.consents, picture.id, programme.zone),
        address=address,
        channel=arrival.channel,
        link=arrival.link if arrival.link.startswith(("https://", "http://")) else "",
        question=question,
        mailto=f"mailto:{quote(address, safe='@')}?subject={quote(subject)}&body={quote(question)}" if address else "",
        suggested=consent.evidence if consent.state in ("suggested", "unclear") else "",
        message_id=consent.message_id or arrival.message_id,
        minor=consent.minor,
    )


def _question(picture: SentPicture, programme: str) -> str:
    """The question to the sender, ready to be sent or read out."""
    arrival = picture.submission.arrival
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


def _noted_words(consent: Consent, records: tuple[ConsentRecord, ...], picture_id: int, zone: str) -> str:
    """Who noted what counts, and when."""
    if not consent.noted_by:
        return ""
    for record in reversed(records):
        if record.picture_id in (None, picture_id) and record.state == consent.state and record.noted_utc:
            return f"Noted by {consent.noted_by}, {time_words(record.noted_utc, zone)}"
    return f"Noted by {consent.noted_by}"


NOT_PLACED = "It has not been placed yet: what it shows has not been looked at."


def cautions_of(item: RundownItem, listed: ListedPicture) -> tuple[str, ...]:
    """What to look at before it goes on air."""
    summary, said = listed.summary, []
    if summary is None:
        said.append(NOT_PLACED)
    elif summary.status.facts.is_named and not summary.sure:
        said.append(f"Not sure: {summary.reason}" if summary.reason else "Its placing is not sure: have a look.")
    elif summary.status.facts.opens and not summary.status.facts.is_named and summary.reason:
        said.append(summary.reason)
    older = older_words(listed)
    if older:
        said.append(older)
    elif summary and summary.clock_verdict == ClockVerdict.DISAGREES:
        said.append("The clock disagrees with what the picture shows: do not say the date on air.")
    said += listed.asked
    if item.aired_before:
        numbers = ", ".join(map(str, item.aired_before))
        said.append(f"It was on air before, in edition {numbers}.")
    if item.better_id is not None and item.aired_utc is None:
        said.append("A better version of it has come in.")
    return tuple(said)


def when_words(listed: ListedPicture, calendar: Calendar) -> str:
    """The evening on which it was taken, with its day of the lunation; empty while no time is known."""
    summary = listed.summary
    if summary is None or summary.taken_utc is None:
        return ""
    evening = calendar.evening(summary.taken_utc)
    day = "" if evening.day_number is None else f"Day {evening.day_number}, "
    return f"{day}{'evening' if day else 'Evening'} of {date_words(evening.date)}"


def air_time(edition: Edition, now: datetime) -> datetime | None:
    """When the edition's pictures were on air, as it is noted now; None where it is not on air yet."""
    air = edition.plan.air_utc
    if air is None:
        return now
    return air if air <= now else None
