"""What is typed into a rundown: lengths, credits, consent that was told. Text in, values or a sentence out. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from moondesk.service.intake.tables import clean_text
from moondesk.service.programme.consent.wording import consent_in_mail, consent_in_table
from moondesk.service.programme.suggestions import credit_of
from moondesk.service.store.records import Arrival, ConsentKind, ConsentRecord, ConsentState
from moondesk.service.store.rundown_items import MOST_SECONDS, MOST_TIME, Item, Value

#: Characters at most.
CREDIT, PRONUNCIATION, NOTE, WORDS = 120, 200, 1_000, 500
#: How a consent can have come: (value, words).
WAYS: tuple[tuple[ConsentKind, str], ...] = (("phone", "by phone"), ("person", "in person"), ("mail", "in writing"))
ANSWERS: tuple[ConsentState, ...] = ("given", "refused", "asked")
LENGTH_ADVICE = "Type it as 1:30 (minutes and seconds) or 1.5 (minutes)."
_CLOCK = re.compile(r"([0-9]{1,4}):([0-5][0-9])")
_MINUTES = re.compile(r"[0-9]{1,4}([.,][0-9]{1,3})?")


@dataclass(frozen=True, kw_only=True)
class Typed:
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

    typed: Typed
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


def typed_of(item: Item, arrival: Arrival) -> Typed:
    """An item's form as it is first shown."""
    return typed_from(
        {field: item.value(field) for field in ("seconds", "credit_line", "pronunciation", "note")},
        credit_of(arrival).name,
    )


def typed_from(values: Mapping[str, Value], default: str) -> Typed:
    line = values["credit_line"]
    return Typed(
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
    typed = Typed(
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
