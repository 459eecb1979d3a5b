"""Times in words: what a careful reader makes of them, by a letter of Wednesday 25 November 2026, 10:00 at +01:00.

The table is our own, written as viewers write; none of its sentences is of the corpus.
"""

from __future__ import annotations

import random
from datetime import datetime, timedelta

import pytest

from moondesk.service.lexicons.lexicon import lexicons
from moondesk.service.programme.letter.time_words import read_time

WRITTEN = datetime.fromisoformat("2026-11-25T10:00+01:00")

#: Language, words, the time of November 2026 or "" for none, and the most that its sigma may be in minutes.
TIMES = [
    ("en", "I took this last night at half past nine.", "24 21:30", 20),
    ("en", "Taken yesterday around quarter to seven in the evening from the drive", "24 18:45", 30),
    ("en", "Shot on Monday at 9.30pm with my phone", "23 21:30", 20),
    ("en", "The Moon on 21 November 2026, 22:45, over the mill", "21 22:45", 15),
    ("en", "Captured the night before last, just after eleven", "23 23:10", 30),
    ("en", "Photo from this morning at ten past six", "25 06:10", 20),
    ("en", "Snapped it three hours ago", "25 07:00", 45),
    ("en", "Taken on the night of Sunday to Monday around midnight", "23 00:00", 30),
    ("en", "I photographed her two days ago, twenty past eight in the evening", "23 20:20", 20),
    ("en", "Saturday evening, from the pier", "21 21:00", 180),
    ("en", "Imaged 2026-11-22 at 20:15 UT", "22 21:15", 20),
    ("en", "Taken on November 20th at 7 pm", "20 19:00", 20),
    ("en", "I got this between nine and ten last night", "24 21:30", 45),
    ("en", "Your show last night at nine was lovely.", "", 0),
    ("en", "I mailed it on Monday evening.", "", 0),
    ("en", "For 20 years I have watched you at nine on Fridays.", "", 0),
    ("en", "Exposure 1/60 s at f/8, minus three degrees, telescope of 10 years", "", 0),
    ("en", "We will be away tomorrow evening at eight.", "", 0),
]  # fmt: skip


def within(words: str, code: str, wanted: str, most: int) -> bool:
    found = read_time(words, WRITTEN, (code,))
    if not wanted:
        return found is None
    at = datetime.fromisoformat(f"2026-11-{wanted}+01:00")
    return found is not None and abs(found.at - at) <= timedelta(minutes=max(10.0, found.sigma_minutes)) and (
        found.sigma_minutes <= most
    )  # fmt: skip


@pytest.mark.parametrize(("code", "words", "wanted", "most"), TIMES)
def test_times_are_read_as_a_careful_reader_would(code: str, words: str, wanted: str, most: int) -> None:
    assert within(words, code, wanted, most), read_time(words, WRITTEN, (code,))


def test_nothing_is_later_than_the_letter() -> None:
    for code, words, _, _ in TIMES:
        for hour in range(24):
            written = WRITTEN.replace(hour=hour)
            found = read_time(words, written, (code,))
            assert found is None or found.at <= written + timedelta(minutes=10), (code, words, hour)


def test_a_value_says_offset_and_sigma() -> None:
    found = read_time("Taken last night at half past nine", WRITTEN, ("en",))
    assert found
    assert found.value == "2026-11-24T21:30+01:00 ±15 min"
    assert found.words == "last night at half past nine"


def test_junk_is_no_failure() -> None:
    """Words of the lists in any order, with figures and signs: nothing raises, nothing is in the future."""
    chance = random.Random(7)
    for code, words in lexicons().items():
        said = [w for w in str(words.table.get("time", {})).split() if len(w) < 20]
        signs = [
            *said,
            *[
                "0",
                "9",
                "12",
                "24",
                "99",
                "9:30",
                "24:00",
                "31.12.",
                "30/02/2026",
                "2026-02-30",
                "%",
                ":",
                ".",
                ",",
                "!",
                "\n",
                "\x00",
                "±",
                "½",
                "十",
                "०",
                "٩",
                "9pm",
            ],
        ]
        for _ in range(60):
            text = " ".join(chance.choice(signs) for _ in range(chance.randrange(40)))
            found = read_time(text, WRITTEN, (code,))
            assert found is None or found.at <= WRITTEN + timedelta(minutes=10)
