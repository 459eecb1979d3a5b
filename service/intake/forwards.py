"""Whose mail a forwarded one is: the From line below the line by which mail programs say that they forward. Pure.

The lines are told by their words in any of ten languages, ruled or before a colon; where a subject says that it is
forwarded, the block of heads alone will do.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from moondesk.service.intake.mail_sender import Mailbox, mailbox_of
from moondesk.service.texts import clean_text

#: The From line stands so near below the head.
LINES_BELOW = 14
WORDS_CHARACTERS = 300


@dataclass(frozen=True)
class Forwarded:
    """words: the lines that say so."""

    sender: Mailbox
    words: str


#: By language; what several write alike stands once.
_WORDS = (
    r"forwarded (?:message|mail|by)|weitergeleitete[nr]? (?:nachricht|e-?mail|mail)|anfang der weitergeleiteten"
    r"|(?:message|courriel|e-?mail|mail) (?:transf[eé]r[eé]|r[eé]exp[eé]di[eé])|(?:mensaje|correo|mail) reenviado"
    r"|mensagem (?:re)?encaminhada|(?:препратен|пренасочен)\w* (?:съобщение|писмо)\w*"
    r"|(?:अग्रेषित|\u092b\u093c?ॉरवर्ड)[^:-]{0,30}(?:संदेश|मेल)|(?:संदेश|मेल) (?:अग्रेषित|\u092b\u093c?ॉरवर्ड)\S*"
    r"|転送(?:された)?(?:メッセージ|メール)|転送ここから|رسالة (?:مُ?عاد(?:ة)? توجيهها|محول[ةه]|معاد توجيهها)"
    r"|الرسالة (?:المُ?عاد توجيهها|المحول[ةه])"
)
_RULE = r"[-\u2013\u2014_=*]{2,}"
_HEAD = re.compile(
    rf"^[\s>|*]*(?:{_RULE}\s*[^@]{{0,20}}?(?:{_WORDS})[^@]{{0,40}}?{_RULE}?|[^@]{{0,25}}(?:{_WORDS})[^@]{{0,20}}[:\uff1a])[\s*]*$",
    re.IGNORECASE,
)
_FROM = re.compile(
    r"^[\s>|*_]*(?:from|von|de|da|от|प्रेषक|से|पासून|कडून|प्रेषक:?|差出人|送信者|発信者|من|المرسل)[\s*_]*[:\uff1a][\s*_]*(?P<who>\S.*)$",
    re.IGNORECASE,
)
_SUBJECT = re.compile(
    r"^\W*(?:fwd?|wg|tr|rv|enc|i|vs|пр(?:епр)?|fwd re|転送|إعادة توجيه|अग्रेषित)\s*[:\uff1a]", re.IGNORECASE
)


def forwarded_in(text: str, subject: str) -> Forwarded | None:
    """Of a mail's whole text; None where nothing says that it is forwarded, or by whom the mail was."""
    lines = text.splitlines()
    for n, line in enumerate(lines):
        if len(line) > WORDS_CHARACTERS or not _HEAD.match(line):
            continue
        for below in lines[n + 1 : n + 1 + LINES_BELOW]:
            if found := _sender_in(below):
                return Forwarded(found, clean_text(f"{line.strip()} {below.strip()}", WORDS_CHARACTERS))
    if _SUBJECT.match(subject):
        for n, line in enumerate(lines):
            more = sum(1 for x in lines[n + 1 : n + 5] if re.match(r"^[\s>|*]*\w[\w -]{1,20}\s?[:\uff1a]", x))
            if more >= 2 and (found := _sender_in(line)):
                return Forwarded(found, clean_text(line, WORDS_CHARACTERS))
    return None


def _sender_in(line: str) -> Mailbox | None:
    match = _FROM.match(line[:WORDS_CHARACTERS])
    if match is None:
        return None
    found = mailbox_of(match["who"].replace("*", " "))
    return found if found.name or found.address else None
