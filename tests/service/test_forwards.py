"""Forwarded mails: both people are known, nobody is credited for another's picture, and either may take it back."""

from __future__ import annotations

from email.message import EmailMessage
from types import SimpleNamespace

import pytest
from fakes import png
from letters_desk import NOW, TERMS, application, mail, picture_of, taken

from moondesk.service.intake.forwards import forwarded_in
from moondesk.service.intake.mail import read_mail
from moondesk.service.programme.credit import credit_of, credit_words
from moondesk.service.programme.permission import permission_of
from moondesk.service.store.forget import forget
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_by_id

#: As mail programs write them, from memory; the second line is the From line of the mail.
HEADS = [
    "---------- Forwarded message ---------\nFrom: {who}\nDate: Tue, 24 Nov 2026 at 19:30\nSubject: Moon",
    "Begin forwarded message:\n\nFrom: {who}\nSubject: Moon\nDate: 24 November 2026 at 19:30",
    "-------- Forwarded Message --------\nSubject: \tMoon\nDate: \tTue, 24 Nov 2026\nFrom: \t{who}\nTo: \tBo",
    "Anfang der weitergeleiteten Nachricht:\n\nVon: {who}\nBetreff: Mond\nDatum: 24. November 2026 um 19:30",
    "-------- Weitergeleitete Nachricht --------\nBetreff: Mond\nDatum: Di, 24. Nov 2026\nVon: {who}",
    "Début du message transféré :\n\nDe: {who}\nObjet: Lune",
    "Début du message réexpédié :\n\nDe : {who}\nObjet : Lune",
    "-------- Message transféré --------\nSujet : \tLune\nDe : \t{who}",
    "Inicio del mensaje reenviado:\n\nDe: {who}\nAsunto: Luna",
    "-------- Mensaje reenviado --------\nAsunto: \tLuna\nDe: \t{who}",
    "Início da mensagem encaminhada:\n\nDe: {who}\nAssunto: Lua",
    "-------- Mensagem reencaminhada --------\nAssunto: \tLua\nDe: \t{who}",
    "---------- Mensagem encaminhada ----------\n> De: {who}",
    "Начало на препратеното съобщение:\n\nОт: {who}\nОтносно: Луна",
    "-------- Препратено писмо --------\nОт: {who}\nОтносно: Луна",
    "---------- Пренасочено съобщение ----------\nОт: {who}",
    "---------- अग्रेषित संदेश ----------\nप्रेषक: {who}\nदिनांक: मंगल, 24 नव॰ 2026",
    "---------- फॉरवर्ड केलेला संदेश ----------\nप्रेषक: {who}",
    "---------- 転送メッセージ ----------\n差出人: {who}\n日付: 2026年11月24日",
    "転送されたメッセージ：\n\n差出人：{who}",
    "---------- رسالة مُعاد توجيهها ----------\nمن: {who}\nالتاريخ: الثلاثاء، 24 نوفمبر 2026",
    "بداية الرسالة المُعاد توجيهها:\n\nمن: {who}",
]


@pytest.mark.parametrize("head", HEADS, ids=lambda head: head.split("\n")[0][:40])
@pytest.mark.parametrize(
    "who", ["Yana Ilieva <yana@y.org>", "*Yana Ilieva* <yana@y.org>", "Yana Ilieva [mailto:yana@y.org]"]
)
def test_who_is_forwarded_in_ten_languages(head, who):
    found = forwarded_in(f"Look!\n\n{head.format(who=who)}\n\nHello, my Moon.", "Moon")
    assert (found.sender.name, found.sender.address) == ("Yana Ilieva", "yana@y.org")
    assert "Yana" in found.words


@pytest.mark.parametrize(
    "subject", ["Fwd: Moon", "WG: Mond", "TR : Lune", "RV: Luna", "ENC: Lua", "Fw: x", "転送：月", "إعادة توجيه: القمر"]
)
def test_a_subject_that_says_so_and_a_block_of_heads_will_do(subject):
    block = "From: Yana <yana@y.org>\nSent: Tuesday, 24 November 2026\nTo: Bo\nSubject: Moon"
    assert forwarded_in(f"See below.\n\n{block}\n\nHello", subject).sender.address == "yana@y.org"
    assert forwarded_in(f"See below.\n\n{block}\n\nHello", "Re: Moon") is None


@pytest.mark.parametrize(
    "text",
    [
        "I forwarded the message to my wife.",
        "From: my balcony in Ruse\nTime: 21:00",
        "-----Original Message-----\nFrom: Studio <studio@s.org>\n\nThank you",
        "A mail forwarded by nobody",
        "On Tuesday Studio <studio@s.org> wrote:\n> From: Bo <bo@x.org>",
    ],
)
def test_other_words_forward_nothing(text):
    assert forwarded_in(text, "Moon") is None


def forwarding(inline: bool = True, **heads: str) -> bytes:
    body = "My neighbour took this."
    inner = HEADS[0].format(who="Yana Ilieva <Yana@y.org>") + "\n\nHere is my Moon."
    if inline:
        return mail("bo@x.org", f"{body}\n\n{inner}", "Fwd: Moon", 90, **heads)
    outer, attached = EmailMessage(), EmailMessage()
    outer["From"], outer["Subject"], outer["Message-ID"] = "Bo <bo@x.org>", "Moon", "<f@x.org>"
    outer.set_content(body)
    attached["From"], attached["Subject"] = "Yana Ilieva <Yana@y.org>", "Moon"
    attached.set_content("Here is my Moon.")
    attached.add_attachment(png(300, 300, shade=90), maintype="image", subtype="png", filename="m.png")
    outer.add_attachment(attached)
    return outer.as_bytes()


@pytest.mark.parametrize("inline", [True, False])
def test_a_forwarded_picture_is_credited_to_nobody_and_agreed_to_by_nobody(storage, config, inline):
    (number,) = taken(storage, config, forwarding(inline))
    (listed,) = list_by_id(storage, [picture_of(storage, number)])
    arrival = listed.picture.submission.arrival
    (fact,) = [s for s in arrival.suggestions if s.field == "forwarded"]
    assert fact.value == "Yana Ilieva <Yana@y.org>"
    credit = credit_of(arrival)
    assert (credit.name, credit.doubt) == (
        "",
        "Forwarded by Bo; perhaps taken by Yana Ilieva: ask whose picture it is.",
    )
    assert credit_words(SimpleNamespace(credit_line=None), listed) == ("", credit.doubt, True)
    assert credit_words(SimpleNamespace(credit_line="Yana"), listed)[0::2] == ("Yana", False)
    assert permission_of(listed, TERMS).reasons == ("unclear",)
    page = application(config).test_client().get(f"/pictures/{listed.picture.id}").text
    assert "Forwarded by Bo; perhaps taken by Yana Ilieva" in page


@pytest.mark.parametrize("inline", [True, False])
@pytest.mark.parametrize("who", ["bo@x.org", "yana@y.org"])
def test_either_may_take_it_back_and_be_forgotten(storage, config, inline, who):
    (number,) = taken(storage, config, forwarding(inline))
    picture = picture_of(storage, number)
    taken(storage, config, mail(who, "Please delete my picture."))
    (listed,) = list_by_id(storage, [picture])
    assert "letter" in permission_of(listed, TERMS).reasons
    assert forget(storage, Media(config.data_dir), who, NOW).submissions == 2


def test_who_forwards_his_own_mail_is_its_sender():
    own = HEADS[0].format(who="Bo <BO@x.org>")
    assert read_mail(mail("bo@x.org", own, "Fwd: Moon")).forwarded is None


def test_hostile_texts_take_no_time():
    for text in (
        "--- forwarded message " * 2000,
        "From: a\n" * 5000,
        "-" * 20_000,
        "forwarded message:\n" * 3000,
        "転送 " * 5000,
    ):
        forwarded_in(text, "Fwd: x")
