"""What the next evening brings, and, where there is time, the evenings after it: ground that the light reaches or leaves."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.phases import principal_phases
from moondesk.ephemeris.rise_and_set import night
from moondesk.ideas.tonight import Tonight, predict_tonight
from moondesk.notes.feature_notes import LONG_CRATERS
from moondesk.notes.messages import Listed, Name, Number, Part, Term
from moondesk.records import Feature, Place
from moondesk.script.evening import (
    MONTHS,
    PHASES,
    YOUNG_DEG,
    changed_ground,
    has_edge,
    lead_cue,
    likened,
    shape_of,
    weekday_of,
)
from moondesk.script.records import Episode, Passage
from moondesk.script.stops import called, fresh_ways, names_of
from moondesk.script.walks import fame_of
from moondesk.script.wordings import has, ways_of

#: Names told for the next evening; for each of the evenings after it, and how many of these.
NEXT, LATER, EVENINGS = 3, 2, 12
#: What is named beside the first is as well known as this (`fame_of`).
FAME = 0.2
#: Lit share up to which a growing Moon sets before people go to bed.
NEAR_FULL = 0.8
#: Minutes by which the Moon rises or sets later, for them to be told (under high latitudes it may be earlier).
LATER_MINUTES = (10.0, 95.0)


def write_tomorrow(episode: Episode) -> tuple[Passage, ...]:
    said: list[Passage] = []
    following = episode.following
    if following is not None and shape_of(episode.about) != "new":
        said += _next_evening(episode, following.utc, (following.day - episode.day).days)
    said += _phases(episode)
    return (*said, *_later(episode))


def _next_evening(episode: Episode, utc: datetime, days: int) -> list[Passage]:
    t = episode.about
    then = predict_tonight(utc, t.place)
    said: list[Passage] = []
    if episode.lead and days == 1 and has_edge(then):
        cue = lead_cue(episode, "tomorrow", is_first=True)
        said.append(Passage(key="tomorrow:drawing", worth=0.8, ways=ways_of("tomorrow.drawing", cue=cue)))
    parts: dict[str, Part] = {"percent": Number(100 * then.lit), "utc": f"{utc:%Y-%m-%dT%H:%M:%SZ}"}
    fact = (f"lit:{utc:%Y-%m-%d}",)
    if days != 1:
        ways = ways_of(
            "tomorrow.next_time", facts=fact, day=weekday_of(episode.day + timedelta(days=days)), values=parts
        )
        said.append(Passage(key="tomorrow:percent", worth=0.8, ways=ways))
        return said if days <= 7 else []
    if 0.02 <= then.lit < 0.995:
        table = "grown" if then.lit > t.lit else "shrunk"
        said.append(
            Passage(key="tomorrow:percent", worth=0.8, ways=ways_of(f"tomorrow.{table}", facts=fact, values=parts))
        )
    said += _hours(t)
    fresh, gone = changed_ground(t.when, utc, t.place)
    some = [("reached", f) for f in _by_fame(fresh)[:NEXT]] + [("left", f) for f in _by_fame(gone)[:NEXT]]
    some = [one for n, one in enumerate(some) if n == 0 or fame_of(one[1]) >= FAME]
    for n, (kind, feature) in enumerate(some):
        key = f"tomorrow:{feature.name}"
        said.append(Passage(key=key, worth=0.8 - 0.2 * n, must=n == 0, ways=ways_of(
            f"tomorrow.{kind}", facts=(f"next:{feature.name}",), values=names_of(feature))))  # fmt: skip
        if n < 2 and kind == "reached":  # nobody looks for what is in the dark
            said += _size(feature, key, "tomorrow.size", 0.4 - 0.2 * n, t.place)
    return said


def _by_fame(some: Sequence[Feature]) -> tuple[Feature, ...]:
    """What people know first; between equals as they stand."""
    return tuple(sorted(some, key=lambda f: -fame_of(f)))


def _hours(t: Tonight) -> list[Passage]:
    """How much later the Moon sets, while it grows, or rises."""
    if t.place is None:
        return []
    by_setting = t.waxing and t.lit < NEAR_FULL  # later it sets when hardly anybody is awake
    begun, end = t.when - timedelta(hours=24), t.when + timedelta(hours=60)
    spans = night(begun, end, t.place).moon
    if by_setting and not any(s[0] <= t.when < s[1] for s in spans):
        return []  # it has set already
    if by_setting:
        times = [s[1] for s in spans if t.when < s[1] < end]
    else:  # of the Moon that is up, the rising before; else the one to come
        times = [s[0] for s in spans if begun < s[0] and s[1] > t.when]
    if len(times) < 2:
        return []
    first, second = times[:2]
    later = (second - first).total_seconds() / 60.0 - 1440.0
    if not LATER_MINUTES[0] <= later <= LATER_MINUTES[1]:
        return []
    values: dict[str, Part] = {"minutes": Number(5 * round(later / 5)), "exact": Number(later, 1), "first": f"{first:%Y-%m-%dT%H:%M:%SZ}", "second": f"{second:%Y-%m-%dT%H:%M:%SZ}"}  # fmt: skip
    table = "sets_later" if by_setting else "rises_later"
    return [
        Passage(
            key="tomorrow:hours",
            worth=0.3,
            ways=ways_of(f"tomorrow.{table}", facts=(f"hours:{t.when:%Y-%m-%d}",), values=values),
        )
    ]


def _size(feature: Feature, after: str, table: str, worth: float, place: Place | None) -> list[Passage]:
    if feature.kind != "crater" or feature.name in LONG_CRATERS:
        return []
    ways = ways_of(table, facts=(f"size:{feature.name}",), name=Name(feature.name), km=Number(feature.size_km))
    said = [Passage(key=f"{after}:size {feature.name}", worth=worth, after=after, ways=ways)]
    pair = likened(feature.size_km, place)
    if pair is not None:
        ways = ways_of("tomorrow.like", facts=(f"like:{feature.name}", f"way:{pair[0]} {pair[1]}"), here=Term(pair[0]), there=Term(pair[1]), km=Number(feature.size_km))  # fmt: skip
        said.append(
            Passage(
                key=f"{after}:like {feature.name}", worth=worth / 2, after=f"{after}:size {feature.name}", ways=ways
            )
        )
    return said


def _about(episode: Episode, feature: Feature, kind: str, after: str, worth: float) -> list[Passage]:
    """What is to be seen there, where something is known that was not told lately."""
    if not has(f"about.{feature.name}"):
        return []
    facts = (f"about:{feature.name}",)
    own = fresh_ways(episode, ways_of(f"about.{feature.name}", facts=facts))
    picks = ways_of(f"tomorrow.ahead_pick_{kind}", facts=facts, values=names_of(feature))
    ways = tuple((*pick, *way) for pick in picks for way in own)
    return [Passage(key=f"{after}:about {feature.name}", worth=worth, after=after, ways=ways)] if ways else []


def _phases(episode: Episode) -> list[Passage]:
    """The next principal phases by date: one for most evenings, all four for those without a Moon."""
    t = episode.about
    count = 4 if shape_of(t) == "new" else 1
    coming = principal_phases(t.when + timedelta(hours=1), t.when + timedelta(days=31))[:count]
    said = []
    for n, phase in enumerate(coming):
        day = phase.utc.date()
        # the opening may have told the next one
        facts = (f"calendar:{phase.kind}", *((f"phase:{day}",) if count == 1 else ()))
        said.append(Passage(key=f"tomorrow:calendar {phase.kind}", worth=0.45 - 0.05 * n, ways=ways_of(
            f"tomorrow.calendar{'_on' if n else ''}", facts=facts, phase=PHASES[phase.kind], date_day=day.day, month=MONTHS[day.month - 1],
            utc=f"{phase.utc:%Y-%m-%dT%H:%M:%SZ}")))  # fmt: skip
    return said


def _later(episode: Episode) -> list[Passage]:
    """Evening by evening, at the hour of this one; of little worth, for evenings with time to spare."""
    t, is_new = episode.about, shape_of(episode.about) == "new"
    said: list[Passage] = []
    young = False
    first = 1 if is_new else 2
    is_thin = is_new or (shape_of(t) == "thin" and t.waxing)
    for k in range(first, EVENINGS if is_new else 8 if is_thin else 6):
        utc, day = t.when + timedelta(days=k), episode.day + timedelta(days=k)
        sky = aspect_at(utc, t.place)
        then = predict_tonight(utc, t.place)
        if is_new and then.waxing and not young and sky.elongation_deg >= YOUNG_DEG and k <= 6:
            young = True
            said.append(Passage(key="ahead:young", worth=0.95, ways=ways_of(
                "tomorrow.young", facts=("ahead:young",), day=weekday_of(day), elongation=Number(sky.elongation_deg, 1))))  # fmt: skip
            said.append(
                Passage(key="ahead:young how", worth=0.5, after="ahead:young", ways=ways_of("tomorrow.young_how"))
            )
            said.append(Passage(key="ahead:young more", worth=0.35, after="ahead:young how", ways=ways_of("tomorrow.young_more", facts=("young limit",))))  # fmt: skip
        if then.lit < 0.03 or not has_edge(then):
            continue
        fresh, gone = changed_ground(utc - timedelta(days=1), utc, t.place)
        kind, some = ("reached", _by_fame(fresh)[:LATER]) if fresh else ("left", _by_fame(gone)[:LATER])
        if not some:
            continue
        key, worth = f"ahead:{k}", (0.5 if is_new else 0.12) - 0.01 * k
        said.append(Passage(key=key, worth=worth, ways=ways_of(
            f"tomorrow.ahead_{kind}", facts=tuple(f"ahead:{f.name}" for f in some), day=weekday_of(day),
            names=Listed(tuple(called(f) for f in some)), days=k)))  # fmt: skip
        if k % 2 == 0:
            said.append(Passage(key=f"{key}:percent", worth=worth * 0.6, after=key, ways=ways_of(
            "tomorrow.ahead_percent", percent=Number(100 * then.lit), utc=f"{utc:%Y-%m-%dT%H:%M:%SZ}")))  # fmt: skip
        for n, feature in enumerate(some):
            said += _about(episode, feature, kind, key, worth * 0.9)
            if n == 0:
                said += _size(feature, key, "tomorrow.ahead_size", worth * 0.3, t.place)
    return said
