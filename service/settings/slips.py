"""A word that is none of those that count is refused, with the nearest of them: no slip passes for silence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any

#: From this likeness on (of `difflib`, 0 to 1) a word is taken for a slip of another; common practice.
LIKE = 0.6


def nearest(word: str, words: Iterable[str]) -> str:
    """The one of the words that was probably meant; "": none is like it."""
    return next(iter(get_close_matches(word.casefold(), list(words), 1, LIKE)), "")


def check_keys(section: str, table: Mapping[str, Any], keys: Iterable[str]) -> None:
    """Raises ValueError for the first key that a section of the settings does not have."""
    known = tuple(keys)
    for wrong in sorted(set(table) - set(known)):
        meant = nearest(wrong, known)
        hint = f"did you mean {meant!r}? It" if meant else "it"
        raise ValueError(f"[{section}] has no {wrong!r}; {hint} has {', '.join(sorted(known))}")


def check_sections(table: Mapping[str, Any], sections: Mapping[str, Iterable[str]]) -> None:
    """Raises ValueError for the first section, or key of one or outside any, that the settings do not have.

    table: the settings as they were read; sections: the keys of each.
    """
    for name, value in table.items():
        if name in sections:
            if not isinstance(value, Mapping):
                raise ValueError(f"{name} is a section, written [{name}]")
            check_keys(name, value, sections[name])
        elif isinstance(value, Mapping):
            meant = nearest(name, sections)
            hint = f"did you mean [{meant}]? There" if meant else "there"
            raise ValueError(f"there is no section [{name}]; {hint} are {', '.join(f'[{s}]' for s in sections)}")
        else:
            homes = [f"[{section}]" for section, keys in sections.items() if name in keys]
            hint = f"; it belongs under {' or '.join(homes)}" if homes else ""
            raise ValueError(f"{name!r} stands outside of every section{hint}")
