"""What mail programs and companies write around a sender's words is told from them, in ten languages; what he writes
himself with a colon, a date or a number stays his."""

from __future__ import annotations

import textwrap
import time

import pytest

from moondesk.service.programme.mail_text import parts_of, without_heads

WHO = "Studio <studio@example.org>"
#: Lines above a quoted mail as common programs write them (from memory).
HEADS = [
    # English
    f"On Tue, 24 Nov 2026 at 19:30, {WHO} wrote:",
    f"On 24/11/2026 19:30, {WHO} wrote:",
    "On Nov 24, 2026, at 7:30 PM, Studio wrote:",
    f"At 19:30 24.11.2026, {WHO} wrote:",
    f"{WHO} wrote:",
    "From: Studio\nSent: Tuesday, November 24, 2026 7:30 PM\nTo: Ann Lee\nSubject: Re: Moon",
    f"From: {WHO}\nSent: Tuesday, November 24, 2026 7:30 PM",
    "-----Original Message-----\nFrom: Studio",
    "________________________________\nFrom: Studio <studio@example.org>",
    "-------- Original Message --------\nOn 24 Nov 2026, 19:30, Studio wrote:",
    # German
    f"Am Di., 24. Nov. 2026 um 19:30 Uhr schrieb {WHO}:",
    f"Am 24.11.26 um 19:30 schrieb {WHO}:",
    f"{WHO} schrieb am Di., 24. Nov. 2026, 19:30:",
    "Am 24.11.2026 um 19:30 hat Studio geschrieben:",
    "Von: Studio\nGesendet: Dienstag, 24. November 2026 19:30\nAn: Ann Lee\nBetreff: AW: Mond",
    "-----Ursprüngliche Nachricht-----\nVon: Studio",
    "Gesendet: Dienstag, 24. November 2026 um 19:30 Uhr\nVon: Studio <studio@example.org>",
    # French
    f"Le mar. 24 nov. 2026 à 19:30, {WHO} a écrit :",
    f"Le 24/11/2026 à 19:30, {WHO} a écrit :",
    "De : Studio\nEnvoyé : mardi 24 novembre 2026 19:30\nÀ : Ann Lee\nObjet : Re: Lune",
    "-----Message d'origine-----\nDe : Studio",
    "---- Message original ----\nDe : Studio <studio@example.org>",
    # Spanish
    f"El mar, 24 nov 2026 a las 19:30, {WHO} escribió:",
    "El 24 nov 2026, a las 19:30, Studio escribió:",
    "De: Studio\nEnviado el: martes, 24 de noviembre de 2026 19:30\nPara: Ann Lee\nAsunto: Re: Luna",
    "-----Mensaje original-----\nDe: Studio",
    # Portuguese
    f"Em ter., 24 de nov. de 2026 às 19:30, {WHO} escreveu:",
    "No dia 24 de nov. de 2026, às 19:30, Studio escreveu:",
    "De: Studio\nEnviada em: terça-feira, 24 de novembro de 2026 19:30\nPara: Ann Lee\nAssunto: Re: Lua",
    "-----Mensagem original-----\nDe: Studio",
    # Bulgarian
    f"На вт, 24.11.2026 г. в 19:30 {WHO} написа:",
    f"На 24.11.26 г. в 19:30 ч., {WHO} пише:",
    "От: Studio\nИзпратено: вторник, 24 ноември 2026 г. 19:30\nДо: Ann Lee\nОтносно: Re: Луна",
    "-------- Оригинално писмо --------\nОт: Studio <studio@example.org>",
    "-----Оригинално съобщение-----\nОт: Studio",
    # Hindi, Marathi
    f"मंगल, 24 नव॰ 2026 को 19:30 बजे को {WHO} ने लिखा:",
    "24 नवंबर 2026 को 19:30 बजे, Studio ने लिखा:",
    "प्रेषक: Studio\nभेजा गया: मंगलवार, 24 नवंबर 2026 19:30\nप्रति: Ann Lee\nविषय: Re: चाँद",
    "-----मूल संदेश-----\nप्रेषक: Studio",
    f"मंगळ, 24 नोव्हें, 2026 रोजी 19:30 वाजता {WHO} ने लिहिले:",
    "24 नोव्हेंबर 2026 रोजी Studio यांनी लिहिले:",
    "प्रेषक: Studio\nपाठवले: मंगळवार, 24 नोव्हेंबर 2026 19:30\nप्रति: Ann Lee\nविषय: Re: चंद्र",
    # Japanese
    f"2026年11月24日(火) 19:30 {WHO}:",
    "2026年11月24日(火) 19:30 月の時間:",
    "2026/11/24 19:30、Studioさんは書きました：",
    f"2026年11月24日 19:30、{WHO}のメール：",
    "差出人: Studio\n送信日時: 2026年11月24日 19:30\n宛先: Ann Lee\n件名: Re: 月",
    "-----元のメッセージ-----\n差出人: Studio",
    # Arabic
    f"في الثلاثاء، 24 نوفمبر 2026 في 19:30 كتب {WHO}:",
    f"بتاريخ 24‏/11‏/2026، كتب {WHO}:",
    "من: Studio\nتاريخ الإرسال: الثلاثاء، 24 نوفمبر 2026 19:30\nإلى: Ann Lee\nالموضوع: Re: القمر",
    "-----الرسالة الأصلية-----\nمن: Studio",
    # others
    f"Op di 24 nov. 2026 om 19:30 schreef {WHO}:",
    f"Den tis 24 nov. 2026 kl 19:30 skrev {WHO}:",
    f"Il giorno mar 24 nov 2026 alle ore 19:30 {WHO} ha scritto:",
    f"wt., 24 lis 2026 o 19:30 {WHO} napisał(a):",
]
OURS = "We use a 400 mm telescope. You may use our picture as you like."


def own(text: str) -> str:
    return flat(parts_of(text).words("own"))


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("head", HEADS)
def test_below_a_head_nothing_is_the_senders(head):
    assert own(f"Hello, here it is.\n\n{head}\n\n{OURS}\n\nRegards\nStudio") == "Hello, here it is."


@pytest.mark.parametrize("head", HEADS)
def test_between_marks_the_sender_answers(head):
    marked = "\n".join(f"> {line}" for line in (*head.split("\n"), OURS))
    assert own(f"Hello.\n\n{marked}\n\nYes, I agree.") == "Hello. Yes, I agree."
    first, *rest = head.split("\n")
    below = "\n".join(f"> {line}" for line in (*rest, OURS))
    assert own(f"Hello.\n\n{first}\n{below}\n\nYes, I agree.") == "Hello. Yes, I agree."


@pytest.mark.parametrize(
    "head", [h for h in HEADS if "\n" not in h and " " in h and len(h) > 30 and not h.startswith("-")]
)
@pytest.mark.parametrize("width", [40, 72])
def test_a_head_that_is_wrapped_is_one(head, width):
    wrapped = "\n".join(textwrap.wrap(head, max(width, len(head) // 3 + 8), break_on_hyphens=False))
    assert own(f"Hello, here it is.\n\n{wrapped}\n\n{OURS}") == "Hello, here it is."
    assert own(f"Hello, here it is.\n{wrapped}\n> {OURS}\nYes.") == "Hello, here it is. Yes."


@pytest.mark.parametrize("head", HEADS)
def test_a_head_says_nothing_by_itself(head):
    left = without_heads("\n".join(f"> {line}" for line in head.split("\n")))
    assert len(left.replace("Studio", "").split()) <= 6, left
    assert "@" not in left


#: Of a sender's own, though they have a colon, a date, a number or an address.
ORDINARY = [
    "On 24 November 2026 I took these:",
    "Taken on 24 November 2026 at 19:30:",
    "Three pictures from 24.11.2026, 21:30:",
    "Here is what I used: an 8 inch Dobsonian.",
    "On Monday I wrote: a letter",
    "On the Moon I see:",
    "Time: 24.11.2026 19:30",
    "From: Cork\nTelescope: 8 inch",
    "From: my balcony",
    "Name: Ann Lee\nMail: ann@example.org\nTelescope: 8 inch",
    "My address is ann@example.org, write to me.",
    "At 19:30 I wrote down the seeing:",
    "2026-11-24 19:30: clouds came",
    "Am 24.11.2026 um 21:30 habe ich das aufgenommen:",
    "Aufnahme vom 24. November 2026, 21:40 Uhr:",
    "Von: meinem Balkon in Passau",
    "Datum: 24.11.2026\nOrt: Passau",
    "Le 24 novembre 2026, j'ai pris ces photos :",
    "Voici ma photo du 24/11/2026 :",
    "De : Lyon, avec une lunette de 80 mm",
    "El 24 de noviembre de 2026 tomé estas fotos:",
    "Fecha: 24/11/2026\nLugar: Sevilla",
    "Em 24 de novembro de 2026 tirei estas fotos:",
    "Data: 24/11/2026\nTelescópio: 114 mm",
    "На 24.11.2026 г. снимах Луната:",
    "От: Пловдив",
    "Дата: 24.11.2026\nТелескоп: 80 мм",
    "24 नवंबर 2026 को मैंने ये तस्वीरें लीं:",
    "दिनांक: 24 नवंबर 2026\nस्थान: पुणे",
    "24 नोव्हेंबर 2026 रोजी मी हे फोटो काढले:",
    "2026年11月24日(火) 19:30に撮影しました：",
    "2026年11月24日 19:30 自宅で撮影：",
    "撮影日時：2026年11月24日 19:30",
    "في 24 نوفمبر 2026 التقطت هذه الصور:",
    "التاريخ: 24 نوفمبر 2026\nالمكان: دبي",
    "--- My Moon ---",
    "Best regards, and see you on 24.12.2026:",
    "Thanks for showing my last mail!",
    "PS: you can ring me on +353 21 555 0199, I am at home every evening.",
    "Confidential? No, show it to everybody.",
    "This is private and confidential, please do not show it.",
    "Diese Aufnahme ist vertraulich, bitte nicht senden.",
]


@pytest.mark.parametrize("line", ORDINARY)
def test_what_a_sender_writes_stays_his(line):
    text = f"Good evening!\n{line}\nYou may show it."
    assert own(text) == flat(text)
    apart = f"Good evening!\n\n{line}\n\nYou may show it."
    assert own(apart) == flat(apart)


#: Closing formula, then what stands below it: kept as the sender's, and set apart.
SIGNATURES = [
    ("Kind regards", "Ann Lee", "Moon Street 5\nTel: +353 21 555 0199\nwww.example.org"),
    ("Mit freundlichen Grüßen", "Jürgen Maier", "Beispiel GmbH\nTel. 0851 555 0199\njuergen@example.org"),
    ("Viele Grüße aus Passau", "Jürgen", "Mobil: 0170 5550199"),
    ("Cordialement,", "Zoé Martin", "Tél. : 01 55 50 01 99\nhttps://example.org"),
    ("Un saludo,", "Ana Ruiz", "Móvil: 600 555 019\nana@example.org"),
    ("Com os melhores cumprimentos,", "Rui Alves", "Telemóvel: 910 555 019"),
    ("С уважение,", "Иван Колев", "тел. 0888 555 019\nivan@example.org"),
    ("सादर,", "रवि कुमार", "मोबाइल: 98555 50199"),
    ("आपला,", "अमोल पाटील", "मोबाईल: 98555 50199"),
    ("よろしくお願いします。", "月野 光", "〒100-0001 東京都\n電話: 03-5550-0199"),
    ("مع أطيب التحيات،", "ليلى حسن", "هاتف: +971 4 555 0199"),
]


@pytest.mark.parametrize(("formula", "name", "below"), SIGNATURES)
def test_telephone_and_address_below_a_closing_formula_are_the_signature(formula, name, below):
    body = parts_of(f"Here is my Moon.\n\n{formula}\n{name}\n{below.split(chr(10), 1)[0]}\n{below}")
    assert body.words("own").endswith(name) or below.startswith("Moon Street")
    assert below.splitlines()[-1] in body.words("signature")
    again = parts_of(f"Here is my Moon.\n\n{formula}\n{name}\n{below}\n\nPS: Please do not show it on the air.")
    assert "Please do not show it" in again.words("own")


COMPANIES = [
    "This e-mail and any attachments are confidential and intended solely for the addressee. If you have received it in "
    "error please delete it; you may not copy, use or publish it.",
    "Diese E-Mail enthält vertrauliche Informationen. Wenn Sie nicht der richtige Adressat sind oder diese E-Mail "
    "irrtümlich erhalten haben, informieren Sie bitte den Absender und vernichten Sie diese Mail.",
    "Ce message et ses pièces jointes sont confidentiels et établis à l'intention exclusive de leurs destinataires. Toute "
    "utilisation non autorisée est interdite. Si vous avez reçu ce message par erreur, merci de le détruire.",
    "Este mensaje es confidencial y va dirigido exclusivamente a su destinatario. Si lo ha recibido por error, por favor "
    "elimínelo; queda prohibida su divulgación.",
    "Esta mensagem é confidencial e dirigida apenas ao seu destinatário. Se a recebeu por engano, por favor apague-a; a sua "
    "divulgação é proibida.",
    "Това съобщение е поверително и е предназначено само за посочения адресат. Ако сте го получили по погрешка, моля "
    "изтрийте го; разпространението му е забранено.",
    "यह ईमेल गोपनीय है और केवल प्राप्तकर्ता के लिए है। यदि आपको यह गलती से मिला है तो कृपया इसे हटा दें; इसका प्रकाशन निषिद्ध है।",
    "हा ईमेल गोपनीय असून केवळ प्राप्तकर्त्यासाठी आहे. चुकून मिळाल्यास कृपया तो हटवा; त्याचे प्रकाशन प्रतिबंधित आहे. धन्यवाद.",
    "このメールには機密情報が含まれています。誤って受信された場合は、速やかに削除してください。無断転載を禁止します。",
    "هذه الرسالة سرية وموجهة فقط إلى المرسل إليه. إذا وصلتك بالخطأ فيرجى حذفها، ونشرها محظور تماما على أي شخص آخر.",
]


@pytest.mark.parametrize("words", COMPANIES)
def test_what_companies_write_below_mails_is_no_refusal_of_the_senders(words):
    body = parts_of(f"Here is my Moon.\n\nAnn Lee\n\n{words}")
    assert (body.words("own"), body.words("signature")) == ("Here is my Moon.\n\nAnn Lee", words)
    joined = parts_of(f"Here is my Moon.\nAnn Lee\n{words}")
    assert joined.words("own") == "Here is my Moon.\nAnn Lee"


@pytest.mark.parametrize(
    "line",
    [
        "Sent from my phone",
        "Get Outlook for Android",
        "Von meinem iPhone gesendet",
        "Gesendet mit der Mail App",
        "Envoyé de mon iPhone",
        "Télécharger Outlook pour Android",
        "Enviado desde mi iPhone",
        "Enviado do meu iPhone",
        "Изпратено от моя iPhone",
        "मेरे iPhone से भेजा गया",
        "माझ्या iPhone वरून पाठवले",
        "iPhoneから送信",
        "أُرسلت من الـ iPhone",
    ],
)
def test_a_telephones_own_line_is_not_the_senders(line):
    assert own(f"Here is my Moon.\n\n{line}") == "Here is my Moon."


def test_hostile_texts_take_no_time():
    for line in (
        "On 2026 " * 36,
        "a@b.c " * 50,
        "2026 19:30 " * 27,
        "From: " * 50,
        "-" * 300,
        "ने " * 100,
        "wrote " * 50,
        "Best " * 60,
    ):
        begun = time.process_time()
        parts_of(f"{line}\n" * 400)
        parts_of(f"{line}:\n" * 400)
        assert time.process_time() - begun < 2.5, line[:8]
