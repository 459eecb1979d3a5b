"""Two verdicts: where the Moon lies, and when it was taken. Each case by hand, and whole pictures from their bytes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from moondesk import Known, annotate_picture
from moondesk.checks.clock import TOLD, PictureTime, judge
from moondesk.checks.evening import VAGUE_MINUTES, judge_evening, time_to_state
from moondesk.codec import annotation_from_json, annotation_to_json
from moondesk.exports.json_line import json_line
from moondesk.files.screenshot import without_own_clock
from moondesk.records import (
    Annotation,
    Clock,
    ClockVerdict,
    EveningKnowledge,
    Place,
    Status,
    TimeCandidate,
    TimeReadings,
)
from tests.scenes import FileTags, SceneSpec, render

WHEN = datetime(2027, 3, 14, 19, 20, tzinfo=UTC)
LATE = WHEN + timedelta(days=900)
FITS = PictureTime(WHEN, 1.0, False)
BARE = FileTags(time=False, offset=False, place=False, make=None, model=None)


def taken(source: str, came: datetime | None, confirmed: str = "", sigma: float = 2.0) -> TimeReadings:
    reading = TimeCandidate(WHEN, sigma, source)
    first = None if came is None else came - timedelta(days=4)
    return TimeReadings(candidates=(reading,), earliest_utc=first, latest_utc=came, confirmed_by=confirmed)


@pytest.mark.parametrize(("what", "clock", "verdict"), [
    (taken("exif+offset", None), "agrees", "sure"),
    (taken("gps", LATE), "agrees", "sure"),
    (taken("told", None), "cannot_tell", "told"),  # its date may be one that the picture offered
    (taken("told", LATE), "cannot_tell", "told"),
    (taken("told", None, "exif+any zone"), "agrees", "sure"),  # the file's own clock says the same
    (taken("told", WHEN + timedelta(days=1)), "agrees", "sure"),  # so do the days before it came
])  # fmt: skip
def test_a_told_date_is_never_confirmed_by_the_picture_alone(what: TimeReadings, clock: str, verdict: str) -> None:
    found, time = judge(what, FITS)
    assert found.verdict == clock
    said = judge_evening(what, found, time, sure=True)
    assert said.verdict == verdict
    assert (said.reason == "") is (verdict == "sure")
    if verdict == "told":
        assert said.reason == TOLD
        assert (found.picture_utc, found.sigma_hours) == (None, None)  # no hours from a search about the told date


def test_a_told_date_that_the_picture_contradicts_is_unsure() -> None:
    what = taken("told", None)
    found, time = judge(what, PictureTime(WHEN - timedelta(hours=30), 1.0, False))
    assert (found.verdict, judge_evening(what, found, time, sure=True).verdict) == ("disagrees", "unsure")
    assert found.words.startswith("The time told is 30 h ahead of")


@pytest.mark.parametrize(("clock", "time", "sure", "verdict"), [
    (Clock(ClockVerdict.NO_CLOCK, None, None), None, True, "unknown"),
    (Clock(ClockVerdict.DISAGREES, WHEN, 1.0, "It is 8 h off."), TimeCandidate(WHEN, 60.0, "picture"), True, "unsure"),
    (Clock(ClockVerdict.CANNOT_TELL, WHEN, 1.0, "It is 4 h off."), TimeCandidate(WHEN, 2.0, "exif+offset"), True, "unsure"),
    (Clock(ClockVerdict.NO_CLOCK, WHEN, 1.0), TimeCandidate(WHEN, 60.0, "picture"), True, "sure"),  # within the days it came in
    (Clock(ClockVerdict.NO_CLOCK, WHEN, 1.0), TimeCandidate(WHEN, 60.0, "picture"), False, "unsure"),
    (Clock(ClockVerdict.NO_CLOCK, WHEN, 9.0), TimeCandidate(WHEN, 540.0, "picture"), True, "unsure"),
    (Clock(ClockVerdict.AGREES, WHEN, 1.0), TimeCandidate(WHEN, 2.0, "exif+offset"), False, "told"),
    (Clock(ClockVerdict.CANNOT_TELL, None, None), TimeCandidate(WHEN, 2.0, "exif+offset"), False, "told"),
])  # fmt: skip
def test_every_verdict_on_the_evening(clock: Clock, time: TimeCandidate | None, sure: bool, verdict: str) -> None:
    said = judge_evening(TimeReadings(candidates=(), earliest_utc=None, latest_utc=None), clock, time, sure)
    assert said.verdict == verdict
    assert (said.reason == "") is (verdict == "sure")


def test_only_a_time_that_is_known_is_stated() -> None:
    time = TimeCandidate(WHEN, VAGUE_MINUTES, "exif+offset")
    bare = Annotation(
        status=Status.ANNOTATED,
        sure=True,
        width=9,
        height=9,
        taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=time,
        clock=Clock(ClockVerdict.AGREES, None, None),
    )
    assert time_to_state(bare) is None  # nobody has given the verdict yet
    for verdict, stated in (("sure", True), ("told", True), ("unsure", False), ("unknown", False)):
        a = replace(bare, dated=EveningKnowledge(verdict))  # type: ignore[arg-type]
        assert (time_to_state(a) is time) is stated
        assert time_to_state(replace(a, time=replace(time, sigma_minutes=VAGUE_MINUTES + 1))) is None


def spec(tags: FileTags) -> SceneSpec:
    return SceneSpec(WHEN, Place(45.0, 12.0), x=318.4, y=245.7, radius_px=181.3, north_screen_deg=67.0, width=640,
                     height=480, seed=3, tags=tags)  # fmt: skip


def test_an_undated_picture_has_sure_names_and_an_unknown_evening_and_its_own_candidates_stay_told() -> None:
    data = render(spec(BARE)).data
    undated = annotate_picture(data, Known(now_utc=LATE))
    assert (undated.sure, undated.dated.verdict, undated.time) == (True, "unknown", None)
    assert undated.clock.picture_utc is None
    assert len(undated.evenings) > 1
    line = json_line("a.jpg", "", undated)
    assert (line["sure"], line["evening"]["verdict"], line["taken"]["utc"]) == (True, "unknown", None)
    assert annotation_from_json(annotation_to_json(undated)).dated == undated.dated
    for evening in undated.evenings[:3]:  # whichever a person types, the picture proves none of them
        told = annotate_picture(data, Known(taken_utc=evening.utc))
        assert (told.sure, told.dated.verdict, told.clock.verdict) == (True, "told", "cannot_tell")
        assert told.time is not None
        assert told.time.source == "told"


def test_a_screenshots_own_clock_is_not_accused() -> None:
    """Its file says when the screenshot was made, which says nothing of the photograph."""
    reading = TimeCandidate(WHEN, 2.0, "exif+offset", 1.0)
    days = WHEN - timedelta(days=3), WHEN + timedelta(days=1)
    own = without_own_clock(
        TimeReadings(candidates=(reading,), earliest_utc=days[0], latest_utc=days[1], local_text="2027-03-14 20:20:00")
    )
    found, time = judge(own, FITS)
    assert found.verdict == "no_clock"
    assert time is not None
    assert time.source == "picture"
    told = without_own_clock(
        TimeReadings(
            candidates=(replace(reading, source="told"),),
            earliest_utc=None,
            latest_utc=None,
            confirmed_by="exif+offset",
        )
    )
    assert judge(told, FITS)[0].words == TOLD  # nor does it confirm what somebody told
