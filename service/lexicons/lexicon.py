"""A language's words for what letters say, as its file in `data` has them; a language is added by adding a file.

What a file holds, all of it optional but the first four keys (patterns: see `patterns`; words: parted by white space):

    code, name, scripts           ISO 639-1, its English name, names of its scripts as Unicode begins its letters' names
    spaces = true                 whether words are parted
    prefix                        what may stand before any word, joined to it (a regular expression)
    latin = {sh = "ш", ...}       how it is typed in Latin letters
    same = {ae = "a", ...}        letters that are written for others
    known                         words that say nothing about showing: a letter all of whose words are known is understood
    guard                         classes of words that leave a sentence open where nothing else was read in it
    first_names                   common first names: what a name looks like where no capital tells
    [numbers]                     number words and their values
    [endings]                     lists of endings, used in patterns as stem/@name
    [class]                       words, or patterns, by idea, used in patterns as <name>
    [consent]                     yes, no, double (a no that is none), condition, asks, elsewhere (about something else),
                                  put_to_us (a question to the programme, which answers none),
                                  turned (words by which a yes in one part of the sentence is none),
                                  restrict (may restrict it, one cannot tell), weighty (a doubt without a word of these is
                                  outweighed by a clear yes in another sentence)
                                  shown (what was shown before, no leave to show more)
    [assent]                      a yes by what it is made of, see `letter.ingredients`: leave (marks of assent: "may",
                                  "gladly", "go ahead"; " gladly " stands for a no that is none) or pleased ("happy if"),
                                  each near shown (marks of showing, of the air, of the picture that is given), or given
                                  ("sent", "a present") near meant ("for the viewers"); aside
                                  (taken out first: "if you like", "nothing special"), spoilt (any no, "only": then it
                                  is none), parts (where another clause begins: "but"); wish (an "if"
                                  that is no condition: "happy if"); answers (whole answers to a
                                  question that is told: "whether you may show it: yes")
    [denial]                      a no likewise: no near shown; aside, parts
    [undoing]                     taking back likewise: undo ("delete", "take back") near sent (what was); aside, parts
    [doubt]                       where a sentence is past doubt only if it is about the sky: see `letter.doubt`. asks
                                  (something of the programme), answer (of a short one all of it), no, short_no,
                                  harmless, small_talk, clauses (what parts them), topics (words)
    [plain]                       where not every word need be known: see `letter.plain`. names, before_names (words),
                                  foreign (words that say no in other languages), endings, beginnings
    [cell]                        of a cell of the programme's own table: yes, no, plain (what it says of itself), open;
                                  [cell.kinds] how consent came
    [withdrawal]                  asks, elsewhere; of a language with doubts perhaps, if_restricted (where it restricts)
    [child]                       told (a child took it), spoken (one is spoken of), elsewhere; [guardian] told
    [credit]                      named (with {name}), taken_by (with {name}), unnamed, stops (words that end a name),
                                  never (words that are no name); takes (that somebody else took it) and told (with
                                  {who} or {any}, where the taker's name stands), nouns (words that are no taker),
                                  cues (that somebody is to be named so: see `letter.asked_names`), and (words between
                                  two names that are one credit), joined (such that are stuck to the second), groups
                                  (words that a body's name begins with), listed (who took it begins with a listed one), only_listed (a cue's name begins with a listed first
                                  name), verb_last (a name with a capital stands before its cue, too), greeting (a sentence
                                  that greets somebody: no cue counts), from (before a place that is part of how one is called), greets (words before
                                  somebody who is spoken to), titles (words before a
                                  name and of it), tails (behind one, in a script without capitals), clitics (endings that are stuck to a name)
    [labels]                      of labelled fields, words: name, telescope, aperture, eyepiece, camera, place, time,
                                  consent, age; yes, no: the words of an answer
    [equipment]                   words: inch, mm, cm, eyepiece, aperture (also mirror, objective), other (words that own
                                  numbers of theirs: focal length, finder, diagonal, lens, screen), lens
                                  (words that some call an eyepiece by); [equipment.fractions] words and their parts of one; lacking (pattern that
                                  ends in the instrument's word: "without a telescope"), lacking_after (one that begins
                                  with it); of (ties a number to the word before it); sizes (one word for a size: mm); [equipment.kinds] words of each kind
    [place]                       before (prepositions), after (postpositions), never (words that are no town's here)
    [time]                        see `service.programme.letter.time_words`
    [mail]                        disclaimers (patterns); else regular expressions, of what mail programs write: attributions
                                  (pairs: how "who wrote when" begins, "" where it has no beginning, and ends), from and
                                  heads (labels of the lines above a mail), sent_from (a telephone's own line), closings,
                                  message, forwarded, original (words of a ruled line), forwards (a line before a colon);
                                  of companies' words addressed, secret, mistaken, forbidden
    [answer]                      regular expressions: yes, no, with which an answer begins; no_but (what makes such a no
                                  none), greeting
    [story]                       told (sentences that a presenter may tell)
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Any

from moondesk.service.lexicons.folding import Folded, fold, transliterate
from moondesk.service.lexicons.patterns import (
    WORD,
    Writing,
    compile_pattern,
    compile_plain,
    compile_words,
    in_europe,
    join_ways,
)

FOLDER = Path(__file__).parent / "data"
#: [mail] of languages that letters are not read in.
ELSEWHERE = Path(__file__).parent / "mail_elsewhere.toml"
#: Parts of a file whose words say nothing about showing, and of some tables what is left out of them: there the words of
#: programmes, of sending and of a no stand too.
HARMLESS = ("known", "numbers", "story")
HARMLESS_BUT = {
    "equipment": ("lacking", "lacking_after"),
    "time": ("elsewhere", "sent", "taken", "never", "picture"),
    "place": ("never",),
    "labels": ("consent", "yes", "no", "age"),
}
#: Shorter beginnings, endings and middles make no word a known one.
SHORTEST_STEM = 3
_A_WORD = re.compile(rf"{WORD}+")
_NO_DIGIT = re.compile(rf"{WORD}*?[^\W\d_]{WORD}*")


@dataclass(frozen=True, eq=False)
class Lexicon:
    """table: the file's content."""

    table: Mapping[str, Any]
    _made: dict[tuple[str, ...], Any] = field(default_factory=dict, repr=False)

    @property
    def code(self) -> str:
        return str(self.table["code"])

    @property
    def scripts(self) -> tuple[str, ...]:
        return tuple(self.table["scripts"])

    @cached_property
    def writing(self) -> Writing:
        same = {fold(k).text: fold(v).text for k, v in self.table.get("same", {}).items()}
        return Writing(
            bool(self.table.get("spaces", True)), str(self.table.get("prefix", "")), self.table.get("endings", {}), same
        )

    @cached_property
    def numbers(self) -> Mapping[str, float]:
        said = self.table.get("numbers", {})
        return {self.writing.fold(word.replace("_", " ")).text: float(n) for word, n in said.items()}

    @cached_property
    def number(self) -> str:
        words = compile_plain(self.numbers, self.writing)
        return rf"(?:\d+(?:[.,]\d+)?|{self.lighter(words)})"

    @cached_property
    def classes(self) -> Mapping[str, str]:
        """The regular expression of each class. Raises ValueError where one names itself or none."""
        source, done = dict(self.table.get("class", {})), dict[str, str]()
        while source:
            ready = [k for k, said in source.items() if not set(re.findall(r"<([\w-]+)>", str(said))) & source.keys()]
            if not ready:
                raise ValueError(f"{self.code}: classes go round: {sorted(source)}")
            for name in ready:
                said = source.pop(name)
                done[name] = (
                    compile_words(said, done, self.number, self.writing)
                    if isinstance(said, str)
                    else (f"(?:{'|'.join(compile_pattern(p, done, self.number, self.writing) for p in said)})")
                )
        return done

    def expressions(self, section: str, key: str) -> tuple[str, ...]:
        """The regular expressions of a list of patterns, or of a class's words."""
        if (section, key) not in self._made:
            table: Any = self.table
            for name in section.split("."):
                table = table.get(name, {})
            said = table.get(key, ())
            try:
                if isinstance(said, str):
                    made: tuple[str, ...] = (
                        self.lighter(compile_words(said, self.classes, self.number, self.writing)),
                    )
                else:
                    made = tuple(map(self.expression, said))
            except (ValueError, re.error) as error:
                raise ValueError(f"{self.code}, [{section}] {key}: {error}") from error
            self._made[(section, key)] = made
        found: tuple[str, ...] = self._made[(section, key)]
        return found

    def expression(self, pattern: str) -> str:
        """The regular expression of one pattern."""
        return self.lighter(compile_pattern(pattern, self.classes, self.number, self.writing))

    def lighter(self, expression: str) -> str:
        """An expression without care for scripts in which the language is not written."""
        return in_europe(expression) if set(self.scripts) <= {"LATIN", "CYRILLIC"} else expression

    def search(self, section: str, key: str) -> Callable[..., re.Match[str] | None]:
        """A search in folded text for any of a list of patterns."""
        name = ("search", section, key)
        if name not in self._made:
            self._made[name] = join_ways(list(self.expressions(section, key)))
        found: Callable[..., re.Match[str] | None] = self._made[name]
        return found

    def each(self, section: str, key: str) -> tuple[re.Pattern[str], ...]:
        """The patterns one by one, as some take a stretch by name."""
        name = ("each", section, key)
        if name not in self._made:
            self._made[name] = tuple(re.compile(e) for e in self.expressions(section, key))
        found: tuple[re.Pattern[str], ...] = self._made[name]
        return found

    def without(self, text: str, section: str, key: str, by: str = " ") -> str:
        """A folded text in which something stands for what patterns find."""
        for pattern in self.each(section, key):
            text = pattern.sub(by, text)
        return text

    def words(self, section: str, key: str) -> frozenset[str]:
        """A plain list of words, folded."""
        name = ("words", section, key)
        if name not in self._made:
            said = self.table.get(section, {}).get(key, "")
            self._made[name] = frozenset(self.writing.fold(w.replace("_", " ")).text for w in said.split())
        found: frozenset[str] = self._made[name]
        return found

    def fold(self, text: str) -> Folded:
        """A text as this language's patterns want it: one typed in Latin letters in the language's own."""
        return _folded(self, text)

    def is_transliterated(self, text: str) -> bool:
        """Whether a text is in Latin letters and the language's own are others."""
        return bool(self._latin) and is_in_latin(text)

    @cached_property
    def _latin(self) -> Mapping[str, str]:
        return {fold(k).text: fold(v).text for k, v in self.table.get("latin", {}).items()}

    def may_write(self, text: str) -> bool:
        """Whether a letter of one of the language's scripts, or of how it is typed in Latin ones, stands in a text."""
        scripts = (*self.scripts, *(("LATIN",) if self._latin else ()))
        return any(name.startswith(scripts) for name in _letter_names(text))

    @cached_property
    def _vocabulary(self) -> Vocabulary:
        apart = (
            "mail",
            "answer",
            "guard",
            "first_names",
            "latin",
            "same",
            "scripts",
            "prefix",
            "endings",
            "plain",
            "doubt",
        )
        return vocabulary_of({k: v for k, v in self.table.items() if k not in apart}, self.writing)

    @cached_property
    def _harmless(self) -> Vocabulary:
        said: dict[str, Any] = {k: v for k, v in self.table.items() if k in HARMLESS}
        for section, without in HARMLESS_BUT.items():
            said[section] = {k: v for k, v in self.table.get(section, {}).items() if k not in without}
        return vocabulary_of(said, self.writing)

    @property
    def pieces(self) -> frozenset[str]:
        return self._vocabulary.plain

    @property
    def harmless_pieces(self) -> frozenset[str]:
        return self._harmless.plain

    def knows(self, word: str) -> bool:
        """Whether a folded word is one of the file's."""
        return self._vocabulary.holds(word, self.writing.prefix)

    @cached_property
    def first_names(self) -> frozenset[str]:
        return frozenset(self.writing.fold(w).text for w in str(self.table.get("first_names", "")).split())

    def is_first_name(self, word: str) -> bool:
        """Whether a folded word is a listed first name, also with an ending that is stuck to it."""
        if word in self.first_names:
            return True
        clitics = self.words("credit", "clitics")
        return any(word.endswith(c) and word.removesuffix(c) in self.first_names for c in clitics)

    def is_harmless(self, word: str) -> bool:
        """Whether a folded word is one that says nothing about showing: no word that only stands in what does."""
        return self._harmless.holds(word, self.writing.prefix)

    def guards(self, text: str) -> bool:
        """Whether a word of the guarded classes stands in a folded text: a no, showing, asking, a child, whatever the rest."""
        return any(self.search("class", name)(text) for name in str(self.table.get("guard", "")).split())

    def share(self, text: str) -> float:
        """The share of a text's words that the file knows; of a script without spaces, of its letters in that script."""
        return _share(self, text)


# Every rule asks for the same few texts, one after the other.


@lru_cache(maxsize=4096)
def _folded(words: Lexicon, text: str) -> Folded:
    folded = words.writing.fold(text)
    return transliterate(folded, words._latin) if words.is_transliterated(text) else folded


@lru_cache(maxsize=4096)
def _share(words: Lexicon, text: str) -> float:
    if not words.writing.spaces:
        names = list(_letter_names(text))
        return sum(n.startswith(words.scripts) for n in names) / len(names) if names else 0.0
    found = _NO_DIGIT.findall(words.fold(text).text)
    return sum(words.knows(w) and _may_be_of(w, words) for w in found) / len(found) if found else 0.0


def _may_be_of(word: str, words: Lexicon) -> bool:
    """Whether a word with a digit, which counts as known, has no letters of other scripts: "127mm\u53cd\u5c04" is Japanese."""
    return not any(c.isdigit() for c in word) or all(
        name.startswith((*words.scripts, "LATIN")) for name in _letter_names(word)
    )


def _letter_names(text: str) -> list[str]:
    return [unicodedata.name(c, "") for c in text if c.isalpha()]


def is_in_latin(text: str) -> bool:
    names = _letter_names(text)
    return bool(names) and sum(n.startswith("LATIN") for n in names) > 0.9 * len(names)


def codes_by_script(text: str) -> tuple[str, ...]:
    """The languages that are written in a script that a text's letters are of, but for Latin ones: too many are."""
    names = _letter_names(text)
    scripts = {code: one.scripts[0] for code, one in lexicons().items() if one.scripts[0] != "LATIN"}
    return tuple(code for code, script in scripts.items() if any(n.startswith(script) for n in names))


def _texts(value: Any) -> list[str]:
    if isinstance(value, str):
        return [] if value.startswith("re:") else [value]
    if isinstance(value, Mapping):
        return [
            text for k, v in value.items() for text in ([str(k)] if isinstance(v, (int, float)) else []) + _texts(v)
        ]
    if isinstance(value, list):
        return [text for v in value for text in _texts(v)]
    return []


@dataclass(frozen=True)
class Vocabulary:
    """Folded words: whole ones, beginnings, endings, middles; in a script without spaces the whole ones are pieces."""

    plain: frozenset[str]
    starts: tuple[str, ...]
    ends: tuple[str, ...]
    middles: tuple[str, ...]

    def holds(self, word: str, prefix: str) -> bool:
        if word in self.plain or any(c.isdigit() for c in word) or any(m in word for m in self.middles):
            return True
        if prefix:
            bare = re.sub(rf"^{prefix}", "", word)
            if bare in self.plain or bare.startswith(self.starts):
                return True
        return (bool(self.starts) and word.startswith(self.starts)) or (bool(self.ends) and word.endswith(self.ends))


def vocabulary_of(table: Mapping[str, Any], writing: Writing) -> Vocabulary:
    """All words of some parts of a file."""
    plain: set[str] = set()
    starts: set[str] = set()
    ends: set[str] = set()
    middles: set[str] = set()
    said_so: list[str] = []
    for said in _texts(table):
        for word in re.findall(r"[^\s|()<>{}^$!?_=,;:.\"\[\]]+", re.sub(r"<[\w-]+>|\{\w+\}", " ", said)):
            stem, *endings = writing.forms(word)
            said_so += [stem + e for e in endings] or [stem]
    for word in said_so:
        folded = writing.fold(word).text
        bare = folded.strip("*'-")
        if len(bare) < 2 and writing.spaces and not bare.isalpha():
            continue
        if len(bare) < SHORTEST_STEM and writing.spaces:
            pass  # a word of its own, and no beginning or end that tells
        elif folded.startswith("*") and folded.endswith("*"):
            middles.add(bare)
        elif folded.startswith("*"):
            ends.add(bare)
        elif folded.endswith("*"):
            starts.add(bare)
        elif "*" in bare:
            starts.add(bare.partition("*")[0])
        plain.update(_A_WORD.findall(bare))
    return Vocabulary(frozenset(plain), tuple(sorted(starts)), tuple(sorted(ends)), tuple(sorted(middles)))


@cache
def lexicons() -> Mapping[str, Lexicon]:
    """All languages by code, in the order of their codes."""
    files = sorted(FOLDER.glob("*.toml"))
    return {f.stem: Lexicon(tomllib.loads(f.read_text(encoding="utf-8"))) for f in files}


@cache
def lexicon(code: str) -> Lexicon:
    return lexicons()[code]


@cache
def mail_words() -> tuple[Mapping[str, Any], ...]:
    """[mail] of each language's file, and of the languages that have none."""
    elsewhere = tomllib.loads(ELSEWHERE.read_text(encoding="utf-8"))
    return tuple(table["mail"] for table in (*(one.table for one in lexicons().values()), elsewhere))


@lru_cache(maxsize=8192)  # the same sentences are asked for by each reader of a letter
def likely(text: str, shares_of: float = 0.7) -> tuple[str, ...]:
    """Codes of the languages that a text may be in, the likeliest first; none where none knows any of its words."""
    found = {code: one.share(text) for code, one in lexicons().items() if one.may_write(text)}
    best = max(found.values(), default=0.0)
    return tuple(sorted((c for c, s in found.items() if s > 0 and s >= shares_of * best), key=lambda c: (-found[c], c)))
