"""What stands around each word of a letter that may be a name: signs that `learnt_names` weighs. Pure.

A name is a stretch of words. What speaks for its beginning (the words before it), for its end (the words behind it) and for
each word inside is kept apart and summed, so that a letter's thousands of stretches need no signs of their own (a
semi-Markov model: Sarawagi and Cohen, 2004). A script without spaces is read letter by letter.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from moondesk.service.gazetteer.towns import towns_named
from moondesk.service.lexicons.folding import fold
from moondesk.service.lexicons.lexicon import codes_by_script, lexicon, lexicons
from moondesk.service.programme.letter.plain import lunar_names
from moondesk.service.programme.letter.sign_table import bucket
from moondesk.service.programme.letter.tongues import languages_of

#: Words of a name, letters of one without spaces; no more of a letter is read.
LONGEST, LONGEST_UNSPACED, TOKENS = 8, 14, 900
#: How much the words of a sentence count together.
TELLING = 3.0
#: Languages whose lists are asked.
LISTS = 2
#: A town of fewer people is many a surname.
LARGE = 15_000

_LETTER = r"[\w\u0900-\u0963\u0966-\u097f\u064b-\u065f\u0670]"
_UNSPACED = r"\u3040-\u30ff\u31f0-\u31ff\u3400-\u9fff\uff66-\uff9f\u3005"
_TOKEN = re.compile(
    rf"[@#]\w[\w.]*\w|\b(?:[dljmnstDLJMNST]|qu|Qu)['\u2019](?=[^\W\d_]{{2}})|[\u30a0-\u30ff\uff66-\uff9f]+|[{_UNSPACED}]"
    rf"|(?:(?![{_UNSPACED}]){_LETTER})+(?:['\u2019-](?:(?![{_UNSPACED}]){_LETTER})+)*|\n|[^\w\s]"
)
_QUOTES = frozenset("\"'\u2018\u2019\u201a\u201c\u201d\u201e\u00ab\u00bb\u300c\u300d\u300e\u300f")
_ENDS = frozenset("\n.!?:;\u2026\u3002\u0964\u061f\uff01\uff1f\uff1a\u061b")
#: Inside a name may stand: a stop behind an initial or a title, quotation marks, these.
_INSIDE = frozenset("&,") | _QUOTES
_TITLE = 4
_SHORT = re.compile(
    r"^(?:[^\W\d_][\u093e-\u0963]{0,2}|[\u0905-\u0939][\u093e-\u0963]?[\u0905-\u0939]|dr|prof|mr|mrs|ms|st|sr|sra|dra|डॉ|श्री|प्रा|адв|инж|доц|проф|ст|хр|ив)$"
)
_ARABIC_JOINED = ("و", "ف", "ب", "ل", "ك")
_POSSESSIVE = ("'s", "\u2019s")
_COUNTED = ("stops", "never", "titles", "joins", "greets", "groups", "and", "from")
#: Classes of words that the files of several languages have, by their names there.
_CLASSES = (
    "relative", "took", "took-it", "neg", "not", "no", "only", "you", "me", "mine", "self", "own", "person", "private",
    "others", "pic", "picture", "photo", "thing", "show", "public", "kid", "child", "young", "junior", "family", "want",
    "give", "say", "name", "named",
)  # fmt: skip
_SAID = ("cues", "named", "taken_by", "self", "takes", "mine", "unnamed", "surname", "greeting")


@dataclass
class Signs:
    """tokens: with where each begins and ends; begin, end: token, place in the text, buckets of each way to begin or end;
    inside: buckets of each token; sentence: number of each token's; told, hidden: buckets of each sentence, for a name in it
    and for a wish to stay unnamed."""

    text: str
    tokens: list[tuple[str, int, int]]
    begin: list[tuple[int, int, list[int]]] = field(default_factory=list)
    end: list[tuple[int, int, list[int]]] = field(default_factory=list)
    inside: list[list[int]] = field(default_factory=list)
    sentence: list[int] = field(default_factory=list)
    told: list[list[int]] = field(default_factory=list)
    hidden: list[list[int]] = field(default_factory=list)
    #: The same, of each row of `begin`, `end` and of each sentence, where a listed way to name somebody says so.
    begin_listed: list[list[int]] = field(default_factory=list)
    end_listed: list[list[int]] = field(default_factory=list)
    told_listed: list[list[int]] = field(default_factory=list)
    hidden_listed: list[list[int]] = field(default_factory=list)

    def spans(self) -> NDArray[np.int64]:
        """Rows of `begin` and `end` of each stretch that may be a name."""
        n = len(self.tokens)
        reach = np.zeros(n + 1, dtype=np.int64)
        for k in range(n - 1, -1, -1):
            reach[k] = k if k + 1 >= n or not self._goes_on(k) else reach[k + 1]
        rows = []
        by_token: dict[int, list[int]] = {}
        for row, (token, _, _) in enumerate(self.end):
            by_token.setdefault(token, []).append(row)
        for row, (token, _, _) in enumerate(self.begin):
            most = LONGEST_UNSPACED if _is_unspaced(self.tokens[token][0]) else LONGEST
            for last in range(token, min(int(reach[token]), token + most - 1) + 1):
                rows += [(row, e) for e in by_token.get(last, ())]
        return np.array(rows, dtype=np.int64).reshape(-1, 2)

    def _goes_on(self, k: int) -> bool:
        """Whether a name may go on behind a token."""
        word, following = self.tokens[k][0], self.tokens[k + 1][0]
        if self.sentence[k] != self.sentence[k + 1]:
            return False
        if following == ".":
            return bool(_SHORT.match(word.casefold()))
        if following == "-":
            return word == "."
        return following[0].isalnum() or following[0] in "@#" or following in _INSIDE

    def words_of(self, number: int) -> str:
        """The words of a sentence."""
        inside = [t for t, one in zip(self.tokens, self.sentence, strict=True) if one == number]
        return " ".join(self.text[inside[0][1] : inside[-1][2]].split()) if inside else ""

    def name(self, row: tuple[int, int]) -> str:
        start, stop = self.begin[row[0]][1], self.end[row[1]][1]
        return " ".join(self.text[start:stop].split())


def signs_of(text: str, sender: str = "", held: Callable[[str], bool] = lambda sign: False) -> Signs:
    """The signs of a letter. sender: the name of its From line; held: whether a word is listed as a first
    name ("f ann") or a family name ("l lee")."""
    tokens = [(m[0], m.start(), m.end()) for m in _TOKEN.finditer(text)][:TOKENS]
    codes = (languages_of(text) or codes_by_script(text) or _nearest(text))[:LISTS]
    found = Signs(text, tokens)
    words = [_fold(t[0]) for t in tokens]
    found.sentence = _sentences(tokens, words)
    own = frozenset(_fold(m) for m in _TOKEN.findall(sender)) - {",", "."}
    lines = text.rstrip().split("\n")
    last = len(text.rstrip()) - sum(len(one) + 1 for one in lines[-2:]) if len(lines) > 3 else len(text)
    closing = frozenset(w for w, t in zip(words, tokens, strict=True) if t[1] > last)
    small = not any(c.isupper() for c in text.partition("\n\n")[2] or text)
    marks = [
        _marks(t[0], codes, small)
        + (_listed(w, held) if t[0][0].isalpha() else ())
        + (("own",) if w in own else ())
        + (("sig",) if w in closing and t[1] <= last else ())
        for w, t in zip(words, tokens, strict=True)
    ]
    size = len(tokens)
    row = ["^^", "^", "^", *words, "$", "$", "$$"]
    for k, (token, start, stop) in enumerate(tokens):
        at = k + 3
        first = k == 0 or found.sentence[k - 1] != found.sentence[k]
        final = k + 1 == size or found.sentence[k + 1] != found.sentence[k]
        same = any(m[:2] == "kn" for m in marks[k]) or not token[0].isalpha() or _is_unspaced(token)
        inner = [f"i {m}" for m in marks[k]] + ([f"iw {words[k]}", *_pieces("i", words[k])] if same else [])
        found.inside.append([bucket(s) for s in inner])
        if not token[0].isalnum() and token[0] not in "@#" and token not in _QUOTES:
            continue
        kind = _script(token)
        place = "end" if start > last else "top" if start < 1 + len(lines[0]) else "mid"
        if token not in _QUOTES or not first:
            signs = (
                [f"b {m} {int(first)}" for m in marks[k]]
                + [f"b {kind} {place} {int(first)}"]
                + [f"bw {words[k]}"] * same
            )
            for back in (1, 2, 3, 4):
                if at - back >= 0:
                    signs += [f"b{back} {row[at - back]}", f"bn {row[at - back]}"]
            signs += [
                f"b12 {row[at - 2]} {row[at - 1]}",
                f"b13 {row[at - 3]} {row[at - 2]} {row[at - 1]}",
                f"b02 {row[at - 2]}|{kind}|{marks[k][0]}",
                f"b01 {row[at - 1]}|{kind}|{marks[k][0]}",
            ]
            signs += {f"bnm {m}" for n in range(max(0, k - 4), k) for m in marks[n] if m[:2] == "c "}
            if k:
                signs += [f"bm {m}|{marks[k][0]}" for m in marks[k - 1]]
                signs += [f"bm2 {m}" for m in (marks[k - 2] if k > 1 else ())]
                signs += [*_pieces("b1", row[at - 1]), *_pieces("b2", row[at - 2])]
            buckets = [bucket(s) for s in signs]
            found.begin.append((k, start, buckets))
            if kind == "a" and len(token) > 3 and token[0] in _ARABIC_JOINED:
                cut = [*buckets, *(bucket(s) for s in (f"bj {token[0]}", f"bj1 {token[0]}|{row[at - 1]}"))]
                cut += [bucket(f"bc {m}") for m in _marks(token[1:], codes, small)]
                found.begin.append((k, start + 1, cut + [bucket(f"bc {m}") for m in _listed(words[k][1:], held)]))
        signs = (
            [f"e {m} {int(final)}" for m in marks[k]] + [f"e {kind} {place} {int(final)}"] + [f"ew {words[k]}"] * same
        )
        for on in (1, 2, 3, 4):
            if at + on < len(row):
                signs += [f"e{on} {row[at + on]}", f"en {row[at + on]}"]
        signs += [f"e12 {row[at + 1]} {row[at + 2]}", f"e13 {row[at + 1]} {row[at + 2]} {row[at + 3]}"]
        signs += [f"e01 {row[at + 1]}|{kind}|{marks[k][0]}"]
        signs += {f"enm {m}" for n in range(k + 1, min(size, k + 5)) for m in marks[n] if m[:2] == "c "}
        if k + 1 < size:
            signs += [f"em {m}|{marks[k][0]}" for m in marks[k + 1]]
            signs += [f"em2 {m}" for m in (marks[k + 2] if k + 2 < size else ())]
            signs += [*_pieces("e1", row[at + 1]), *_pieces("e2", row[at + 2])]
        buckets = [bucket(s) for s in signs]
        found.end.append((k, stop, buckets))
        for ending in _endings(token, words[k], codes):
            stem = words[k][: -len(ending)]
            cut = [*buckets, bucket(f"ej {ending}"), bucket(f"ej1 {ending}|{row[at + 1]}")]
            cut += [bucket(f"ec {m}") for m in _marks(token[: -len(ending)], codes, small)]
            found.end.append((k, stop - len(ending), cut + [bucket(f"ec {m}") for m in _listed(stem, held)]))
    _add_sentences(found, words, marks)
    _add_listed(found, codes)
    return found


def _listed(word: str, held: Callable[[str], bool]) -> tuple[str, ...]:
    first, last = held(f"f {word}"), held(f"l {word}")
    return ("lf", "lff" if not last else "lfl") if first else ("ll",) if last else ("lno",)


def span_signs(found: Signs, rows: NDArray[np.int64], sender: str) -> list[list[int]]:
    """Buckets of each stretch as a whole."""
    tokens = found.tokens
    own = [_fold(m) for m in _TOKEN.findall(sender)]
    words = [_fold(t[0]) for t in tokens]
    quoted = np.concatenate([[0], np.cumsum([t[0] in _QUOTES for t in tokens])]).tolist()
    signs = []
    for b, e in rows.tolist():
        first, last = found.begin[b][0], found.end[e][0]
        kind = _script(tokens[first][0])
        before = tokens[first - 1][0] if first else "\n"
        after = tokens[last + 1][0] if last + 1 < len(tokens) else "\n"
        said = [f"sl {min(last - first, 5)} {kind}"]
        if before in _QUOTES and after in _QUOTES:
            said.append(f"sq {kind}")
        elif (before in _QUOTES) != (after in _QUOTES):
            said.append("sq half")
        if quoted[last + 1] > quoted[first]:
            said.append(f"sqi {int(tokens[last][0] in _QUOTES)} {int(tokens[first][0] in _QUOTES)}")
        if after == "\n":
            where = "line" if before == "\n" else "colon" if before in (":", "\uff1a") else "other"
            said.append(f"sa {where}")
        if own and words[first] == own[0] and words[first : last + 1] == own:
            said.append("sown")
        capitals = 0 < last - first < 3 and tokens[first][0][0].isupper() and tokens[last][0][0].isupper()
        if towns := towns_named(found.name((b, e))) if capitals else ():
            said.append("stown" if towns[0].people >= LARGE else "svillage")
        signs.append([bucket(s) for s in said])
    return signs


def key_of(name: str) -> str:
    """A name as it is compared: without stops, marks and capitals."""
    return " ".join(fold(name).text.replace(".", " ").split())


def rule_signs(found: Signs, rows: NDArray[np.int64], ruled: str, rank: int) -> list[list[int]]:
    """Buckets of each stretch beside the name that the rules read, "" for none, of a rank as `names.rule_of` gives."""
    if not ruled:
        none = [bucket("r none")]
        return [none] * len(rows)
    wanted = key_of(ruled)
    other = [bucket("r other")]
    out = [other] * len(rows)
    keys = {t[0]: key_of(t[0]) for t in found.tokens}
    for k, (b, e) in enumerate(rows.tolist()):
        first, last = found.begin[b], found.end[e]
        head, tail = keys[found.tokens[first[0]][0]], keys[found.tokens[last[0]][0]]
        if not (head and head in wanted) and not (tail and tail in wanted):
            continue
        name = key_of(found.name((b, e)))
        kind = _script(found.tokens[first[0]][0])
        if name == wanted:
            out[k] = [
                bucket("r same"),
                bucket(f"r same {rank}"),
                bucket(f"r same {kind}"),
                bucket(f"r same {rank} {kind}"),
            ]
        elif f" {name} " in f" {wanted} ":
            out[k] = [bucket("r part"), bucket(f"r part {rank}")]
        elif f" {wanted} " in f" {name} ":
            out[k] = [bucket("r more"), bucket(f"r more {rank}")]
    return out


def _add_sentences(found: Signs, words: list[str], marks: list[tuple[str, ...]]) -> None:
    count = found.sentence[-1] + 1 if found.sentence else 0
    said: list[list[str]] = [[] for _ in range(count)]
    classes: list[set[str]] = [set() for _ in range(count)]
    for word, own, number in zip(words, marks, found.sentence, strict=True):
        said[number].append(word)
        classes[number].update(m for m in own if m[:2] == "c ")
    for row, held in zip(said, classes, strict=True):
        signs: set[str] = set(held)
        signs.update(f"{one}{other}" for one in held for other in held if one < other)
        unspaced = any(_is_unspaced(w) for w in row)
        for k, word in enumerate(row):
            signs.add(word)
            if unspaced:
                signs.add("".join(row[k : k + 2]))
                signs.add("".join(row[k : k + 3]))
                signs.add("".join(row[k : k + 4]))
            else:
                signs.add(" ".join(row[k : k + 2]))
                signs.add(" ".join(row[k : k + 3]))
                signs.update((f"{word[:4]}-", f"-{word[-4:]}"))
        found.told.append([bucket(f"t {s}") for s in sorted(signs)])
        found.hidden.append([bucket(f"h {s}") for s in sorted(signs)])


def _add_listed(found: Signs, codes: tuple[str, ...]) -> None:
    """The signs that the languages' ways to name somebody give."""
    first: dict[int, int] = {}
    for k, number in enumerate(found.sentence):
        first.setdefault(number, k)
    near_begin: dict[int, set[str]] = {}
    near_end: dict[int, set[str]] = {}
    count = len(found.told)
    for number in range(count):
        start, stop = first[number], first.get(number + 1, len(found.tokens))
        row = found.tokens[start:stop]
        offset = row[0][1]
        text = found.text[offset : row[-1][2]]
        signs: set[str] = set()
        for code in codes:
            words = lexicon(code)
            folded = words.fold(text)
            for key in _SAID:
                if any(pattern.search(folded.text) for pattern in words.each("credit", key)):
                    signs.add(key)
            if "cues" not in signs:
                continue
            for pattern in words.each("credit", "cues"):
                for match in pattern.finditer(folded.text):
                    head, tail = folded.span(*match.span())
                    inner = [k for k in range(start, stop) if head <= found.tokens[k][1] - offset < max(tail, head + 1)]
                    if not inner:
                        continue
                    for gap in range(4):
                        near_begin.setdefault(inner[-1] + 1 + gap, set()).add(f"g{gap}")
                        near_end.setdefault(inner[0] - 1 - gap, set()).add(f"g{gap}")
                    for k in inner:
                        near_begin.setdefault(k, set()).add("in")
                        near_end.setdefault(k, set()).add("in")
        found.told_listed.append([bucket(f"tl {s}") for s in sorted(signs)] + [bucket("tl " + " ".join(sorted(signs)))])
        found.hidden_listed.append([bucket(f"hl {s}") for s in sorted(signs)])
    for rows, near, out, key in (
        (found.begin, near_begin, found.begin_listed, "bl"),
        (found.end, near_end, found.end_listed, "el"),
    ):
        for token, _, _ in rows:
            kind = _script(found.tokens[token][0])
            out.append([bucket(f"{key} {s} {kind}") for s in sorted(near.get(token, ()))])


@lru_cache(maxsize=1 << 14)
def _pieces(key: str, word: str) -> tuple[str, ...]:
    return tuple(f"{key}p {s}" for s in (word[:3] + "-", word[:5] + "-", "-" + word[-2:], "-" + word[-3:]))


@lru_cache(maxsize=1 << 14)
def _fold(word: str) -> str:
    return fold(word).text or word


@lru_cache(maxsize=1 << 13)
def _script(word: str) -> str:
    first = next((c for c in word if c.isalpha()), "")
    if not first:
        return "0"
    if first.lower() != first.upper():
        return "c"
    return "j" if _is_unspaced(first) else "a" if "\u0600" <= first <= "\u06ff" else "d"


def _is_unspaced(word: str) -> bool:
    return "\u3040" <= word[0] <= "\u9fff" or "\uff66" <= word[0] <= "\uff9f"


@lru_cache(maxsize=1 << 14)
def _marks(word: str, codes: tuple[str, ...], small: bool) -> tuple[str, ...]:
    """What lists and letters tell of a word; its shape first."""
    kind, folded = _script(word), _fold(word)
    if kind == "0":
        return ("nr" if word[0].isdigit() else f"p{word}",)
    shape = kind
    if kind == "c":
        shape = "cap" if word[0].isupper() and word[1:] == word[1:].lower() else "up" if word[0].isupper() else "low"
        shape = "ini" if len(word) == 1 and word[0].isupper() else shape
        shape = "@" if word[0] in "@#" or any(c.isdigit() for c in word) else shape
        shape = "small" if small and shape == "low" else shape
    elif kind == "j":
        shape = "kat" if "\u30a0" <= word[0] <= "\u30ff" else "hir" if word[0] < "\u30a0" else "kan"
    found = [shape, f"{shape}{min(len(word), 3)}"]
    for code in codes:
        words = lexicon(code)
        said = words.fold(word).text
        found.append("kn" if words.knows(said) else "un")
        found.append(f"{found[-1]}{shape}")
        if words.is_first_name(said):
            found += ["fn", f"fn{shape}"]
        found += [f"l {key}" for key in _COUNTED if said in words.words("credit", key)]
        found += [f"c {key}" for key in _CLASSES if key in words.classes and words.search("class", key)(said)]
        if said in words.words("place", "before"):
            found.append("loc")
        times = (words.table.get("time", {}).get(key, {}) for key in ("weekdays", "months"))
        if any(said in str(one).split() for table in times for one in table.values()):
            found.append("day")
    if shape in ("cap", "up") and len(folded) > 2:
        if folded in lunar_names():
            found.append("lun")
        if towns := towns_named(word):
            found.append("town" if towns[0].people >= LARGE else "village")
    return tuple(dict.fromkeys(found))


def _endings(token: str, folded: str, codes: tuple[str, ...]) -> list[str]:
    """What may be stuck to a name's end."""
    found = [p for p in _POSSESSIVE if token.endswith(p)]
    for code in codes:
        for clitic in lexicon(code).words("credit", "clitics"):
            if folded.endswith(clitic) and len(folded) > len(clitic) + 1 and token.endswith(clitic):
                found.append(clitic)
    return list(dict.fromkeys(found))


def _sentences(tokens: list[tuple[str, int, int]], words: list[str]) -> list[int]:
    numbers, number = [], 0
    for k, (token, _, _) in enumerate(tokens):
        numbers.append(number)
        if token in _ENDS and not (
            token == "." and k and (_SHORT.match(words[k - 1]) and k + 1 < len(tokens) and tokens[k + 1][0] != "\n")
        ):
            number += 1
    return numbers


def _nearest(text: str) -> tuple[str, ...]:
    """The language whose list knows most of a text that no list knows half of."""
    return (max(lexicons(), key=lambda code: lexicon(code).share(text)),)
