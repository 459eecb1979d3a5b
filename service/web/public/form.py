"""The public form: what the page sends back, as a `SubmissionForm` or as a sentence for each field that is wrong. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from moondesk.notes.messages import Message, in_english, say
from moondesk.sentences import Sentence, sentence
from moondesk.service.intake.forms import SubmissionForm
from moondesk.service.languages import ENGLISH
from moondesk.service.languages.catalogue import Language
from moondesk.service.store.records import ConsentRecord
from moondesk.service.texts import clean_lines, clean_text

NAME_CHARACTERS = 80
ADDRESS_CHARACTERS = 254  # the longest path of RFC 5321, 4.5.3.1.3, without its brackets
PLACE_CHARACTERS = 120
WORDS_CHARACTERS = 500
STORY_CHARACTERS = 2_000

#: The sentences that are ticked, kept word for word with the submission.
AGREED = say("I took these pictures, or may decide about them. The programme may show them, with the name given here.")
GUARDIAN_AGREED = say(
    "I am a parent or guardian of the child who took these pictures, and I agree to it for the child."
)
_ADDRESS = re.compile(r"[^@\s,;<>\"]+@[^@\s,;<>\"]+\.[^@\s,;<>\".]{2,}")
_EARLIEST = datetime(1990, 1, 1, tzinfo=UTC)
#: A clock that runs ahead is told from a date in the future by this.
_AHEAD = timedelta(hours=1)


@dataclass(frozen=True, kw_only=True)
class FormValues:
    """The form's fields as typed, so that a page that complains shows them again. Ticks are "yes" or ""."""

    name: str = ""
    address: str = ""
    place: str = ""
    taken: str = ""
    zone: str = ""
    equipment: str = ""
    agreed: str = ""
    minor: str = ""
    guardian: str = ""
    guardian_agreed: str = ""
    story: str = ""


@dataclass(frozen=True)
class FormReading:
    """Form None: `complaints` says by field what is wrong."""

    typed: FormValues
    form: SubmissionForm | None
    complaints: Mapping[str, Message] = field(default_factory=dict)


def form_values_of(fields: Mapping[str, str]) -> FormValues:
    """Cut to what a page would let anybody type, with room for the complaint that it is too long."""
    return FormValues(
        **{name: fields.get(name, "")[:4_000].replace("\0", "") for name in FormValues.__dataclass_fields__}
    )


def read_form(
    fields: Mapping[str, str], form_id: str, programme_zone: str, now: datetime, language: Language | None = None
) -> FormReading:
    """The form that was sent. now: tells a time in the future; language: in which it was shown, None: English."""
    shown, typed, remarks = language or Language(), form_values_of(fields), []
    wrong: dict[str, Message] = {}
    texts = {}
    for name, most in (
        ("name", NAME_CHARACTERS),
        ("address", ADDRESS_CHARACTERS),
        ("place", PLACE_CHARACTERS),
        ("equipment", WORDS_CHARACTERS),
        ("guardian", NAME_CHARACTERS),
    ):
        texts[name] = clean_text(getattr(typed, name), 2_000)
        if len(texts[name]) > most:
            wrong[name] = say("Please keep it to {most} characters; it has {count}.", most=most, count=len(texts[name]))
    if texts["address"] and "address" not in wrong and not _ADDRESS.fullmatch(texts["address"]):
        wrong["address"] = say("This is no complete mail address. Please correct it, or leave it empty.")
    story = clean_lines(typed.story)
    if len(story) > STORY_CHARACTERS:
        wrong["story"] = say(
            "Please keep it to {most} characters; it has {count}.", most=STORY_CHARACTERS, count=len(story)
        )
    taken = None
    if typed.taken.strip():
        zone = typed.zone or programme_zone
        try:
            taken, remark = local_time(typed.taken, zone)
            remarks += [remark] if remark else []
        except NoTimeError as error:
            wrong["taken"] = error.said
        if taken and taken > now + _AHEAD:
            wrong["taken"] = say("This time has not come yet. Please check the day, or leave it empty.")
        elif taken and taken < _EARLIEST:
            wrong["taken"] = say("This is before 1990. Please check the year, or leave it empty.")
    if not typed.agreed:
        wrong["agreed"] = say("Without this tick we may not show your pictures, so we do not take them.")
    if typed.minor and not texts["guardian"]:
        wrong["guardian"] = say("Please write the name of the parent or guardian.")
    if typed.minor and not typed.guardian_agreed:
        wrong["guardian_agreed"] = say("Please let a parent or guardian tick this.")
    if wrong:
        return FormReading(typed, None, wrong)
    evidence = shown.write(AGREED)
    if shown.code != ENGLISH:
        evidence += f" [{shown.code}]"
    if typed.minor:
        evidence += f" {shown.write(GUARDIAN_AGREED)} ({texts['guardian']})"
    consent = ConsentRecord(
        state="given",
        kind="form",
        evidence=evidence,
        noted_by="the sender, on the upload page",
        guardian=bool(typed.minor),
        minor=bool(typed.minor),
    )
    form = SubmissionForm(
        source="form",
        form_id=form_id,
        name=texts["name"],
        unnamed=not texts["name"],
        address=texts["address"],
        place_name=texts["place"],
        taken_utc=taken,
        equipment=texts["equipment"],
        consent=consent,
        remarks=tuple(remarks),
        story=story,
        language=shown.code,
    )
    return FormReading(typed, form)


class NoTimeError(ValueError):
    """What was typed is no time; said: a sentence for who typed it."""

    def __init__(self, said: Message) -> None:
        super().__init__(in_english(said))
        self.said = said


def local_time(text: str, zone: str) -> tuple[datetime | None, Sentence | None]:
    """UTC of what a clock in a zone showed, and a remark. Raises NoTimeError.

    None with a remark where the clock showed it twice (the end of summer time): guessing would be wrong half the time.
    """
    try:
        local = datetime.fromisoformat(text.strip())
    except ValueError:
        raise NoTimeError(say("This is no day with a time. Please write it like 2026-05-24T21:30.")) from None
    try:
        clock = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise NoTimeError(say("This time zone is not known here. Please choose another.")) from None
    if local.tzinfo is not None:
        return local.astimezone(UTC), None
    try:
        first, second = (local.replace(tzinfo=clock, fold=fold).astimezone(UTC) for fold in (0, 1))
    except OverflowError:
        raise NoTimeError(say("This year cannot be. Please check it.")) from None
    if first == second:
        return first, None
    if first > second:  # the clocks jumped over it
        raise NoTimeError(say("On that night the clocks were put forward over this time. Please check the hour."))
    return None, sentence(
        "clock_twice", local=f"{local:%Y-%m-%d %H:%M}", zone=zone, first=f"{first:%H:%M}", second=f"{second:%H:%M}"
    )
