"""An edition's plan for air, from the store: the rundown's pictures, their frames' layers, what is said of them."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from moondesk.notes.records import Notes
from moondesk.records import NotFound
from moondesk.service.errors import NotStoredError
from moondesk.service.jobs.frame_files import Run, kept_frame
from moondesk.service.languages.catalogue import Language, LocalName
from moondesk.service.languages.speaking import language_of
from moondesk.service.programme.air_plan import MAKING, AirItem, AirLayer, AirNote, AirPlan, plan_of
from moondesk.service.programme.credit import credit_words, sender_of
from moondesk.service.programme.frame_request import KIND_WORDS, asked_of, frame_of
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.picture_notes import notes_for
from moondesk.service.store.air import spare
from moondesk.service.store.media import Media
from moondesk.service.store.rundowns import rundown

if TYPE_CHECKING:
    from moondesk.service.programme.evenings import Calendar
    from moondesk.service.settings.config import Config
    from moondesk.service.store.records import Edition, ListedPicture
    from moondesk.service.store.rundown_items import Item
    from moondesk.service.store.storage import Storage


#: A plan waits at most about this long for frames that have to be drawn.
BUDGET_S = 2.0


class _LaterError(Exception):
    """No more frames are to be made in this request."""


def made_plan(
    storage: Storage,
    config: Config,
    calendar: Calendar,
    edition: Edition,
    run: Run,
    shape: str,
    seconds: float = BUDGET_S,
) -> AirPlan:
    """The plan as the rundown stands now. Layers' addresses are "item/layer/mark"; see `layer_png`.

    run: makes frames that are not there yet; after so many seconds no further one is begun, and the picture is left
    out as being made: whoever asks again gets it. shape: the frames' format.
    """
    found = rundown(storage, edition.id)
    listed = {p.picture.id: p for p in storage.listed_by([i.picture_id for i in (*found.items, *found.out)])}
    end = time.monotonic() + seconds

    def soon(fn: Callable[..., Any], *args: Any) -> Any:
        if time.monotonic() > end:
            raise _LaterError
        return run(fn, *args)

    def made(place: int, item: Item) -> AirItem:
        return _item(storage, config, calendar, edition, place, item, listed[item.picture_id], soon, shape)

    items = tuple(made(n, item) for n, item in enumerate(found.items, 1) if item.picture_id in listed)
    pinned = spare(storage, edition.id)
    out = tuple(made(0, item) for item in found.out if item.id == pinned and item.picture_id in listed)
    return plan_of(edition.plan.number, config.programme.name, items, pinned, out)


def senders(storage: Storage, edition: Edition) -> tuple[tuple[int, str], ...]:
    """(item, sender) of all that may be pinned: the rundown's pictures, those taken out among them."""
    found = rundown(storage, edition.id)
    every = (*found.items, *found.out)
    listed = {p.picture.id: p for p in storage.listed_by([i.picture_id for i in every])}
    return tuple(
        (i.id, sender_of(listed[i.picture_id].picture.submission.arrival)) for i in every if i.picture_id in listed
    )


def _item(
    storage: Storage,
    config: Config,
    calendar: Calendar,
    edition: Edition,
    place: int,
    item: Item,
    listed: ListedPicture,
    run: Run,
    shape: str,
) -> AirItem:
    stops = reasons_not_to_air(listed, config.entry_terms)
    layers: tuple[AirLayer, ...] = ()
    if not stops:
        try:
            frame = frame_of(storage, config, calendar, run, item, listed, asked_of(storage, item.id, shape))
        except _LaterError:
            stops = (MAKING,)
        else:
            if isinstance(frame, NotFound):
                stops = (f"{frame.reason} {frame.advice}".strip(),)
            else:
                layers = tuple(
                    AirLayer(
                        name=x.name,
                        title=x.title or KIND_WORDS.get(x.kind, x.kind),
                        kind=x.kind,
                        base=x.base,
                        url=f"{item.id}/{x.name}/{frame.mark}",
                    )
                    for x in frame.layers
                )
    notes, untranslated = notes_told(storage, config, calendar, listed, edition) if layers else ((), ())
    return AirItem(
        id=item.id,
        place=place,
        sender=sender_of(listed.picture.submission.arrival),
        credit=credit_words(item, listed)[0],
        pronunciation=item.pronunciation,
        note=item.note,
        seconds=item.seconds,
        layers=layers,
        stops=stops,
        notes=_by_layer(notes, layers),
        untranslated=untranslated,
    )


def _by_layer(notes: tuple[AirNote, ...], layers: tuple[AirLayer, ...]) -> tuple[AirNote, ...]:
    """What the frame points at first, in its order."""
    titles = ["", *(layer.title for layer in layers)]
    pointed = sorted((n for n in notes if n.layer in titles), key=lambda n: titles.index(n.layer))
    return (*pointed, *(replace(n, more=True) for n in notes if n.layer not in titles))


#: Notes, and what of them is not translated.
Told = tuple[tuple[AirNote, ...], tuple[str, ...]]
#: Notes that were written already: the page on air asks every few seconds. The oldest are forgotten first.
_written: OrderedDict[Hashable, Told] = OrderedDict()
_KEPT = 300


def notes_told(storage: Storage, config: Config, calendar: Calendar, listed: ListedPicture, edition: Edition) -> Told:
    """What the presenter reads of a picture, in the programme's language, and the templates that nobody has
    translated. The Moon as a whole has no head, a feature its name with how it is spoken."""
    language = language_of(storage, config)
    key = (
        str(config.data_dir),
        listed.picture.id,
        listed.summary and listed.summary.derived_key,
        edition.plan.number,
        repr(config.programme),
        repr(sorted(language.names.items())),
        len(storage.editions()),
    )
    if key not in _written:
        _written[key] = _notes(notes_for(storage, config, calendar, listed.picture.id, edition.plan.number), language)
        while len(_written) > _KEPT:
            _written.popitem(last=False)
    return _written[key]


def _notes(notes: Notes | NotFound, language: Language) -> Told:
    if isinstance(notes, NotFound):
        return (AirNote("", "", (f"{notes.reason} {notes.advice}".strip(),)),), ()
    whole = AirNote("", "", tuple(language.write(said) for said in notes.about()))
    features = tuple(
        AirNote(_head(name, language), language.name(name), tuple(language.write(said) for said in notes.about(name)))
        for name in notes.features
    )
    return (whole, *features), language.missing(note.said for note in notes.notes)


def _head(name: str, language: Language) -> str:
    spoken = language.names.get(name, LocalName()).spoken
    return f"{language.name(name)}, say: {spoken}" if spoken else language.name(name)


def layer_png(storage: Storage, config: Config, edition: Edition, item_id: int, name: str, mark: str) -> bytes:
    """A layer of an item's frame of that mark, PNG. Raises NotStoredError for one that is not there, or not to be
    shown any more."""
    item = rundown(storage, edition.id).item(item_id)
    listed = storage.listed_by([item.picture_id]) if item else ()
    if item and listed and not reasons_not_to_air(listed[0], config.entry_terms):
        sha, summary = listed[0].picture.enclosure.sha256, listed[0].summary
        if sha and summary:
            frame = kept_frame(Media(config.data_dir), sha, summary.derived_key, mark)
            path = frame.file(f"{name}.png") if frame else None
            if path is not None and path.is_file():
                return path.read_bytes()
    raise NotStoredError("There is no such layer.", "Load the page on air again.")
