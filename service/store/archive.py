"""The collection as it grows: which pictures belong to which evening, and which show a feature in which light.

Only what is surely placed; whether it may be shown is asked by whoever lists it (`moondesk.service.programme.permission`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from moondesk.service.store.storage import Storage

#: Up to this height of the Sun the ground is in low light, degrees (common practice: shadows are then four times as
#: long as what throws them is high, and more).
LOW_SUN_DEG = 14.0

Light = Literal["any", "sunrise", "high", "sunset"]


@dataclass(frozen=True)
class DatedPicture:
    """A picture and when it was taken."""

    picture_id: int
    taken_utc: datetime


@dataclass(frozen=True)
class Lit:
    """A picture that shows a feature. sun_deg: height of the Sun over its centre; morning: the Sun climbs there."""

    picture_id: int
    taken_utc: datetime | None
    sun_deg: float
    morning: bool


def pictures_with_dates(storage: Storage) -> tuple[DatedPicture, ...]:
    """All pictures whose time is believed, in its order; of several versions the best alone."""
    rows = storage.read(
        "select id, sky_utc from pictures where sky_utc is not null and version_of is null order by sky_utc, id"
    )
    return tuple(DatedPicture(row["id"], datetime.fromisoformat(row["sky_utc"])) for row in rows)


def pictures_showing(storage: Storage, feature: str, light: Light, most: int) -> tuple[Lit, ...]:
    """Pictures in which a feature (its exact name) stands in that light, the lowest Sun first, at most so many.

    Pictures that were placed by a release that did not note the light are found once they are placed anew.
    """
    where = {
        "any": "1",
        "sunrise": "s.morning and s.sun_deg <= :low",
        "high": "s.sun_deg > :low",
        "sunset": "not s.morning and s.sun_deg <= :low",
    }[light]
    rows = storage.read(
        f"""
        select p.id, p.sky_utc, s.sun_deg, s.morning from shown s join pictures p on p.id = s.picture_id
        where s.feature = :feature and s.sun_deg is not null and p.version_of is null and {where}
        order by s.sun_deg, p.id limit :most
        """,
        {"feature": feature, "low": LOW_SUN_DEG, "most": most},
    )
    return tuple(
        Lit(
            row["id"],
            datetime.fromisoformat(row["sky_utc"]) if row["sky_utc"] else None,
            row["sun_deg"],
            bool(row["morning"]),
        )
        for row in rows
    )


def count_features(storage: Storage, light: Light) -> tuple[tuple[str, int], ...]:
    """Features with how many pictures show them in that light, by name."""
    where = {
        "any": "1",
        "sunrise": "morning and sun_deg <= :low",
        "high": "sun_deg > :low",
        "sunset": "not morning and sun_deg <= :low",
    }[light]
    rows = storage.read(
        f"select feature, count(*) as n from shown where sun_deg is not null and leading and {where} "
        "group by feature order by feature",
        {"low": LOW_SUN_DEG},
    )
    return tuple((row["feature"], row["n"]) for row in rows)
