"""A walk over the Moon from north to south along the evening's theme: each stop with its size, its light, its own nature,
its person, its neighbour. What lately was told comes last, and is told as known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field

from moondesk.ideas.tonight import Tonight
from moondesk.moon.catalogue import all_features, named
from moondesk.notes.feature_notes import LONG_CRATERS, fraction
from moondesk.notes.landing_sites import Site
from moondesk.notes.messages import Listed, Name, Number, Part, Term
from moondesk.notes.moon_notes import light_at
from moondesk.notes.ranks import ORDINALS, rank_of
from moondesk.notes.sunlit_ground import sunlit_share
from moondesk.records import Feature
from moondesk.script.evening import changed_ground, lead_cue, likened, sun_over
from moondesk.script.people import person_of, threes
from moondesk.script.records import Cue, Episode, Line, Passage
from moondesk.script.stops import (
    SORTS,
    Stop,
    called,
    called_first,
    clause_where,
    fitting,
    fresh_ways,
    ground_of_name,
    is_dark,
    light_of,
    names_of,
    neighbour_of,
    size_table,
    sort_of,
    spoken_km,
)
from moondesk.script.walks import PEOPLE, TOLD, Walk, choose_stops, choose_walk, fame_of, ground_of
from moondesk.script.wordings import has, ways_of

#: Of so many stops it is told how far their size would reach at home.
LIKENED = 3
#: A rank is told up to this one.
LAST_RANK = 5
#: Stops of a second round, and how large these are, km.
ENCORE, ENCORE_KM = 9, 40.0
#: Further off to the side than this, degrees of longitude, nobody calls it "further south".
SIDEWAYS_DEG = 30.0
#: What a stop is worth by its place among all: few with something to tell rather than many in haste.
WORTHS = (0.95, 0.85, 0.75, 0.5, 0.42, 0.35, 0.3)
#: Ways to say a stop with its light, at most.
WAYS = 90
#: Ranges round the Sea of Rains, from the north: the Sun over their middle at least this high, degrees.
RANGES, RANGE_SUN_DEG = ("Montes Jura", "Montes Alpes", "Montes Caucasus", "Montes Apenninus", "Montes Carpatus"), 1.0
#: A sea is newly seen where at most this share of it had light the evening before; much of it is new from this gain.
NEW_SEA, GAIN_SEA = 0.12, 0.2
#: The two giants are shown with at least this share of their ground in the light.
LIT_GIANT = 0.2

Way = tuple[Line, ...]


def write_tour(episode: Episode) -> tuple[Passage, ...]:
    if episode.about.eclipse in ("partial", "total"):
        return ()  # what is dark then is not the Moon's night
    ground = ground_of(episode)
    walk = choose_walk(episode, ground)
    if walk is None:
        return ()
    intro = Passage(key="tour:theme", must=True, worth=1.0, ways=ways_of(walk.table, facts=(f"walk:{walk.key}",), cue=lead_cue(
        episode, "turned", is_first=True), values=walk.values))  # fmt: skip
    ways = {f.removeprefix("way:") for t in episode.history[-TOLD:] for f in t.facts if f.startswith("way:")}
    guide = _Guide(episode, walk, ground, ways)
    said = guide.middle() if walk.key == "middle" else guide.stops()
    passed = {
        f.partition(":")[2] for p in said for f in p.ways[0][0].facts if f.startswith(("stop:", "people:", "near:"))
    }
    return (intro, *said, *guide.encore(passed))


def _is_further_south(one: Feature, other: Feature) -> bool:
    """Whether one comes to the other by going south, and not across."""
    return one.lat_deg - other.lat_deg >= 2.0 and abs(one.lon_deg - other.lon_deg) <= SIDEWAYS_DEG


@dataclass(frozen=True)
class _Piece:
    """Passages about one part of the Moon. lat_deg: where it lies; names: of what it speaks."""

    lat_deg: float
    names: frozenset[str]
    passages: tuple[Passage, ...]


@dataclass(frozen=True)
class _Guide:
    """Says a walk, stop by stop. ground: all that is in the light tonight."""

    episode: Episode
    walk: Walk
    ground: tuple[Stop, ...]
    #: Ways on the Earth that have been named, in the last episodes or here.
    ways: set[str] = field(default_factory=set)
    #: Stops of whose light so much was told of each sort.
    told: Counter[str] = field(default_factory=Counter)

    def stops(self) -> list[Passage]:
        stops = self.walk.stops
        ranked = sorted(stops, key=lambda s: (-self._merit(s), s.name))
        passed = frozenset(s.name for s in stops)
        said: list[Passage] = []
        for n, stop in enumerate(stops):
            rank = ranked.index(stop)
            before = stops[n - 1].feature if n else None
            said += self.stop(stop, before, passed, worth=WORTHS[min(rank, len(WORTHS) - 1)], home=rank < LIKENED)
        return said + _three(self.episode, passed)

    def middle(self) -> list[Passage]:
        """The evening just past the half: what the trade's custom is to show on it, each only where the light has it."""
        found = (_imbrium(self.episode), _greeks(self.episode), _nubium(self.episode), _giants(self.episode))
        pieces = [p for p in found if p is not None]
        passed = frozenset(n for p in pieces for n in p.names)
        stops = choose_stops(self.episode, [s for s in self.walk.stops if s.name not in passed], 4)
        passed |= {s.name for s in stops}
        for n, stop in enumerate(stops):
            north = [p for p in pieces if p.lat_deg > stop.feature.lat_deg]
            before = stops[n - 1].feature if n else stop.feature if north else None
            said = self.stop(stop, before, passed, worth=0.8 - 0.1 * n, home=n == 0)
            pieces.append(_Piece(stop.feature.lat_deg, frozenset({stop.name}), tuple(said)))
        return [p for piece in sorted(pieces, key=lambda p: -p.lat_deg) for p in piece.passages]

    def encore(self, passed: Collection[str]) -> list[Passage]:
        """Other ground in the light, for time that is left: of little worth."""
        some = [s for s in self.ground if s.name not in passed and s.feature.size_km >= ENCORE_KM]
        stops = choose_stops(self.episode, some, ENCORE)
        if len(stops) < 2:
            return []
        said = [Passage(key="tour:encore", worth=0.2, after="tour:theme", ways=ways_of("theme.encore", cue=lead_cue(self.episode, "turned")))]  # fmt: skip
        both = frozenset({*passed, *(s.name for s in stops)})
        for n, stop in enumerate(stops):  # whichever of them there is time for: none comes "further south" than another
            said += self.stop(stop, stop.feature, both, worth=0.36 - 0.02 * n, home=n % 3 == 0, after="tour:encore")
        return said

    def _merit(self, stop: Stop) -> float:
        told = self.episode.told(f"stop:{stop.name}", last=TOLD) is not None
        return fame_of(stop.feature) * (0.25 if told else 1.0)

    def stop(
        self,
        stop: Stop,
        before: Feature | None,
        passed: frozenset[str],
        worth: float,
        home: bool,
        after: str = "tour:theme",
    ) -> list[Passage]:
        """All that can be said at a stop: its opening with the light, then what needs it, each in a passage of its own.
        before: the stop north of it, None for the first; home: whether its size is compared with a way at home."""
        episode, feature, key = self.episode, stop.feature, f"tour:{stop.name}"
        first, south = before is None, before is not None and _is_further_south(before, feature)
        site = next((s for s in self.walk.sites if s.mission == stop.name), None)
        opening = (_landing(episode, stop, site, south) if site is not None
                   else fitting(feature, _opening(episode, stop, south, self.ways if home else None)))  # fmt: skip
        tables, values = light_of(stop, episode.about)
        tables = self._in_turn(tables, values)
        light = fitting(feature, ways_of(*tables, facts=(f"light:{stop.name}:{episode.day}",), values=values))
        # of the second round nobody is of the walk's kind
        kind = self.walk.key.partition(" ")[0] if after == "tour:theme" else ""
        person = _person(episode, stop, kind)
        second, later, last = light, person, "person"
        if person and kind in PEOPLE:
            second, later, last = person, light, "light"
        said = [Passage(key=key, must=first, worth=worth, after=after, ways=_joined(key, opening, second))]

        def add(what: str, ways: tuple[Way, ...], part: float) -> None:
            if ways:
                said.append(Passage(key=f"{key}:{what}", worth=part * worth, after=key, ways=ways))

        if self.walk.key != "new" and not _is_promised(episode, feature):  # which says as much
            add("new", _new(episode, stop), 0.45)
        own = ground_of_name(stop) if site is None else ()
        if self.walk.key == "rays":  # their rays, where there is something of them to tell
            own = tuple(k for k in own if k.startswith("high.")) or own
        add("about", fresh_ways(episode, ways_of(*own, facts=(f"about:{stop.name}",), cue=lead_cue(episode, "close", stop.name))), 0.75)  # fmt: skip
        add("rank", _rank(episode, stop), 0.5)
        add(last, later, 0.34)
        add("near", self._neighbour(stop, passed), 0.22)
        return said

    def _in_turn(self, tables: tuple[str, ...], values: dict[str, Part]) -> tuple[str, ...]:
        """Of what is true of a stop's light that which was told of the fewest before it: no two stops in a row of one thing."""
        shadow = f"shadow {values['times']}" if "times" in values else ""
        sorts = sorted({sort_of(t) for t in tables if sort_of(t) != "shadow" or not self.told[shadow]}, key=lambda s: (self.told[s], SORTS.index(s)))  # fmt: skip
        if not sorts:
            return ()
        self.told[sorts[0]] += 1
        self.told[shadow] += sorts[0] == "shadow"
        return tuple(t for t in tables if sort_of(t) == sorts[0])

    def _neighbour(self, stop: Stop, passed: frozenset[str]) -> tuple[Way, ...]:
        around = [s for s in self.ground if s.name not in passed]
        found = neighbour_of(stop, around) if stop.feature.kind == "crater" else None
        if found is None or self.episode.told(f"beside:{stop.name}", last=TOLD) is not None:
            return ()
        other, side = found
        values = names_of(stop.feature) | {"side": side, "other": called(other.feature), "other_start": called_first(other.feature)}  # fmt: skip
        return ways_of("near.beside", facts=(f"beside:{stop.name}", f"near:{other.name}"), cue=lead_cue(self.episode, "light", other.name), values=values)  # fmt: skip


def _joined(key: str, openings: tuple[Way, ...], seconds: tuple[Way, ...]) -> tuple[Way, ...]:
    """Each opening with several second sentences, another first one for each place: no two stops sound alike."""
    if not seconds:
        return openings
    start = sum(ord(c) for c in key)
    each = max(1, WAYS // max(1, len(openings)))
    return tuple(
        (*one, *seconds[(start + 3 * n + k) % len(seconds)])
        for n, one in enumerate(openings)
        for k in range(min(each, len(seconds)))
    )


def _opening(episode: Episode, stop: Stop, south: bool, told: set[str] | None) -> tuple[Way, ...]:
    """told: ways on the Earth that were named already, None where the size is compared with none."""
    feature, t = stop.feature, episode.about
    cue = lead_cue(episode, "light", feature.name)
    facts: tuple[str, ...] = (f"stop:{feature.name}",)
    values = names_of(feature)
    last = episode.history[-1] if episode.history else None
    yesterday = last.facts if last is not None and (episode.day - last.day).days == 1 else frozenset()
    if episode.told(facts[0], last=TOLD) is not None:
        return ways_of(f"stop.known{'_yesterday' if facts[0] in yesterday else ''}", facts=facts, cue=cue, values=values)  # fmt: skip
    if _is_promised(episode, feature):
        return ways_of("stop.promised", facts=facts, cue=cue, values=values)
    table = size_table(feature)
    if not table or not feature.size_km or episode.told(f"size:{feature.name}", last=TOLD) is not None:
        return ways_of("stop.plain", facts=facts, cue=cue, values=values)
    values |= {"km": spoken_km(feature.size_km), "listed": Number(feature.size_km, 2)}
    pair = likened(feature.size_km, t.place, told) if told is not None and table != "mountain" else None
    if pair is not None and told is not None:
        told.add(" ".join(pair))
        facts = (*facts, f"way:{pair[0]} {pair[1]}")
        table += "_known"
        values |= {"here": Term(pair[0]), "there": Term(pair[1])}
    tables = [f"stop.{table}_on"] if south and has(f"stop.{table}_on") else []
    tables.append(f"stop.{table}")
    return ways_of(*tables, facts=(*facts, f"size:{feature.name}"), cue=cue, values=values)


def _is_promised(episode: Episode, feature: Feature) -> bool:
    """Whether yesterday's episode announced it as what tonight's light reaches."""
    last = episode.history[-1] if episode.history else None
    is_yesterday = last is not None and (episode.day - last.day).days == 1
    return episode.about.waxing and is_yesterday and f"next:{feature.name}" in last.facts  # type: ignore[union-attr]


def _landing(episode: Episode, stop: Stop, site: Site, south: bool) -> tuple[Way, ...]:
    region = named(site.region)
    assert region is not None  # asked when the walk was made
    kind = "crew" if site.crewed else "craft"
    tables = [f"landing.{kind}_on", f"landing.{kind}"] if south else [f"landing.{kind}"]
    values: dict[str, Part] = {"place": clause_where(region, site.inside), "mission": Name(site.mission), "year": site.day.year}  # fmt: skip
    return ways_of(*tables, facts=(f"stop:{stop.name}",), cue=lead_cue(episode, "light", region.name), values=values)


def _new(episode: Episode, stop: Stop) -> tuple[Way, ...]:
    """That all of it was dark on the evening before."""
    before = episode.before
    if before is None or not episode.about.waxing or not 1 <= (episode.day - before.day).days <= 7:
        return ()
    fresh = {f.name for f in changed_ground(before.utc, episode.about.when, episode.about.place)[0]}
    return ways_of("stop.new", facts=(f"new:{stop.name}",)) if stop.name in fresh else ()


def _rank(episode: Episode, stop: Stop) -> tuple[Way, ...]:
    feature = stop.feature
    rank = rank_of(feature.name) if feature.kind == "crater" and feature.name not in LONG_CRATERS else None
    if rank is None or rank > LAST_RANK or episode.told(f"rank:{feature.name}", last=TOLD) is not None:
        return ()
    return ways_of("rank.first" if rank == 1 else "rank.further", facts=(f"rank:{feature.name}",), ordinal=Term(ORDINALS[rank]), rank=rank)  # fmt: skip


def _person(episode: Episode, stop: Stop, walk: str) -> tuple[Way, ...]:
    """On a walk among people what all of them share is said once, at its beginning."""
    person = person_of(stop.name) if stop.feature.kind == "crater" else None
    if person is None or episode.told(f"people:{stop.name}", last=TOLD) is not None:
        return ()
    table = f"{person.table}_{walk}" if walk in PEOPLE else person.table
    return ways_of(table, facts=(f"people:{stop.name}",), cue=lead_cue(episode, "name", stop.name), values=person.values)  # fmt: skip


def _three(episode: Episode, passed: frozenset[str]) -> list[Passage]:
    """Three people who stand together: once, where the walk does not pass them anyway."""
    found = [g for g in threes(episode.about) if not passed & set(g.names)
             and episode.told(f"group:{g.names[0]}", last=20) is None]  # fmt: skip
    found.sort(key=lambda g: (g.table == "people.trade", g.names))
    return [Passage(key="tour:three", worth=0.5, after="tour:theme", ways=ways_of(
        g.table, facts=(f"group:{g.names[0]}", *(f"people:{n}" for n in g.names)), cue=lead_cue(episode, "light", g.names[0]),
        values=g.values)) for g in found[:1]]  # fmt: skip


def _imbrium(episode: Episode) -> _Piece | None:
    """The Sea of Rains, whether it is newly seen, and the ranges on its lit shore."""
    t = episode.about
    sea = _feature("Mare Imbrium")
    now, before = _shares(episode, sea)
    part = fraction(now)
    if part is None:
        return None
    is_new = before is not None and episode.told(f"new:{sea.name}", last=20) is None
    table = "new" if is_new and before <= NEW_SEA else "more" if is_new and now - before >= GAIN_SEA else "plain"  # type: ignore[operator]
    facts = (f"stop:{sea.name}", f"light:{sea.name}:{episode.day}", *((f"new:{sea.name}",) if table != "plain" else ()))
    values: dict[str, Part] = {**names_of(sea), "fraction": part, "lit": Number(100 * now, 1)}
    if before is not None:
        values["lit_before"] = Number(100 * before, 1)
    said = [Passage(key="tour:Mare Imbrium", must=True, worth=0.95, after="tour:theme", ways=ways_of(
        f"imbrium.{table}", facts=facts, cue=_light(episode, sea), values=values))]  # fmt: skip
    ranges = [f for f in (_feature(n) for n in RANGES) if sun_over(t, f) >= RANGE_SUN_DEG]
    if len(ranges) >= 2:
        listed = Listed(tuple(called(f) for f in ranges))
        said.append(Passage(key="tour:ranges", must=True, worth=0.9, after="tour:Mare Imbrium", ways=ways_of(
            "imbrium.ranges", facts=tuple(f"stop:{f.name}" for f in ranges), ranges=listed)))  # fmt: skip
    return _Piece(45.0, frozenset({sea.name, *(f.name for f in ranges)}), tuple(said))


def _greeks(episode: Episode) -> _Piece | None:
    group = next((g for g in threes(episode.about) if g.table == "people.old_nation"), None)
    if group is None:
        return None
    facts = (f"group:{group.names[0]}", *(f"people:{n}" for n in group.names))
    said = Passage(key="tour:three", must=True, worth=0.95, after="tour:theme", ways=ways_of(
        group.table, facts=facts, cue=lead_cue(episode, "light", group.names[-1]), values=group.values))  # fmt: skip
    return _Piece(_feature(group.names[0]).lat_deg, frozenset(group.names), (said,))


def _nubium(episode: Episode) -> _Piece | None:
    """The Sea of Clouds, where it is newly seen."""
    sea = _feature("Mare Nubium")
    now, before = _shares(episode, sea)
    if before is None or before > NEW_SEA or not 0.08 <= now <= 0.9 or episode.told(f"new:{sea.name}", last=20) is not None:  # fmt: skip
        return None
    values: dict[str, Part] = {**names_of(sea), "lit": Number(100 * now, 1), "lit_before": Number(100 * before, 1)}
    said = Passage(key="tour:Mare Nubium", must=True, worth=0.95, after="tour:theme", ways=ways_of(
        "nubium.new", facts=(f"stop:{sea.name}", f"new:{sea.name}"), cue=_light(episode, sea), values=values))  # fmt: skip
    return _Piece(sea.lat_deg, frozenset({sea.name}), (said,))


def _giants(episode: Episode) -> _Piece | None:
    """The two craters that come next in size to the largest of the near side, where both have light and that one has not."""
    t = episode.about
    ranked = [f for f in all_features() if f.kind == "crater" and f.parent is None and rank_of(f.name) in (1, 2, 3)]
    largest, second, third = sorted(ranked, key=lambda f: -f.size_km)[:3]
    if not is_dark(t, largest) or any(sunlit_share(f, *_sun(t)) < LIT_GIANT for f in (second, third)):
        return None
    values: dict[str, Part] = {"first": Term(ORDINALS[2]), "next": Term(ORDINALS[3])}
    for key, km, f in (("one", "km", second), ("other", "other_km", third)):
        values |= {key: called(f), f"{key}_start": called_first(f), km: spoken_km(f.size_km)}
    facts = tuple(f"{k}:{f.name}" for f in (second, third) for k in ("stop", "size", "rank"))
    said = Passage(key="tour:giants", must=True, worth=0.95, after="tour:theme", ways=ways_of(
        "rank.pair", facts=facts, cue=_light(episode, second), values=values))  # fmt: skip
    return _Piece(third.lat_deg, frozenset({second.name, third.name}), (said,))


def _shares(episode: Episode, sea: Feature) -> tuple[float, float | None]:
    """Of its ground in the light now, and on the evening before where that was yesterday or little longer ago."""
    before = episode.before
    near = before is not None and 1 <= (episode.day - before.day).days <= 3
    then = None if before is None or not near else light_at(before.utc)
    return sunlit_share(sea, *_sun(episode.about)), None if then is None else sunlit_share(sea, then.lat_deg, then.lon_deg)  # fmt: skip


def _light(episode: Episode, feature: Feature) -> Cue | None:
    """A light on it, where the picture has room for it."""
    t = episode.about
    return lead_cue(episode, "light", feature.name) if t.whole or feature.name in t.ground else None


def _sun(t: Tonight) -> tuple[float, float]:
    return t.sky.sub_solar_lat_deg, t.sky.sub_solar_lon_deg


def _feature(name: str) -> Feature:
    found = named(name)
    assert found is not None  # names of the catalogue
    return found
