"""A question's page: what it shows, and what was answered on it, as words to keep and what follows of them. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from moondesk.notes.messages import Message, say
from moondesk.service.programme.questions import (
    SIGMA_MINUTES,
    Choice,
    choices_of,
    consent_meant,
    first_name,
    question_words,
)
from moondesk.service.settings.config import Programme
from moondesk.service.store.decided import DecidedChange
from moondesk.service.store.questions import Answer, Consequences, Question
from moondesk.service.store.records import Suggestion
from moondesk.service.texts import clean_text
from moondesk.service.web.public.form import NAME_CHARACTERS
from moondesk.service.web.public.tongue import Tongue

#: Regions of the zones that are towns; the rest of the list is other names of these.
REGIONS = ("Africa", "America", "Antarctica", "Arctic", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")
#: The hour of an evening of which no hour was told.
EVENING = "21:00"
_EARLIEST, _AHEAD = datetime(1990, 1, 1, tzinfo=UTC), timedelta(hours=1)


@dataclass(frozen=True, kw_only=True)
class Typed:
    """The fields of the form."""

    name: str = ""
    taker: str = ""
    day: str = ""
    hour: str = ""
    zone: str = ""


@dataclass(frozen=True, kw_only=True)
class QuestionPage:
    """pictures: (address, words for who cannot see it). buttons: (choice, words). answered: what was answered before;
    until: how long it can be changed. labels: of the fields, by name. zones: (name, words)."""

    programme: Programme
    address: str
    title: str
    asked: str
    notes: tuple[str, ...]
    pictures: tuple[tuple[str, str], ...]
    kind: str
    buttons: tuple[tuple[str, str], ...]
    typed: Typed
    labels: Mapping[str, str]
    zones: tuple[tuple[str, str], ...]
    complaint: str
    thanks: str
    answered: str
    until: str


@dataclass(frozen=True, kw_only=True)
class GonePage:
    """Of a link that leads nowhere."""

    programme: Programme
    title: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class Reading:
    """What was answered, and what follows of it; answer None: `complaint` says what is missing."""

    answer: Answer | None
    then: Consequences
    complaint: Message | None = None


def question_page(
    question: Question,
    programme: Programme,
    tongue: Tongue,
    address: str,
    pictures: tuple[tuple[str, str], ...],
    credit: str,
    contact: str,
    typed: Typed | None = None,
    complaint: Message | None = None,
) -> QuestionPage:
    """pictures: addresses of what is shown, and the files' names; credit: as the sender is named by now."""
    write, count, last = tongue.write, len(question.picture_ids), question.answer
    buttons = choices_of(question.kind, count, question.aired_utc is not None)
    zone = ZoneInfo(programme.zone)
    notes = []
    if question.kind in ("consent", "guardian"):
        notes.append(
            say("Nothing is shown before it is allowed, and you can change your answer as long as this link lasts.")
        )
    if question.aired_utc is not None:
        aired = question.aired_utc.astimezone(zone).date()
        notes = [
            say("It was on air on {day}. What has been broadcast cannot be called back.", day=aired),
            say("You can still say here that it is not to be shown again.")
            if buttons
            else say("Your answer cannot be changed here any more. Please write to us instead."),
        ]
    if contact:
        notes.append(say("Questions about your data: {contact}.", contact=contact))
    labels = {
        "name": say("Name to show"),
        "taker": say("Who took it, if it was not you"),
        "day": say("Day"),
        "hour": say("Time"),
        "zone": say("By which clock"),
    }
    return QuestionPage(
        programme=programme,
        address=address,
        title=write(say("A question about your picture")),
        asked=write(question_words(question.kind, programme.name, count)),
        notes=tuple(write(one) for one in notes),
        pictures=tuple((url, write(say("The picture {name}", name=name))) for url, name in pictures),
        kind=question.kind,
        buttons=tuple((c.name, write(c.words)) for c in buttons),
        typed=typed or _typed_before(question, programme, credit),
        labels={name: write(words) for name, words in labels.items()},
        zones=_zones(tongue, programme.zone) if question.kind == "taken" else (),
        complaint=write(complaint) if complaint else "",
        thanks=write(say("Thank you. We have your answer:")) if last else "",
        answered=last.words if last else "",
        until=write(say("This link works until {day}.", day=question.expires_utc.astimezone(zone).date())),
    )


def gone_page(programme: Programme, tongue: Tongue, contact: str) -> GonePage:
    """The same for a link that has ended and for one that never was."""
    said = [
        say("Its time is over, it was taken back, or it was not copied whole."),
        say("If you have something to tell us, please answer the mail that it came with."),
    ]
    if contact:
        said.append(say("Questions about your data: {contact}.", contact=contact))
    return GonePage(
        programme=programme,
        title=tongue.write(say("This link does not lead anywhere")),
        sentences=tuple(map(tongue.write, said)),
    )


def typed_of(fields: Mapping[str, str]) -> Typed:
    """Cut to what anybody would type."""
    return Typed(**{name: clean_text(fields.get(name, ""), 500) for name in Typed.__dataclass_fields__})


def read_answer(
    question: Question, choice: Choice, typed: Typed, programme: Programme, tongue: Tongue, now: datetime
) -> Reading:
    """What pressing a button means, with what was typed."""
    asked = question_words(question.kind, programme.name, len(question.picture_ids))
    words, value, then = tongue.write(choice.words), "", Consequences()
    if question.kind in ("consent", "guardian"):
        was_yes = question.answer is not None and question.answer.choice == "yes"
        evidence = f"{tongue.write(asked)} \u2013 {words}"
        then = Consequences(consent=consent_meant(question.kind, choice.name, evidence, question.picture_id, was_yes))
    elif question.kind == "name":
        name = first_name(typed.name) if choice.name == "first" else typed.name if choice.name == "name" else ""
        if len(name) > NAME_CHARACTERS or len(typed.taker) > NAME_CHARACTERS:
            return Reading(None, then, say("This name is too long: {most} characters at most.", most=NAME_CHARACTERS))
        if choice.name != "unnamed" and not any(c.isalpha() for c in name):
            return Reading(None, then, say("Please write the name first, or choose that no name is shown."))
        value = "; ".join(filter(None, (name, typed.taker and f"taken by {typed.taker}")))
        words = ": ".join(filter(None, (words, name)))
        if typed.taker:
            words += f" ({tongue.write(say('Who took it, if it was not you'))}: {typed.taker})"
        then = Consequences(
            changes=(DecidedChange("credit_line", {"text": name}),),
            unnamed=Suggestion("unnamed", "yes", words, "form") if choice.name == "unnamed" else None,
        )
    elif choice.name != "unknown":
        when = read_time(typed, choice.name, programme.zone, now)
        if isinstance(when, Message):
            return Reading(None, then, when)
        utc, sigma = when
        value = " ".join(filter(None, (typed.day, typed.hour, typed.zone or programme.zone)))
        words = f"{words}: {value}"
        then = Consequences(changes=(DecidedChange("time", {"utc": utc.isoformat(), "sigma_minutes": sigma}),))
    return Reading(
        Answer(
            choice=choice.name, value=value, asked=tongue.write(asked), words=words, language=tongue.code, when_utc=now
        ),
        then,
    )


def read_time(typed: Typed, choice: str, programme_zone: str, now: datetime) -> tuple[datetime, float] | Message:
    """When it was taken, and how well that is known in minutes; or what is wrong with it."""
    zone, sigma = typed.zone or programme_zone, SIGMA_MINUTES[choice]
    if zone not in _towns() and zone not in ("UTC", programme_zone):
        return say("This clock is not known here. Please choose another.")
    if not typed.day:
        return say("Please give the day first.")
    if not typed.hour and choice != "night":
        return say("Please give the time too, or choose that only the evening is certain.")
    try:
        local = datetime.fromisoformat(f"{typed.day}T{typed.hour or EVENING}")
        first, second = (local.replace(tzinfo=ZoneInfo(zone), fold=fold).astimezone(UTC) for fold in (0, 1))
    except (ValueError, OverflowError):
        return say("This is no day with a time. Please write it like 2026-05-24 and 21:30.")
    if first > second:
        return say("On that night the clocks were put forward over this time. Please check the hour.")
    if first < second:  # the clock showed it twice: the middle, which reaches to both
        half = (second - first) / 2
        first, sigma = first + half, max(sigma, half.total_seconds() / 60)
    if first > now + _AHEAD:
        return say("This time has not come yet. Please check the day.")
    if first < _EARLIEST:
        return say("This is before 1990. Please check the year.")
    return first, sigma


def _typed_before(question: Question, programme: Programme, credit: str) -> Typed:
    return Typed(name=credit, zone=programme.zone)


def _zones(tongue: Tongue, programme_zone: str) -> tuple[tuple[str, str], ...]:
    """The programme's own first."""
    first = dict.fromkeys((programme_zone, "UTC"))
    words = {
        zone: "UTC" if zone == "UTC" else tongue.write(say("the clock in {town}", town=_town(zone))) for zone in first
    }
    others = {zone: f"{_town(zone)} ({zone.partition('/')[0]})" for zone in _towns() if zone not in first}
    return tuple({**words, **others}.items())


def _town(zone: str) -> str:
    return zone.rpartition("/")[2].replace("_", " ")


@cache
def _towns() -> tuple[str, ...]:
    """Zones by the name of their town, in the order of these."""
    return tuple(sorted((z for z in available_timezones() if z.partition("/")[0] in REGIONS), key=_town))
