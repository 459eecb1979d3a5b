"""What the name that a picture came with says of its date: a day after which it was not taken, and no more.

Phones, messengers and programs put the day of saving into names, each in its own zone: the day of the exposure where
the camera itself did, that of the receipt or of the screenshot elsewhere, and nobody can tell a copy from the first
file. All of them, though, were made after the exposure.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Literal

NameKind = Literal["camera", "message", "screenshot", "other"]

#: Beginnings of names, by who gave them (common practice, from memory).
_KINDS: tuple[tuple[NameKind, re.Pattern[str]], ...] = (
    ("message", re.compile(r"(img|vid)-\d{8}-wa\d|whatsapp|signal[-_]|photo_\d{4}-|telegram|received_", re.I)),
    ("screenshot", re.compile(r"screen[ _-]?shot|screenshot|bildschirmfoto|capture d|captura|schermata", re.I)),
    ("camera", re.compile(r"(img|pxl|mvimg|dsc|pano|burst)[-_]?\d{8}|\d{8}_\d{6}\b", re.I)),
)
_DAY = re.compile(r"(?<!\d)((?:19|20)\d\d)([-_.]?)(0[1-9]|1[0-2])\2(0[1-9]|[12]\d|3[01])(?!\d{1,5}(?!\d))")
WORDS: dict[NameKind, str] = {
    "camera": "as cameras and phones name a picture when it is taken or saved",
    "message": "as messengers name a picture when it is received, so that it is a day of receipt",
    "screenshot": "as a screen's picture is named when it is made",
    "other": "which somebody or some program wrote into it",
}


@dataclass(frozen=True)
class NamedDay:
    """The day that a name gives, in a zone that it does not say."""

    day: date
    kind: NameKind

    @property
    def begins_utc(self) -> datetime:
        """When that day began where it begins first on Earth (UTC+14)."""
        return datetime(self.day.year, self.day.month, self.day.day, tzinfo=UTC) - timedelta(hours=14)

    @property
    def ends_utc(self) -> datetime:
        """Noon after that day where it ends last (UTC-12): a night is often named by its evening."""
        return datetime(self.day.year, self.day.month, self.day.day, tzinfo=UTC) + timedelta(hours=24 + 12 + 12)

    @property
    def words(self) -> str:
        """The day and what such a name tells, for a remark."""
        return f"{self.day:%Y-%m-%d}, {WORDS[self.kind]}"


def day_in_name(name: str) -> NamedDay | None:
    """The day in a file's name, year first; None where there is none, or where it gives two.

    >>> day_in_name("IMG-20261018-WA0003.jpg").words
    '2026-10-18, as messengers name a picture when it is received, so that it is a day of receipt'
    >>> day_in_name("moon.jpg")
    """
    days: set[date] = set()
    for match in _DAY.finditer(name[:300]):
        try:
            days.add(date(int(match[1]), int(match[3]), int(match[4])))
        except ValueError:  # the 31st of a shorter month
            continue
    if len(days) != 1 or min(days).year < 1990:
        return None
    kind: NameKind = next((k for k, pattern in _KINDS if pattern.search(name[:300])), "other")
    return NamedDay(days.pop(), kind)
