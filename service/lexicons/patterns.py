r"""A small language for ways to say something, so that who writes them needs a language and no regular expressions.

    zeig*  *recht  покаж*те  ein  a word; * stands for any ending, beginning or middle
    mostr/ar/en*  mostr/@ar       a word by its stem and its endings; @ar: those of that list of the file's [endings]
    auf_keinen_Fall               words side by side, as one
    <show>                        a word of that class of the file; a class may name others
    (bitte|doch)  (sehr gern)?    one of several; what may be missing
    ..   ...   ....               up to three, six or twelve other words, not past a full stop, semicolon or colon
    !(mehr|nur)                   not before these words
    #                             a number, in figures or in words
    {name}                        what is taken, to what stands behind it or to the end of the sentence; who takes it cuts it
    {who}  {any}                  in `[credit] told`: a word that is likely a name; any that may be one
    {h}                           a number that is taken, in figures or in words: a name of one letter
    ^  $                          the sentence's beginning and end
    re:\bnot <:show>\b           a regular expression as it stands, but for <:show>, a class of the file

Patterns and texts are folded alike (`folding`). In a script without spaces words are looked for anywhere, and a gap is
counted in characters. Gaps have bounds, and a word in a gap ends where it ends, so that no text makes a search long.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from moondesk.service.lexicons.folding import Folded, fold, transliterate

#: What words are made of: letters, digits, and the marks of Devanagari, which are no letters to `re`.
WORD = r"[\w\u0900-\u0963\u0966-\u097f]"
START, _STOP = rf"(?<!{WORD})", rf"(?!{WORD})"
#: The same where no letter has marks of Devanagari.
BARE_START = r"(?<!\w)"
#: Between two words of one statement.
_NO_WORD, _NO_EUROPEAN_WORD = r"[^\w\u0900-\u097f.!?;:\u061f\u061b\u3002\n]", r"[^\w.!?;:\n]"
_BETWEEN = _NO_WORD + "{0,4}"
_SPACE = _BETWEEN.replace("{0,4}", "{1,4}")
#: Signs for words that may be names, in texts where they stand for them: likely ones, and known words that might be one.
LIKELY_NAME, OTHER_NAME = "\U00013000", "\U00013001"
_NAMES = {"who": f"(?P<who>{LIKELY_NAME})", "any": f"(?P<who>[{LIKELY_NAME}{OTHER_NAME}]|{WORD}{{2,20}}{_STOP})"}
_GAPS = {"..": 3, "...": 6, "....": 12}
_GAP_CHARACTERS = {"..": 8, "...": 16, "....": 32}
_TOKEN = re.compile(
    r"\s*(?:(?P<gap>\.{2,4})(?=[\s|)]|$)|(?P<not>!\()|(?P<open>\()|(?P<close>\)\??)|(?P<bar>\|)|<(?P<class>[\w-]+)>(?P<maybe>\??)"
    r"|\{(?P<take>\w+)\}|(?P<edge>[\^$])|(?P<number>#)|(?P<word>[^\s|()<>{}#]+))"
)
#: A pattern that is one word.
_PLAIN = re.compile(r"(?!re:)(?!\.{2,4}$)[^\s|()<>{}#^$]+")

_CLASS_IN_EXPRESSION = re.compile(r"<:([\w-]+)>")


@dataclass(frozen=True)
class Writing:
    """How a language is written. prefix: a regular expression of what may stand before any word, joined to it.

    same: letters that are written for others ("ae" for "ä"), in texts and in patterns alike."""

    spaces: bool = True
    prefix: str = ""
    endings: Mapping[str, str] = field(default_factory=dict)
    same: Mapping[str, str] = field(default_factory=dict)

    def fold(self, text: str) -> Folded:
        return transliterate(fold(text), self.same) if self.same else fold(text)

    def forms(self, word: str) -> tuple[str, ...]:
        """A word's stem and its endings, where it has any. Raises ValueError for a list of endings that is none."""
        stem, *said = word.split("/")
        names = [e for e in said if e.startswith("@")]
        if any(name[1:] not in self.endings for name in names):
            raise ValueError(f"no endings {names}: {word}")
        return (stem, *(one for e in said for one in (self.endings[e[1:]].split() if e in names else [e])))


def compile_pattern(source: str, classes: Mapping[str, str], numbers: str, writing: Writing) -> str:
    """A pattern as a regular expression. classes: the expression of each. Raises ValueError for one that is none."""
    if source.startswith("re:"):
        return _CLASS_IN_EXPRESSION.sub(lambda m: _of_class(m[1], classes, source), source[3:])
    tokens = list(_TOKEN.finditer(source.rstrip()))
    if "".join(t.group(0) for t in tokens) != source.rstrip():
        raise ValueError(f"not a pattern: {source}")
    made, rest = _either(tokens, 0, classes, numbers, writing)
    if rest != len(tokens):
        raise ValueError(f"a bracket too many: {source}")
    return made


def _of_class(name: str, classes: Mapping[str, str], source: str) -> str:
    if name not in classes:
        raise ValueError(f"no class {name}: {source}")
    return classes[name]


def compile_words(words: str, classes: Mapping[str, str], numbers: str, writing: Writing) -> str:
    """A class: words parted by white space, `_` inside one standing for a space, `<name>` for another class."""
    parts = set(words.split())
    plain = {part for part in parts if writing.spaces and _PLAIN.fullmatch(part)}
    others = {compile_pattern(part.replace("_", " "), classes, numbers, writing) for part in parts - plain}
    made = sorted(others, key=len, reverse=True)
    made += _one_of(plain, writing)
    return f"(?:{'|'.join(made)})" if made else r"(?!)"


def in_europe(expression: str) -> str:
    """For a language in Latin or Cyrillic letters, without the marks of Devanagari and signs of other scripts: every process
    that reads letters compiles these expressions anew, and sets of signs beyond Latin take `re` by far the longest."""
    for general, plain in ((START, BARE_START), (_STOP, r"(?!\w)"), (WORD, r"\w"), (_NO_WORD, _NO_EUROPEAN_WORD)):
        expression = expression.replace(general, plain)
    return expression


def compile_plain(words: Iterable[str], writing: Writing) -> str:
    """Either of several folded words as they stand, blanks in them of any width."""
    made = [re.escape(word).replace(r"\ ", r"\s+") for word in sorted(words, key=len, reverse=True)]
    start, stop = (f"{START}{writing.prefix}", _STOP) if writing.spaces else ("", "")
    return f"{start}(?:{'|'.join(made)}){stop}" if made else r"(?!)"


def _either(tokens: list[re.Match[str]], k: int, *how: object) -> tuple[str, int]:
    ways: list[str] = []
    plain: set[str] = set()
    writing: Writing = how[-1]  # type: ignore[assignment]
    while True:
        word = tokens[k].group("word") if k < len(tokens) else None
        alone = k + 1 >= len(tokens) or tokens[k + 1].group("bar") or tokens[k + 1].group("close")
        if writing.spaces and word and alone:
            plain.add(word)
            k += 1
        else:
            made, k = _row(tokens, k, *how)  # type: ignore[arg-type]
            ways.append(made)
        if k >= len(tokens) or not tokens[k].group("bar"):
            ways += _one_of(plain, writing)
            return (ways[0] if len(ways) == 1 else f"(?:{'|'.join(ways)})"), k
        k += 1


def _row(
    tokens: list[re.Match[str]], k: int, classes: Mapping[str, str], numbers: str, writing: Writing
) -> tuple[str, int]:
    between = _BETWEEN if writing.spaces else r"[\s\u3001,]{0,2}"
    row: list[tuple[str, bool, bool]] = []  # expression, may be missing, takes no room
    while k < len(tokens):
        token = tokens[k]
        if token.group("bar") or token.group("close"):
            break
        k += 1
        if token.group("open") or token.group("not"):
            inner, k = _either(tokens, k, classes, numbers, writing)
            if k >= len(tokens) or not tokens[k].group("close"):
                raise ValueError(f"a bracket is open: {token.string}")
            maybe = tokens[k].group("close") == ")?"
            row.append((f"(?!{inner})", False, True) if token.group("not") else (f"(?:{inner})", maybe, False))
            k += 1
        elif token.group("gap"):
            row.append((_gap(token.group("gap"), writing), True, False))
        elif token.group("class"):
            row.append((_of_class(token.group("class"), classes, token.string), token.group("maybe") == "?", False))
        elif token.group("take"):
            name = token.group("take")
            row.append((_NAMES.get(name) or f"(?P<{name}>{numbers if len(name) == 1 else '.+'})", False, False))
        elif token.group("edge"):
            row.append((r"^\W*" if token.group("edge") == "^" else r"\W*$", False, True))
        elif token.group("number"):
            row.append((numbers, False, False))
        else:
            row.append((_word(token.group("word"), writing), False, False))
    return _join(row, between), k


def _join(row: list[tuple[str, bool, bool]], between: str) -> str:
    """One after the other: what may be missing takes the space behind it along, at the end the one before it."""
    out = ""
    last_solid = max((n for n, (_, maybe, empty) in enumerate(row) if not maybe and not empty), default=0)
    row = [
        (made.replace(".+)", ".+?)") if n < last_solid else made, maybe, empty)
        for n, (made, maybe, empty) in enumerate(row)
    ]
    first_solid = next((n for n, (_, maybe, empty) in enumerate(row) if not maybe and not empty), len(row))
    for n, (made, maybe, empty) in enumerate(row):
        if empty:
            inner = n > first_solid and made.startswith("(?!")
            out += f"(?!{between}{made[3:]}" if inner else made
        elif n < first_solid:
            out += f"(?:{made}{between})?"
        elif n == first_solid:
            out += made
        else:
            out += f"(?:{between}{made})?" if maybe else f"{between}{made}"
    return out


def _gap(dots: str, writing: Writing) -> str:
    if not writing.spaces:
        return rf"[^\u3002!?\n]{{0,{_GAP_CHARACTERS[dots]}}}?"
    return rf"(?:{WORD}+{_STOP}(?:{_BETWEEN})(?={WORD})){{0,{_GAPS[dots] - 1}}}?{WORD}+{_STOP}"


def _word(word: str, writing: Writing) -> str:
    if not writing.spaces:
        return re.escape(writing.fold(word).text.replace("*", "")).replace("_", r"\s*")
    return _one_of({word}, writing)[0]


def _one_of(words: set[str], writing: Writing) -> list[str]:
    """Expressions for one of several words, of which what they have in common stands once: they are long."""
    found: dict[str, dict[str, set[str]]] = {}
    for word in words:
        stem, *endings = writing.forms(writing.fold(word).text)
        start = rf"{START}{WORD}*" if stem.startswith("*") else START
        if writing.prefix and not stem.startswith(("=", "*")):
            start = f"{START}{writing.prefix}"
        tail = (
            _ends({writing.fold(e).text for e in endings}) if endings else f"{WORD}*" if stem.endswith("*") else _STOP
        )
        found.setdefault(start, {}).setdefault(tail, set()).add(_middle(stem.lstrip("*=").removesuffix("*"), writing))
    return [
        start + _any_of([_any_of(list(stems)) + tail for tail, stems in sorted(tails.items())])
        for start, tails in sorted(found.items())
    ]


def _middle(stem: str, writing: Writing) -> str:
    """A word without its end, or several words side by side."""
    words = (f"{WORD}*".join(map(re.escape, word.split("*"))) for word in stem.split("_") if word)
    return f"{_SPACE}{writing.prefix}".join(words)


def _ends(endings: set[str]) -> str:
    open_ones = [re.escape(e.strip("*")) for e in endings if e.endswith("*")]
    closed = [re.escape(e) for e in endings if not e.endswith("*")]
    return _any_of([_any_of(ways) + tail for ways, tail in ((closed, _STOP), (open_ones, f"{WORD}*")) if ways])


def _any_of(ways: list[str]) -> str:
    return ways[0] if len(ways) == 1 else f"(?:{'|'.join(sorted(ways, key=lambda way: (-len(way), way)))})"


def join_ways(ways: list[str]) -> Callable[..., re.Match[str] | None]:
    """A search for any of several expressions, the first that stands in a text; never one where there are none."""
    return re.compile("|".join(f"(?:{way})" for way in ways) or r"(?!)").search
