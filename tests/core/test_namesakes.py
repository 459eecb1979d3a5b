"""After whom features are named: facts that anybody can look up (from memory where no source is named), and queries."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

from moondesk.moon.catalogue import all_features
from moondesk.notes.messages import in_english
from moondesk.notes.namesake_sentences import namesake_note, person_said
from moondesk.notes.namesakes import features_of, namesakes, nations, no_person, occupations

BUILDERS = Path(__file__).resolve().parents[1] / "builders"


def test_three_herschels_are_three_people() -> None:
    given = [namesakes(name)[0].given.split()[0] for name in ("Herschel", "J. Herschel", "C. Herschel")]
    assert given == ["William", "John", "Caroline"]
    assert all(namesakes(name)[0].surname == "Herschel" for name in ("Herschel", "J. Herschel", "C. Herschel"))


@pytest.mark.parametrize(("name", "given", "born", "died", "occupation"), [
    ("Tycho", "Tycho", 1546, 1601, "astronomer"), ("Copernicus", "Nicholas", 1473, 1543, "astronomer"),
    ("Mons Huygens", "Christiaan", 1629, 1695, "physicist"), ("Cook", "James", 1728, 1779, "explorer"),
    ("Amundsen", "Roald", 1872, 1928, "explorer"), ("Einstein", "Albert", 1879, 1955, "physicist"),
    ("Kovalevskaya", "Sofya", 1850, 1891, "mathematician"),
])  # fmt: skip
def test_well_known_people(name: str, given: str, born: int, died: int, occupation: str) -> None:
    person = namesakes(name)[0]
    assert (person.given.split()[0], person.born, person.died) == (given, born, died)
    assert occupation in person.occupations


def test_years_before_christ_are_negative_and_centuries_follow() -> None:
    plato = namesakes("Plato")[0]
    assert plato.born is not None
    assert plato.died is not None
    assert -430 < plato.born < plato.died < -345
    assert plato.lived_in(-4)
    assert not plato.lived_in(4)
    assert namesakes("Kepler")[0].lived_in(17)
    assert not namesakes("Kepler")[0].lived_in(18)  # 1571 to 1630
    with pytest.raises(ValueError, match="century"):
        plato.lived_in(0)


def test_which_explorers_there_are() -> None:
    explorers = set(features_of(occupation="explorer"))
    assert {"Amundsen", "Cook", "Colombo", "Magelhaens", "Peary", "Shackleton", "Vasco da Gama"} <= explorers
    assert not {"Tycho", "Plato", "Einstein"} & explorers
    assert features_of(occupation="explorer", among=("Cook", "Tycho")) == ("Cook",)


def test_queries_by_nation_century_and_two_at_once() -> None:
    assert "Tycho" in features_of(nation="Danish")
    assert "Herschel" in features_of(nation="German")  # born there
    assert "Herschel" in features_of(nation="British")
    assert "Archimedes" in features_of(century=-3)
    assert features_of(occupation="astronomer", nation="Danish", century=16, among=("Tycho", "Kepler", "Römer")) == (
        "Tycho",
    )
    assert occupations()[0] == "astronomer"
    assert {"German", "American", "French"} <= set(nations()[:5])


@pytest.mark.parametrize(
    ("name", "said"),
    [
        # Sources stand beside each in tests/builders/namesakes_corrected.py; here what would be read aloud.
        ("Aristoteles", "Aristoteles (Greek philosopher, 384 to 322 BC)"),
        ("Theophilus", "Saint Theophilus of Alexandria (Egyptian bishop, died 412)"),
        ("Alexander", "Alexander the Great (Macedonian ruler, 356 to 323 BC)"),
        ("Manilius", "Marcus Manilius (Roman writer, lived about 10)"),
        ("Almanon", "al-Ma'mun (Arab ruler, 786 to 833)"),
        ("Dionysius", "Saint Dionysius the Areopagite (Greek bishop, lived about 50)"),
        ("Hagecius", "Tadeáš Hájek (Czech physician and astronomer, 1525 to 1600)"),
        ("Schiller", "Julius Schiller (German jurist and cartographer, about 1580 to 1627)"),
        ("Ansgarius", "Saint Ansgar (Frankish bishop, 801 to 865)"),
        ("Thebit", "Thābit Ibn Qurra (Mesopotamian astronomer and mathematician, 836 to 901)"),
        ("Langrenus", "Michael Florent van Langren (Flemish selenographer and engineer, 1598 to 1675)"),
        ("Mercator", "Gerard Mercator (Flemish cartographer, geographer and mathematician, 1512 to 1594)"),
        ("Stevinus", "Simon Stevin (Flemish mathematician and physicist, 1548 to 1620)"),
        ("Cleomedes", "Cleomedes (Greek astronomer)"),
        ("Hippalus", "Hippalus (Greek navigator)"),
        ("Cyrillus", "Saint Cyril of Alexandria (Egyptian bishop, about 376 to 444)"),
        ("Fabricius", "David Fabricius (German astronomer, 1564 to 1617)"),
        ("Vieta", "François Viète (French mathematician, 1540 to 1603)"),
        ("Gutenberg", "Johannes Gutenberg (German inventor, about 1400 to 1468)"),
        ("Ptolemaeus", "Claudius Ptolemy (Greek astronomer, mathematician and geographer, about 100 to about 170)"),
        ("Eratosthenes", "Eratosthenes (Greek astronomer and geographer, about 276 to about 194 BC)"),
    ],
)
def test_what_the_gazetteer_has_wrong_is_put_right(name: str, said: str) -> None:
    (person,) = namesakes(name)
    assert in_english(person_said(person)) == said


def test_a_crater_of_two_people_has_both() -> None:
    assert [p.given.split()[0] for p in namesakes("Compton")] == ["Arthur", "Karl"]
    said = namesake_note(next(f for f in all_features() if f.name == "Pickering"))
    assert said is not None
    text = in_english(said)
    assert "Edward Charles Pickering" in text
    assert "and William" in text


def test_what_is_no_person_says_what_it_is() -> None:
    assert no_person("Atlas") == "a myth or legend"
    assert no_person("Montes Apenninus") == "a place on the Earth"
    assert no_person("Rima Hadley") == "a neighbour's name"
    assert no_person("Ann") == "first name"
    assert no_person("Tycho") == ""
    assert namesakes("Atlas") == namesakes("Copernicus A") == ()


def test_every_named_crater_of_the_near_side_has_whole_facts() -> None:
    """Of 15 km and more; the figure is printed (pytest -s). What each fact must be is checked above and by eye."""
    near = [f for f in all_features()
            if f.kind == "crater" and f.parent is None and f.size_km >= 15 and abs(f.lon_deg) <= 90]  # fmt: skip
    whole = [f.name for f in near if no_person(f.name) or (namesakes(f.name) and all(
        p.surname and p.nations and p.occupations and (p.born, p.died, p.flourished) != (None, None, None)
        for p in namesakes(f.name)))]  # fmt: skip
    print(f"\nwhole facts: {len(whole)} of {len(near)} craters of the near side")
    assert len(whole) >= 0.99 * len(near) > 600


def test_lives_are_of_human_length() -> None:
    for f in all_features():
        for p in namesakes(f.name):
            if p.born is not None and p.died is not None:
                assert 20 <= p.died - p.born <= 105, p


@pytest.mark.parametrize(("origin", "given", "surname", "nations", "born", "died", "flourished", "about"), [
    ("Bienewitz, Peter; German mathematician, astronomer (1495-1552).", "Peter", "Bienewitz", ["German"], 1495, 1552,
     None, ""),
    ("Otto von; German physicist (1602-1686).", "Otto", "von Probe", ["German"], 1602, 1686, None, ""),
    ("Greek astronomer (c. 408-355 B.C.).", "", "Probe", ["Greek"], -408, -355, None, "b"),
    ("Greek astronomer (unkn-fl. 140 B.C.).", "", "Probe", ["Greek"], None, None, -140, "f"),
    ("Jean; Swiss-born British physician (1801-Live).", "Jean", "Probe", ["Swiss-born", "British"], 1801, None, None,
     ""),
    ("Roman philosopher (4 B.C.-A.D. 65).", "", "Probe", ["Roman"], -4, 65, None, ""),
])  # fmt: skip
def test_the_builder_reads_origins(origin, given, surname, nations, born, died, flourished, about) -> None:
    """Sentences of the gazetteer's form, some of them made up."""
    sys.path.insert(0, str(BUILDERS))
    try:
        spec = importlib.util.spec_from_file_location("build_namesakes", BUILDERS / "build_namesakes.py")
        assert spec is not None
        assert spec.loader is not None
        builder = importlib.util.module_from_spec(spec)
        sys.modules[spec.name] = builder  # dataclasses look their module up
        spec.loader.exec_module(builder)
    finally:
        sys.path.remove(str(BUILDERS))
    (row,) = builder.people_of("Probe", origin)
    assert (row.given, row.surname, row.nations, row.born, row.died, row.flourished, row.about) == (
        given,
        surname,
        nations,
        born,
        died,
        flourished,
        about,
    )
    assert row.complete
