"""Answers are joined to what they answer: a yes as a suggestion there, a no at once; automatic mail stands apart."""

from __future__ import annotations

from datetime import timedelta
from email.message import EmailMessage

import pytest
from letters_desk import NOW, TERMS, application, mail, picture_of, taken

from moondesk.service.intake.mail import read_mail
from moondesk.service.programme.answers import read_answer
from moondesk.service.programme.consent.wording import Consent
from moondesk.service.programme.permission import permission_of
from moondesk.service.store import letters, replies
from moondesk.service.store.forget import forget
from moondesk.service.store.media import Media
from moondesk.service.store.messages import NOTHING
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.submissions import add_consent

HELLO = "Good evening, here is the Moon from my garden."
YES, NO = "You may show it on air.", "Please do not show it."
OURS = "<ours@x.org>"


def standing(storage, number):
    (listed,) = list_by_id(storage, [picture_of(storage, number)])
    return permission_of(listed, TERMS)


def noted(storage, number, state, when=NOW, evidence="on the telephone"):
    record = ConsentRecord(state=state, kind="phone", evidence=evidence, noted_by="Ada")
    add_consent(storage, number, record, when)


@pytest.fixture
def asked(storage, config):
    """A picture of Ann's, about which the programme has written to her."""
    (number,) = taken(storage, config, mail("ann@x.org", HELLO, "Moon", 90, Message_ID="<sent@x.org>"))
    sent(storage, number)
    return number


def sent(storage, number, message_id=OURS):
    replies.keep(storage, number, "ann@x.org", "Re: Moon", "May we show it?", None, 0, "Ada", NOW)
    replies.approve(storage, number, 1, message_id, "Ada", NOW)
    claimed = replies.claim(storage, NOW)
    replies.settle(storage, claimed, "sent", NOTHING, NOW)


def answer(storage, config, words, date="Thu, 26 Mar 2026 18:00:00 +0000", sender="ann@x.org", to=OURS, **heads):
    (letter,) = taken(storage, config, mail(sender, words, "Re: Moon", Date=date, **{"In_Reply_To": to, **heads}))
    return letter


def read(storage, letter):
    letters.set_read(storage, letter, True, "Ada", NOW)


@pytest.mark.parametrize("to", [OURS, "<sent@x.org>"])
@pytest.mark.parametrize("sender", ["ann@x.org", "ann@work.org"])
def test_a_yes_is_a_suggestion_of_the_earlier_and_never_counts(storage, config, asked, to, sender):
    letter = answer(storage, config, YES, sender=sender, to=to)
    may = standing(storage, asked)
    assert may.reasons == ("suggested", "letter")
    assert (may.consent.evidence, may.consent.message_id) == (YES, letters.letter(storage, letter).message_id)
    read(storage, letter)
    assert standing(storage, asked).reasons == ("suggested",)
    page = application(config).test_client().get(f"/pictures/{picture_of(storage, asked)}").text
    assert YES in page
    noted(storage, asked, "given")
    assert standing(storage, asked).given


def test_a_no_refuses_at_once_and_beats_what_was_noted_before(storage, config, asked):
    noted(storage, asked, "given", NOW - timedelta(hours=1))
    read(storage, answer(storage, config, NO))
    assert standing(storage, asked).reasons == ("refused",)
    noted(storage, asked, "given", NOW + timedelta(hours=1))
    assert standing(storage, asked).given, "a person has decided since"


def test_the_newest_answer_counts_by_when_it_was_written_and_doubt_is_a_no(storage, config, asked):
    early, late = "Thu, 26 Mar 2026 17:30:00 +0000", "Thu, 26 Mar 2026 19:30:00 +0000"
    answer(storage, config, NO, early)
    answer(storage, config, YES, late)
    assert standing(storage, asked).consent.state == "suggested"
    answer(storage, config, NO + " Thanks.", early)
    assert standing(storage, asked).consent.state == "refused", "an older no that came later"
    answer(storage, config, YES + " Thanks.", early)
    assert standing(storage, asked).consent.state == "refused"


def test_a_yes_is_for_the_nearest_and_a_no_for_the_whole_thread(storage, config, asked):
    (other,) = taken(storage, config, mail("ann@x.org", HELLO, "Another", 91, Message_ID="<2@x.org>", In_Reply_To=OURS))
    thread = {"References": f"<sent@x.org> {OURS} <2@x.org>", "to": "<2@x.org>"}
    read(storage, answer(storage, config, YES, **thread))
    assert [standing(storage, k).consent.state for k in (asked, other)] == ["given", "suggested"]  # given: by the terms
    read(storage, answer(storage, config, NO, **thread))
    assert [standing(storage, k).consent.state for k in (asked, other)] == ["refused", "refused"]


def test_without_a_thread_it_only_holds(storage, config, asked):
    (letter,) = taken(storage, config, mail("ann@x.org", NO))
    assert standing(storage, asked).reasons == ("letter",)
    read(storage, letter)
    assert standing(storage, asked).given


def test_a_bare_yes_or_no_counts_where_the_question_went_out(storage, config, asked):
    read(storage, answer(storage, config, "Yes!"))
    assert standing(storage, asked).consent.kind == "terms"
    noted(storage, asked, "asked", evidence="asked by mail")
    read(storage, answer(storage, config, "Yes, with pleasure!"))
    assert (standing(storage, asked).reasons, standing(storage, asked).consent.evidence) == (
        ("suggested",),
        "Yes, with pleasure!",
    )
    read(storage, answer(storage, config, "No."))
    assert standing(storage, asked).reasons == ("refused",)


def test_a_table_that_agrees_is_beaten_by_a_no_alone(storage, config, asked):
    storage.execute("update submissions set consent = 'yes, by phone' where id = ?", [asked])
    read(storage, answer(storage, config, YES))
    assert standing(storage, asked).given
    read(storage, answer(storage, config, NO))
    assert standing(storage, asked).reasons == ("refused",)


def test_who_answered_and_is_forgotten_leaves_the_no_without_its_words(storage, config, asked):
    answer(storage, config, NO, sender="bo@x.org")
    assert forget(storage, Media(config.data_dir), "bo@x.org", NOW).submissions == 1
    may = standing(storage, asked)
    assert (may.reasons, may.consent.evidence) == (("refused",), "")


@pytest.mark.parametrize(
    ("words", "state"),
    [
        ("Yes.", "suggested"),
        ("Hello Ada,\nyes, of course!", "suggested"),
        ("Sure, go ahead", "suggested"),
        ("Ja, gerne!", "suggested"),
        ("Oui, bien sûr", "suggested"),
        ("Sí, claro", "suggested"),
        ("Si, por favor", "suggested"),
        ("Sim!", "suggested"),
        ("Да, разбира се", "suggested"),
        ("हाँ, ज़रूर", "suggested"),
        ("होय", "suggested"),
        ("はい、どうぞ", "suggested"),
        ("نعم، بالتأكيد", "suggested"),
        ("No.", "refused"),
        ("No thank you", "refused"),
        ("Nein, lieber nicht", "refused"),
        ("Non merci", "refused"),
        ("Não, obrigado", "refused"),
        ("Не, благодаря", "refused"),
        ("नहीं", "refused"),
        ("नको", "refused"),
        ("いいえ、やめてください", "refused"),
        ("لا، شكرا", "refused"),
        ("No problem", None),
        ("Si la foto sale bien", None),
        ("Jan took it at nine", None),
        ("Nobody was there", None),
        ("It was on Tuesday", None),
        ("Данни за телескопа", None),
        ("", None),
    ],
)
def test_how_answers_begin_in_ten_languages(words, state):
    found = read_answer(words, Consent())
    assert (found and found.state) == state
    assert found is None or (found.bare and found.words == " ".join(words.split()))


def test_a_condition_is_no_yes():
    words = "Yes, but only if you show it tomorrow and with my brother's name"
    assert read_answer(words, Consent(state="unclear")).state == "unclear"


def report(action="failed", headers=True, ours=OURS, **heads) -> bytes:
    original = f"Message-ID: {ours}\nFrom: studio@s.org\nTo: ann@x.org\nSubject: Re: Moon\n"
    more = "".join(f"{k.replace('_', '-')}: {v}\n" for k, v in heads.items())
    return (
        f"From: Mail Delivery System <MAILER-DAEMON@mx.org>\nTo: studio@s.org\nSubject: Undelivered\n{more}"
        "Content-Type: multipart/report; report-type=delivery-status; boundary=b\n\n--b\n\nIt came back.\n--b\n"
        "Content-Type: message/delivery-status\n\nReporting-MTA: dns; mx.org\n\nFinal-Recipient: rfc822; ann@x.org\n"
        f"Action: {action}\nStatus: 5.1.1\nDiagnostic-Code: smtp; 550 5.1.1 No such user\n\n--b\n"
        f"Content-Type: {'text/rfc822-headers' if headers else 'message/rfc822'}\n\n{original}\nHello\n--b--\n"
    ).encode()


@pytest.mark.parametrize("headers", [True, False])
def test_a_bounce_is_noted_on_the_reply_that_came_back(storage, config, asked, headers):
    taken(storage, config, report(headers=headers))
    reply = replies.reply_of(storage, asked)
    assert (reply.state, reply.words) == ("failed", "It could not be delivered: ann@x.org: 550 5.1.1 No such user")
    assert standing(storage, asked).given, "it holds nothing"
    assert "It could not be delivered: ann@x.org: 550" in application(config).test_client().get("/replies").text
    replies.take_back(storage, asked, reply.version, "Ada", NOW)


def test_what_is_only_late_or_of_another_mail_changes_nothing(storage, config, asked):
    taken(storage, config, report("delayed"), report(ours="<another@x.org>"))
    assert replies.reply_of(storage, asked).state == "sent"


def test_a_bounce_as_older_servers_write_it(storage, config, asked):
    text = f"This message could not be delivered.\n\n--- headers ---\nMessage-ID: {OURS}\nSubject: Re: Moon"
    taken(storage, config, mail("mailer-daemon@mx.org", text, X_Failed_Recipients="ann@x.org"))
    assert replies.reply_of(storage, asked).words == "It could not be delivered: ann@x.org"


@pytest.mark.parametrize(
    ("heads", "machine"),
    [
        ({"Auto-Submitted": "auto-replied (vacation)"}, True),
        ({"Auto-Submitted": "auto-notified"}, True),
        ({"X-Autoreply": "yes"}, True),
        ({"X-Failed-Recipients": "a@x.org"}, True),
        ({"Delivered-To": "Autoresponder"}, True),
        ({"Subject": "Automatische Antwort: Mond", "X-Auto-Response-Suppress": "All"}, True),
        ({"Subject": "自動応答: 月", "X-Auto-Response-Suppress": "All"}, True),
        ({"Subject": "Automatic reply: Moon"}, False),
        ({"X-Auto-Response-Suppress": "All"}, False),
        ({"Auto-Submitted": "no"}, False),
        ({"From": "Form <form@s.org>", "Reply-To": "ann@x.org", "Auto-Submitted": "auto-generated"}, False),
        ({"From": "Form <form@s.org>", "Reply-To": "ann@x.org", "Return-Path": "<>"}, False),
        ({"From": "Form <form@s.org>", "Reply-To": "ann@x.org", "Auto-Submitted": "auto-replied"}, True),
        ({"From": "postmaster@x.org"}, True),
        ({"From": "Ann <ann@x.org>", "Precedence": "junk"}, True),
    ],
    ids=str,
)
def test_what_a_program_wrote(heads, machine):
    message = EmailMessage()
    for name, value in {"From": "Ann <ann@x.org>", "Subject": "Moon", **heads}.items():
        message[name] = value
    message.set_content("I am away. You may show it.")
    assert read_mail(message.as_bytes()).machine == machine


def test_an_automatic_answer_says_neither_yes_nor_no(storage, config, asked):
    for words in (YES, NO):
        answer(storage, config, words, Auto_Submitted="auto-replied")
    assert standing(storage, asked).given
    assert standing(storage, asked).consent.kind == "terms"
