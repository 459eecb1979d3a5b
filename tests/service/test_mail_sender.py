"""Who a mail is from: heads as forms, lists and old programs write them."""

from __future__ import annotations

import time

import pytest

from moondesk.records import NotFound
from moondesk.service.intake.mail import read_mail
from moondesk.service.intake.mail_sender import addresses_in, is_service, mailbox_of
from moondesk.service.intake.reading import mail_arrival
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.settings.config import IntakeLimits

ANN = "ann@example.org"

#: From line -> name, address.
FROM = [
    ("Ann Lee <ann@example.org>", "Ann Lee", ANN),
    ("ann@example.org", "", ANN),
    ("<ann@example.org>", "", ANN),
    ('"Lee, Ann" <ann@example.org>', "Lee, Ann", ANN),
    ("Lee, Ann <ann@example.org>", "Lee, Ann", ANN),
    ("'Ann Lee' <ann@example.org>", "Ann Lee", ANN),
    ('<b>Ann</b> & "Q" <ann@example.org>', 'Ann & "Q"', ANN),
    ("Ann Lee ann@example.org", "Ann Lee", ANN),
    ("Ann Lee <ann@example.org", "Ann Lee", ANN),
    ("Ann Lee ann@example.org>", "Ann Lee", ANN),
    ("<<ann@example.org>>", "", ANN),
    ("Ann Lee <<ann@example.org>>", "Ann Lee", ANN),
    ("Ann Lee < ann@example.org >", "Ann Lee", ANN),
    ("Ann Lee <ann @ example.org>", "Ann Lee", ANN),
    ("ann@example.org (Ann Lee)", "Ann Lee", ANN),
    ("(Ann Lee) ann@example.org", "Ann Lee", ANN),
    ("Ann Lee (her account, x@example.net) <ann@example.org>", "Ann Lee", ANN),
    ('"ann@example.org" <ann@example.org>', "", ANN),
    ('"bo@example.net" <ann@example.org>', "", ANN),
    ("Ann [mailto:ann@example.org]", "Ann", ANN),
    ("Ann Lee <mailto:ann@example.org>", "Ann Lee", ANN),
    ("Ann Lee <ann@example.org.>", "Ann Lee", ANN),
    ('Ann "Moon" Lee <ann@example.org>', 'Ann "Moon" Lee', ANN),
    (r'"Ann \"Moon\" Lee" <ann@example.org>', 'Ann "Moon" Lee', ANN),
    ("Ann Lee <ann@example.org>, Bo <bo@example.org>", "Ann Lee", ANN),
    ("Ann Lee", "Ann Lee", ""),
    ("Lucy (9) <ann@example.org>", "Lucy (9)", ANN),
    ("<>", "", ""),
    ("@", "", ""),
    ("Ann <ann(at)example.org>", "Ann", ""),
    ("=?utf-8?Q?Zo=C3=AB_Lee?= <ann@example.org>", "Zoë Lee", ANN),
    ("=?utf-8?Q?Lee=2C_Zo=C3=AB?= ann@example.org", "Lee, Zoë", ANN),
    ("=?utf-8?Q?Ann_Lee_<ann=40example.org>?=", "Ann Lee", ANN),
    ("=?utf-8?Q?bo=40example.net?= <ann@example.org>", "bo@example.net", ANN),
    ("Лидия Караманова <ann@example.org>", "Лидия Караманова", ANN),
    ("月子＜ann@example.org＞", "月子", ANN),
    ("ليلى <ann@example.org>", "ليلى", ANN),
    ("Ann <ann@пример.бг>", "Ann", "ann@пример.бг"),
    ("Ann\r\n Lee\r\n\t<ann@example.org>", "Ann Lee", ANN),
    ("Ann\0 Lee <ann@example.org>", "Ann Lee", ANN),
]

#: From, Reply-To -> name, address, where answers go ("" the address), service.
REPLY_TO = [
    ("Form <form@service.org>", "Ann Lee <ann@example.org>", "Ann Lee", ANN, "", "form@service.org"),
    ("noreply@service.org", ANN, "", ANN, "", "noreply@service.org"),
    ("Moon Club <no-reply@service.org>", ANN, "", ANN, "", "no-reply@service.org"),
    ("Ann Lee via Moon Form <no-reply@service.org>", ANN, "Ann Lee", ANN, "", "no-reply@service.org"),
    ("WordPress <wordpress@club.org>", "Ann <ann@example.org>", "Ann", ANN, "", "wordpress@club.org"),
    ("Kontaktformular <info@club.org>", "Ann <ann@example.org>", "Ann", ANN, "", "info@club.org"),
    ("'Ann Lee' via Club <list@club.org>", "Ann Lee <ann@example.org>", "Ann Lee", ANN, "", "list@club.org"),
    ("Ann Lee <ann@example.org>", "ann@work.org", "Ann Lee", ANN, "ann@work.org", ""),
    ("Ann Lee <ann@example.org>", "Ann Lee <ANN@example.org>", "Ann Lee", ANN, "", ""),
    ("Ann Lee <ann@example.org>", "", "Ann Lee", ANN, "", ""),
    ("Ann Lee <ann@example.org>", "not an address", "Ann Lee", ANN, "", ""),
    ("noreply@service.org", "support-form@service.org", "", "support-form@service.org", "", "noreply@service.org"),
    ("noreply@service.org", "bounce@service.org", "", "noreply@service.org", "bounce@service.org", ""),
    ("Formaggio Bo <formaggio@example.org>", "bo@work.org", "Formaggio Bo", "formaggio@example.org", "bo@work.org", ""),
    ("Ann Lee", "ann@example.org", "Ann Lee", ANN, "", ""),
    ("", "Ann Lee <ann@example.org>", "Ann Lee", ANN, "", ""),
]


def raw(sender: str, reply_to: str = "") -> bytes:
    return f"From: {sender}\nReply-To: {reply_to}\nSubject: Moon\n\nHello\n".encode()


@pytest.mark.parametrize(("line", "name", "address"), FROM)
def test_from_lines(line, name, address):
    mail = read_mail(raw(line))
    assert (mail.sender_name, mail.sender_address) == (name, address)
    flagged = any(r.code == "mail_no_address" for r in mail.remarks)
    assert flagged == (not address)
    assert address.casefold() in (*mail.addresses, "")


@pytest.mark.parametrize(("sender", "reply_to", "name", "address", "answers", "service"), REPLY_TO)
def test_reply_to(sender, reply_to, name, address, answers, service):
    mail = read_mail(raw(sender, reply_to))
    assert (mail.sender_name, mail.sender_address, mail.answer_to, mail.service) == (name, address, answers, service)
    assert set(addresses_in(f"{sender}, {reply_to}")) == set(mail.addresses), "every address may be asked for"


def test_the_programmes_own_address_and_a_lists_are_nobodys():
    """Else one letter would hold every mail that came by the same list, and answers would go to the programme."""
    heads = (
        "From: Ann <ann@example.org>\nSender: list-bounces@club.org\nTo: Moon <moon@tv.org>\nReply-To: moon@tv.org\n\n"
    )
    mail = read_mail(heads.encode() + b"Hello")
    assert (mail.sender_address, mail.answer_to, mail.addresses) == (ANN, "", (ANN,))
    back = heads + "---------- Forwarded message ---------\nFrom: Studio <moon@tv.org>\n\nThank you"
    assert read_mail(back.encode()).forwarded is None
    nobody = read_mail(b"From: Ann\nSender: ann@example.org\n\nHello")
    assert nobody.addresses == (ANN,)


def test_people_are_no_services():
    for local in ("ann", "formann", "bo.notter", "system.of.a.moon", "webb", "noor", "information", "info", "autumn"):
        assert not is_service(f"{local}@example.org"), local
    for local in (
        "noreply",
        "no-reply",
        "NO_REPLY",
        "donotreply",
        "form",
        "forms",
        "web-form",
        "kontaktformular",
        "www-data",
    ):
        assert is_service(f"{local}@example.org"), local
    assert is_service("noreply+moon@example.org")


def test_hostile_heads_take_no_time():
    for line in (
        "(" * 2000,
        '"' * 2000,
        "<" * 2000,
        "a@" * 1000,
        ",a@b.c" * 300,
        "\\" * 2000,
        "<a " * 600,
        "via " * 500,
    ):
        begun = time.process_time()
        mailbox_of(line)
        read_mail(raw(line, line))
        assert time.process_time() - begun < 0.5, line[:6]


def test_a_mail_that_cannot_be_opened_keeps_its_sender_and_subject(monkeypatch):
    from moondesk.service.intake import reading

    def refuse(data, limits):
        return read_mail(b"x" * 10, IntakeLimits(mail_bytes=1))

    monkeypatch.setattr(reading, "read_mail", refuse)
    heads = (
        "From: Form <form@service.org>\nReply-To: Ann <ann@example.org>\nSubject: Moon\nMessage-ID: <1@x.org>\n"
        "References: <0@x.org>\nContent-Type: multipart/mixed;\n boundary=b\n\n"
    )
    data = heads.encode() + b"--b\n\n" * 1000
    assert isinstance(reading.read_mail(data, IntakeLimits()), NotFound)
    received = ReceivedItem(data=data, origin="m", name="m.eml", source="mail")
    arrival, contents = mail_arrival(received, "mail:1", IntakeLimits())
    assert (arrival.sender_name, arrival.sender_address, arrival.subject) == ("Ann", ANN, "Moon")
    assert (arrival.message_id, arrival.answers, contents) == ("<1@x.org>", ("<0@x.org>",), [])
    assert arrival.words_read == "not_understood"
    assert [e.media_type for e in arrival.enclosures] == ["message/rfc822"]
