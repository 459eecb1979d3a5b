"""Yes and no by what they are made of: a mark of assent or of a no, and near it a mark of showing. Pure.

There are too many ways to say either to list them whole: "may" and "show", "gladly" and "on the programme", "never" and
"to others" say it in any words around them. So a file lists the marks, and here is told whether two stand together: in one
clause, a few words apart, and nothing with them that turns the meaning.
"""

from __future__ import annotations

import re

from moondesk.service.lexicons.lexicon import Lexicon

#: Words between two marks of one statement, and characters in a script without spaces.
WITHIN, CHARACTERS_WITHIN = 9, 24
_CLAUSE_ENDS = re.compile(r"[.!?;:()\n\u3002\uff08\uff09\u0964\u061f\u061b]+")
#: The same and commas.
_PARTS = re.compile(r"[.!?;:,()\n\u2013\u3001\u3002\uff08\uff09\u0964\u061f\u061b\u060c]+")
#: So many ways to agree are looked at in a sentence.
TRIES = 6
#: What stands for words that end a clause and for what is left out.
_END = " ; "


def assents(text: str, words: Lexicon) -> bool:
    """Whether a folded text, without a no that is none, agrees: `[assent]` leave or pleased with shown, or given with
    meant, and not spoilt."""
    if not words.expressions("assent", "shown"):
        return False
    if is_spoilt(text, words):
        return False
    text = words.without(text, "assent", "aside")
    pairs = (("leave", "shown"), ("pleased", "shown"), ("given", "meant"))
    return any(stand_together(text, words, "assent", *pair) for pair in pairs)


def answers(text: str, words: Lexicon) -> bool:
    """Whether a folded text, without a no that is none, is the yes to a question that it tells: `[assent]` answers."""
    text = words.without(text, "assent", "aside")
    return bool(words.search("assent", "answers")(text)) and not words.search("assent", "spoilt")(text)


def agrees(text: str, words: Lexicon) -> bool:
    """Whether a folded text, without a no that is none, holds one of the listed ways to agree, and nothing stands in that
    part of the sentence by which it is turned: "I do not agree, you may show it" has two parts."""
    search, at = words.search("consent", "yes"), 0
    for _ in range(TRIES):
        found = search(text, at)
        if found is None:
            return False
        start = max((m.end() for m in _PARTS.finditer(text, 0, found.start())), default=0)
        end = _PARTS.search(text, found.end())
        part = text[start : end.start() if end else len(text)]
        if not words.search("consent", "turned")(words.without(part, "assent", "aside")):
            return True
        at = found.start() + 1
    return False


def is_spoilt(text: str, words: Lexicon) -> bool:
    """Whether something in a folded text turns a yes: a no, "only", another's picture."""
    return bool(words.search("assent", "spoilt")(words.without(text, "assent", "aside")))


def denies(text: str, words: Lexicon) -> bool:
    """Whether a folded text, without a no that is none, refuses: `[denial]` no with shown."""
    return stand_together(words.without(text, "denial", "aside"), words, "denial", "no", "shown")


def takes_back(text: str, words: Lexicon) -> bool:
    """Whether a folded text asks to undo what was sent: `[undoing]` undo with sent."""
    return stand_together(words.without(text, "undoing", "aside"), words, "undoing", "undo", "sent")


def stand_together(text: str, words: Lexicon, section: str, first: str, second: str) -> bool:
    """Whether words of two lists stand in one clause and near each other. The section's `parts` begin another clause."""
    if not (words.expressions(section, first) and words.expressions(section, second)):
        return False
    for clause in _CLAUSE_ENDS.split(words.without(text, section, "parts", _END)):
        ones = _places(clause, words, section, first)
        if ones and any(
            _are_near(clause, one, other, words) for other in _places(clause, words, section, second) for one in ones
        ):
            return True
    return False


def _places(text: str, words: Lexicon, section: str, key: str) -> list[tuple[int, int]]:
    return [match.span() for pattern in words.each(section, key) for match in pattern.finditer(text)]


def _are_near(text: str, one: tuple[int, int], other: tuple[int, int], words: Lexicon) -> bool:
    (_, end), (start, _) = sorted((one, other))
    if start < end:
        return False  # one word is not two marks
    between = text[end:start]
    return len(between.split()) <= WITHIN if words.writing.spaces else len(between) <= CHARACTERS_WITHIN
