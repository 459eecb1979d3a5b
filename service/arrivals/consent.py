"""Consent in words: whether somebody has said that a picture may be shown, in which sentence. Pure.

From a mail it is only ever a suggestion: nothing goes on air by it until a person has read the sentence. A no beats a
yes, a condition or a question is neither, and a child's picture needs a guardian, who is seldom the one who writes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from service.arrivals.mailtext import sentences

#: given, refused: told by a form, the programme's own table, or a person who noted it. suggested: read from a mail, to
#: be confirmed. unclear: words about it that are neither yes nor no. asked: the question went out. none: nobody has
#: said anything.
State = Literal["given", "suggested", "refused", "unclear", "asked", "none"]
#: How it came: "table" where the programme's table does not say; "terms": by entering, where the programme says so.
Kind = Literal["form", "mail", "phone", "person", "table", "terms", ""]

EVIDENCE_CHARACTERS = 400


@dataclass(frozen=True)
class Consent:
    """evidence: the sentences or the cell, word for word. minor: a child seems to have taken the picture.

    guardian: it was a guardian who said so. noted_by, message_id: of the record that counts; empty for suggestions.
    """

    state: State = "none"
    kind: Kind = ""
    evidence: str = ""
    minor: bool = False
    guardian: bool = False
    noted_by: str = ""
    message_id: str = ""

    @property
    def may_be_shown(self) -> bool:
        """Whether the picture may go on air: somebody has agreed, and for a child's picture a guardian."""
        return self.state == "given" and (self.guardian or not self.minor)


_SHOW = (r"(?:show(?:n|ing)?|us(?:e|ed|ing)|broadcast(?:ing)?|air(?:ed|ing)?|on (?:the )?air|publish(?:ed|ing)?"
         r"|featur(?:e|ed|ing)|shar(?:e|ed|ing)|display(?:ed|ing)?|present(?:ed|ing)?|post(?:ed|ing)?|televis(?:e|ed|ing))")
_PUBLIC = r"(?:on|in) (?:the )?(?:tv|television|air|programme|program|show|internet|web|public|social media)"
_OURS = r"(?:it|them|this|these|my|our|the|any of|photo\w*|picture\w*|image\w*|shot\w*|moon)"
_YES = re.compile(
    rf"\b(?:you|feel free|free|welcome|happy|glad|fine|okay|ok|pleased)\b[^.!?]{{0,60}}\b{_SHOW}\b"
    rf"|\b(?:may|can|could|might) be {_SHOW}\b"
    rf"|\b(?:i|we) (?:hereby )?(?:agree|consent|permit|allow|authori[sz]e|give (?:you )?(?:my |our |full )?"
    r"(?:permission|consent))\b|\bpermission (?:is )?(?:granted|given)\b|\bwith my (?:permission|consent)\b"
    rf"|^(?:please )?(?:show|use|share|broadcast|publish) (?:{_OURS}\b|as you)"
    rf"|\bdo(?: please)? {_SHOW} {_OURS}\b|\bplease {_SHOW} {_OURS}\b", re.IGNORECASE)
_NO = re.compile(
    rf"\b(?:not|never|no|without|cannot|can[\u2019']?t|(?:do|does|did|must|should|would)n[\u2019']?t|refuse\w*|object"
    rf"|forbid\w*|withdraw\w*)\b[^.!?]{{0,60}}\b(?:{_SHOW}|permission|consent|agree|public|{_PUBLIC})\b"
    r"|\bnot for (?:broadcast|publication|television|tv|air|the programme|the program)\b"
    r"|\b(?:private|confidential)(?:ly)? (?:only|please)\b|\bonly for you\b|\bfor your eyes only\b", re.IGNORECASE)
#: A no inside a yes: "no need to ask", "I have no objection", "do not hesitate".
_DOUBLE = re.compile(r"\b(?:no|not any|without) (?:objections?|problems?|need|limits?|restrictions?|conditions?)\b"
                     r"|\bdo(?: not|n[\u2019']t) (?:hesitate|mind|object)\b|\bdoes(?: not|n[\u2019']t) matter\b"
                     r"|\bwhy not\b|\bnot only\b", re.IGNORECASE)
#: A no that is about something else: "I did not use a filter", "the picture does not show the whole Moon".
_ELSEWHERE = re.compile(
    r"\b(?:i|we) (?:have|had|did|do|could)(?: not|n[\u2019']t) (?:use|used) (?:a|an|any|my|the)\b"
    r"|\b(?:it|they|picture|photo|image|shot|camera|phone|telescope|which|that)s? (?:do(?:es)?|did)(?: not|n[\u2019']t)"
    r" (?:really |quite |even )?show\b", re.IGNORECASE)
_CONDITION = re.compile(
    r"\b(?:if(?! you (?:like|wish|want|please|care))|unless|provided|as long as|only|but|except|until|before you|after"
    r" you|first ask|ask me|let me know|condition\w*|pay|paid|fee|licen[cs]e)\b", re.IGNORECASE)
_ASKS = re.compile(r"\?\s*$|\b(?:i|we) (?:wonder|hope|wish|would (?:love|like)|want to know)\b", re.IGNORECASE)
_CHILD = r"(?:son|daughter|grandson|granddaughter|nephew|niece|child|kid|pupils?|students?|little \w+)"
_MINOR = re.compile(
    rf"\bmy (?:\w+ )?{_CHILD}\b[^.!?]{{0,40}}\b(?:took|taken|shot|made|photographed|snapped)\b"
    rf"|\b(?:taken|shot|made|photographed|snapped) by my (?:\w+ )?{_CHILD}\b"
    r"|\b(?:i am|i[\u2019']m|aged?|is) (?:only )?(?:[4-9]|1[0-7])"
    r"(?: years?(?: old)?|\b(?!\s*(?:mm|cm|inch|\"|days?|hours?|%)))"
    r"|\((?:aged? )?(?:[4-9]|1[0-7])\)|\b(?:[4-9]|1[0-7])[- ]years?[- ]old\b|\b(?:our|my) (?:school )?class\b"
    r"|\bschool ?(?:boy|girl|child|children)\b", re.IGNORECASE)


def consent_in_mail(text: str) -> Consent:
    """What a mail's own words say about showing its picture; at most "suggested"."""
    found: dict[State, list[str]] = {"refused": [], "unclear": [], "suggested": []}
    minor = False
    for sentence in sentences(text):
        minor |= _MINOR.search(sentence) is not None
        own = _ELSEWHERE.sub(" ", sentence)
        plain = _DOUBLE.sub("gladly", own)
        if _NO.search(plain):
            found["refused"].append(sentence)
        elif _YES.search(plain) or (plain != own and re.search(rf"\b{_SHOW}\b", plain, re.IGNORECASE)):
            hedged = _CONDITION.search(plain) or _ASKS.search(plain)
            found["unclear" if hedged else "suggested"].append(sentence)
    for state in found:  # a no beats a condition, a condition a yes
        if found[state]:
            said = [s for group in found.values() for s in group]
            return Consent(state, "mail", " ".join(said)[:EVIDENCE_CHARACTERS], minor)
    return Consent(minor=minor)


_CELL_NO = re.compile(r"^(?:no|n|none|not|never|refused|declined|denied|withdrawn|nein|non|0|false)\b|\b(?:not|refused"
                      r"|declined|withdrawn|no consent|no permission)\b", re.IGNORECASE)
_CELL_YES = re.compile(r"^(?:yes|y|ok(?:ay)?|given|granted|agreed|agrees|consent(?:ed|s)?|signed|true|1|x|ja|oui|told"
                       r"|by (?:form|phone|mail|e-?mail)|form|phone|in person)\b", re.IGNORECASE)
_CELL_OPEN = re.compile(r"\?|\b(?:asked|ask|pending|waiting|unknown|maybe|perhaps|unclear|if|only|unless)\b",
                        re.IGNORECASE)
_CELL_KINDS: tuple[tuple[Kind, str], ...] = (
    ("form", r"form|web ?form|upload page|signed"), ("phone", r"(?:by |tele)?phone|called"),
    ("person", r"in person|face to face"), ("mail", r"e-?mail|mail|letter|in writing"),
)


def consent_in_table(cell: str) -> Consent:
    """What the programme's own table says in its cell; words that are neither yes nor no are unclear, never a yes."""
    cell = " ".join(cell.split())
    if not cell or re.fullmatch(r"[-\u2013\u2014/.]+|n/?a", cell, re.IGNORECASE):
        return Consent()
    kind: Kind = next((k for k, words in _CELL_KINDS if re.search(rf"\b(?:{words})\b", cell, re.IGNORECASE)), "table")
    plain, sentence = _DOUBLE.sub("gladly", cell), consent_in_mail(cell).state
    state: State = ("refused" if _CELL_NO.search(plain) or sentence == "refused"
                    else "unclear" if _CELL_OPEN.search(plain) or sentence == "unclear"
                    else "given" if _CELL_YES.search(plain) or sentence == "suggested" else "unclear")
    return Consent(state, kind, cell[:EVIDENCE_CHARACTERS])
