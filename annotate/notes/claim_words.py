"""What a claim is made of: features, amounts and classes of words, told by a language's word list.

    "Half of the Sea of Rains is lit" -> Item(share 0.5), Item(Mare Imbrium), Item(lit)

A list is one file a language, `data/claims.*.toml`: classes of words, numbers, fractions, units, names. What stands in no
list is kept as unread, and a claim with unread words is never called plainly true or false.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib import resources
from typing import Any, Literal

from moondesk.moon.catalogue import all_features, fold_name, named
from moondesk.notes.landing_sites import SITES
from moondesk.notes.name_lookup import ENGLISH, feature_meant
from moondesk.notes.namesakes import nations, occupations
from moondesk.records import Feature

Unit = Literal["share", "hours", "km", "degrees", "years", "number"]
Sense = Literal["about", "more", "less"]

#: Kilometres and hours of what people measure in.
_UNITS: Mapping[str, tuple[Unit, float]] = {
    "percent": ("share", 0.01), "degree": ("degrees", 1.0), "km": ("km", 1.0), "mile": ("km", 1.609344),
    "metre": ("km", 0.001), "hour": ("hours", 1.0), "day": ("hours", 24.0), "week": ("hours", 168.0),
    "minute": ("hours", 1 / 60)}  # fmt: skip
#: "A few": three, give or take two.
FEW = 3.0
#: Days that begin with the word of a unit: "the day after tomorrow".
_OTHER_DAYS = ("after_tomorrow", "before_yesterday")
_TOKEN = re.compile(r"\d{1,3}(?:[,.]\d{3})+(?![\d])|\d+(?:[.,]\d+)?|[^\W\d_]+|[%°,;:]")
_COMMA = frozenset(",;:")


@dataclass(frozen=True, kw_only=True)
class Amount:
    """A number with its unit. step: what it is rounded to, in the unit; vague: "a few"."""

    value: float
    unit: Unit
    sense: Sense = "about"
    step: float = 0.0
    vague: bool = False


@dataclass(frozen=True, kw_only=True)
class Item:
    """A phrase of a claim. tags: the classes it may stand for; harmless: changes nothing where no class is asked;
    clause: how many commas stand before it in its sentence."""

    text: str
    tags: frozenset[str] = frozenset()
    feature: Feature | None = None
    amount: Amount | None = None
    value: str = ""
    rank: int = 0
    harmless: bool = False
    clause: int = 0

    @property
    def unread(self) -> bool:
        return not (self.tags or self.feature or self.amount or self.harmless)


@dataclass
class _Phrases:
    """Phrases by their first word, and those whose first word is a stem."""

    exact: dict[str, list[tuple[tuple[str, ...], str, str]]] = field(default_factory=dict)
    stems: list[tuple[tuple[str, ...], str, str]] = field(default_factory=list)

    def add(self, phrase: str, tag: str, value: str = "") -> None:
        words = tuple(phrase.split())
        if not words:
            return
        entry = (words, tag, value)
        self.stems.append(entry) if words[0].endswith("*") else self.exact.setdefault(words[0], []).append(entry)

    def at(self, words: list[str], i: int) -> list[tuple[int, str, str]]:
        """(length, tag, value) of all that stand at a word."""
        found = []
        for phrase, tag, value in (*self.exact.get(words[i], ()), *self.stems):
            n = len(phrase)
            if i + n <= len(words) and all(_same(p, w) for p, w in zip(phrase, words[i : i + n], strict=True)):
                found.append((n, tag, value))
        return found


def _same(phrase: str, word: str) -> bool:
    return word.startswith(phrase[:-1]) if phrase.endswith("*") else word == phrase


class ClaimWords:
    """A language's list, read for looking up."""

    def __init__(self, told: Mapping[str, Any]) -> None:
        self.language: str = told["language"]
        self.articles = frozenset(told["articles"])
        self.numbers = {k: float(v) for k, v in told["numbers"].items()}
        self.multipliers = {k: float(v) for k, v in told["multipliers"].items()}
        self.joins, self.few, self.to = (frozenset(told["number_words"][k]) for k in ("and", "few", "between"))
        self.alone, self.follow, self.no_unit_after, self.no_share_after, self.skip, self.of, self.most = (
            frozenset(told["number_words"][k])
            for k in ("alone", "follow", "no_unit_after", "no_share_after", "skip", "of", "most")
        )
        self.fractions = {k: float(v) for k, v in told["fractions"].items()}
        self.fillers = _Phrases()
        for word in told["fillers"].split():
            self.fillers.add(word, "filler")
        self.phrases = _Phrases()
        for tag, phrases in told["classes"].items():
            for phrase in phrases:
                self.phrases.add(self.fold(phrase), tag)
        for phrase in told["splits"]:
            self.phrases.add(self.fold(phrase), "split")
        self.units, self.senses = _Phrases(), _Phrases()
        for unit, phrases in told["units"].items():
            for phrase in phrases:
                self.units.add(phrase, unit)
        for sense, phrases in told["senses"].items():
            for phrase in phrases:
                self.senses.add(self.fold(phrase), sense)
        self.ordinals = _Phrases()
        for word, rank in told["ordinals"].items():
            self.ordinals.add(word, "ordinal", str(rank))
        own: Iterable[str] = nations() if self.language == "en" else ()
        trades: Iterable[str] = occupations() if self.language == "en" else ()
        for nation in own:
            self.phrases.add(self.fold(nation), "nation", nation)
        for trade in trades:
            self.phrases.add(self.fold(trade), "occupation", trade)
        for word, nation in told["nations"].items():
            self.phrases.add(self.fold(word), "nation", nation)
        for word, trade in told["occupations"].items():
            self.phrases.add(self.fold(word), "occupation", trade)
        self.missions = {"apollo": "Apollo", "surveyor": "Surveyor", "luna": "Luna", **told.get("missions", {})}
        self.places = _Phrases()
        for phrase, name in told["places"].items():
            self.places.add(self.fold(phrase), "feature", name)

    def fold(self, text: str) -> str:
        return " ".join(w for w in fold(text).split() if w not in self.articles)


def fold(text: str) -> str:
    """Lower case without Latin accents, marks that join words as spaces."""
    plain = re.sub(r"['’]s\b", "", text.casefold()).replace("ß", "ss").replace("ø", "o")
    kept = []
    for c in unicodedata.normalize("NFC", plain):
        base = unicodedata.normalize("NFD", c)
        kept.append(base[0] if ord(base[0]) < 0x250 else c)
    return re.sub(r"[-–—'’ʼ/“”\"„()!?…]", " ", "".join(kept))


@cache
def languages() -> tuple[ClaimWords, ...]:
    """Every list there is."""
    folder = resources.files("moondesk.notes") / "data"
    files = sorted((f for f in folder.iterdir() if re.fullmatch(r"claims\.\w+\.toml", f.name)), key=lambda f: f.name)
    return tuple(ClaimWords(tomllib.loads(f.read_text(encoding="utf-8"))) for f in files)


@cache
def _names() -> dict[str, str]:
    """Folded names of what a sentence may name: all of the near side, lettered ones too; English meanings."""
    found: dict[str, str] = {}
    for form, name in ENGLISH.items():
        found[form] = found[form.replace(" s ", " ")] = name
    for f in all_features():
        found.setdefault(fold_name(f.name), f.name)
        found.setdefault(fold_name(fold(f.name)), f.name)
        if f.meaning and f.parent is None:
            found.setdefault(fold_name(fold(f.meaning)), f.name)
    return found


@cache
def _longest() -> int:
    return max(len(k.split()) for k in _names())


def site_feature(mission: str) -> Feature | None:
    """A landing site as a place of no size."""
    site = next((s for s in SITES if s.mission == mission), None)
    return None if site is None else Feature(
        name=site.mission, kind="landing site", lat_deg=site.lat_deg, lon_deg=site.lon_deg, size_km=0.0)  # fmt: skip


@dataclass(frozen=True)
class _Token:
    text: str
    capital: bool
    comma: bool


def _tokens(text: str, words: ClaimWords) -> list[_Token]:
    told = re.sub(r"(?i)n['’]t\b", " not", text[:300]).replace("wo not", "will not").replace("ca not", "can not")
    told = re.sub(r"(?i)['’]s\b", "", told)
    found: list[_Token] = []
    for match in _TOKEN.finditer(re.sub(r"[-–—'’ʼ/“”\"„()!?…]", " ", told)):
        raw = match.group()
        if raw in _COMMA:
            found.append(_Token(raw, False, True))
            continue
        plain = fold(raw)
        if plain not in words.articles:
            found.append(_Token(plain, raw[0].isupper(), False))
    return found


def items_of(text: str, words: ClaimWords) -> tuple[Item, ...]:
    """A sentence as items, in order; commas are items of the class "split"."""
    tokens = _tokens(text, words)
    plain = [t.text for t in tokens]
    found: list[Item] = []
    i = 0
    while i < len(tokens):
        if tokens[i].comma:
            found.append(Item(text=",", tags=frozenset({"split", "comma"})))
            i += 1
            continue
        n, item = _item_at(plain, tokens, i, words)
        found.append(item)
        i += n
    return tuple(found)


def _item_at(plain: list[str], tokens: list[_Token], i: int, words: ClaimWords) -> tuple[int, Item]:
    if (amount := _amount_at(plain, i, words)) is not None:
        return amount
    classes = words.phrases.at(plain, i)
    most = max((n for n, _, _ in classes), default=0)
    n, feature = _feature_at(plain, i, words)
    filler = bool(words.fillers.at(plain, i))
    spoken = bool(most or filler)
    if feature is not None and (n > most or (n == most and n > 1)) and (n > 1 or not spoken):
        return n, Item(text=" ".join(plain[i : i + n]), feature=feature)
    if feature is not None and n == 1 and spoken and most <= 1 and tokens[i].capital and i > 0 and feature.size_km > 60:
        return n, Item(text=plain[i], feature=feature)
    if most:
        tags = frozenset(tag for k, tag, _ in classes if k == most)
        value = next((v for k, _, v in classes if k == most and v), "")
        text = " ".join(plain[i : i + most])
        rank = 0
        if most == 1 and (found := words.ordinals.at(plain, i)):
            rank = int(found[0][2])
        return most, Item(text=text, tags=tags, value=value, rank=rank, harmless=filler and most == 1)
    if found := words.ordinals.at(plain, i):
        return 1, Item(text=plain[i], rank=int(found[0][2]), tags=frozenset({"ordinal"}), harmless=True)
    return 1, Item(text=plain[i], harmless=filler)


def _feature_at(plain: list[str], i: int, words: ClaimWords) -> tuple[int, Feature | None]:
    number = plain[i + 1] if i + 1 < len(plain) else ""
    if plain[i] in words.missions or plain[i] in ("change", "chang", "chandrayaan", "slim"):
        for n in (3, 2, 1):
            told = " ".join(plain[i : i + n])
            for site in SITES:
                mission = fold(site.mission)
                mine = f"{words.missions.get(plain[i], '').casefold()} {number}".strip() if n == 2 else told
                if mission in (told, mine) or (
                    n == 2 and fold(words.missions.get(plain[i], "?")) + f" {number}" == mission
                ):
                    return n, site_feature(site.mission)
    best: tuple[int, Feature | None] = (0, None)
    for n, _, name in words.places.at(plain, i):
        if n > best[0]:
            best = (n, named(name))
    for n in range(min(_longest(), len(plain) - i), best[0], -1):
        key = " ".join(plain[i : i + n])
        name = _names().get(key, "")
        if name and len(key) > 2 and not key.isdigit():
            return n, named(name)
    return best


def _number_at(plain: list[str], i: int, words: ClaimWords) -> tuple[int, float, bool] | None:
    """(words, value, vague) of a number in digits or words."""
    if i >= len(plain):
        return None
    first = plain[i]
    if first[0].isdigit():
        grouped = re.fullmatch(r"\d{1,3}(?:[,.]\d{3})+", first)
        value = float(re.sub(r"[,.]", "", first)) if grouped else float(first.replace(",", "."))
        if i + 1 < len(plain) and plain[i + 1] in words.multipliers:
            return 2, value * words.multipliers[plain[i + 1]], False
        if i + 1 < len(plain) and len(first) < 4 and re.fullmatch(r"\d{3}", plain[i + 1]):
            return 2, value * 1000 + float(plain[i + 1]), False
        return 1, value, False
    if first in words.few:
        return 1, FEW, True
    if first in words.fractions and i + 1 < len(plain) and words.multipliers.get(plain[i + 1], 0) >= 1000:
        return 2, words.fractions[first] * words.multipliers[plain[i + 1]], False
    total, current, n, step, seen = 0.0, 0.0, 0, float("inf"), False
    while i + n < len(plain):
        word = plain[i + n]
        if word in words.joins and seen and i + n + 1 < len(plain):
            following = plain[i + n + 1]
            if words.numbers.get(following, float("inf")) < step and (step > 9) and following in words.numbers:
                n += 1
                continue
            break
        if word in words.numbers:
            value = words.numbers[word]
            if seen and not value < step:
                break
            current += value
            step = 10 if 20 <= value < 100 and value % 10 == 0 else 100 if value >= 100 else 0
        elif word in words.multipliers:
            factor = words.multipliers[word]
            if factor >= 1000:
                total += (current or 1) * factor
                current, step = 0.0, factor
            else:
                current = (current or 1) * factor
                step = 100
        else:
            break
        seen = True
        n += 1
    return (n, total + current, False) if seen else None


def _amount_at(plain: list[str], i: int, words: ClaimWords) -> tuple[int, Item] | None:
    """An amount with the words of its sense, number and unit: "a little over sixty percent"."""
    senses = sorted(words.senses.at(plain, i), reverse=True)
    for n, sense, _ in senses:
        k = i + n
        while k < len(plain) and plain[k] in words.skip:
            k += 1
        found = _plain_amount(plain, k, words)
        if found is not None:
            m, amount = found
            factor = {"bit_over": 1.06, "bit_under": 0.95}.get(sense, 1.0)
            if amount.unit == "share" and factor > 1:
                factor = 1.0 + min(0.06, 0.03 / max(amount.value, 0.1))
            judged: Sense = "more" if sense == "more" else "less" if sense == "less" else "about"
            return k + m - i, Item(text=" ".join(plain[i : k + m]), amount=replace(
                amount, value=amount.value * factor, sense=judged))  # fmt: skip
    found = _plain_amount(plain, i, words)
    if found is None:
        return None
    return found[0], Item(text=" ".join(plain[i : i + found[0]]), amount=found[1])


def _plain_amount(plain: list[str], i: int, words: ClaimWords) -> tuple[int, Amount] | None:
    if i >= len(plain) or _is_phrase(plain, i, words):
        return None
    number = _number_at(plain, i, words)
    if number is None:
        if plain[i] in words.fractions:
            return _fraction(plain, i, 0, 1.0, words)
        units = words.units.at(plain, i)
        if (
            units
            and plain[i] not in ("%", "°", "h", "ч", "second")
            and words.units.at(plain, i)[0][1] in ("hour", "day", "week")
            and i > 0
        ):
            n, unit, _ = max(units)
            kind, factor = _UNITS[unit]
            if any(m > 1 and tag in _OTHER_DAYS for m, tag, _ in words.phrases.at(plain, i)):
                return None
            if plain[i - 1] in words.no_unit_after:
                return None
            return n, Amount(value=factor, unit=kind, step=factor)
        return None
    n, value, vague = number
    if i + n < len(plain) and plain[i + n] in words.fractions and value < 20:
        if words.joins & {plain[i + n - 1]}:
            return None
        return _fraction(plain, i + n, n, value, words)
    if i + n + 1 < len(plain) and plain[i + n] in words.joins and words.fractions.get(plain[i + n + 1]) == 0.5:
        value, n = value + 0.5, n + 2
    if i + n + 1 < len(plain) and plain[i + n] in words.to:
        second = _number_at(plain, i + n + 1, words)
        if (
            second is not None
            and value < second[1] <= 2.5 * value
            and words.units.at(plain, min(i + n + 1 + second[0], len(plain) - 1))
        ):
            value, n = (value + second[1]) / 2, n + 1 + second[0]
    if i + n < len(plain) and plain[i + n] in words.of:
        units = words.units.at(plain, i + n + 1) if i + n + 1 < len(plain) else []
        n += bool(units)
    units = words.units.at(plain, i + n) if i + n < len(plain) else []
    if units:
        m, unit, _ = max(units)
        kind, factor = _UNITS[unit]
        m += n
        return m, Amount(value=value * factor, unit=kind, step=_step(value) * factor, vague=vague)
    if plain[i].isdigit() and len(plain[i]) == 4 and 1900 <= value <= 2100:
        return n, Amount(value=value, unit="years")
    if n == 1 and plain[i] in words.numbers and value in (1, 2):
        return None  # "one of", "both": a pronoun
    return n, Amount(value=value, unit="number", step=_step(value), vague=vague)


def _is_phrase(plain: list[str], i: int, words: ClaimWords) -> bool:
    """Whether a number word begins a phrase of another sense: "zero meridian", "half moon", "twice as"."""
    if plain[i] not in words.numbers and plain[i] not in words.fractions:
        return False
    other = ("half_side", "hemisphere", "lit", "dark", "moon", "truth_month", "times", "within", "near_side")
    return any(n > 1 and tag not in other for n, tag, _ in words.phrases.at(plain, i))


def _fraction(plain: list[str], i: int, before: int, count: float, words: ClaimWords) -> tuple[int, Amount] | None:
    value = count * words.fractions[plain[i]]
    units = words.units.at(plain, i + 1) if i + 1 < len(plain) else []
    if units and max(units)[1] in ("hour", "day", "week"):
        n, unit, _ = max(units)
        return before + 1 + n, Amount(value=value * _UNITS[unit][1], unit="hours", step=_UNITS[unit][1] / 2)
    if before == 0 and plain[i] in words.most:
        return 1, Amount(value=0.5, unit="share", sense="more")
    if value > 1.001:
        return None
    rest = plain[i + 1 : i + 4]
    if before == 0 and value < 1 and plain[i] not in words.alone and not words.follow & set(rest[:1]):
        return None  # "the third": an ordinal
    if before == 0 and plain[i] == "all" and "of" not in rest[:1]:
        return None
    if before == 0 and i > 0 and plain[i - 1] in words.no_share_after:
        return None
    return before + 1, Amount(value=value, unit="share", step=0.1)


def _step(value: float) -> float:
    """What a number is rounded to, by its last digit that is not nought."""
    if value != int(value) or value == 0:
        return 0.1
    step = 1.0
    while value % (step * 10) == 0:
        step *= 10
    return step


def guess_features(items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Unread words taken for features with a slip of the pen, where one is near enough."""
    found = []
    for item in items:
        near = feature_meant(item.text) if item.unread and len(item.text) > 5 and item.text.isascii() else ()
        found.append(replace(item, feature=near) if isinstance(near, Feature) else item)
    return tuple(found)


def near_names(text: str) -> tuple[str, ...]:
    """Names of what an unknown word of a sentence may mean."""
    for words in languages()[-1:]:
        for item in items_of(text, words):
            if item.unread and len(item.text) > 4 and item.text.isascii():
                found = feature_meant(item.text)
                return (found.name,) if isinstance(found, Feature) else found
    return ()
