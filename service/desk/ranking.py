"""The order of the inbox: what was measured of each picture, weighed with what is fair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from service.config import Config
from service.desk.inbox_page import Rated
from service.store.records import ListedPicture
from service.store.storage import Storage


@dataclass(frozen=True)
class Ranking:
    """of: by picture id, where something could be measured. rested: ids of pictures not featured lately."""

    of: dict[int, Rated] = field(default_factory=dict)
    rested: frozenset[int] = frozenset()


def rate(storage: Storage, config: Config, listed: Sequence[ListedPicture], newcomers: frozenset[int]) -> Ranking:
    return Ranking(rested=frozenset(p.picture.id for p in listed))
