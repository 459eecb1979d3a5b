"""What makes it doubtful whether a picture may be shown: sentences that no clear yes or no was read from. Pure.

There are too many ways to say no to list them all. So in a language whose file has a `[doubt]` table a sentence is past
doubt only where it speaks of the Moon, the weather, the equipment and the like (its `topics`), and holds nothing that
may have to do with showing (`[consent] restrict`); a word of that is enough, but for uses that are surely about
something else ("I did not use a filter"). Who reads it decides.
"""

from __future__ import annotations

import re
from functools import cache

from moondesk.service.lexicons.lexicon import Lexicon
from moondesk.service.programme.letter.plain import lunar_names, word_list

_WORD = re.compile(r"[^\W_]+")
#: Words of a sentence that is short; characters of an answer.
SHORT, ANSWER_CHARACTERS = 7, 120
#: Words of a clause that is looked at by itself.
CLAUSE = 7
#: A sentence of so few words, without a no, is a title or a greeting.
WORDLESS = 3


def has_doubts(words: Lexicon) -> bool:
    return "doubt" in words.table


def is_restrictive(plain: str, words: Lexicon) -> bool:
    """Whether a folded sentence, without what is about something else, may restrict what is done with the picture."""
    answer = words.search("doubt", "answer")(plain)
    if answer and answer.start() == 0 and len(plain) < ANSWER_CHARACTERS and words.search("doubt", "no")(plain):
        return True
    if len(plain.split()) <= SHORT and words.search("doubt", "short_no")(words.without(plain, "doubt", "harmless")):
        return True
    return words.search("consent", "restrict")(plain) is not None


def turns_elsewhere(sentence: str, plain: str, words: Lexicon) -> bool:
    """Whether something is asked of the programme, or a sentence is about none of the topics. plain: as there."""
    return words.search("doubt", "asks")(plain) is not None or _is_off_the_subject(sentence, words)


def _is_off_the_subject(sentence: str, words: Lexicon) -> bool:
    if _is_small_talk(sentence, words):
        return False
    # a longer clause of its own may turn to something else: "here is my Moon, but ..."
    (parted,) = words.each("doubt", "clauses")
    clauses = [c for c in parted.split(sentence) if len(c.split()) >= CLAUSE]
    return not _speaks_of_a_topic(sentence, words) or any(
        not _speaks_of_a_topic(c, words) and not _is_small_talk(c, words) for c in clauses
    )


def _is_small_talk(sentence: str, words: Lexicon) -> bool:
    return words.search("doubt", "small_talk")(words.fold(sentence).text) is not None


def _speaks_of_a_topic(sentence: str, words: Lexicon) -> bool:
    """Whether a word of a topic stands in a sentence; also of three words or fewer, and where there are numbers."""
    said = _WORD.findall(sentence)
    return len(said) <= WORDLESS or any(_is_topic(word, words) for word in said)


def _is_topic(word: str, words: Lexicon) -> bool:
    small = word.casefold()
    return (
        bool({small, small.rstrip("s")} & _topics(words))
        or any(c.isdigit() for c in word)
        or small in word_list(words.code, "names")
        or (word[0].isupper() and small in lunar_names())
    )


@cache
def _topics(words: Lexicon) -> frozenset[str]:
    return frozenset(words.table["doubt"]["topics"].split())
