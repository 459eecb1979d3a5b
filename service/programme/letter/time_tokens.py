"""The pieces of a time in a text: days, parts of the day, clocks, "two hours ago", by one language's words. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cache
from itertools import pairwise
from typing import Literal

from moondesk.service.lexicons.folding import Folded, fold
from moondesk.service.lexicons.lexicon import Lexicon, lexicon
from moondesk.service.lexicons.patterns import WORD, compile_pattern, compile_words

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
#: Hours of the day from and to; over 24 of the day after.
PART_HOURS: Mapping[str, tuple[float, float]] = {
    "early": (4, 8),
    "dawn": (4, 7),
    "morning": (5, 11),
    "forenoon": (8, 12),
    "noon": (11, 14),
    "afternoon": (12, 18),
    "dusk": (16.5, 19.5),
    "evening": (18, 24),
    "late": (21, 25),
    "night": (18, 30),
    "midnight": (23, 25),
    "am": (0, 12),
    "pm": (12, 24),
}
#: A date without its year, or with its figures the other way round, is one of so many days before the letter.
RECENT = 60
OLDEST = 400

Kind = Literal["day", "part", "clock", "ago", "about", "taken", "picture", "sent", "elsewhere", "unread"]


@dataclass(frozen=True, kw_only=True)
class Token:
    """start, end: in the folded text. day: of a day, and of a night the evening's; night: it is one; full: with its year;
    weekly: a weekday, by its name; strong: surely one.

    hours: of a part, from and to. minutes: of a clock, since the day's beginning; half_day: it may be of either half;
    bare: it counts only beside a day or a part; utc: it was said so; numbers: how many it was read from. at: of what is so long ago; sigma: its minutes.
    """

    kind: Kind
    start: int
    end: int
    day: date | None = None
    night: bool = False
    strong: bool = True
    full: bool = False
    weekly: bool = False
    hours: tuple[float, float] | None = None
    minutes: float = 0.0
    half_day: bool = False
    bare: bool = False
    utc: bool = False
    numbers: int = 0
    at: datetime | None = None
    sigma: float = 15.0


# What is no time in any language: struck out, with spaces, so that places stay.
_STRUCK = re.compile(
    r"""\S*@\S+ | https?://\S+ | www\.\S+ | \S*_\S*\d\S* | \S+\.(?:jpe?g|png|heic|tiff?|webp|fits?|cr2|nef|arw|dng)\b
    | \bf\s?/\s?\d[\d.,]* | \biso\s*:?\s*\d+ | (?<![\d/])1\s?/\s?\d{2,5}(?:\s*(?:sec\w*|s)\b)? | \+\d[\d\s()/-]{6,}
    | (?<![\d/.-])\d+\s?/\s?\d{3,5}\b | \b\d+(?:[.,]\d+)?\s?[x×]\s?\d+ | \b\d{1,4}(?:[.,]\d+)?\s*-\s*\d{2,4}\s*mm\b
    | (?<![\d:.])\d+(?:[.,]\d+)?\s*
      (?:mm|cm|km|m|x|×|°|º|%|sec|secs|sek|s|"|''|''|kg|€|\$|£|fps|mb|mp|px|k|f|mpx|gb|zoll|inch|ft|asa|db|hz|nm|lx)(?![^\W\d_])
    """,
    re.VERBOSE,
)
_YMD = re.compile(r"(?<![\d.:/-])(20\d\d)\s?[-./年]\s?(\d{1,2})\s?[-./月]\s?(\d{1,2})(?!\d)日?")
_DMY = re.compile(r"(?<![\d.:/,-])(\d{1,2})\s?([./-])\s?(\d{1,2})\s?\2\s?(20\d\d|\d\d)(?![\d:])")
_DM_DOT = re.compile(r"(?<![\d.:/,-])(\d{1,2})\.\s?(\d{1,2})\.(?!\s?\d)")
_DM = re.compile(r"(?<![\d.:/,-])(\d{1,2})[/.](\d{1,2})(?![\d/:.,]|\s*(?:\"|mm|in))")
_CJK_DATE = re.compile(r"(?:(20\d\d)年)?\s?(\d{1,2})月\s?(\d{1,2})日")
_COLON = re.compile(r"(?<![\d:.,/])([01]?\d|2[0-4])\s?[:：]\s?([0-5]\d)(?::[0-5]\d)?(?![\d:/])")
_H = re.compile(r"(?<![\d:.,/])([01]?\d|2[0-4])\s?h(?:\s?([0-5]\d)(?!\d))?(?![^\W\d_])")
_HHMM = re.compile(r"(?<![\d:.,/])([01]\d|2[0-3])([0-5]\d)\s?(?=(?:hrs?|hours|h|uhr|utc?|gmt)\b)(?:hrs?|hours|h|uhr)?")
_AT_HHMM = re.compile(r"(?:(?<=\bat )|(?<=\bum )|(?<=\babout )|(?<=\bgegen ))([01]\d|2[0-3])([0-5]\d)(?![\d.:/-])")
_DOT = re.compile(r"(?<![\d:.,/])([01]?\d|2[0-4])\.([0-5]\d)(?![\d.:/])")
_UTC = re.compile(r"\s*\(?(?:utc?|gmt|z)\b(?!\s*\+)")
_RANGE_BEFORE = re.compile(r"(?<![\d:.,/])(\d{1,2})(?:[:.h]([0-5]\d)|h)?\s?(?:-|/)\s?$")
_VALUE = re.compile(r"(?:(\d{1,2}):(\d\d))?((?:[+-](?:m|\d+))*)")
_KANJI = "〇一二三四五六七八九"


def kanji_number(text: str) -> float | None:
    """A number up to 99 in Chinese numerals; None for what is none."""
    tens, ten, ones = text.rpartition("十")
    if not ten:
        return float(_KANJI.index(text)) if len(text) == 1 and text in _KANJI else None
    if len(tens) > 1 or len(ones) > 1 or any(c not in _KANJI for c in tens + ones):
        return None
    return 10.0 * (_KANJI.index(tens) if tens else 1) + (_KANJI.index(ones) if ones else 0)


_WORDS = re.compile(rf"{WORD}+")


@dataclass(frozen=True, eq=False)
class Grammar:
    """One language's words for times, compiled."""

    words: Lexicon
    _made: dict[str, Sequence[re.Pattern[str]]] = field(default_factory=dict)

    @property
    def table(self) -> Mapping[str, object]:
        table = self.words.table.get("time", {})
        return table if isinstance(table, Mapping) else {}

    def sub(self, name: str) -> Mapping[str, object]:
        table = self.table.get(name, {})
        return table if isinstance(table, Mapping) else {}

    def number(self, text: str) -> float | None:
        """The value of figures or a number word; of 21.30 that of 21:30 in hours."""
        text = text.strip()
        if self._suffix and text not in self._numbers:
            text = re.sub(rf"\s?(?:{self._suffix})$", "", text) or text
        figures = re.fullmatch(r"(\d+)(?:[.:,](\d+))?", text)
        if figures:
            part = figures.group(2)
            return int(figures.group(1)) + ((int(part) / 60 if len(part) == 2 else float(f"0.{part}")) if part else 0)
        if text in self._numbers:
            return self._numbers[text]
        parts = re.split(r"[\s-]+", text)
        if len(parts) > 1 and parts[0] in self._numbers and parts[-1] in self._numbers:
            return self._numbers[parts[0]] + self._numbers[parts[-1]]
        return kanji_number(text)

    def spelt_day(self, before: str) -> tuple[int, int] | None:
        """A day of the month in words that end a text ("deux novembre" without the month), and how many characters they
        take; 0 where there is one that is not read ("twenty-first"). None: there is none.

        An ordinal is told by the number that it begins with; after a ten's word a unit is added."""
        found: list[tuple[float, int]] = []
        for match in list(_WORDS.finditer(before))[-5:]:
            begun = [w for w in self._numbers if len(w) >= 4 and match.group(0).startswith(w)]
            value = self._numbers[max(begun, key=len)] if begun else self._numbers.get(match.group(0))
            if value is not None and 1 <= value <= 31 and value == int(value):
                found.append((value, match.start()))
        if not found or len(_WORDS.findall(before[found[-1][1] :])) > 4:
            return None
        day, start = found[-1]
        if len(found) > 1 and found[-2][0] in (20, 30) and day < 10 and len(before[found[-2][1] : start].split()) <= 2:
            day, start = day + found[-2][0], found[-2][1]
        rest = _WORDS.findall(before[start:])[1 if day == found[-1][0] else 2 :]
        joins = self.words.words("time", "date_joins")
        known = all(word in joins or len(word) <= 2 for word in rest)
        return (int(day) if known and day <= 31 else 0, len(before) - start)

    @property
    def _numbers(self) -> Mapping[str, float]:
        hours = {fold(str(w).replace("_", " ")).text: float(str(n)) for w, n in self.sub("hours").items()}
        return {**self.words.numbers, **hours}

    @property
    def _suffix(self) -> str:
        return fold(str(self.table.get("suffix", ""))).text

    def _number_pattern(self) -> str:
        numbers = self._numbers
        each = sorted((re.escape(w).replace(r"\ ", r"\s+") for w in numbers), key=len, reverse=True)
        kanji = [rf"[{_KANJI}十]{{1,3}}"] if not self.words.writing.spaces else []
        words = "|".join(each + kanji) or r"(?!)"
        tens = "|".join(re.escape(w) for w, n in numbers.items() if n in (20, 30, 40, 50)) or r"(?!)"
        ones = "|".join(re.escape(w) for w, n in numbers.items() if n in range(1, 10)) or r"(?!)"
        suffix = rf"(?:\s?(?:{self._suffix}))?" if self._suffix else ""
        figures = r"(?<![\d:.,/])\d{1,2}(?:[.:][0-5]\d|,5)?(?![\d])"
        if not self.words.writing.spaces:
            return rf"(?:{figures}|{words})"
        prefix = self.words.writing.prefix
        both = rf"(?:(?:{tens})[\s-](?:(?:and|y|e|et)\s)?(?:{ones})|{words}){suffix}(?!{WORD})"
        return rf"(?:{figures}{suffix}|{prefix}{both})" if prefix else rf"(?:{figures}{suffix}|{both})"

    def patterns(self, name: str, said: object) -> Sequence[re.Pattern[str]]:
        """Words or patterns of the table as expressions; name: what they are kept under. Raises ValueError."""
        if name not in self._made:
            numbers = self._number_pattern()
            if isinstance(said, str):
                made = (
                    [self.words.lighter(compile_words(said, self.words.classes, numbers, self.words.writing))]
                    if said.strip()
                    else []
                )
            else:
                made = [self._pattern(str(one), numbers) for one in said] if isinstance(said, Sequence) else []
            try:
                self._made[name] = [re.compile(one) for one in made]
            except re.error as error:
                raise ValueError(f"{self.words.code}, [time] {name}: {error}") from error
        return self._made[name]

    def _pattern(self, source: str, numbers: str) -> str:
        if source.startswith("re:"):
            source = "".join(c if c.isascii() else fold(c).text for c in source[3:])
            return re.sub(r"\{([hmndy])\}", lambda take: f"(?P<{take[1]}>{numbers})", source)
        start = rf"(?<!{WORD})" if source.startswith("{") and self.words.writing.spaces else ""
        return start + self.words.lighter(compile_pattern(source, self.words.classes, numbers, self.words.writing))

    def find(self, name: str, text: str, said: object = None) -> Iterator[re.Match[str]]:
        for pattern in self.patterns(name, self.table.get(name, ()) if said is None else said):
            yield from pattern.finditer(text)

    def halves(self, name: str, text: str) -> Iterator[re.Match[str]]:
        """Words of one half of the day, also where they are joined to figures: 9pm."""
        said = self.table.get(name, "")
        yield from self.find(f"half {name}", text, said)
        joined = "|".join(re.escape(fold(w).text) for w in str(said).split() if w.isascii())
        if joined:
            yield from re.finditer(rf"(?<=\d)(?:{joined})(?!{WORD})", text)


@cache
def grammar(code: str) -> Grammar:
    return Grammar(lexicon(code))


def strike_out(text: str, words: Grammar | None) -> str:
    """A folded text without what is no time: each stretch as long, of signs that no pattern goes across."""

    def blank(match: re.Match[str]) -> str:
        return "\x00" * len(match.group(0))

    text = _STRUCK.sub(blank, text)
    if words:
        for pattern in words.patterns("never", words.table.get("never", ())):
            text = pattern.sub(blank, text)
    return text


def tokens_of(
    folded: Folded, written: datetime, words: Grammar | None, labelled: Sequence[tuple[int, int]] = ()
) -> list[Token]:
    """All pieces of times in a text by where they stand. written: the letter's own time, in its sender's offset."""
    text = strike_out(folded.text, words)
    days = _longest([*_figure_dates(text, written, words), *(_days(text, written, words) if words else ())])
    taken = [(t.start, t.end) for t in days if t.strong]
    free = _without(text, taken)
    ago = _longest(list(_ago(free, written, words)) if words else [])
    if ago and words:  # "8時15分前" is a quarter to eight, and no quarter of an hour ago
        whole = [c for c in _clocks(free, words) if not c.bare]
        ago = [a for a in ago if not any(c.start < a.start and a.end <= c.end for c in whole)]
    free = _without(free, [(t.start, t.end) for t in ago])
    clocks = _longest([*_figure_clocks(free, labelled), *(_clocks(free, words) if words else ())])
    clocks = [_with_offset(c, text) for c in clocks]
    free = _without(free, [(t.start, t.end) for t in clocks if not t.bare])
    if any(d.strong for d in days):  # beside a day, 21.10 is a clock
        days = [d for d in days if d.strong]
    days = [d for d in days if d.strong or not any(meet(c, d) for c in clocks if not c.bare)]
    clocks = [c for c in clocks if not any(meet(c, d) for d in days)]
    found = [*days, *(t for t in ago if t.kind == "ago"), *(t for t in ago if t.kind == "day"), *clocks]
    if words:
        found += _parts(text, words)
        for kind in ("about", "taken", "picture", "sent", "elsewhere"):
            within = text if kind == "elsewhere" else free  # "every Tuesday" has a day in it
            found += [Token(kind=kind, start=m.start(), end=m.end()) for m in words.find(kind, within) if m.group()]
    away = [t for t in found if t.kind in ("sent", "elsewhere")]
    inside = [t for t in found if t.kind == "taken" and any(a.start <= t.start and t.end <= a.end for a in away)]
    return sorted((t for t in found if t not in inside), key=lambda t: (t.start, t.end))


def meet(one: Token, other: Token) -> bool:
    return one.start < other.end and other.start < one.end


def _without(text: str, spans: Sequence[tuple[int, int]]) -> str:
    for start, end in spans:
        text = text[:start] + "\x00" * (end - start) + text[end:]
    return text


def _longest(found: list[Token]) -> list[Token]:
    """Of pieces that overlap the longest, and one that says a time by itself before one that does not."""
    kept: list[Token] = []
    for one in sorted(found, key=lambda t: (t.bare, -t.numbers, t.start - t.end, t.start)):
        if all(one.end <= k.start or one.start >= k.end for k in kept):
            kept.append(one)
    return sorted(kept, key=lambda t: t.start)


# Days


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _fits(day: date | None, written: datetime, within: int = OLDEST) -> bool:
    return day is not None and 0 <= (written.date() - day).days <= within


def _last(month: int, day: int, written: datetime) -> date | None:
    """The last such day before the letter, if it is recent."""
    for year in (written.year, written.year - 1):
        found = _date(year, month, day)
        if _fits(found, written, RECENT):
            return found
    return None


def _figure_dates(text: str, written: datetime, words: Grammar | None) -> Iterator[Token]:
    for match in _YMD.finditer(text):
        found = _date(int(match[1]), int(match[2]), int(match[3]))
        if _fits(found, written):
            yield Token(kind="day", start=match.start(), end=match.end(), day=found, full=True)
    for match in _CJK_DATE.finditer(text):
        year = int(match[1]) if match[1] else None
        found = _date(year, int(match[2]), int(match[3])) if year else _last(int(match[2]), int(match[3]), written)
        if _fits(found, written):
            yield Token(kind="day", start=match.start(), end=match.end(), day=found, full=bool(year))
    for match in _DMY.finditer(text):
        year = int(match[4]) + (2000 if len(match[4]) == 2 else 0)
        ways = [_date(year, m, d) for d, m in _orders(int(match[1]), int(match[3]), written, words)]
        if len(match[4]) == 2:
            ways.append(_date(2000 + int(match[1]), int(match[3]), int(match[4])))
        fitting = [d for d in ways if _fits(d, written)]
        near = [d for d in fitting if _fits(d, written, RECENT)]
        if fitting:
            yield Token(kind="day", start=match.start(), end=match.end(), day=(near or fitting)[0], full=True)
    for pattern, strong in ((_DM_DOT, True), (_DM, False)):
        for match in pattern.finditer(text):
            near = [_last(m, d, written) for d, m in _orders(int(match[1]), int(match[2]), written, words)]
            found = next((d for d in near if d), None)
            if found:
                yield Token(kind="day", start=match.start(), end=match.end(), day=found, strong=strong)


def _orders(first: int, second: int, written: datetime, words: Grammar | None) -> list[tuple[int, int]]:
    """Day and month of two figures, the likelier order first: the Americas that write English say the month first."""
    order = str(words.table.get("order", "dmy")) if words else "dmy"
    offset = written.utcoffset() or timedelta(0)
    if words and words.words.code == "en" and timedelta(hours=-10) <= offset <= timedelta(hours=-4):
        order = "mdy"
    ways = [(first, second), (second, first)]
    return ways[::-1] if order == "mdy" else ways


def _days(text: str, written: datetime, words: Grammar) -> Iterator[Token]:
    today = written.date()
    for name, back in (("today", 0), ("yesterday", 1), ("before_yesterday", 2)):
        for match in words.find(name, text):
            yield Token(kind="day", start=match.start(), end=match.end(), day=today - timedelta(days=back))
    for match in words.find("last_night", text):
        yield Token(kind="day", start=match.start(), end=match.end(), day=today - timedelta(days=1), night=True)
    weekdays = [
        (match.start(), match.end(), number)
        for number, name in enumerate(WEEKDAYS)
        for match in words.find(f"weekday {name}", text, words.sub("weekdays").get(name, ""))
    ]
    weekdays.sort()
    for start, end, number in weekdays:
        day = today - timedelta(days=(today.weekday() - number) % 7)
        yield Token(kind="day", start=start, end=end, day=day, weekly=True)
    yield from _nights(text, weekdays, today, words)
    yield from _month_dates(text, written, words)
    for match in words.find("on_day", text):
        number = int(words.number(match["d"]) or 0)
        found = next((d for n in range(31) if (d := today - timedelta(days=n)).day == number), None)
        if found:
            yield Token(kind="day", start=match.start(), end=match.end(), day=found)


def _nights(text: str, weekdays: list[tuple[int, int, int]], today: date, words: Grammar) -> Iterator[Token]:
    """From one weekday to the next, and the eve of one."""
    joins = _either(words, "overnight")
    for (start, stop, first), (begin, end, second) in pairwise(weekdays):
        between = text[stop:begin]
        if (first + 1) % 7 == second and re.fullmatch(rf"[^\w]{{0,4}}(?:{joins})?[^\w]{{0,4}}", between) and between:
            back = (today.weekday() - first) % 7
            yield Token(kind="day", start=start, end=end, day=today - timedelta(days=back), night=True)
    for match in words.find("eve_of", text):
        for begin, end, number in weekdays:
            if 0 <= begin - match.end() <= 2:
                back = (today.weekday() - number) % 7 + 1
                yield Token(kind="day", start=match.start(), end=end, day=today - timedelta(days=back), night=True)


def _either(words: Grammar, name: str) -> str:
    return "|".join(p.pattern for p in words.patterns(name, words.table.get(name, ()))) or r"(?!)"


def _month_dates(text: str, written: datetime, words: Grammar) -> Iterator[Token]:
    """A day beside a month's name, with or without the year."""
    joins = _either(words, "date_joins")
    over = _either(words, "overnight")
    gap = rf"[\s.,-]{{0,3}}(?:(?:{joins}|st|nd|rd|th|º|er)[\s.,]{{0,2}}){{0,2}}"
    before = re.compile(
        rf"(?:(\d{{1,2}})[.\s]{{0,2}}(?:/|-|{over})[\s.]{{0,2}}(?:(?:{joins})\s)?)?(?<!\d)(\d{{1,2}}){gap}$"
    )
    after = re.compile(rf"{gap}(?<!\d)(\d{{1,2}})(?![\d:.h]|\s?(?:uhr|h)\b)(?:st|nd|rd|th)?")
    year_after = re.compile(rf"{gap}(20\d\d)(?!\d)")
    for number, name in enumerate(MONTHS, 1):
        for match in words.find(f"month {name}", text, words.sub("months").get(name, "")):
            start, end, day, first = match.start(), match.end(), 0, 0
            ahead = before.search(text, max(0, start - 30), start)
            if ahead:
                start, day, first = ahead.start(), int(ahead[2]), int(ahead[1] or 0)
            elif behind := after.match(text, end):
                end, day = behind.end(), int(behind[1])
            elif spelt := words.spelt_day(text[max(0, start - 40) : start]):
                start, day = start - spelt[1], spelt[0]
                if not day:
                    yield Token(kind="unread", start=start, end=end)
                    continue
            else:
                continue
            year = year_after.match(text, end)
            end = year.end() if year else end
            found = _date(int(year[1]), number, day) if year else _last(number, day, written)
            if not _fits(found, written):
                continue
            assert found is not None
            night = bool(first) and (found - timedelta(days=1)).day == first
            day_of = found - timedelta(days=1) if night else found
            yield Token(kind="day", start=start, end=end, day=day_of, night=night, full=bool(year))


# So long ago


def _ago(text: str, written: datetime, words: Grammar) -> Iterator[Token]:
    for source, minutes in words.sub("ago").items():
        for match in words.find(f"ago {source}", text, [source]):
            number = words.number(match["n"]) if "n" in match.groupdict() and match["n"] else 1.0
            if number is None or not 0 < number <= 1000:
                continue
            back = number * float(str(minutes))
            if float(str(minutes)) >= 1440:
                day = (written - timedelta(minutes=back)).date()
                if _fits(day, written, RECENT):
                    yield Token(kind="day", start=match.start(), end=match.end(), day=day)
            elif back <= 4 * 1440:
                yield Token(
                    kind="ago",
                    start=match.start(),
                    end=match.end(),
                    at=written - timedelta(minutes=back),
                    sigma=min(30.0, max(10.0, back / 4)),
                )


# Parts of the day


def _parts(text: str, words: Grammar) -> list[Token]:
    hours = words.sub("part_hours")
    found = []
    for name, usual in PART_HOURS.items():
        own = hours.get(name, usual)
        first, last = (float(h) for h in own) if isinstance(own, Sequence) and not isinstance(own, str) else usual
        every = words.find(f"part {name}", text, words.sub("parts").get(name, ""))
        for match in words.halves(name, text) if name in ("am", "pm") else every:
            if match.group():
                found.append(Token(kind="part", start=match.start(), end=match.end(), hours=(first, last)))
    return [
        t
        for t in found
        if not any(
            o is not t and o.start <= t.start and t.end <= o.end and o.end - o.start > t.end - t.start for o in found
        )
    ]


# Clocks


def _figure_clocks(text: str, labelled: Sequence[tuple[int, int]]) -> Iterator[Token]:
    def token(match: re.Match[str], bare: bool = False) -> Token:
        hour, minute = int(match[1]), int(match[2] or 0)
        named = any(a <= match.start() < b for a, b in labelled)
        half = 1 <= hour <= 12 and not match[1].startswith("0")
        end = match.start() + len(match[0].rstrip())
        return Token(
            kind="clock",
            start=match.start(),
            end=end,
            minutes=60.0 * hour + minute,
            half_day=half,
            bare=bare and not named,
            sigma=10.0 if match[2] else 15.0,
            numbers=2 if match[2] else 1,
        )

    for match in _COLON.finditer(text):
        yield token(match)
    for match in _HHMM.finditer(text):
        yield replace(token(match), half_day=False)
    for match in _AT_HHMM.finditer(text):
        yield replace(token(match, bare=True), half_day=False)
    for match in _H.finditer(text):
        yield token(match, bare=not match[2])
    for match in _DOT.finditer(text):
        yield token(match, bare=True)


def _clocks(text: str, words: Grammar) -> Iterator[Token]:
    halves = [m for name in ("am", "pm") for m in words.halves(name, text)]
    number = re.compile(rf"(?<!{WORD})(?P<h>{words._number_pattern()})\s?$")
    for half in halves:
        before = number.search(text, max(0, half.start() - 24), half.start())
        if before:
            yield from _clock(text, before.start("h"), before.end("h"), before["h"], None, "+0", False, words)
    # 9pm, joined
    for table, bare in (("clocks", False), ("bare_hours", True)):
        for source, value in words.sub(table).items():
            for match in words.find(f"{table} {source}", text, [source]):
                taken = match.groupdict()
                yield from _clock(
                    text, match.start(), match.end(), taken.get("h"), taken.get("m"), str(value), bare, words
                )


def _clock(
    text: str, start: int, end: int, h: str | None, m: str | None, value: str, bare: bool, words: Grammar
) -> Iterator[Token]:
    """A clock of an hour, minutes and what a pattern makes of them; with a range's beginning, that clock too."""
    made = _VALUE.fullmatch(value if value[:1] in "+-" or ":" in value else f"+{value}")
    if not made:
        raise ValueError(f"{words.words.code}, [time.clocks]: {value!r} is no way to make a clock")
    hour = words.number(h) if h else None
    minute = words.number(m) if m else 0.0
    if (h and hour is None) or minute is None or not 0 <= minute < 60:
        return
    base = 60.0 * int(made[1]) + int(made[2]) if made[1] else 60.0 * (hour or 0.0)
    if not made[1] and (hour is None or not 0 <= hour <= 24):
        return
    fraction = bool(h) and abs((hour or 0) % 1) > 1e-6
    shift = sum(
        (1 if s == "+" else -1) * (minute if n == "m" else float(n)) for s, n in re.findall(r"([+-])(m|\d+)", made[3])
    )
    half = not made[1] and 1 <= int(hour or 0) <= 12 and not str(h).startswith("0")
    sharp = fraction or (m is not None) or abs(shift) in (15, 30)
    one = Token(
        kind="clock",
        start=start,
        end=end,
        minutes=base + shift,
        half_day=half,
        bare=bare,
        sigma=15.0 if sharp or not shift else 20.0,
        numbers=(h is not None) + (m is not None or bool(shift)),
    )
    first = _RANGE_BEFORE.search(text, max(0, start - 9), start) if h else None
    if first and int(first[1]) <= 24 and not made[1]:
        begin = 60.0 * int(first[1]) + int(first[2] or 0)
        if 0 < (one.minutes - begin) % 720 <= 240:
            middle = (one.minutes - begin) % 720 / 2
            one = replace(one, start=first.start(), minutes=one.minutes - middle, sigma=max(15.0, middle))
    yield one


def _with_offset(clock: Token, text: str) -> Token:
    said = _UTC.match(text, clock.end)
    return replace(clock, end=said.end(), utc=True, half_day=False) if said else clock


def in_words(folded: Folded, tokens: Sequence[Token]) -> str:
    """The words of some pieces as they were written, those far from each other parted by an ellipsis."""
    stretches: list[list[int]] = []
    for one in sorted(tokens, key=lambda t: t.start):
        if stretches and one.start - stretches[-1][1] <= 30:
            stretches[-1][1] = max(one.end, stretches[-1][1])
        else:
            stretches.append([one.start, one.end])
    return " … ".join(" ".join(folded.words(a, b).split()) for a, b in stretches)
