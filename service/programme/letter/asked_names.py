"""The name in a sentence that tells how to name somebody, wherever in it the name stands: "Big Kev is what I go by". Pure.

A language's cues (`[credit] cues`) say that a sentence is about naming; what has a name's shape is the name: words in
quotation marks, words with a capital that are no town's behind a preposition, in a script without capitals words that
the language does not know or a listed first name. A name beside the cue beats others; two that compete give none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from moondesk.service.lexicons.lexicon import Lexicon
from moondesk.service.lexicons.patterns import WORD
from moondesk.service.programme.letter.plain import lunar_names
from moondesk.service.programme.letter.told_names import WORD_OF_NAME, is_none

_QUOTED = re.compile(
    r"(?:(?<=[\s(:,])|^|(?<=[^\x00-\u2fff]))[\"\u201c\u201e\u00ab'\u2018\u300c\u300e](?=[^\W_]|[@#])([^\"\u201c\u201d\u00ab\u00bb\u300c\u300d]{1,60}?)[\"\u201d\u201c\u00bb'\u2019\u300d\u300f](?!\w)"
)
_BEFORE_QUOTED = [re.compile(rf"(?<=\w )([^\W\d_]\w{{2,}}(?: \w+){{{n}}}) $") for n in (2, 1, 0)]
#: As people call themselves on the net: letters and a number.
_NICKNAME = re.compile(r"(?<![\w.])([^\W\d_]{4,})[\d_]\w*")
_TOKEN = re.compile(rf"{WORD}+")
#: How many words may stand between a cue and the name beside it.
BESIDE = 2


@dataclass(frozen=True)
class _Candidate:
    """start, end: of the name's first words in the sentence as written."""

    start: int
    end: int
    quoted: bool = False
    #: It begins with a listed first name; or is none of the language's words.
    listed: bool = False
    sure: bool = False
    placed: bool = False
    known: bool = False


def starts_asked(sentence: str, words: Lexicon) -> list[int]:
    """Where in a sentence that tells how to name somebody the name may begin; more than one where several compete."""
    if not words.expressions("credit", "cues"):
        return []
    folded = words.fold(sentence)
    cues = [folded.span(*m.span()) for p in words.each("credit", "cues") for m in p.finditer(folded.text)]
    if not cues or words.search("credit", "greeting")(folded.text):
        return []
    found = [c for c in _candidates(sentence, words) if not any(s < c.start and c.end < e for s, e in cues)]
    quoted = [c for c in found if c.quoted]
    beside = [c for c in found if any(_is_beside(sentence, c, cue, words) for cue in cues)]
    free = [c for c in found if not c.placed and (c.listed or c.sure)]
    quoted = [c for c in quoted if c.sure or c in beside]
    for some in (quoted, beside, free):
        if len(some) == 1:
            return [some[0].start]
        if some:
            both = [c for c in some if c.listed and not c.placed]
            return [c.start for c in (both if len(both) == 1 else some)]
    return []


def _is_beside(sentence: str, one: _Candidate, cue: tuple[int, int], words: Lexicon) -> bool:
    start, end = cue
    if start <= one.start <= end:
        return True
    if one.start >= end:
        return len(_TOKEN.findall(sentence[end : one.start])) <= (0 if one.placed or one.known else BESIDE)
    cased = one.listed or sentence[one.start] != sentence[one.start].swapcase()
    cased = cased and not words.table["credit"].get("verb_last")
    return not cased and one.end <= start and len(_TOKEN.findall(sentence[one.end : start])) <= BESIDE


def _candidates(sentence: str, words: Lexicon) -> Iterator[_Candidate]:
    taken: list[tuple[int, int]] = []
    for match in _QUOTED.finditer(sentence):
        first = words.fold(match[1].split()[0]).text if match[1].split() else ""
        if not first or is_none(words, first) or len(match[1].split()) > 6:
            continue
        if re.search(r"[?!\u061f]", match[1]):
            continue
        start, end = match.span()
        for leading in _BEFORE_QUOTED:  # "Astroclub 'Orion'"
            if (group := leading.search(sentence, 0, start)) and group[1][0].isupper():
                start = group.start()
                break
        taken.append((start, end))
        said = _TOKEN.findall(words.fold(match[1]).text)
        sure = any(words.is_first_name(w) or not words.knows(w) for w in said)
        yield _Candidate(start, end, quoted=True, sure=sure)
    for match in _NICKNAME.finditer(sentence):
        if not words.knows(words.fold(match[1]).text):
            yield _Candidate(*match.span(), sure=True)
    if not words.writing.spaces:
        return
    before = words.words("place", "before")
    titles, joins = words.words("credit", "titles"), words.words("credit", "joins") | words.words("credit", "and")
    matches = list(WORD_OF_NAME.finditer(sentence))
    said = [words.fold(match[0]).text.strip("\u2024'") for match in matches]
    k = 0
    while k < len(matches):
        start = matches[k].start()
        first = "" if any(s <= start < e for s, e in taken) else _kind(matches[k][0], said[k], words, k == 0)
        if not first:
            k += 1
            continue
        last = k
        while last + 1 < len(matches) and matches[last + 1].start() == matches[last].end() + 1:
            if not (_kind(matches[last + 1][0], said[last + 1], words, False) or said[last + 1] in joins):
                break
            last += 1
        names = [n for n in range(k, last + 1) if _kind(matches[n][0], said[n], words, False) in ("listed", "any")]
        only_listed = words.table.get("credit", {}).get("only_listed") and matches[k][0] == matches[k][0].swapcase()
        if only_listed:  # what stands before a listed name is a word that the list of words lacks
            listed = next((n for n in names if words.is_first_name(said[n])), None)
            if listed is None:
                k = last + 1
                continue
            if any(words.is_first_name(said[n]) for n in names if n > listed):
                k = listed
        greeted = k > 0 and said[k - 1] in words.words("credit", "greets")
        names = [n for n in names if n >= k]
        if (names or first == "known") and not greeted:
            led = k > 1 and said[k - 1] in joins and matches[k - 1][0][0].isupper()  # "The Moonlighters"
            at = k - 1 if led or (k and said[k - 1] in titles) else k
            yield _Candidate(
                matches[at].start(),
                matches[last].end(),
                listed=bool(names) and words.is_first_name(said[names[0]]),
                sure=len(names) > 1 or at < k,
                known=not names,
                placed=k > 0 and said[k - 1] in before,
            )
        k = last + 1


def _kind(word: str, folded: str, words: Lexicon, begins: bool) -> str:
    """ "listed" of a first name of the language's list, "any" of a word that may be one, "known" of a word of the
    language with a capital: it is one in "Big Kev" and beside a cue; "" of others."""
    if not folded or is_none(words, folded) or folded in lunar_names():
        return ""
    if word[0].lower() == word[0].upper():
        return "listed" if words.is_first_name(folded) else "" if words.knows(folded) else "any"
    if not word[0].isupper() or (len(folded) == 1 and word[-1] != "\u2024"):
        return ""
    if words.is_first_name(folded):
        return "listed"
    if begins:
        return "" if words.knows(folded) or words.first_names else "any"
    return "known" if words.knows(folded) else "any"
