"""Where a picture was taken, as its sender tells it: towns of a gazetteer where a language's words make one likely. Pure.

Many words are a town's name somewhere. One is taken for a place where a label, a preposition, a postposition, the word
"village", a country behind it, or a signature says so, and the more of these speak for it, the better known the town is,
and the less the word is one of the language. Towns of one name: the country's name decides, else those of the letter's
language and time zone come first, and where none stands out two are offered. Keys of [place]: see `time_words`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from itertools import product
from zoneinfo import ZoneInfo

import tzfpy
from babel import Locale, UnknownLocaleError
from babel.languages import get_official_languages

from moondesk.service.gazetteer.sounds import sound_of
from moondesk.service.gazetteer.towns import Town, is_listed, key_of, regions, towns_named, towns_sounding
from moondesk.service.lexicons.folding import Folded, fold
from moondesk.service.lexicons.lexicon import Lexicon, lexicon, likely
from moondesk.service.lexicons.patterns import WORD
from moondesk.service.programme.letter.place_signs import Spot, signs_of
from moondesk.service.programme.letter.plain import lunar_names
from moondesk.service.programme.letter.weighing import weights_of

#: No text is read that is longer; words of a town's name at most; letters of one where words are not parted.
LONGEST, MOST_WORDS, MOST_LETTERS = 20_000, 4, 8
#: What speaks for a place, and how much of it makes one.
LABEL, KIND, COUNTRY, PREPOSITION, SIGNATURE = 4.0, 3.0, 3.0, 2.0, 2.0
#: What a preposition that says much else is worth ("of"), and behind the word for a site ("the balcony of"); a bare name.
OF, OF_A_SITE, BARE = 0.0, 1.5, 0.5
#: Of several towns: one where a picture was taken, is spoken of, where somebody lives, behind a "but".
SHOT, PICTURED, HOME, BUT = 2.0, 1.0, -3.0, 1.5
#: Stands in a statement for the town that it is about.
THERE = "xqx"
#: Two towns that are told as well as each other are both offered: the difference of their chances.
AS_WELL = 0.02
#: By the rules alone a place; looked at.
ENOUGH, LEAST = 3.5, 0.5
#: People of a town that is told by the sound of its name.
WELL_KNOWN = 15_000
#: Towns of one name nearer than this, degrees, are one.
ONE_TOWN = 0.4
#: What is in the sky, as letters in Latin ones name it.
HEAVENLY = frozenset(
    [
        "moon",
        "luna",
        "lua",
        "lune",
        "mond",
        "jupiter",
        "saturn",
        "saturne",
        "saturno",
        "venus",
        "mars",
        "marte",
        "orion",
        "polaris",
        "sirius",
        "vega",
    ]
)
#: Makers of cameras and telescopes.
MAKERS = frozenset(
    [
        "canon",
        "nikon",
        "sony",
        "pentax",
        "olympus",
        "fuji",
        "samsung",
        "redmi",
        "xiaomi",
        "huawei",
        "meade",
        "bresser",
        "celestron",
    ]
)
_WORDS = re.compile(rf"{WORD}+")
_JOINT = re.compile(r"[\s'’\-.]{1,2}")
_LETTERS = re.compile(r"[^\W\d_]")
#: What follows a place in Devanagari.
_LEADS_ON = re.compile(rf",|[, ]+(?:का|की|के|में|मे|से|पर|k[aei]|me|mei?n|se|p[ae]r?|la|madh(?:e|ye)|javal|h?un)(?!{WORD})")
_BEHIND = re.compile(r"[\s,(/\-–]{1,3}")


@dataclass(frozen=True)
class PlaceInWords:
    """A place that may be meant. sure: nothing else can be."""

    town: Town
    words: str
    sure: bool

    @property
    def value(self) -> str:
        """As it is kept: Ruse, BG (43.86, 25.95)."""
        town = self.town
        return f"{town.name}, {town.country} ({town.latitude_deg:.2f}, {town.longitude_deg:.2f})"


@dataclass(frozen=True)
class Candidate:
    """A town that may be the picture's. towns: the likeliest of its name, or two; rank: by the rules alone; signs: what
    speaks for it and against it."""

    spot: Spot
    words: Lexicon
    folded: Folded
    towns: tuple[Town, ...]
    rank: float
    signs: tuple[str, ...] = ()


def read_places(text: str, codes: Sequence[str] = (), written: datetime | None = None) -> tuple[PlaceInWords, ...]:
    """Where the picture was taken, by its sender's words: the likeliest first, two where one name is of two towns.

    codes: languages to read with, the likeliest first; written: the letter's time, in its sender's offset.
    """
    learnt = weights_of("place")
    found = [(learnt.chance(c.signs), c) for c in candidates(text, codes, written)]
    if not found:
        return ()
    best, first = max(found, key=lambda f: (f[0], f[1].rank))
    if best < learnt.bar:
        return ()
    chosen = [(town, first.spot) for town in first.towns]
    for chance, other in sorted(found, key=lambda f: -f[0]):
        if len(chosen) == 1 and other.words is first.words and chance > max(learnt.bar, best - AS_WELL):
            chosen += [(t, other.spot) for t in other.towns[:1] if _apart(t, chosen[0][0])]
    return tuple(
        PlaceInWords(town, " ".join(first.folded.words(at.start, at.end).split()), len(chosen) == 1)
        for town, at in chosen
    )


def candidates(text: str, codes: Sequence[str] = (), written: datetime | None = None) -> list[Candidate]:
    """All towns of a text that may be meant, each with what speaks for it. Arguments as of `read_places`."""
    text = text[:LONGEST]
    found: list[tuple[Candidate, float, float, int]] = []
    for order, code in enumerate(codes or likely(text, 0.5)[:3]):
        words = lexicon(code)
        folded = words.fold(text)
        spots: dict[tuple[int, int], Spot] = {}
        for spot in _spots(folded, words):
            held = spots.get((spot.start, spot.end))
            if held is None or spot.weight > held.weight:
                spots[spot.start, spot.end] = spot
        for spot in spots.values():
            weight = spot.weight + max(_weight(t, spot, words, written) for t in spot.towns)
            role = _role(spot, words, folded.text)
            rank = weight - 0.8 * max(_size(t) for t in spot.towns) + role
            if weight + 0.25 * max(0.0, role) >= LEAST:
                one = Candidate(spot, words, folded, _choose(spot, words, written), rank)
                found.append((one, weight, role, order))
    best = max((one.rank for one, weight, _, _ in found if weight >= ENOUGH), default=0.0)
    made = []
    for one, weight, role, order in found:
        town, words = one.towns[0], one.words
        numbers = [
            ("own", one.spot.weight),
            ("all", weight),
            ("size", _size(town)),
            ("role", role),
            ("best", one.rank - best),
            ("rank", one.rank),
            ("order", order),
            ("others", sum(other.towns[0] != town for other, *_ in found)),
            ("again", sum(other.towns[0] == town for other, *_ in found)),
        ]
        marks = {f"towns {min(len(one.spot.towns), 3)}", f"two {len(one.towns)}", f"rule {weight >= ENOUGH}"}
        marks.add(f"speaks {words.code in _languages(town.country)}")
        marks.add("its own name" if key_of(town.name) == one.spot.name else "another name")
        marks.add(f"clock {written is not None and _keeps(town, written)}")
        spot = replace(one.spot, marks=one.spot.marks | marks)
        made.append(replace(one, signs=tuple(signs_of(spot, numbers, one.folded, words))))
    return made


def _role(spot: Spot, words: Lexicon, text: str) -> float:
    """What the statement says of a town that stands in it: the picture was taken there, somebody lives there."""
    stops = rf"[.!?;:\n\u0964\u3002\u061f]|[,\u060c\u3001](?!\d)|{_either(words, 'place', 'but')}"
    start, but = 0, False
    for match in re.finditer(stops, text[: spot.start]):
        start = match.end()
        but = bool(_WORDS.search(match.group())) or (but and match.group() in ",\u060c\u3001")
    end = next((m.start() for m in re.finditer(stops, text[spot.end :])), len(text) - spot.end) + spot.end
    clause = text[start : spot.start] + f" {THERE} " + text[spot.end : end]
    role = BUT * but
    if re.search(_either(words, "place", "home"), clause):
        role += HOME
    elif re.search(rf"{_either(words, 'time', 'taken')}|{_either(words, 'place', 'shot')}", clause):
        role += SHOT
    elif re.search(_either(words, "time", "picture"), clause):
        role += PICTURED
    return role


def _either(words: Lexicon, section: str, key: str) -> str:
    return "|".join(f"(?:{e})" for e in words.expressions(section, key)) or r"(?!)"


def _apart(one: Town, other: Town) -> bool:
    away = abs(one.latitude_deg - other.latitude_deg) + abs(one.longitude_deg - other.longitude_deg)
    return away > ONE_TOWN


def _choose(spot: Spot, words: Lexicon, written: datetime | None) -> tuple[Town, ...]:
    """The town of a name, or the two likeliest."""
    towns = [t for t in spot.towns if t.region == spot.region and t.country == spot.country] if spot.region else []
    towns = towns or [t for t in spot.towns if t.country == spot.country] or list(spot.towns)
    ranked = sorted(towns, key=lambda t: (-_weight(t, spot, words, written), -t.people))
    first = ranked[0]
    rivals = [
        t
        for t in ranked[1:]
        if _apart(t, first)
        and _weight(t, spot, words, written) > _weight(first, spot, words, written) - 1.0
        and t.people * 8 > first.people
    ]
    return (first, *rivals[:1])


def _weight(town: Town, spot: Spot, words: Lexicon, written: datetime | None) -> float:
    """What speaks for one of the towns of a name: its people, its language, its clock, the name as its first one."""
    speaks = 1.0 if words.code in _languages(town.country) else 0.0
    own = 1.0 if key_of(town.name) == spot.name or not spot.name.isascii() else 0.0
    return _size(town) + speaks + own + (0.5 if written is not None and _keeps(town, written) else 0.0)


def _size(town: Town) -> float:
    return sum(0.5 for limit in (2_000, 10_000, 50_000, 300_000) if town.people >= limit)


@cache
def _languages(country: str) -> frozenset[str]:
    found = {str(c).split("_")[0] for c in get_official_languages(country, regional=True, de_facto=True)}
    return frozenset(found | ({"en"} if country in ("US", "GB", "IN", "IE", "AU", "NZ", "CA", "ZA") else set()))


@cache
def _zone(latitude: float, longitude: float) -> ZoneInfo | None:
    try:
        return ZoneInfo(tzfpy.get_tz(longitude, latitude))
    except (ValueError, OSError, KeyError):
        return None


def _keeps(town: Town, written: datetime) -> bool:
    """Whether the town's clocks have the letter's offset."""
    zone = _zone(town.latitude_deg, town.longitude_deg)
    return zone is not None and written.astimezone(zone).utcoffset() == written.utcoffset()


def by_clocks_of(places: Sequence[PlaceInWords], written: datetime) -> datetime:
    """A letter's time by its writer's clock: many programs write all in UTC, and then a sure place tells the zone."""
    zone = _zone(places[0].town.latitude_deg, places[0].town.longitude_deg) if len(places) == 1 else None
    return written.astimezone(zone) if zone is not None and not written.utcoffset() else written


# Where a town's name may stand


def _spots(folded: Folded, words: Lexicon) -> Iterator[Spot]:
    text = folded.text
    fields = list(_fields(text, words))
    starts: dict[int, float] = {}
    for first, last in fields:
        starts[first] = max(starts.get(first, 0.0), LABEL)
        for comma in re.finditer(r"[,/(]\s*", text[first:last]):
            starts.setdefault(first + comma.end(), LABEL - 1.5)
    kinds = _pattern(words, "kinds")
    for match in _finds(words, "before", text):
        starts[_after_space(text, match.end())] = max(starts.get(_after_space(text, match.end()), 0.0), PREPOSITION)
    for match in kinds.finditer(text) if kinds else ():
        start = _after_space(text, match.end())
        starts[start] = starts.get(start, 0.0) + KIND
    for match in _finds(words, "of", text):
        before = text[max(0, match.start() - 30) : match.start()]
        led = re.search(rf"({WORD}+)\W*$", before)
        if led and re.search(r"(?:^|[.!?\n])\W*$", before[: led.start()]) is None:
            leading = folded.words(match.start() - len(before) + led.start(), match.start())
            if leading[:1].isupper():  # a person's name, or a body's
                continue
        site = re.search(rf"(?:{_either(words, 'place', 'sites')})(?:\W+{WORD}+)?\W*$", before)
        starts.setdefault(_after_space(text, match.end()), OF_A_SITE if site else OF)
    for start in _signed(folded, words):
        starts.setdefault(start, SIGNATURE)
    for first, last in fields:  # "Town: near the village of Foo" says Foo
        stop = first + len(re.split(r"[,/(]", text[first:last])[0])
        starts |= {start: max(w, LABEL) for start, w in starts.items() if first <= start < stop}
    for label in words.expressions("labels", "name"):  # "Credit: Ann Lee, Leeds"
        for match in re.finditer(
            rf"(?m)^\W{{0,4}}(?:{label})[^:\n]{{0,30}}:[^,\n]{{2,50}},\s*(?=[^,\n]{{2,30}}$)", text
        ):
            starts.setdefault(match.end(), SIGNATURE)
    # on a friend's balcony somewhere a picture may be taken, a friend who is from there says nothing
    at_site = re.compile(rf"(?:{_either(words, 'place', 'sites')})\W+(?:{WORD}+\W+){{0,2}}$")
    away = [
        m.span()
        for m in _finds(words, "elsewhere", text)
        if not at_site.search(text[max(0, m.start() - 40) : m.start()])
    ]
    # Where words follow their noun, what is said of a place may stand behind it.
    behind = 6 if words.expressions("place", "after") else -1
    regional = [_after_space(text, m.end()) for m in _finds(words, "regions", text)]
    every = {
        "starts": _from_starts(folded, words, starts),
        "postpositions": _before_postpositions(folded, words),
        "beginnings": _with_beginnings(folded, words),
        "endings": _with_endings(folded, words) if words.writing.spaces else _before_kinds(folded, words, fields),
        "countries": _before_countries(folded, words),
        "bare": _bare(folded, words),
        "names": _names(folded, words),
    }
    for by, spots in every.items():
        for spot in spots:
            marks = set()
            if spot.start in regional:
                marks.add("region")
            if any(0 <= spot.start - end <= 20 or 0 <= start - spot.end <= behind for start, end in away):
                marks.add("elsewhere")
            if any(a <= spot.start < b for a, b in fields):
                marks.add("in a field")
                if spot.weight < LABEL - 1.5:
                    continue
            yield replace(spot, by=by, marks=frozenset(marks))


def _fields(text: str, words: Lexicon) -> Iterator[tuple[int, int]]:
    for label in (*words.expressions("labels", "place"), *words.expressions("place", "labels")):
        for match in re.finditer(
            rf"(?m)(?:^[^\w\n]{{0,4}}|[.;|\u0964] )(?:{label})[^:：.\n]{{0,30}}[:：=-]\s*([^\n]+)", text
        ):
            yield match.span(1)


def _signed(folded: Folded, words: Lexicon) -> Iterator[int]:
    """Behind the last comma of a last line of few words: "Ann, Leeds", "Yours, Ann, Leeds", not "Best wishes, Victoria"."""
    text = folded.text
    lines = [m for m in re.finditer(r"[^\n]+", text) if m.group().strip()][-5:]
    for line in lines:
        parts = re.split("[,،、]", line.group())
        if len(parts) not in (2, 3) or len(line.group()) > 70 or not all(0 < len(p.split()) <= 5 for p in parts):
            continue
        if re.search(r"[!?;:।]", line.group()):
            continue
        greets = all(words.knows(w) for w in _WORDS.findall(parts[0]))
        if not greets:
            yield _after_space(text, line.start() + len(parts[0]) + 1)
        if len(parts) == 3:
            second = _after_space(text, line.start() + len(parts[0]) + 1)
            named = folded.words(second, second + 1).isupper() or not all(
                words.knows(w) for w in _WORDS.findall(parts[1])
            )
            if named or not greets:
                yield _after_space(text, line.start() + len(parts[0]) + len(parts[1]) + 2)


def _after_space(text: str, at: int) -> int:
    while at < len(text) and (text[at].isspace() or text[at] in "'\"(.„“"):
        at += 1
    return at


def _pattern(words: Lexicon, key: str) -> re.Pattern[str] | None:
    said = words.expressions("place", key)
    return re.compile("|".join(f"(?:{e})" for e in said)) if said else None


def _finds(words: Lexicon, key: str, text: str) -> Iterator[re.Match[str]]:
    pattern = _pattern(words, key)
    for match in pattern.finditer(text) if pattern else ():
        if match.group():
            yield match


def _from_starts(folded: Folded, words: Lexicon, starts: Mapping[int, float]) -> Iterator[Spot]:
    text = folded.text
    for start, weight in starts.items():
        if words.writing.spaces:
            ends = list(_ends(text, start))
        else:
            ends = [start + n for n in range(min(MOST_LETTERS, len(text) - start), 0, -1)]
        for end in ends:
            spot = _spot(folded, words, start, end, weight)
            if spot:
                yield spot
                break


def _ends(text: str, start: int) -> list[int]:
    """Ends of the first words from a place on, of the most words first."""
    ends: list[int] = []
    at = start
    while len(ends) < MOST_WORDS:
        word = _WORDS.match(text, at)
        if not word:
            break
        ends.append(word.end())
        joint = _JOINT.match(text, word.end())
        if not joint or "\n" in joint.group():
            break
        at = joint.end()
    return ends[::-1]


def _before_postpositions(folded: Folded, words: Lexicon) -> Iterator[Spot]:
    text = folded.text
    for match in _finds(words, "after", text):
        end = len(text[: match.start()].rstrip(" '\")(」』"))
        if not words.writing.spaces:
            begins = list(range(max(0, end - MOST_LETTERS), end))
        else:
            begins = [w.start() for w in _WORDS.finditer(text, max(0, end - 60), end)][-3:]
        for begin in begins:
            if "\n" in text[begin:end]:
                continue
            spot = _spot(folded, words, begin, end, PREPOSITION)
            if spot:
                yield spot
                break


def _with_beginnings(folded: Folded, words: Lexicon) -> Iterator[Spot]:
    """Words that a preposition is joined to; they speak for large towns alone, as many words begin with its letter."""
    said = fold(str(words.table.get("place", {}).get("prefix", ""))).text
    for match in re.finditer(rf"(?<!{WORD})(?:{said})(?={WORD}{{4}})", folded.text) if said else ():
        for end in _ends(folded.text, match.end()):
            if spot := _spot(folded, words, match.end(), end, 0.0):
                yield spot
                break


def _with_endings(folded: Folded, words: Lexicon) -> Iterator[Spot]:
    """Words that carry an ending of a place."""
    said = fold(str(words.table.get("place", {}).get("suffix", ""))).text
    if not said:
        return
    ending = re.compile(rf"(?:{said})$")
    for word in _WORDS.finditer(folded.text):
        if ending.search(word.group()):
            for begin in (_word_before(folded.text, word.start()), word.start()):
                if begin is not None and (spot := _spot(folded, words, begin, word.end(), PREPOSITION, bare=False)):
                    yield spot
                    break


def _before_kinds(folded: Folded, words: Lexicon, fields: Sequence[tuple[int, int]]) -> Iterator[Spot]:
    """Of a script without spaces: before the sign for a city, a village, a ward."""
    said = fold(str(words.table.get("place", {}).get("suffix", ""))).text
    for match in re.finditer(said, folded.text) if said else ():
        weight = PREPOSITION if not any(a <= match.start() < b for a, b in fields) else LABEL + 1.0
        for begin in range(max(0, match.start() - MOST_LETTERS), match.start() - 1):
            if spot := _spot(folded, words, begin, match.start(), weight):
                yield spot
                break


def _before_countries(folded: Folded, words: Lexicon) -> Iterator[Spot]:
    """Words that a country's name follows."""
    text, countries = folded.text, _countries(words.code)
    found = list(_WORDS.finditer(text)) if words.writing.spaces else []
    for k, first in enumerate(found):
        if not any(key_of(text[first.start() : end]) in countries for end in _ends(text, first.start())[-2:]):
            continue
        for begin in found[max(0, k - MOST_WORDS) : k]:
            end = found[k - 1].end()
            if not re.search(r"[\n.!?;:]", text[begin.start() : first.start()]) and (
                spot := _spot(folded, words, begin.start(), end, 0.5)
            ):
                yield spot
                break


def _bare(folded: Folded, words: Lexicon) -> Iterator[Spot]:
    """Of a script without capitals: names that are listed as towns' and are no words of the language."""
    if not words.scripts[0].startswith("DEVANAGARI"):
        return
    for word in _WORDS.finditer(folded.text):
        if (is_listed(word.group()) or _is_capital(folded, *word.span())) and not words.knows(word.group()):
            spot = _spot(folded, words, word.start(), word.end(), BARE)
            behind = folded.written[folded.span(*word.span())[1] :]
            if spot and (_role(spot, words, folded.text) > 0 or _LEADS_ON.match(behind)):
                yield spot


def _names(folded: Folded, words: Lexicon) -> Iterator[Spot]:
    """Names that are a town's, wherever they stand: words with a capital; of a script without, words that the language
    does not know."""
    text = folded.text
    cased = not words.writing.spaces or words.scripts[0] in ("LATIN", "CYRILLIC")
    done = 0
    for word in _WORDS.finditer(text):
        if word.start() < done or len(word.group()) < 2 or word.group().isdigit():
            continue
        written = folded.words(*word.span())
        if written[:1].isupper() if cased and words.writing.spaces else not words.knows(word.group()):
            ends = _ends(text, word.start()) if words.writing.spaces else [word.end()]
            for end in ends:
                if spot := _spot(folded, words, word.start(), end, BARE):
                    done = end
                    yield spot
                    break


def _is_capital(folded: Folded, start: int, end: int) -> bool:
    """Whether a great town's name stands there in Latin letters."""
    written = folded.words(start, end)
    return written[:1].isupper() and written.isascii() and any(t.people >= WELL_KNOWN for t in towns_named(written))


def _word_before(text: str, at: int) -> int | None:
    found = re.search(rf"({WORD}+)[ \-]$", text[max(0, at - 30) : at])
    return None if found is None else max(0, at - 30) + found.start(1)


# What a town's name is


def _spot(folded: Folded, words: Lexicon, start: int, end: int, weight: float, bare: bool = True) -> Spot | None:
    """A stretch as a town's name, with what its own form and what stands behind it say; None where it is none."""
    text = folded.text[start:end]
    if not words.writing.spaces and (_is_cut(folded.text, start, end) or re.fullmatch("[ぁ-ゖ]{1,2}", text)):
        return None
    plain = fold(folded.words(start, end)).text
    name, towns = (key_of(plain), towns_named(plain)) if plain.isascii() and not text.isascii() else ("", ())
    if not towns:
        name, towns = _towns(text, words, bare)
    if not towns and plain != text:  # the "ue" of Quedlinburg is no "ü"
        name, towns = _towns(plain, words, bare)
    if not towns or not _LETTERS.search(name) or name in lunar_names() or name in HEAVENLY or name in MAKERS:
        return None
    countries = _countries(words.code)
    if name in countries and not _is_another(towns[0], countries[name]):
        return None
    if name.isascii() and len(name) <= 3 and all(key_of(t.name) != name for t in towns):  # an airport's letters
        return None
    if not name.isascii() and not towns_named(name):  # told by its sound
        weight -= 1.0 if not words.knows(name.rstrip("ािीुूेैोौ")) else 2.5
        if len(sound_of(name)) < 5 and weight < KIND - 1.0:
            return None
    if name in words.words("place", "never") or text in words.words("place", "never"):
        return None
    country, region = _behind(folded, end, words)
    if name in regions() and not country:
        return None
    parts = name.split()
    written = folded.words(start, end)
    weight -= _common(parts, written, words) if weight < LABEL else 0.0
    if not country and _goes_on(folded, end, words):
        return None
    weight += 0.5 * (len(parts) > 1) + COUNTRY * bool(country and any(t.country == country for t in towns))
    if written[:1].islower():
        weight -= 2.0 if any(c.isupper() for c in folded.written) else 0.5
    return Spot(start, end, name, towns, weight, country, region)


def _is_cut(text: str, start: int, end: int) -> bool:
    """Whether a stretch is a part of a longer word in Katakana, or a prefecture."""
    katakana = re.compile("[ァ-ヺー]")
    if text[end : end + 1] in tuple("県州"):
        return True
    return any(0 < at < len(text) and katakana.match(text[at - 1]) and katakana.match(text[at]) for at in (start, end))


def _goes_on(folded: Folded, end: int, words: Lexicon) -> bool:
    """Whether a longer name begins here: behind a space stands a word with a capital that is none of the language."""
    word = re.match(rf"[ \-](?:(?:d[aeiou]s?|del|of|upon|sur|von) )?({WORD}+)", folded.text[end:])
    if not word or words.knows(word.group(1)):
        return False
    return folded.words(end + word.start(1), end + word.end())[:1].isupper()


def _is_another(town: Town, country: str) -> bool:
    """Whether a name that is a country's too is a great town's of another: Amman, as Arabic writes it and Oman."""
    return town.country != country and town.people >= 300_000


def _common(parts: Sequence[str], written: str, words: Lexicon) -> float:
    """What speaks against a name whose words are all the language's own: a capital letter says that they are not."""
    if not all(words.knows(p) for p in parts):
        return 0.0
    sure = all(p in words.pieces for p in parts)
    return (0.5 if written[:1].isupper() and words.code != "de" else 2.0) if sure else 0.5


def _towns(text: str, words: Lexicon, bare: bool) -> tuple[str, tuple[Town, ...]]:
    """A name without what its language joins to it, and its towns."""
    place = words.table.get("place", {})
    ways = [text] if bare else []
    if words.writing.prefix:
        ways += [m.group(1) for m in [re.match(rf"{words.writing.prefix}(.{{3,}})$", text)] if m and m.group(1)]
    suffix = fold(str(place.get("suffix", ""))).text
    endings = [suffix] if "(" in suffix or not suffix else suffix.split("|")
    for way, ending in product(list(ways) or [text], endings):
        stripped = re.sub(rf"(?:{ending})$", "", way) if ending else way
        if stripped != way and len(stripped) > (2 if words.writing.spaces else 1):
            ways.append(stripped)
            for oblique, stands_for in place.get("oblique", {}).items():
                oblique = fold(oblique).text
                if stripped.endswith(oblique):
                    ways += [stripped[: -len(oblique)] + fold(one).text for one in str(stands_for).split()]
    for way in ways:
        if towns := towns_named(way):
            return key_of(way), towns
    for way in ways:
        sounds = len(sound_of(key_of(way)))
        fewest = WELL_KNOWN if sounds < 6 else WELL_KNOWN / 3
        if way.count(" ") < (2 if sounds >= 8 and not way.isascii() else 1) and (
            towns := tuple(t for t in towns_sounding(way) if t.people >= fewest)
        ):
            return key_of(way), towns
    return "", ()


@cache
def _countries(code: str) -> Mapping[str, str]:
    """Country codes by their folded names in a language and in English."""
    made: dict[str, str] = {}
    for one in ("en", code):
        try:
            territories = Locale(one).territories
        except (UnknownLocaleError, ValueError):
            continue
        made |= {key_of(name): iso for iso, name in territories.items() if len(iso) == 2 and iso.isalpha()}
    for iso, said in lexicon(code).table.get("place", {}).get("countries", {}).items():
        made |= {key_of(word.replace("_", " ")): iso for word in said.split()}
    return made | {"uk": "GB", "usa": "US"}


def _behind(folded: Folded, end: int, words: Lexicon) -> tuple[str, str]:
    """The country, and its division, that are named behind a town."""
    text = folded.text
    gap = _BEHIND.match(text, end)
    if not gap or "\n" in gap.group():
        return "", ""
    for stop in _ends(text, gap.end()):
        name = key_of(text[gap.end() : stop])
        if name in _countries(words.code):
            return _countries(words.code)[name], ""
        if name in regions() and (len(name) > 2 or folded.words(gap.end(), stop).isupper()):
            return regions()[name]
        for joined in ("in ", "en ", "em "):
            if name.startswith(joined) and name[3:] in _countries(words.code):
                return _countries(words.code)[name[3:]], ""
    return "", ""
