"""How a sender asks to be named in a mail's own words: "please credit me as Ilse K." beats the account's name. Pure.

A suggestion like all that is read from words. One who asks not to be named is not named by any other name either.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from moondesk.service.programme.mail_text import sentences

NAME_CHARACTERS = 80


@dataclass(frozen=True)
class Credit:
    """name: as asked for, "" where none is; unnamed: asks not to be named; words: the sentence that says so."""

    name: str = ""
    unnamed: bool = False
    words: str = ""


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
