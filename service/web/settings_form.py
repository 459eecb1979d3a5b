"""The form of the settings, whole or as the set-up asks it: values to keep, or a sentence for a wrong field. Pure."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from moondesk.drawing.theme import THEMES
from moondesk.service.languages import LANGUAGES
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.settings.at_desk import in_file
from moondesk.service.settings.config import MOST_WEIGHT, WEIGHTS, Config, all_settings
from moondesk.service.settings.table import value_at
from moondesk.service.texts import clean_text

NAME_CHARACTERS = 80
MOST_DAYS = 36_500
HIGHEST_M = 9_000
REGIONS = ("Africa", "America", "Antarctica", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")
RULES = (
    ("first evening after new Moon", "The first evening whose hour comes after new Moon"),
    ("evening of the date of new Moon", "The evening of the date on which new Moon falls"),
)
PAPERS = {"a4": "A4", "letter": "Letter"}
WEIGHT_WORDS: Mapping[str, str] = {
    "detail": "Detail on the Moon",
    "focus": "Focus",
    "exposure": "Exposure",
    "noise": "Little noise",
    "completeness": "Whole disc",
    "terminator": "What stands on the terminator",
    "fresh": "Taken in these days",
    "newcomer": "First-time senders",
    "simple_equipment": "Simple equipment",
    "fairness": "Not shown lately",
    "variety": "Variety of places",
}
#: Keys of the settings beside the fields that ask for them.
FIELDS = {
    "programme_name": "programme.name",
    "zone": "programme.zone",
    "language": "programme.language",
    "latitude": "programme.place",
    "longitude": "programme.place",
    "height_m": "programme.place",
    "first_number": "days.first_number",
    "hour": "days.hour",
    "rule": "days.rule",
    "theme": "air.theme",
    "paper": "programme.paper",
    "mail_days": "privacy.mail_days",
    **{f"weight_{name}": f"weights.{name}" for name in WEIGHTS},
}
#: Further settings of the table that may be set at the desk have plain lines; the next edition has its own page.
PLAIN = {
    key.replace(".", "_"): row
    for key, row in all_settings().items()
    if row.desk and key not in FIELDS.values() and key != "edition.next"
}
FIELDS |= {name: row.key for name, row in PLAIN.items()}


@dataclass(frozen=True)
class SettingsReading:
    """typed: the text of every field; values: settings to keep, by key; complaints: by field what is wrong."""

    typed: Mapping[str, str]
    values: Mapping[str, object]
    complaints: Mapping[str, str]


def current_form(config: Config) -> dict[str, str]:
    """The settings as the form shows them."""
    rule, place = load_calendar(config).rule, config.programme.place
    minutes = round(rule.hour * 60)
    return {
        "programme_name": config.programme.name,
        "zone": config.programme.zone,
        "language": config.programme.language,
        "latitude": f"{place.latitude_deg:.10g}" if place else "",
        "longitude": f"{place.longitude_deg:.10g}" if place else "",
        "height_m": f"{place.height_m:.10g}" if place else "",
        "first_number": str(rule.first_number),
        "hour": f"{minutes // 60:02d}:{minutes % 60:02d}",
        "rule": rule.rule,
        "theme": config.air.theme,
        "paper": config.programme.paper,
        "mail_days": str(config.mail_days),
        **{f"weight_{name}": f"{config.weights[name]:g}" for name in WEIGHTS},
        **{name: "" if (value := value_at(config, row.path)) is None else f"{value}" for name, row in PLAIN.items()},
    }


def state_of(config: Config) -> str:
    """A mark of the settings as they stand, so that two who change them at once are told."""
    return hashlib.sha256(repr(sorted(current_form(config).items())).encode()).hexdigest()[:16]


def fixed_fields(config: Config) -> frozenset[str]:
    """Fields that moondesk.toml decides."""
    return frozenset(name for name, key in FIELDS.items() if in_file(config, key))


def read_settings(form: Mapping[str, str], config: Config) -> SettingsReading:
    """The fields that were sent; those that moondesk.toml decides, and those that were not asked for, are left out."""
    fixed = fixed_fields(config)
    typed = {
        **current_form(config),
        **{name: form[name][:500].replace("\0", "") for name in FIELDS if name in form and name not in fixed},
    }
    asked = {name: typed[name].strip() for name in FIELDS if name in form and name not in fixed}
    values: dict[str, object] = {}
    wrong: dict[str, str] = {}
    for name, text in asked.items():
        if name in ("latitude", "longitude", "height_m"):
            continue
        try:
            values[FIELDS[name]] = _value(name, text, config)
        except ValueError as error:
            wrong[name] = str(error)
    if "latitude" in asked and "longitude" in asked:
        values["programme.place"] = _read_place(asked, wrong)
    return SettingsReading(typed, values, wrong)


def theme_names(config: Config) -> tuple[tuple[str, str], ...]:
    """Looks to choose from, with their words: the house's, and the file that is set."""
    own = () if config.air.theme in THEMES else ((config.air.theme, f"As {config.air.theme} says"),)
    return (*((key, theme.name) for key, theme in THEMES.items()), *own)


def _value(name: str, text: str, config: Config) -> object:
    """Raises ValueError with the sentence for its reader."""
    if name in PLAIN:
        return PLAIN[name].parse(text)
    if name == "programme_name":
        text = clean_text(text, 500)
        if not 1 <= len(text) <= NAME_CHARACTERS:
            raise ValueError(
                "Please type the programme's name."
                if not text
                else f"Please keep it to {NAME_CHARACTERS} characters; it has {len(text)}."
            )
        return text
    if name == "zone":
        if text not in zone_names(text):
            raise ValueError("Please choose one of the list.")
        return text
    if name in ("rule", "language", "theme", "paper"):
        known = {"rule": dict(RULES), "language": LANGUAGES, "theme": dict(theme_names(config)), "paper": PAPERS}
        if text not in known[name]:
            raise ValueError("Please choose one of the list.")
        return text
    if name == "hour":
        found = re.fullmatch(r"(\d{1,2}):(\d{2})(?::\d{2})?", text, re.ASCII)
        hour = int(found[1]) + int(found[2]) / 60 if found and int(found[2]) < 60 else 0
        if not 12 <= hour < 24:
            raise ValueError("An evening's hour lies from 12:00 to 23:59, like 20:00.")
        return round(hour, 4)
    if name == "first_number":
        if text not in ("0", "1"):
            raise ValueError("Please choose one of the list.")
        return int(text)
    if name == "mail_days":
        if not re.fullmatch(r"\d{1,5}", text, re.ASCII) or int(text) > MOST_DAYS:
            raise ValueError(f"Please type a number of days up to {MOST_DAYS}, or 0 to keep them for good.")
        return int(text)
    weight = _number(text)
    if weight is None or not 0 <= weight <= MOST_WEIGHT:
        raise ValueError(f"A weight lies from 0 to {MOST_WEIGHT:g}.")
    return weight


def _read_place(asked: Mapping[str, str], wrong: dict[str, str]) -> list[float] | None:
    texts = [asked["latitude"], asked["longitude"], asked.get("height_m", "")]
    if not any(texts[:2]):
        if texts[2]:
            wrong["height_m"] = "A height alone is no place: please type latitude and longitude too."
        return None
    numbers = []
    for name, text, most, words in (
        ("latitude", texts[0], 90, "From -90 to 90 degrees north, like 48.2 or -33.9."),
        ("longitude", texts[1], 180, "From -180 to 180 degrees east, like 16.4 or -8.7."),
    ):
        number = _number(text)
        if number is None or not -most <= number <= most:
            wrong[name] = words
        numbers.append(number or 0.0)
    height = _number(texts[2] or "0")
    if height is None or not -500 <= height <= HIGHEST_M:
        wrong["height_m"] = f"Metres above the sea, from -500 to {HIGHEST_M}."
    return [*numbers, height or 0.0]


def _number(text: str) -> float | None:
    """A decimal number with point or comma; None: it is none."""
    plain = text.replace(",", ".").replace("\u2212", "-")
    return float(plain) if re.fullmatch(r"[+-]?\d{1,6}(\.\d{0,12})?", plain, re.ASCII) else None


@cache
def _common_zones() -> tuple[str, ...]:
    return ("UTC", *sorted(z for z in available_timezones() if z.partition("/")[0] in REGIONS))


def zone_names(current: str) -> tuple[str, ...]:
    """Zones to choose from: those of a region, UTC, and the one that is set (if there is such a zone)."""
    names = _common_zones()
    if current in names:
        return names
    try:
        ZoneInfo(current)
    except (KeyError, ValueError, OSError):
        return names
    return (current, *names) if current else names
