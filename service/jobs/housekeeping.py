"""What a data folder needs from time to time, whoever uses it: at the start of a program, and hourly while it runs.

Its files are made its owner's alone; what killed programs left is swept away; mails are erased after their time, and
letters that took something back once they were answered, with what an erasure that was cut short had left to do; backups that could not be reached are told who was forgotten; and
what an older release left goes, a day after a newer one has placed the same picture.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from moondesk.service.errors import DeskError
from moondesk.service.store import superseded
from moondesk.service.store.erased_marks import tell_backups
from moondesk.service.store.forget import erase_files, erase_old_mails
from moondesk.service.store.media import Media
from moondesk.service.store.opening import erase_copies_from_before
from moondesk.service.store.private_folder import make_private
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.store.strays import UNFINISHED, Strays, sweep_strays
from moondesk.service.store.withdrawals import erase_answered

EVERY = timedelta(hours=1)
#: How long the copy from before a change of the tables is kept, for a release that turns out to be a mistake.
KEPT = timedelta(days=30)


def _utc_now() -> datetime:
    return datetime.now(UTC)


def keep_house(storage: Storage, data_dir: Path, mail_days: int, now: datetime) -> Strays:
    """What was swept away. Raises StorageError."""
    media = Media(data_dir)
    swept = sweep_strays(storage, media, now - UNFINISHED)
    erase_old_mails(storage, media, mail_days, now)
    erase_answered(storage, media, now)
    erase_files(storage, media)  # of an erasure that was cut short
    erase_copies_from_before(data_dir, (now - KEPT).timestamp())
    tell_backups(storage)
    return swept


def run_housekeeping_once(data_dir: Path, say: Callable[[str], None], now: Callable[[], datetime] = _utc_now) -> None:
    """All of it, with what is to be told; a fault is told too, and stops nobody."""
    for sentence in make_private(data_dir):
        say(sentence)
    try:
        with Storage(data_dir) as storage:
            swept = keep_house(storage, data_dir, load_config(data_dir).mail_days, now())
            old = superseded.sweep_superseded(storage, Media(data_dir), now() - superseded.KEPT)
    except (DeskError, OSError) as error:
        say(f"The data folder could not be put in order: {error}")
        return
    if swept.all:
        say(swept_words(swept))
    if old.annotations or old.folders:
        say(
            f"Placed anew since, and removed: {old.annotations} older placings, {old.folders} folders of drawn "
            "pictures. What was on air or corrected by hand is kept."
        )


def run_housekeeping_hourly(
    data_dir: Path, say: Callable[[str], None], stop: threading.Event | None = None
) -> threading.Thread:
    """Now, and in a thread of its own once an hour until stopped, or the program ends."""
    ended = stop or threading.Event()
    run_housekeeping_once(data_dir, say)

    def by_the_hour() -> None:
        while not ended.wait(EVERY.total_seconds()):
            run_housekeeping_once(data_dir, say)

    thread = threading.Thread(target=by_the_hour, name="housekeeping", daemon=True)
    thread.start()
    return thread


def swept_words(swept: Strays) -> str:
    return (
        f"Left by programs that were ended, and removed: {swept.originals} files that belong to no submission, "
        f"{swept.unfinished} unfinished ones, {swept.derived} folders of drawn pictures."
    )
