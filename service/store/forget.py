"""Forgetting a person: everything that came from one sender is erased. And mails, whose text goes after its time.

The rows go in one transaction that also notes which files are to go, so that a crash between the two loses nothing of
the task: what is noted is erased the next time. Files that somebody else sent too stay. One line remains that says when
how much was erased, without a name. Backups are copies: the person is in them until they are made anew, but does not
come back from them, see `marks`.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta

from moondesk.service.errors import BadInputError, StorageError
from moondesk.service.store import erasures, senders
from moondesk.service.store.erased_marks import NO_BACKUPS, Backups, tell_backups
from moondesk.service.store.media import MADE, MEMBERS, Media
from moondesk.service.store.records import SentPicture
from moondesk.service.store.storage import Storage
from moondesk.service.store.strays import UNFINISHED, sweep_strays


@dataclass(frozen=True)
class Forgotten:
    """backups: those that hold them still."""

    submissions: int
    originals: int
    backups: Backups = NO_BACKUPS


def submissions_of(storage: Storage, sender: str) -> tuple[int, ...]:
    """Ids of what a sender sent. sender: the address; or the whole name, for what came without any address."""
    if not sender.strip():
        raise BadInputError("No sender is named.", "Give the address, or the whole name where there was none.")
    return senders.submissions_of(storage, sender.strip())


def forget(storage: Storage, media: Media, sender: str, now: datetime, who: str = "") -> Forgotten:
    """Erase a sender. Raises StorageError where files are left that could not be removed: run it again then."""
    ids = submissions_of(storage, sender)
    sweep_strays(storage, media, now - UNFINISHED)  # a picture of theirs may lie there without a row, or half written
    if ids:
        erasures.erase(storage, ids, now, sender, who)
    return Forgotten(len(ids), erase_files(storage, media), tell_backups(storage))


def erase_files(storage: Storage, media: Media) -> int:
    """Remove the files that are noted to go, also those of an earlier run that was cut short; how many originals."""
    count = 0
    for sha in erasures.files_to_erase(storage):
        with erasures.erase_file(storage, sha) as unwanted:  # it may have been sent again since it was noted
            if unwanted:
                _remove(media, sha)
                count += 1
    return count


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


def erase_leftovers(storage: Storage, media: Media, picture: SentPicture) -> None:
    """Remove what was derived of a picture whose sender took it back while it was being placed."""
    sha = picture.enclosure.sha256
    if sha is not None:
        with erasures.erase_file(storage, sha) as unwanted:
            if unwanted:
                _remove(media, sha)


def _remove(media: Media, sha: str) -> None:
    try:
        (media.root / "originals" / sha[:2] / sha).unlink(missing_ok=True)
        derived = media.root / "derived" / sha[:2] / sha
        if derived.exists():
            shutil.rmtree(derived)
        for listing in (media.root / "derived" / MADE).glob(f"*/{MEMBERS}"):
            if sha in listing.read_text():
                shutil.rmtree(listing.parent)
    except OSError as error:
        raise StorageError(f"A file could not be erased: {error}.", "Close what holds it and run it again.") from error
