"""Running orders by the age of the Moon: `data/orders.toml`, items in their order with their shares of the time."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import get_args

from moondesk.notes.messages import Message, say
from moondesk.script.evening import shape_of
from moondesk.script.records import Episode, ItemKind, OrderTemplate

KINDS: tuple[ItemKind, ...] = get_args(ItemKind)
TITLES: dict[ItemKind, Message] = {
    "opening": say("Opening"),
    "recap": say("Since last time"),
    "pictures": say("The viewers' pictures"),
    "directions": say("Directions"),
    "idea": say("One idea"),
    "tour": say("A walk over the Moon"),
    "hidden": say("Still in the dark"),
    "tomorrow": say("What comes next"),
    "call": say("Call for pictures"),
    "farewell": say("Farewell"),
}


@cache
def orders() -> tuple[OrderTemplate, ...]:
    """The running orders that come with the tool. ValueError for a file that is none."""
    text = (resources.files("moondesk.script") / "data" / "orders.toml").read_text(encoding="utf-8")
    return tuple(_read(row) for row in tomllib.loads(text)["order"])


def _read(row: dict[str, object]) -> OrderTemplate:
    shares, days = row["shares"], row["days"]
    if not isinstance(shares, dict) or not isinstance(days, list) or not set(shares) <= set(KINDS):
        raise ValueError(f"no running order: {row}")
    kinds: dict[ItemKind, float] = {kind: float(share) for kind, share in shares.items()}
    return OrderTemplate(name=str(row["name"]), days=(float(days[0]), float(days[1])), shares=kinds)


def order_for(episode: Episode) -> OrderTemplate:
    """The usual one for an evening: by the Moon's age, and another where there is no picture of a Moon that is up."""
    if shape_of(episode.about) == "new":
        return next(o for o in orders() if o.name == "no Moon")
    age = episode.about.age_days
    usual = next(o for o in orders() if o.days[0] <= age < o.days[1])
    if episode.pictures:
        return usual
    return next(o for o in orders() if o.name == "without pictures")
