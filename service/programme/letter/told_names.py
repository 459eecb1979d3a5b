"""The name of one who is told to have taken the picture, wherever in the sentence it stands: "Moira, my wife, took it". Pure.

Of a sentence that tells who took it (`[credit] takes`), each word that may be a name stands as a sign of its own, and
patterns (`[credit] told`) say where the sign is the taker's. What may be a name: a word with a capital, or in a script
without capitals one that the language does not know. Two takers give none.
"""

from __future__ import annotations

import re
from functools import lru_cache

from moondesk.service.lexicons.folding import Folded
from moondesk.service.lexicons.lexicon import Lexicon
from moondesk.service.lexicons.patterns import LIKELY_NAME, OTHER_NAME, WORD

#: The leader is a full stop that is kept: see `names`. Arabic vowel signs are no letters to `re`.
WORD_OF_NAME = re.compile(
    rf"[^\W\d_](?:{WORD}|[\u064b-\u065f\u0670]|\u2024(?=\w)|(?<=\w)-(?=\w)|(?<=\b[A-Z])['\u2019](?=[A-Z]))*\u2024?"
)
_SIGNS = (LIKELY_NAME, OTHER_NAME)
MOST_WORDS = 4


def name_told(sentence: str, words: Lexicon) -> str:
    """The taker's name as it is written; "" where none is told, or two."""
    folded = words.fold(sentence).text
    if not words.expressions("credit", "told") or words.search("credit", "mine")(folded):
        return ""
    if not (words.search("credit", "takes")(folded) or words.search("child", "told")(folded)):
        return ""
    masked, names = _mask(sentence, words) if words.writing.spaces else (sentence, [])
    text = words.writing.fold(masked)
    for pattern in words.each("credit", "told"):
        found = {name for match in pattern.finditer(text.text) if (name := _name_at(match, text, names, words))}
        if found:
            return found.pop() if len(found) == 1 else ""
    return ""


def _name_at(match: re.Match[str], text: Folded, names: list[str], words: Lexicon) -> str:
    start, end = match.span("who")
    if match["who"] in _SIGNS:
        return names[sum(c in _SIGNS for c in text.text[:start])]
    word = text.words(start, end)
    if word[0].lower() != word[0].upper() or is_none(words, match["who"]):
        return ""
    return word


def _mask(sentence: str, words: Lexicon) -> tuple[str, list[str]]:
    """A sentence with signs for what may be names, and these in their order."""
    out: list[str] = []
    names: list[str] = []
    matches = list(WORD_OF_NAME.finditer(sentence))
    done = k = 0
    while k < len(matches):
        match = matches[k]
        sign, size = _sign(words, match[0])
        k += 1
        if not sign or (k == 1 and _only_begins(sentence, match, words)):
            continue
        start, end = match.start(), match.start() + size
        while end == match.end() and k < len(matches) and len(sentence[start:end].split()) < MOST_WORDS:
            following = matches[k]
            other, size = _sign(words, following[0])
            if (
                not other
                and following[0][0].isupper()
                and words.fold(following[0]).text in words.words("credit", "joins")
            ):
                other, size = OTHER_NAME, len(following[0])
            if not other and _is_family(words, following[0]):
                other, size = OTHER_NAME, len(following[0])  # an Arabic family name may be any word with its article
            if sentence[end : following.start()] != " " or not other:
                break
            match, end, k = following, following.start() + size, k + 1
            sign = LIKELY_NAME if LIKELY_NAME in (sign, other) else sign
        out += [sentence[done:start], sign, " " if end < match.end() else ""]
        names.append(sentence[start:end])
        done = end
    return "".join(out) + sentence[done:], names


def _only_begins(sentence: str, match: re.Match[str], words: Lexicon) -> bool:
    """Whether a sentence's first word has its capital of that alone, as far as a list of first names can tell."""
    word = match[0]
    if not words.first_names or not word[0].isupper() or words.is_first_name(words.fold(word).text):
        return False
    rest = sentence[match.end() :]
    return not rest.startswith((",", "'", "\u2019", " (")) and not rest[1:2].isupper()


def _is_family(words: Lexicon, word: str) -> bool:
    return word.startswith("\u0627\u0644") and bool(word[2:]) and not is_none(words, words.fold(word).text)


@lru_cache(maxsize=4096)
def _sign(words: Lexicon, word: str) -> tuple[str, int]:
    """How likely a word is a name, "" where it is none, and how long without what is stuck to it.

    In a script without capitals known words keep their place: a pattern takes one only where it asks for any."""
    folded = words.fold(word).text.strip("\u2024")
    if word[0].lower() != word[0].upper():
        if not word[0].isupper() or is_none(words, folded):
            return "", 0
        return (OTHER_NAME if words.knows(folded) else LIKELY_NAME), len(word)
    if (words.knows(folded) and not words.is_first_name(folded)) or is_none(words, folded):
        return "", 0
    for ending in sorted(words.words("credit", "clitics"), key=len, reverse=True):
        if folded.endswith(ending) and len(stem := folded.removesuffix(ending)) > 1:
            none = words.knows(stem) or is_none(words, stem)
            return ("", 0) if none else (LIKELY_NAME, len(word) - len(ending))
    return LIKELY_NAME, len(word)


def is_none(words: Lexicon, word: str) -> bool:
    """Whether a folded word is nobody's name."""
    if any(word in words.words("credit", key) for key in ("never", "stops")) or word in words.numbers:
        return True
    classes = [words.classes[name] for name in ("relative", "took") if name in words.classes]
    return any(re.fullmatch(e, word) for e in (*classes, *words.expressions("credit", "nouns")))
