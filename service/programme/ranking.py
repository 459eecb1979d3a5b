"""The order of the inbox: what was measured of each picture, weighed with what is fair.

Quality (stored with the annotation) + Facts (who, with what, how often on air) + Weights (settings) -> Rated
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from moondesk.quality.aperture import PHONE_MM, equipment_limit
from moondesk.quality.score import EquipmentClass, Facts, Score, score
from moondesk.quality.weights import Weights
from moondesk.records import NotFound
from moondesk.service.programme.equipment import class_of, equipment_of
from moondesk.service.programme.evenings import days_old
from moondesk.service.store.measured import measured_quality
from moondesk.service.store.records import Appearance, Arrival, ListedPicture, sender_key

#: How the core calls the classes.
CLASSES: dict[str, EquipmentClass] = {
    "phone": "phone",
    "compact": "compact",
    "small": "small telescope",
    "larger": "larger telescope",
}
#: Editions over which it is counted who was on air.
LATELY = 10
NAMES = {
    "detail": "Detail",
    "focus": "Focus",
    "exposure": "Exposure",
    "noise": "Noise",
    "completeness": "Whole disc",
    "terminator": "Low light",
    "fresh": "Of these days",
    "newcomer": "First time",
    "simple_equipment": "Simple equipment",
    "fairness": "Not shown lately",
    "variety": "Variety of places",
}


@dataclass(frozen=True)
class RankingPart:
    """One part of a score: value and weight in words, and the reason."""

    name: str
    value: str
    weight: str
    reason: str


@dataclass(frozen=True)
class Rating:
    """How a picture ranks: total 0..100 in words, its parts, and what it shows that cannot be (concerns)."""

    total: float
    words: str
    parts: tuple[RankingPart, ...]
    concerns: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ranking:
    """of: by picture id, where something could be measured. rested: ids of pictures whose sender was not on air in as
    many editions as was asked."""

    of: dict[int, Rating] = field(default_factory=dict)
    rested: frozenset[int] = frozenset()


def rate(
    listed: Sequence[ListedPicture], on_air: Sequence[Appearance], counts: Mapping[str, float], rest: int = 0
) -> Ranking:
    """on_air: in editions before the one that is planned. counts: of each part, as set. rest: editions."""
    numbers = sorted({a.edition_number for a in on_air}, reverse=True)
    ever = frozenset(a.sender for a in on_air)
    lately = _of_last(on_air, numbers, LATELY)
    senders, places = Counter(a.sender for a in lately), Counter(_place_key(a.place_name) for a in lately)
    resting = {a.sender for a in _of_last(on_air, numbers, rest)}
    weights = Weights(**counts)
    found = {}
    for picture in listed:
        # a placement that is not sure may be a wrong one, and what was measured by it with it
        text = picture.summary.quality if picture.summary and picture.summary.sure else ""
        if text:
            facts = facts_of(picture, ever, senders, places)
            rated = _rate(text, equipment_of(picture.picture.submission.arrival).aperture_mm, facts, weights)
            if rated is not None:
                found[picture.picture.id] = rated
    rested = frozenset(p.picture.id for p in listed if _sender(p.picture.submission.arrival) not in resting)
    return Ranking(found, rested)


def _of_last(on_air: Sequence[Appearance], numbers: Sequence[int], last: int) -> list[Appearance]:
    kept = frozenset(numbers[:last])
    return [a for a in on_air if a.edition_number in kept]


def facts_of(
    listed: ListedPicture, ever: frozenset[str], senders: Mapping[str, int], places: Mapping[str, int]
) -> Facts:
    """What is known of a picture beside its pixels. ever: senders on air before; senders, places: how often lately."""
    arrival = listed.picture.submission.arrival
    sender, place = _sender(arrival), _place_key(arrival.place_name)
    return Facts(
        first_time=sender not in ever if sender else None,
        equipment=CLASSES.get(class_of(listed)),
        featured_lately=senders.get(sender, 0) if sender else None,
        place_lately=places.get(place, 0) if place else None,
        editions=LATELY,
        days_old=days_old(listed),
    )


def _place_key(name: str) -> str:
    return name.strip().casefold()


def _sender(arrival: Arrival) -> str:
    return sender_key(arrival.sender_address, arrival.sender_name)


@lru_cache(maxsize=4096)  # the inbox asks the same each time that it is looked at
def _rate(text: str, aperture_mm: int | None, facts: Facts, weights: Weights) -> Rating | None:
    quality = measured_quality(text)
    if quality is None:
        return None
    found = score(quality, facts, weights)
    if isinstance(found, NotFound) or found.value != found.value:
        return None
    finer = ""
    if aperture_mm is not None:
        finer = equipment_limit(quality, aperture_mm)
    elif facts.equipment == "phone":
        finer = equipment_limit(quality, PHONE_MM, "a phone by itself")
    return Rating(100 * found.value, f"{100 * found.value:.0f} of 100", _parts(found), (finer,) if finer else ())


def _parts(found: Score) -> tuple[RankingPart, ...]:
    return tuple(
        RankingPart(
            NAMES[p.name],
            "not known" if p.value is None else f"{100 * p.value:.0f}",
            f"counts {p.weight:.2g}" if p.weight else "does not count",
            p.reason,
        )
        for p in found.parts
    )
