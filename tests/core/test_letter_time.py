"""A time that the sender's letter gives: one reading more, which the Moon's light bears out or contradicts."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from moondesk.checks.clock import PictureTime, judge
from moondesk.checks.evening import judge_evening, time_without_light
from moondesk.files.time_taken import read_taken
from moondesk.records import ClockVerdict, EveningVerdict, Known, TimeCandidate, TimeReadings

SAID = TimeCandidate(datetime(2026, 11, 24, 19, 30, tzinfo=UTC), 15.0, "letter", 2.0)
RECEIVED = datetime(2026, 11, 25, 6, tzinfo=UTC)
NOTHING = b""


def readings(*more: TimeCandidate) -> TimeReadings:
    return TimeReadings(
        candidates=(*more, SAID), earliest_utc=RECEIVED - timedelta(days=4), latest_utc=RECEIVED, local_text=None
    )


def light(hours: float, sigma: float = 1.5) -> PictureTime:
    return PictureTime(SAID.utc + timedelta(hours=hours), sigma, False)


def test_a_letter_gives_one_reading_where_the_file_has_none() -> None:
    assert read_taken(NOTHING, Known(received_utc=RECEIVED, letter=SAID)).candidates == (SAID,)
    assert read_taken(NOTHING, Known(received_utc=RECEIVED)).candidates == ()


def test_what_a_person_told_leaves_the_letter_aside() -> None:
    taken = read_taken(NOTHING, Known(received_utc=RECEIVED, taken_utc=SAID.utc, letter=SAID))
    assert [c.source for c in taken.candidates] == ["told"]


def test_a_letter_that_speaks_of_what_is_to_come_is_not_used() -> None:
    taken = read_taken(NOTHING, Known(received_utc=SAID.utc - timedelta(hours=2), letter=SAID))
    assert taken.candidates == ()
    assert "later than its arrival" in taken.remarks[-1]


def test_light_that_agrees_makes_the_evening_sure() -> None:
    taken = readings()
    clock, time = judge(taken, light(1.0))
    assert clock.verdict is ClockVerdict.AGREES
    assert time is not None
    assert abs(time.utc - SAID.utc) < timedelta(minutes=10)
    assert time.sigma_minutes <= 15.0
    assert judge_evening(taken, clock, time, True).verdict is EveningVerdict.SURE
    assert judge_evening(taken, clock, time, False).verdict is EveningVerdict.UNSURE


def test_a_part_of_the_day_and_the_light_narrow_each_other() -> None:
    wide = TimeCandidate(SAID.utc, 480.0, "letter", 2.0)
    taken = TimeReadings(candidates=(wide,), earliest_utc=RECEIVED - timedelta(days=4), latest_utc=RECEIVED)
    clock, time = judge(taken, light(6.0))
    assert clock.verdict is ClockVerdict.AGREES
    assert time is not None
    assert timedelta(hours=5) < time.utc - SAID.utc < timedelta(hours=6)
    assert time.sigma_minutes < 90.0


def test_light_that_contradicts_it_is_told_and_the_time_is_not_used() -> None:
    taken = readings()
    clock, time = judge(taken, light(-40.0))
    assert clock.verdict is ClockVerdict.DISAGREES
    assert clock.words == (
        "The letter says 24 November 2026, 19:30 UTC; the Moon's light says 23 November 2026, 03:30 UTC: "
        "the letter's time is not used."
    )
    assert time is not None
    assert time.source == "picture"
    assert judge_evening(taken, clock, time, True).verdict is EveningVerdict.UNSURE


def test_without_light_the_letter_alone_is_not_sure() -> None:
    taken = readings()
    clock, time = time_without_light(taken)
    assert time == SAID
    assert judge_evening(taken, clock, time, False).verdict is EveningVerdict.UNSURE


def test_beside_a_clock_the_light_chooses() -> None:
    clock_time = TimeCandidate(SAID.utc - timedelta(hours=48), 2.0, "exif+offset", 2.0)
    taken = readings(clock_time)
    assert judge(taken, light(0.5))[1].source == "letter"  # type: ignore[union-attr]
    assert judge(taken, light(-48.0))[1] == clock_time
    assert time_without_light(taken)[1] == clock_time
