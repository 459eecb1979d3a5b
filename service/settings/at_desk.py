"""What can be set at the desk. What moondesk.toml sets goes before it, and cannot be changed at the desk.

One place for each setting, so that nobody wonders which of two counts: the page shows what the file sets, and says so.
Settings that could lock everybody out, or let the wrong ones in ([desk] address, [mailbox], [public]), are the file's.

    programme.name, .zone, .language   text
    programme.place                    [latitude, longitude, height in m] or null
    days.first_number, .hour, .rule    see `moondesk.ephemeris.phases.DayRule`
    privacy.mail_days                  days, 0: for good
    weights.*                          0 to 10, see `moondesk.service.settings.config.WEIGHTS`
    edition.next                       number of the edition next to air, null: the lowest not aired yet
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from moondesk.service.settings.config import WEIGHTS, Config

#: What the file calls `programme.place`.
PLACE_KEYS = ("programme.latitude", "programme.longitude", "programme.height_m")
DAY_KEYS = ("first_number", "hour", "rule")
#: What each is called in the audit list.
WORDS: Mapping[str, str] = MappingProxyType(
    {
        "programme.name": "the programme's name",
        "programme.zone": "the time zone",
        "programme.place": "the place",
        "programme.language": "the language of what goes out",
        "days.first_number": "the number of the first day",
        "days.hour": "the evening's hour",
        "days.rule": "the rule of the day count",
        "privacy.mail_days": "days for which a mail's text is kept",
        "edition.next": "the edition next to air",
        **{f"weights.{name}": f"the weight of {name.replace('_', ' ')}" for name in WEIGHTS},
    }
)


def in_file(config: Config, key: str) -> bool:
    """Whether moondesk.toml sets it."""
    return any(k in config.in_file for k in (PLACE_KEYS if key == "programme.place" else (key,)))


def with_settings(config: Config, stored: Mapping[str, Any]) -> Config:
    """The file's settings, and beside them those made at the desk (checked when they were made)."""
    told = {key: value for key, value in stored.items() if not in_file(config, key)}
    programme = config.programme
    if "programme.name" in told:
        programme = replace(programme, name=told["programme.name"])
    if "programme.zone" in told:
        programme = replace(programme, zone=told["programme.zone"])
    if "programme.language" in told:
        programme = replace(programme, language=told["programme.language"])
    if "programme.place" in told:
        programme = replace(programme, place=_place(told["programme.place"]))
    days = {**config.days, **{key: told[f"days.{key}"] for key in DAY_KEYS if f"days.{key}" in told}}
    weights = {**config.weights, **{n: told[f"weights.{n}"] for n in WEIGHTS if f"weights.{n}" in told}}
    return replace(
        config,
        programme=programme,
        days=days,
        weights=weights,
        mail_days=told.get("privacy.mail_days", config.mail_days),
        next_edition=told.get("edition.next", config.next_edition),
    )


def stored_settings(data_dir: Path) -> Mapping[str, Any]:
    """What was set at the desk of a data folder; nothing where there is no store yet. Raises StorageError."""
    from moondesk.service.store.settings import settings
    from moondesk.service.store.storage import DATABASE_NAME, Storage

    if not (data_dir / DATABASE_NAME).is_file():
        return {}
    with Storage(data_dir) as storage:
        return settings(storage)


def _place(value: Any) -> Any:
    if value is None:
        return None
    from moondesk.records import Place

    return Place(*value)
