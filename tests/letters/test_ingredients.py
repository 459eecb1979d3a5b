"""A yes and a no by what they are made of: see `moondesk.service.programme.letter.ingredients`."""

import pytest

from moondesk.service.lexicons.lexicon import Lexicon
from moondesk.service.programme.letter.ingredients import agrees, answers, assents, denies, takes_back

WORDS = Lexicon(
    {
        "code": "xx",
        "name": "None",
        "scripts": ["LATIN"],
        "known": "",
        "class": {"show": "show* air*"},
        "consent": {"yes": ["i agree", "show it"], "turned": "not"},
        "assent": {
            "leave": "may gladly",
            "pleased": ["(happy|proud) .. (if|when)"],
            "shown": ["<show>", "use (it|this)"],
            "aside": ["not (very)? sharp"],
            "spoilt": "not only",
            "parts": ["but"],
            "answers": ["whether .... yes"],
        },
        "denial": {"no": "not", "shown": ["<show>"], "parts": ["but"]},
        "undoing": {"undo": "delete", "sent": "picture"},
    }
)


@pytest.mark.parametrize(
    ("text", "agrees"),
    [
        ("you may of course show the thing", True),
        ("show it gladly", True),
        ("proud would i be if you aired it", True),
        ("it is not very sharp, you may use it", True),
        ("you may show it, only blur the house", False),
        ("you may not show it", False),
        ("you may come; they show stars", False),
        ("you may come but they show stars", False),
        ("you may " + "or " * 12 + "show", False),
        ("may", False),
    ],
)
def test_a_mark_of_assent_near_one_of_showing_is_a_yes_where_nothing_spoils_it(text: str, agrees: bool) -> None:
    assert assents(text, WORDS) is agrees


@pytest.mark.parametrize(
    ("text", "agreed"),
    [
        ("i agree", True),
        ("i agree not", False),
        ("i agree not, show it", True),
        ("it is not sharp, i agree", True),
        ("not show it or i agree, or not", False),
    ],
)
def test_a_listed_yes_is_turned_by_a_no_in_its_part_of_the_sentence(text: str, agreed: bool) -> None:
    assert agrees(text, WORDS) is agreed


def test_an_answer_is_a_yes_by_itself() -> None:
    assert answers("you ask whether you can have it, yes", WORDS)
    assert not answers("you ask whether you can have it, yes, only not now", WORDS)


def test_a_no_near_showing_is_a_no() -> None:
    assert denies("do not, if you please, show it", WORDS)
    assert not denies("it is not sharp but show it", WORDS)


def test_what_undoes_near_what_was_sent_takes_it_back() -> None:
    assert takes_back("please delete the picture", WORDS)
    assert not takes_back("the picture", WORDS)


def test_a_language_without_marks_says_nothing() -> None:
    bare = Lexicon({"code": "xy", "name": "None", "scripts": ["LATIN"], "known": ""})
    assert not any(says("you may show it", bare) for says in (answers, assents, denies, takes_back))
