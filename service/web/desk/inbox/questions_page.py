"""Questions by a link as the desk shows them: what was asked and answered, and what can be asked. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from moondesk.notes.messages import in_english
from moondesk.service.languages import REPLY_LANGUAGES, own_name
from moondesk.service.programme.questions import TITLES, choices_of
from moondesk.service.programme.words import time_words
from moondesk.service.replies.drafting import senders_language
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.questions import Answer, Question
from moondesk.service.store.records import Arrival, ListedSubmission, QuestionKind

KINDS: tuple[QuestionKind, ...] = ("consent", "guardian", "name", "taken")
#: What is wrong, and what to do.
NO_ADDRESS = (
    "Nobody can be asked by a link: the address of the audience's page is not set.",
    'Write it in moondesk.toml, as the audience sees it: [public] address = "https://pictures.example.org", and run '
    "moondesk receive.",
)
#: Answers after which somebody should look.
CAUTIONS: Mapping[str, str] = {
    "child": "A child says so: ask a parent or guardian.",
    "other": "It was not the guardian who answered: ask whoever is.",
}


@dataclass(frozen=True, kw_only=True)
class AnswerRow:
    """words: as they were answered; english: the same in English, "" where they are; caution: what to look at."""

    words: str
    english: str
    when: str
    caution: str


@dataclass(frozen=True, kw_only=True)
class QuestionRow:
    """picture_id: where it is asked from. answers: the newest first, which counts."""

    id: int
    picture_id: int
    title: str
    about: str
    state: str
    open: bool
    answers: tuple[AnswerRow, ...]


@dataclass(frozen=True, kw_only=True)
class AskForm:
    """What can be asked of a picture's sender. count: usable pictures of the submission. missing: why nothing can."""

    picture_id: int
    kinds: tuple[tuple[QuestionKind, str], ...]
    count: int
    languages: tuple[tuple[str, str], ...]
    language: str
    missing: str


@dataclass(frozen=True, kw_only=True)
class AskedPage:
    """A question just made, with its link. link_token: by which it is put into the reply."""

    programme: Programme
    token: str
    id: int
    picture_id: int
    title: str
    url: str
    line: str
    language: str
    link_token: str
    until: str


def language_told(arrival: Arrival, otherwise: str = "") -> str:
    """The language in which the sender writes, where it was read and there is a catalogue of it."""
    code = senders_language(arrival)
    return code if code in REPLY_LANGUAGES else otherwise


def ask_form(config: Config, picture_id: int, arrival: Arrival, count: int) -> AskForm:
    return AskForm(
        picture_id=picture_id,
        kinds=tuple((kind, TITLES[kind]) for kind in KINDS),
        count=count,
        languages=(("", "as the reader's browser asks"), *((code, own_name(code)) for code in REPLY_LANGUAGES)),
        language=language_told(arrival),
        missing="" if config.public.address else " ".join(NO_ADDRESS),
    )


def usable_pictures(of: ListedSubmission) -> int:
    return sum(enclosure.refused is None for enclosure, _ in of.pictures)


def question_rows(found: Sequence[Question], zone: str, now: datetime) -> tuple[QuestionRow, ...]:
    return tuple(_row(one, zone, now) for one in found if one.picture_ids)


def _row(one: Question, zone: str, now: datetime) -> QuestionRow:
    count = len(one.picture_ids)
    if one.revoked_utc is not None:
        state = f"Taken back by {one.revoked_by}, {time_words(one.revoked_utc, zone)}"
    elif not one.open(now):
        state = f"Its time was over {time_words(one.expires_utc, zone)}"
    else:
        state = f"Open until {time_words(one.expires_utc, zone)}"
    return QuestionRow(
        id=one.id,
        picture_id=one.picture_ids[0],
        title=TITLES[one.kind],
        about=f"all {count} pictures" if one.picture_id is None and count > 1 else "",
        state=f"{state}. Asked by {one.made_by}, {time_words(one.made_utc, zone)}.",
        open=one.open(now),
        answers=tuple(_answer(one, answer, zone) for answer in reversed(one.answers)),
    )


def _answer(one: Question, answer: Answer, zone: str) -> AnswerRow:
    plain = next(
        (in_english(c.words) for c in choices_of(one.kind, len(one.picture_ids)) if c.name == answer.choice), ""
    )
    return AnswerRow(
        words=answer.words,
        english="" if answer.language == "en" else ": ".join(filter(None, (plain, answer.value))),
        when=time_words(answer.when_utc, zone),
        caution=CAUTIONS.get(answer.choice, "") or ("Somebody else took it." if "taken by " in answer.value else ""),
    )
