"""The people behind names: only those whose facts stand in two sources, with nation, trade and century, and groups of
three that stand together in tonight's light."""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.ideas.groups import groups_in_light, twice_told
from moondesk.ideas.tonight import Tonight
from moondesk.notes.messages import Listed, Name, Number, Part, Term
from moondesk.notes.namesakes import Namesake, namesakes

#: Centuries as one says them; negative: before Christ.
CENTURIES: dict[int, Term] = {
    -7: Term("seventh century before Christ"), -6: Term("sixth century before Christ"), -5: Term("fifth century before Christ"),
    -4: Term("fourth century before Christ"), -3: Term("third century before Christ"), -2: Term("second century before Christ"),
    -1: Term("first century before Christ"), 1: Term("first century"), 2: Term("second century"), 3: Term("third century"),
    4: Term("fourth century"), 5: Term("fifth century"), 6: Term("sixth century"), 7: Term("seventh century"), 8: Term("eighth century"),
    9: Term("ninth century"), 10: Term("tenth century"), 11: Term("eleventh century"), 12: Term("twelfth century"),
    13: Term("thirteenth century"), 14: Term("fourteenth century"), 15: Term("fifteenth century"), 16: Term("sixteenth century"),
    17: Term("seventeenth century"), 18: Term("eighteenth century"), 19: Term("nineteenth century"), 20: Term("twentieth century"),
}  # fmt: skip
#: Of a birth or death alone: so many years from it somebody was at work.
AT_WORK = 40


@dataclass(frozen=True, kw_only=True)
class Person:
    """One namesake with all that is told. of: the feature; same: the feature bears the very name ("Plato")."""

    of: str
    who: Namesake
    nation: str
    trade: str
    century: int
    same: bool

    @property
    def table(self) -> str:
        return "person.same" if self.same else "person.named"

    @property
    def values(self) -> dict[str, Part]:
        return {"of": Name(self.of), "who": Name(self.who.name), "nation": Term(self.nation), "trade": Term(self.trade), "century": CENTURIES[self.century]}  # fmt: skip


def person_of(name: str) -> Person | None:
    """Who stands behind a feature's name, where that is one person of whom two sources agree."""
    people = namesakes(name)
    if name not in twice_told() or len(people) != 1:
        return None
    who = people[0]
    nations = [n for n in who.nations if not n.endswith("-born")]
    century = century_of(who)
    if len(nations) != 1 or not who.occupations or century not in CENTURIES:
        return None
    return Person(of=name, who=who, nation=nations[0], trade=who.occupations[0], century=century, same=who.name == name)


def century_of(who: Namesake) -> int:
    """The century in whose years somebody was at work: of the middle of the grown-up years; 0 where nobody knows."""
    if who.flourished is not None:
        year = who.flourished
    elif who.born is not None and who.died is not None:
        year = (who.born + 20 + who.died) // 2
    elif who.born is not None or who.died is not None:
        year = who.born + AT_WORK if who.born is not None else (who.died or 0) - AT_WORK // 2
    else:
        return 0
    return (year - 1) // 100 + 1 if year > 0 else -((-year - 1) // 100 + 1)


@dataclass(frozen=True)
class Three:
    """Three neighbours from north to south, and the wordings that are true of what they share."""

    names: tuple[str, ...]
    table: str
    values: dict[str, Part]


def threes(t: Tonight, passed: frozenset[str] = frozenset()) -> tuple[Three, ...]:
    """Groups in tonight's light, cut to three: the largest craters of each, from north to south."""
    found = []
    for group in groups_in_light(t):
        some = sorted((t.ground[n].feature for n in group.names if n not in passed), key=lambda f: -f.size_km)[:3]
        if len(some) < 3:
            continue
        some.sort(key=lambda f: -f.lat_deg)
        told = [twice_told()[f.name][0] for f in some]
        table = "people.trade" if group.shared == "occupation" else "people.old_nation" if max(told) < 0 else "people.nation"  # fmt: skip
        values: dict[str, Part] = {"names": Listed(tuple(Name(f.name) for f in some)), "shared": Term(group.word),
                                   "span": Number(max(told) - min(told))}  # fmt: skip
        found.append(Three(tuple(f.name for f in some), table, values))
    return tuple(found)
