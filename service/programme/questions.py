"""Questions that a sender answers by a link: their words, what can be answered, and what an answer means. Pure.

Guardians are asked as guardians. Who says to be the child, or not to be its guardian, has agreed to nothing, and takes
a consent back that was given by the same link before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from moondesk.notes.messages import Message, say, say_many
from moondesk.service.store.records import ConsentRecord, QuestionKind

#: Who has answered, as it stands with what follows of an answer.
BY_LINK = "the sender, by a link"
#: What each is called at the desk.
TITLES: Mapping[QuestionKind, str] = MappingProxyType(
    {
        "consent": "May we show it?",
        "guardian": "Asked of a parent or guardian: may we show it?",
        "name": "Whose picture is it, and how to name them?",
        "taken": "When was it taken?",
    }
)
#: How well a time is known with each answer, minutes; rules of thumb, as those of the evenings in `nights`.
SIGMA_MINUTES: Mapping[str, float] = MappingProxyType({"minutes": 5.0, "half_hour": 20.0, "night": 180.0})


@dataclass(frozen=True)
class Choice:
    """One answer that can be given. name: as it is kept; words: of its button."""

    name: str
    words: Message


def question_words(kind: QuestionKind, programme: str, count: int) -> Message:
    """count: how many pictures it is about."""
    match kind:
        case "consent":
            return say_many(
                "May we show this picture in {programme}, its repeats and its recordings?",
                "May we show these {count} pictures in {programme}, its repeats and its recordings?",
                count,
                programme=programme,
            )
        case "guardian":
            return say_many(
                "Are you the parent or guardian of the child who took this picture, and may we show it in {programme}, "
                "its repeats and its recordings?",
                "Are you the parent or guardian of the child who took these {count} pictures, and may we show them in "
                "{programme}, its repeats and its recordings?",
                count,
                programme=programme,
            )
        case "name":
            return say_many(
                "Whose picture is this, and how shall we name you when we show it?",
                "Whose pictures are these, and how shall we name you when we show them?",
                count,
            )
        case "taken":
            return say("When was this picture taken?")


def choices_of(kind: QuestionKind, count: int, aired: bool = False) -> tuple[Choice, ...]:
    """What can be answered; count: see `question_words`. aired: one of the pictures was on air, and what can still be
    changed is that it is shown again."""
    match kind:
        case "consent":
            no = Choice("no", say_many("No, please do not show it", "No, please do not show them", count))
            yes = Choice("yes", say_many("Yes, you may show it", "Yes, you may show them", count))
            return (no,) if aired else (yes, no, Choice("child", say("I am under 18")))
        case "guardian":
            no = Choice(
                "no",
                say_many(
                    "I am the parent or guardian: please do not show it",
                    "I am the parent or guardian: please do not show them",
                    count,
                ),
            )
            yes = Choice(
                "yes",
                say_many(
                    "Yes, I am the parent or guardian, and you may show it",
                    "Yes, I am the parent or guardian, and you may show them",
                    count,
                ),
            )
            child = Choice("child", say("I took the picture myself, and I am under 18"))
            other = Choice("other", say("I am not the parent or guardian"))
            return (no,) if aired else (yes, no, child, other)
        case "name":
            names = (
                Choice("name", say("Show this name")),
                Choice("first", say("Show the first name only")),
                Choice("unnamed", say("Show no name")),
            )
            return () if aired else names
        case "taken":
            times = (
                Choice("minutes", say("It was then, to a few minutes")),
                Choice("half_hour", say("It was about then, to half an hour")),
                Choice("night", say("Only the evening is certain")),
                Choice("unknown", say("I do not know")),
            )
            return () if aired else times


def first_name(name: str) -> str:
    """The first word of a name, as it was typed: whoever writes the family's name first sees it, and can change it."""
    return name.split()[0] if name.split() else ""


def consent_asked(kind: QuestionKind, words: str, who: str, picture_id: int | None) -> ConsentRecord | None:
    """That a consent was asked for, with the words of the question; None: none was."""
    if kind not in ("consent", "guardian"):
        return None
    return ConsentRecord(
        state="asked",
        kind="form",
        evidence=words,
        noted_by=who,
        picture_id=picture_id,
        minor=True if kind == "guardian" else None,
    )


def consent_meant(
    kind: QuestionKind, choice: str, evidence: str, picture_id: int | None, was_yes: bool
) -> ConsentRecord | None:
    """The consent, or refusal, that an answer is; None: it says nothing of it. was_yes: the link's answer before was."""
    if kind not in ("consent", "guardian"):
        return None
    guards = kind == "guardian"
    minor = True if guards or choice == "child" else None
    if choice == "yes":
        return ConsentRecord(
            state="given",
            kind="form",
            evidence=evidence,
            noted_by=BY_LINK,
            picture_id=picture_id,
            guardian=guards,
            minor=minor,
        )
    return ConsentRecord(
        state="refused" if choice == "no" or was_yes else "asked",
        kind="form",
        evidence=evidence,
        noted_by=BY_LINK,
        picture_id=picture_id,
        guardian=guards and choice == "no",
        minor=minor,
    )
