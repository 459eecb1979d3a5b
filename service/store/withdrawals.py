"""What a letter takes back: what goes with it, its erasure, and the end of the letter itself.

The letter outlives what it takes back: its sender is to be told, and the answer hangs on it. Its own pictures are not
shown any more from that moment. It goes with its text, its answer and all else once the answer was sent, or when so
many days have passed (`erase_answered`).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from moondesk.service.store import erasures, letters
from moondesk.service.store.erased_marks import Backups, tell_backups
from moondesk.service.store.forget import erase_files
from moondesk.service.store.media import Media
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import add_consent

#: How long a letter waits for its answer to be sent; enough for a weekend and a holiday.
DAYS = 14


@dataclass(frozen=True, kw_only=True)
class Going:
    """What goes with submissions. rundowns: numbers of the editions in which their pictures stand; backups: folders of
    those that were made."""

    submissions: int
    pictures: int
    rundowns: tuple[int, ...]
    aired: int
    replies: int
    questions: int
    backups: tuple[str, ...]


def what_goes(storage: Storage, submission_ids: Sequence[int]) -> Going:
    ids = {"ids": json.dumps(list(submission_ids))}
    mine = "(select value from json_each(:ids))"
    pictures = f"(select id from pictures where submission_id in {mine})"

    def count(what: str) -> int:
        return int(storage.read(f"select count(*) as n from {what}", ids)[0]["n"])

    rundowns = storage.read(
        f"select distinct e.number from rundown_items i join editions e on e.id = i.edition_id "
        f"where i.picture_id in {pictures} and i.out_utc is null order by e.number",
        ids,
    )
    return Going(
        submissions=count(f"submissions where id in {mine}"),
        pictures=count(f"pictures where refused is null and submission_id in {mine}"),
        rundowns=tuple(row["number"] for row in rundowns),
        aired=count(f"aired where picture_id in {pictures}"),
        replies=count(f"replies where submission_id in {mine}"),
        questions=count(f"questions where submission_id in {mine}"),
        backups=tuple(row["folder"] for row in storage.read("select folder from backups order by folder")),
    )


def taken_back(storage: Storage, letter_id: int) -> tuple[int, ...]:
    """Submissions that a letter may take back: all of its sender's, but for the letter itself."""
    return tuple(k for k in letters.submissions_held_by(storage, letter_id) if k != letter_id)


def erase(
    storage: Storage, media: Media, letter_id: int, submission_ids: Sequence[int], who: str, now: datetime
) -> Backups:
    """Erase what a letter takes back, and note it. Others than its sender's are passed over; the letter itself is shown
    no more, and goes later. Raises NotStoredError, StorageError: run it again then."""
    letter = letters.letter(storage, letter_id)
    ids = sorted(set(submission_ids) & set(taken_back(storage, letter_id)))
    add_consent(
        storage,
        letter_id,
        ConsentRecord(
            state="refused", kind="mail", evidence=letter.subject, message_id=letter.message_id, noted_by=who
        ),
        now,
    )
    if ids:
        erasures.erase(storage, ids, now, who=who)
    letters.set_read(storage, letter_id, True, who, now, "erased", now + timedelta(days=DAYS))
    erase_files(storage, media)
    return tell_backups(storage)


def erase_answered(storage: Storage, media: Media, now: datetime) -> int:
    """Erase the letters whose senders were told, or whose time is over; how many."""
    rows = storage.read(
        """
        select l.submission_id as id, l.erase_utc, r.state from letters l
        left join replies r on r.submission_id = l.submission_id where l.erase_utc is not null
        """
    )
    done = [r["id"] for r in rows if r["state"] == "sent" or datetime.fromisoformat(r["erase_utc"]) <= now]
    if done:
        erasures.erase(storage, done, now)
        erase_files(storage, media)
    return len(done)
