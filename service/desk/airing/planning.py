"""An edition's plan for air, from the store: the rundown's pictures, their frames' layers, what is said of them."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from typing import TYPE_CHECKING

from annotate.notes.records import Notes
from annotate.records import NotFound
from service.desk.airing.plan import AirItem, AirPlan, plan_of
from service.desk.planning.rundown_page import credit_words, stops_of
from service.desk.single.facts import sender_of
from service.errors import NotStoredError
from service.languages.catalogue import Language, LocalName
from service.languages.speaking import language_of
from service.noting import notes_for
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
    notes, untranslated = ((), ()) if stops else notes_told(storage, config, calendar, listed, edition)
    return AirItem(item.id, place, sender_of(listed.picture.submission.arrival), credit, item.pronunciation, item.note,
                   item.seconds, (), stops, notes, untranslated)


#: Headed sentences, and what of them is not translated.
Told = tuple[tuple[tuple[str, tuple[str, ...]], ...], tuple[str, ...]]
#: Notes that were written already: the page on air asks every few seconds. The oldest are forgotten first.
_written: OrderedDict[Hashable, Told] = OrderedDict()
_KEPT = 300


def notes_told(storage: Storage, config: Config, calendar: Calendar, listed: ListedPicture, edition: Edition) -> Told:
    """What the presenter reads of a picture, in the programme's language: (head, sentences); the Moon as a whole has
    no head, a feature its name with how it is spoken. Beside them the templates that nobody has translated."""
    language = language_of(storage, config)
    key = (str(config.data_dir), listed.picture.id, listed.summary and listed.summary.derived_key, edition.plan.number,
           repr(config.programme), repr(sorted(language.names.items())), len(storage.editions()))
    if key not in _written:
        _written[key] = _notes(notes_for(storage, config, calendar, listed.picture.id, edition.plan.number), language)
        while len(_written) > _KEPT:
            _written.popitem(last=False)
    return _written[key]


def _notes(notes: Notes | NotFound, language: Language) -> Told:
    if isinstance(notes, NotFound):
        return (("", (f"{notes.reason} {notes.advice}".strip(),)),), ()
    whole = ("", tuple(language.write(said) for said in notes.about()))
    features = tuple((_head(name, language), tuple(language.write(said) for said in notes.about(name)))
                     for name in notes.features)
    return (whole, *features), language.missing(note.said for note in notes.notes)


def _head(name: str, language: Language) -> str:
    spoken = language.names.get(name, LocalName()).spoken
    return f"{language.name(name)}, say: {spoken}" if spoken else language.name(name)


def layer_png(storage: Storage, config: Config, calendar: Calendar, edition: Edition, item_id: int, name: str,
              shape: str) -> bytes:
    """A layer of an item's frame, PNG. Raises NotStoredError for one that is not there."""
    raise NotStoredError("There is no such layer.", "Load the page on air again.")
