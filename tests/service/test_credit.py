"""The credit that a sender asks for in words."""

from __future__ import annotations

import time

import pytest

from moondesk.service.programme.letter.names import Credit, credit_by_rules


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Please credit me as Ilse K. from Averim.", "Ilse K. from Averim"),
        ("Credit: Bo Lind", "Bo Lind"),
        ("credit line: \u201cThe Lind family\u201d, thank you", "The Lind family"),
        ("Photo by Dr. Mira Sand.", "Dr. Mira Sand"),
        ("\u00a9 2026 Bo Lind", "Bo Lind"),
        ("Please name me as @moonfan and not otherwise.", "@moonfan"),
        ('Call me just as "bo the seal" please', "bo the seal"),
        ("The credit should read: Jo\u00e3o P\u00e9-Leve, Averim", "Jo\u00e3o P\u00e9-Leve, Averim"),
        ("Credit: \u6708\u91ce\u3055\u304f\u3089", "\u6708\u91ce\u3055\u304f\u3089"),
        ("Hello.\nCredit me as Ilse.\nThanks", "Ilse"),
        ("Credit: Bo. Credit: Bo.", "Bo"),
        # nobody is named
        ("Credit me as you wish.", ""),
        ("Credit me as Bo. Credit: Mira.", ""),
        ("I paid by credit card.", ""),
        ("The picture by the window", ""),
        ("", ""),
        ("Credit: " + "X" * 200, ""),
    ],
)
def test_names(text, name):
    found = credit_by_rules(text)
    assert (found.name, found.unnamed) == (name, False)
    assert bool(found.words) is bool(name)


@pytest.mark.parametrize(
    "text",
    [
        "Please do not use my name.",
        "Don\u2019t show my full name on air.",
        "I would like to stay anonymous.",
        "You may show it anonymously.",
        "Credit me as Bo. No, please don't mention me.",
        "No names, please.",
    ],
)
def test_one_who_asks_not_to_be_named(text):
    found = credit_by_rules(text)
    assert (found.name, found.unnamed) == ("", True)
    assert found.words


def test_words_are_those_of_the_mail():
    assert credit_by_rules("It was cold. Please credit me as Ilse K. from Averim, thanks!") == Credit(
        "Ilse K. from Averim", False, "Please credit me as Ilse K. from Averim, thanks!"
    )


@pytest.mark.parametrize(
    "text", ["credit: " * 3000, "photo by " * 3000, "don't " * 5000, "\u00a9 " * 9000, "A. " * 9000]
)
def test_hostile_text_takes_no_time(text):
    began = time.process_time()
    credit_by_rules(text)
    assert time.process_time() - began < 2
