"""A mail's body as its sender's own words: decoded, parted from what it quotes and from the signature. Pure text.

What the programme wrote and a reply quotes, and what a forwarded mail says, are somebody else's words: equipment or
consent read from them would be wrong and look sure. Heads of quoted mails are told by their shape, in any language: an
address, a year or an hour in a line that ends in a colon. Doubt takes words from the sender's own, and never lets a
doubtful word go unread: see `consent.wording.read_words`.
"""

from __future__ import annotations

import email.message
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from itertools import groupby

from moondesk.service.programme.mail_heads import (
    ATTRIBUTION,
    BEGUN,
    CLOSING,
    DATED,
    FORWARDS,
    FROM_LINE,
    OPENED,
    OTHER_LINE,
    RULED,
    SENT_FROM,
    WRAPPED,
    has_company_word,
    is_company_words,
    is_contact,
)
from moondesk.service.store.records import LetterPart, PartKind
from moondesk.service.texts import clean_text

#: Bytes of one text part that are looked at, lines and characters that are kept.
PART_BYTES, LINES, LINE_CHARACTERS, CHARACTERS = 200_000, 400, 2_000, 20_000
#: The line above a quoted mail is no longer.
HEAD_CHARACTERS = 300

#: Above a quoted mail in a language without words here: an address before a colon; a year or an hour before one, where
#: marks follow.
_ADDRESS_HEAD = re.compile(r"^.{0,200}@[^\s<>@]+\.\w+>?.{0,60}[:\uff1a]\s*$")
_MARKED_HEAD = re.compile(
    r"^(?=.{12,200}$)(?=.*\s.*\s).*(?:\b(?:19|20)\d\d\b|\d\d?[:.h]\d\d|(?:19|20)\d\d\u5e74).*[:\uff1a]\s*$"
)
#: So many lines may the head of a quoted mail be wrapped over; so many further labels make one of a label without an address.
_WRAPPED, _LABELS = 3, 2
#: Non-empty lines below a closing formula in which a signature begins; words of what is a sentence of the sender's still.
_BELOW_CLOSING, _SENTENCE_WORDS = 10, 5
#: With which mail programs begin lines that they quote.
_MARKS = (">", "|", "\uff1e")
_SIGNATURE = re.compile(r"^-- ?$")
_ADDRESS = re.compile(r"[^\s<>@]{1,80}@[^\s<>@]{1,200}\.\w+")
_SUBJECT = re.compile(
    r"^\W*(?:subject|betreff|objet|sujet|asunto|assunto|относно|тема|विषय|件名|الموضوع|موضوع)\b", re.IGNORECASE
)
#: What stands behind the label of such a line is no longer.
_SAID_CHARACTERS = 120
_LINK = re.compile(r"https?://[^\s<>\"\u3000-\u303f\uff00-\uffef]{3,300}", re.IGNORECASE)
MOST_LINKS = 20
_BLOCKS = frozenset(("p", "div", "br", "tr", "li", "h1", "h2", "h3", "h4", "table", "ul", "ol", "hr", "td"))
_UNSEEN = frozenset(("script", "style", "head", "title", "blockquote", "template"))
#: Elements that have no end tag, so that their start must not be counted as one that is open.
_VOID = frozenset(("br", "hr", "img", "meta", "link", "input", "area", "base", "col", "wbr", "embed", "source"))


def decode_bytes(data: bytes, charset: str | None) -> str:
    """Text by its declared charset; an unknown or wrong one falls back to UTF-8, then to latin-1."""
    for name in (charset, "utf-8"):
        with suppress(LookupError, UnicodeError, ValueError):
            if name:
                return data.decode(name)
    return data.decode("latin-1")


@dataclass(frozen=True)
class MailBody:
    """A mail's text in its order. whole: False where more was written than is kept, or it could not be read. targets: of
    links in HTML."""

    parts: tuple[LetterPart, ...] = ()
    whole: bool = True
    targets: tuple[str, ...] = ()

    def words(self, kind: str) -> str:
        """All text of one kind."""
        return "\n".join(part.text for part in self.parts if part.kind == kind).strip()


def body_of(parts: Iterable[email.message.Message], errors: tuple[type[Exception], ...]) -> MailBody:
    """The text of a mail's parts: what is plain, else what is HTML; of two that differ the other counts as quoted.

    errors: what the standard library is known to raise on a forged part; such a part counts as empty.
    """
    texts: dict[str, list[str]] = {"text/plain": [], "text/html": []}
    whole = True
    for part in parts:
        with suppress(*errors):
            kind = part.get_content_type()
            if kind in texts:
                data = part.get_payload(decode=True)
                if isinstance(data, bytes):
                    whole = whole and len(data) <= PART_BYTES
                    texts[kind].append(decode_bytes(data[:PART_BYTES], part.get_content_charset()))
                    continue
        whole = False
    plain = parts_of("\n".join(texts["text/plain"]))
    html = [html_parts(text) for text in texts["text/html"]]
    shown = parts_of("\n".join(text for text, _ in html))
    quoted = tuple(LetterPart("quoted", lines.text) for _, hidden in html for lines in parts_of(hidden).parts)
    rich = MailBody((*shown.parts, *quoted), shown.whole)
    both = beside(plain, rich)
    targets = tuple(target for text in texts["text/html"] for target in html_targets(text))
    return replace(both, whole=both.whole and whole, targets=targets)


def links_in(own: str, targets: Iterable[str] = ()) -> tuple[str, ...]:
    """Addresses of pages in a text and behind it, each once, in their order."""
    found = (m.group().rstrip(".,;:!?)'\"") for m in _LINK.finditer(own))
    return tuple(dict.fromkeys((*found, *targets)))[:MOST_LINKS]


def beside(first: MailBody, second: MailBody) -> MailBody:
    """A text in two forms: what the second has of other words counts as quoted, or as the text where there is no first."""
    if not first.parts:
        return replace(second, whole=first.whole and second.whole, targets=first.targets)
    others = _words_of(second) - _words_of(first)
    quoted = tuple(LetterPart("quoted", part.text) for part in second.parts) if others else ()
    return MailBody((*first.parts, *quoted), first.whole and (second.whole or not others), first.targets)


def _words_of(body: MailBody) -> set[str]:
    return {word for part in body.parts for word in re.findall(r"[^\W\d_]+", part.text.casefold())}


def parts_of(text: str) -> MailBody:
    """A text by whose words its lines are. Below the head of another mail without quotation marks all is quoted; with
    marks, what stands between them is the sender's. What companies write below mails, and telephone and address below
    a closing formula, is the signature; a sentence below them is the sender's again."""
    lines = text.splitlines()
    found: list[tuple[PartKind, str]] = []
    kind: PartKind = "own"
    company = _company_lines(lines[:LINES])
    head, closing, contact = 0, 0, False
    for n, line in enumerate(lines[:LINES]):
        line = line[:LINE_CHARACTERS]
        head = head - 1 if head > 1 else _head_at(lines[:LINES], n)
        if _SIGNATURE.match(line) and kind == "own":
            kind = "signature"
        elif head:
            following = next((x.lstrip() for x in lines[n + head : LINES] if x.strip()), "")
            kind = "own" if kind == "own" and following.startswith(_MARKS) else "quoted"
            found.append(("quoted", line))
            continue
        mine: PartKind = kind
        if line.lstrip().startswith(_MARKS):
            mine = "quoted"
        elif kind == "own":
            closing = _BELOW_CLOSING if CLOSING.match(line) else closing - bool(line.strip())
            sentence = bool(re.search(r"[.!?。؟]\s*$", line)) and len(line.split()) >= _SENTENCE_WORDS
            contact = closing > 0 and not sentence and (contact or is_contact(line))
            if contact or n in company or SENT_FROM.match(line):
                mine = "signature"
        elif SENT_FROM.match(line):
            mine = "signature"
        found.append((mine, line))
    parts: list[LetterPart] = []
    for which, group in groupby(found, key=lambda pair: pair[0]):
        clean = "\n".join(clean_text(line, LINE_CHARACTERS) for _, line in group).strip()
        if clean:
            parts.append(LetterPart(which, clean))
    kept, left = [], CHARACTERS
    for part in parts:
        if left > 0:
            kept.append(replace(part, text=part.text[:left]))
        left -= len(part.text)
    return MailBody(tuple(kept), left >= 0 and len(lines) <= LINES and all(len(x) <= LINE_CHARACTERS for x in lines))


def _head_at(lines: list[str], at: int) -> int:
    """How many lines from here on are the head of a quoted or forwarded mail; 0: none."""
    line = lines[at]
    if not line.strip() or len(line) > HEAD_CHARACTERS:
        return 0
    if any(p.match(line) for p in (RULED, FORWARDS, DATED, ATTRIBUTION, _ADDRESS_HEAD)):
        return 1
    if label := FROM_LINE.match(line):
        below = [x for x in lines[at + 1 : at + 6] if x.strip()]
        if _ADDRESS.search(label["said"]) or sum(map(bool, map(OTHER_LINE.match, below))) >= _LABELS:
            return 1
    if OTHER_LINE.match(line):
        below = [x for x in lines[at + 1 : at + 4] if x.strip()]
        froms = [k for k, x in enumerate(below) if (m := FROM_LINE.match(x)) and _ADDRESS.search(m["said"])]
        if froms and all(OTHER_LINE.match(x) for x in below[: froms[0]]):
            return 1
    if _MARKED_HEAD.match(line) and next((x for x in lines[at + 1 :] if x.strip()), "").lstrip().startswith(_MARKS):
        return 1
    for count in range(2, _WRAPPED + 1) if BEGUN.match(line) else ():
        more = lines[at + 1 : at + count]
        whole = " ".join((line.rstrip(), *(x.lstrip("> |").rstrip() for x in more)))
        if len(more) < count - 1 or not more[-1].strip() or len(whole) > HEAD_CHARACTERS:
            return 0
        if OPENED.match(more[0]) and ATTRIBUTION.match(more[0]):
            return 0
        if WRAPPED.match(whole):
            return count
    return 0


def _company_lines(lines: list[str]) -> frozenset[int]:
    """Numbers of the lines that companies write below mails."""
    found: set[int] = set()
    for blank, group in groupby(enumerate(lines), key=lambda pair: not pair[1].strip()):
        numbered = list(group)
        if not blank and is_company_words(" ".join(line for _, line in numbered)[:LINE_CHARACTERS]):
            first = next((k for k, (_, line) in enumerate(numbered) if has_company_word(line)), 0)
            found |= {n for n, _ in numbered[first:]}
    return frozenset(found)


def without_heads(text: str) -> str:
    """Quoted text without its marks and the heads that mail programs write: what else there is must be read."""
    lines = (_without_head(line.lstrip("> |\uff1e")) for line in text.splitlines())
    return "\n".join(_ADDRESS.sub(" ", line) for line in lines)


def _without_head(line: str) -> str:
    if len(line) > HEAD_CHARACTERS:
        return line
    if any(p.match(line) for p in (RULED, FORWARDS, DATED, ATTRIBUTION, SENT_FROM)):
        return ""
    label = FROM_LINE.match(line) or OTHER_LINE.match(line)
    if label is None:
        return line
    said = label["said"]
    told = not _SUBJECT.match(line) and len(said) <= _SAID_CHARACTERS and re.search(r"[@\d]", said)
    return "" if told else said


def html_parts(html: str) -> tuple[str, str]:
    """What a reader of HTML sees, and what of it is marked as a quotation."""
    reader = _reader_of(html)
    return reader.text, reader.quotation


def html_targets(html: str) -> tuple[str, ...]:
    """Where the links lead to that a reader of HTML sees outside quotations."""
    return tuple(_reader_of(html).targets[:MOST_LINKS])


def _reader_of(html: str) -> _Reader:
    reader = _Reader()
    with suppress(AssertionError, ValueError, RecursionError):
        reader.feed(html)
        reader.close()
    return reader


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self._pieces: list[str] = []
        self._quoted: list[str] = []
        self._in_quote = False
        self.targets: list[str] = []
        #: The element that hides all in it, and how many of its kind are open.
        self._hider, self._depth = "", 0

    @property
    def text(self) -> str:
        return _lines(self._pieces)

    @property
    def quotation(self) -> str:
        return _lines(self._quoted)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        quoted = any(k == "class" and v and "quote" in v for k, v in attrs)
        if tag == "a" and not self._depth:
            self.targets += [v.strip() for k, v in attrs if k == "href" and v and _LINK.fullmatch(v.strip())]
        if self._depth:
            self._depth += tag == self._hider
            if tag in _BLOCKS and self._in_quote:
                self._quoted.append("\n")
        elif tag not in _VOID and (tag in _UNSEEN or quoted):
            self._hider, self._depth, self._in_quote = tag, 1, quoted or tag == "blockquote"
        elif tag in _BLOCKS:
            self._pieces.append("\n")

    def handle_endtag(self, tag: str) -> None:
        if self._depth:
            self._depth -= tag == self._hider
        if tag in _BLOCKS or tag in _UNSEEN:
            self._pieces.append("\n")

    def handle_data(self, data: str) -> None:
        if not self._depth:
            self._pieces.append(data.replace("\r", " ").replace("\n", " "))
        elif self._in_quote:
            self._quoted.append(data.replace("\r", " ").replace("\n", " "))


def _lines(pieces: list[str]) -> str:
    lines = (" ".join(line.split()) for line in "".join(pieces).split("\n"))
    return "\n".join(line for line in lines if line)


#: Scripts without capitals, in which any letter may begin a sentence.
_UNCASED = "\u0590-\u0dff\u0e00-\u0fff\u3040-\u9fff\uac00-\ud7af"
#: Titles and the like that a full stop shortens, in such a script; single letters besides.
_SHORTENED = "\u0921\u0949|\u0938\u094c|\u0915\u0941|\u091c\u093f|\u0924\u093e|\u0926\u093f|\u092a\u094b|\u0935\u093f"
#: What a number with a full stop counts, as German writes it: "18. November", "5. Klasse"; and words it shortens.
_COUNTED = (
    r"(?:Jan|Jän|Feb|Mär|Apr|Mai|Jun|Jul|Aug|Sep|Okt|Nov|Dez)\w*\b"
    r"|Klass|Schul|Jahr|Lebensj|Geburtst|Stock\b|Etage|Primar"
)
_CUT = (
    "гр",
    "ул",
    "кв",
    "св",
    "проф",
    "инж",
    "ca",
    "Nr",
    "St",
    "Dr",
    "Hr",
    "Fr",
    "bzw",
    "geb",
    "Fam",
    "Mme",
    "Mlle",
    "env",
)
_NO_END = rf"(?<=\d\.\s)(?:{_COUNTED})|" + "|".join(rf"(?<=[\s(]{word}\.\s)" for word in _CUT)
_END = re.compile(
    rf"(?<=[.!?…])[\"'”\u2019)]*\s+(?!{_NO_END})(?=[\"'“\u2018(]*[A-ZÀ-Þ\u0386-\u03ab\u0400-\u042f0-9])"
    rf"|(?<=[^\s.][^\s.][.!?…])(?<![\s:,](?:{_SHORTENED})\.)[\"'”\u2019)»]*\s+(?=[\"'“\u2018(«]*[{_UNCASED}])"
    # ends of other scripts need no space behind them; inside a quotation they are no end
    r"|(?<=[\u3002\uff01\uff1f\uff61\u0964\u0965\u061f])(?![\u3002\uff01\uff1f\uff61\u0964\u0965\u061f!?\u300d\u300f\uff09)\"'”»])\s*"
    r"|(?<=[!?])(?=[\u3040-\u9fff])"
    r"|\n\s*\n|\n(?=\s*(?:[-*•\u30fb\u25a0\u25cf]|\w+:|[^\s:\uff1a]+(?: [^\s:\uff1a]+){0,2} ?(?:\uff1a|:\s)))"
)


def sentences(text: str) -> Iterator[str]:
    """The sentences of a text, each on one line; a line that ends inside one is joined to the next."""
    return (" ".join(lines) for lines in lines_of_sentences(text))


def lines_of_sentences(text: str) -> Iterator[tuple[str, ...]]:
    """The lines of each sentence."""
    for piece in _END.split(text):
        if lines := tuple(filter(None, (" ".join(line.split()) for line in piece.splitlines()))):
            yield lines
