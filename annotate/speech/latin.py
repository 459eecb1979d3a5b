"""Latin names as a language is used to reading them. Spelling with an acute on the stressed vowel -> X-SAMPA.

English by the old school's rules (A. Andrew, "The English Pronunciation of Latin", in textbooks to about 1900; from memory):
a stressed open last but one syllable is long, an earlier one short, save u, and a, e, o before i or e and a vowel.
Others by the classroom's custom of middle Europe, c before a front vowel as ts, s between vowels as z; Spanish by its own
letters. From memory.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

_DIPHTHONGS = ("ae", "oe", "au", "eu", "ei")
_UNITS = ("sch", "cch", "ch", "ph", "th", "rh", "qu", "gu", "sc")
_VOWELS = "aeiouy"
_FRONT = ("e", "i", "y", "ae", "oe", "eu", "ei")


@dataclass
class _Syllable:
    onset: list[str]
    nucleus: str
    coda: list[str]
    stressed: bool


def read_latin(word: str, code: str) -> str:
    """The sounds of a word, or of several parted by spaces."""
    return " ".join(_read(w, code) for w in word.split(" "))


def _read(word: str, code: str) -> str:
    syllables = _syllables(word)
    say = _english if code == "en" else _spanish if code == "es" else _continental
    return ".".join(('"' if s.stressed else "") + say(syllables, n, code) for n, s in enumerate(syllables))


def _syllables(word: str) -> list[_Syllable]:
    letters = _letters(word)
    nuclei = [n for n, (unit, _) in enumerate(letters) if unit[0] in _VOWELS and unit not in _UNITS]
    found: list[_Syllable] = []
    for k, at in enumerate(nuclei):
        begin = nuclei[k - 1] + 1 if k else 0
        between = [unit for unit, _ in letters[begin:at]]
        if k and len(between) > 1:
            # a stop or f goes with the l or r that follows it (muta cum liquida); of others the last opens the syllable
            last = (
                2 if between[-1] in "lr" and between[-2] in ("b", "c", "d", "f", "g", "p", "t", "ch", "ph", "th") else 1
            )
            found[-1].coda = between[:-last]
            between = between[-last:]
        found.append(_Syllable(between, letters[at][0], [], letters[at][1]))
    found[-1].coda = [unit for unit, _ in letters[nuclei[-1] + 1 :]]
    if len(found) == 1:
        found[0].stressed = True
    return found


def _letters(word: str) -> list[tuple[str, bool]]:
    """Units of spelling, and whether the acute stands on them."""
    plain = unicodedata.normalize("NFD", word.lower().replace("æ", "ae").replace("ǽ", "a\u0301e"))
    marks = [n for n, c in enumerate(plain) if c == "\u0301"]
    stressed = {m - 1 - sum(k < m for k in marks) for m in marks}
    text = plain.replace("\u0301", "")
    units, at = [], 0
    while at < len(text):
        unit = next((u for u in _UNITS if text.startswith(u, at)), "")
        if unit == "gu" and not (at and text[at - 1] == "n" and text[at + 2 : at + 3] in tuple(_VOWELS)):
            unit = ""
        if unit == "sc" and text[at + 2 : at + 3] not in ("e", "i", "y"):
            unit = ""
        if not unit:
            unit = next((d for d in _DIPHTHONGS if text.startswith(d, at) and _is_one(d, text, at)), text[at])
            if unit in _DIPHTHONGS and at + 1 in stressed:
                unit = text[at]
        units.append((unit, at in stressed))
        at += len(unit)
    return units


def _is_one(two: str, text: str, at: int) -> bool:
    """Menela-us and Cephe-us have two vowels, and so has Spe-i."""
    rest = text[at + 2 :]
    return not (two in ("au", "eu") and rest == "s") and not (two == "ei" and not rest)


def _hiatus(syllables: list[_Syllable], n: int) -> bool:
    """Whether a vowel follows at once."""
    return n + 1 < len(syllables) and not syllables[n].coda and not syllables[n + 1].onset


def _consonants(syllables: list[_Syllable], n: int, units: list[str], is_onset: bool, code: str) -> str:
    s, out = syllables[n], []
    for k, unit in enumerate(units):
        last = k == len(units) - 1
        following = (
            units[k + 1]
            if not last
            else s.nucleus
            if is_onset
            else syllables[n + 1].onset[0]
            if _open(syllables, n)
            else ""
        )
        soft = following in _FRONT
        first = is_onset and n == 0 and k == 0
        before_io = is_onset and last and s.nucleus == "i" and not s.stressed and _hiatus(syllables, n)
        between = is_onset and len(units) == 1 and n > 0 and not syllables[n - 1].coda
        if unit == following:
            continue  # a double letter is one sound
        out.append(_sound(unit, code, soft, first, before_io, between, following, syllables, n))
    return "".join(out)


def _open(syllables: list[_Syllable], n: int) -> bool:
    return n + 1 < len(syllables) and bool(syllables[n + 1].onset)


def _sound(
    unit: str, code: str, soft: bool, first: bool, before_io: bool, between: bool, following: str,
    syllables: list[_Syllable], n: int,
) -> str:  # fmt: skip
    english, spanish = code == "en", code == "es"
    match unit:
        case "c" | "sc" | "sch" | "cch":
            if unit in ("sch", "cch"):
                return "sk" if unit == "sch" else "k"
            head = "s" if unit == "sc" and not english else ""
            if english:
                return "S" if before_io and unit == "c" else "s" if soft or unit == "sc" else "k"
            return head + (("T" if spanish else "ts") if soft or unit == "sc" else "k")
        case "t" if before_io and not spanish and not (n and syllables[n - 1].coda[-1:] in (["s"], ["t"], ["x"])):
            return "S" if english else "ts"
        case "g" if soft:
            return "dZ" if english else "x" if spanish else "g"
        case "ch":
            return "k" if english or spanish else "x"
        case "ph":
            return "f"
        case "th":
            return "T" if english else "t"
        case "rh":
            return "r"
        case "qu":
            return "kw" if english else "k" if spanish and following in ("e", "i") else "kw" if spanish else "kv"
        case "gu":
            return "gw" if english or spanish else "gv"
        case "x":
            return "z" if first and english else "s" if spanish and first else "ks"
        case "j":
            return "dZ" if english else "x" if spanish else "j"
        case "h":
            return "" if spanish else "h"
        case "z":
            return "T" if spanish else "ts" if code == "de" else "z"
        case "s" if between and not english and not spanish:
            return "z"
        case "p" if english and first and following in ("t", "s"):
            return ""
        case "v" | "b" if spanish:
            return "b"
        case _:
            return unit


def _continental(syllables: list[_Syllable], n: int, code: str) -> str:
    s = syllables[n]
    german = code == "de"
    vowels = {"a": "a", "e": "E", "i": "i", "o": "O", "u": "u", "y": "y" if german else "i", "ae": "E", "oe": "2" if german else "E",
              "au": "aw", "eu": "OY" if german else "Ew", "ei": "aj" if german else "Ej"}  # fmt: skip
    return _around(syllables, n, code, vowels[s.nucleus])


def _spanish(syllables: list[_Syllable], n: int, code: str) -> str:
    vowels = {
        "a": "a",
        "e": "e",
        "i": "i",
        "o": "o",
        "u": "u",
        "y": "i",
        "ae": "e",
        "oe": "e",
        "au": "aw",
        "eu": "ew",
        "ei": "ej",
    }
    return _around(syllables, n, code, vowels[syllables[n].nucleus])


def _around(syllables: list[_Syllable], n: int, code: str, vowel: str) -> str:
    s = syllables[n]
    return _consonants(syllables, n, s.onset, True, code) + vowel + _consonants(syllables, n, s.coda, False, code)


_LONG = {"a": "eI", "e": "i:", "i": "aI", "o": "oU", "u": "u:", "y": "aI"}
_SHORT = {"a": "{", "e": "E", "i": "I", "o": "O", "u": "V", "y": "I"}
_TWO = {"ae": "i:", "oe": "i:", "au": "O:", "eu": "ju:", "ei": "aI"}
_BEFORE_R = {"a": "A:", "e": "3:", "i": "3:", "o": "O:", "u": "3:", "y": "3:"}
_LONG_BEFORE_R = {"a": "E@", "e": "I@", "i": "aI", "o": "O:", "u": "jU@", "y": "aI"}


def _english(syllables: list[_Syllable], n: int, code: str) -> str:
    s, count = syllables[n], len(syllables)
    from_end, v = count - 1 - n, s.nucleus
    closed = bool(s.coda) or (n + 1 < count and syllables[n + 1].onset[:1] == ["x"])
    r_next = (s.coda[:1] == ["r"]) or (not s.coda and n + 1 < count and syllables[n + 1].onset[:1] in (["r"], ["rh"]))
    ends = "".join(s.coda)
    onset = _consonants(syllables, n, s.onset, True, code)
    coda = _consonants(syllables, n, s.coda, False, code)
    if s.stressed:
        vowel = _stressed_vowel(syllables, n, v, closed, r_next, from_end)
    elif from_end == 0:
        vowel = {"a": "@", "e": "i:" if not ends or ends == "s" else "@", "i": "aI" if not ends else "I", "o": "oU" if not ends else
                 "O" if ends == "s" else "@", "u": "@", "y": "I"}.get(v) or _TWO[v]  # fmt: skip
        coda = "z" if v == "e" and ends == "s" else coda
    elif v in _TWO:
        vowel = _TWO[v]
    elif s.coda[:1] == ["r"]:
        vowel = "@" if v in "eiuy" else _BEFORE_R[v]
    elif v in "iy":
        vowel = "i" if _hiatus(syllables, n) else "aI" if n == 0 and v == "y" and not closed else "I"
    elif v == "u":
        vowel = "@" if closed else "ju"
    elif v == "o":
        vowel = "O" if closed and n == 0 else "@" if closed or n else "oU"
    elif v == "e":
        vowel = "i" if _hiatus(syllables, n) else "E" if n == 0 else "@"
    else:
        vowel = "{" if closed and n == 0 else "@"
    if vowel.startswith("ju") and re.search(r"(r|l|S|dZ|tS)$", onset):
        vowel = vowel[1:]
    return onset + vowel + coda


def _stressed_vowel(syllables: list[_Syllable], n: int, v: str, closed: bool, r_next: bool, from_end: int) -> str:
    if v in _TWO:
        return "E" if v in ("ae", "oe") and (from_end >= 2 or closed) else _TWO[v]
    if closed:
        return _BEFORE_R[v] if syllables[n].coda[:1] == ["r"] else _SHORT[v]
    following = syllables[n + 1] if n + 1 < len(syllables) else None
    lengthens = (
        following is not None
        and v in "aeo"
        and following.nucleus in ("i", "e", "y")
        and not following.coda
        and n + 2 < len(syllables)
        and not syllables[n + 2].onset
    )
    if from_end >= 2 and v != "u" and not lengthens and not _hiatus(syllables, n):
        return _SHORT[v]
    if r_next:
        return _LONG_BEFORE_R[v]
    return "ju:" if v == "u" else _LONG[v]
