"""What was really on air and when, from the steps of the page on air and the times between which the edition was on. Pure.

Steps outside those times are rehearsals. Where nobody said when it was on air, the edition's planned time is taken, for as
long as `AT_MOST`: a proposal, for a person confirms what follows from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby

from moondesk.service.store.records import EditionPlan, LoggedStep, OnAirTime

#: A picture that stood in one go for so long was on air: what is only passed on the way to another is gone sooner.
#: From memory, common practice; two seconds are about what it takes to read a credit of a few words.
SHOWN_S = 3.0
#: Of an edition whose end nobody noted.
AT_MOST = timedelta(minutes=90)


@dataclass(frozen=True)
class Time:
    """A stretch that has ended, or that is looked at as if it ended now."""

    begin_utc: datetime
    end_utc: datetime


@dataclass(frozen=True)
class Run:
    """A step that the audience saw, from when to when."""

    begin_utc: datetime
    end_utc: datetime
    step: LoggedStep

    @property
    def seconds(self) -> float:
        return (self.end_utc - self.begin_utc).total_seconds()


@dataclass(frozen=True, kw_only=True)
class ShownPicture:
    """A picture that was on air. seconds: in all; longest: in one go; credit_seconds: with its credit; credit: as it
    stood, the last one."""

    picture_id: int
    item_id: int
    begin_utc: datetime
    seconds: float
    longest: float
    credit_seconds: float
    credit: str

    @property
    def counts(self) -> bool:
        return self.longest >= SHOWN_S


def times_of(plan: EditionPlan, noted: Sequence[OnAirTime], now: datetime) -> tuple[Time, ...]:
    """Between which times the edition was on air: as noted, else as planned; none before it begins. What nobody ended
    ends by itself, so that steps of the day after are none of it."""
    begin = plan.recording_utc if plan.kind == "recorded" else plan.air_utc
    every = noted or ((OnAirTime(begin, None),) if begin else ())
    ended = (Time(t.begin_utc, min(now, t.end_utc or t.begin_utc + AT_MOST)) for t in every)
    return tuple(t for t in ended if t.end_utc > t.begin_utc)


def runs_of(steps: Sequence[LoggedStep], times: Sequence[Time]) -> tuple[Run, ...]:
    """What the audience saw, in order; what stood before the edition went on air counts from then."""
    found = []
    for time in times:
        ends = [*(step.begin_utc for step in steps[1:]), time.end_utc]
        for step, until in zip(steps, ends, strict=False):
            begin, end = max(step.begin_utc, time.begin_utc), min(until, time.end_utc)
            if end > begin:
                found.append(Run(begin, end, step))
    return tuple(found)


def rehearsed(steps: Sequence[LoggedStep], runs: Sequence[Run]) -> int:
    """How many steps nobody of the audience saw."""
    return len(steps) - len({id(run.step) for run in runs})


def shown_pictures(runs: Sequence[Run]) -> tuple[ShownPicture, ...]:
    """Each picture that stood on air, however shortly, in the order of their first times."""
    found: dict[int, ShownPicture] = {}
    for picture_id, stay in sorted([*_stays(runs), *_stays([_of_other(run) for run in runs])], key=_begin):
        if picture_id is None or stay[0].step.item_id is None:
            continue
        seconds = sum(run.seconds for run in stay)
        credited = sum(run.seconds for run in stay if any(kind == "credit" for kind, _ in run.step.layers))
        before = found.get(picture_id)
        found[picture_id] = ShownPicture(
            picture_id=picture_id,
            item_id=stay[0].step.item_id,
            begin_utc=before.begin_utc if before else stay[0].begin_utc,
            seconds=seconds + (before.seconds if before else 0.0),
            longest=max(seconds, before.longest if before else 0.0),
            credit_seconds=credited + (before.credit_seconds if before else 0.0),
            credit=stay[-1].step.credit,
        )
    return tuple(found.values())


def _stays(runs: Sequence[Run]) -> list[tuple[int | None, tuple[Run, ...]]]:
    return [(picture_id, tuple(stay)) for picture_id, stay in groupby(runs, key=lambda run: run.step.picture_id)]


def _begin(stay: tuple[int | None, tuple[Run, ...]]) -> datetime:
    return stay[1][0].begin_utc


def _of_other(run: Run) -> Run:
    """The same time of the second picture."""
    step = run.step
    return replace(
        run, step=replace(step, item_id=step.other_item_id, picture_id=step.other_picture_id, credit=step.other_credit)
    )
