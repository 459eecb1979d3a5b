"""What was refused though its bytes are kept, and what takes its place once it can be used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

from moondesk.service.store.letters import keep_answer, keep_words
from moondesk.service.store.messages import keep_list, keep_sentences
from moondesk.service.store.records import Arrival, Enclosure
from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage


@dataclass(frozen=True, kw_only=True)
class RefusedEnclosure:
    """A refused enclosure with what is needed to read it again. key, origin, source: of its submission."""

    picture_id: int
    submission_id: int
    given_name: str
    size_bytes: int
    sha256: str
    media_type: str | None
    #: As it is kept.
    refused: str
    key: str
    origin: str
    source: str


def list_refused(storage: Storage) -> tuple[RefusedEnclosure, ...]:
    """All of them, in the order in which they came."""
    rows = storage.read(
        """
        select p.id, p.submission_id, p.given_name, p.size_bytes, p.sha256, p.media_type, p.refused, s.key, s.origin,
               s.source
        from pictures p join submissions s on s.id = p.submission_id
        where p.refused is not null and p.sha256 is not null order by p.id
        """
    )
    return tuple(
        RefusedEnclosure(**dict(zip((f.name for f in fields(RefusedEnclosure)), row.values(), strict=True)))
        for row in rows
    )


def replace_refused(
    storage: Storage, entry: RefusedEnclosure, found: Sequence[Enclosure], arrival: Arrival | None
) -> None:
    """Put enclosures in the place of a refused one, all or nothing; the first keeps its number.

    arrival: of a mail that was read only now; what was not known of it before is filled in.
    """
    with storage.writing() as execute:
        (row,) = storage.read(
            "select max(position) as last from pictures where submission_id = ?", [entry.submission_id]
        )
        for k, e in enumerate(found):
            values = [e.given_name, e.size_bytes, e.sha256, e.media_type, keep_sentences(e.refusal) or None]
            if k == 0:
                execute(
                    "update pictures set given_name = ?, size_bytes = ?, sha256 = ?, media_type = ?, refused = ? "
                    "where id = ?",
                    [*values, entry.picture_id],
                )
            else:
                execute(
                    "insert into pictures (given_name, size_bytes, sha256, media_type, refused, submission_id, "
                    "position) values (?, ?, ?, ?, ?, ?, ?)",
                    [*values, entry.submission_id, row["last"] + k],
                )
        if arrival is not None:
            _fill_in(storage, entry.submission_id, arrival)
            keep_words(storage, entry.submission_id, arrival)
            keep_answer(storage, entry.submission_id, arrival)
            if not found:  # it was a letter
                for table in ("jobs", "decisions"):
                    execute(f"delete from {table} where picture_id = ?", [entry.picture_id])
                execute("update consents set picture_id = null where picture_id = ?", [entry.picture_id])
                execute("delete from pictures where id = ?", [entry.picture_id])


def _fill_in(storage: Storage, submission_id: int, arrival: Arrival) -> None:
    for column, value in (
        ("sender_name", arrival.sender_name),
        ("sender_address", arrival.sender_address),
        ("answer_to", arrival.answer_to),
        ("subject", arrival.subject),
        ("message_id", arrival.message_id),
    ):
        storage.execute(f"update submissions set {column} = ? where id = ? and {column} = ''", [value, submission_id])
    storage.execute(
        "update submissions set received_utc = coalesce(received_utc, ?), remarks = ? where id = ?",
        [time_text(arrival.received_utc), keep_list(arrival.remarks), submission_id],
    )
    if not storage.read("select 1 from suggestions where submission_id = ?", [submission_id]):
        for s in arrival.suggestions:
            storage.execute(
                "insert into suggestions (submission_id, field, value, words, source) values (?, ?, ?, ?, ?)",
                [submission_id, s.field, s.value, s.words, s.source],
            )
