"""Is a text English, and nothing else: only then has its silence a meaning. Pure.

Every sentence must be: one in another language may be the one that matters. A sentence is English where nearly all of
its words are (`english_words`), no two unknown ones stand side by side, and names stand where names do. Other scripts,
words that say no in other languages, and signs that stand for words are never English.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import cache

from moondesk.service.programme.consent.english_words import BEFORE_NAMES, FOREIGN, NAMES, WORDS
from moondesk.service.programme.mail_text import sentences

#: Of a sentence's words so many at most may be unknown; a name that stands in an odd place counts half.
UNKNOWN_SHARE = 0.25
#: No sentence is longer.
LONGEST = 1_500
#: Below so many words all must be known.
SHORT = 4
#: So many names at most in a row.
NAMES_IN_A_ROW = 6

_WORD = re.compile(r"[^\W\d_]+(?:['\u2019][^\W\d_]+)*")
_ADDRESS = re.compile(r"\S{1,80}@\S+|https?://\S+|www\.\S+", re.IGNORECASE)
#: Words that hold digits: file names, focal lengths, types of telescopes.
_CODE = re.compile(
    r"\b[^\W_]*\d[^\W_]*\b|\b\w+\.(?:jpe?g|png|heic|tiff?|webp|fits?|avif)\b|\b(?:img|dsc|dscn"
    r"|pxl)_\w*|^\s*(?:(?:re|fwd?):\s*)+",
    re.IGNORECASE,
)
#: Signs that stand for words.
_SIGNS = re.compile(
    "[\u2705\u2714\u274c\u274e\u26d4\U0001f44d\U0001f44e\U0001f51e\U0001f512\U0001f645\U0001f64a"
    "\U0001f6ab\U0001f6d1\U0001f92b\U0001f910\U0001f4f5]"
)
_ENDINGS = (
    "'s",
    "'ll",
    "'ve",
    "'re",
    "'d",
    "'m",
    "n't",
    "s",
    "es",
    "ed",
    "d",
    "ing",
    "ly",
    "er",
    "r",
    "est",
    "st",
    "y",
    "ies",
    "ied",
    "ier",
    "iest",
    "ily",
    "ness",
    "less",
    "ful",
    "able",
    "ish",
    "al",
    "ment",
    "ward",
    "wards",
)


def not_english(text: str, names: str = "") -> tuple[str, ...]:
    """The sentences of a text that are not English, as they are written. names: the sender's, which stand in it as they
    are."""
    own = _own(names)
    return tuple(s for s in sentences(text) if not _is_english(s, own))


def is_foreign(text: str, names: str = "") -> bool:
    """Whether a text is surely of another language: by its script, or by words that say no in one; names as there."""
    return _is_foreign(text, _own(names))


def _own(names: str) -> frozenset[str]:
    return frozenset(_fold(word) for word in _WORD.findall(names)) - FOREIGN


def _is_foreign(text: str, own: frozenset[str]) -> bool:
    words = (word for word in _WORD.findall(text) if _fold(word) not in own)
    return any(_fold(word) in FOREIGN or not _is_latin(word) for word in words) or bool(_SIGNS.search(text))


def is_known(word: str) -> bool:
    """Whether a word is one of the known ones, also with an ending."""
    word = _fold(word)
    return (
        word in WORDS
        or word in NAMES
        or len(word) == 1
        or any(_plain_forms(word))
        or word.removesuffix("'s") in lunar_names()
    )


@cache
def lunar_names() -> frozenset[str]:
    """The words of the names on the Moon; short ones are left out, for they may be words of any language."""
    from moondesk.moon.catalogue import all_features, fold_name

    words = (word for feature in all_features() for word in _WORD.findall(feature.name))
    return frozenset(w for word in words if len(word) > 4 for w in (_fold(word), fold_name(word)) if w not in FOREIGN)


def _is_english(sentence: str, own: frozenset[str]) -> bool:
    if len(sentence) > LONGEST or _is_foreign(sentence, own):
        return False
    words = _WORD.findall(_CODE.sub(" , ", _ADDRESS.sub(" , ", sentence)))
    if not words:
        return True
    shouted = len(words) > 1 and all(word.isupper() for word in words)
    doubt, row, before, last_unknown = 0.0, 0, "", False
    for word in words:
        folded = _fold(word)
        unknown = not (folded in own or is_known(word))
        if unknown and not shouted and (word[0].isupper() or (word[1:] and word[1:] != word[1:].lower())):
            placed = before in BEFORE_NAMES or (0 < row < NAMES_IN_A_ROW)
            doubt += 0.0 if placed else 0.5
            row = row + 1 if placed else 0
            if not placed and len(words) < SHORT:
                return False
            unknown = False
        else:
            row = 0
            doubt += unknown
            if unknown and (last_unknown or len(words) < SHORT):
                return False
        last_unknown, before = unknown, folded
    return doubt <= UNKNOWN_SHARE * len(words)


def _fold(word: str) -> str:
    return word.casefold().replace("\u2019", "'")


def _is_latin(word: str) -> bool:
    """Latin letters; a single Greek one is a unit or a star's."""
    if (len(word) == 1 and "GREEK" in unicodedata.name(word, "")) or word in "\u00b5\u00ba\u00aa":
        return True
    return all(unicodedata.name(c, "").startswith("LATIN") or c in "'\u2019" or unicodedata.combining(c) for c in word)


def _plain_forms(word: str) -> Iterable[bool]:
    """For each way to take an ending off: whether what is left is known."""
    for ending in _ENDINGS:
        if not word.endswith(ending) or len(word) - len(ending) < 2:
            continue
        left = word[: -len(ending)]
        yield left in WORDS or left in NAMES
        if ending in ("ed", "ing", "er", "able", "est", "ish"):
            yield left + "e" in WORDS
            yield len(left) > 2 and left[-1] == left[-2] and left[:-1] in WORDS  # stopped
        if ending in ("ies", "ied", "ier", "iest", "ily"):
            yield left + "y" in WORDS
        if ending == "y":
            yield left + "e" in WORDS  # hazy
            yield left + "le" in WORDS  # gently
            yield len(left) > 2 and left[-1] == left[-2] and left[:-1] in WORDS  # sunny
    for start in ("un", "re", "over", "under", "non", "out", "mid", "in"):
        if word.startswith(start) and len(word) > len(start) + 2:
            yield word[len(start) :] in WORDS
