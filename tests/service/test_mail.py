"""One mail, ordinary and hostile: each bad part costs itself, never the mail."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from email.message import EmailMessage

import pytest
from fakes import png

from moondesk.records import NotFound
from moondesk.service.intake.mail import decode_words, read_mail
from moondesk.service.settings.config import IntakeLimits


def raw_mail(headers: str, name: str = 'filename="moon.png"', body: bytes | None = None) -> bytes:
    import base64

    return (
        (
            headers + "\nMIME-Version: 1.0\nContent-Type: multipart/mixed; boundary=b\n\n--b\n"
            "Content-Type: text/plain\n\nHello\n--b\nContent-Type: image/png\nContent-Transfer-Encoding: base64\n"
            f"Content-Disposition: attachment; {name}\n\n"
        ).encode("latin-1")
        + (base64.encodebytes(png()) if body is None else body)
        + b"\n--b--\n"
    )


def test_an_ordinary_mail():
    message = EmailMessage()
    message["From"] = "Zoë Ångström <zoe@example.org>"
    message["Subject"] = "Mond über Wien"
    message["Date"] = "Wed, 25 Mar 2026 21:05:00 +0100"
    message["Message-ID"] = "<1@example.org>"
    message.set_content("Hello")
    message.add_attachment(png(), maintype="image", subtype="png", filename="月面.png")
    mail = read_mail(message.as_bytes())
    assert (mail.sender_name, mail.sender_address) == ("Zoë Ångström", "zoe@example.org")
    assert (mail.subject, mail.message_id) == ("Mond über Wien", "<1@example.org>")
    assert mail.received_utc == datetime(2026, 3, 25, 20, 5, tzinfo=UTC)
    assert [(a.given_name, a.data) for a in mail.attachments] == [("月面.png", png())]
    assert mail.remarks == ()


def test_the_last_servers_stamp_beats_the_senders_clock():
    mail = read_mail(
        raw_mail(
            "Received: from a by b; Wed, 25 Mar 2026 20:05:00 +0000\n"
            "Received: from c by a; Wed, 25 Mar 2026 20:04:00 +0000\n"
            "Date: Thu, 1 Jan 1998 00:00:00 +0000\nFrom: a@example.org"
        )
    )
    assert mail.received_utc == datetime(2026, 3, 25, 20, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ('filename="=?utf-8?B?TW9uZCDDvGJlci5wbmc=?="', "Mond über.png"),
        ("filename*=utf-8''Mond%20%C3%BCber.png", "Mond über.png"),
        ("filename*0*=utf-8''Mond%20; filename*1*=%C3%BCber.png", "Mond über.png"),
        ("filename*=utf-16''%FF%FEM%00", "M"),
        ("filename*=no-such-charset''m%FCd.png", "müd.png"),
        ('filename="../../etc/passwd"', "passwd"),
        ('filename="C:\\\\Bilder\\\\m.png"', "m.png"),
        ('filename="m\0\u0007.png"', "m .png"),
        ('filename="' + "x" * 400 + '.png"', "x" * 120),
        ("", "attachment 1"),
    ],
)
def test_names_of_attachments(name, expected):
    mail = read_mail(raw_mail("From: a@example.org\nDate: Wed, 25 Mar 2026 20:05:00 +0000", name))
    assert [a.given_name for a in mail.attachments] == [expected]


@pytest.mark.parametrize(
    "header",
    [
        "From: ((((((((((((((((((((" + "(" * 5000,
        "From: =?no-such-charset?Q?a?= <a@example.org>",
        "From: M\xfcller <a@example.org>",
        "From: a\0b <a@example.org>",
        "From: " + ", ".join(f"a{i}@example.org" for i in range(20_000)),
        "From: =?utf-8?B?!!!?=\nSubject: =?utf-8?Q?=ZZ?=",
        "From: <[@",
        "Subject: no sender",
        "From: a@example.org\nCc: b@example.org,",
        "From: a@example.org\nMessage-ID: <[x]>",
        "From: a@example.org\nDate: Wed, 99 Mar 2026 99:99:99 +9999",
        "From: a@example.org\nDate: Wed, 25 Mar 99999999999 20:05:00",
    ],
)
def test_a_bad_header_costs_that_header_and_never_the_mail(header):
    began = time.perf_counter()
    mail = read_mail(raw_mail(header))
    assert [a.data for a in mail.attachments] == [png()]
    assert time.perf_counter() - began < 2


def test_8_bit_and_wrongly_declared_headers_keep_their_letters():
    assert read_mail(raw_mail("From: M\xfcller <a@example.org>")).sender_name == "Müller"
    assert decode_words("=?us-ascii?Q?M=C3=BCller?=") == "Müller"


def test_what_fuzzing_found():
    mail = read_mail(raw_mail("From: =?utf-8?B?bXVzd?= <a@example.org>"))  # five characters of base64
    assert (mail.sender_name, mail.sender_address) == ("=?utf-8?B?bXVzd?=", "a@example.org")
    body = b'From: a@example.org\nContent-Type: text/plain; charset="x\0y"\n\nM\xfcller\n'
    assert read_mail(body).text == "Müller"


def test_2000_nested_messages_do_not_stop_it():
    nested = b"".join(b"Content-Type: message/rfc822\n\n" for _ in range(2000)) + b"end"
    answer = read_mail(b"From: a@example.org\n" + nested)
    assert isinstance(answer, NotFound) or any("nested more than" in str(r) for r in answer.remarks)


def test_a_forwarded_mail_is_opened():
    inner = EmailMessage()
    inner["From"] = "b@example.org"
    inner.set_content("x")
    inner.add_attachment(png(), maintype="image", subtype="png", filename="m.png")
    outer = EmailMessage()
    outer["From"] = "a@example.org"
    outer.set_content("forwarded")
    outer.add_attachment(inner)
    assert [a.given_name for a in read_mail(outer.as_bytes()).attachments] == ["m.png"]


def test_100000_parts_are_capped():
    raw = b"From: a@example.org\nContent-Type: multipart/mixed; boundary=b\n\n" + b"--b\n\nx\n" * 100_000 + b"--b--\n"
    mail = read_mail(raw)
    assert "more than 200 parts" in str(mail.remarks[-1])


def test_damaged_base64_is_kept_for_the_decoder_to_judge():
    mail = read_mail(raw_mail("From: a@example.org", body=b"!!!! not base64 !!!!"))
    assert len(mail.attachments) == 1


def test_too_large_a_mail_is_refused_with_a_sentence():
    answer = read_mail(b"From: a\n\n" + b"x" * 2_000_001, IntakeLimits(mail_bytes=2_000_000))
    assert isinstance(answer, NotFound)
    assert answer.reason == "The mail is larger than 2 MB."


@pytest.mark.parametrize("raw", [b"", b"\0" * 50, b"\xff\xfe" * 30, b"From", b"\n\n\n"])
def test_what_is_hardly_a_mail(raw):
    assert read_mail(raw).received_utc is None
