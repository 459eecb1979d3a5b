"""How long things are kept: the whole mails for the programme's number of days, then they are erased."""

from __future__ import annotations

from datetime import datetime, timedelta

from moondesk.service.store import erasures
from moondesk.service.store.forget import erase_files
from moondesk.service.store.media import Media
from moondesk.service.store.storage import Storage


def erase_old_mails(storage: Storage, media: Media, days: int, now: datetime) -> int:
    """Erase the text of mails that were taken more than so many days ago (0: none); how many.

    Pictures stay, and so do sentences that were read as evidence, with the identifier of the mail they stood in. The
    text that the desk shows goes with its mail; a letter that nobody has read still holds its sender's pictures.
    """
    if days <= 0:
        return 0
    old = erasures.old_mails(storage, now - timedelta(days=days))
    if old:
        erasures.erase_mails(storage, old, now)
    erase_files(storage, media)  # also those of a run that was cut short
    return len(old)
