"""What of a letter may be told on air: sentences as people write them, invented."""

from __future__ import annotations

import pytest

from moondesk.service.programme.letter.stories import read_story


@pytest.mark.parametrize(
    ("letter", "story"),
    [
        (
            "Good evening! Here is my Moon. It is the first picture from the telescope that my grandfather and I built.",
            "It is the first picture from the telescope that my grandfather and I built.",
        ),
        (
            "Hallo. Das Fernrohr hat mir meine Oma zum Geburtstag geschenkt. Viele Grüße",
            "Das Fernrohr hat mir meine Oma zum Geburtstag geschenkt.",
        ),
        (
            "Здравейте! Това е първата ми снимка, правена с телескопа на дядо. Поздрави",
            "Това е първата ми снимка, правена с телескопа на дядо.",
        ),
        (
            "こんばんは。祖父の形見の望遠鏡で初めて月を撮りました。よろしくお願いします。",
            "祖父の形見の望遠鏡で初めて月を撮りました。",
        ),
        ("Here is the Moon of last night, taken with a phone.", ""),
        ("", ""),
    ],
)
def test_stories(letter, story):
    assert read_story(letter) == story


def test_a_story_is_told_in_a_breath():
    assert read_story("It is my first picture " + "and a long one " * 40) == ""
