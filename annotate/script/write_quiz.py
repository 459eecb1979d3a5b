"""A quiz for evenings without a Moon: about the ground that earlier episodes pointed at, else about what every chart has."""

from __future__ import annotations

import zlib
from dataclasses import replace
from itertools import pairwise

from moondesk.moon.catalogue import all_features
from moondesk.notes.messages import Listed, Name, Number, Part
from moondesk.records import Feature
from moondesk.script.evening import SIDES, shape_of
from moondesk.script.people import person_of
from moondesk.script.records import Episode, Passage
from moondesk.script.walks import FAMOUS
from moondesk.script.wordings import ways_of

#: Craters that are asked about: as many as this, else the well-known ones are taken; questions of a kind.
LEAST, EACH = 9, 5
#: Questions on an evening without a Moon, with a slim or a full one, and on others.
MOST, FEW = 11, 6
#: Widths that a viewer can tell apart, as a ratio; degrees of latitude by which one lies further north.
WIDER, NORTHER_DEG = 1.25, 5.0
#: Nearer to the middle line than this, degrees, nobody says east or west.
SIDE_DEG = 15.0
#: Names that are words of the questions.
WORDS = ("South",)
#: Episodes in which no question comes twice.
ASKED = 12


def write_quiz(episode: Episode, worth: float = 0.45) -> tuple[Passage, ...]:
    seen = {name for told in episode.history[-30:] for name in told.shown}
    craters = [f for f in all_features() if f.parent is None and f.kind == "crater" and f.size_km >= 40]
    known = [f for f in craters if f.name in seen and f.name not in WORDS]
    if len(known) < LEAST:
        known = [f for f in craters if f.name in FAMOUS]
    # another order every evening, the same each time
    known.sort(key=lambda f: (episode.told(f"quiz:{f.name}", last=ASKED) is not None, zlib.crc32(f"{episode.day}{f.name}".encode())))  # fmt: skip
    asked: list[Passage] = []
    used: set[str] = set()

    def ask(table: str, feature: Feature, **values: Part) -> None:
        used.add(feature.name)
        asked.append(Passage(key=f"quiz:{table} {feature.name}", worth=worth, after="quiz:begin", ways=ways_of(
            f"quiz.{table}", facts=(f"quiz:{feature.name}",), name=Name(feature.name), of=Name(feature.name), values=values)))  # fmt: skip

    for f in known:
        person = person_of(f.name)
        if person is not None and len([p for p in asked if "person" in p.key]) < EACH:
            is_given_away = f.name.casefold() in person.who.name.casefold()
            ask("person" if is_given_away or len(asked) % 2 else "person_who", f, **person.values)
    rest = [f for f in known if f.name not in used]
    for one, other in pairwise(rest[: 2 * EACH]):
        large, small = (one, other) if one.size_km > other.size_km else (other, one)
        if large.size_km >= WIDER * small.size_km and not {large.name, small.name} & used:
            ask("wider", large, other=Name(small.name), km=Number(large.size_km))
            used.add(small.name)
    rest = [f for f in known if f.name not in used]
    for k in range(0, min(len(rest), 3 * EACH) - 2, 3):
        three = sorted(rest[k : k + 3], key=lambda f: -f.lat_deg)
        if three[0].lat_deg - three[1].lat_deg >= NORTHER_DEG:
            ask("north", three[0], choices=Listed(tuple(Name(f.name) for f in rest[k : k + 3])))
            used.update(f.name for f in three)
    for f in [f for f in known if f.name not in used and abs(f.lon_deg) >= SIDE_DEG][:EACH]:
        ask("side", f, side=SIDES[f.lon_deg > 0])
    if not asked:
        return ()
    asked = sorted(asked, key=lambda p: zlib.crc32(p.key.encode()))[
        : MOST if shape_of(episode.about) in ("new", "thin", "full") else FEW
    ]
    first, *others = asked
    begin = ways_of("quiz.begin_dark" if shape_of(episode.about) == "new" else "quiz.begin")
    ways = tuple((*b, *begin_on) for b in begin for begin_on in first.ways)
    return (replace(first, key="quiz:begin", after="", ways=ways), *others)
