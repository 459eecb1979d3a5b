"""How a name on the Moon is said in a language: by the table `data/said.txt`, Latin by the language's custom of it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib import resources

from moondesk.speech.latin import read_latin
from moondesk.speech.sounds import ipa_of, respell

#: A lettered feature is said by the name of its crater, then its letter.
_LETTER = re.compile(r" [A-Z]{1,2}$")


@dataclass(frozen=True, kw_only=True)
class Said:
    """sounds: X-SAMPA; ipa: between slashes; respelled: with the letters of the language, "" where it has none here."""

    sounds: str
    ipa: str
    respelled: str


@dataclass(frozen=True)
class _Table:
    latin: dict[str, str]
    own: dict[str, str]
    english: dict[str, str]


def how_said(name: str, code: str) -> Said | None:
    """None where it is not known how a part of the name is said."""
    sounds = sounds_of(name, code)
    return None if sounds is None else Said(sounds=sounds, ipa=ipa_of(sounds), respelled=respell(sounds, code))


@cache
def sounds_of(name: str, code: str) -> str | None:
    """X-SAMPA, a space between words; the letter of a lettered feature is left out."""
    table, words = _table(), re.sub(r"\s*\(.*?\)", "", _LETTER.sub("", name)).split()
    found, at = [], 0
    while at < len(words):
        for end in range(len(words), at, -1):
            part = " ".join(words[at:end])
            if code == "en" and part in table.english:
                found.append(table.english[part])
            elif part in table.latin:
                found.append(read_latin(table.latin[part], code))
            elif part in table.own:
                found.append(table.own[part])
            else:
                continue
            at = end
            break
        else:
            return None
    return " ".join(found)


@cache
def _table() -> _Table:
    latin: dict[str, str] = {}
    own: dict[str, str] = {}
    english: dict[str, str] = {}
    text = resources.files("moondesk.speech").joinpath("data", "said.txt").read_text(encoding="utf-8")
    for line in text.splitlines():
        if line.startswith("#") or not line.strip():
            continue
        name, kind, said = re.fullmatch(r"(.+) (=|[a-z]{2}!?) (.+)", line).groups()  # type: ignore[union-attr]
        (latin if kind == "=" else english if kind.endswith("!") else own)[name] = said
    return _Table(latin, own, english)
