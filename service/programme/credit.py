"""How a sender is named. Asked for in a mail's own words ("please credit me as Ilse K.") it beats the account's name.
Pure.

A suggestion like all that is read from words. One who asks not to be named is not named by any other name either.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from moondesk.service.programme.mail_text import sentences
from moondesk.service.store.records import Arrival, ListedPicture
from moondesk.service.store.rundown_items import RundownItem

NAME_CHARACTERS = 80


@dataclass(frozen=True)
class Credit:
    """name: as asked for, "" where none is; unnamed: asks not to be named; words: the sentence that says so; doubt: why
    nobody can be named yet."""

    name: str = ""
    unnamed: bool = False
    words: str = ""
    doubt: str = ""


_ASKED = re.compile(
    r"(?:\b(?:please )?(?:credit|name|call|mention|acknowledge|list|show) me (?:only |just |simply )?(?:as|by)"
    r"|\b(?:please )?credit (?:it|this|the (?:photo|picture|image)) (?:to|as)"
    r"|\bcredit(?: line)?(?: (?:should (?:be|read|say)|is|reads)\s*:?|\s*:)"
    r"|^(?:photo(?:graph)?|picture|image)s?(?: credit)?(?: by|:)|\bname (?:to show|on air|on screen|for the credit)\s*:"
    r"|(?:\u00a9|\(c\))(?: ?\d{4})?(?: by)?)\s+(?P<name>.+)",
    re.IGNORECASE,
)
_UNNAMED = re.compile(
    r"\b(?:do not|don[\u2019']t|please never|without|no need to) (?:\w+ ){0,3}?(?:my (?:full |real )?name|naming me"
    r"|name me|mention me|credit me)\b|\b(?:stay|remain|be|keep me|credit me as|name me as) anonymous\b"
    r"|\banonymously\b|\bno names?,? please\b",
    re.IGNORECASE,
)
#: Where a name ends: at the next statement, or at the words that lead on to it.
_END = re.compile(
    r"\s*(?:[.;!?\n](?:\s|$)|,? (?:and|but|if|when|thank\w*|please|thanks|or|so|on air|in the)\b|\s-\s).*$",
    re.IGNORECASE | re.DOTALL,
)
#: Initials and titles keep their full stop: "Ilse K.", "Dr. Bo Lind".
_LEADER = "\u2024"  # a full stop to the eye and none to the rule that parts sentences
_STOP_KEPT = re.compile(r"\b([^\W\d_]|Dr|Prof|St|Jr|Sr|Mr|Mrs|Ms)\.", re.IGNORECASE)


def read_credit(text: str) -> Credit:
    """The credit that a mail asks for; empty where it asks for none, or for two different ones."""
    found: dict[str, str] = {}
    for sentence in sentences(_STOP_KEPT.sub(rf"\1{_LEADER}", text)):
        plain = sentence.replace(_LEADER, ".")
        if _UNNAMED.search(plain):
            return Credit("", True, plain)
        match = _ASKED.search(sentence)
        name = _name(match.group("name")) if match else ""
        if name:
            found.setdefault(name, plain)
    if len(found) != 1:
        return Credit()
    ((name, words),) = found.items()
    return Credit(name, False, words)


def _name(text: str) -> str:
    """The name at the start of a text: quoted, or up to where the sentence goes on; "" where no name stands there."""
    text = text.strip()
    quoted = re.match(r"[\"\u201c\u201e\u00ab'\u2018](.{1,80}?)[\"\u201d\u201c\u00bb'\u2019](?:\W|$)", text)
    name = quoted.group(1) if quoted else _END.sub("", text)
    name = name.replace(_LEADER, ".").strip(" ,:\"'").removesuffix(" .")
    if not 1 < len(name) <= NAME_CHARACTERS or not any(c.isalpha() for c in name):
        return ""
    # a name begins with a capital or a handle's sign (letters without case count); "credit me as you wish" names nobody
    first = name[0]
    return "" if first.islower() and not quoted else name


def credit_of(arrival: Arrival) -> Credit:
    """How the sender is to be named: as the table says, else as the mail asks, else by the name of the account.

    unnamed (with an empty name): the sender asks not to be named.
    """
    if arrival.credit_line:
        return Credit(arrival.credit_line)
    by_field = {s.field: s for s in arrival.suggestions}
    if "unnamed" in by_field:
        return Credit("", True, by_field["unnamed"].words)
    if "credit" in by_field:
        return Credit(by_field["credit"].value, False, by_field["credit"].words)
    if "forwarded" in by_field:
        taken = re.sub(r"\s*<[^<>]*>$", "", by_field["forwarded"].value) or by_field["forwarded"].value
        return Credit(doubt=f"Forwarded by {sender_of(arrival)}; perhaps taken by {taken}: ask whose picture it is.")
    return Credit(arrival.sender_name)


def sender_of(arrival: Arrival) -> str:
    return arrival.sender_name or arrival.sender_address or "Sender not named"


def teller_of(arrival: Arrival) -> str:
    """Who says when it was taken, where somebody has said so."""
    return arrival.taken_by or ("the desk" if arrival.way.by_desk else arrival.sender_name or "the sender")


def credit_words(item: RundownItem, listed: ListedPicture) -> tuple[str, str, bool]:
    """The credit exactly as it will be shown, where it comes from, and whether it is missing."""
    own = credit_of(listed.picture.submission.arrival)
    if item.credit_line is not None:
        said = f"written here; the sender asked for “{own.name}”" if own.name else "written here"
        if own.unnamed:
            said = f"written here; the sender asks not to be named: “{own.words}”"
        return item.credit_line, said, False
    if own.unnamed:
        return "", f"the sender asks not to be named: “{own.words}”", False
    if own.doubt:
        return "", own.doubt, True
    if not own.name:
        return "", "Missing: ask the sender how to be named, or tick that no name is shown.", True
    return own.name, f"as the mail asks: “{own.words}”" if own.words else "", False
