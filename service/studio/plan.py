"""An edition's plan for air: the rundown's pictures, their frames' layers, what is said of them."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from moondesk.records import NotFound
from moondesk.service.jobs.warm_pool import WarmPoolError
from moondesk.service.programme.air_plan import MAKING, AirItem, AirNote, AirPlan, PlannedLayer, PlannedView, plan_of
from moondesk.service.programme.credit import credit_words, sender_of
from moondesk.service.programme.frame_request import layer_title
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.store.air import spare
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import Edition, ListedPicture
from moondesk.service.store.rundown_items import RundownItem
from moondesk.service.store.rundowns import rundown
from moondesk.service.store.storage import Storage
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import LaterError, frame_of, options_of
from moondesk.service.studio.notes import write_notes
from moondesk.service.studio.planned_tours import PlannedTour, plan_tour

#: A plan waits at most about this long for frames that have to be drawn.
BUDGET_S = 2.0


def make_plan(
    studio: Studio, edition: Edition, shape: str, seconds: float = BUDGET_S, first: int | None = None
) -> AirPlan:
    """The plan as the rundown stands now. Layers' addresses are "item/layer/mark"; see `frames.layer_png`.

    Frames that are not there yet are made; after so many seconds no further one is begun, and the picture is left out
    as being made: whoever asks again gets it. shape: the frames' format; first: the item whose frame is wanted first.
    """
    found = rundown(studio.storage, edition.id)
    listed = {p.picture.id: p for p in list_by_id(studio.storage, [i.picture_id for i in (*found.items, *found.out)])}
    end = time.monotonic() + seconds

    def soon(fn: Callable[..., Any], *args: Any) -> Any:
        if time.monotonic() > end:
            raise LaterError
        return studio.run(fn, *args)

    hurried = replace(studio, run=soon)

    def made(place: int, item: RundownItem) -> AirItem:
        return _item(hurried, edition, item, listed[item.picture_id], place, shape)

    placed = [(n, item) for n, item in enumerate(found.items, 1) if item.picture_id in listed]
    ready = {item.id: made(n, item) for n, item in sorted(placed, key=lambda one: one[1].id != first)}
    items = tuple(ready[item.id] for _, item in placed)
    pinned = spare(studio.storage, edition.id)
    out = tuple(made(0, item) for item in found.out if item.id == pinned and item.picture_id in listed)
    return plan_of(edition.plan.number, studio.config.programme.name, items, pinned, out)


def senders(storage: Storage, edition: Edition) -> tuple[tuple[int, str], ...]:
    """(item, sender) of all that may be pinned: the rundown's pictures, those taken out among them."""
    found = rundown(storage, edition.id)
    every = (*found.items, *found.out)
    listed = {p.picture.id: p for p in list_by_id(storage, [i.picture_id for i in every])}
    return tuple(
        (i.id, sender_of(listed[i.picture_id].picture.submission.arrival)) for i in every if i.picture_id in listed
    )


def _item(
    studio: Studio, edition: Edition, item: RundownItem, listed: ListedPicture, place: int, shape: str
) -> AirItem:
    stops = reasons_not_to_air(listed, studio.config.entry_terms)
    layers: tuple[PlannedLayer, ...] = ()
    if not stops:
        try:
            frame = frame_of(studio, item, listed, options_of(studio.storage, item.id, shape))
        except LaterError:
            stops = (MAKING,)
        except WarmPoolError as error:
            stops = (f"{error} {error.advice}".strip(),)
        else:
            if isinstance(frame, NotFound):
                stops = (f"{frame.reason} {frame.advice}".strip(),)
            else:
                layers = tuple(
                    PlannedLayer(
                        name=x.name,
                        title=x.title or layer_title(x.kind),
                        kind=x.kind,
                        base=x.base,
                        url=f"{item.id}/{x.name}/{frame.mark}",
                    )
                    for x in frame.layers
                )
    tour = plan_tour(studio, item, listed, shape) if layers else PlannedTour()
    first, views = (tour.views[0], tour.views[1:]) if tour.views else (PlannedView(title="Picture", layers=layers), ())
    layers = first.layers
    notes, untranslated = write_notes(studio, listed, edition) if layers else ((), ())
    return AirItem(
        id=item.id,
        place=place,
        sender=sender_of(listed.picture.submission.arrival),
        credit=credit_words(item, listed)[0],
        pronunciation=item.pronunciation,
        note=item.note,
        story=listed.picture.submission.arrival.story,
        seconds=item.seconds,
        layers=layers,
        stops=stops,
        notes=_by_layer(notes, (*layers, *(layer for view in views for layer in view.layers))),
        untranslated=untranslated,
        views=views,
        title=first.title,
        kind=first.kind,
        missing=tour.missing,
        waiting=tour.waiting,
    )


def _by_layer(notes: tuple[AirNote, ...], layers: tuple[PlannedLayer, ...]) -> tuple[AirNote, ...]:
    """What the frame points at first, in its order."""
    titles = ["", *(layer.title for layer in layers)]
    pointed = sorted((n for n in notes if n.layer in titles), key=lambda n: titles.index(n.layer))
    return (*pointed, *(replace(n, more=True) for n in notes if n.layer not in titles))
