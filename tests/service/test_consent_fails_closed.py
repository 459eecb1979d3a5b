"""With the programme's terms set, a mail is agreed to by entering only where all of its words were understood."""

from __future__ import annotations

import re
from email.message import EmailMessage

import pytest

from moondesk.service.intake.mail import read_mail
from moondesk.service.intake.reading import mail_arrival
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.programme.consent.wording import consent_in_mail, consent_in_table, read_words
from moondesk.service.programme.letter.names import read_credit
from moondesk.service.programme.letter.reading import read_letter
from moondesk.service.programme.mail_text import parts_of
from moondesk.service.programme.permission import permission
from moondesk.service.settings.config import IntakeLimits
from tests.service.consent_mails import (
    DISCLAIMER,
    ENGLISH_CHILD,
    ENGLISH_NO,
    ENGLISH_NO_FREELY,
    FOREIGN,
    ORDINARY,
    ORDINARY_TOO,
)
from tests.service.fakes import png

TERMS = "By sending a picture you let us show it."


def written(subject: str, body: str, sender: str = "Ann Lee <ann@example.org>", **heads: str) -> EmailMessage:
    """A mail with one picture."""
    mail = EmailMessage()
    mail["From"], mail["Subject"], mail["Message-ID"] = sender, subject, "<1@example.org>"
    for name, value in heads.items():
        mail[name.replace("_", "-")] = value
    mail.set_content(body)
    mail.add_attachment(png(300, 300), maintype="image", subtype="png", filename="IMG_0001.png")
    return mail


def standing(mail: EmailMessage):
    """How the picture of a mail stands, with terms."""
    received = ReceivedItem(data=mail.as_bytes(), origin="m.eml", name="m.eml", source="mail")
    arrival, _ = mail_arrival(received, "mail:1", IntakeLimits())
    return permission(arrival, 1, TERMS)


def test_the_corpus_holds_what_it_should():
    for language in ("bg", "de", "fr", "es", "pt", "hi", "mr", "ja", "ar"):
        mine = [m for m in FOREIGN if m.language == language]
        assert len(mine) >= 5, language
        assert {m.kind for m in mine} == {"refusal", "withdrawal", "child", "consent"}, language
    assert len(FOREIGN) >= 46
    assert len(ORDINARY) >= 25


@pytest.mark.parametrize("mail", FOREIGN, ids=lambda m: f"{m.language}-{m.kind}")
def test_no_mail_in_another_language_is_ready_by_itself(mail):
    may = standing(written(mail.subject, mail.body))
    assert not may.given
    # with a list of its language a child's picture waits for the guardian, and a yes for who confirms it
    read = may.consent.minor or (mail.kind == "consent" and may.consent.state == "suggested")
    assert read or may.consent.state in ("unclear", "refused"), may.consent
    assert may.consent.evidence, "there is nothing to read for whoever decides"


@pytest.mark.parametrize("sentence", ENGLISH_NO)
def test_every_way_to_say_no_is_refused_or_unclear(sentence):
    assert consent_in_mail(sentence).state in ("refused", "unclear")
    assert not standing(written("Moon", f"Hello, here is my Moon.\n\n{sentence}\n\nAnn Lee")).given


def test_nor_is_any_that_says_it_in_its_own_way():
    ready = [
        s
        for s in ENGLISH_NO_FREELY
        if consent_in_mail(f"Hello, here is my Moon.\n\n{s}\n\nAnn").state not in ("refused", "unclear")
    ]
    assert ready == []


def test_most_other_ordinary_mails_are_understood():
    open_ones = []
    for subject, body in ORDINARY_TOO:
        parts = parts_of(body)
        said, read = read_words(subject, parts.words("own"), "", parts.words("signature"))
        open_ones += [] if (said.state, read) == ("none", "understood") else [body]
    assert open_ones == []


@pytest.mark.parametrize("sentence", ENGLISH_CHILD)
def test_no_childs_picture_is_ready_by_itself(sentence):
    may = standing(written("Moon", f"Good evening! {sentence} Best wishes, Ann Lee"))
    assert not may.given
    assert may.consent.minor or may.consent.state == "unclear"


@pytest.mark.parametrize(("subject", "body"), ORDINARY)
def test_an_ordinary_mail_is_taken_by_the_terms(subject, body):
    """Failing closed must not make every mail wait: else nobody looks any more."""
    may = standing(written(subject, body))
    assert may.given, may.consent
    assert (may.consent.kind, may.consent.minor) == ("terms", False)


@pytest.mark.parametrize(("subject", "body"), ORDINARY)
def test_an_ordinary_mail_says_nothing_without_terms(subject, body):
    received = ReceivedItem(data=written(subject, body).as_bytes(), origin="m.eml", name="m.eml", source="mail")
    assert permission(mail_arrival(received, "mail:1", IntakeLimits())[0], 1).reasons == ("none",)


def test_a_companys_words_below_a_mail_are_unclear_and_no_refusal():
    assert consent_in_mail(DISCLAIMER).state == "unclear"
    assert consent_in_mail("You may show it on air.\n" + DISCLAIMER).state == "suggested"
    assert consent_in_mail("Please do not show it.\n" + DISCLAIMER).state == "refused"
    assert standing(written("Moon", DISCLAIMER)).reasons == ("unclear",)
    below = DISCLAIMER.replace("\n\nThis e-mail", "\n-- \nExample Ltd.\nThis e-mail")
    assert standing(written("Moon", below)).reasons == ("unclear",)


@pytest.mark.parametrize(
    "sentence",
    [
        "It is 10 degrees up.",
        "My telescope is 12 years old.",
        "Seeing is 6 of 10.",
        "The Moon is 9 days old.",
        "I am 12 km from Cork.",
        "The exposure is 8 seconds.",
        "It was my first class of object.",
        "Oh boy, was it cold!",
    ],
)
def test_numbers_and_words_about_other_things_are_no_child(sentence):
    found = consent_in_mail(sentence)
    assert (found.minor, found.state) == (False, "none")


#: Heads of quoted mails as mail programs of these languages write them; no line below carries a mark.
HEADS = {
    "de": "Von: Mondstunde <studio@example.org>\nGesendet: Dienstag, 24. November 2026 19:30\nBetreff: Ihr Bild",
    "fr": "De : Heure de la Lune <studio@example.org>\nEnvoyé : mardi 24 novembre 2026 19:30",
    "es": "De: La hora de la Luna <studio@example.org>\nEnviado: martes, 24 de noviembre de 2026 19:30",
    "pt": "Em ter., 24 de nov. de 2026 às 19:30, A hora da Lua <studio@example.org> escreveu:",
    "bg": "На вт, 24.11.2026 г. в 19:30 Лунен час <studio@example.org> написа:",
    "bg2": "От: Лунен час <studio@example.org>\nИзпратено: вторник, 24 ноември 2026 г. 19:30",
    "ja": "2026年11月24日(火) 19:30 月の時間 <studio@example.org>:",
    "hi": "मंगल, 24 नव॰ 2026 को 19:30 बजे को चाँद का समय <studio@example.org> ने लिखा:",
    "ar": "في الثلاثاء، 24 نوفمبر 2026 في 19:30 كتب ساعة القمر <studio@example.org>:",
}
OURS = (
    "Thank you for your picture. We use a 400 mm telescope with a 9 mm eyepiece. You may use our picture as you "
    "like. Please credit us as Studio Nine."
)


@pytest.mark.parametrize("language", HEADS)
def test_a_quoted_mail_under_any_head_is_not_the_senders_word(language):
    mail = read_mail(written("Re: Moon", f"Hello, here is another one.\n\n{HEADS[language]}\n\n{OURS}").as_bytes())
    suggested = {s.field: s.value for s in read_letter(mail.subject, mail.sender_name, mail.body).facts}
    assert suggested.get("consent") == "unclear", suggested
    assert not {"aperture_mm", "eyepiece_mm", "credit"} & set(suggested)
    assert not standing(written("Re: Moon", f"Hello, here is another one.\n\n{HEADS[language]}\n\n{OURS}")).given


def test_an_answer_below_what_it_quotes_is_read():
    asked = "On Mon, 1 June 2026 at 20:00, Studio <s@example.org> wrote:\n> May we show it?\n\n"
    assert read_mail(written("Re: Moon", asked + "No, please do not show it.").as_bytes()).text == (
        "No, please do not show it."
    )
    assert standing(written("Re: Moon", asked + "No.")).reasons == ("unclear",)


def test_a_mail_of_quoted_words_alone_is_unclear():
    assert standing(
        written("Fwd: Moon", "---------- Forwarded message ----------\nFrom: Bo <bo@example.org>\n\nHere is my Moon.")
    ).reasons == ("unclear",)


def test_words_that_are_not_read_leave_it_unclear():
    document = written("Moon", "Hello, here is my Moon.")
    document.add_attachment(b"%PDF-1.7", maintype="application", subtype="pdf", filename="letter.pdf")
    assert standing(document).reasons == ("unclear",)
    note = written("Moon", "Hello, here is my Moon.")
    note.add_attachment("Please do not show it.", filename="note.txt")
    assert standing(note).reasons == ("unclear",)
    long = written("Moon", "Hello, here is my Moon.\n" * 500)
    assert standing(long).reasons == ("unclear",)
    html = written("Moon", "Hello, here is my Moon.")
    html.get_payload()[0].add_alternative("<p>Hello, here is my Moon.</p><p>Bitte nicht senden!</p>", subtype="html")
    assert standing(html).reasons == ("unclear",)
    same = written("Moon", "Hello, here is my Moon.")
    same.get_payload()[0].add_alternative("<p>Hello, here is my <b>Moon</b>.</p>", subtype="html")
    assert standing(same).given


def test_a_childs_name_in_the_from_line_is_seen():
    assert standing(written("Moon", "Here is my Moon.", "Lucy (9) <lucy@example.org>")).reasons == ("minor",)


def test_a_name_in_another_script_is_no_other_language():
    body = "Good evening, here is the Moon from my garden.\n\nBest regards,\nЛидия Караманова"
    assert standing(written("Moon", body, "Лидия Караманова <lidia@example.org>")).given
    assert not standing(
        written("Moon", body.replace("Караманова", "не показвайте"), "Лидия Караманова <lidia@example.org>")
    ).given


def test_a_yes_beside_words_of_another_language_is_not_confirmed_for_anybody():
    assert read_words("", "You may show it. Tylko bez mojego nazwiska.")[0].state == "unclear"
    assert read_words("", "You may show it. Greetings, Ann", sender="Ann")[0].state == "suggested"
    assert consent_in_mail("You used my friend's picture last week, thanks!").state == "none"


@pytest.mark.parametrize(
    ("cell", "state"),
    [
        ("Ja, aber nicht im Fernsehen", "refused"),
        ("да", "unclear"),
        ("sí", "unclear"),
        ("non merci", "refused"),
        ("yes, aber nur heute", "unclear"),
        ("ok για σήμερα", "unclear"),
        ("yes 👎", "unclear"),
        ("da", "unclear"),
        ("yes, by the mother of Lucy (9)", "unclear"),
        ("yes, consent given by phone", "given"),
        ("signed form", "given"),
    ],
)
def test_unknown_words_in_a_table_are_unclear(cell, state):
    assert consent_in_table(cell).state == state


def test_hostile_words_take_no_time():
    for text in (
        "not " * 8000,
        "keep " * 8000,
        "it show " * 4000,
        "a" * 30_000,
        "only you show if " * 2000,
        "my little " * 3000,
        "From: a@b.c " * 2000,
        "2026 19:30 " * 3000,
    ):
        read_words("", text, text, text)
        read_mail(b"From: a@b.c\n\n" + text.encode())
        read_credit(text)


def test_no_word_of_the_lists_is_of_two_languages():
    from moondesk.service.programme.letter.plain import plain_codes, word_list

    for code in plain_codes():
        own = word_list(code, "known") | word_list(code, "names")
        assert not own & word_list(code, "foreign")
        assert all(re.fullmatch(r"[a-z'-]+", word) for word in own)
