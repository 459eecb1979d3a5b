"""One sentence with the numbers it was made from, in no language yet.

    say("{name} is {width} km wide.", name=Name("Plato"), width=Number(101.2, 0)) -> Message -> English or a translation

The template is the English sentence and at the same time the key under which message catalogues keep its translations
(the custom of gettext); the parts stay what they were, so that a test can compute each number again and another
language can write it in its own way. Nothing here knows a language but English; `moondesk.service.languages` knows the others.
"""

from __future__ import annotations

import string
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TypeAlias

_FORMATTER = string.Formatter()


@dataclass(frozen=True)
class Number:
    """A number, in the unit that the template writes after it, shown with so many decimals, thousands grouped."""

    value: float
    decimals: int = 0


@dataclass(frozen=True)
class Name:
    """A name that stays as it is unless the programme has a form of its own for it (features: the IAU's spelling)."""

    text: str


@dataclass(frozen=True)
class Term:
    """A word of the trade that languages translate: a kind of feature, a direction, an occupation; English here."""

    word: str


@dataclass(frozen=True)
class Listed:
    """Parts to be written as a list with the language's own "and"; at least one."""

    parts: tuple[Part, ...]


#: What may fill a template's place. A Message is a clause within a sentence; a date is written by the language's custom.
Part: TypeAlias = "str | int | Number | Name | Term | Listed | date | Message"


@dataclass(frozen=True)
class Message:
    """A sentence: English template, what fills it, and where the wording depends on a count, the plural and the count.

    values: name and part in the template's {places}; names beyond the template's are kept as evidence.
    """

    template: str
    values: tuple[tuple[str, Part], ...] = ()
    plural: str | None = None
    count: int = 0

    def value(self, name: str) -> Part:
        """The part of that name. KeyError where there is none."""
        return dict(self.values)[name]


def say(template: str, **values: Part) -> Message:
    """A sentence of one wording. ValueError where the template has a place that nothing fills."""
    return _check(Message(template, tuple(values.items())))


def say_many(template: str, plural: str, count: int, **values: Part) -> Message:
    """A sentence whose wording depends on `count`, which both templates may show as {count}."""
    return _check(Message(template, tuple({"count": count, **values}.items()), plural, count))


def _check(said: Message) -> Message:
    places = set(places_of(said.template)) | set(places_of(said.plural or ""))
    missing = places - dict(said.values).keys()
    if missing:
        raise ValueError(f"nothing fills {sorted(missing)} of {said.template!r}")
    return said


def places_of(template: str) -> tuple[str, ...]:
    """Names of the places of a template. ValueError for braces that do not close."""
    return tuple(name for _, name, _, _ in _FORMATTER.parse(template) if name is not None)


def fill(said: Message, template: str, write: Callable[[Part], str]) -> str:
    """The sentence by a template of some language, each part written by `write`."""
    parts = dict(said.values)
    return template.format_map({name: write(parts[name]) for name in places_of(template)})


def in_english(said: Message) -> str:
    """The sentence in English: 1,234.5; "a, b and c"; 7 November 2026."""
    template = said.plural if said.plural is not None and said.count != 1 else said.template
    return fill(said, template, write_english)


def write_english(part: Part) -> str:
    """A part in English."""
    if isinstance(part, Message):
        return in_english(part)
    if isinstance(part, Number):
        return f"{part.value:,.{part.decimals}f}"
    if isinstance(part, Listed):
        words = [write_english(p) for p in part.parts]
        return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
    if isinstance(part, date):
        return f"{part.day} {_MONTHS[part.month - 1]} {part.year}"
    return part.text if isinstance(part, Name) else part.word if isinstance(part, Term) else str(part)


_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
           "December")  # fmt: skip


def text_of(parts: tuple[Message, ...], write: Callable[[Message], str] = in_english) -> str:
    """Sentences one after the other."""
    return " ".join(write(p) for p in parts)
