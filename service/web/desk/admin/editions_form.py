"""The form of one edition: its plan, times by the programme's clock, or a sentence for each wrong field. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from moondesk.service.store.records import EditionKind, EditionPlan
from moondesk.service.web.public.form import local_time

HIGHEST_NUMBER = 1_000_000
#: Evenings that the form has room for beside those of the plan.
ROOM, LEAST_ROOM = 1, 3
KINDS = (("live", "As it goes out"), ("recorded", "Recorded ahead"))


@dataclass(frozen=True, kw_only=True)
class TypedEdition:
    """The fields as typed; times like 2026-05-24T21:30 by the programme's clock, evenings like 2026-05-24."""

    number: str = ""
    kind: str = "live"
    recording: str = ""
    air: str = ""
    evenings: tuple[str, ...] = ("",) * LEAST_ROOM


@dataclass(frozen=True)
class EditionReading:
    """plan None: `complaints` says by field what is wrong. Its day number is not counted yet."""

    typed: TypedEdition
    plan: EditionPlan | None
    complaints: Mapping[str, str]


def read_plan(plan: EditionPlan, zone: str) -> TypedEdition:
    clock = ZoneInfo(zone)

    def local(when: datetime | None) -> str:
        return f"{when.astimezone(clock):%Y-%m-%dT%H:%M}" if when else ""

    return TypedEdition(
        number=str(plan.number),
        kind=plan.kind,
        recording=local(plan.recording_utc),
        air=local(plan.air_utc),
        evenings=_with_room(tuple(e.isoformat() for e in plan.evenings)),
    )


def read_edition_form(form: Mapping[str, str], evenings: list[str], zone: str) -> EditionReading:
    """evenings: all fields of that name. An edition without times and evenings is one that is not settled yet."""
    given = [e.strip()[:40] for e in evenings[:60] if e.strip()]
    number, kind, recorded, aired = (form.get(name, "")[:60].strip() for name in ("number", "kind", "recording", "air"))
    typed = TypedEdition(number=number, kind=kind, recording=recorded, air=aired, evenings=_with_room(tuple(given)))
    wrong: dict[str, str] = {}
    if not re.fullmatch(r"[0-9]{1,7}", typed.number, re.ASCII) or not 1 <= int(typed.number) <= HIGHEST_NUMBER:
        wrong["number"] = "Please type the edition's number, like 412."
    if typed.kind not in dict(KINDS):
        wrong["kind"] = "Please choose one of the list."
    recording = _time("recording", typed.recording, zone, wrong)
    air = _time("air", typed.air, zone, wrong)
    if typed.kind == "live" and typed.recording and "recording" not in wrong:
        wrong["recording"] = (
            "An edition that is made as it goes out has no time of recording. Leave it empty, or choose Recorded ahead."
        )
    elif recording and air and air <= recording:
        wrong["air"] = "It goes on air after it is recorded. Please check both times."
    days = []
    for text in given:
        try:
            days.append(date.fromisoformat(text))
        except ValueError:
            wrong["evenings"] = f"{text} is no day. Please write it like 2026-05-24."
    if any(not 1900 <= day.year < 2100 for day in days):
        wrong["evenings"] = "The Moon's calendar here covers 1900 to 2099. Please check the year."
    if wrong:
        return EditionReading(typed, None, wrong)
    sort: EditionKind = "recorded" if typed.kind == "recorded" else "live"
    return EditionReading(
        typed,
        EditionPlan(
            number=int(typed.number), kind=sort, recording_utc=recording, air_utc=air, evenings=tuple(sorted(set(days)))
        ),
        {},
    )


def _time(name: str, text: str, zone: str, wrong: dict[str, str]) -> datetime | None:
    if not text:
        return None
    try:
        when, _ = local_time(text, zone)
    except ValueError as error:
        wrong[name] = str(error)
        return None
    if when is None:
        wrong[name] = "On that night the clocks show this hour twice. Please take a time before or after it."
    return when


def _with_room(evenings: tuple[str, ...]) -> tuple[str, ...]:
    return (*evenings, *[""] * max(ROOM, LEAST_ROOM - len(evenings)))
