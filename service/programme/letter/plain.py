"""Is a text of one language and of no other: only then has its silence a meaning. Pure.

Of a language whose file has a `[plain]` table not every word need be known, as its list is long: a sentence is of it
where nearly all of its words are, also with an ending, no two unknown ones stand side by side, and names stand where
names do. Other scripts, words that say no in other languages, and signs that stand for words are never of it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import cache

from moondesk.service.lexicons.lexicon import lexicon, lexicons
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


@cache
def plain_codes() -> tuple[str, ...]:
    """The languages that are known so."""
    return tuple(code for code, one in lexicons().items() if "plain" in one.table)


def language_of_plain(text: str, names: str = "") -> str:
    """The language that all sentences of a text are of; "" for none. names: the sender's, which stand in it as they
    are."""
    said = tuple(sentences(text))
    return next((code for code in plain_codes() if all(_is_of(s, code, _own(names, code)) for s in said)), "")


def is_foreign(text: str, names: str = "") -> bool:
    """Whether a text is surely of none of them: by its script, or by words that say no in another; names as there."""
    return all(_is_foreign(text, code, _own(names, code)) for code in plain_codes())


@cache
def lunar_names() -> frozenset[str]:
    """The words of the names on the Moon; short ones are left out, for they may be words of any language."""
    from moondesk.moon.catalogue import all_features, fold_name

    words = (word for feature in all_features() for word in _WORD.findall(feature.name))
    other = frozenset(w for code in plain_codes() for w in word_list(code, "foreign"))
    return frozenset(w for word in words if len(word) > 4 for w in (_fold(word), fold_name(word)) if w not in other)


@cache
def word_list(code: str, key: str) -> frozenset[str]:
    """The words of a list of the language's `[plain]` table, or its known ones, as they are written."""
    table = lexicon(code).table
    return frozenset(str(table["known"] if key == "known" else table["plain"].get(key, "")).split())


def is_known(word: str, code: str) -> bool:
    """Whether a word is one of the known ones, also with an ending."""
    word = _fold(word)
    return (
        _is_listed(word, code)
        or len(word) == 1
        or any(_is_listed(form, code) for form in _plain_forms(word, code))
        or word.removesuffix("'s") in lunar_names()
    )


def _is_listed(word: str, code: str) -> bool:
    return word in word_list(code, "known") or word in word_list(code, "names")


def _own(names: str, code: str) -> frozenset[str]:
    return frozenset(_fold(word) for word in _WORD.findall(names)) - word_list(code, "foreign")


def _is_foreign(text: str, code: str, own: frozenset[str]) -> bool:
    words = (word for word in _WORD.findall(text) if _fold(word) not in own)
    foreign, scripts = word_list(code, "foreign"), lexicon(code).scripts
    return any(_fold(word) in foreign or not _is_in(word, scripts) for word in words) or bool(_SIGNS.search(text))


def _is_of(sentence: str, code: str, own: frozenset[str]) -> bool:
    if len(sentence) > LONGEST or _is_foreign(sentence, code, own):
        return False
    words = _WORD.findall(_CODE.sub(" , ", _ADDRESS.sub(" , ", sentence)))
    if not words:
        return True
    shouted = len(words) > 1 and all(word.isupper() for word in words)
    doubt, row, before, last_unknown = 0.0, 0, "", False
    for word in words:
        folded = _fold(word)
        unknown = not (folded in own or is_known(word, code))
        if unknown and not shouted and (word[0].isupper() or (word[1:] and word[1:] != word[1:].lower())):
            placed = before in word_list(code, "before_names") or (0 < row < NAMES_IN_A_ROW)
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


def _is_in(word: str, scripts: tuple[str, ...]) -> bool:
    """Letters of a script; a single Greek one is a unit or a star's."""
    if (len(word) == 1 and "GREEK" in unicodedata.name(word, "")) or word in "\u00b5\u00ba\u00aa":
        return True
    return all(unicodedata.name(c, "").startswith(scripts) or c in "'\u2019" or unicodedata.combining(c) for c in word)


def _plain_forms(word: str, code: str) -> Iterable[str]:
    """What may be left of a word where an ending or a beginning is taken off: `ing` off "stopping" leaves "stop"."""
    for said in word_list(code, "endings"):  # ending/what stands for it/= for a doubled letter
        ending, *instead = said.split("/")
        left = word[: -len(ending)]
        if not word.endswith(ending) or len(left) < 2:
            continue
        yield left
        for other in instead:
            if other != "=":
                yield left + other
            elif len(left) > 2 and left[-1] == left[-2]:
                yield left[:-1]
    for start in word_list(code, "beginnings"):
        if word.startswith(start) and len(word) > len(start) + 2:
            yield word[len(start) :]
