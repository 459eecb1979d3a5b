r"""When a picture was taken, as its sender tells it: a small grammar that reads days, parts of the day and clocks. Pure.

A language's words are its file's table [time]. All keys are optional. A value of words or patterns is either a class
(words parted by white space, `_` inside one standing for a space) or a list of patterns (`lexicons.patterns`); all that
is said of `*`, `<class>`, `(a|b)?`, `..` there holds here. What is read is put together by rules that are no language's:
a day, a part of the day and a clock that stand near each other are one time; order does not matter, and one word may be
several things ("Samstagabend" is a weekday and a part). A clock of twelve hours is the one of the part of the day, or
the evening's; nothing is later than the letter.

    [time]                            English                            German
    order = "dmy"                     of numeric dates: dmy, mdy, ymd; years in front are seen without it
    today                             "today tonight tonite"             "heute heut"
    yesterday                         "yesterday last_night"             "gestern"
    before_yesterday                  "day_before_yesterday"             "vorgestern"
    last_night                        "last_night"                       "gestern_nacht letzte_nacht"
                                      the evening and night before the letter: also list in it what is one word for both
                                      (bg "снощи", es "anoche", ja "昨夜 昨晩")
    on_day                            ["(on|the) {d}(st|nd|rd|th)"]      ["am {d}"]      a day of the month without month
    date_joins                        "of the st nd rd th"               "den"           between day, month and year
    overnight                         "to into going_into and"           "auf"           "Sunday into Monday": the night
    eve_of                            ""                                 ""              bg "срещу": the night before it
    labels                            "when taken"                       of labelled fields, beside those of [labels]
    am                                "am a.m."                          ""
    pm                                "pm p.m."                          ""
    about                             "about around ish -ish nearly"     "etwa circa ca gegen ungefähr so_um"
    taken                             "took taken shot snapped captured" "aufgenommen fotografiert gemacht geknipst"
                                      words of taking a picture: a time beside them is the picture's
    picture                           "picture photo image shot"         "bild foto aufnahme"
    sent                              "sent mailed wrote gave"           "geschickt gemailt geschrieben"
                                      beside these a time is when the picture was sent or the consent given
    elsewhere                         "show programme episode watched born tomorrow next bought"
                                      words or patterns beside which a time is NOT the picture's: the programme and its
                                      hour, birthdays, appointments, what is to come
    never                             ["for # years", "# years old", "# minutes (exposure|later)", "# degrees"]
                                      struck out before anything is read: durations, ages, exposures, temperatures.
                                      Figures with mm, x, s, %, °, ISO, f/ before or behind are struck out in any language
    suffix = "ला|च्या"                 a regular expression of endings that a number or hour word may carry

    [time.weekdays]   monday = "monday mon", tuesday = ..., up to sunday
    [time.months]     january = "january jan", february = ..., up to december
    [time.parts]      words of each part of the day; what a language does not part is left out
                      early     "early_this_morning first_thing"             "frühmorgens"
                      dawn      "dawn daybreak before_sunrise small_hours"   "morgengrauen"
                      morning   "morning"                                    "früh morgens heute_morgen *morgen"
                      forenoon  "forenoon"                                   "vormittag*"
                      noon      "noon midday"                                "mittag*"
                      afternoon "afternoon"                                  "nachmittag* *nachmittag"
                      dusk      "dusk sunset nightfall twilight"             "dämmerung sonnenuntergang"
                      evening   "evening tonight"                            "abend* *abend"
                      late      "late_at_night late_last_night"              "spätabends"
                      night     "night tonight"                              "nacht *nacht nachts"
                      midnight  "midnight"                                   "mitternacht"
    [time.part_hours] evening = [16, 20]    from, to: only where this language means other hours than those of
                                            `time_tokens.PART_HOURS`
    [time.hours]      words that are numbers only of hours, beside [numbers]: ar "التاسعة" = 9, "الحادية_عشرة" = 11
    [time.clocks]     a pattern and what it makes of its {h} and {m}: minutes, or "+m", "-m", "+m+30", or of a fixed time
                      "{h} o'clock" = 0,  "half past {h}" = 30,  "quarter to {h}" = -15,  "{m} (minutes)? past {h}" = "+m"
                      "halb {h}" = -30,  "{m} vor halb {h}" = "-m-30",  "{h} uhr {m}" = "+m",  "kurz nach {h}" = 10
                      "just before midnight" = "24:00-15",  "noon" = "12:00".  "साढ़े {h} (बजे)?" = 30,  "{h}時半" = 30
                      9:30, 21.45, 21h30, 21h, 9pm, 9.30 p.m., 21 Uhr-like figures with a colon need no pattern
                      {h}, {m} are figures or words of [numbers] and [time.hours]; joined words as re:साडे\s*{h}
    [time.bare_hours] the same, of what may also be something else: counts only beside a day, a part of the day, am, pm
                      "(at|around|about|by|towards) {h}" = 0,  "(um|gegen|so um) {h}" = 0
    [time.ago]        a pattern and minutes, of each {n} where it stands
                      "{n} hours ago" = 60, "half an hour ago" = 30, "an hour ago" = 60, "{n} days ago" = 1440
                      "vor {n} stunden" = 60, "vor einer halben stunde" = 30, "vor {n} tagen" = 1440

A language's table [place] serves `place_words`; towns come from a gazetteer, so no town is written here:

    before            "in at from near outside over above"  "in aus bei über nahe"     a town's name follows
    after             ""                                    ""       it stands before: hi "में से के_पास", ja "で から にて"
    suffix            ""                                    ""       a regular expression of endings joined to the name:
                                                                     mr "ला|हून|मध्ये|त|च्या", ja "市|町|村|区"
    labels            "town"                                ""       of labelled fields, beside those of [labels]
    kinds             "town village city"                   "stadt dorf ort"           may stand between ("гр.", "с.")
    regions           "county district province state near" "kreis landkreis"          what follows is larger than a town
    never             "may reading nice orange"             "essen singen"  words that are towns somewhere, but not here
    elsewhere         "born studied moved brother_in"       "geboren"       beside these it is not the picture's place
    [place.oblique]   "्या" = "ा"                             what a name's end without suffix stands for
    [place.countries] GB = "england scotland wales"         DE = "deutschland"   beside what Unicode's CLDR names them
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from moondesk.service.lexicons.folding import Folded, fold
from moondesk.service.lexicons.lexicon import is_in_latin, lexicon, likely
from moondesk.service.programme.letter.time_signs import Group, TimeInWords, gap, signs_of
from moondesk.service.programme.letter.time_tokens import PART_HOURS, Grammar, Token, grammar, in_words, meet, tokens_of
from moondesk.service.programme.letter.weighing import weights_of

#: No text is read that is longer, and no more pieces of time than a letter about one picture can have.
LONGEST, MOST = 20_000, 120
#: Characters between pieces of one time, and between a day and the clock that a later sentence tells.
NEAR, FAR = 60, 260
#: From so many characters on a part of the day is not beside a clock.
ASIDE = 12
#: A day alone: the Moon was photographed between its evening and the morning after, most likely. Hours from and to.
BARE_DAY = (10.0, 26.0)
#: What is told may be as much later than the letter as clocks are set wrongly.
AHEAD = timedelta(minutes=10)
_END = re.compile(r"[!?;।。！？؟\x00]|\.(?=\s+\D)|\n")
#: A line's end that is only a mail program's: behind a long line, and no label follows.
_WRAPPED = re.compile(r"(?<=[^\n]{55})\n(?![^\n:]{1,40}[:：]\s|\s*\n|\s*[-*•>])")


@dataclass(frozen=True)
class Moment:
    """A time that may be the picture's. signs: what speaks for it and against it."""

    time: TimeInWords
    signs: tuple[str, ...]


def read_time(text: str, written: datetime, codes: Sequence[str] = ()) -> TimeInWords | None:
    """When the picture was taken, by its sender's words; None where they say nothing, or most likely another time.

    written: the letter's own time, aware, in its sender's offset; codes: languages to read with, the likeliest first.
    """
    learnt = weights_of("time")
    found = [(learnt.chance(m.signs), -k, m) for k, m in enumerate(moments(text, written, codes))]
    best = max(found, key=lambda f: f[:2], default=None)
    return best[2].time if best and best[0] >= learnt.bar else None


def moments(text: str, written: datetime, codes: Sequence[str] = ()) -> list[Moment]:
    """All times of a text that may be meant, each with what speaks for it. Arguments as of `read_time`."""
    if len(text) > LONGEST:
        text = text[:LONGEST]
    likeliest = codes or likely(text, 0.85)[:2] or ("",)
    # "24 Nov ko around 8 pm": who types a language in Latin letters tells times in English words too
    typed = is_in_latin(text) and any(code and lexicon(code).scripts[0] != "LATIN" for code in likeliest)
    mixed = ("en",) if typed else ()
    found: list[Moment] = []
    for order, code in enumerate(dict.fromkeys((*likeliest, *mixed))):
        found += _read(text, written, code, order, bool(found))
    return found


def _read(text: str, written: datetime, code: str, order: int, later: bool) -> Iterator[Moment]:
    words = grammar(code) if code else None
    folded = words.words.fold(text) if words else fold(text)
    folded = replace(folded, text=_WRAPPED.sub(" ", folded.text))
    labelled = _labelled(folded.text, words)
    tokens = tokens_of(folded, written, words, labelled)
    if len(tokens) > MOST or any(
        t.kind == "unread" for t in tokens
    ):  # a date in words would leave its hour to another day
        return
    groups = _joined(_groups(folded.text, tokens, labelled, words))
    times = [(g, t) for g in groups if (t := _time(g, written)) is not None]
    ruled = _one(times, folded)
    told = [(g, TimeInWords(t[0], round(t[1], 1), in_words(folded, g.tokens))) for g, t in times]
    # what is beside words of sending or of a broadcast may be the picture's time all the same
    told += [
        (g, TimeInWords(t[0], round(t[1], 1), in_words(folded, g.tokens)))
        for g in groups
        if g.rank < 0 and (t := _time(replace(g, rank=0), written)) is not None
    ]
    if ruled and all((t.at, t.sigma_minutes) != (ruled.at, ruled.sigma_minutes) for _, t in told):
        told.append((next(g for g, _ in times), ruled))
    for group, time_told in told:
        same = ruled is not None and (time_told.at, time_told.sigma_minutes) == (ruled.at, ruled.sigma_minutes)
        near = ruled is not None and abs(time_told.at - ruled.at) <= timedelta(minutes=ruled.sigma_minutes)
        marks = [
            f"rule {'same' if same else 'near' if near else 'other' if ruled else 'none'}",
            f"order {order}",
            f"later {later}",
            f"moments {min(len(told), 4)}",
            f"labelled {bool(labelled)}",
        ]
        yield Moment(time_told, tuple(signs_of(group, time_told, tokens, folded, words, written, marks)))


def _labelled(text: str, words: Grammar | None) -> list[tuple[int, int]]:
    """The stretches of a text behind a label of time."""
    if not words:
        return []
    found = []
    own = words.patterns("labels", words.table.get("labels", ()))
    for label in (*words.words.expressions("labels", "time"), *(p.pattern for p in own)):
        for match in re.finditer(rf"(?m)^[^\w\n]{{0,4}}{label}[^:\n]{{0,30}}[:：=][^\n]*", text):
            found.append(match.span())
    return found


def _groups(
    text: str, tokens: Sequence[Token], labelled: Sequence[tuple[int, int]], words: Grammar | None
) -> list[Group]:
    """Pieces near each other in one sentence, unless they say two things of a kind."""
    groups: list[list[Token]] = []
    for one in tokens:
        if one.kind not in ("day", "part", "clock", "ago"):
            continue
        last = groups[-1] if groups else []
        near = bool(last) and one.start - last[-1].end <= NEAR and not _ends(text, last[-1].end, one.start)
        if near and all(_agree(one, other) for other in last):
            last.append(one)
        elif near and _is_aside(last, one):  # "on the night shift, ... at four this morning"
            groups[-1:] = [last[:1], [*last[1:], one]]
        else:
            groups.append([one])
    return [_ranked(text, group, tokens, labelled, words) for group in groups]


def _is_aside(group: Sequence[Token], one: Token) -> bool:
    """Whether what a piece does not agree with is a part of the day that stands before the group and not beside it."""
    first, rest = group[0], group[1:]
    return (
        first.kind == "part"
        and bool(rest)
        and rest[0].start - first.end > ASIDE >= one.start - rest[-1].end
        and all(_agree(one, other) for other in rest)
    )


def _agree(one: Token, other: Token) -> bool:
    if one.kind != other.kind:
        return True
    if one.kind == "day":
        return one.day == other.day or meet(one, other)
    if one.kind == "part":
        return one.hours is not None and other.hours is not None and _common(one.hours, other.hours) is not None
    return one.kind == "clock" and one.start - other.end <= 16


def _common(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float] | None:
    first, last = max(one[0], other[0]), min(one[1], other[1])
    return (first, last) if first < last else None


def _ranked(
    text: str, group: list[Token], tokens: Sequence[Token], labelled: Sequence[tuple[int, int]], words: Grammar | None
) -> Group:
    """A group with what its sentence says of it; one that is about something else is empty of rank: -1."""
    made = Group(tuple(group))
    if any(first <= made.start < last for first, last in labelled):
        return replace(made, rank=2, tokens=(*made.tokens, *_abouts(text, made, tokens)))
    first, last = _sentence(text, made.start, made.end)
    far = last - first + 1
    near = {
        kind: min((gap(made, t) for t in tokens if t.kind == kind and first <= t.start < last), default=far)
        for kind in ("taken", "picture", "sent", "elsewhere")
    }
    if near["sent"] < near["taken"] or near["elsewhere"] < min(near["taken"], near["picture"]):
        return replace(made, rank=-1)
    if words and words.words.search("withdrawal", "asks")(text[first:last]):
        return replace(made, rank=-1)
    rank = 1 if near["taken"] < far else 0
    return replace(made, rank=rank, tokens=(*made.tokens, *_abouts(text, made, tokens)))


def _abouts(text: str, group: Group, tokens: Sequence[Token]) -> list[Token]:
    clocks = [t for t in group.tokens if t.kind in ("clock", "ago") or (t.kind == "part" and t.hours == (23, 25))]
    return [
        a
        for a in tokens
        if a.kind == "about" and any((0 <= c.start - a.end <= 10 or 0 <= a.start - c.end <= 8) for c in clocks)
    ]


def _sentence(text: str, start: int, end: int) -> tuple[int, int]:
    first = max((m.end() for m in _END.finditer(text) if m.end() <= start), default=0)
    last = _END.search(text, end)
    return first, last.start() if last else len(text)


def _ends(text: str, start: int, end: int) -> bool:
    found = _END.search(text, start)
    return found is not None and found.start() < end


def _joined(groups: Sequence[Group]) -> list[Group]:
    """A day and, some words or a sentence on, the clock of that day are one; so are two labelled fields."""
    out: list[Group] = []
    for one in groups:
        last = out[-1] if out else None
        if last and last.rank >= 0 and one.rank >= 0 and one.start - last.end <= FAR and _complete(last, one):
            out[-1] = Group((*last.tokens, *one.tokens), max(last.rank, one.rank))
        else:
            out.append(one)
    return out


def _complete(one: Group, other: Group) -> bool:
    """Whether one has a day and no clock, and the other a clock and no day, and their parts of the day agree."""
    if one.of("ago") or other.of("ago") or bool(one.of("day")) == bool(other.of("day")):
        return False
    dated, timed = (one, other) if one.of("day") else (other, one)
    if (
        dated.of("clock")
        or not timed.of("clock")
        or not all(_agree(a, b) for a in one.of("part") for b in other.of("part"))
    ):
        return False
    return bool(dated.start < timed.start or one.rank == other.rank == 2 or timed.of("part") or not _only_bare(timed))


def _only_bare(group: Group) -> bool:
    return all(c.bare for c in group.of("clock"))


def _time(group: Group, written: datetime) -> tuple[datetime, float] | None:
    """The time of a group and its sigma in minutes; None where it says none, or one that cannot be."""
    if group.rank < 0:
        return None
    for ago in group.of("ago"):
        return (ago.at, max(ago.sigma, 20.0 if group.of("about") else 0.0)) if ago.at else None
    days = sorted(
        {(t.day, t.night) for t in group.of("day") if t.day and (t.strong or group.rank == 2 or len(group.tokens) > 1)},
        key=str,
    )
    if len({day for day, _ in days}) > 1:
        nights = [d for d in days if d[1]]
        if len(nights) != 1:
            return None
        days = nights  # from Sunday to Monday
    day, night = (days[0][0], any(n for _, n in days)) if days else (None, False)
    part = _part(group, night)
    clocks = [c for c in group.of("clock") if not c.bare or day or group.of("part") or group.rank == 2]
    midnight = [p for p in group.of("part") if p.hours == (23, 25)]
    if not clocks and midnight:
        clocks = [Token(kind="clock", start=0, end=0, minutes=1440, sigma=20)]
    about = bool(group.of("about"))
    if day == written.date() and any(t.weekly for t in group.of("day")) and not night:
        still = all(_at(day, part, c, written) for c in clocks) if clocks else _of_part(day, part, written)
        day = day if still else day - timedelta(days=7)
    if not clocks:
        sure = part or group.rank > 0 or any(t.full for t in group.of("day"))
        return _of_part(day, part, written) if day and sure else None
    if day is None and not (group.rank > 0 or part):
        return None
    return _of_clocks(day, night, part, clocks, about, written)


def _part(group: Group, night: bool) -> tuple[float, float] | None:
    found: tuple[float, float] | None = (18.0, 30.0) if night else None
    for one in sorted(group.of("part"), key=lambda t: t.start):
        if one.hours is None or one.hours == (23, 25):
            continue
        hours = one.hours
        if night and hours[1] <= 12:  # "last night at three in the morning"
            hours = (hours[0] + 24, hours[1] + 24)
            found = hours
            continue
        found = (_common(found, hours) or hours) if found else hours
    return found


def _midnight_of(day: date, written: datetime) -> datetime:
    return datetime.combine(day, time(0), written.tzinfo)


def _of_part(day: date | None, part: tuple[float, float] | None, written: datetime) -> tuple[datetime, float] | None:
    if day is None:
        return None
    first, last = part or BARE_DAY
    if (first, last) == (18.0, 30.0):
        last = 25.0  # few stay up for all of it
    begin, end = (_midnight_of(day, written) + timedelta(hours=h) for h in (first, last))
    if begin > written:
        if part:
            return None
        begin = _midnight_of(day, written)
    end = min(end, written)
    half = (end - begin) / 2
    return begin + half, max(30.0, half / timedelta(minutes=1))


def _of_clocks(
    day: date | None, night: bool, part: tuple[float, float] | None, clocks: list[Token], about: bool, written: datetime
) -> tuple[datetime, float] | None:
    found: list[datetime] = []
    for clock in clocks:
        at = _in_utc(day, clock, written) if clock.utc else _at(day, part, clock, written)
        if at is None and day == written.date() and part == PART_HOURS["night"]:  # tonight: the one that is over
            at = _at(day - timedelta(days=1), part, clock, written)
        if at is None:
            return None
        found.append(at)
    sigma = max(c.sigma for c in clocks)
    sigma = max(sigma, 30.0) if about else sigma
    spread = (max(found) - min(found)) / timedelta(minutes=2)
    if spread > 120:
        return None
    return min(found) + (max(found) - min(found)) / 2, max(sigma, spread)


def _in_utc(day: date | None, clock: Token, written: datetime) -> datetime | None:
    if day is None:
        return None
    at = datetime.combine(day, time(0), UTC) + timedelta(minutes=clock.minutes)
    return at.astimezone(written.tzinfo) if at <= written + AHEAD else None


def _at(day: date | None, part: tuple[float, float] | None, clock: Token, written: datetime) -> datetime | None:
    """The clock of a day, or the last before the letter: of two halves of the day the one of the part, or the evening."""
    ways = [1440.0, 0.0] if clock.minutes == 1440 else [clock.minutes]
    if clock.half_day:
        base = clock.minutes
        by_hour = [base + 720, base, base + 1440] if base >= 270 else [base + 1440, base + 720, base]
        ways = [1440.0 + base - 720, base] if base >= 720 else by_hour
        if part:
            ways = sorted((base - 720, base, base + 720, base + 1440), key=lambda m: _outside(m / 60, part))[:1]
            if _outside(ways[0] / 60, part) > 2.5:
                return None
    elif part:
        ways = sorted((clock.minutes, clock.minutes + 1440), key=lambda m: _outside(m / 60, part))[:1]
        if _outside(ways[0] / 60, part) > 2.5:
            return None
    days = [day] if day else [written.date(), written.date() - timedelta(days=1)]
    for one in days:
        for minutes in ways:
            at = _midnight_of(one, written) + timedelta(minutes=minutes)
            if at <= written + AHEAD:
                return at
    return None


def _outside(hour: float, part: tuple[float, float]) -> float:
    return max(0.0, part[0] - hour, hour - part[1])


def _one(times: Sequence[tuple[Group, tuple[datetime, float]]], folded: Folded) -> TimeInWords | None:
    """The time that the best of several groups say; of two that differ a little what covers both, else none."""
    best = max((_worth(g, t) for g, t in times), default=None)
    if best is None:
        return None
    first = [(g, t) for g, t in times if _worth(g, t) == best]
    low = min(at - timedelta(minutes=s) for _, (at, s) in first)
    high = max(at + timedelta(minutes=s) for _, (at, s) in first)
    narrow = min(first, key=lambda found: found[1][1])
    at, sigma = narrow[1]
    if any(abs(other - at) > timedelta(minutes=s + sigma) for _, (other, s) in first):
        if high - low > timedelta(hours=5):
            return None
        at, sigma = low + (high - low) / 2, (high - low) / timedelta(minutes=2)
    said = [t for g, _ in (first if sigma != narrow[1][1] else [narrow]) for t in g.tokens]
    return TimeInWords(at, round(sigma, 1), in_words(folded, said))


def _worth(group: Group, found: tuple[datetime, float]) -> tuple[int, int]:
    """Labelled before told, and a clock before a day alone."""
    return group.rank, 2 if found[1] <= 45 else 1 if found[1] <= 240 else 0
