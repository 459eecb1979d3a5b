"""Submissions: what came at once from somebody. Taken once, all or nothing; listed one by one or by the page."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import groupby
from typing import Any

from moondesk.service.errors import NotStoredError
from moondesk.service.store import replies
from moondesk.service.store.inbox import keep_words
from moondesk.service.store.letters import keep_answer, text_of
from moondesk.service.store.letters import keep_words as keep_letter
from moondesk.service.store.listings import submissions_sql
from moondesk.service.store.messages import keep_list, keep_sentences
from moondesk.service.store.records import Arrival, ConsentRecord, ListedSubmission
from moondesk.service.store.rows import consent_row, submission_from_rows, time_text
from moondesk.service.store.storage import Storage
from moondesk.service.store.twins import twins_by_picture

#: Of an enclosure that stands for a whole mail.
MAIL_TYPE = "message/rfc822"


def add_submission(storage: Storage, edition_id: int, arrival: Arrival, stored_utc: datetime) -> int | None:
    """Store an arrival with its enclosures, all or nothing; its id, or None where its key is there already."""
    place = arrival.place
    with storage.writing():
        if has_submission(storage, arrival.key) or _is_redelivered(storage, arrival):
            return None
        submission_id = storage.insert(
            "submissions",
            {
                "edition_id": edition_id,
                "key": arrival.key,
                "source": arrival.source,
                "origin": arrival.origin,
                "stored_utc": time_text(stored_utc),
                "received_utc": time_text(arrival.received_utc),
                "sender_name": arrival.sender_name,
                "sender_address": arrival.sender_address,
                "answer_to": arrival.answer_to,
                "credit_line": arrival.credit_line,
                "subject": arrival.subject,
                "message_id": arrival.message_id,
                "taken_utc": time_text(arrival.taken_utc),
                "latitude_deg": place.latitude_deg if place else None,
                "longitude_deg": place.longitude_deg if place else None,
                "height_m": place.height_m if place else None,
                "place_name": arrival.place_name,
                "equipment": arrival.equipment,
                "consent": arrival.consent,
                "remarks": keep_list(arrival.remarks),
                "channel": arrival.channel,
                "link": arrival.link,
                "receipt": arrival.receipt,
            },
        )
        keep_letter(storage, submission_id, arrival)
        keep_answer(storage, submission_id, arrival)
        if arrival.bounce is not None:
            replies.note_bounce(storage, arrival.bounce, stored_utc)
        _insert_parts(storage, submission_id, arrival)
        for consent in arrival.consents:
            insert_consent(storage, submission_id, replace(consent, noted_utc=consent.noted_utc or stored_utc))
        keep_words(
            storage,
            [row["id"] for row in storage.read("select id from pictures where submission_id = ?", [submission_id])],
        )
    return submission_id


def _insert_parts(storage: Storage, submission_id: int, arrival: Arrival) -> None:
    """What its words suggest, and its enclosures."""
    storage.insert_all(
        "suggestions",
        (
            {"submission_id": submission_id, "field": s.field, "value": s.value, "words": s.words, "source": s.source}
            for s in arrival.suggestions
        ),
    )
    storage.insert_all(
        "pictures",
        (
            {
                "submission_id": submission_id,
                "position": position,
                "given_name": e.given_name,
                "size_bytes": e.size_bytes,
                "sha256": e.sha256,
                "media_type": e.media_type,
                "refused": keep_sentences(e.refusal) or None,
            }
            for position, e in enumerate(arrival.enclosures)
        ),
    )


def _is_redelivered(storage: Storage, arrival: Arrival) -> bool:
    """Whether a mail is here already with other bytes: sent to two addresses, or moved by a server.

    The identifier alone would let one mail hide another that forges it: sender and all files must agree too.
    """
    if not arrival.enclosures:  # of a letter the text is what matters
        return any(
            text_of(storage, row["id"]) == arrival.text
            for row in storage.read(
                "select id from submissions where message_id = ? and message_id <> '' and sender_address = ?",
                [arrival.message_id, arrival.sender_address],
            )
        )
    if not arrival.message_id or any(e.sha256 is None or e.media_type == MAIL_TYPE for e in arrival.enclosures):
        return False
    sql = """
        select (select json_group_array(sha256) from (select sha256 from pictures where submission_id = s.id
                order by sha256)) as files
        from submissions s where s.message_id = ? and s.source = ? and s.sender_address = ?
    """
    files = json.dumps(sorted(str(e.sha256) for e in arrival.enclosures), separators=(",", ":"))
    return any(
        row["files"] == files for row in storage.read(sql, [arrival.message_id, arrival.source, arrival.sender_address])
    )


def has_submission(storage: Storage, key: str) -> bool:
    """True where something of that key was taken before."""
    return bool(storage.read("select 1 from submissions where key = ?", [key]))


def submission_of_key(storage: Storage, key: str) -> int:
    """The submission of a key. Raises NotStoredError."""
    for row in storage.read("select id from submissions where key = ?", [key]):
        return int(row["id"])
    raise NotStoredError("This submission is not here any more.", "Go back to the list.")


def each_submission(storage: Storage, edition_number: int | None = None) -> Iterator[ListedSubmission]:
    """All submissions, or an edition's, in the order in which they were stored; one at a time."""
    sql = submissions_sql() + "where :number is null or e.number = :number order by listed.s_id, listed.position"
    rows = storage.each(sql, {"number": edition_number})
    for _, group in groupby(rows, key=lambda row: row["s_id"]):
        yield _with_twins(storage, list(group))


def submissions_after(storage: Storage, edition_id: int, after_id: int, most: int) -> tuple[ListedSubmission, ...]:
    """An edition's submissions stored after one (0: from the first), at most so many, in the order of their ids."""
    rows = storage.read(
        "select id from submissions where edition_id = ? and id > ? order by id limit ?", [edition_id, after_id, most]
    )
    return _list(storage, [row["id"] for row in rows])


def submission(storage: Storage, submission_id: int) -> ListedSubmission:
    """One submission. Raises NotStoredError."""
    for found in _list(storage, [submission_id]):
        return found
    raise NotStoredError(f"There is no submission {submission_id}.", "Go back to the list.")


def count_earlier(storage: Storage, submission_id: int) -> int | None:
    """How many submissions with pictures came from the same address before; None where no address is known."""
    sql = """
        select s.sender_key, (
            select count(*) from submissions e where e.sender_key = s.sender_key and e.id < s.id
            and exists (select 1 from pictures p where p.submission_id = e.id)) as earlier
        from submissions s where s.id = ? and s.sender_key <> ''
    """
    return next((int(row["earlier"]) for row in storage.read(sql, [submission_id])), None)


def _list(storage: Storage, submission_ids: Sequence[int]) -> tuple[ListedSubmission, ...]:
    rows = storage.read(
        submissions_sql("where s.id in (select value from json_each(?))") + "order by listed.s_id, listed.position",
        [json.dumps(list(submission_ids))],
    )
    return tuple(_with_twins(storage, list(group)) for _, group in groupby(rows, key=lambda row: row["s_id"]))


def _with_twins(storage: Storage, of_one: Sequence[dict[str, Any]]) -> ListedSubmission:
    twins = twins_by_picture(storage, of_one)
    return replace(submission_from_rows(of_one), twins=tuple(twin for same in twins.values() for twin in same))


# --- records of consent: added, never changed; what counts of them is said by `programme.permission.standing_consent` ---------


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
