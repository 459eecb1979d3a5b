"""Consent in words: a mail's yes is a suggestion, its no is a no, and what is neither is told as neither."""

from __future__ import annotations

import time

import pytest

from moondesk.service.programme.consent.wording import consent_in_mail, consent_in_table


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("You may show my picture on air.", "suggested"),
        ("Feel free to use it.", "suggested"),
        ("You're welcome to broadcast it with my name.", "suggested"),
        ("I agree to the terms.", "suggested"),
        ("We hereby consent.", "suggested"),
        ("I give you my permission.", "suggested"),
        ("The picture may be shown.", "suggested"),
        ("I have no objection to you showing it.", "suggested"),
        ("Please use my photo!", "suggested"),
        ("Do not hesitate to show it.", "suggested"),
        ("Show it if you like.", "suggested"),
        ("I'm fine with you showing the photo on TV.", "suggested"),
        ("I have not used a filter. The picture does not show the whole Moon. You may show it.", "suggested"),
        # a no
        ("I'd rather you didn't show this.", "refused"),
        ("I don't want my photo on TV.", "refused"),
        ("You have no permission to use it.", "refused"),
        ("Please do not show it on air.", "refused"),
        ("Don't use my name or publish the picture.", "refused"),
        ("Don\u2019t broadcast this, please.", "refused"),
        ("This is not for broadcast.", "refused"),
        ("You may not show it.", "refused"),
        ("I do not give my permission.", "refused"),
        ("You can look at it but never publish it.", "refused"),
        ("Only for you: my first Moon.", "refused"),
        ("You may show it. No, I changed my mind, do not air it!", "refused"),
        # neither
        ("You may show it if you name me.", "unclear"),
        ("You can use it for a fee.", "unclear"),
        ("Could you show it tonight?", "unclear"),
        ("I hope you show it.", "suggested"),
        ("You may use it, but ask me first.", "unclear"),
        ("You may show it. You may use it only tonight.", "unclear"),
        # nothing said
        ("", "none"),
        ("Here is my Moon of last night.", "none"),
        ("I used a 6 inch Dobsonian, with my phone at the eyepiece.", "none"),
        ("The picture shows Tycho.", "none"),
        ("My phone did not show it, and I did not use a filter.", "none"),
        ("Please only use my first name.", "none"),
        ("I watch your show every week.", "none"),
    ],
)
def test_a_mails_words(text, state):
    found = consent_in_mail(text)
    assert (found.state, found.minor) == (state, False), found
    assert (found.kind, bool(found.evidence)) == (("mail", True) if state != "none" else ("", False))


def test_the_evidence_is_every_sentence_about_it_word_for_word():
    text = "Hello.\nYou may show it. It was cold. Please do not\npublish my address.\n\nIlse"
    assert consent_in_mail(text).evidence == "Please do not publish my address. You may show it."


@pytest.mark.parametrize(
    ("text", "minor"),
    [
        ("My daughter took this picture.", True),
        ("Photographed by my grandson.", True),
        ("I am 12 years old.", True),
        ("I'm 9 and I love the Moon.", True),
        ("Mira (11) held the phone.", True),
        ("Our school class watched it.", True),
        ("An 8-year-old's Moon.", True),
        ("I am 61 years old.", False),
        ("My daughter waited with me.", False),
        ("It is 12 days old.", False),
        ("The eyepiece is 10 mm.", False),
        ("I am 45.", False),
    ],
)
def test_a_childs_picture_is_noticed(text, minor):
    assert consent_in_mail(text).minor is minor


@pytest.mark.parametrize(
    ("cell", "state", "kind"),
    [
        ("yes by form", "given", "form"),
        ("yes", "given", "table"),
        ("told by phone", "given", "phone"),
        ("OK, in person", "given", "person"),
        ("signed form", "given", "form"),
        ("yes, by e-mail", "given", "mail"),
        ("Yes, gladly.", "given", "table"),
        ("Yes, with my name.", "given", "table"),
        ("You are welcome to use it.", "given", "table"),
        ("Yes, do not hesitate", "given", "table"),
        ("Yes, if you name me", "unclear", "table"),
        ("You may show it but not my name", "refused", "table"),
        ("Yes, you may show it on the programme and on your page.", "given", "table"),
        ("no", "refused", "table"),
        ("Not given", "refused", "table"),
        ("refused by phone", "refused", "phone"),
        ("yes, later withdrawn", "refused", "table"),
        ("asked", "unclear", "table"),
        ("yes?", "unclear", "table"),
        ("pending", "unclear", "table"),
        ("see letter", "unclear", "mail"),
        ("her brother", "unclear", "table"),
        ("only tonight", "unclear", "table"),
        ("", "none", ""),
        ("-", "none", ""),
        ("n/a", "none", ""),
        ("  ", "none", ""),
    ],
)
def test_the_tables_words(cell, state, kind):
    found = consent_in_table(cell)
    assert (found.state, found.kind) == (state, kind)


@pytest.mark.parametrize("text", ["you " * 8000, "do not " * 5000, "my daughter " * 3000, "(" * 20_000, "i am " * 5000])
def test_hostile_text_takes_no_time(text):
    began = time.process_time()
    consent_in_mail(text)
    assert time.process_time() - began < 2
