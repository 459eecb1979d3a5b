"""Equipment in a sender's words: "6 inch Dobsonian, 25 mm eyepiece" is aperture 152 mm, eyepiece 25 mm, a Dobsonian.

Pure. A number counts only with the word that says what it is: 1.25 inch is the barrel of an eyepiece, 200 mm may be a
lens, 24 inch a monitor. Every number with a unit goes to the nearest word that can own it, counted in words between, a
comma for two; words that own other numbers (a focal length, a finder, a diagonal) take theirs away. Two apertures in one
text give none, because nothing tells which took the picture.

The words are those of the languages that the text may be in, and English ones, which the trade uses everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from moondesk.service.lexicons.folding import fold
from moondesk.service.lexicons.lexicon import Lexicon, lexicon, lexicons
from moondesk.service.lexicons.patterns import BARE_START, START
from moondesk.service.programme.letter.tongues import languages_of, languages_of_sentence
from moondesk.service.programme.mail_text import sentences

MM_PER_INCH = 25.4
#: Apertures (mm) that a viewer may own, from a finder to a public observatory's; eyepieces' focal lengths on sale.
APERTURES_MM, EYEPIECES_MM = (20.0, 1100.0), (1.5, 60.0)
#: A number without a unit, or with one behind the telescope's name, is an aperture in these bounds: a smaller one is an
#: eyepiece, a larger one a focal length. A smaller one before its name is none.
BARE_MM, FROM_MM = (60.0, 450.0), 40.0
#: Barrels of eyepieces and diagonals are of 1.25 and 2 inches.
BARREL_MM = 2.1 * MM_PER_INCH
#: Of a number that nothing else owns, beside an aperture: an eyepiece as they are sold (common practice).
LEFT_MM = (2.3, 56.0)
#: Words between a number and its owner, a comma for two.
FAR = 4.5
#: What an "and" between a number and a word behind it counts: "200 mm and an eyepiece".
PARTED = 2.5
#: Two sizes of one telescope, in inches and in millimetres, agree so well.
SAME = 0.03
WORDS_CHARACTERS = 300
#: No more of a sentence is read.
LONGEST = 500
#: Objectives of binoculars as they are sold.
_GLASSES_MM = frozenset((20, 21, 25, 30, 32, 35, 36, 40, 42, 45, 50, 56, 60, 63, 70, 80, 82, 100))

#: The most telling first; field terms, common practice.
KINDS = (
    "Dobsonian",
    "Maksutov-Newtonian",
    "Newtonian",
    "Schmidt-Cassegrain",
    "Maksutov",
    "Ritchey-Chrétien",
    "refractor",
    "binoculars",
    "spotting scope",
    "smart telescope",
    "telescope",
    "camera lens",
    "camera",
    "phone",
)
_TUBES = KINDS[:7] + KINDS[8:11]
_LOOKED_THROUGH = KINDS[:11]


@dataclass(frozen=True, kw_only=True)
class Equipment:
    """What was read. aperture_mm: whole mm; kind: "" where no instrument is named; words: the sentences it is from.

    camera: "phone" or "camera", what took the picture through an instrument, "" where that is not said."""

    aperture_mm: int | None = None
    eyepiece_mm: float | None = None
    kind: str = ""
    words: str = ""
    camera: str = ""

    def __bool__(self) -> bool:
        return bool(self.aperture_mm or self.eyepiece_mm or self.kind)


@dataclass(frozen=True)
class _Owner:
    """A word that can own a number. what: a kind, or "eyepiece", "aperture", "other"."""

    start: int
    end: int
    what: str


@dataclass(frozen=True)
class _Size:
    start: int
    end: int
    mm: float
    unit: str  # "inch", "mm", "cm", "" bare, "slash": aperture and focal length, "code", "smart", "tube": a maker's, "whole": one word for a telescope's size, "power": 10x50


@lru_cache(maxsize=4096)  # the inbox reads the same words each time that it is looked at
def read_equipment(text: str) -> Equipment:
    """What a text says about the optics; empty (falsy) where it names none."""
    apertures: list[float] = []
    eyepieces: set[float] = set()
    kinds: list[int] = []
    told: list[str] = []
    cameras: set[str] = set()
    mail = languages_of(text)
    for sentence in sentences(text):
        sentence = sentence[:LONGEST]
        words = _lexicons(sentence, mail)
        owners = sorted((*_owners(sentence, words), *_makes(sentence)), key=lambda o: (o.start, -o.end))
        named = [KINDS.index(o.what) for o in owners if o.what in KINDS]
        sizes = list(_sizes(sentence, words))
        if any(s.unit == "slash" for s in sizes) and not _tubes(named):
            named.append(KINDS.index("telescope"))  # "114/900"
        if any(_FIXED_LENS.search(sentence[o.start : o.end]) for o in owners if o.what in ("phone", "camera")):
            named = [k for k in named if KINDS[k] != "camera lens"]  # its zoom is its own
        named += [KINDS.index("Schmidt-Cassegrain") for s in sizes if s.unit == "code" and not _tubes(named)]
        glasses = _are_glasses(sentence, sizes, owners, named)
        if glasses:
            named.append(KINDS.index("binoculars"))
        if any(o.what == "eyepiece" for o in owners) and named and min(named) > KINDS.index("telescope"):
            named.append(KINDS.index("telescope"))  # a phone held to an eyepiece
        joins = frozenset[str]().union(*(one.words("equipment", "of") for one in words))
        parts = _parting(words)
        tube = _tubes(named) or _tubes(kinds)
        found, pieces, lens = _owned(sentence, sizes, _outermost(owners), tube, glasses, joins, parts)
        if lens and not tube:
            named.append(KINDS.index("camera lens"))
        apertures += found
        eyepieces |= pieces
        cameras |= {KINDS[k] for k in named if KINDS[k] in ("phone", "camera", "camera lens")}
        if named:
            kinds.append(min(named))
        if found or pieces or named:
            told.append(sentence)
    kind = KINDS[min(kinds)] if kinds else ""
    return Equipment(
        aperture_mm=round(apertures[0]) if apertures and _all_same(apertures) else None,
        eyepiece_mm=eyepieces.pop() if len(eyepieces) == 1 else None,
        kind=kind,
        words=" ".join(told)[:WORDS_CHARACTERS],
        camera=("phone" if "phone" in cameras else "camera" if cameras else "") if kind in _LOOKED_THROUGH else "",
    )


def _lexicons(sentence: str, mail: tuple[str, ...]) -> tuple[Lexicon, ...]:
    codes = dict.fromkeys((*languages_of_sentence(sentence, mail), *mail, "en"))
    return tuple(lexicon(code) for code in codes if code in lexicons())


@lru_cache(maxsize=64)
def _parting(words: tuple[Lexicon, ...]) -> re.Pattern[str]:
    """What stands between a number and a thing that it is not of: "and", "but", also joined to the thing."""
    said = {way for one in words for key in (("credit", "and"), ("place", "but")) for way in one.expressions(*key)}
    joined = {re.escape(fold(str(one.table["credit"]["joined"])).text) for one in words if _joins(one)}
    every = [*sorted(said), *(rf"(?<!\w){j}(?=\w{{3}})" for j in sorted(joined))]
    return re.compile("|".join(f"(?:{e})" for e in every) or r"(?!)")


def _joins(words: Lexicon) -> bool:
    return bool(words.table.get("credit", {}).get("joined"))


def _tubes(named: Iterable[int]) -> bool:
    return any(KINDS[k] in _TUBES for k in named)


def _all_same(sizes: list[float]) -> bool:
    return max(sizes) <= min(sizes) * (1 + SAME)


def _owners(sentence: str, words: tuple[Lexicon, ...]) -> Iterator[_Owner]:
    for one in words:
        folded = one.fold(sentence)
        kinds = one.table.get("equipment", {}).get("kinds", {})
        lists = [(key, ("equipment", key)) for key in ("eyepiece", "aperture", "lens", "other")]
        lists += [(kind, ("equipment.kinds", kind)) for kind in KINDS if kind in kinds]
        for what, (section, key) in lists:
            for pattern in one.each(section, key):
                for match in pattern.finditer(folded.text):
                    start, end = folded.span(*match.span())
                    if what in KINDS and any(_is_lacking(sentence, start, end, other) for other in words):
                        continue
                    yield _Owner(start, end, what)


def _makes(sentence: str) -> Iterator[_Owner]:
    """What is named by its maker's name and its type, which are in Latin letters in every language."""
    for pattern, what in ((_PHONE, "phone"), (_CAMERA, "camera"), (_LENS, "camera lens"), (_SC, "Schmidt-Cassegrain")):
        for match in pattern.finditer(sentence):
            yield _Owner(match.start(), match.end(), what)


def _is_lacking(sentence: str, start: int, end: int, words: Lexicon) -> bool:
    """Whether an instrument is named that nobody has: "without a telescope"."""
    before = words.fold(sentence[max(0, end - 60) : end]).text
    if any(
        m.end() > len(before) - (end - start)
        for way in words.each("equipment", "lacking")
        for m in way.finditer(before)
    ):
        return True
    after = words.search("equipment", "lacking_after")(words.fold(sentence[start : start + 60]).text)
    return after is not None and after.start() < end - start


def _outermost(owners: list[_Owner]) -> list[_Owner]:
    """Of owners that overlap the longest: a finder scope is no telescope."""
    kept: list[_Owner] = []
    for one in sorted(owners, key=lambda o: (o.start - o.end, o.what in KINDS)):
        if all(one.end <= other.start or one.start >= other.end for other in kept):
            kept.append(one)
    return sorted(kept, key=lambda o: o.start)


#: Phones, cameras and their lenses as they are sold; their numbers are nobody else's.
_PHONE = re.compile(
    r"(?<![^\W\d_])(?:i-?phone|(?:samsung )?galaxy [asmzfnj]\s?\d|(?:google )?pixel \d|redmi(?: note)? \w*\d|xiaomi|poco [mxfc]\d"
    r"|realme|oneplus|huawei|honor \d|oppo|vivo [vyxt]\d|moto(?:rola)? [ge]|infinix|tecno|xperia|nokia \d)"
    r"(?![a-z\u00c0-\u04ff])(?:[ -]?(?:\d{1,3}[a-z]?|note|pro|max|plus|ultra|lite|mini|neo|se|5g|[a-z]\d{1,3})(?![^\W_]))*",
    re.IGNORECASE,
)
_CAMERA = re.compile(
    r"(?<![^\W\d_])(?:(?:nikon )?(?:coolpix )?p ?(?:900|950|1000|1100)|coolpix \w*\d\w*|powershot \w+|lumix \w+|eos \w*\d\w*|asi ?\d{3}\w*"
    r"|(?:nikon|canon|sony|pentax|fuji(?:film)?|olympus|panasonic) [a-z]{0,3} ?-?\d{1,4}[a-z]{0,3}\d?)(?![^\W_])",
    re.IGNORECASE,
)
#: Those that have but one lens.
_FIXED_LENS = re.compile(
    r"p ?(?:900|950|1000|1100)|coolpix|powershot|iphone|galaxy|pixel|redmi|xiaomi|poco|realme|oneplus|huawei|honor|oppo|vivo|moto"
    r"|infinix|tecno|xperia|nokia",
    re.IGNORECASE,
)
#: A zoom lens by its shortest and longest focal length.
_LENS = re.compile(r"(?<![\d.,/:-])(?:[1-9]\d|1[0-8]0|200) ?- ?(?:[5-9]\d|[1-8]\d0)(?! ?[-:/.]?\d)(?: ?mm)?(?![^\W_])")
_SLASH = re.compile(r"(?<![\d/.,])(\d{2,3})\s?/\s?(?:f\s?)?(\d{3,4})(?![\d/])")
#: 10x50, also with the sign told as a word.
_POWER = re.compile(
    r"(?<![\d.,])(\d{1,2})(?:\s?[x\u00d7\u0445\u500d]\s?|\s(?:by|mal|por|par|\u043d\u0430|\u0641\u064a|\u092c\u093e\u092f|\u0917\u0941\u0923\u093e|\u0917\u0941\u0928\u093e)\s)(\d{2,3})(?![\dx\u00d7]|[.,]\d)"
)
#: The trade's names of Schmidt-Cassegrains by their inches, in every language.
_CODE = re.compile(r"(?<![a-z\d])c ?-?(5|6|8|9\.25|9,25|11|14)(?:\s?(?:hd|edge|sct|xlt))?(?![a-z\d]|[.,]\d)")
#: Smart telescopes are named by their millimetres.
_SMART = re.compile(r"(?<![a-z\d])s ?-?(30|50)(?![a-z\d]|[.,]\d)")
#: Their usual abbreviation, which is a state's too, beside inches.
_SC = re.compile(r"(?<![^\W_])SC(?= (?:de |of )?[\w-]+ (?:inch|pouces|pulgadas|polegadas|Zoll))")
#: Amateurs' short names of their telescopes by the millimetres, French in origin.
_TUBE = re.compile(r"(?<![a-z\d])t(1[1-9]\d|2\d\d|[3-6]00)(?![a-z\d]|[.,]\d)")
#: "130P", "80ED", "25er", "127 Mak": numbers as they stand on tubes, and as some languages speak them.
_BARE = re.compile(
    r"(?<![\d.,/x\u00d7:])(?<!\d-)(?!\d{1,3} ?- ?\d{2,3})(?<!f/)(?<!iso )(\d{1,3}(?:[.,]5)?)\s?-?(er|p|pds|ed|apo|eq|st|az|mak|slt)?(?![\d/:%\u00b0x\u00d7]|[.,]\d|[^\W\d_\u3040-\u30ff])"
)


def _sizes(sentence: str, words: tuple[Lexicon, ...]) -> Iterator[_Size]:
    taken: list[tuple[int, int]] = []

    def free(start: int, end: int) -> bool:
        if any(start < b and a < end for a, b in taken):
            return False
        taken.append((start, end))
        return True

    plain = words[0].fold(sentence)
    for pattern, unit in ((_SLASH, "slash"), (_POWER, "power"), (_CODE, "code"), (_SMART, "smart"), (_TUBE, "tube")):
        for match in pattern.finditer(plain.text):
            mm = float(match.group(2 if unit == "power" else 1).replace(",", "."))
            if unit == "slash" and not 2.8 <= float(match.group(2)) / mm <= 16:
                continue  # focal ratios of telescopes; a date or a shutter time has none of these
            if free(*plain.span(*match.span())):
                yield _Size(*plain.span(*match.span()), mm * (MM_PER_INCH if unit == "code" else 1.0), unit)
    for one in words:
        folded = one.fold(sentence)
        said = one.table.get("equipment", {}).get("fractions", {})  # "four and a half inches"
        fractions = {one.writing.fold(word.replace("_", " ")).text: float(n) for word, n in said.items()}
        for stem, mm in one.table.get("equipment", {}).get("sizes", {}).items():
            for match in re.finditer(one.expression(stem), folded.text):
                if free(*folded.span(*match.span())):
                    yield _Size(*folded.span(*match.span()), float(mm), "whole")
        for unit, scale, signs in (
            ("inch", MM_PER_INCH, r"\"|''|\u2032\u2032|(?<=\d)in"),
            ("mm", 1.0, "mm"),
            ("cm", 10.0, "cm"),
        ):
            own = (
                "|".join(one.expressions("equipment", unit)).replace(START, "").replace(BARE_START, "")
            )  # "70mm": joined to its number
            after = r"(?![^\W\d_])" if one.writing.spaces else ""
            of_one = (
                "|".join(re.escape(f).replace(r"\ ", r"[\s-]") for f in sorted(fractions, key=len, reverse=True))
                or "(?!)"
            )
            pattern = re.compile(
                rf"(?<![\d.,/\u3007\u4e00\u4e8c\u4e09\u56db\u4e94\u516d\u4e03\u516b\u4e5d\u5341])(?P<n>\d+ ?[\u00bd\u00bc\u00be]|\d+ \d/\d|{one.number})(?:[\s-](?P<f>{of_one}))?"
                rf"\s?-?\s?(?:(?:{signs}){after}|{own or '(?!)'})(?:[\s-](?P<g>{of_one})(?![^\W\d_]))?"
            )
            for match in pattern.finditer(folded.text):
                number = number_of(match.group("n"), one)
                if number is not None:
                    number += fractions.get((match["f"] or match["g"] or "").replace("-", " "), 0.0)
                if number is not None and free(*folded.span(*match.span())):
                    yield _Size(*folded.span(*match.span()), number * scale, unit)
    for match in _BARE.finditer(plain.text):
        if free(*plain.span(*match.span())):
            yield _Size(*plain.span(*match.span()), float(match.group(1).replace(",", ".")), "")


_FRACTIONS = {"\u00bd": 0.5, "\u00bc": 0.25, "\u00be": 0.75}


def number_of(text: str, words: Lexicon) -> float | None:
    """The value of "6", "4.5", "4,5", "4½", "4 1/2" or "six"; None where it is no number."""
    text = text.strip()
    if text in words.numbers:
        return words.numbers[text]
    if text[-1:] in _FRACTIONS and text[:-1].strip().isdigit():
        return float(text[:-1]) + _FRACTIONS[text[-1]]
    if match := re.fullmatch(r"(\d+) (\d)/([2-9])", text):
        return int(match.group(1)) + int(match.group(2)) / int(match.group(3))
    return float(text.replace(",", ".")) if re.fullmatch(r"\d{1,6}(?:[.,]\d{1,4})?", text) else None


def _owned(
    sentence: str,
    sizes: list[_Size],
    owners: list[_Owner],
    tube: bool,
    glasses: bool,
    joins: frozenset[str],
    parts: re.Pattern[str],
) -> tuple[list[float], set[float], bool]:
    """Apertures and eyepieces of a sentence, and whether one of its sizes is a camera lens's focal length. tube: a telescope is named in it; glasses: binoculars are; joins: words
    that tie a number to the word before it ("ocular de 25 mm"); parts: those that part it from the word behind."""
    apertures: list[float] = []
    eyepieces: set[float] = set()
    left: list[float] = []
    lens = False
    for size in sizes:
        if size.unit in ("slash", "code", "tube"):
            apertures.append(size.mm)
            continue
        if size.unit == "smart":
            apertures += [size.mm] if any(o.what == "smart telescope" for o in owners) else []
            continue
        if size.unit == "power":
            named = any(o.what in ("binoculars", "spotting scope") for o in owners)
            apertures += [size.mm] if named or glasses else []
            continue
        if size.unit == "whole":
            apertures.append(size.mm)
            continue
        owner, before, cost = _nearest(sentence, size, sizes, owners, joins, parts)
        if size.unit == "":
            _own_bare(size, owner, cost, tube, apertures, eyepieces)
        elif owner is None:
            left += [size.mm] if size.unit == "mm" else []
        elif owner.what == "lens":  # some languages call an eyepiece a lens
            lens = lens or size.mm > LEFT_MM[1]
            if tube and size.unit == "mm" and LEFT_MM[0] <= size.mm <= LEFT_MM[1]:
                eyepieces.add(size.mm)
        elif owner.what == "eyepiece":
            if size.unit == "mm" and EYEPIECES_MM[0] <= size.mm <= EYEPIECES_MM[1]:
                eyepieces.add(size.mm)
        elif owner.what == "aperture" or (owner.what in _TUBES and _is_aperture(size, before)):
            apertures.append(size.mm)
        elif owner.what in _TUBES and size.unit == "mm" and before:
            left.append(size.mm)
    if apertures and not eyepieces:
        eyepieces |= {mm for mm in left if LEFT_MM[0] <= mm <= LEFT_MM[1]} if len(left) == 1 and tube else set()
    return [mm for mm in apertures if APERTURES_MM[0] <= mm <= APERTURES_MM[1]], eyepieces, lens


def _is_glass(size: _Size, sentence: str) -> bool:
    """Whether a "10x50" without a word is one of binoculars as they are sold (common practice)."""
    power = float(re.split(r"\D", sentence[size.start : size.end].strip())[0] or 0)
    return 6 <= power <= 25 and size.mm in _GLASSES_MM and 2 <= size.mm / power <= 7.2


def _are_glasses(sentence: str, sizes: list[_Size], owners: list[_Owner], named: list[int]) -> bool:
    """Whether a "10x50" is that of binoculars, which many languages call a telescope: beside no finder, no other size."""
    if not any(s.unit == "power" and _is_glass(s, sentence) for s in sizes):
        return False
    alone = len([s for s in sizes if s.unit]) == 1 and not any(o.what in ("other", "eyepiece") for o in owners)
    return not _tubes(named) or (alone and min(named) == KINDS.index("telescope"))


def _is_aperture(size: _Size, before: bool) -> bool:
    """Of a size beside a telescope's name. before: the name stands before it."""
    if size.unit != "mm":
        return size.mm > BARREL_MM
    return BARE_MM[0] <= size.mm <= BARE_MM[1] if before else size.mm >= FROM_MM


def _own_bare(
    size: _Size, owner: _Owner | None, cost: float, tube: bool, apertures: list[float], eyepieces: set[float]
) -> None:
    """A number without a unit counts only right beside its word. tube: a telescope is named."""
    if owner is None or cost > 1:
        return
    if owner.what == "aperture" and BARE_MM[0] <= size.mm <= BARE_MM[1]:
        apertures.append(size.mm)
    elif (owner.what == "eyepiece" and LEFT_MM[0] <= size.mm <= LEFT_MM[1]) or (
        owner.what == "lens" and tube and cost <= 0.5 and LEFT_MM[0] <= size.mm <= LEFT_MM[1]
    ):
        eyepieces.add(size.mm)
    elif owner.what in _TUBES and cost <= 0.5 and BARE_MM[0] <= size.mm <= BARE_MM[1]:
        apertures.append(size.mm)


def _nearest(
    sentence: str, size: _Size, sizes: list[_Size], owners: list[_Owner], joins: frozenset[str], parts: re.Pattern[str]
) -> tuple[_Owner | None, bool, float]:
    """The word that owns a size, whether it stands before it, and how far it is; None where none is near."""
    best: tuple[float, _Owner | None, bool] = (FAR, None, False)
    for owner in owners:
        if owner.what == "eyepiece" and size.unit in ("inch", "cm") and size.mm > BARREL_MM:
            continue
        if owner.what == "phone" and size.unit in ("mm", "cm", "inch"):
            continue
        before = owner.end <= size.start
        first, last = (owner.end, size.start) if before else (size.end, owner.start)
        if first > last:  # joined: "80ED"
            cost = 0.0
        elif first == last:  # without a space: "反射127mm"
            cost = 0.1
        else:
            between = [s for s in sizes if s.unit and first <= s.start < last]
            others = [o for o in owners if o is not owner and first <= o.start < last]
            tied = before and sentence[first:last].casefold().strip(" (,:") in joins
            cost = 0.0 if tied else _distance(sentence[first:last])
            cost += 3 * len(between) + 3 * len(others) + (0.4 if before else 0.0)
            if not before and parts.search(fold(sentence[first : owner.start + 4]).text):
                cost += PARTED
        if cost < best[0]:
            best = (cost, owner, before)
    return best[1], best[2], best[0]


def _distance(gap: str) -> float:
    commas = sum(gap.count(c) for c in ",;\u3001\u060c")
    words = re.findall(r"[^\W_]+", gap)
    spaced = not re.search(r"[\u3040-\u30ff\u4e00-\u9fff]", gap)
    return (len(words) if spaced else len("".join(words)) / 3) + 2 * commas
