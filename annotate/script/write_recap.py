"""What changed since the last episode. "Yesterday" stands only where the history has an episode of the day before; what has
no history is told of the Moon alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.phases import principal_phases
from moondesk.ideas.library import IDEAS
from moondesk.ideas.tonight import Tonight, predict_tonight, wrap
from moondesk.moon.catalogue import all_features
from moondesk.notes.messages import Listed, Name, Number, Part, Term
from moondesk.records import Feature
from moondesk.script.evening import changed_ground, cos_near, has_edge, lead_cue, shape_of, sun_over
from moondesk.script.records import Episode, Passage, Told
from moondesk.script.stops import called, is_dark, names_of
from moondesk.script.walks import fame_of
from moondesk.script.wordings import ways_of
from moondesk.script.write_quiz import write_quiz

#: Features of the last episode that are taken up again; names in one sentence; titles of ideas in a look back.
AGAIN, NAMES, TITLES = 2, 2, 3
#: The Sun must have climbed or sunk by this much, degrees, for it to be worth saying.
LEAST_STEP = 2.0
#: Ground of the far side, wide enough to be named: beyond what libration shows; the Sun high over it.
FAR_KM, FAR_COS, NOON_DEG = 60.0, -0.3, 60.0
#: The Sun at least this far below the middle, degrees, for ground to be called dark; a wide sea may have light then still.
DARK_DEG = -4.0


def write_recap(episode: Episode) -> tuple[Passage, ...]:
    last = episode.history[-1] if episode.history else None
    is_yesterday = last is not None and (episode.day - last.day).days == 1
    if shape_of(episode.about) == "new":
        return (
            *_where_it_is(episode),
            *_since(episode, last, is_yesterday),
            *_look_back(episode),
            *write_quiz(episode),
        )
    t = episode.about
    before_utc = episode.before.utc if is_yesterday and episode.before is not None else t.when - timedelta(days=1)
    said: list[Passage] = []
    if last is not None and not is_yesterday:
        days = (episode.day - last.day).days
        if days > 0:
            said.append(Passage(key="recap:pause", worth=0.4, ways=ways_of("recap.pause", count=days)))
    if t.eclipse in ("none", "penumbral"):
        said += _light(t, predict_tonight(before_utc, t.place), is_yesterday)
    since = _since(episode, last, is_yesterday)
    said += since
    fresh, gone = changed_ground(t.when - timedelta(days=1), t.when, t.place)
    for key, some in (("risen", fresh), ("set", gone)):
        # not again what became of a place, and what is called new here is not new again on the walk
        once = [f for f in some if not any(p.key == f"recap:{f.name}" for p in since)]
        best = sorted(once, key=lambda f: -fame_of(f))[:NAMES]
        facts = tuple(f"{fact}:{f.name}" for f in best for fact in ((key, "new") if key == "risen" else (key,)))
        if best:
            said.append(Passage(key=f"recap:{key}", worth=0.25, ways=ways_of(
                f"recap.{key}", facts=facts, names=Listed(tuple(called(f) for f in best)))))  # fmt: skip
    if shape_of(t) == "thin":
        said += [replace(p, worth=0.5 * p.worth) for p in _where_it_is(episode)]
        if not t.waxing:
            said += [replace(p, worth=0.5 * p.worth) for p in _look_back(episode)]
    return tuple(said)


def _light(t: Tonight, before: Tonight, is_yesterday: bool) -> list[Passage]:
    said, tail = [], "_yesterday" if is_yesterday else ""
    step = 100 * (t.lit - before.lit)
    if abs(step) >= 1.5:
        table = f"recap.{'grown' if step > 0 else 'shrunk'}{tail}"
        said.append(Passage(key="recap:percent", worth=0.8 if is_yesterday else 0.4, ways=ways_of(
            table, facts=(f"lit:{before.when:%Y-%m-%d}",), before=Number(100 * before.lit), utc=f"{before.when:%Y-%m-%dT%H:%M:%SZ}")))  # fmt: skip
    if has_edge(t) and has_edge(before) and t.waxing == before.waxing:
        moved = wrap(before.edge_lon_deg - t.edge_lon_deg)
        said.append(Passage(key="recap:moved", worth=0.4 if is_yesterday else 0.2, ways=ways_of(
            f"recap.moved{tail}", facts=("moved:edge",), degrees=Number(moved), utc=f"{before.when:%Y-%m-%dT%H:%M:%SZ}")))  # fmt: skip
    return said


def _since(episode: Episode, last: Told | None, is_yesterday: bool) -> list[Passage]:
    """What became of the features that the last episode pointed at, and its idea."""
    if last is None or (episode.day - last.day).days > 10:
        return []
    t, when = episode.about, Term("yesterday") if is_yesterday else Term("last time")
    known = {f.name: f for f in all_features() if f.name in last.shown and f.parent is None}
    found = []
    for feature in sorted(known.values(), key=lambda f: -f.size_km):
        sun, before = sun_over(t, feature), _sun_then(episode, last, feature)
        parts: dict[str, Part] = {**names_of(feature), "when": when, "before": Number(before, 2)}
        if sun <= DARK_DEG and is_dark(t, feature) and before > 0:
            found.append(
                (
                    2.0,
                    feature,
                    ways_of("recap.dark", facts=(f"since:{feature.name}",), sun=Number(sun, 2), values=parts),
                    "recap.dark",
                )
            )
        elif abs(sun - before) >= LEAST_STEP and sun >= 1.5 and before > 0 and feature.kind == "crater":
            table = "recap.higher" if sun > before else "recap.lower"
            cue = lead_cue(episode, "light", feature.name) if feature.name in t.ground else None
            found.append((1.0 if sun < 30 else 0.5, feature, ways_of(table, facts=(f"since:{feature.name}",), cue=cue, degrees=Number(sun), values=parts), table))  # fmt: skip
    found.sort(
        key=lambda f: (-f[0] * (0.3 if episode.told(f"since:{f[1].name}", last=4) else 1.0), -f[1].size_km, f[1].name)
    )
    # of two places one whose light has changed in another way than the first's
    others = [f for f in found[1:] if f[3] != found[0][3]]
    said = [
        Passage(key=f"recap:{f.name}", worth=0.7 - 0.15 * n, ways=ways)
        for n, (_, f, ways, _) in enumerate([*found[:1], *others][:AGAIN])
    ]
    title = next((i.title for i in IDEAS if i.key == last.idea), None)
    if title is not None:
        said.append(Passage(key="recap:idea", worth=0.3, ways=ways_of("recap.idea", facts=(f"again:{last.idea}",), title=title, when=when)))  # fmt: skip
    return said


def _sun_then(episode: Episode, last: Told, feature: Feature) -> float:
    when = last.utc if last.utc is not None else episode.about.when - (episode.day - last.day)
    return sun_over(predict_tonight(when, episode.about.place), feature)


def _where_it_is(episode: Episode) -> list[Passage]:
    """Where the Moon is that nobody sees."""
    t, day = episode.about, episode.day
    geocentric = aspect_at(t.when, None)
    after = t.phases.last.kind == "new"
    hours = abs((t.when - (t.phases.last.utc if after else t.phases.next.utc)).total_seconds()) / 3600.0
    begun = t.phases.new_moon_utc
    ends = next(
        p.utc for p in principal_phases(begun + timedelta(days=20), begun + timedelta(days=35)) if p.kind == "new"
    )
    is_new = shape_of(t) == "new"
    tables: list[tuple[str, float, dict[str, Part]]] = [
        ("sun", 0.8, {"degrees": Number(geocentric.elongation_deg)}),
        ("after" if after else "before", 0.7, {"hours": Number(hours)}),
        (
            "distance",
            0.45,
            {"km": Number(round(geocentric.distance_km, -3)), "exact": Number(geocentric.distance_km, 1)},
        ),
        ("round", 0.4, {"days": Number((ends - begun).total_seconds() / 86400.0, 1)}),
    ]
    far = [
        f
        for f in all_features()
        if f.kind == "crater" and f.parent is None and f.size_km >= FAR_KM and cos_near(f) <= FAR_COS
    ]
    if not is_new:  # it is seen, though near the Sun
        tables = [row for row in tables if row[0] in ("distance", "round")]
    noon = max(far, key=lambda f: (sun_over(t, f), f.name), default=None)
    if is_new and noon is not None and sun_over(t, noon) >= NOON_DEG:
        at_noon: dict[str, Part] = {
            "name": Name(noon.name),
            "km": Number(noon.size_km),
            "high": Number(sun_over(t, noon)),
        }
        tables.insert(2, ("far_noon", 0.6, at_noon))
    return [
        Passage(
            key=f"dark:{name}", worth=worth, ways=ways_of(f"dark.{name}", facts=(f"dark:{name}:{day}",), values=values)
        )
        for name, worth, values in tables
    ]


def _look_back(episode: Episode) -> tuple[Passage, ...]:
    """On evenings without a Moon: what was seen in this lunation, by the history."""
    t = episode.about
    # before new Moon the lunation that ends, after it the one that has ended
    begun = t.phases.new_moon_utc if t.age_days > 15 else t.phases.new_moon_utc - timedelta(days=29.6)
    month = [told for told in episode.history if begun.date() <= told.day < episode.day]
    known = {f.name: f for f in all_features()}
    places = [known[n] for n in sorted({n for told in month for n in told.shown}) if n in known]
    craters = [f for f in places if f.kind == "crater" and f.size_km]
    said: list[Passage] = []
    if len(places) >= 4:
        said.append(
            Passage(
                key="back:places", worth=0.7, ways=ways_of("recap.places", facts=("back:places",), count=len(places))
            )
        )
    if len(craters) >= 4:
        for key, feature, number in (
            ("largest", max(craters, key=lambda f: f.size_km), "km"),
            ("smallest", min(craters, key=lambda f: f.size_km), "km"),
            ("northernmost", max(craters, key=lambda f: f.lat_deg), "degrees"),
            ("southernmost", min(craters, key=lambda f: f.lat_deg), "degrees"),
        ):
            value = Number(feature.size_km) if number == "km" else Number(abs(feature.lat_deg))
            if number == "degrees" and (feature.lat_deg > 0) != (key == "northernmost"):
                continue
            said.append(Passage(key=f"back:{key}", worth=0.5, after="back:places", ways=ways_of(
                f"recap.{key}", facts=(f"back:{key}",), name=Name(feature.name), values={number: value})))  # fmt: skip
        if t.lit < 0.01:
            said.append(
                Passage(
                    key="back:dark",
                    worth=0.5,
                    after="back:places",
                    ways=ways_of("recap.all_dark", facts=("back:dark",)),
                )
            )
    titles = {i.key: i.title for i in IDEAS}
    ideas = [told.idea for told in month if told.idea in titles]
    if len(ideas) >= 3:
        said.append(
            Passage(key="back:ideas", worth=0.6, ways=ways_of("recap.ideas", facts=("back:ideas",), count=len(ideas)))
        )
        step = max(1, len(ideas) // TITLES)
        for key in ideas[episode.day.toordinal() % step :: step][:TITLES]:
            said.append(Passage(key=f"back:idea {key}", worth=0.3, after="back:ideas", ways=ways_of("recap.one_idea", facts=(f"back:{key}",), title=titles[key])))  # fmt: skip
    return tuple(said)
