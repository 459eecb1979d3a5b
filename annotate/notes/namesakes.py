"""After whom features are named, as facts that can be asked for: `data/namesakes.csv`, made by
tests/builders/build_namesakes.py from the origins in the IAU/USGS gazetteer.

    namesakes("Herschel") -> (Person(William Herschel, 1738-1822, British, astronomer),)
    features_of(occupation="explorer") -> names of the features that bear an explorer's name
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources

from moondesk.moon.catalogue import all_features

#: Somebody counts as of a century from this age on; of an unknown birth or death this many years before or after.
GROWN_UP, LIFE = 20, 50


@dataclass(frozen=True, kw_only=True)
class Namesake:
    """One namesake. Years before Christ are negative (-383 is 383 BC); None where unknown; about: which of "b" (born),
    "d" (died), "f" (flourished) are not exact. A nation may be "German-born", then the next is what they became."""

    given: str
    surname: str
    nations: tuple[str, ...]
    occupations: tuple[str, ...]
    born: int | None
    died: int | None
    flourished: int | None
    about: str = ""

    @property
    def name(self) -> str:
        return f"{self.given} {self.surname}".strip()

    def lived_in(self, century: int) -> bool:
        """Whether they lived in a century as a grown-up; 17: 1601 to 1700, -4: 400 to 301 BC. ValueError for 0."""
        if century == 0:
            raise ValueError("there is no century 0")
        first, last = (100 * century - 99, 100 * century) if century > 0 else (100 * century, 100 * century + 99)
        if self.flourished is not None:
            return first <= self.flourished <= last
        start = self.born + GROWN_UP if self.born is not None else None
        end = self.died
        if start is None and end is None:
            return False
        start = end - LIFE if start is None and end is not None else start
        end = start + LIFE if end is None and start is not None else end
        return start is not None and end is not None and start <= last and end >= first


@cache
def _table() -> tuple[dict[str, tuple[Namesake, ...]], dict[str, str]]:
    text = (resources.files("moondesk.notes") / "data" / "namesakes.csv").read_text(encoding="utf-8")
    people: dict[str, list[Namesake]] = {}
    others: dict[str, str] = {}
    for row in csv.DictReader(line for line in text.splitlines() if not line.startswith("#")):
        if row["what"]:
            others[row["name"]] = row["what"]
            continue
        born, died, flourished = (int(row[key]) if row[key] else None for key in ("born", "died", "flourished"))
        people.setdefault(row["name"], []).append(Namesake(
            given=row["given"], surname=row["surname"], nations=_split(row["nations"]), occupations=_split(row["occupations"]), born=born, died=died, flourished=flourished,
            about=row["about"]))  # fmt: skip
    return {name: tuple(found) for name, found in people.items()}, others


def _split(text: str) -> tuple[str, ...]:
    return tuple(text.split(";")) if text else ()


def namesakes(name: str) -> tuple[Namesake, ...]:
    """The people after whom a feature of that exact name is named; none for lettered ones and names that are no
    person's."""
    return _table()[0].get(name, ())


def no_person(name: str) -> str:
    """What a name is that is no person's ("first name", "a myth or legend", ...); "" for a person's or an unknown one."""
    return _table()[1].get(name, "")


def features_of(
    occupation: str | None = None,
    nation: str | None = None,
    century: int | None = None,
    among: Iterable[str] | None = None,
) -> tuple[str, ...]:
    """Names of the features one of whose namesakes is of all that is asked for, in the catalogue's order.

    nation: an adjective ("French"); those born there are found by it too. among: only of these names.
    """
    wanted = set(among) if among is not None else None
    return tuple(f.name for f in all_features()
                 if f.parent is None and (wanted is None or f.name in wanted)
                 and any(fits(p, occupation, nation, century) for p in namesakes(f.name)))  # fmt: skip


def fits(person: Namesake, occupation: str | None, nation: str | None, century: int | None) -> bool:
    """Whether somebody is of all that is asked for; None asks for nothing."""
    return ((occupation is None or occupation in person.occupations)
            and (nation is None or nation in person.nations or f"{nation}-born" in person.nations)
            and (century is None or person.lived_in(century)))  # fmt: skip


@cache
def occupations() -> tuple[str, ...]:
    """Every occupation of the table, the commonest first."""
    return _commonest(o for found in _table()[0].values() for p in found for o in p.occupations)


@cache
def nations() -> tuple[str, ...]:
    """Every nation of the table, the commonest first."""
    return _commonest(n for found in _table()[0].values() for p in found for n in p.nations if not n.endswith("-born"))


def _commonest(words: Iterable[str]) -> tuple[str, ...]:
    count: dict[str, int] = {}
    for word in words:
        count[word] = count.get(word, 0) + 1
    return tuple(sorted(count, key=lambda w: (-count[w], w)))
