"""Consent in words: whether somebody has said that a picture may be shown, in which sentence. Pure.

From a mail it is only ever a suggestion: nothing goes on air by it until a person has read the sentence. A no beats a
yes, a condition or a question is neither, and a child's picture needs a guardian, who is seldom the one who writes.
What stands in a language without a list, and what may have to do with showing and was not understood, is unclear until a
person has read it (see `read_words`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Literal

from moondesk.service.lexicons.lexicon import Lexicon, lexicon
from moondesk.service.programme.letter.learnt import weigh
from moondesk.service.programme.letter.names import credit_by_rules
from moondesk.service.programme.letter.plain import is_foreign, language_of_plain
from moondesk.service.programme.letter.showing import GLADLY, read_showing
from moondesk.service.programme.letter.tongues import is_understood, languages_of, languages_of_sentence
from moondesk.service.programme.mail_text import lines_of_sentences, sentences, without_heads
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
    #: The sentences that say so of a child, of its guardian, of taking back.
    child_words: str = ""
    guardian_words: str = ""
    withdrawal_words: str = ""

    @property
    def agreed(self) -> bool:
        """Whether somebody has agreed, and for a child's picture a guardian. What may go on air is more than that:
        see `moondesk.service.programme.permission`."""
        return self.state == "given" and (self.guardian or not self.minor)


FEW = 3
#: No mail program breaks a line that is so short; more lines without a stop are not parted.
SHORT_LINE, MOST_LINES = 60, 12
LAST_WORDS = 3
#: A sentence of no language that is known is read with the words of this one.
ELSE = "en"


#: What a sentence that the rules doubt is where it most likely means that; by itself what is learnt says nothing.
_GRAVE = frozenset({"no", "withdrawal"})


def consent_in_mail(text: str, cell: bool = False) -> Consent:
    """What a mail's own words say about showing its picture, in any language with a list; at most "suggested".

    cell: it stands in a table, and need not speak of the Moon. "none" says only that no sentence was found that has to
    do with it: whether the rest was understood, see `read_words`.
    """
    found: dict[State, list[str]] = {"refused": [], "unclear": [], "suggested": []}
    about: dict[str, list[str]] = {"child": [], "guardian": [], "withdrawal": []}
    beside: list[str] = []  # doubts that a clear yes outweighs: a person confirms it, and sees them
    mail = languages_of(text)
    for sentence in (s for lines in lines_of_sentences(text) for s in _parted(lines, mail)):
        codes = languages_of_sentence(sentence, mail)
        learnt = weigh(sentence, codes[0]) if codes else frozenset()
        plain = language_of_plain(sentence)
        codes = (*codes, plain) if plain and plain not in codes else codes or (ELSE,)
        readings = [read_showing(sentence, lexicon(code)) for code in codes]
        clear = any(
            r.consent == "yes" and lexicon(c).share(sentence) == 1 for c, r in zip(codes, readings, strict=True)
        )
        # where one language knows every word of a yes, another's not understanding it says nothing; its no does
        state = _strongest([_STATES[one.consent] for one in readings if one.sure or not clear])
        spoken = any(one.child_spoken for one in readings)
        doubted = state in ("unclear", "refused") and not cell and not any(r.light or r.boilerplate for r in readings)
        graver = learnt & (_GRAVE if doubted else frozenset())
        if graver:
            state = "refused"
        graver |= learnt & ({"child"} if spoken else frozenset())
        told = any(one.child for one in readings) or "child" in graver
        for what in about:
            if what in graver or any(getattr(one, what) for one in readings):
                about[what].append(sentence)
        credit = (
            credit_by_rules(sentence) if state == "unclear" or any(one.off_the_subject for one in readings) else None
        )
        # how to be named is no condition; who took it is told apart
        off = state is None and credit is not None and not cell and not told and not credit.name
        unnamed = state == "unclear" and credit is not None and credit.unnamed
        light = all(one.light for one in readings if one.consent == "open") or any(one.boilerplate for one in readings)
        outweighed = unnamed or (state == "unclear" and light)
        beside += [sentence] if off or outweighed or (spoken and not told) else []  # else minor says it
        if state is not None and not outweighed:
            found[state].append(sentence)
    words = {what: " ".join(said)[:EVIDENCE_CHARACTERS] for what, said in about.items()}
    base = Consent(
        minor=bool(about["child"]),
        guardian=bool(about["guardian"]),
        withdrawal=bool(about["withdrawal"]),
        child_words=words["child"],
        guardian_words=words["guardian"],
        withdrawal_words=words["withdrawal"],
    )
    for state in found:  # a no beats a condition, a condition a yes
        if found[state]:
            said = [s for group in found.values() for s in group]
            return replace(base, state=state, kind="mail", evidence=" ".join(said)[:EVIDENCE_CHARACTERS])
    if beside:
        return replace(base, state="unclear", kind="mail", evidence=" ".join(beside)[:EVIDENCE_CHARACTERS])
    return base


def _parted(lines: tuple[str, ...], mail: tuple[str, ...]) -> tuple[str, ...]:
    """A sentence, or its lines where nobody ended one with a stop: short lines of which one is a clear yes and none another
    thing, while together the words of several seem a no."""
    whole = " ".join(lines)
    if not 1 < len(lines) <= MOST_LINES or max(map(len, lines)) > SHORT_LINE:
        return (whole,)
    for code in languages_of_sentence(whole, mail):
        words = lexicon(code)
        if read_showing(whole, words).consent != "no":
            continue
        said = [read_showing(line, words).consent for line in lines]
        folded = [words.fold(line).text for line in lines]
        goes_on = any(_ends_with_a_no(line, words) for line in folded)
        if not set(said) <= {"", "yes"} or "yes" not in said or goes_on:
            return (whole,)
        if any(words.search("consent", "condition")(line) for line in folded):
            return (whole,)
        return lines
    return (whole,)


def _ends_with_a_no(line: str, words: Lexicon) -> bool:
    """Whether a no among a line's last words may be one to what the next line says; in a script without spaces (Japanese)
    a no ends its statement."""
    last = " ".join(line.split()[-LAST_WORDS:])
    return words.writing.spaces and any(
        words.search("class", name)(last) for name in ("no", "neg", "weak", "ma") if name in words.classes
    )


_STATES: dict[str, State | None] = {"no": "refused", "open": "unclear", "yes": "suggested", "": None}
_ORDER: tuple[State, ...] = ("refused", "unclear", "suggested")


def _strongest(states: list[State | None]) -> State | None:
    return next((state for state in _ORDER if state in states), None)


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
    # a few words alone, a name or a greeting, are in the language of the rest
    doubted = not whole or any(not codes and not (mail and len(s.split()) <= FEW) for s, codes in unknown)
    for part in (quoted, signature):
        more = consent_in_mail(part)
        if said.state == "none" and (more.state != "none" or more.minor):
            open_ones.append(more.evidence or part)
            doubted = True
    if beside.strip() and not own.strip():
        open_ones.append(beside)  # perhaps somebody else's picture and words
        doubted = True
    if any(read_showing(sender, lexicon(code)).child for code in languages_of(sender) or (ELSE,)):
        said = replace(said, minor=True, child_words=said.child_words or sender)
    if not open_ones and whole:
        return said, "understood"
    if said.state == "none" or (said.state == "suggested" and doubted):
        words = " ".join(filter(None, (said.evidence, *open_ones)))
        said = replace(said, state="unclear", kind="mail", evidence=" ".join(words.split())[:EVIDENCE_CHARACTERS])
    return said, "not_understood"


def consent_in_table(cell: str) -> Consent:
    """What the programme's own table says in its cell; words that are neither yes nor no are unclear, never a yes."""
    cell = " ".join(cell.split())
    if not cell or re.fullmatch(r"[-\u2013\u2014/.]+|n/?a", cell, re.IGNORECASE):
        return Consent()
    kinds: tuple[Kind, ...] = ("form", "phone", "person", "mail")
    words = lexicon(ELSE)
    text = words.fold(cell).text
    kind: Kind = next((k for k in kinds if words.search("cell.kinds", k)(text)), "table")
    plain = words.without(text, "consent", "double", GLADLY)
    rest = words.without(plain, "cell", "plain")
    said = consent_in_mail(rest, cell=True)
    sentence = "unclear" if said.minor else said.state
    known = bool(language_of_plain(rest)) and not is_foreign(rest)
    state: State = (
        "refused"
        if words.search("cell", "no")(plain) or sentence == "refused"
        else "unclear"
        if words.search("cell", "open")(plain) or sentence == "unclear" or not known
        else "given"
        if words.search("cell", "yes")(plain) or sentence == "suggested"
        else "unclear"
    )
    return Consent(state=state, kind=kind, evidence=cell[:EVIDENCE_CHARACTERS])
