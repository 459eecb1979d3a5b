"""Trying again what did not go the first time: refused files, mails that were put aside, pictures that failed.

A file may be refused for want of an extra that is installed by now, or by an older release; a mail may have been put
aside because its reader was ended by something else. Everything is read from the originals; nothing is taken twice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from moondesk.service.errors import NotStoredError
from moondesk.service.intake.intake import Intake
from moondesk.service.intake.reading import MAIL_TYPE
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.store import queue, refusals
from moondesk.service.store.media import sha256_of
from moondesk.service.store.messages import words_of
from moondesk.service.store.records import Enclosure
from moondesk.service.store.storage import Storage


@dataclass(frozen=True)
class RetryResult:
    """One refused enclosure looked at again. pictures: how many came of it; sentence: why it is still refused."""

    name: str
    pictures: int
    sentence: str = ""


def retry(intake: Intake) -> Iterator[RetryResult]:
    """Look again at all that was refused and whose bytes are kept."""
    for entry in refusals.list_refused(intake.storage):
        try:
            data = intake.media.path(entry.sha256).read_bytes()
        except NotStoredError:
            continue
        yield _again(intake, entry, data)


def to_place(storage: Storage) -> int:
    """Have pictures that were put aside, or could not be read, placed once more; how many."""
    return queue.ask_again(storage, queue.to_retry(storage))


def _again(intake: Intake, entry: refusals.RefusedEnclosure, data: bytes) -> RetryResult:
    if entry.media_type == MAIL_TYPE:
        if len(data) != entry.size_bytes:  # only its head was fetched
            return RetryResult(entry.given_name, 0, words_of(entry.refused))
        arrival, contents = intake.reader.arrival(
            ReceivedItem(data=data, origin=entry.origin, name=entry.given_name, source=entry.source),
            entry.key,
            intake.config.limits,
        )
        found: list[Enclosure] = list(arrival.enclosures)
    else:
        arrival = None
        found, contents = intake.reader.opened(entry.given_name, data, intake.config.limits)
    if [e.refused for e in found] == [words_of(entry.refused)]:
        return RetryResult(entry.given_name, 0, words_of(entry.refused))
    listed = {e.sha256 for e in found}
    for content in contents:
        if sha256_of(content) in listed:
            intake.media.put(content)
    found = [replace(e, given_name=e.given_name or entry.given_name) for e in found]
    refusals.replace_refused(intake.storage, entry, found, arrival)
    return RetryResult(
        entry.given_name, sum(e.refused is None for e in found), " ".join(e.refused for e in found if e.refused)
    )
