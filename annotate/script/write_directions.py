"""Directions: north, east, the equator and the zero meridian, and where the edge of the light stands between them."""

from __future__ import annotations

from moondesk.moon.catalogue import named
from moondesk.notes.messages import Name, Number
from moondesk.script.evening import SIDES, has_edge, lead_cue, sun_over
from moondesk.script.records import Episode, Passage
from moondesk.script.wordings import ways_of

#: The edge is said to run close to the zero meridian up to this, degrees; the small crater that fixes it is pointed at with
#: the Sun so high over it.
ZERO_DEG, SPECK_SUN_DEG = 5.0, (1.5, 45.0)
#: Tied to the zero meridian by the control networks (M. E. Davies et al. 1987; B. A. Archinal et al. 2011).
SPECK = "Mösting A"


def write_directions(episode: Episode) -> tuple[Passage, ...]:
    t = episode.about
    said = [
        Passage(key="directions:north", must=True, ways=ways_of("directions.north" if episode.lead else "directions.north_bare", facts=("north",), cue=lead_cue(episode, "lines", is_first=True))),
        Passage(key="directions:east", worth=0.7, after="directions:north", ways=ways_of("directions.east", facts=("east",))),
    ]  # fmt: skip
    if has_edge(t):
        off = abs(t.edge_lon_deg)
        tail = "rise" if t.waxing else "set"
        if off <= ZERO_DEG:
            ways = ways_of(f"directions.edge_zero_{tail}", facts=(f"edge:{episode.day}",), degrees=Number(off, 1), side=SIDES[t.edge_lon_deg > 0])  # fmt: skip
        else:
            ways = ways_of(f"directions.edge_{tail}", facts=(f"edge:{episode.day}",), degrees=Number(off), side=SIDES[t.edge_lon_deg > 0])  # fmt: skip
        said.append(Passage(key="directions:edge", must=True, ways=ways))
    else:
        off = 180.0
        if t.eclipse in ("none", "penumbral"):
            said.append(
                Passage(
                    key="directions:no edge",
                    worth=0.6,
                    ways=ways_of("directions.no_edge", facts=(f"edge:{episode.day}",)),
                )
            )
    near = off <= 3 * ZERO_DEG
    said.append(
        Passage(key="directions:equator", worth=0.5, must=near, ways=ways_of("directions.equator", facts=("equator",)))
    )
    speck = named(SPECK)
    sun = sun_over(t, speck) if speck is not None else 0.0
    if speck is not None and near and SPECK_SUN_DEG[0] <= sun <= SPECK_SUN_DEG[1]:
        cue = lead_cue(episode, "light", speck.name)
        said.append(Passage(key="directions:speck", worth=0.9, must=True, ways=ways_of(
            "directions.mosting", facts=("zero:Mösting A",), cue=cue, name=Name(speck.name), km=Number(speck.size_km), sun=Number(sun, 2))))  # fmt: skip
    if episode.lead:
        said.append(Passage(key="directions:hang", worth=0.3, ways=ways_of("directions.hang", facts=("hang",))))
    return tuple(said)
