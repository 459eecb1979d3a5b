"""An edition's plan for air, from the store: the rundown's pictures, their frames' layers, what is said of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from service.desk.airing.plan import AirItem, AirPlan, plan_of
from service.desk.planning.rundown_page import credit_words, stops_of
from service.desk.single.facts import sender_of
from service.errors import NotStoredError
from service.store.air import spare
from service.store.rundowns import rundown

if TYPE_CHECKING:
    from service.config import Config
    from service.evenings import Calendar
    from service.store.records import Edition, ListedPicture
    from service.store.rundown_items import Item
    from service.store.storage import Storage


def made_plan(storage: Storage, config: Config, calendar: Calendar, edition: Edition) -> AirPlan:
    """The plan as the rundown stands now. Layers' addresses are "item/layer/mark"; see `layer_png`."""
    found = rundown(storage, edition.id)
    listed = {p.picture.id: p for p in storage.listed_by([i.picture_id for i in (*found.items, *found.out)])}

    def made(place: int, item: Item) -> AirItem:
        return _item(storage, config, calendar, edition, place, item, listed[item.picture_id])

    items = tuple(made(n, item) for n, item in enumerate(found.items, 1) if item.picture_id in listed)
    pinned = spare(storage, edition.id)
    out = tuple(made(0, item) for item in found.out if item.id == pinned and item.picture_id in listed)
    return plan_of(edition.plan.number, config.programme.name, items, pinned, out)


def senders(storage: Storage, edition: Edition) -> tuple[tuple[int, str], ...]:
    """(item, sender) of all that may be pinned: the rundown's pictures, those taken out among them."""
    found = rundown(storage, edition.id)
    every = (*found.items, *found.out)
    listed = {p.picture.id: p for p in storage.listed_by([i.picture_id for i in every])}
    return tuple((i.id, sender_of(listed[i.picture_id].picture.submission.arrival)) for i in every
                 if i.picture_id in listed)


def _item(storage: Storage, config: Config, calendar: Calendar, edition: Edition, place: int, item: Item,
          listed: ListedPicture) -> AirItem:
    stops = stops_of(listed, config)
    credit, _, missing = credit_words(item, listed)
    if missing:
        stops = (*stops, "Cannot go on air: nobody has said how its sender is to be named.")
    return AirItem(item.id, place, sender_of(listed.picture.submission.arrival), credit, item.pronunciation, item.note,
                   item.seconds, (), stops, ())


def layer_png(storage: Storage, config: Config, calendar: Calendar, edition: Edition, item_id: int, name: str,
              shape: str) -> bytes:
    """A layer of an item's frame, PNG. Raises NotStoredError for one that is not there."""
    raise NotStoredError("There is no such layer.", "Load the page on air again.")
