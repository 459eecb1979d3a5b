"""To whom a reply speaks, and which of several wordings it takes. Pure."""

from __future__ import annotations

import re
from enum import StrEnum

from moondesk.notes.messages import Message, say
from moondesk.service.programme.credit import credit_of
from moondesk.service.store.records import Arrival


class Voice(StrEnum):
    """Who reads it: languages have a form of address for each."""

    ADULT = "adult"
    CHILD = "child"
    #: A grown-up who writes for the child that took the picture.
    GUARDIAN = "guardian"


def voice_for(arrival: Arrival, minor: bool) -> Voice:
    """minor: whether a child took the picture, by what is noted. That a grown-up wrote for it follows where a guardian
    is read of; the presenter may choose another."""
    if not minor:
        return Voice.ADULT
    return Voice.GUARDIAN if suggested(arrival, "guardian") is not None else Voice.CHILD


def suggested(arrival: Arrival, field: str) -> str | None:
    """What was read of the sender's words for a field; None where nothing was."""
    return {str(s.field): s.value for s in arrival.suggestions}.get(field)


#: Before a name a title, as of a teacher who writes for a class: "Mrs" alone greets nobody.
_TITLE = re.compile(
    r"(?:mrs?|ms|miss|sir|dr|prof(?:essor)?|mme|mlle|madame|monsieur|herr|frau|sr(?:t?a)?|doña|don|dona|г-н|г-жа)\b\.?\s",
    re.IGNORECASE,
)


def greeting(arrival: Arrival, voice: Voice) -> Message:
    name = name_of(arrival)
    if voice is Voice.GUARDIAN and arrival.sender_name:
        name = arrival.sender_name  # the credit may be the child's
    if voice is Voice.CHILD:
        first = name if _TITLE.match(name) else name.partition(" ")[0]
        return say("Hello {name},", name=first) if first else say("Hello,")
    return say("Dear {name},", name=name) if name else say("Good evening,")


def name_of(arrival: Arrival) -> str:
    """Of whoever the picture is by; "" where nobody has told."""
    return salutation(credit_of(arrival).name, arrival.sender_name, arrival.place_name)


def salutation(credit: str, sender_name: str, place_name: str) -> str:
    """The name by which a sender is spoken to: of a credit such as "Ann, Ruse" the person alone."""
    if sender_name and sender_name.casefold() in credit.casefold():
        return sender_name
    person = re.split(r"[,(;/]| [-\u2013\u2014] | from | \u043e\u0442 ", credit)[0].strip() if credit else ""
    if place_name and person.casefold().endswith(f" {place_name.casefold()}"):
        person = person[: -len(place_name)].strip()
    return person or credit or sender_name


def pick(wordings: tuple[Message, ...], seed: int, place: int = 0) -> Message:
    """One of several wordings: the same for the same submission, another for the next one. place: of the sentence in
    the letter, so that not all of them change in step."""
    return wordings[(seed + seed // 7 * place) % len(wordings)]
