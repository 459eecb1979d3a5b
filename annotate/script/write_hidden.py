"""What is still in the dark while the Moon grows, and when it comes; what has gone while it shrinks, and when it returns."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from moondesk.moon.catalogue import all_features, named
from moondesk.moon.geometry import sun_altitude_deg, unit_vector
from moondesk.notes.messages import Number, Part
from moondesk.notes.moon_notes import light_at
from moondesk.notes.ranks import rank_of
from moondesk.notes.sunrise_times import crossings_of
from moondesk.notes.themes import RAY_SUN_DEG
from moondesk.records import Feature
from moondesk.script.evening import FULL, UNSEEN, lead_cue, sun_over
from moondesk.script.records import Episode, Passage
from moondesk.script.stops import PLURAL_KINDS, fresh_ways, is_dark, names_of, spoken_km
from moondesk.script.walks import TOLD, fame_of, is_middle
from moondesk.script.wordings import has, ways_of

#: What is announced, or missed: as famous as this at least, not nearer to the limb than this cosine.
FAME, LEAST_VIEW = 0.62, 0.26
#: Days that are told: from the evening after next (what tomorrow brings is told elsewhere) to the end of a growing Moon.
DAYS, LARGEST_DAYS = (1.7, 8.5), (1.7, 12.5)
#: Places told of an evening.
MOST = 3
#: Episodes within which the share, the largest crater and the rays to come are not told again.
SHARE_TOLD, LARGEST_TOLD, RAYS_TOLD = 3, 6, 4
RAYED = "Tycho"
#: What is told of a place as it is seen, which nobody can say of one in the dark.
_SEEN = re.compile(
    r"\b(?:see|seen|look|looks|eyes?|find|finds|show|shows|bright\w*|shin\w+|light|halo|rays)\b", re.IGNORECASE
)


def write_hidden(episode: Episode) -> tuple[Passage, ...]:
    t = episode.about
    if not UNSEEN <= t.lit < FULL or t.eclipse in ("partial", "total"):
        return ()
    said = []
    middle = is_middle(t)
    share = ways_of("hidden.share" if t.waxing else "hidden.share_set", facts=("dark share",), percent=Number(round(100 * (1 - t.lit))), exact=Number(100 * (1 - t.lit), 2))  # fmt: skip
    if middle or episode.told("dark share", last=SHARE_TOLD) is None:
        said.append(Passage(key="hidden:share", worth=0.75, ways=share))
    if t.waxing:
        said += _largest(episode)
        said += _rays(episode)
    return (*said, *_places(episode))


def _largest(episode: Episode) -> list[Passage]:
    """The largest crater of the near side, by the list of diameters, while all of it is dark."""
    t = episode.about
    largest = next(f for f in all_features() if f.kind == "crater" and f.parent is None and rank_of(f.name) == 1)
    days = crossings_of([largest.lat_deg], [largest.lon_deg], t.when)[0].next_rise / 24
    if not is_middle(t) and episode.told(f"hidden:{largest.name}", last=LARGEST_TOLD) is not None:
        return []
    if not is_dark(t, largest) or not LARGEST_DAYS[0] <= days <= LARGEST_DAYS[1]:
        return []
    values: dict[str, Part] = {**names_of(largest), "km": spoken_km(largest.size_km), **_days(days)}
    return [Passage(key="hidden:largest", must=is_middle(t), worth=0.8, ways=ways_of(
        "hidden.largest", facts=(f"hidden:{largest.name}",), values=values))]  # fmt: skip


def _rays(episode: Episode) -> list[Passage]:
    """When the Sun will be high enough over Tycho for its rays (`RAY_SUN_DEG`, common practice)."""
    t = episode.about
    tycho = named(RAYED)
    assert tycho is not None  # of the catalogue
    if not is_middle(t) and episode.told(f"rays to come:{tycho.name}", last=RAYS_TOLD) is not None:
        return []
    high = _first_high(tycho, t.when)
    if high is None or high > DAYS[1]:
        return []
    sun = sun_over(t, tycho)
    table = "dark" if is_dark(t, tycho) else "edge" if sun < 1.0 else "low"
    if table == "low" and tycho.name not in t.ground:
        return []
    if high < DAYS[0]:
        table = "soon"
    cue = lead_cue(episode, "light", tycho.name) if tycho.name in t.ground else None
    return [Passage(key="hidden:rays", must=is_middle(t), worth=0.85, ways=ways_of(
        f"hidden.rays_{table}", facts=(f"rays to come:{tycho.name}",), cue=cue, values={**names_of(tycho), **_days(high)}))]  # fmt: skip


def _first_high(feature: Feature, when: datetime) -> float | None:
    """Days until the Sun stands high enough for rays; None where it does already, or never within this growing Moon."""

    def is_high(days: float) -> bool:
        sun = light_at(when + timedelta(days=days))
        return float(sun_altitude_deg(feature.lat_deg, feature.lon_deg, sun.lat_deg, sun.lon_deg)) >= RAY_SUN_DEG

    if is_high(0.0):
        return None
    after = next((d for d in range(1, 11) if is_high(d)), None)
    if after is None:
        return None
    low, high = after - 1.0, float(after)
    while high - low > 0.01:
        middle = (low + high) / 2
        low, high = (low, middle) if is_high(middle) else (middle, high)
    return high


def _places(episode: Episode) -> list[Passage]:
    """Famous ground that is dark: when it comes, or how long it has been gone and when it returns."""
    t = episode.about
    view = unit_vector(t.sky.libration_lat_deg, t.sky.libration_lon_deg)
    some = [f for f in all_features() if f.parent is None and fame_of(f) >= FAME
            and float(unit_vector(f.lat_deg, f.lon_deg) @ view) >= LEAST_VIEW and is_dark(t, f)]  # fmt: skip
    key = "hidden" if t.waxing else "gone"
    found: list[tuple[float, float, Feature, float]] = []
    for f in some:
        at = crossings_of([f.lat_deg], [f.lon_deg], t.when)[0]
        days = (at.next_rise if t.waxing else -at.last_set) / 24
        if f.name != RAYED and f.kind not in PLURAL_KINDS and DAYS[0] <= days <= DAYS[1]:
            told = episode.told(f"{key}:{f.name}", last=TOLD) is not None
            found.append((fame_of(f) * (0.3 if told else 1.0), days, f, at.next_rise / 24))
    found.sort(key=lambda x: (-x[0], x[2].name))
    said = []
    chosen = [(n, *x) for n, x in enumerate(found[:MOST])]
    for n, _, days, f, back in sorted(chosen, key=lambda x: (x[2], x[3].name)):
        ways = ways_of("hidden.comes" if t.waxing else "hidden.gone", facts=(f"{key}:{f.name}",), values={**names_of(f), **_days(days)})  # fmt: skip
        said.append(Passage(key=f"hidden:{f.name}", worth=0.6 - 0.1 * n, ways=ways))
        if not t.waxing and n == 0:  # "it" is the place that was named just now
            said.append(Passage(key=f"hidden:{f.name}:back", worth=0.45, after=f"hidden:{f.name}", ways=ways_of(
                "hidden.back", facts=(f"back:{f.name}",), values={**names_of(f), **_days(back)})))  # fmt: skip
        about = (
            fresh_ways(episode, ways_of(f"about.{f.name}", facts=(f"about:{f.name}",)))
            if has(f"about.{f.name}")
            else ()
        )
        about = tuple(w for w in about if not any(_SEEN.search(line.said.template) for line in w))
        if n <= 1 and about:
            said.append(Passage(key=f"hidden:{f.name}:about", worth=0.4, after=f"hidden:{f.name}", ways=about))
    return said


def _days(days: float) -> dict[str, Part]:
    return {"days": Number(round(days)), "exact_days": Number(days, 2)}
