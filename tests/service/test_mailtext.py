"""A sender's own words: what others wrote is out, whatever the alphabet, and damage costs its part only."""

from __future__ import annotations

from email.message import EmailMessage

import pytest

from moondesk.service.intake.mail import read_mail
from moondesk.service.programme.mail_text import decode_bytes, html_parts, parts_of, sentences


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Hello\nMy Moon.", "Hello\nMy Moon."),
        ("> your 6 inch telescope\nMine is 8 inch.", "Mine is 8 inch."),
        ("Here it is.\n-- \nIlse\n6 inch Dobsonian for sale", "Here it is."),
        ("Here it is.\n\n-----Original Message-----\nYou may show it.", "Here it is."),
        ("Here it is.\nOn Mon, 1 June 2026 at 20:00, Studio <s@example.org> wrote:\nPlease tell us", "Here it is."),
        ("Bitte.\nAm 1. Juni 2026 um 20:00 schrieb Studio <s@example.org>:\nDanke", "Bitte."),
        ("Look!\nBegin forwarded message:\nI agree.", "Look!"),
        ("Look!\nSent from my phone", "Look!"),
        ("On Monday I wrote: a letter", "On Monday I wrote: a letter"),
        ("a\0b\u202e c\x07", "a b c"),
        ("", ""),
    ],
)
def test_unquoted(text, expected):
    assert parts_of(text).words("own") == expected


@pytest.mark.parametrize(
    ("html", "expected"),
    [
        ("<p>My <b>Moon</b></p><p>8&nbsp;inch</p>", "My Moon\n8 inch"),
        ("<style>p{}</style>Moon<script>alert(1)</script>", "Moon"),
        ("Mine.<blockquote>Yours: 6 inch</blockquote>End", "Mine.\nEnd"),
        ('Mine.<div class="mail_quote"><p>You may show it.<br></div>After', "Mine.\nAfter"),
        ("<blockquote><p>never closed", ""),
        ("<p>open <i>tags", "open tags"),
        ("</p></b>stray", "stray"),
        ("<" * 5000, "<" * 5000),
        ("<div>" * 5000 + "deep", "deep"),
        ("a &#0; &bogus; &#x110000;", None),
    ],
)
def test_html(html, expected):
    text = html_parts(html)[0]
    assert expected is None or text == expected


def message(*parts: tuple[str, str]) -> EmailMessage:
    mail = EmailMessage()
    mail["From"] = "a@example.org"
    mail.set_content(parts[0][0], subtype=parts[0][1])
    for text, subtype in parts[1:]:
        mail.add_alternative(text, subtype=subtype)
    return mail


def test_plain_text_beats_html_and_html_alone_will_do():
    assert read_mail(message(("plain words", "plain"), ("<p>html words</p>", "html")).as_bytes()).text == "plain words"
    assert read_mail(message(("<p>html words</p>", "html")).as_bytes()).text == "html words"


def test_words_of_a_forwarded_mail_and_of_attached_texts_are_not_the_senders():
    mail = message(("Look at this", "plain"))
    mail.add_attachment(message(("You may show my picture.", "plain")))
    mail.add_attachment("You may show it.", filename="note.txt")
    assert read_mail(mail.as_bytes()).text == "Look at this"


@pytest.mark.parametrize(
    ("body", "charset", "expected"),
    [
        ("Größe".encode("latin-1"), "iso-8859-1", "Größe"),
        ("Größe".encode(), "no-such-charset", "Größe"),
        ("Größe".encode("cp1252"), "utf-8", "Größe"),
        ("月の写真".encode("iso-2022-jp"), "iso-2022-jp", "月の写真"),
        (b"\xff\xfe\x00", "utf-16", ""),
    ],
)
def test_bodies_in_any_charset(body, charset, expected):
    raw = b"From: a@example.org\nContent-Type: text/plain; charset=" + charset.encode() + b"\n\n" + body + b"\n"
    assert read_mail(raw).text == expected


def test_decoding_never_fails():
    assert decode_bytes(bytes(range(256)), "ascii") == bytes(range(256)).decode("latin-1")


def test_a_number_or_word_with_a_full_stop_ends_no_sentence():
    text = "Meine Einsendung vom 18. November war falsch. Er geht in die 5. Klasse und ist ca. 10 Jahre alt. Seeing war 7. Danke."
    assert [len(s) for s in sentences(text)] == [45, 50, 13, 6]


def test_sentences():
    text = (
        "Hello. My Moon with a 6.5 inch\ntelescope, f/5.9! You may show it.\n\nIlse\n\n- one thing\n- another\n"
        "Telescope: Dobsonian"
    )
    assert list(sentences(text)) == [
        "Hello.",
        "My Moon with a 6.5 inch telescope, f/5.9!",
        "You may show it.",
        "Ilse",
        "- one thing",
        "- another",
        "Telescope: Dobsonian",
    ]
