"""A rundown as the API tells it, with what stops a picture from going on air. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from moondesk.service.programme.credit import credit_words
from moondesk.service.programme.listing import picture_status
from moondesk.service.programme.permission import permission_of
from moondesk.service.programme.rundown import cautions_of
from moondesk.service.settings.config import Config
from moondesk.service.store.records import Edition, ListedPicture
from moondesk.service.store.rundown_items import Item, Rundown
from moondesk.service.web.api import shapes


def rundown(found: Rundown, edition: Edition, pictures: Mapping[int, ListedPicture], config: Config) -> dict[str, Any]:
    """pictures: those of the items, by id; an item whose picture was erased at this moment is left out."""
    items = [(n, i) for n, i in enumerate(found.items, 1) if i.picture_id in pictures]
    return {
        "edition": edition.plan.number,
        "version": found.version,
        "seconds_for_pictures": found.seconds,
        "items": [item(i, n, pictures[i.picture_id], edition, config) for n, i in items],
        "taken_out": [
            {"id": i.id, "picture_id": i.picture_id, "out_utc": shapes.utc(i.out_utc), "out_by": i.out_by}
            for i in found.out
        ],
        "withdrawn": found.withdrawn,
    }


def item(found: Item, place: int, listed: ListedPicture, edition: Edition, config: Config) -> dict[str, Any]:
    """place: 1 for the first."""
    summary = listed.summary
    credit, _, missing = credit_words(found, listed)
    may = permission_of(listed, config.entry_terms)
    return {
        "id": found.id,
        "place": place,
        "picture_id": found.picture_id,
        "seconds": found.seconds,
        "credit_line": found.credit_line,
        "credit_shown": credit,
        "credit_missing": missing,
        "pronunciation": found.pronunciation,
        "note": found.note,
        "may_go_on_air": may.given,
        "stops": list(may.stops),
        "cautions": list(cautions_of(found, listed, edition)),
        "consent": shapes.consent(may),
        "status": picture_status(listed.picture.enclosure, summary.status if summary else None),
        "sure": bool(summary and summary.sure),
        "evening": (summary.evening if summary else "") or None,
        "best_seen": list(summary.best_seen) if summary else [],
        "aired_utc": shapes.utc(found.aired_utc),
        "aired_before": list(found.aired_before),
        "better_picture_id": found.better_id,
        "added_by": found.added_by,
        "added_utc": shapes.utc(found.added_utc),
    }
