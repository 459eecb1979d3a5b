"""Records of consent: added, never changed. What counts of them is said by `moondesk.service.programme.suggestions.standing`."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from moondesk.service.errors import NotStoredError
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.rows import consent_of_row, consent_row
from moondesk.service.store.storage import Storage


def add_consent(storage: Storage, submission_id: int, record: ConsentRecord, now: datetime) -> None:
    """Note what somebody said, or was asked; earlier records stay.

    now: when it is noted, where the record does not say. Raises ValueError for a record that names nobody, or a picture
    of another submission; NotStoredError where there is no such submission.
    """
    if not record.noted_by.strip():
        raise ValueError("a record of consent names who noted it")
    with storage.writing():
        if not storage.read("select 1 from submissions where id = ?", [submission_id]):
            raise NotStoredError(f"There is no submission {submission_id}.", "Go back to the list.")
        mine = {row["id"] for row in storage.read("select id from pictures where submission_id = ?", [submission_id])}
        if record.picture_id is not None and record.picture_id not in mine:
            raise ValueError(f"picture {record.picture_id} is not of submission {submission_id}")
        insert_consent(storage, submission_id, replace(record, noted_utc=record.noted_utc or now))


def insert_consent(storage: Storage, submission_id: int, record: ConsentRecord) -> None:
    """Within a transaction; the record says when it was noted."""
    storage.insert("consents", consent_row(submission_id, record))


def consents_of(storage: Storage, submission_id: int) -> tuple[ConsentRecord, ...]:
    """All records of a submission, the oldest first."""
    rows = storage.read("select * from consents where submission_id = ? order by id", [submission_id])
    return tuple(consent_of_row(row) for row in rows)
