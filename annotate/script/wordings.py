"""The wordings of what is said: `data/wordings*.toml`, English sentences with places, many for each thing to say.

    [opening.greeting]
    ways = ["Good evening.", "Good evening. | It is good to have you here."]

A way of several sentences has " | " between them. Two forms of one sentence, by a count, have " || " between them: the
first is that for one. The sentences are the keys of their translations.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import replace
from functools import cache
from importlib import resources
from types import MappingProxyType

from moondesk.notes.messages import Listed, Message, Name, Part, say, say_many
from moondesk.script.records import Cue, Line

_FIRST = re.compile(r"\{(\w+)\}")


@cache
def _table() -> dict[str, tuple[str, ...]]:
    """Of every `wordings*.toml`. ValueError where two have a table of one name."""
    folder = resources.files("moondesk.script") / "data"
    table: dict[str, tuple[str, ...]] = {}
    for file in sorted((f for f in folder.iterdir() if f.name.startswith("wordings")), key=lambda f: f.name):
        for group, rows in tomllib.loads(file.read_text(encoding="utf-8")).items():
            for name, row in rows.items():
                if f"{group}.{name}" in table:
                    raise ValueError(f"two tables of wordings are called {group}.{name}")
                table[f"{group}.{name}"] = tuple(row["ways"])
    return table


@cache
def sentences() -> tuple[str | tuple[str, str], ...]:
    """Every sentence, or pair of forms by a count, each once."""
    every = (part for ways in _table().values() for way in ways for part in way.split(" | "))
    forms = (part.split(" || ") for part in every)
    return tuple(dict.fromkeys(f[0] if len(f) == 1 else (f[0], f[1]) for f in forms))


def has(key: str) -> bool:
    return key in _table()


def ways_of(
    *keys: str,
    facts: Collection[str] = (),
    cue: Cue | None = None,
    count: int | None = None,
    values: Mapping[str, Part] = MappingProxyType({}),
    **more: Part,
) -> tuple[tuple[Line, ...], ...]:
    """All ways to say something, of one or several tables. The cue goes with the first sentence of each, the facts with
    all; values, more: what fills places, and evidence. KeyError for a table that there is none of, ValueError where
    nothing fills a place."""
    told, parts = tuple(facts), {**values, **more}
    return tuple(
        tuple(
            Line(said=_message(text, count, parts), facts=told, cue=cue if n == 0 else None)
            for n, text in enumerate(way.split(" | "))
        )
        for key in keys
        for way in _table()[key]
    )


def _message(text: str, count: int | None, values: dict[str, Part]) -> Message:
    values = begun(text, values)
    one, parted, many = text.partition(" || ")
    if not parted:
        return say(text, **({"count": count} if count is not None else {}), **values)
    if count is None:
        raise ValueError(f"no count for {text!r}")
    return say_many(one, many, count, **values)


def begun(text: str, values: dict[str, Part]) -> dict[str, Part]:
    """The values of a sentence that begins with one of them: "The Sea of Rains", "The Weaver family"."""
    first = _FIRST.match(text)
    if first is None or first[1] not in values:
        return values
    return {**values, first[1]: _begin(values[first[1]])}


def _begin(part: Part) -> Part:
    """The same with a capital letter, of what may have none."""
    if isinstance(part, Name) and part.text[:1].islower():
        return Name(part.text[:1].upper() + part.text[1:])
    if isinstance(part, Message) and part.template.startswith("the "):
        return replace(part, template="The " + part.template[4:])
    if isinstance(part, Listed):
        return Listed((_begin(part.parts[0]), *part.parts[1:]))
    return part
