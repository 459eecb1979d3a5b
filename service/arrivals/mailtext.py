"""A mail's body as its sender's own words: decoded, unquoted, without the signature. Pure text in, pure text out.

What the programme wrote and a reply quotes, and what a forwarded mail says, are somebody else's words: equipment or
consent read from them would be wrong and look sure.
"""

from __future__ import annotations

import email.message
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from html.parser import HTMLParser

from service.arrivals.tables import clean_text

#: Bytes of one text part that are looked at, lines and characters that are kept.
PART_BYTES, LINES, LINE_CHARACTERS, CHARACTERS = 200_000, 400, 2_000, 20_000

#: From here on a mail repeats another: the lines that mail programs write above it.
_REPEATS = re.compile(
    r"^\s*(?:-{2,}\s*(?:original message|forwarded message|forwarded by|urspr\w+ nachricht|weitergeleitete nachricht)"
    r"|_{10,}\s*$|begin forwarded message:"
    r"|(?:on|am|le|il|el)\b.{6,120}\b(?:wrote|schrieb|écrit|scritto|escribió)\b.*:\s*$|from:\s.+@)", re.IGNORECASE)
_SIGNATURE = re.compile(r"^-- ?$")
_SENT_FROM = re.compile(r"^\s*(?:sent|gesendet|envoyé|inviato|enviado) .{0,40}$", re.IGNORECASE)
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


def own_words(parts: Iterable[email.message.Message], errors: tuple[type[Exception], ...]) -> str:
    """The sender's words of a mail's parts: those in plain text, else those in HTML. Lines as written; "" for none.

    errors: what the standard library is known to raise on a forged part; such a part counts as empty.
    """
    texts: dict[str, list[str]] = {"text/plain": [], "text/html": []}
    for part in parts:
        with suppress(*errors):
            kind = part.get_content_type()
            if kind in texts:
                data = part.get_payload(decode=True)
                if isinstance(data, bytes):
                    texts[kind].append(decode_bytes(data[:PART_BYTES], part.get_content_charset()))
    plain = unquoted("\n".join(texts["text/plain"]))
    return plain or unquoted("\n".join(html_text(text) for text in texts["text/html"]))


def unquoted(text: str) -> str:
    """Without quoted lines, without signature, and cut where another mail is repeated; each line cleaned."""
    kept: list[str] = []
    for line in text.splitlines()[:LINES]:
        line = line[:LINE_CHARACTERS]
        if _REPEATS.match(line) or _SIGNATURE.match(line):
            break
        if line.lstrip().startswith((">", "|")) or _SENT_FROM.match(line):
            continue
        kept.append(clean_text(line, LINE_CHARACTERS))
    return "\n".join(kept).strip()[:CHARACTERS]


def html_text(html: str) -> str:
    """What a reader of HTML sees, block by block; scripts, styles and quotations left out."""
    reader = _Reader()
    with suppress(AssertionError, ValueError, RecursionError):
        reader.feed(html)
        reader.close()
    return reader.text


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self._pieces: list[str] = []
        #: The element that hides all in it, and how many of its kind are open.
        self._hider, self._depth = "", 0

    @property
    def text(self) -> str:
        lines = (" ".join(line.split()) for line in "".join(self._pieces).split("\n"))
        return "\n".join(line for line in lines if line)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        quoted = any(k == "class" and v and "quote" in v for k, v in attrs)
        if self._depth:
            self._depth += tag == self._hider
        elif tag not in _VOID and (tag in _UNSEEN or quoted):
            self._hider, self._depth = tag, 1
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


_END = re.compile(r"(?<=[.!?…])[\"'”\u2019)]*\s+(?=[\"'“\u2018(]*[A-ZÀ-Þ0-9])|\n\s*\n|\n(?=\s*(?:[-*•]|\w+:))")


def sentences(text: str) -> Iterator[str]:
    """The sentences of a text, each on one line; a line that ends inside one is joined to the next."""
    for piece in _END.split(text):
        if said := " ".join(piece.split()):
            yield said


