"""Words by which mail programs and companies set apart what is not a sender's own: by language, as they write them.

Heads of quoted and forwarded mails, a telephone's own line, closing formulas, what companies write below mails. All
languages are tried. From memory of common programs' texts; tested in tests/service/test_mail_heads.py. Pure.
"""

from __future__ import annotations

import re

#: Who wrote when, above a quoted mail: how it begins and how it ends, before the colon. A beginning of "" is none.
_ATTRIBUTIONS = {
    "en": [("on|at|in", r"(?<!i )(?:wrote|writes|has written)(?: the following)?"), ("", "wrote|writes")],
    "de": [("am|um", r"(?:schrieb|hat geschrieben|schreibt)\b.*"), ("", r"(?:schrieb|hat .{0,60}geschrieben)\b.*")],
    "fr": [("le|à", r"a [ée]crit"), ("", r"a [ée]crit")],
    "es": [("el|a la\\(s\\)|en", r"escribi[óo]"), ("", r"escribi[óo]")],
    "pt": [("em|no dia|na", r"escreveu"), ("", r"escreveu")],
    "bg": [("на|в", r"(?:написа|пише|писа)\b.*"), ("", "написа|пише|писа")],
    "hi": [("", "ने लिखा|लिखा|ने यह लिखा|ने कहा")],
    "mr": [("", "(?:यांनी|ने|नी) लिहिले(?: आहे)?|लिहिले|लिहिलं")],
    "ja": [("", "(?:さん)?(?:は|が)(?:次のように)?書きました|のメール(?:より)?|wrote")],
    "ar": [("في|بتاريخ|يوم", r"كتبت?\b.*"), ("", r"كتبت?(?: .{0,80})?")],
    # of other languages: a verb alone, where a date or an address stands beside it
    "": [
        (
            "",
            r"(?:schreef|skrev|ha scritto|scrisse|napsala?|napisał(?:a|\(a\))?|написала?|пишет|írta|kirjoitti|yazdı|a scris|je napisao"
            r"|έγραψε|写道|napísala?)(?: .{0,100})?",
        )
    ],
}
#: Labels of the lines above a quoted or forwarded mail: from whom; and of the others.
_FROM = {
    "en": "from", "de": "von", "fr": "de|expéditeur", "es": "de|remitente", "pt": "de|remetente", "bg": "от|подател",
    "hi": "प्रेषक|से|द्वारा", "mr": "प्रेषक|पासून|कडून|द्वारे", "ja": "差出人|送信者|発信者|from", "ar": "من|المرسل",
    "": "van|da|fra|från|od|kimden|feladó|lähettäjä|από|发件人|보낸 사람|do",
}  # fmt: skip
_OTHERS = {
    "en": "sent|date|to|cc|bcc|subject|reply-to|importance|attachments?",
    "de": "gesendet|datum|an|cc|kopie|betreff|antwort an|anlagen|wichtigkeit",
    "fr": "envoyé|date|à|cc|copie|objet|sujet|répondre à",
    "es": "enviado(?: el)?|fecha|para|cc|asunto|responder a",
    "pt": "enviada?(?: em)?|data|para|cc|assunto|responder a",
    "bg": "изпратено(?: на)?|дата|до|копие|як|относно|тема|отговор до",
    "hi": "भेजा गया|भेजा|दिनांक|तारीख|तिथि|प्रति|को|विषय",
    "mr": "पाठवले|पाठविले|दिनांक|तारीख|प्रति|प्रती|विषय",
    "ja": "送信日時|送信|日時|日付|宛先|宛て先|件名|cc|to|date|subject",
    "ar": "تاريخ الإرسال|أُ?رسلت?|الإرسال|التاريخ|تاريخ|إلى|الى|نسخة|الموضوع|موضوع",
    "": "verzonden|aan|onderwerp|inviato|a|oggetto|sendt|til|emne|skickat|till|ämne|wysłano|tytuł|odesláno|komu|předmět|konu|tárgy|hen|komu",
}
#: Words in a ruled line above a mail that is repeated, and before a colon of forwards.
_MESSAGE = (
    r"message|e-?mail|mail|letter|nachricht|courriel|mensaje|correo|mensagem|съобщение|писмо|संदेश|मेल|मेसेज|メッセージ|メール|رسالة"
    r"|الرسالة|bericht|messaggio|meddelelse|meddelande|wiadomość|zpráva|mesaj|üzenet|viesti|сообщение|письмо"
)
_FORWARDED = (
    r"forward|weiter|transf|réexp|reexp|reenviad|encaminhad|препратен|пренасочен|अग्रेषित|\u092b\u093c?ॉरवर्ड|転送|محول|توجيه"
    r"|doorgest|inoltrat|videresend|vidarebefordra|přeposl|пересыл"
)
_ORIGINAL = rf"{_FORWARDED}|original|urspr|d'origine|origine|оригинал|मूल|元の|الأصلي|oorspron|originale|pierwotna|исходн|orijinal|eredeti"
#: Before a colon at the end of a line, where a mail program forwards.
_FORWARDS = (
    r"begin forwarded message|anfang der weitergeleiteten \S+|d[ée]but du (?:message|courriel) \S+|inicio del (?:mensaje|correo) \S+"
    r"|in[íi]cio da mensagem \S+|начало на \S+ (?:съобщение|писмо)|\S*(?:अग्रेषित|\u092b\u093c?ॉरवर्ड)\S*.{0,20}(?:संदेश|मेल|मेसेज).{0,20}"
    r"|転送された(?:メッセージ|メール)|(?:بدء|بداية) الرسالة .{3,30}|inizio messaggio \S+"
)
#: A telephone's or a program's own line, whole.
_SENT_FROM = {
    "en": r"sent (?:from|with|using|via) .{2,60}|get outlook for \w+|sent from my \w+",
    "de": r"(?:von|mit) mein\w+ .{2,40}gesendet|gesendet (?:von|mit) .{2,60}|outlook für \w+ (?:beziehen|herunterladen)|von unterwegs gesendet",
    "fr": r"envoyé (?:de|depuis|à partir|avec) .{2,60}|télécharger outlook pour \w+|obtenir outlook pour \w+",
    "es": r"enviado (?:desde|con|de) .{2,60}|obtener outlook para \w+",
    "pt": r"enviad[oa] (?:do|da|de|pelo|com|a partir) .{2,60}|obter o outlook para \w+",
    "bg": r"изпратено (?:от|с|чрез) .{2,60}|изтеглете outlook за \w+",
    "hi": r"(?:मेरे|मेरी) .{2,40}से भेजा गया|.{2,40}से भेजा गया",
    "mr": r"माझ्या .{2,40}(?:वरून|वरुन|हून|ून) पाठव\S+|.{2,40}(?:वरून|वरुन) पाठव\S+",
    "ja": r".{2,40}から送信(?:されました)?|.{2,30}を入手",
    "ar": r"(?:أُ?رسلت?|تم الإرسال|مرسلة?) من .{2,60}|احصل على outlook .{2,20}",
    "": r"inviato da .{2,60}|отправлено (?:с|из) .{2,60}|verzonden (?:vanaf|met) .{2,60}|wysłane z .{2,60}|skickat från .{2,60}",
}
#: The last words of a letter, whole lines.
_CLOSINGS = {
    "en": r"(?:(?:with )?(?:kind(?:est)?|best|warm(?:est)?|many) )?(?:regards|wishes|greetings)|yours(?: \w+)?|sincerely(?: yours)?|cheers|thanks(?: again)?|many thanks|thank you|best|clear skies",
    "de": r"(?:mit )?(?:viele[nr]?|liebe[nr]?|beste[nr]?|freundliche[nr]?|herzliche[nr]?|schöne[nr]?|sonnige[nr]?)(?: \w+)? gr(?:ü|ue)(?:ß|ss)(?:e|en)?(?: aus .{2,40})?|gru(?:ß|ss)|mfg|lg|vg|hochachtungsvoll|ihre?|danke",
    "fr": r"(?:bien )?(?:cordialement|amicalement|sincèrement)(?: vôtre)?|(?:meilleures?|sincères) salutations|bien à vous|salutations(?: \w+)?|merci|bonne soirée",
    "es": r"(?:un |muchos )?(?:cordial(?:es)? |afectuosos? )?saludos?(?: cordial(?:es)?)?|atentamente|un abrazo|gracias",
    "pt": r"(?:com os )?(?:melhores )?cumprimentos|atenciosamente|cordialmente|(?:um )?abraços?|saudações(?: \w+)?|obrigad[oa]",
    "bg": r"(?:с )?(?:най-добри |много |сърдечни )?(?:поздрави?|уважение|пожелания|почит)|поздрав(?:и)?|благодаря",
    "hi": r"(?:सादर|भवदीया?|धन्यवाद|शुभकामना(?:एँ|ओं)(?: सहित| के साथ)?|आपका|आपकी|नमस्कार)",
    "mr": r"(?:आपला|आपली|आपले|कळावे|धन्यवाद|सादर|शुभेच्छा(?:ंसह)?|स्नेहांकित|लोभ असावा)(?: \S+)?",
    "ja": r"(?:どうぞ)?(?:よろしく|宜しく)(?:お願い(?:いた|致)?(?:し)?ます|お願い申し上げます|です)?|敬具|草々|かしこ|以上|ありがとうございました",
    "ar": r"(?:مع )?(?:أطيب |خالص |أجمل )?(?:التحيات|تحيات\S*|التحية|تحياتي|التقدير)(?: .{2,30})?|وتفضلوا بقبول .{3,40}|شكرا\S*|والسلام .{2,40}",
}
#: What companies write below mails: of these ideas two in a paragraph make one. To whom; secret; by mistake; forbidden.
_COMPANY = (
    r"intended (?:solely|only|for)|addressee|intended recipient|adressat\w*|empfänger\w*|destinataires?|destinatari[oa]s?|destinatári[oa]s?"
    r"|адресат\w*|получател\w*|प्राप्तकर्ता|प्राप्तकर्त्या\S*|受信者|宛先|名宛人|المرسل إليه|المستلم|المتلقي|named above",
    r"confidential|privileged|vertraulich\w*|confidentiel\w*|confidencia\w*|поверителн\w*|конфиденциалн\w*|गोपनीय\S*|機密|秘密|سري\S*|خصوصي\S*",
    r"in error|by mistake|irrtümlich\w*|versehentlich|par erreur|por error|por engano|por erro|по погрешка|по грешка|गलती से|त्रुटि|चुकून|誤って|誤送信|بالخطأ|بطريق الخطأ|عن طريق الخطأ",
    r"unauthori[sz]ed|strictly prohibited|prohibited|unbefugt\w*|nicht gestattet|untersagt|interdit\w*|prohibid\w*|proibid\w*|vedad\w*|забранен\w*|неоторизиран\w*|निषिद्ध|प्रतिबंधित|मनाई|禁止|禁じ|محظور\S*|ممنوع\S*",
)
#: A telephone number, an address of mail or page, a postal code beside a word, a company's form: of a signature.
_CONTACT = re.compile(
    r"(?:^|\s)(?:\+|00|\(0|0)\d[\d\s()/.-]{6,}\d(?:\s|$)|\b(?:tel|phone|mobil\w*|cell|fax|fon|handy|tél|portable|móvil|telemóvel|тел|моб|मोबाइल|फ़ोन"
    r"|फोन|मोबाईल|電話|携帯|هاتف|جوال)\b\.?\s*[:.\uff1a]?\s*[+(]?\d|[^\s@]+@[^\s@]+\.\w+|\bwww\.\S+|^https?://\S+$|〒\s?\d|^\W*\d{4,6} \w+$|^\w[\w .-]+, \d{4,6}\b"
    r"|\b(?:gmbh|ltd|llc|inc|s\.?a\.?r\.?l|s\.?l\.?|lda|оод|еоод|ад|株式会社|有限会社|pvt)\b\.?",
    re.IGNORECASE,
)


def _any(table: dict[str, str]) -> str:
    return "|".join(f"(?:{words})" for words in table.values())


_STAMPED = r"(?=.*(?:\d\d?[:.h]\d\d|\b(?:19|20)\d\d\b|(?:19|20)\d\d年|@))"
_COLON = r"\s*[:\uff1a]"


def _attribution(begin: str, end: str) -> str:
    """With a beginning a date or an address may stand between; without one either must, as in "Bo <bo@x.org> wrote:"."""
    if begin:
        return rf"{_STAMPED}(?:{begin})(?![^\W\d_]).{{4,220}}?(?:{end}){_COLON}"
    return rf"{_STAMPED}.{{2,220}}?\s?(?:{end}){_COLON}"


_HEADS = "|".join(_attribution(b, e) for pairs in _ATTRIBUTIONS.values() for b, e in pairs)
ATTRIBUTION = re.compile(rf"^[\s>|*]*(?:{_HEADS})[\s*]*$", re.IGNORECASE)
#: One that is wrapped begins with its words, or with when or from whom; else a line above it would be taken for it.
BEGUN = re.compile(r"^[\s>|*]*(?=.{0,60}[\d@])")
OPENED = re.compile(
    rf"^[\s>|*]*(?:{'|'.join(b for pairs in _ATTRIBUTIONS.values() for b, _ in pairs if b)})(?![^\W\d_])", re.IGNORECASE
)
WRAPPED = re.compile(
    rf"^[\s>|*]*(?:{'|'.join(_attribution(b, e) for pairs in _ATTRIBUTIONS.values() for b, e in pairs if b)}"
    rf"|(?=.{{0,25}}\d|.{{0,60}}@)(?:{_HEADS}|.*@.*[:\uff1a]))[\s*]*$",
    re.IGNORECASE,
)
#: As Japanese programs write it, without a verb: date with weekday, time, name.
DATED = re.compile(
    r"^[\s>|*]*\d{4}年\d\d?月\d\d?日\s*[(（]?[月火水木金土日][曜)）日]*\s*\d\d?:\d\d(?!.*[撮観写]).{0,120}[:\uff1a]\s*$"
)
RULED = re.compile(
    rf"^\s*(?:_{{10,}}|[-\u2013\u2014=*_]{{2,}}\s*(?=[^@]{{2,80}}$)(?=.*(?:{_MESSAGE}))(?=.*(?:{_ORIGINAL})).*|[-\u2013\u2014=*_]{{3,}}\s*(?:{_MESSAGE})\s*[-\u2013\u2014=*_]{{3,}})\s*$",
    re.IGNORECASE,
)
RULED_FORWARD = re.compile(rf"^[\s>|*]*[-\u2013\u2014=*_]{{2,}}[^@]{{0,40}}(?:{_FORWARDED})", re.IGNORECASE)
FORWARDS = re.compile(rf"^[\s>|*]*(?:{_FORWARDS}){_COLON}?[\s*]*$", re.IGNORECASE)
FROM_LINE = re.compile(rf"^[\s>|*]*(?:{_any(_FROM)})[\s*]*[:\uff1a][\s*]*(?P<said>\S.*)$", re.IGNORECASE)
OTHER_LINE = re.compile(rf"^[\s>|*]*(?:{_any(_OTHERS)})[\s*]*[:\uff1a](?P<said>.*)$", re.IGNORECASE)
SENT_FROM = re.compile(rf"^\s*(?:{_any(_SENT_FROM)})\s*[.!。]?\s*$", re.IGNORECASE)
CLOSING = re.compile(rf"^\W*(?:{_any(_CLOSINGS)})[\s,.!。،~]*$", re.IGNORECASE)
_COMPANY_IDEAS = tuple(re.compile(words, re.IGNORECASE) for words in _COMPANY)
#: Longer than what a viewer says of such things himself, letters.
COMPANY_CHARACTERS, COMPANY_CHARACTERS_JOINED = 90, 35


def is_company_words(paragraph: str) -> bool:
    """Whether a paragraph is what a company writes below every mail."""
    joined = any("\u3040" <= c <= "\u9fff" for c in paragraph)
    if len(paragraph) < (COMPANY_CHARACTERS_JOINED if joined else COMPANY_CHARACTERS):
        return False
    return sum(idea.search(paragraph) is not None for idea in _COMPANY_IDEAS) >= 2


def has_company_word(line: str) -> bool:
    return any(idea.search(line) for idea in _COMPANY_IDEAS)


def is_contact(line: str) -> bool:
    return len(line) <= 120 and _CONTACT.search(line) is not None
