"""Every number, name and date of a script computed again: DE421 through skyfield at the picture's place, the catalogue's
plain table, the almanac's phases by skyfield, the history read as it is."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from functools import cache
from itertools import combinations

from moondesk.notes.comparisons import CITIES
from moondesk.notes.messages import Listed, Message, Name, Number, in_english
from moondesk.records import Place
from moondesk.script.marks import sentences_of, write_script
from moondesk.script.records import Episode, Line, Script
from moondesk.script.wordings import _table
from tests.core.notes_truth import _module, ground, height, table
from tests.core.tour_truth import CHECKS as TOUR_CHECKS

MOON_KM = 1737.4
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip
QUARTERS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@cache
def tables() -> dict[str, str]:
    """The table of each English sentence; one that stands in several: none that counts."""
    found: dict[str, str] = {}
    for key, ways in _table().items():
        for way in ways:
            for sentence in way.split(" | "):
                found.setdefault(sentence.split(" || ")[0], key)
    return found


class Truth:
    def __init__(self, reference) -> None:
        self.reference, self.kept = reference, {}

    def at(self, when: datetime, place: Place | None) -> dict[str, float]:
        key = (when, place)
        if key not in self.kept:
            at = (place.latitude_deg, place.longitude_deg, place.height_m) if place else (0, 0, 0)
            self.kept[key] = self.reference.aspect(when, *at, centre=place is None)
        return self.kept[key]

    def lit(self, when: datetime, place: Place | None) -> float:
        return 50.0 * (1.0 + math.cos(math.radians(self.at(when, place)["phase_angle_deg"])))

    def sun(self, name: str, when: datetime, place: Place | None) -> float:
        row, at = table()[name], self.at(when, place)
        return height(float(row["lat"]), float(row["lon"]), at["sub_solar_lat_deg"], at["sub_solar_lon_deg"])

    def edge(self, when: datetime, place: Place | None) -> float:
        """Longitude of the edge of the light on the equator, on the side that is seen."""
        at = self.at(when, place)
        both = [(at["sub_solar_lon_deg"] + s * 90 + 180) % 360 - 180 for s in (-1, 1)]
        return min(both, key=lambda lon: abs((lon - at["libration_lon_deg"] + 180) % 360 - 180))

    @cache  # noqa: B019 - one for a run
    def phases(self) -> list[tuple[str, datetime]]:
        from skyfield import almanac

        ts = self.reference.ts
        times, kinds = almanac.find_discrete(
            ts.utc(2026, 9, 1), ts.utc(2028, 2, 1), almanac.moon_phases(self.reference.eph)
        )
        names = ("new Moon", "first quarter", "full Moon", "last quarter")
        return [(names[k], t.utc_datetime()) for t, k in zip(times, kinds, strict=True)]


@contextmanager
def truth() -> Iterator[Truth]:
    with _module().opened() as reference:
        yield Truth(reference)


# --- checks: each gives what is wrong, "" for nothing ---------------------------------------------------------------

Check = Callable[[Truth, Episode, dict, Line], str]


def _near(value: float, truth: float, within: float) -> str:
    return "" if abs(value - truth) <= within else f"{value} is {truth:.2f}"


def _lit(t, e, v, line):
    about = e.about
    return _near(v["percent"].value, t.lit(about.when, about.place), 0.3)


def _lit_then(t, e, v, line):
    when = datetime.fromisoformat(v["utc"].replace("Z", "+00:00"))
    return _near((v.get("percent") or v["before"]).value, t.lit(when, e.about.place), 0.3)


def _trend(t, e, v, line):
    when = datetime.fromisoformat(v["utc"].replace("Z", "+00:00"))
    grows = t.lit(max(when, e.about.when), e.about.place) > t.lit(min(when, e.about.when), e.about.place)
    wrong = _lit_then(t, e, v, line)
    return wrong or ("" if grows == ("grown" in tables()[line.said.template]) else "the light goes the other way")


def _next_phase(t, e, v, line):
    name, when = next(p for p in t.phases() if p[1] > e.about.when)
    hours = (when - e.about.when).total_seconds() / 3600
    if v["phase"].word != name:
        return f"the next phase is {name}"
    return _near(v["count"], hours / 24, 0.51) if "count" in v else _near(v["hours"].value, hours, 0.6)


def _moved(t, e, v, line):
    when = datetime.fromisoformat(v["utc"].replace("Z", "+00:00"))
    return _near(v["degrees"].value, (t.edge(when, e.about.place) - t.edge(e.about.when, e.about.place)) % 360, 0.1)


def _edge(t, e, v, line):
    edge = t.edge(e.about.when, e.about.place)
    side = "east" if edge > 0 else "west"
    rises = t.lit(e.about.when + timedelta(hours=3), e.about.place) > t.lit(e.about.when, e.about.place)
    if ("rise" in tables()[line.said.template]) != rises:
        return "the Sun does the other there"
    return _near(v["degrees"].value, abs(edge), 0.1) or ("" if v["side"].word == side else f"it is {side}")


def _sun_now(t, e, v, line):
    return _near(v["degrees"].value, t.sun(v["of"].text, e.about.when, e.about.place), 0.1)


def _since(t, e, v, line):
    last, name = e.history[-1], v["of"].text
    if name not in last.shown:
        return f"{name} was not shown"
    if (v["when"].word == "yesterday") != ((e.day - last.day).days == 1):
        return "the last episode was on another day"
    now = t.sun(name, e.about.when, e.about.place)
    before = t.sun(name, last.utc, e.about.place)
    key = tables()[line.said.template]
    if key == "recap.dark":
        return "" if now < -3.9 and before > 0 else f"the Sun stood at {before:.1f}, stands at {now:.1f}"
    if before <= 0 or (now > before) != (key == "recap.higher"):
        return f"the Sun stood at {before:.1f}, stands at {now:.1f}"
    return _sun_now(t, e, v, line) if "degrees" in v else ""


def _rim(name: str) -> float:
    return (
        math.degrees(math.asin(min(1.0, float(table()[name]["size_km"]) / 2 / MOON_KM)))
        if table()[name]["kind"] in ("", "crater")
        else 4.0
    )


def _lit_share(t, name: str, when: datetime, place: Place | None) -> float:
    """Share of a sea's ground with the Sun up, by points thrown at random."""
    at, points = t.at(when, place), ground(name)[:1500]
    up = [height(float(b), float(x), at["sub_solar_lat_deg"], at["sub_solar_lon_deg"]) > -0.267 for b, x in points]
    return sum(up) / len(up)


def _comes(t, names, dark: tuple[datetime, Place | None], light: tuple[datetime, Place | None]) -> str:
    """Dark with its rims at one instant, with sunshine on some of its ground at the other."""
    for name in names:
        if table()[name]["kind"] not in ("", "crater"):
            shares = _lit_share(t, name, *dark), _lit_share(t, name, *light)
            if shares[0] > 0.05 or shares[1] < 0.1:
                return f"{name}: lit by {shares}"
            continue
        before, after = t.sun(name, *dark), t.sun(name, *light)
        if before > 0.6 - _rim(name) or after < -_rim(name):
            return f"{name}: the Sun at {before:.1f} and {after:.1f}"
    return ""


def _names(v) -> list[str]:
    part = v.get("names") or v.get("of") or v["name"]
    return [_plain(n) for n in part.parts] if isinstance(part, Listed) else [_plain(part)]


def _plain(part) -> str:
    """The IAU's name of what is called by another ("the Sea of Rains")."""
    return dict(part.values)["feature"].text if isinstance(part, Message) else part.text


def _changed(days_before: int, days_after: int, sets: bool) -> Check:
    def check(t, e, v, line):
        a = (e.about.when - timedelta(days=days_before), e.about.place)
        b = (e.about.when + timedelta(days=days_after), e.about.place)
        return _comes(t, _names(v), *((b, a) if sets else (a, b)))

    return check


def _tomorrow(sets: bool) -> Check:
    def check(t, e, v, line):
        a, b = (e.about.when, e.about.place), (e.following.utc, e.about.place)
        return _comes(t, _names(v), *((b, a) if sets else (a, b)))

    return check


def _ahead(sets: bool) -> Check:
    def check(t, e, v, line):
        b = (e.about.when + timedelta(days=v["days"]), e.about.place)
        a = (b[0] - timedelta(days=1), e.about.place)
        day = WEEKDAYS[(e.day + timedelta(days=v["days"])).weekday()]
        return _comes(t, _names(v), *((b, a) if sets else (a, b))) or (
            "" if v["day"].word == day else f"that is a {day}"
        )

    return check


def _km(t, e, v, line):
    return _near(v["km"].value, float(table()[v["name"].text]["size_km"]), 0.06)


def _like(t, e, v, line):
    (a, b), (c, d) = ([math.radians(x) for x in CITIES[v[k].word]] for k in ("here", "there"))
    h = math.sin((c - a) / 2) ** 2 + math.cos(a) * math.cos(c) * math.sin((d - b) / 2) ** 2  # haversine
    return _near(v["km"].value, 2 * 6371.0 * math.asin(math.sqrt(h)), 0.081 * v["km"].value)


def _calendar(t, e, v, line):
    coming = [(name, when) for name, when in t.phases() if when > e.about.when]
    found = next(when for name, when in coming if name == v["phase"].word)
    return "" if (v["date_day"], v["month"].word) == (found.day, MONTHS[found.month - 1]) else f"it is on {found}"


def _sky(t, e, v, line):
    number = int(next(f for f in line.facts if f.startswith("sky:")).split()[1])
    picture = next(p for p in e.pictures if p.number == number)
    at = t.at(picture.when, picture.place)
    side = QUARTERS[round(at["azimuth_deg"] / 45) % 8]
    off = abs((v["azimuth"].value - at["azimuth_deg"] + 180) % 360 - 180)
    return _near(v["degrees"].value, at["altitude_deg"], 0.1) or ("" if v["side"].word == side or off < 0.1 else side)


def _turned(t, e, v, line):
    number = int(line.facts[0].split(":")[3])
    north = next(p for p in e.pictures if p.number == number).annotation.pose.north_screen_deg
    return _near(v["degrees"].value, abs((north + 180) % 360 - 180), 3.0)


def _chosen(t, e, v, line):
    when = e.about.when
    sun = t.sun(v["of"].text, when, e.about.place)
    low = tables()[line.said.template] == "pictures.chosen"
    return "" if (0 < sun <= 15.5 if low else sun > 14) else f"the Sun stands at {sun:.1f}"


def _pause(t, e, v, line):
    return _near(v["count"], (e.day - e.history[-1].day).days, 0)


def _month(e: Episode):
    begun = max(w for name, w in _PHASES[0] if name == "new Moon" and w < e.about.when - timedelta(days=3))
    return [told for told in e.history if told.day >= begun.date()]


_PHASES: list[list[tuple[str, datetime]]] = [[]]


def _back(t, e, v, line):
    _PHASES[0] = t.phases()
    month = _month(e)
    key = tables()[line.said.template]
    names = {n for told in month for n in told.shown if n in table()}
    if key == "recap.places":
        return _near(v["count"], len(names), 0)
    if key == "recap.ideas":
        return _near(v["count"], len([told for told in month if told.idea]), 0)
    rows = [r for n, r in table().items() if n in names and r["kind"] in ("", "crater")]
    by, pick = {"largest": ("size_km", max), "smallest": ("size_km", min), "northernmost": ("lat", max),
                "southernmost": ("lat", min)}[key.split(".")[1]]  # fmt: skip
    row = pick(rows, key=lambda r: float(r[by]))
    value = float(row["size_km"]) if by == "size_km" else abs(float(row["lat"]))
    return (
        "" if row["name"] == v["name"].text and abs((v.get("km") or v["degrees"]).value - value) < 0.06 else row["name"]
    )


def _young(t, e, v, line):
    days = [k for k in range(1, 8) if WEEKDAYS[(e.day + timedelta(days=k)).weekday()] == v["day"].word]
    elongation = t.at(e.about.when + timedelta(days=days[0]), e.about.place)["elongation_deg"]
    return "" if elongation >= 13.9 else f"{elongation:.0f} degrees from the Sun"


def _hours(t, e, v, line):
    first, second = (datetime.fromisoformat(v[k].replace("Z", "+00:00")) for k in ("first", "second"))
    for when in (first, second):  # the upper rim on the horizon: refraction 34', semi-diameter 15' or so
        a, b = (t.at(when + timedelta(minutes=m), e.about.place)["altitude_deg"] for m in (-3, 3))
        if not min(a, b) < -0.8 < max(a, b) or (b > a) != ("rises" in tables()[line.said.template]):
            return f"at {when} the Moon is not on the horizon"
    if not e.about.when < second <= first + timedelta(hours=26) or first > e.about.when + timedelta(hours=24):
        return f"{first} and {second} are not tonight's and tomorrow's"
    return _near(v["minutes"].value, (second - first).total_seconds() / 60 - 1440, 2.6)


def _find(t, e, v, line):
    sun = {n: t.sun(n, e.about.when, e.about.place) for n in _names(v)}
    rows = [table()[n] for n in sun]
    if [float(r["lat"]) for r in rows] != sorted((float(r["lat"]) for r in rows), reverse=True):
        return "not from north to south"
    return next((f"{n} has the Sun at {h:.1f}" for n, h in sun.items() if h < -_rim(n)), "")


def _far_noon(t, e, v, line):
    lon = float(table()[v["name"].text]["lon"])
    wrong = _near(v["high"].value, t.sun(v["name"].text, e.about.when, e.about.place), 0.1)
    return (_km(t, e, v, line) if "km" in v else "") or wrong or ("" if abs(lon) > 100 else "that is not the far side")


def _new_moon(t, e, v, line):
    when = min((w for name, w in t.phases() if name == "new Moon"), key=lambda w: abs(w - e.about.when))
    after = tables()[line.said.template] == "dark.after"
    hours = (e.about.when - when).total_seconds() / 3600
    return _near(v["hours"].value, hours if after else -hours, 0.1)


def _round(t, e, v, line):
    new = [w for name, w in t.phases() if name == "new Moon"]
    begun = max(w for w in new if w <= e.about.when)
    return _near(v["days"].value, (min(w for w in new if w > begun) - begun).total_seconds() / 86400, 0.01)


def _quiz(t, e, v, line):
    name, key = v["name"].text, tables()[line.said.template]
    row = table()[name]
    if "km" in v and key == "quiz.wider":
        wrong = _near(v["km"].value, float(row["size_km"]), 0.06)
        return wrong or (
            "" if float(row["size_km"]) > float(table()[v["other"].text]["size_km"]) else "the other is wider"
        )
    if key == "quiz.north":
        lats = {n.text: float(table()[n.text]["lat"]) for n in v["choices"].parts}
        return "" if max(lats, key=lats.__getitem__) == name else f"{lats}"
    if key == "quiz.side":
        return "" if v["side"].word == ("east" if float(row["lon"]) > 0 else "west") else row["lon"]
    return ""


def _named_place(t, e, v, line):
    return "" if f"about:{v['of'].text}" in line.facts else "of another place"


CHECKS: dict[str, Check] = {
    "quiz.wider": _quiz, "quiz.north": _quiz, "quiz.side": _quiz, "quiz.person": TOUR_CHECKS["person.named"], "quiz.person_who": TOUR_CHECKS["person.named"],
    "tomorrow.calendar_on": _calendar,
    "dark.sun": lambda t, e, v, line: _near(v["degrees"].value, t.at(e.about.when, None)["elongation_deg"], 0.1),
    "dark.far_noon": _far_noon, "dark.before": _new_moon, "dark.after": _new_moon, "dark.round": _round,
    "dark.distance": lambda t, e, v, line: _near(v["km"].value, t.at(e.about.when, None)["distance_km"], 550),
    "opening.percent": _lit,
    "opening.phase_days": _next_phase,
    "opening.phase_hours": _next_phase,
    "opening.menu": lambda t, e, v, line: _near(v["count"], len(e.pictures), 0),
    "recap.grown_yesterday": _trend, "recap.shrunk_yesterday": _trend, "recap.grown": _trend, "recap.shrunk": _trend,
    "recap.moved_yesterday": _moved, "recap.moved": _moved,
    "recap.pause": _pause,
    "recap.higher": _since, "recap.lower": _since, "recap.dark": _since,
    "recap.risen": _changed(1, 0, False), "recap.set": _changed(1, 0, True),
    "recap.places": _back, "recap.largest": _back, "recap.smallest": _back, "recap.northernmost": _back,
    "recap.southernmost": _back, "recap.ideas": _back,
    "pictures.find": _find, "tomorrow.sets_later": _hours, "tomorrow.rises_later": _hours,
    "pictures.sky": _sky, "pictures.turned": _turned, "pictures.turned_far": _turned, "pictures.chosen": _chosen, "pictures.chosen_high": _chosen,
    "directions.edge_rise": _edge, "directions.edge_set": _edge, "directions.edge_zero_rise": _edge,
    "directions.edge_zero_set": _edge, "directions.mosting": _km,
    "tomorrow.grown": _trend, "tomorrow.shrunk": _trend, "tomorrow.next_time": _lit_then,
    "tomorrow.reached": _tomorrow(False), "tomorrow.left": _tomorrow(True),
    "tomorrow.ahead_pick_reached": _named_place, "tomorrow.ahead_pick_left": _named_place,
    "tomorrow.size": _km, "tomorrow.ahead_size": _km, "tomorrow.like": _like,
    "tomorrow.ahead_reached": _ahead(False), "tomorrow.ahead_left": _ahead(True), "tomorrow.ahead_percent": _lit_then,
    "tomorrow.calendar": _calendar, "tomorrow.young": _young,
    **TOUR_CHECKS,
}  # fmt: skip

#: Places of templates that no sky and no catalogue decides: whose picture it is, and what was written of it.
PEOPLE = {"credit", "place", "instrument", "programme", "story", "words", "title", "when"}


def mistakes(truth: Truth, episode: Episode, script: Script) -> list[str]:
    """What is wrong in a script, and what nobody has checked that has a number or a name in it."""
    found = []
    for line in script.lines:
        values, key = dict(line.said.values), tables().get(line.said.template, "")
        spoken = [n for n in re.findall(r"{(\w+)}", line.said.template) if n not in PEOPLE]
        if key in CHECKS:
            wrong = CHECKS[key](truth, episode, values, line) if spoken else ""
        elif line.facts and line.facts[0].startswith(("idea:", "more:")):
            wrong = _idea(truth, episode, line)
        elif key == "farewell.thanks":
            wrong = "" if {n.text for n in values["names"].parts} <= {p.credit for p in episode.pictures} else "names"
        elif key == "pictures.date":
            wrong = ""
        else:
            wrong = f"nobody checks {spoken}" if spoken else ""
        if wrong:
            found.append(f"{episode.day} {key}: {in_english(line.said)} ({wrong})")
        text = in_english(line.said)
        if re.search(r"\b(yesterday|last night)\b", text, re.IGNORECASE) and not key.startswith("idea"):
            last = episode.history[-1].day if episode.history else None
            if last != episode.day - timedelta(days=1):
                found.append(f"{episode.day} {key}: {text} (no episode was the day before)")
    return found


def _idea(truth: Truth, episode: Episode, line: Line) -> str:
    from tests.core.test_ideas import CHECKS as IDEA_CHECKS

    key, about = line.facts[0].split(":")[1], episode.about
    values = {
        k: Name(_plain(v)) if isinstance(v, Message) and "feature" in dict(v.values) else v for k, v in line.said.values
    }
    feature = _spot(episode, line)
    for name, part in values.items():
        if isinstance(part, Number) and "{" + name + "}" in line.said.template and key != "eclipses":
            expected, slack = IDEA_CHECKS[key, name](feature, values, truth.at(about.when, about.place), about)
            if key == "distance":
                expected, slack = IDEA_CHECKS[key, name](feature, values, truth.at(about.when, None), about)
            if abs(part.value - expected) > max(slack, 0.3):
                return f"{name} is {expected}"
    return ""


def _spot(episode: Episode, line: Line) -> str:
    from moondesk.ideas.library import IDEAS, tell

    idea = next(i for i in IDEAS if i.key == episode.idea)
    return next(
        (p.feature for p in tell(idea, episode.about).long for m in p.said if m.template == line.said.template), ""
    )


def worst_shared(scripts: list[Script]) -> tuple[float, int, int]:
    """The largest share of its sentences that a script has in common with another, and which two."""
    spoken = [set(sentences_of(write_script(s, in_english))) for s in scripts]
    pairs = ((len(a & b) / min(len(a), len(b)), i, j) for (i, a), (j, b) in combinations(enumerate(spoken), 2))
    return max(pairs, default=(0.0, 0, 0))


def told_twice_as_new(episodes: list[tuple[Episode, Script]]) -> list[str]:
    """Facts of what is new and of ideas that more than one script of a lunation tells."""
    seen: dict[str, object] = {}
    found = []
    for episode, script in episodes:
        for fact in {f for line in script.lines for f in line.facts if f.startswith(("new:", "idea:"))}:
            if fact in seen:
                found.append(f"{fact}: {seen[fact]} and {episode.day}")
            seen[fact] = episode.day
    return found
