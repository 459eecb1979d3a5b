"""Where an evening's walk over the Moon may lead: themes with their stops, and the choice of one that is not worn out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from moondesk.drawing.style import AREA_KINDS
from moondesk.ideas.tonight import Tonight
from moondesk.notes.landing_sites import SITES, Site
from moondesk.notes.messages import Part, Term
from moondesk.notes.themes import RAY_SUN_DEG, ray_names
from moondesk.records import Feature
from moondesk.script.evening import changed_ground, has_edge
from moondesk.script.people import CENTURIES, Person, person_of
from moondesk.script.records import Episode
from moondesk.script.stops import Stop, stops_at
from moondesk.script.wordings import has

#: What every chart for beginners has (common practice).
FAMOUS = frozenset({"Plato", "Copernicus", "Tycho", "Clavius", "Kepler", "Aristarchus", "Gassendi", "Grimaldi", "Schickard", "Ptolemaeus", "Alphonsus",
                    "Arzachel", "Archimedes", "Eratosthenes", "Theophilus", "Langrenus", "Petavius", "Posidonius", "Aristoteles",
                    "Eudoxus", "Atlas", "Endymion", "Cleomedes", "Proclus", "Maurolycus", "Fracastorius", "Bullialdus", "Hevelius",
                    "Pythagoras", "Mare Crisium", "Mare Serenitatis", "Mare Tranquillitatis", "Mare Imbrium", "Mare Nectaris",
                    "Mare Fecunditatis", "Mare Humorum", "Mare Nubium", "Oceanus Procellarum", "Sinus Iridum", "Montes Apenninus",
                    "Montes Alpes", "Montes Caucasus", "Rupes Recta", "Rupes Altai", "Vallis Alpes"})  # fmt: skip
#: Stops at least and at most; episodes within which no theme comes again while another serves, a stop comes last.
LEAST, MOST, LATELY, TOLD = 3, 7, 9, 8
#: The edge of the light near the middle of the face, degrees west of it: the evening just past the half, with so much lit.
MIDDLE_DEG, MIDDLE_LIT = (4.5, 16.7), (0.5, 0.67)
#: The Sun over ground beside the edge, degrees; a great crater, km; hours within which the Sun goes down.
EDGE_DEG, GREAT_KM, SETTING_HOURS = (0.8, 13.0), 75.0, 34.0
#: Walks among people; what is left of the merit of one soon after another.
PEOPLE, SAME_KIND = ("nation", "trade", "century"), 0.6
#: Stops closer together than this, degrees of latitude, are chosen only where nothing else is left.
APART_DEG = 3.0
#: A sea is a stop from this share of it in the light; small waters from this.
SEA_SHARE = 0.3


@dataclass(frozen=True, kw_only=True)
class Walk:
    """A theme tonight. key: by which it is remembered; table: its opening words; stops: from north to south; merit: how
    well this evening serves it."""

    key: str
    table: str
    stops: tuple[Stop, ...]
    merit: float
    values: dict[str, Part] = field(default_factory=dict)
    sites: tuple[Site, ...] = ()


def is_middle(t: Tonight) -> bool:
    """The evening just past the half, on which the light has passed the middle of the face."""
    return t.waxing and MIDDLE_LIT[0] < t.lit <= MIDDLE_LIT[1] and MIDDLE_DEG[0] <= -t.edge_lon_deg <= MIDDLE_DEG[1]


def ground_of(episode: Episode) -> tuple[Stop, ...]:
    """Everything in the light tonight of which there is something to tell, the foremost first."""
    t = episode.about
    some = [g.feature for n, g in t.ground.items() if g.sun_deg > 0 and _is_worth(g.feature)]
    stops = stops_at(t, some)
    return tuple(sorted(stops, key=lambda s: (-fame_of(s.feature), s.name)))


def _is_worth(feature: Feature) -> bool:
    return has(f"about.{feature.name}") or (
        feature.kind == "crater" and feature.size_km >= 60 and person_of(feature.name) is not None
    )


def fame_of(feature: Feature) -> float:
    """How much one would miss it, 0..1: by what there is to tell, its size and how many lettered craters bear its name."""
    told = 0.35 if has(f"about.{feature.name}") else 0.0
    known = 0.25 if feature.name in FAMOUS else 0.0
    more = 0.1 if has(f"high.{feature.name}") or has(f"low.{feature.name}") else 0.0
    return told + known + more + 0.18 * min(feature.size_km / 150.0, 1.0) + 0.12 * min(feature.satellites / 25.0, 1.0)


def choose_walk(episode: Episode, ground: Sequence[Stop]) -> Walk | None:
    """The theme that serves best of those that were not had lately; None where the light offers no walk."""
    walks = find_walks(episode, ground)
    for span in range(LATELY, -1, -1):
        fresh = [w for w in walks if episode.told(f"walk:{w.key}", last=span) is None]
        if fresh:
            return max(fresh, key=lambda w: (w.merit * (SAME_KIND if _is_kind_worn(episode, w) else 1.0), w.key))
    return None


def _is_kind_worn(episode: Episode, walk: Walk) -> bool:
    """Whether a walk among people, whoever they were, was had a short while ago."""
    kind = walk.key.partition(" ")[0]
    return kind in PEOPLE and any(
        f.startswith(tuple(f"walk:{k} " for k in PEOPLE)) for t in episode.history[-3:] for f in t.facts
    )


def find_walks(episode: Episode, ground: Sequence[Stop]) -> tuple[Walk, ...]:
    """Every theme that the evening's light serves; ground: as `ground_of` gives it."""
    t = episode.about
    low = [s for s in ground if EDGE_DEG[0] <= s.sun_deg <= EDGE_DEG[1]]
    slanting = [s for s in ground if EDGE_DEG[0] <= s.sun_deg <= 40.0]
    found: list[Walk | None] = []
    if is_middle(t):
        middle = [s for s in ground if s.sun_deg <= 22.0 and s.feature.kind == "crater"]
        found.append(_walk(episode, "middle", "theme.middle", middle, 3.0))
    if has_edge(t):
        found.append(
            _walk(
                episode,
                "edge rise" if t.waxing else "edge set",
                f"theme.edge_{'rise' if t.waxing else 'set'}",
                low,
                0.9,
            )
        )
    if not t.waxing and has_edge(t):
        going = [s for s in ground if 1.0 < s.crossings.next_set <= SETTING_HOURS]
        found.append(_walk(episode, "setting", "theme.setting", going, 0.85))
    if episode.before is not None and t.waxing and (episode.day - episode.before.day).days <= 7:
        fresh = {f.name for f in changed_ground(episode.before.utc, t.when, t.place)[0]}
        new = [s for s in ground if s.name in fresh and episode.told(f"new:{s.name}", last=20) is None]
        found.append(_walk(episode, "new", "theme.new", new, 0.9))
    seas = [s for s in ground if s.feature.kind in ("sea", "ocean") and s.lit >= SEA_SHARE and s.feature.size_km >= 200]
    found.append(_walk(episode, "seas", "theme.seas", seas, 0.8))
    waters = [s for s in ground if s.feature.kind in AREA_KINDS and s.feature.kind not in ("sea", "ocean")]
    found.append(_walk(episode, "waters", "theme.waters", waters, 0.7))
    great = [s for s in slanting if s.feature.kind == "crater" and s.feature.size_km >= GREAT_KM]
    found.append(_walk(episode, "craters", "theme.craters", great, 0.8))
    heights = ("mountain range", "scarp", "valley", "mountain")
    found.append(_walk(episode, "ranges", "theme.ranges", [s for s in slanting if s.feature.kind in heights], 0.85))
    rays = [s for s in ground if s.name in {*ray_names(), "Langrenus", "Anaxagoras"} and s.sun_deg >= RAY_SUN_DEG]
    if t.lit >= 0.85:
        found.append(_walk(episode, "rays", "theme.rays", rays, 1.0))
    found.append(_landings(episode))
    found += _by_people(episode, [s for s in ground if s.sun_deg >= 2.0])
    return tuple(w for w in found if w is not None)


def _walk(
    episode: Episode, key: str, table: str, some: Iterable[Stop], base: float, values: dict[str, Part] | None = None
) -> Walk | None:
    stops = choose_stops(episode, some)
    if len(stops) < LEAST:
        return None
    worth = sum(_freshness(episode, s) * fame_of(s.feature) for s in stops) / len(stops)
    return Walk(key=key, table=table, stops=stops, values=values or {},
                merit=base * (0.4 + 0.6 * worth) * min(len(stops), 5) / 5)  # fmt: skip


def _freshness(episode: Episode, stop: Stop) -> float:
    return 0.25 if episode.told(f"stop:{stop.name}", last=TOLD) is not None else 1.0


def choose_stops(episode: Episode, some: Iterable[Stop], most: int = MOST) -> tuple[Stop, ...]:
    """The foremost that were not told lately, not too close to each other, from north to south."""
    left = sorted(some, key=lambda s: (-_freshness(episode, s) * fame_of(s.feature), s.name))
    chosen: list[Stop] = []
    for spare in (False, True):
        for stop in left:
            close = any(abs(stop.feature.lat_deg - c.feature.lat_deg) < APART_DEG for c in chosen)
            if len(chosen) < (LEAST if spare else most) and stop not in chosen and (spare or not close):
                chosen.append(stop)
    return tuple(sorted(chosen, key=lambda s: -s.feature.lat_deg))


def _landings(episode: Episode) -> Walk | None:
    """Landing places in the light, people's before machines'."""
    t = episode.about
    near = [s for s in SITES if s.region in t.ground]
    places = [
        Feature(name=s.mission, kind="landing site", lat_deg=s.lat_deg, lon_deg=s.lon_deg, size_km=0.0) for s in near
    ]
    found = [(site, stop) for site, stop in zip(near, stops_at(t, places), strict=True) if stop.sun_deg > 2.0]
    found.sort(key=lambda f: (_freshness(episode, f[1]) < 1.0, not f[0].crewed, f[0].day))
    chosen: list[tuple[Site, Stop]] = []
    for site, stop in found:
        if len(chosen) < 5 and all(abs(site.lat_deg - c.lat_deg) >= 1.5 for c, _ in chosen):
            chosen.append((site, stop))
    if len(chosen) < LEAST or not any(site.crewed for site, _ in chosen):
        return None
    chosen.sort(key=lambda f: -f[0].lat_deg)
    fresh = sum(_freshness(episode, s) for _, s in chosen) / len(chosen)
    return Walk(key="landings", table="theme.landings", stops=tuple(s for _, s in chosen), sites=tuple(s for s, _ in chosen),
                merit=0.75 * (0.4 + 0.5 * fresh) * len(chosen) / 5)  # fmt: skip


def _by_people(episode: Episode, ground: list[Stop]) -> list[Walk | None]:
    """People of one nation, one trade, one century, where these stand in the light."""
    people = {s.name: p for s in ground if (p := person_of(s.name)) is not None}
    found: list[Walk | None] = []
    kinds: tuple[tuple[str, Callable[[Person], str | int], float], ...] = (
        ("nation", lambda p: p.nation, 0.75), ("trade", lambda p: p.trade, 0.65), ("century", lambda p: p.century, 0.7))  # fmt: skip
    for kind, of, base in kinds:
        for word in sorted({of(p) for p in people.values()}, key=str):
            some = [s for s in ground if s.name in people and of(people[s.name]) == word]
            shared = CENTURIES[word] if isinstance(word, int) else Term(word)
            common = 0.85 if word == "astronomer" else 1.0  # it says little: most of them are
            found.append(_walk(episode, f"{kind} {word}", f"theme.{kind}", some, base * common, {"shared": shared}))
    return found
