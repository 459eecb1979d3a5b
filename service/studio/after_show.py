"""An edition after its show: what was on air with its times, and of each picture of the rundown whether it counts."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime

from moondesk.service.programme.as_run import Run, ShownPicture, Time, rehearsed, runs_of, shown_pictures, times_of
from moondesk.service.programme.credit import credit_words, sender_of
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.store import as_run, episodes, rundowns
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import Edition, ListedPicture, OnAirTime
from moondesk.service.store.rundown_items import RundownItem
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import keep_as_aired


@dataclass(frozen=True, kw_only=True)
class AiredPicture:
    """A picture of the rundown. shown: as the log has it, None where it never stood on air; stops: why it may not be
    shown any more; credit: as its sender wishes to be named by now, "" where no name is to be said."""

    item: RundownItem
    listed: ListedPicture
    shown: ShownPicture | None
    stops: tuple[str, ...]
    credit: str

    @property
    def sender(self) -> str:
        return sender_of(self.listed.picture.submission.arrival)

    @property
    def was_on_air(self) -> bool:
        """As a person has confirmed it."""
        return self.item.aired_utc is not None


@dataclass(frozen=True, kw_only=True)
class AfterShow:
    """times: between which it was on air; noted: whether somebody said so, and has not ended it; runs: what the audience
    saw; rehearsed: how many steps nobody saw; pictures: those that stood on air in the order of their times, then the
    rundown's others."""

    edition: Edition
    times: tuple[Time, ...]
    noted: tuple[OnAirTime, ...]
    runs: tuple[Run, ...]
    rehearsed: int
    pictures: tuple[AiredPicture, ...]

    @property
    def is_on(self) -> bool:
        return any(time.end_utc is None for time in self.noted)

    @property
    def to_confirm(self) -> tuple[AiredPicture, ...]:
        """Pictures that the log has on air and nobody has confirmed yet."""
        return tuple(p for p in self.pictures if p.shown and p.shown.counts and not p.was_on_air and not p.stops)

    @property
    def on_air(self) -> tuple[AiredPicture, ...]:
        """Pictures that were on air, as confirmed or by the log, and may be shown still."""
        return tuple(p for p in self.pictures if (p.was_on_air or (p.shown and p.shown.counts)) and not p.stops)

    @property
    def left(self) -> tuple[AiredPicture, ...]:
        """Pictures for which there was no time."""
        return tuple(p for p in self.pictures if p not in self.on_air and not p.stops and p.item.out_utc is None)


def after_show(studio: Studio, edition: Edition, now: datetime) -> AfterShow:
    steps, noted = as_run.steps(studio.storage, edition.id), as_run.on_air_times(studio.storage, edition.id)
    times = times_of(edition.plan, noted, now)
    runs = runs_of(steps, times)
    shown = {s.item_id: s for s in shown_pictures(runs)}
    found = rundowns.rundown(studio.storage, edition.id)
    items = [i for i in (*found.items, *found.out) if i.out_utc is None or i.id in shown or i.aired_utc]
    listed = {p.picture.id: p for p in list_by_id(studio.storage, [i.picture_id for i in items])}
    order = {item_id: n for n, item_id in enumerate(shown)}
    items.sort(key=lambda i: order.get(i.id, len(order)))
    return AfterShow(
        edition=edition,
        times=times,
        noted=noted,
        runs=runs,
        rehearsed=rehearsed(steps, runs),
        pictures=tuple(
            AiredPicture(
                item=item,
                listed=listed[item.picture_id],
                shown=shown.get(item.id),
                stops=reasons_not_to_air(listed[item.picture_id], studio.config.entry_terms),
                credit=credit_words(item, listed[item.picture_id])[0],
            )
            for item in items
            if item.picture_id in listed
        ),
    )


def confirm(studio: Studio, show: AfterShow, item_ids: Collection[int], who: str, now: datetime) -> bool:
    """Note that pictures of `to_confirm` were on air, each from when it was, with its frame and the credit as it stood;
    whether anything was noted. What may not be shown any more is not noted. What was written to be said counts as spoken
    then."""
    noted = False
    for picture in show.to_confirm:
        if picture.item.id not in item_ids or picture.shown is None:
            continue
        kept = keep_as_aired(studio, [picture.item], {picture.listed.picture.id: picture.listed})
        as_it_stood = {k: replace(v, credit=picture.shown.credit or v.credit) for k, v in kept.items()}
        began = picture.shown.begin_utc
        noted |= bool(
            rundowns.note_aired(studio.storage, show.edition.id, [picture.item.id], began, who, now, as_it_stood)
        )
    written = episodes.episode(studio.storage, show.edition.id)
    if show.times and written.items and written.spoken_utc is None and (noted or not show.to_confirm):
        episodes.note_spoken(studio.storage, show.edition.id, show.times[0].begin_utc)
        noted = True
    return noted
