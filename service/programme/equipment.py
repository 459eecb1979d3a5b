"""Equipment in a sender's words: "6 inch Dobsonian, 25 mm eyepiece" is aperture 152 mm, eyepiece 25 mm, a Dobsonian.

Pure. A number counts only with the word that says what it is: 1.25 inch is the barrel of an eyepiece, 200 mm may be a
lens, 24 inch a monitor. Two apertures in one text give none, because nothing tells which took the picture. What is read
here is a suggestion; the words that it came from go with it.

Classes of equipment are for finding pictures and for being fair to simple means. What the sender says of the telescope
counts before the camera: a phone held to an eyepiece is in the telescope's class. Where the line between small and
larger telescopes runs is common practice: 6 inches (152 mm) is still small.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from moondesk.service.programme.mail_text import sentences
from moondesk.service.store.records import Arrival, ListedPicture

MM_PER_INCH = 25.4
#: Apertures (mm) that a viewer may own, from a finder to a public observatory's; eyepieces' focal lengths on sale.
APERTURES_MM, EYEPIECES_MM = (20.0, 1100.0), (1.5, 60.0)
WORDS_CHARACTERS = 300


@dataclass(frozen=True)
class Equipment:
    """What was read. aperture_mm: whole mm; kind: "" where no instrument is named; words: the sentences it is from."""

    aperture_mm: int | None = None
    eyepiece_mm: float | None = None
    kind: str = ""
    words: str = ""

    def __bool__(self) -> bool:
        return bool(self.aperture_mm or self.eyepiece_mm or self.kind)


#: Kinds by the words for them, the most telling first; field terms, common practice.
_KINDS: tuple[tuple[str, str], ...] = (
    ("Dobsonian", r"dobsonians?|dobsons?|dobs?"),
    ("Maksutov-Newtonian", r"mak(?:sutov)?[- ]newt(?:onian)?"),
    ("Newtonian", r"newtonians?|newton|newts?|reflectors?|reflecting telescope"),
    ("Schmidt-Cassegrain", r"schmidt[- ]?cassegrains?|scts?"),
    ("Maksutov", r"maksutov(?:[- ]?cassegrain)?s?|maks?|mak[- ]?cass"),
    ("Ritchey-Chrétien", r"ritchey[- ]?chr[eé]tiens?"),
    ("refractor", r"refractors?|achromats?|apochromats?|apos?|refracting telescope"),
    ("binoculars", r"binoculars?|binos?|field ?glass(?:es)?"),
    ("spotting scope", r"spotting ?scopes?|monoculars?"),
    ("smart telescope", r"smart ?(?:tele)?scopes?"),
    ("telescope", r"telescopes?|scopes?"),
    ("camera lens", r"telephoto|tele ?lens|zoom lens|\d{2,4} ?mm lens|lens"),
    ("camera", r"dslr|slr|mirrorless|bridge camera|compact camera|camera|camcorder"),
    ("phone", r"(?:smart|mobile|cell)?[- ]?phones?|mobile"),
)
_NUMBER = r"(\d{1,4}(?:[.,]\d{1,2})?|\d{1,2} ?[½¼¾]|\d{1,2} \d/\d|[a-z]+)"
_INCH = r"\s?-?\s?(?:inch(?:es)?|in\.?(?=\s|$)|\"|''|”|″|\u2032\u2032|zoll)"
_MM = r"\s?-?\s?(?:mm|millimet(?:er|re)s?)\b"
_CM = r"\s?-?\s?cm\b"
_SCOPE = (
    r"(?:dob\w*|newt\w*|reflect\w*|sct\b|schmidt\w*|mak\w*|cassegrain\w*|ritchey\w*|refract\w*|achromat\w*"
    r"|apo\w*|tele ?scopes?|scopes?|aperture|mirror\b|objective|light[- ]?bucket|o\.?t\.?a\b)"
)
#: Between a number and its noun: up to four words, none of which starts another statement.
_NEAR = (
    r"(?:[\s,\-]+(?!and\b|with\b|but\b|eyepiece|ocular|barlow|lens\b|phone|barrel|focuser|diagonal|\d)"
    r"[\w/.\-]+){0,4}?"
)
_NOT_FINDER = r"(?<!finder)(?<!finder )(?<!finder-)"
_EYEPIECE = (
    r"(?:eye ?pieces?|oculars?|okulars?|okular|pl[oö]ss?ls?|kellners?|orthoscopics?|orthos?|erfles?"
    r"|wide[- ]?angles?|huygens|eps?(?=[\s,.:;)]|$))"
)
_APERTURE_INCH = re.compile(rf"\b{_NUMBER}{_INCH}{_NEAR}[\s,\-]+{_SCOPE}", re.IGNORECASE)
_APERTURE_MM = re.compile(rf"\b{_NUMBER}{_MM}{_NEAR}[\s,\-]+{_NOT_FINDER}{_SCOPE}", re.IGNORECASE)
_APERTURE_CM = re.compile(rf"\b{_NUMBER}{_CM}{_NEAR}[\s,\-]+{_SCOPE}", re.IGNORECASE)
#: "Newtonian 200 mm f/6", "Dobsonian, 6 inch"; not with "with", which leads on to the eyepiece.
_SCOPE_FIRST = re.compile(
    rf"(?<![\w-]){_NOT_FINDER}{_SCOPE}\s*[,:(]?\s*(?:of )?{_NUMBER}(?:({_INCH})|({_MM}))"
    r"(?!\s*(?:focal|lens|eye|ocular|okular|pl[o\u00f6]ss|ep\b|kellner|ortho|barlow))",
    re.IGNORECASE,
)
#: Millimetres after the noun: a smaller one is an eyepiece, a larger one a focal length.
_AFTER_MM = (60.0, 450.0)
_APERTURE_AFTER = re.compile(
    rf"\b(?:aperture|mirror|objective|diameter)\s*(?:is|of|:|=)?\s*(?:about |ca\.? )?{_NUMBER}(?:({_INCH})|({_MM}))",
    re.IGNORECASE,
)
#: "150/750": aperture and focal length, as they stand on tubes.
_SLASH = re.compile(r"(?<![\d/.,])(\d{2,3})\s?/\s?(\d{3,4})(?![\d/])(?:\s?mm)?")
_BINOCULARS = re.compile(r"(?<![\d.,])(\d{1,2})\s?[x\u00d7]\s?(\d{2,3})(?![\dx\u00d7])(?:\s?mm)?", re.IGNORECASE)
_EYEPIECE_BEFORE = re.compile(
    rf"\b{_NUMBER}{_MM}(?:[\s,\-]+(?!and\b|tele|scope|dob|newt|refr|refl|\d)[\w.\-]+){{0,2}}?[\s,\-]+{_EYEPIECE}",
    re.IGNORECASE,
)
_EYEPIECE_AFTER = re.compile(
    rf"{_EYEPIECE}\b\s*(?:of|:|=|with|was|is|,|\()?\s*(?:a |an )?{_NUMBER}{_MM}", re.IGNORECASE
)
_WORD_NUMBERS = {
    "three": 3,
    "four": 4,
    "five": 5,
    "six": 6,
    "eight": 8,
    "ten": 10,
    "twelve": 12,
    "fourteen": 14,
    "sixteen": 16,
}
_FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75}


@lru_cache(maxsize=4096)  # the inbox reads the same words each time that it is looked at
def read_equipment(text: str) -> Equipment:
    """What a text says about the optics; empty (falsy) where it names none."""
    apertures: set[int] = set()
    eyepieces: set[float] = set()
    kinds: list[int] = []
    told: list[str] = []
    for sentence in sentences(text):
        found, pieces, kind = _apertures(sentence), _eyepieces(sentence), _kind(sentence)
        apertures |= found
        eyepieces |= pieces
        if kind is not None:
            kinds.append(kind)
        if found or pieces or kind is not None:
            told.append(sentence)
    return Equipment(
        apertures.pop() if len(apertures) == 1 else None,
        eyepieces.pop() if len(eyepieces) == 1 else None,
        _KINDS[min(kinds)][0] if kinds else "",
        " ".join(told)[:WORDS_CHARACTERS],
    )


def _apertures(sentence: str) -> set[int]:
    found: set[float] = set()
    for pattern, unit in ((_APERTURE_INCH, MM_PER_INCH), (_APERTURE_MM, 1.0), (_APERTURE_CM, 10.0)):
        found |= {value * unit for m in pattern.finditer(sentence) if (value := _number(m.group(1)))}
    for m in _APERTURE_AFTER.finditer(sentence):
        if value := _number(m.group(1)):
            found.add(value * MM_PER_INCH if m.group(2) else value)
    for m in _SCOPE_FIRST.finditer(sentence):
        value = _number(m.group(1))
        if value and (m.group(2) or _AFTER_MM[0] <= value <= _AFTER_MM[1]):
            found.add(value * MM_PER_INCH if m.group(2) else value)
    for m in _SLASH.finditer(sentence):
        aperture, focal = float(m.group(1)), float(m.group(2))
        if 2.8 <= focal / aperture <= 16:  # focal ratios of telescopes; a date or a shutter time has none of these
            found.add(aperture)
    if _matches(r"binoculars?|binos?|field ?glass(?:es)?|spotting ?scopes?|monoculars?", sentence):
        found |= {float(m.group(2)) for m in _BINOCULARS.finditer(sentence)}
    return {round(mm) for mm in found if APERTURES_MM[0] <= mm <= APERTURES_MM[1]}


def _eyepieces(sentence: str) -> set[float]:
    found = {_number(m.group(1)) for p in (_EYEPIECE_BEFORE, _EYEPIECE_AFTER) for m in p.finditer(sentence)}
    return {mm for mm in found if mm and EYEPIECES_MM[0] <= mm <= EYEPIECES_MM[1]}


def _kind(sentence: str) -> int | None:
    return next((k for k, (_, pattern) in enumerate(_KINDS) if _matches(pattern, sentence)), None)


def _matches(pattern: str, sentence: str) -> bool:
    return re.search(rf"(?<![\w-])(?:{pattern})(?!\w)", sentence, re.IGNORECASE) is not None


def _number(text: str) -> float | None:
    """ "6", "4.5", "4,5", "4½", "4 1/2" or "six"; None for any other word."""
    text = text.strip().lower()
    if text in _WORD_NUMBERS:
        return float(_WORD_NUMBERS[text])
    if text[-1:] in _FRACTIONS:
        return float(text[:-1]) + _FRACTIONS[text[-1]]
    if match := re.fullmatch(r"(\d+) (\d)/([2-9])", text):
        return int(match.group(1)) + int(match.group(2)) / int(match.group(3))
    return float(text.replace(",", ".")) if re.fullmatch(r"\d+(?:[.,]\d+)?", text) else None


EquipmentClass = Literal["phone", "compact", "small", "larger", ""]
#: Words for people; "" is a class that nothing tells.
CLASS_WORDS: tuple[tuple[EquipmentClass, str], ...] = (
    ("phone", "Phone"),
    ("compact", "Camera or binoculars"),
    ("small", "Small telescope"),
    ("larger", "Larger telescope"),
    ("", "Equipment not told"),
)
SMALL_MM = 160
_OPTICS = (
    "Dobsonian",
    "Maksutov-Newtonian",
    "Newtonian",
    "Schmidt-Cassegrain",
    "Maksutov",
    "Ritchey-Chrétien",
    "refractor",
    "smart telescope",
    "telescope",
)
_COMPACT = ("binoculars", "spotting scope", "camera lens", "camera")
#: Makers and models as phones write them into EXIF (from memory).
_PHONES = re.compile(
    r"phone|pixel|galaxy|\bsm-|redmi|xiaomi|huawei|honor|oneplus|oppo|vivo|realme|moto |nokia", re.IGNORECASE
)


def equipment_class(equipment: Equipment, camera: str | None = None) -> EquipmentClass:
    """camera: as the file names it. A telescope of unknown aperture counts as a small one."""
    if equipment.kind in _COMPACT or (equipment.aperture_mm is not None and equipment.kind == "binoculars"):
        return "compact"
    if equipment.aperture_mm is not None:
        return "small" if equipment.aperture_mm < SMALL_MM else "larger"
    if equipment.kind in _OPTICS:
        return "small"
    if equipment.kind == "phone" or (camera and _PHONES.search(camera)):
        return "phone"
    return "compact" if camera else ""


def equipment_of(arrival: Arrival) -> Equipment:
    """The optics: what the table's words say, else what the mail's suggest."""
    if arrival.equipment:
        told = read_equipment(arrival.equipment)
        return Equipment(told.aperture_mm, told.eyepiece_mm, told.kind, arrival.equipment)
    by_field = {s.field: s for s in arrival.suggestions}
    aperture, eyepiece = by_field.get("aperture_mm"), by_field.get("eyepiece_mm")
    kind = by_field.get("equipment_kind")
    first = aperture or eyepiece or kind
    return Equipment(
        int(aperture.value) if aperture else None,
        float(eyepiece.value) if eyepiece else None,
        kind.value if kind else "",
        first.words if first else "",
    )


def equipment_words(arrival: Arrival) -> str:
    """What it was taken with, as told with the picture or else as the mail's words suggest."""
    return arrival.equipment or equipment_of(arrival).words


@lru_cache(maxsize=4096)
def class_of(listed: ListedPicture) -> EquipmentClass:
    """What it was taken with, by the sender's words and the file."""
    return equipment_class(
        equipment_of(listed.picture.submission.arrival), listed.summary.camera if listed.summary else None
    )
