"""Which languages a sentence may be in, and whether all its words are known: only then has its silence a meaning. Pure.

Some have a rule of their own for it (`plain`). Of every other language each word must be one of its file, a name on the
Moon, or the sender's own name: one unknown word may be the one that matters.
"""

from __future__ import annotations

import re

from moondesk.service.lexicons.lexicon import is_in_latin, lexicon, likely
from moondesk.service.lexicons.patterns import WORD
from moondesk.service.programme.letter.plain import language_of_plain, lunar_names, plain_codes

#: A sentence is in a language of whose words it has this share at least; in one that the mail is in, so many.
SHARE, SHARE_OF_MAIL = 0.5, 0.25
#: One that knows more of it is never left out: a single word that a list lacks must not hide a no.
SHARE_KEPT = 0.8
#: In Latin letters, where its own are others, of this: they may be any language's.
SHARE_IN_LATIN = 0.6
#: A sentence in Latin letters of fewer words may be of any language that is written in them.
SHORT = 4
_A_WORD = re.compile(rf"{WORD}+")
_NO_WORD = re.compile(r"\S{1,80}@\S+|https?://\S+|www\.\S+|\S+\.(?:jpe?g|png|heic|tiff?|webp|fits?)\b", re.IGNORECASE)


def languages_of(text: str) -> tuple[str, ...]:
    """Languages that a whole text may be in, the likeliest first; none where no list knows half of its words."""
    return _telling(text, tuple(c for c in likely(text, 0.85) if _is_enough(text, c)))


def languages_of_sentence(sentence: str, mail: tuple[str, ...]) -> tuple[str, ...]:
    """Languages to read a sentence with: what it may be itself, and those of its mail. mail: as `languages_of` gives."""
    own = _telling(sentence, tuple(c for c in likely(sentence, 0.75) if _is_enough(sentence, c)))
    near = tuple(c for c in mail if c not in own and lexicon(c).share(sentence) >= SHARE_OF_MAIL)
    return own + near


def _is_enough(text: str, code: str) -> bool:
    words = lexicon(code)
    other = words.scripts[0] != "LATIN" and is_in_latin(text)
    return words.share(text) >= (SHARE_IN_LATIN if other else SHARE)


def _telling(text: str, codes: tuple[str, ...]) -> tuple[str, ...]:
    """Without each language all of whose known words another one knows, and more: "no" is a no in Spanish, "in the" in
    Portuguese, and what else stands there tells which."""
    if (plain := language_of_plain(text)) and plain in codes and not 1 < len(_A_WORD.findall(text)) < SHORT:
        return (plain,)
    known = {c: _known_words(text, c) for c in codes if lexicon(c).writing.spaces}
    return tuple(
        c
        for c in codes
        if c not in known
        or lexicon(c).share(text) > SHARE_KEPT
        or not any(known[c] < other for other in known.values())
    )


def _known_words(text: str, code: str) -> frozenset[str]:
    """Words of a text, as they are written, that a language knows."""
    words = lexicon(code)
    return frozenset(w for w in _A_WORD.findall(text.casefold()) if words.knows(words.fold(w).text))


def is_understood(sentence: str, codes: tuple[str, ...], names: str = "") -> bool:
    """Whether every word of a sentence is known in one of the languages. names: the sender's, known as they are."""
    if language_of_plain(sentence, names):
        return True
    return any(_all_known(sentence, code, names) for code in codes if code not in plain_codes())


def _all_known(sentence: str, code: str, names: str) -> bool:
    words = lexicon(code)
    if words.guards(words.fold(sentence).text):
        return False
    if not words.writing.spaces:
        return _covered(words.fold(sentence).text, code)
    own = frozenset(_A_WORD.findall(words.fold(names).text))
    said = _A_WORD.findall(words.fold(_NO_WORD.sub(" ", sentence)).text)
    if words.scripts[0] != "LATIN" and is_in_latin(sentence) and len(said) < SHORT:
        return False
    return all(w in own or words.is_harmless(w) or w in lunar_names() for w in said)


def _covered(text: str, code: str) -> bool:
    """Of a script without spaces: whether known pieces, digits and signs make up all of it."""
    pieces = sorted(lexicon(code).harmless_pieces, key=len, reverse=True)
    letters = "|".join(map(re.escape, pieces)) or r"(?!)"
    return not re.sub(rf"(?:{letters})|[\W\d_a-z]+", "", text)
