"""Rows of the table of settings, and what makes values of what stands in moondesk.toml."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from difflib import get_close_matches
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

#: From this likeness on (of `difflib`, 0 to 1) a word is taken for a slip of another; common practice.
LIKE = 0.6


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One setting.

    parse: its value from what the file or the desk has, a ValueError says what is wrong. default: as long as nobody
    sets it. words: what it is. desk, file: where it may be set. parts: names of the file's lines of one that has
    several; parse gets their values, None where a line is missing. secret: environment variable that may hold what the
    named file holds. path: where it stands in `Config`.
    """

    key: str = ""
    parse: Callable[[Any], Any]
    default: Any = None
    words: str = ""
    desk: bool = False
    file: bool = True
    parts: tuple[str, ...] = ()
    secret: str = ""
    path: tuple[str, ...] = ()

    @property
    def section(self) -> str:
        return self.key.partition(".")[0]

    @property
    def lines(self) -> tuple[str, ...]:
        """What the file calls it, within its section."""
        return (self.parts or (self.key.partition(".")[2],)) if self.file else ()


def setting(default: Any, parse: Callable[[Any], Any], words: str = "", **where: Any) -> Any:
    """A field of a record that is a row of the table."""
    return field(default=default, metadata={"setting": Setting(parse=parse, default=default, words=words, **where)})


def rows_of(record: type, section: str = "", path: tuple[str, ...] = ()) -> Iterator[Setting]:
    """The rows that a record's fields are; a field has the key of its row, else its section and name."""
    for one in fields(record):
        row = one.metadata.get("setting")
        if row is not None:
            yield replace(row, key=row.key or f"{section}.{one.name}", path=(*path, one.name))
        elif isinstance(one.default_factory, type) and is_dataclass(one.default_factory):
            yield from rows_of(one.default_factory, one.name, (*path, one.name))


def with_value(holder: Any, path: tuple[str, ...], value: Any) -> Any:
    """The settings, or a part of them, with another value at a place."""
    name, *rest = path
    if rest:
        inner = holder.get(name, {}) if isinstance(holder, Mapping) else getattr(holder, name)
        value = with_value(inner, tuple(rest), value)
    return {**holder, name: value} if isinstance(holder, Mapping) else replace(holder, **{name: value})


def value_at(holder: Any, path: tuple[str, ...]) -> Any:
    """What stands at a place of the settings; None where nothing does."""
    for name in path:
        holder = holder.get(name) if isinstance(holder, Mapping) else getattr(holder, name)
    return holder


def parsed(row: Setting, value: Any) -> Any:
    """Raises ValueError that names the setting."""
    try:
        return row.parse(value)
    except (TypeError, ValueError) as error:
        name = row.key.partition(".")[2]
        raise ValueError(f"[{row.section}] {name}: {error}") from error


# --- values -----------------------------------------------------------------------------------------------------------


def as_is(value: Any) -> Any:
    """What is checked where it is used."""
    return value


def zone(name: Any) -> str:
    try:
        ZoneInfo(str(name))
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(f"there is no time zone {name!r}; zones are named like Europe/Vienna") from error
    return str(name)


def number_from(least: float, most: float = float("inf"), kind: Callable[[Any], Any] = int) -> Callable[[Any], Any]:
    """Makes numbers that lie between two, both included."""

    def parse(value: Any) -> Any:
        number = kind(value)
        if not least <= number <= most:  # nan too
            above = f"from {least:g} to {most:g}" if most < float("inf") else f"{least:g} or more"
            raise ValueError(f"it is a number {above}, not {value!r}")
        return number

    return parse


def web_address(text: Any) -> str:
    plain = str(text)
    if plain and not plain.startswith(("https://", "http://")):
        raise ValueError(f"it begins with https://, not {text!r}")
    return plain


def own_address(text: Any) -> str:
    """To which paths are added."""
    return web_address(text).rstrip("/")


def secure_address(text: Any) -> str:
    plain = str(text).rstrip("/")
    of_host = r"https://[A-Za-z0-9.-]+(:[0-9]{1,5})?|https://\[[0-9a-fA-F:]+\](:[0-9]{1,5})?"
    if plain and not re.fullmatch(of_host, plain):
        raise ValueError(f"it is like https://desk.example.org, not {plain!r}")
    return plain


def ip_addresses(values: Any) -> tuple[str, ...]:
    if isinstance(values, str):
        raise ValueError('it is a list: ["127.0.0.1"]')
    return tuple(str(ipaddress.ip_address(one)) for one in values)


# --- slips ------------------------------------------------------------------------------------------------------------


def nearest(word: str, words: Iterable[str]) -> str:
    """The one of the words that was probably meant; "": none is like it."""
    return next(iter(get_close_matches(word.casefold(), list(words), 1, LIKE)), "")


def check_sections(table: Mapping[str, Any], sections: Mapping[str, Iterable[str]]) -> None:
    """Raises ValueError for the first section, or key of one or outside any, that the settings do not have, with the
    nearest that they have: no slip passes for silence.

    table: the settings as they were read; sections: the keys of each.
    """
    for name, value in table.items():
        if name in sections:
            if not isinstance(value, Mapping):
                raise ValueError(f"{name} is a section, written [{name}]")
            known = sorted(sections[name])
            for wrong in sorted(set(value) - set(known)):
                meant = nearest(wrong, known)
                hint = f"did you mean {meant!r}? It" if meant else "it"
                raise ValueError(f"[{name}] has no {wrong!r}; {hint} has {', '.join(known)}")
        elif isinstance(value, Mapping):
            meant = nearest(name, sections)
            hint = f"did you mean [{meant}]? There" if meant else "there"
            raise ValueError(f"there is no section [{name}]; {hint} are {', '.join(f'[{s}]' for s in sections)}")
        else:
            homes = [f"[{section}]" for section, keys in sections.items() if name in keys]
            hint = f"; it belongs under {' or '.join(homes)}" if homes else ""
            raise ValueError(f"{name!r} stands outside of every section{hint}")
