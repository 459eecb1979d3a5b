"""After whom a feature is named, in a sentence."""

from __future__ import annotations

from moondesk.notes.earth_places import PLACES
from moondesk.notes.messages import Listed, Message, Name, Term, say
from moondesk.notes.namesakes import Namesake, namesakes, no_person
from moondesk.records import Feature


def namesake_note(feature: Feature) -> Message | None:
    """After whom, with nation, occupation and years; nothing where the name is a neighbour's or only described."""
    people = namesakes(feature.name)
    if people:
        return say("It is named after {people}.", people=Listed(tuple(person_said(p) for p in people)))
    what = no_person(feature.name)
    if what == "a place on the Earth":
        place = PLACES.get(feature.name)
        return None if place is None else say("It is named after {place}.", place=Term(place))
    if what == "a myth or legend":
        return say("Its name comes from a myth or legend.")
    return None


def person_said(person: Namesake) -> Message:
    """A person with years, nation and occupation, as a clause."""
    who, trade = Name(person.name), Listed(tuple(Term(o) for o in person.occupations)) if person.occupations else None
    nations = [n for n in person.nations if not n.endswith("-born")]
    origin = next((n for n in person.nations if n.endswith("-born")), None)
    years, nation = _years(person), Listed(tuple(Term(n) for n in nations)) if nations else None
    if trade is None or nation is None:
        return say("{who}", who=who)
    if years is None:
        return say("{who} ({nation} {occupations})", who=who, nation=nation, occupations=trade)
    if origin is not None:
        return say("{who} ({origin} {nation} {occupations}, {years})", who=who, origin=Term(origin), nation=nation,
                   occupations=trade, years=years)  # fmt: skip
    return say("{who} ({nation} {occupations}, {years})", who=who, nation=nation, occupations=trade, years=years)


def _years(person: Namesake) -> Message | None:
    born, died, flourished = person.born, person.died, person.flourished
    if born is not None and died is not None:
        # of two years before Christ the second alone says so
        first = abs(born) if died < 0 else born
        return say("{born} to {died}", born=_year(first, "b" in person.about), died=_year(died, "d" in person.about))
    if born is not None:
        return say("born {year}", year=_year(born, "b" in person.about))
    if died is not None:
        return say("died {year}", year=_year(died, "d" in person.about))
    return None if flourished is None else say("lived {year}", year=_year(flourished, True))


def _year(year: int, about: bool) -> Message:
    if year < 0:
        return say("about {year} BC", year=-year) if about else say("{year} BC", year=-year)
    return say("about {year}", year=year) if about else say("{year}", year=year)
