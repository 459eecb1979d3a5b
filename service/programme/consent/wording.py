"""Consent in words: whether somebody has said that a picture may be shown, in which sentence. Pure.

From a mail it is only ever a suggestion: nothing goes on air by it until a person has read the sentence. A no beats a
yes, a condition or a question is neither, and a child's picture needs a guardian, who is seldom the one who writes.
Only English is read: what stands in another language, and what may have to do with showing and was not understood, is
unclear until a person has read it (see `read_words`).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from moondesk.service.lexicons.lexicon import lexicon
from moondesk.service.programme.consent.doubts import (
    DISCLAIMER,
    SHOW,
    child_in,
    child_spoken,
    is_doubtful,
    is_restrictive,
    is_withdrawal,
    plain_of,
)
from moondesk.service.programme.consent.english import LONGEST, is_foreign, not_english
from moondesk.service.programme.letter.names import read_credit
from moondesk.service.programme.letter.showing import read_showing
from moondesk.service.programme.letter.tongues import is_understood, languages_of, languages_of_sentence
from moondesk.service.programme.mail_text import sentences, without_heads
from moondesk.service.store.records import WordsRead

#: given, refused: told by a form, the programme's own table, or a person who noted it. suggested: read from a mail, to
#: be confirmed. unclear: words that are neither yes nor no, or were not understood. asked: the question went out. none:
#: nobody has said anything.
State = Literal["given", "suggested", "refused", "unclear", "asked", "none"]
#: How it came: "table" where the programme's table does not say; "terms": by entering, where the programme says so.
Kind = Literal["form", "mail", "phone", "person", "table", "terms", ""]

EVIDENCE_CHARACTERS = 400


@dataclass(frozen=True, kw_only=True)
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
    #: Read in a mail: it may take back what was sent before.
    withdrawal: bool = False

    @property
    def agreed(self) -> bool:
        """Whether somebody has agreed, and for a child's picture a guardian. What may go on air is more than that:
        see `moondesk.service.programme.permission`."""
        return self.state == "given" and (self.guardian or not self.minor)


_PUBLIC = r"(?:on|in) (?:the )?(?:tv|television|air|programme|program|show|internet|web|public|social media)"
_OURS = r"(?:it|them|this|these|my|our|the|any of|photo\w*|picture\w*|image\w*|shot\w*|moon)"
_YES = re.compile(
    rf"\b(?:you|feel free|free|welcome|happy|glad|fine|okay|ok|pleased)\b[^.!?]{{0,60}}\b{SHOW}\b"
    rf"|\b(?:may|can|could|might) be {SHOW}\b"
    rf"|\b(?:i|we) (?:hereby )?(?:agree|consent|permit|allow|authori[sz]e|give (?:you )?(?:my |our |full )?"
    r"(?:permission|consent))\b|\bpermission (?:is )?(?:granted|given)\b|\bwith my (?:permission|consent)\b"
    rf"|^(?:please )?(?:show|use|share|broadcast|publish) (?:{_OURS}\b|as you)"
    rf"|\bdo(?: please)? {SHOW} {_OURS}\b|\bplease {SHOW} {_OURS}\b",
    re.IGNORECASE,
)
_NO = re.compile(
    rf"\b(?:not|never|no|without|cannot|can[\u2019']?t|(?:do|does|did|must|should|would)n[\u2019']?t|refuse\w*|object"
    rf"|forbid\w*|withdraw\w*)\b[^.!?]{{0,60}}\b(?:{SHOW}|permission|consent|agree|public|{_PUBLIC})\b"
    r"|\bnot for (?:broadcast|publication|television|tv|air|the programme|the program)\b"
    r"|\b(?:private|confidential)(?:ly)? (?:only|please)\b|\bonly for you\b|\bfor your eyes only\b"
    rf"|\bkeep (?:it|this|them|that|(?:my|our|the) \w+) (?:off|out of|from) (?:the )?(?:air|tv|television|show"
    rf"|programme"
    rf"|program|internet|web)|\brefrain from {SHOW}\b|\b(?:consent|permission)\s*[:=-]\s*no\b"
    r"|\bkeep (?:it|this|them|that) (?:to yoursel(?:f|ves)|between us|private|secret|confidential)\b"
    r"|\b(?:remove|delete|erase|withdraw|take down|destroy) (?:all )?(?:my|our|the|that|this|these|those) (?:\w+ )?"
    r"(?:pictures?|photos?|photographs?|images?|shots?|mails?|e-mails?|submissions?|permission|consent)\b"
    r"|\bfor (?:internal|personal|private) use only\b",
    re.IGNORECASE,
)
#: A no inside a yes: "no need to ask", "I have no objection", "do not hesitate".
_DOUBLE = re.compile(
    r"\b(?:no|not any|without) (?:objections?|problems?|need|limits?|restrictions?|conditions?)\b"
    r"|\bdo(?: not|n[\u2019']t) (?:hesitate|mind|object)\b|\bdoes(?: not|n[\u2019']t) matter\b"
    r"|\bwhy not\b|\bnot only\b",
    re.IGNORECASE,
)
#: Thanks for what was shown is no leave to show more.
_SHOWN = re.compile(
    r"\byou(?:[\u2019']ve)? (?:have |had |just |already |kindly |once ){0,2}(?:used|showed|shown|aired"
    r"|featured|published|shared|displayed|presented|posted)\b"
    r"|\byou were (?:so )?kind enough to \w+",
    re.IGNORECASE,
)
_CONDITION = re.compile(
    r"\b(?:if(?! you (?:like|wish|want|please|care))|unless|provided|as long as|only|but|except|until|before you|after"
    r" you|first ask|ask me|let me know|condition\w*|pay|paid|fee|licen[cs]e)\b",
    re.IGNORECASE,
)
_ASKS = re.compile(r"\?\s*$|\b(?:i|we) (?:wonder|hope|wish|would (?:love|like)|want to know)\b", re.IGNORECASE)


def consent_in_mail(text: str, doubtful: Callable[[str], bool] = is_doubtful) -> Consent:
    """What a mail's own words say about showing its picture, in any language with a list; at most "suggested".

    doubtful: see `doubts`, of English. "none" says only that no sentence was found that has to do with it: whether the
    rest was understood, see `read_words`.
    """
    found: dict[State, list[str]] = {"refused": [], "unclear": [], "suggested": []}
    minor = guardian = withdrawal = False
    beside: list[str] = []  # doubts that a clear yes outweighs: a person confirms it, and sees them
    mail = languages_of(text)
    for sentence in sentences(text):
        codes = languages_of_sentence(sentence, mail)
        others = [read_showing(sentence, lexicon(code)) for code in codes if code != "en"]
        english = "en" in codes or not others or not not_english(sentence)
        state = _strongest(([_state_of(sentence, doubtful)] if english else []) + [_STATES[s.consent] for s in others])
        told = any(s.child for s in others) or (english and child_in(sentence[:LONGEST]))
        spoken = any(s.child_spoken for s in others) or (english and child_spoken(sentence[:LONGEST]))
        minor |= told
        guardian |= any(s.guardian for s in others)
        withdrawal |= any(s.withdrawal for s in others) or (english and is_withdrawal(sentence))
        unnamed = state == "unclear" and read_credit(sentence).unnamed
        beside += [sentence] if unnamed or (spoken and not told) else []  # else minor says it
        if state is not None and not unnamed:
            found[state].append(sentence)
    base = Consent(minor=minor, guardian=guardian, withdrawal=withdrawal)
    for state in found:  # a no beats a condition, a condition a yes
        if found[state]:
            said = [s for group in found.values() for s in group]
            return replace(base, state=state, kind="mail", evidence=" ".join(said)[:EVIDENCE_CHARACTERS])
    if beside:
        return replace(base, state="unclear", kind="mail", evidence=" ".join(beside)[:EVIDENCE_CHARACTERS])
    return base


_STATES: dict[str, State | None] = {"no": "refused", "open": "unclear", "yes": "suggested", "": None}
_ORDER: tuple[State, ...] = ("refused", "unclear", "suggested")


def _strongest(states: list[State | None]) -> State | None:
    return next((state for state in _ORDER if state in states), None)


def _state_of(sentence: str, doubtful: Callable[[str], bool]) -> State | None:
    """What one sentence says; None where it has nothing to do with it."""
    if len(sentence) > LONGEST:
        return "unclear"
    if DISCLAIMER.search(sentence):
        return "unclear"
    own = plain_of(sentence)
    plain = _SHOWN.sub(" ", _DOUBLE.sub("gladly", own))
    if _NO.search(plain):
        return "refused"
    if _YES.search(plain) or ("gladly" in plain and plain != own and re.search(rf"\b{SHOW}\b", plain, re.IGNORECASE)):
        return "unclear" if _CONDITION.search(plain) or _ASKS.search(plain) else "suggested"
    told = _DOUBLE.sub("gladly", sentence)
    if (read_credit(sentence).name or child_in(sentence)) and not is_restrictive(told):
        return None  # how to be named is no condition; who took it is told apart
    return "unclear" if doubtful(told) else None


def read_words(
    subject: str, own: str, beside: str = "", signature: str = "", sender: str = "", whole: bool = True
) -> tuple[Consent, WordsRead]:
    """What a mail's words say, and whether they were understood: silence has a meaning only where all were.

    own: the sender's words; beside: what is quoted or repeated, which can raise a doubt and never settle one; whole:
    False where words came in a form that is not read. Not understood is "unclear", with the sentences that were not; a
    yes that was read stays one, for a person to confirm, where what was not understood is in a language with a list.
    """
    text = f"{subject}\n\n{own}"
    said, quoted = consent_in_mail(text), without_heads(beside)
    if not f"{subject}{own}{beside}{signature}".strip() and whole:
        return said, "none"
    mail = languages_of(text)
    unknown = [
        (s, languages_of_sentence(s, mail))
        for part in (text, quoted)
        for s in sentences(part)
        if not is_understood(s, languages_of_sentence(s, mail), sender)
    ]
    open_ones = [s for s, _ in unknown] + [
        s for s in sentences(signature) if is_foreign(s, sender) and not languages_of_sentence(s, mail)
    ]
    doubted = not whole or any(not codes or codes == ("en",) for _, codes in unknown)
    for part in (quoted, signature):
        more = consent_in_mail(part)
        if said.state == "none" and (more.state != "none" or more.minor):
            open_ones.append(more.evidence or part)
            doubted = True
    if beside.strip() and not own.strip():
        open_ones.append(beside)  # perhaps somebody else's picture and words
        doubted = True
    if child_in(sender):
        said = replace(said, minor=True)
    if not open_ones and whole:
        return said, "understood"
    if said.state == "none" or (said.state == "suggested" and doubted):
        words = " ".join(filter(None, (said.evidence, *open_ones)))
        said = replace(said, state="unclear", kind="mail", evidence=" ".join(words.split())[:EVIDENCE_CHARACTERS])
    return said, "not_understood"


_CELL_NO = re.compile(
    r"^(?:no|n|none|not|never|refused|declined|denied|withdrawn|nein|non|0|false)\b|\b(?:not|refused"
    r"|declined|withdrawn|no consent|no permission)\b",
    re.IGNORECASE,
)
_CELL_YES = re.compile(
    r"^(?:yes|y|ok(?:ay)?|given|granted|agreed|agrees|consent(?:ed|s)?|signed|true|1|x|ja|oui|told"
    r"|by (?:form|phone|mail|e-?mail)|form|phone|in person)\b",
    re.IGNORECASE,
)
#: What such a cell says of itself, so that what is left of it can be read as words.
_CELL_PLAIN = re.compile(
    r"\b(?:consent(?:ed|s)?|permission|given|granted|agreed|agrees|authori[sz]ed|signed|told"
    r"|noted)\b"
    r"|^(?:ja|oui|x|y|1)$",
    re.IGNORECASE,
)
_CELL_OPEN = re.compile(
    r"\?|\b(?:asked|ask|pending|waiting|unknown|maybe|perhaps|unclear|if|only|unless)\b", re.IGNORECASE
)
_CELL_KINDS: tuple[tuple[Kind, str], ...] = (
    ("form", r"form|web ?form|upload page|signed"),
    ("phone", r"(?:by |tele)?phone|called"),
    ("person", r"in person|face to face"),
    ("mail", r"e-?mail|mail|letter|in writing"),
)


def consent_in_table(cell: str) -> Consent:
    """What the programme's own table says in its cell; words that are neither yes nor no are unclear, never a yes."""
    cell = " ".join(cell.split())
    if not cell or re.fullmatch(r"[-\u2013\u2014/.]+|n/?a", cell, re.IGNORECASE):
        return Consent()
    kind: Kind = next((k for k, words in _CELL_KINDS if re.search(rf"\b(?:{words})\b", cell, re.IGNORECASE)), "table")
    plain = _DOUBLE.sub("gladly", cell)
    rest = _CELL_PLAIN.sub(" ", plain)
    said = consent_in_mail(rest, is_restrictive)
    sentence = "unclear" if said.minor else said.state
    known = not not_english(rest) and not is_foreign(rest)
    state: State = (
        "refused"
        if _CELL_NO.search(plain) or sentence == "refused"
        else "unclear"
        if _CELL_OPEN.search(plain) or sentence == "unclear" or not known
        else "given"
        if _CELL_YES.search(plain) or sentence == "suggested"
        else "unclear"
    )
    return Consent(state=state, kind=kind, evidence=cell[:EVIDENCE_CHARACTERS])
