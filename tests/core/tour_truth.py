"""What the walk over the Moon and the talk of its dark part say, computed again: DE421, the catalogue's and the namesakes'
plain tables, areas by points thrown at random, rounding by its own rule. Used by `script_truth`."""

from __future__ import annotations

import math
from datetime import timedelta
from functools import cache

from moondesk.notes.comparisons import CITIES
from tests.core.notes_truth import HALF_SUN, ground, lit, namesake_rows, rank, table

#: Years of landings (from memory).
LANDED = {"Luna 9": 1966, "Surveyor 1": 1966, "Luna 13": 1966, "Surveyor 3": 1967, "Surveyor 5": 1967, "Surveyor 6": 1967,
          "Surveyor 7": 1968, "Apollo 11": 1969, "Apollo 12": 1969, "Luna 16": 1970, "Luna 17": 1970, "Apollo 14": 1971,
          "Apollo 15": 1971, "Apollo 16": 1972, "Apollo 17": 1972, "Luna 20": 1972, "Luna 21": 1973, "Luna 23": 1974,
          "Luna 24": 1976, "Chang'e 3": 2013, "Chang'e 5": 2020, "Chandrayaan-3": 2023, "SLIM": 2024}  # fmt: skip
#: Where they lie, to a degree (from memory): the Sun's height is told to a degree.
SITES = {"Luna 9": (7.1, -64.4), "Surveyor 1": (-2.5, -43.3), "Luna 13": (18.9, -62.1), "Surveyor 3": (-3.0, -23.4),
         "Surveyor 5": (1.5, 23.2), "Surveyor 6": (0.5, -1.4), "Surveyor 7": (-41.0, -11.5), "Apollo 11": (0.7, 23.5),
         "Apollo 12": (-3.0, -23.4), "Luna 16": (-0.5, 56.4), "Luna 17": (38.2, -35.0), "Apollo 14": (-3.6, -17.5),
         "Apollo 15": (26.1, 3.6), "Apollo 16": (-9.0, 15.5), "Apollo 17": (20.2, 30.8), "Luna 20": (3.8, 56.6),
         "Luna 21": (26.0, 30.4), "Luna 23": (12.7, 62.2), "Luna 24": (12.7, 62.2), "Chang'e 3": (44.1, -19.5),
         "Chang'e 5": (43.1, -51.9), "Chandrayaan-3": (-69.4, 32.3), "SLIM": (-13.3, 25.3)}  # fmt: skip
SHARES = {"a tenth": 0.1, "a fifth": 0.2, "a quarter": 0.25, "a third": 1 / 3, "two fifths": 0.4, "half": 0.5,
          "three fifths": 0.6, "two thirds": 2 / 3, "three quarters": 0.75, "four fifths": 0.8, "nine tenths": 0.9}  # fmt: skip
WORDS = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
         "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth", "seventeenth", "eighteenth", "nineteenth",
         "twentieth")  # fmt: skip


@cache
def people() -> dict[str, dict[str, str]]:
    return {r["name"]: r for r in namesake_rows()}


def _off(value: float, truth: float, within: float) -> str:
    return "" if abs(value - truth) <= within else f"{value} is {truth:.2f}"


def _place(name: str) -> tuple[float, float]:
    return SITES[name] if name in SITES else (float(table()[name]["lat"]), float(table()[name]["lon"]))


def sun(t, name: str, when) -> float:
    at = t.at(when, None)
    lat, lon = (math.radians(x) for x in _place(name))
    b, l0 = math.radians(at["sub_solar_lat_deg"]), math.radians(at["sub_solar_lon_deg"])
    return math.degrees(math.asin(math.sin(lat) * math.sin(b) + math.cos(lat) * math.cos(b) * math.cos(lon - l0)))


def share(t, name: str, when) -> float:
    at = t.at(when, None)
    return float(lit(ground(name), at["sub_solar_lat_deg"], at["sub_solar_lon_deg"]).mean())


def is_night(t, name: str, when) -> bool:
    """All of it, with what a high rim may catch."""
    at = t.at(when, None)
    points = ground(name)
    return float(lit(points, at["sub_solar_lat_deg"], at["sub_solar_lon_deg"], 3.6).mean()) <= 0.05


def grows(t, e) -> bool:
    return t.lit(e.about.when + timedelta(hours=3), None) > t.lit(e.about.when, None)


def _crossing(t, e, name: str, hours: float, height: float = -HALF_SUN) -> str:
    """The Sun's height over its middle so many hours from now."""
    at = sun(t, name, e.about.when + timedelta(hours=hours))
    return "" if abs(at - height) <= 0.12 else f"the Sun stands at {at:.2f} then"


def _size(t, e, v, line):
    if "km" not in v:
        return ""
    size = float(table()[v["of"].text]["size_km"])
    wrong = _off(v["km"].value, size, 0.5 if size < 299.5 else 5.0 if size < 995 else 25.0)
    if not wrong and "{here}" in line.said.template:
        (a, b), (c, d) = ([math.radians(x) for x in CITIES[v[k].word]] for k in ("here", "there"))
        h = math.sin((c - a) / 2) ** 2 + math.cos(a) * math.cos(c) * math.sin((d - b) / 2) ** 2  # haversine
        wrong = _off(2 * 6371.0 * math.asin(math.sqrt(h)), size, 0.082 * size)
    return wrong or _in_light(t, e, v["of"].text)


def _in_light(t, e, name: str) -> str:
    return "" if sun(t, name, e.about.when) > -0.1 or share(t, name, e.about.when) > 0.04 else f"{name} is dark"


def _known(t, e, v, line):
    told = next((k for k, one in enumerate(reversed(e.history)) if line.facts[0] in one.facts), None)
    return "" if told is not None and told < 8 else "it was not told lately"


def _promised(t, e, v, line):
    kept = f"next:{v['of'].text}" in e.history[-1].facts and grows(t, e)
    return "" if kept else "it was not promised"


def _new(t, e, v, line):
    name = next(f for f in line.facts if f.startswith("new:")).removeprefix("new:")
    return "" if is_night(t, name, e.before.utc) and not is_night(t, name, e.about.when) else f"{name} is not new"


def _light(t, e, v, line):
    name, spoken = v["of"].text, line.said.template
    now = sun(t, name, e.about.when)
    if "{degrees}" in spoken:
        return _off(v["degrees"].value, now, 0.55)
    if "{times}" in spoken:
        return _off(v["times"].value, 1 / math.tan(math.radians(now)), 0.52 + 0.02 * v["times"].value)
    return ""


def _since(sign: int):
    def check(t, e, v, line):
        if grows(t, e) != (sign < 0):
            return "the Moon shrinks" if sign < 0 else "the Moon grows"
        hours = v["exact_hours"].value
        wrong = _crossing(t, e, v["of"].text, sign * hours)
        if "{hours}" in line.said.template:
            wrong = wrong or _off(v["hours"].value, hours, 0.51)
        if "{days}" in line.said.template:
            wrong = wrong or _off(v["days"].value, hours / 24, 0.51)
        if "hour" not in line.said.template and "days" not in line.said.template:
            wrong = wrong or ("" if hours <= 1.3 else f"that is {hours} hours off")
        return wrong

    return check


def _part(t, e, v, line):
    name = v["of"].text
    return _off(SHARES[v["fraction"].word], share(t, name, e.about.when), 0.09)


def _part_moving(rises: bool):
    return lambda t, e, v, line: _part(t, e, v, line) if grows(t, e) == rises else "the light goes the other way"


def _imbrium(t, e, v, line):
    before = share(t, v["of"].text, e.before.utc) if e.before else 1.0
    if "new:Mare Imbrium" in line.facts and before > 0.4:
        return f"{before:.2f} of it was lit before"
    return _part(t, e, v, line) if "fraction" in line.said.template else ""


def _nubium(t, e, v, line):
    before, now = (share(t, v["of"].text, w) for w in (e.before.utc, e.about.when))
    return "" if before < 0.16 and 0.05 < now < 0.95 and grows(t, e) else f"{before:.2f} and {now:.2f} of it"


def _rank(t, e, v, line):
    name = line.facts[0].removeprefix("rank:")
    mine = rank(name)
    return "" if mine == (v["rank"] if "{ordinal}" in line.said.template else 1) and v["ordinal"].word in ("", WORDS[mine]) else f"it is {mine}"  # fmt: skip


def _pair(t, e, v, line):
    one, other = v["one"].text, v["other"].text
    if (rank(one), rank(other)) != (2, 3) or (v["first"].word, v["next"].word) != ("second", "third"):
        return "they rank otherwise"
    if min(share(t, n, e.about.when) for n in (one, other)) < 0.15:
        return "not both are lit"
    return _off(v["km"].value, float(table()[one]["size_km"]), 0.5) or _off(v["other_km"].value, float(table()[other]["size_km"]), 0.5)  # fmt: skip


def _near(t, e, v, line):
    a, b = v["of"].text, v["other"].text
    (lat, lon), (lat2, lon2) = (_place(n) for n in (a, b))
    north = lat2 - lat
    east = (lon2 - lon) * math.cos(math.radians((lat + lat2) / 2))
    words = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    bearing = math.degrees(math.atan2(east, north)) % 360
    off = abs((words.index(v["side"].word) * 45 - bearing + 180) % 360 - 180)
    gap = math.hypot(north, east) * 30.3 - (float(table()[a]["size_km"]) + float(table()[b]["size_km"])) / 2
    return (
        ""
        if off < 32 and gap < 75 and not _in_light(t, e, b)
        else f"it lies {bearing:.0f} degrees round, {gap:.0f} km off"
    )


def century(word: str) -> int:
    number = WORDS.index(word.split(" ")[0])
    return -number if word.endswith("before Christ") else number


def _years(row: dict[str, str]) -> tuple[int, int]:
    years = [int(row[k]) for k in ("born", "flourished", "died") if row[k]]
    return min(years), max(years)


def _person(t, e, v, line):
    row = people()[v["of"].text]
    number = century(v["century"].word)
    first, last = (100 * number - 99, 100 * number) if number > 0 else (100 * number, 100 * number + 99)
    born, died = _years(row)
    if row["died"] and len([k for k in ("born", "flourished") if row[k]]) == 0:
        born = died - 70
    who = f"{row['given']} {row['surname']}".strip()
    good = v["nation"].word in row["nations"].split(";") and v["trade"].word in row["occupations"].split(";")
    good = (
        good and v["who"].text == who and born <= last and (died >= first or (not row["died"] and born + 60 >= first))
    )
    return "" if good else f"{who}: {row['nations']}, {row['occupations']}, {born} to {died}"


def _three(t, e, v, line):
    names = [n.text for n in v["names"].parts]
    rows = [people()[n] for n in names]
    lats = [float(table()[n]["lat"]) for n in names]
    column = "occupations" if v["shared"].word in rows[0]["occupations"].split(";") else "nations"
    good = len(names) == 3 and lats == sorted(lats, reverse=True) and all(v["shared"].word in r[column].split(";") for r in rows)  # fmt: skip
    if line.said.template.count("antiquity") or "before Christ" in line.said.template:
        good = good and all(_years(r)[1] < 0 for r in rows)
    return "" if good and not any(_in_light(t, e, n) for n in names) else f"{names} do not share {v['shared'].word}"


def _ranges(t, e, v, line):
    names = [f.removeprefix("stop:") for f in line.facts]
    low = [n for n in names if sun(t, n, e.about.when) < 0.9]
    return "" if len(names) == len(v["ranges"].parts) and not low else f"{low} are dark"


def _landing(t, e, v, line):
    mission = v["mission"].text
    crew = mission.startswith("Apollo")
    good = v["year"] == LANDED[mission] and sun(t, mission, e.about.when) > 1.5
    return "" if good and crew == ("crew" in _table_of(line)) else f"{mission} landed in {LANDED[mission]}"


def _table_of(line) -> str:
    from tests.core.script_truth import tables

    return tables()[line.said.template]


def _shared(t, e, v, line):
    kind, _, word = line.facts[0].removeprefix("walk:").partition(" ")
    told = v["shared"].word
    return "" if (century(told) == int(word) if kind == "century" else told == word) else f"the walk is of {word}"


def _dark_share(t, e, v, line):
    grow = "share_set" not in _table_of(line)
    wrong = _off(v["percent"].value, 100 - t.lit(e.about.when, e.about.place), 0.6)
    return wrong or ("" if grows(t, e) == grow else "the light goes the other way")


def _in_days(sign: int, height: float = -HALF_SUN):
    def check(t, e, v, line):
        name, days = v["of"].text, v["exact_days"].value
        wrong = _off(v["days"].value, days, 0.51) or _crossing(t, e, name, sign * days * 24, height)
        if not wrong and height < 0 and not is_night(t, name, e.about.when):
            wrong = "it is not dark"
        if not wrong and sign > 0 and "largest" in line.said.template:
            wrong = "" if rank(name) == 1 else "it is not the largest"
        return wrong or ("" if "{km}" not in line.said.template else _off(v["km"].value, float(table()[name]["size_km"]), 5.0))  # fmt: skip

    return check


def _rays(state: str):
    def check(t, e, v, line):
        now, days = sun(t, "Tycho", e.about.when), v["exact_days"].value
        at = sun(t, "Tycho", e.about.when + timedelta(days=days))
        good = abs(at - 15.0) < 0.3 and abs(v["days"].value - days) < 0.51 and grows(t, e)
        if state == "dark":
            good = good and is_night(t, "Tycho", e.about.when)
        elif state == "edge":
            good = good and -5.5 < now < 1.1
        else:
            good = good and 0.9 < now < 15.0 and (state != "soon" or days < 1.75)
        return "" if good else f"the Sun stands at {now:.1f} over it, and at {at:.1f} in {days} days"

    return check


CHECKS = {
    **dict.fromkeys(
        (f"stop.{k}{known}{on}" for k in ("crater", "sea", "long") for known in ("", "_known") for on in ("", "_on")), _size
    ),
    "stop.mountain": _size, "stop.plain": _size, "stop.promised": _promised, "stop.known": _known,
    "stop.known_yesterday": _known, "stop.new": _new,
    "light.low": _light, "light.shadow": _light, "light.middling": _light, "light.high": _light,
    "light.just_up": _since(-1), "light.hours_up": _since(-1), "light.days_up": _since(-1),
    "light.just_down": _since(1), "light.hours_left": _since(1), "light.days_left": _since(1),
    "light.part_rise": _part_moving(True), "light.part_set": _part_moving(False),
    "imbrium.new": _imbrium, "imbrium.more": _imbrium, "imbrium.plain": _imbrium, "imbrium.ranges": _ranges,
    "nubium.new": _nubium, "rank.first": _rank, "rank.further": _rank, "rank.pair": _pair, "near.beside": _near,
    **{f"person.{k}{walk}": _person for k in ("named", "same") for walk in ("", "_century", "_trade", "_nation")},
    "people.old_nation": _three, "people.nation": _three,
    "people.trade": _three, "theme.nation": _shared, "theme.trade": _shared, "theme.century": _shared,
    **{f"landing.{k}{on}": _landing for k in ("crew", "craft") for on in ("", "_on")},
    "hidden.share": _dark_share, "hidden.share_set": _dark_share, "hidden.largest": _in_days(1),
    "hidden.comes": _in_days(1), "hidden.back": _in_days(1), "hidden.gone": _in_days(-1),
    **{f"hidden.rays_{k}": _rays(k) for k in ("dark", "edge", "low", "soon")},
}  # fmt: skip


def mistakes(truth, episode, script) -> list[str]:
    """What is wrong in the walk and in the talk of the dark part, and what nobody checks that has a place in it."""
    from moondesk.notes.messages import in_english
    from moondesk.notes.messages import places_of as places

    found = []
    for item in script.items:
        if item.kind in ("tour", "hidden"):
            for line in (x for paragraph in item.paragraphs for x in paragraph):
                check = CHECKS.get(_table_of(line))
                if check is None and places(line.said.template):
                    found.append(f"nobody checks {line.said.template}")
                elif check is not None and (wrong := check(truth, episode, dict(line.said.values), line)):
                    found.append(f"{episode.day} {item.kind}: {in_english(line.said)} ({wrong})")
    return found
