"""The tour of a rundown's picture: its views as they were chosen, what they can be about, the whole as a clip."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from moondesk.drawing.frame_names import LEAST_LIT, LEAST_SEEN
from moondesk.records import NotFound
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.jobs.frame_files import decode_photo
from moondesk.service.jobs.missing_pictures import at_hand
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.frame_request import FrameOptions
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.words import date_words
from moondesk.service.store.editions import list_editions
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedPicture
from moondesk.service.store.rundown_items import RundownItem
from moondesk.service.store.rundowns import rundown
from moondesk.service.store.tours import kept_tour
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import options_of, wanted_of
from moondesk.tour.clip import Clip
from moondesk.tour.views import FILMED, Tour, check_tour, default_tour

#: Features that the page offers, at most.
OFFERED = 60
#: Editions whose pictures are offered for comparing, this one among them.
OTHER_EDITIONS = 10


def tour_of(studio: Studio, item: RundownItem, listed: ListedPicture) -> Tour | NotFound:
    """As it was chosen for a picture of the rundown, else the usual one."""
    found = wanted_of(studio, item, listed, options_of(studio.storage, item.id, "hd"))
    if isinstance(found, NotFound):
        return found
    return kept_tour(studio.storage, item.id) or default_tour(found[0].annotation)


def why_not_toured(studio: Studio, item: RundownItem, listed: ListedPicture, tour: Tour) -> NotFound | None:
    """Why these views cannot be shown of a picture; None where they can."""
    found = wanted_of(studio, item, listed, options_of(studio.storage, item.id, "hd"))
    return found if isinstance(found, NotFound) else check_tour(tour, found[0].annotation)


def features_for(studio: Studio, item: RundownItem, listed: ListedPicture) -> tuple[str, ...]:
    """What a view of a picture can be about, the foremost first."""
    found = wanted_of(studio, item, listed, options_of(studio.storage, item.id, "hd"))
    marks = () if isinstance(found, NotFound) else found[0].annotation.features
    able = [m for m in marks if m.feature.parent is None and m.lit_fraction >= LEAST_LIT and m.seen >= LEAST_SEEN]
    able.sort(key=lambda m: (-m.prominence * m.seen, m.feature.name))
    return tuple(m.feature.name for m in able[:OFFERED])


@dataclass(frozen=True)
class OtherPicture:
    """A picture that another one may be compared with. words: whose it is, of which evening, in which edition."""

    item_id: int
    sender: str
    words: str


def others_for(studio: Studio, item: RundownItem, number: int) -> tuple[OtherPicture, ...]:
    """What stands in the rundown of edition `number` and of those shortly before it, is placed, and may be shown; those
    of this edition first."""
    found: list[OtherPicture] = []
    editions = sorted(list_editions(studio.storage), key=lambda e: -e.plan.number)
    for edition in [e for e in editions if e.plan.number <= number][:OTHER_EDITIONS]:
        items = rundown(studio.storage, edition.id).items
        listed = {p.picture.id: p for p in list_by_id(studio.storage, [i.picture_id for i in items])}
        for one in items:
            picture = listed.get(one.picture_id)
            if picture is None or picture.summary is None or one.picture_id == item.picture_id:
                continue
            if not picture.summary.status.facts.is_named or reasons_not_to_air(picture, studio.config.entry_terms):
                continue
            sender = sender_of(picture.picture.submission.arrival)
            taken = picture.summary.taken_utc
            day = f", {date_words(studio.calendar.evening(taken).date)}" if taken else ""
            found.append(OtherPicture(one.id, sender, f"{sender}{day} (edition {edition.plan.number})"))
    return tuple(found)


def clip_of(
    studio: Studio,
    item: RundownItem,
    listed: ListedPicture,
    tour: Tour | None,
    asked: FrameOptions,
    rate: Fraction,
    bare: bool = False,
) -> Clip | NotFound:
    """What is to be drawn of a picture as a clip; NotFound says why there is none. tour: None for the item's own, of which
    a film leaves out what is lit anew or compared."""
    found = wanted_of(studio, item, listed, asked)
    if isinstance(found, NotFound):
        return found
    stored, sha, wanted = found
    kept = tuple(view for view in kept_tour(studio.storage, item.id) if view.kind in FILMED)
    views = tour or kept or default_tour(stored.annotation)
    reason = check_tour(views, stored.annotation)
    if reason is not None:
        return reason
    try:
        photo = at_hand(studio.media, studio.run, sha, stored.derived_key, stored.annotation)
    except (NotStoredError, BadInputError) as error:
        return NotFound("clip", str(error), error.advice)
    if photo is None:
        return NotFound("clip", "The picture is not at hand any more.", "Place it anew.")
    pixels = studio.run(decode_photo, photo.read_bytes())
    rgb = np.frombuffer(pixels, np.uint8).reshape(stored.annotation.height, stored.annotation.width, 3)
    return Clip(rgb=rgb, annotation=stored.annotation, whole=wanted, tour=views, rate=rate, bare=bare)
