"""Who a mail is from, of its heads as they come: well formed (RFC 5322, 3.6.2), or as forms and old programs write them.

The address is the last in its mailbox that looks like one; what else stands there is the name. A form's or a list's
mail is from whoever its Reply-To names; of a person's own mail it only says where answers go. Pure.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from moondesk.service.texts import clean_text

NAME_CHARACTERS = ADDRESS_CHARACTERS = 200
#: Addresses that are kept of one mail.
MOST_ADDRESSES = 20

_LOCAL = r"[^\s<>\"(),;:@\[\]\\\u3000-\u3002\uff08\uff09\uff1c\uff1e]+"
ADDRESS = re.compile(rf"(?:\"[^\"\s@<>]{{1,64}}\"|{_LOCAL})@{_LOCAL}")
_MAILBOXES = re.compile(
    r"\"(?:[^\"\\]|\\.)*\"|<[^<>]*>|\([^()]*\)|[,;\uff0c\u060c]|[^,;\uff0c\u060c\"<(]+|.", re.DOTALL
)
_SPACED = re.compile(r"<\s*([^\s<>@]{1,64})\s*@\s*([^\s<>@]{1,200})\s*>")
_TAG = re.compile(r"</?[A-Za-z][^<>@]{0,60}>")
#: Addresses of forms, lists and shops: whoever Reply-To names wrote what they send (common practice).
_SERVICE = re.compile(
    r"(?:no|non|ne|do-?not|not)[-_.]?(?:reply|repondre|responder|answer)|donotreply|(?:web|contact|kontakt|online)?[-_.]?"
    r"form(?:s|ular|ulaire|ulario|mail|mailer|submission|service)?(?:[-_.]?(?:mail|bot|noreply))?|notif\w*|mailer|automat\w*"
    r"|wordpress|www|www-data|apache|nobody|web|webserver|webmaster|system|bounces?|php|cgi|survey|upload|uploads|postmaster"
    r"|mailer-daemon|robot|bot|daemon|root",
    re.IGNORECASE,
)
_SERVICE_NAME = re.compile(
    r"(?:(?:web|contact|kontakt|online|upload|e-?mail|mail)[ -]?)?(?:forms?|formular|formulaire|formulario|форма|формуляр"
    r"|フォーム|お問い合わせ(?:フォーム)?|نموذج)(?: \w+)?|(?:do not|no|non)[ -]?reply|nicht antworten|wordpress|notifications?"
    r"|automat\w*|mailer|system|robot|webserver|webmaster|postmaster",
    re.IGNORECASE,
)
_VIA = re.compile(r"\s*[(\[]?\b(?:via|über|por|a través de|чрез|経由)\s.*$", re.IGNORECASE)


@dataclass(frozen=True)
class Mailbox:
    """A name and an address; either may be empty."""

    name: str = ""
    address: str = ""


@dataclass(frozen=True)
class Writer:
    """Who wrote a mail. answer_to: where answers go, "" for the address itself; service: the form's or list's address
    that passed it on; known: False where its From line holds no address."""

    name: str = ""
    address: str = ""
    answer_to: str = ""
    service: str = ""
    known: bool = True


def writer_of(sender: Mailbox, reply_to: Mailbox) -> Writer:
    """sender, reply_to: of the lines From and Reply-To."""
    other = reply_to.address
    if not sender.address:
        return Writer(sender.name or reply_to.name, other, known=False)
    if not other or other.casefold() == sender.address.casefold():
        return Writer(sender.name, sender.address)
    told = _VIA.sub("", sender.name)
    if is_service(sender.address) or _SERVICE_NAME.fullmatch(sender.name) or told != sender.name:
        if is_service(other):  # both are machines': then the one that sends is as good
            return Writer(sender.name, sender.address, other)
        service_name = _SERVICE_NAME.fullmatch(told) or (told == sender.name and is_service(sender.address))
        return Writer(reply_to.name or ("" if service_name else told), other, service=sender.address)
    return Writer(sender.name, sender.address, other)


def is_service(address: str) -> bool:
    """Whether nobody writes from that address himself."""
    local = address.partition("@")[0].partition("+")[0].strip('"')
    return _SERVICE.fullmatch(local) is not None


def mailbox_of(line: str) -> Mailbox:
    """The first mailbox of a decoded line that has an address; of a line without any, its words as a name."""
    line = _SPACED.sub(r"<\1@\2>", line)
    before = ""
    for piece in _split(line):
        whole = f"{before}, {piece}" if before else piece
        found = list(ADDRESS.finditer(whole))
        if found:
            outside = [m for m in found if not _in_comment(whole, m.start())] or found
            at = outside[-1]
            return Mailbox(_name(f"{whole[: at.start()]} {whole[at.end() :]}"), clean_address(at.group()))
        before = whole
    return Mailbox(_name(line))


def addresses_in(text: str) -> tuple[str, ...]:
    """Every address in some lines, folded: a withdrawal must not miss by a forged or broken line."""
    found = (clean_address(m.group()).casefold() for m in ADDRESS.finditer(_SPACED.sub(r"<\1@\2>", text)))
    return tuple(dict.fromkeys(filter(None, found)))[:MOST_ADDRESSES]


def clean_address(text: str) -> str:
    return clean_text(re.sub(r"^mailto:", "", text, flags=re.IGNORECASE).strip(".'`*"), ADDRESS_CHARACTERS)


def _split(line: str) -> list[str]:
    """A line at its commas, but for those in quotes, brackets and comments."""
    pieces = [""]
    for token in _MAILBOXES.findall(line):
        if len(token) == 1 and token in ",;\uff0c\u060c":
            pieces.append("")
        else:
            pieces[-1] += token
    return [piece.strip() for piece in pieces if piece.strip()]


def _in_comment(text: str, at: int) -> bool:
    return text.count("(", 0, at) > text.count(")", 0, at)


def _name(text: str) -> str:
    """The words of a mailbox but for its address; a comment stays, which may tell an age."""
    text = re.sub(r"\bmailto:", " ", _TAG.sub(" ", text), flags=re.IGNORECASE)
    text = text.strip(" <>")
    if re.fullmatch(r'"(?:[^"\\]|\\.)*"', text):
        text = text[1:-1]
    text = re.sub(r"\\([\"\\])", r"\1", text)
    plain = ADDRESS.sub(" ", re.sub(r"\([^()@]*@[^()]*\)", " ", text))
    for words in (plain, ADDRESS.sub(" ", text)):
        kept = clean_text(re.sub(r"[<>\[\]\uff1c\uff1e]", " ", words), NAME_CHARACTERS).strip(" ,;:")
        if kept.count('"') % 2 or re.fullmatch(r'"[^"]*"', kept):
            kept = kept.strip('"')
        kept = kept.strip("' ").strip()
        if kept.startswith("(") and kept.endswith(")"):
            kept = kept[1:-1].strip()
        if any(c.isalnum() for c in kept):
            return kept
    return ""
