"""The frame of a picture exactly as it was aired, kept when somebody notes that it was: the layers that a later change
of a name, a credit or the placing would alter stay as the audience saw them."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from moondesk.records import NotFound
from moondesk.service.jobs.frame_files import WHOLE, Run
from moondesk.service.jobs.warm_pool import WorkshopError
from moondesk.service.programme.credit import credit_words
from moondesk.service.programme.frame_request import asked_of, frame_of
from moondesk.service.store.aired import AsAired
from moondesk.service.store.media import Media

if TYPE_CHECKING:
    from moondesk.service.programme.evenings import Calendar
    from moondesk.service.settings.config import Config
    from moondesk.service.store.records import ListedPicture
    from moondesk.service.store.rundown_items import Item
    from moondesk.service.store.storage import Storage

#: The format in which the page on air shows them.
FORMAT = "hd"


def kept_frames(
    storage: Storage,
    config: Config,
    calendar: Calendar,
    run: Run,
    items: Iterable[Item],
    pictures: Mapping[int, ListedPicture],
) -> dict[int, AsAired]:
    """Each item's frame put into the media store, by item; those that were noted before are left alone. Where no frame
    can be made (it went on air unplaced) the credit alone is kept."""
    found = {}
    for item in items:
        if item.aired_utc is None:
            sha, listed = "", pictures[item.picture_id]
            with contextlib.suppress(WorkshopError):  # that it was on air is noted in any case
                frame = frame_of(storage, config, calendar, run, item, listed, asked_of(storage, item.id, FORMAT))
                if not isinstance(frame, NotFound):
                    sha = Media(config.data_dir).put((frame.folder / WHOLE).read_bytes())
            found[item.id] = AsAired(credit_words(item, listed)[0], sha)
    return found
