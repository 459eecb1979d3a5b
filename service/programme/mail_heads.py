"""Words by which mail programs and companies set apart what is not a sender's own: by language, as they write them.

Heads of quoted and forwarded mails, a telephone's own line, closing formulas, what companies write below mails: [mail]
of each language's file (`lexicons.lexicon`), and of languages that letters are not read in. All are tried. From memory of common
programs' texts; tested in tests/service/test_mail_heads.py. Pure.
"""

from __future__ import annotations

import re

from moondesk.service.lexicons.lexicon import mail_words

#: A telephone number, an address of mail or page, a postal code beside a word, a company's form: of a signature.
_CONTACT = re.compile(
    r"(?:^|\s)(?:\+|00|\(0|0)\d[\d\s()/.-]{6,}\d(?:\s|$)|\b(?:tel|phone|mobil\w*|cell|fax|fon|handy|tél|portable|móvil|telemóvel|тел|моб|मोबाइल|फ़ोन"
    r"|फोन|मोबाईल|電話|携帯|هاتف|جوال)\b\.?\s*[:.\uff1a]?\s*[+(]?\d|[^\s@]+@[^\s@]+\.\w+|\bwww\.\S+|^https?://\S+$|〒\s?\d|^\W*\d{4,6} \w+$|^\w[\w .-]+, \d{4,6}\b"
    r"|\b(?:gmbh|ltd|llc|inc|s\.?a\.?r\.?l|s\.?l\.?|lda|оод|еоод|ад|株式会社|有限会社|pvt)\b\.?",
    re.IGNORECASE,
)


def _any(key: str) -> str:
    return "|".join(f"(?:{words[key]})" for words in mail_words() if key in words)


_STAMPED = r"(?=.*(?:\d\d?[:.h]\d\d|\b(?:19|20)\d\d\b|(?:19|20)\d\d年|@))"
_COLON = r"\s*[:\uff1a]"


def _attribution(begin: str, end: str) -> str:
    """With a beginning a date or an address may stand between; without one either must, as in "Bo <bo@x.org> wrote:"."""
    if begin:
        return rf"{_STAMPED}(?:{begin})(?![^\W\d_]).{{4,220}}?(?:{end}){_COLON}"
    return rf"{_STAMPED}.{{2,220}}?\s?(?:{end}){_COLON}"


#: Who wrote when, above a quoted mail: how it begins and how it ends, before the colon. A beginning of "" is none.
_ATTRIBUTIONS = [(begin, end) for words in mail_words() for begin, end in words.get("attributions", ())]
_HEADS = "|".join(_attribution(begin, end) for begin, end in _ATTRIBUTIONS)
ATTRIBUTION = re.compile(rf"^[\s>|*]*(?:{_HEADS})[\s*]*$", re.IGNORECASE)
#: One that is wrapped begins with its words, or with when or from whom; else a line above it would be taken for it.
BEGUN = re.compile(r"^[\s>|*]*(?=.{0,60}[\d@])")
OPENED = re.compile(rf"^[\s>|*]*(?:{'|'.join(b for b, _ in _ATTRIBUTIONS if b)})(?![^\W\d_])", re.IGNORECASE)
WRAPPED = re.compile(
    rf"^[\s>|*]*(?:{'|'.join(_attribution(b, e) for b, e in _ATTRIBUTIONS if b)}"
    rf"|(?=.{{0,25}}\d|.{{0,60}}@)(?:{_HEADS}|.*@.*[:\uff1a]))[\s*]*$",
    re.IGNORECASE,
)
#: As Japanese programs write it, without a verb: date with weekday, time, name.
DATED = re.compile(
    r"^[\s>|*]*\d{4}年\d\d?月\d\d?日\s*[(（]?[月火水木金土日][曜)）日]*\s*\d\d?:\d\d(?!.*[撮観写]).{0,120}[:\uff1a]\s*$"
)
#: Words in a ruled line above a mail that is repeated, and before a colon of forwards.
_MESSAGE, _FORWARDED = _any("message"), _any("forwarded")
_ORIGINAL = f"{_FORWARDED}|{_any('original')}"
RULED = re.compile(
    rf"^\s*(?:_{{10,}}|[-\u2013\u2014=*_]{{2,}}\s*(?=[^@]{{2,80}}$)(?=.*(?:{_MESSAGE}))(?=.*(?:{_ORIGINAL})).*|[-\u2013\u2014=*_]{{3,}}\s*(?:{_MESSAGE})\s*[-\u2013\u2014=*_]{{3,}})\s*$",
    re.IGNORECASE,
)
RULED_FORWARD = re.compile(rf"^[\s>|*]*[-\u2013\u2014=*_]{{2,}}[^@]{{0,40}}(?:{_FORWARDED})", re.IGNORECASE)
FORWARDS = re.compile(rf"^[\s>|*]*(?:{_any('forwards')}){_COLON}?[\s*]*$", re.IGNORECASE)
FROM_LINE = re.compile(rf"^[\s>|*]*(?:{_any('from')})[\s*]*[:\uff1a][\s*]*(?P<said>\S.*)$", re.IGNORECASE)
OTHER_LINE = re.compile(rf"^[\s>|*]*(?:{_any('heads')})[\s*]*[:\uff1a](?P<said>.*)$", re.IGNORECASE)
SENT_FROM = re.compile(rf"^\s*(?:{_any('sent_from')})\s*[.!。]?\s*$", re.IGNORECASE)
CLOSING = re.compile(rf"^\W*(?:{_any('closings')})[\s,.!。،~]*$", re.IGNORECASE)
#: What companies write below mails: of these ideas two in a paragraph make one.
_COMPANY_IDEAS = tuple(
    re.compile(_any(idea), re.IGNORECASE) for idea in ("addressed", "secret", "mistaken", "forbidden")
)
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
