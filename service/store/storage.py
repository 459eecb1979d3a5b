"""The store's connection, its editions, submissions and annotations; records in, records out, no decisions.

All SQL of the product is in this folder: `opening` the file, `migrations` the tables, `queue` who places what,
`consents`, `mailboxes` what was fetched, `erasures` what is to go, `whole` copies and soundness; all of them by a
Storage's `read`, `execute` and `writing`.

Write-ahead log and a busy time-out, so that the desk reads while the placing writes; a submission is committed with
full synchronisation, because its sender is told that it is there. One Storage is one connection: one for a request.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Any

from moondesk.service.errors import NotStoredError
from moondesk.service.store.inbox import keep_shown, keep_words
from moondesk.service.store.letters import keep_words as keep_letter
from moondesk.service.store.letters import text_of
from moondesk.service.store.listings import PICTURES, submissions_sql
from moondesk.service.store.opening import DATABASE_NAME, copy_to, failures, opened, opened_to_read
from moondesk.service.store.records import (
    Arrival,
    Counts,
    Edition,
    EditionPlan,
    ListedPicture,
    ListedSubmission,
    SentPicture,
    StoredAnnotation,
)
from moondesk.service.store.rows import (
    consent_row,
    edition_of,
    listed_of,
    listed_submission,
    packed,
    picture_of,
    time_text,
    unpacked,
)

__all__ = ["DATABASE_NAME", "Storage"]

#: Of an enclosure that stands for a whole mail.
MAIL_TYPE = "message/rfc822"


class Storage:
    """One connection to the store of a data folder. Use as a context manager, or close it."""

    def __init__(self, data_dir: Path, read_only: bool = False) -> None:
        """read_only: nothing is written, not even brought up to date: a backup, perhaps of an older release."""
        self.data_dir = data_dir
        self._db = opened_to_read(data_dir) if read_only else opened(data_dir)

    def __enter__(self) -> Storage:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._db.close()

    def copy_to(self, path: Path) -> None:
        """See `opening.copy_to`."""
        copy_to(self._db, path)

    # --- editions ---------------------------------------------------------------------------------------------

    def add_edition(self, plan: EditionPlan) -> Edition:
        """Store an edition. Raises StorageError where its number is taken."""
        with self.writing():
            table = self._db.table("editions").insert(
                {
                    "number": plan.number,
                    "kind": plan.kind,
                    "recording_utc": time_text(plan.recording_utc),
                    "air_utc": time_text(plan.air_utc),
                    "evenings": json.dumps([e.isoformat() for e in plan.evenings]),
                    "day_number": plan.day_number,
                }
            )
        return Edition(_row_id(table.last_pk), plan)

    def editions(self) -> tuple[Edition, ...]:
        """All editions, the newest number first."""
        with failures():
            return tuple(edition_of(row) for row in self._db.query("select * from editions order by number desc"))

    def edition(self, number: int) -> Edition:
        """The edition of a number. Raises NotStoredError."""
        with failures():
            for row in self._db.query("select * from editions where number = ?", [number]):
                return edition_of(row)
        raise NotStoredError(f"There is no edition {number}.", "Go back to the list.")

    # --- submissions ------------------------------------------------------------------------------------------

    def add_submission(self, edition_id: int, arrival: Arrival, stored_utc: datetime) -> int | None:
        """Store an arrival with its enclosures, all or nothing; its id, or None where its key is there already."""
        place = arrival.place
        with self.writing():
            if list(self._db.query("select id from submissions where key = ?", [arrival.key])):
                return None
            if self._is_redelivered(arrival):
                return None
            table = self._db.table("submissions").insert(
                {
                    "edition_id": edition_id,
                    "key": arrival.key,
                    "source": arrival.source,
                    "origin": arrival.origin,
                    "stored_utc": time_text(stored_utc),
                    "received_utc": time_text(arrival.received_utc),
                    "sender_name": arrival.sender_name,
                    "sender_address": arrival.sender_address,
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
                    "remarks": json.dumps(arrival.remarks, ensure_ascii=False),
                    "channel": arrival.channel,
                    "link": arrival.link,
                    "receipt": arrival.receipt,
                }
            )
            submission_id = _row_id(table.last_pk)
            keep_letter(self, submission_id, arrival)
            self._db.table("suggestions").insert_all(
                {
                    "submission_id": submission_id,
                    "field": s.field,
                    "value": s.value,
                    "words": s.words,
                    "source": s.source,
                }
                for s in arrival.suggestions
            )
            self._db.table("pictures").insert_all(
                {
                    "submission_id": submission_id,
                    "position": position,
                    "given_name": e.given_name,
                    "size_bytes": e.size_bytes,
                    "sha256": e.sha256,
                    "media_type": e.media_type,
                    "refused": e.refused,
                }
                for position, e in enumerate(arrival.enclosures)
            )
            self._db.table("consents").insert_all(
                consent_row(submission_id, replace(c, noted_utc=c.noted_utc or stored_utc)) for c in arrival.consents
            )
            keep_words(
                self,
                [
                    row["id"]
                    for row in self._db.query("select id from pictures where submission_id = ?", [submission_id])
                ],
            )
        return submission_id

    def _is_redelivered(self, arrival: Arrival) -> bool:
        """Whether a mail is here already with other bytes: sent to two addresses, or moved by a server.

        The identifier alone would let one mail hide another that forges it: sender and all files must agree too.
        """
        if not arrival.enclosures:  # of a letter the text is what matters
            return any(
                text_of(self, row["id"]) == arrival.text
                for row in self._db.query(
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
            row["files"] == files
            for row in self._db.query(sql, [arrival.message_id, arrival.source, arrival.sender_address])
        )

    def has_key(self, key: str) -> bool:
        """True where something of that key was taken before."""
        with failures():
            return bool(list(self._db.query("select 1 from submissions where key = ?", [key])))

    def submission_id(self, key: str) -> int:
        """The submission of a key. Raises NotStoredError."""
        with failures():
            for row in self._db.query("select id from submissions where key = ?", [key]):
                return int(row["id"])
        raise NotStoredError("This submission is not here any more.", "Go back to the list.")

    def pictures_in(self, submission_id: int) -> tuple[int, ...]:
        """Ids of a submission's pictures, in their order. Raises NotStoredError."""
        with failures():
            ids = tuple(
                row["id"]
                for row in self._db.query(
                    "select id from pictures where submission_id = ? order by position", [submission_id]
                )
            )
        if not ids:
            raise NotStoredError("This submission is not here any more.", "Go back to the list.")
        return ids

    def picture(self, picture_id: int, as_sent: bool = False) -> SentPicture:
        """One picture with its submission. as_sent: without what people have decided since. Raises NotStoredError."""
        with failures():
            for row in self._db.query(PICTURES + " where p.id = ?", [picture_id]):
                return picture_of({**row, "decisions": "[]"} if as_sent else row)
        raise NotStoredError(f"There is no picture {picture_id}.", "Go back to the list.")

    def pictures(self, edition_id: int, limit: int = 60, offset: int = 0) -> tuple[ListedPicture, ...]:
        """An edition's pictures with their summaries, the last received first; of several versions the best alone."""
        order = "order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc, p.position"
        # which first, then all about them: else all is put together for every picture of the edition, and sorted
        sql = f"""{PICTURES} where p.id in (
            select p.id from pictures p join submissions s on s.id = p.submission_id
            where s.edition_id = ? and p.version_of is null {order} limit ? offset ?) {order}
        """
        with failures():
            return tuple(listed_of(row) for row in self._db.query(sql, [edition_id, limit, offset]))

    def listed_by(self, picture_ids: Sequence[int]) -> tuple[ListedPicture, ...]:
        """Pictures of these ids with their summaries, in any order; what is not there is left out."""
        sql = PICTURES + " where p.id in (select value from json_each(?))"
        with failures():
            return tuple(listed_of(row) for row in self._db.query(sql, [json.dumps(list(picture_ids))]))

    def submissions(self, edition_number: int | None = None) -> Iterator[ListedSubmission]:
        """All submissions, or an edition's, in the order in which they were stored; one at a time."""
        sql = submissions_sql() + "where :number is null or e.number = :number order by listed.s_id, listed.position"
        with failures():
            rows = self._db.query(sql, {"number": edition_number})
            for _, group in groupby(rows, key=lambda row: row["s_id"]):
                yield listed_submission(list(group))

    def neighbours(self, picture_id: int) -> tuple[int | None, int | None]:
        """Ids of the pictures before and after one in its edition's list."""
        sql = """
            with mine as (select s.edition_id from pictures p join submissions s on s.id = p.submission_id
                          where p.id = :id),
            listed as (
                select p.id, lag(p.id) over list as before, lead(p.id) over list as after
                from pictures p join submissions s on s.id = p.submission_id
                where s.edition_id = (select edition_id from mine) and (p.version_of is null or p.id = :id)
                window list as (order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc, p.position))
            select before, after from listed where id = :id
        """
        with failures():
            for row in self._db.query(sql, {"id": picture_id}):
                return row["before"], row["after"]
        return None, None

    def counts(self, edition_id: int) -> Counts:
        """How many of an edition's pictures stand where; several versions of one count once."""
        sql = f"""
            select count(*) as total,
                   coalesce(sum(refused is not null), 0) as refused,
                   coalesce(sum(refused is null and status is null), 0) as waiting,
                   coalesce(sum(status = 'annotated' and sure), 0) as sure,
                   coalesce(sum(status = 'annotated' and not sure), 0) as unsure
            from ({PICTURES} where s.edition_id = ? and p.version_of is null)
        """
        with failures():
            row = next(iter(self._db.query(sql, [edition_id])))
        rest = row["total"] - row["refused"] - row["waiting"] - row["sure"] - row["unsure"]
        return Counts(
            total=row["total"],
            sure=row["sure"],
            unsure=row["unsure"],
            not_placed=rest,
            refused=row["refused"],
            waiting=row["waiting"],
        )

    # --- annotations ------------------------------------------------------------------------------------------

    def add_annotation(self, stored: StoredAnnotation, best_seen: Sequence[str], ready: bytes = b"") -> None:
        """Store an annotation; the older ones of its picture are kept. ready: it by `rows.packed`, if that is done."""
        with self.writing():
            self.insert_annotation(stored, best_seen, ready)

    def insert_annotation(self, stored: StoredAnnotation, best_seen: Sequence[str], ready: bytes = b"") -> None:
        """`add_annotation` within a transaction."""
        a = stored.annotation
        self._db.table("annotations").insert(
            {
                "picture_id": stored.picture_id,
                "engine_version": stored.engine_version,
                "made_utc": time_text(stored.made_utc),
                "derived_key": stored.derived_key,
                "status": a.status,
                "sure": int(a.sure),
                "reason": a.reason,
                "taken_utc": time_text(a.time.utc if a.time else None),
                "time_source": a.time.source if a.time else "",
                "clock_verdict": a.clock.verdict,
                "best_seen": json.dumps(list(best_seen), ensure_ascii=False),
                "annotation": ready or packed(a),
                "quality": stored.quality or None,
                "camera": a.taken.camera,
                "evening": a.dated.verdict,
            }
        )
        self.execute("update pictures set placed_by = ? where id = ?", [stored.engine_version, stored.picture_id])
        keep_shown(self, stored.picture_id, a)
        keep_words(self, [stored.picture_id])

    def keep_quality(self, picture_id: int, derived_key: str, quality: str) -> None:
        """Note what was measured of a picture as it was placed with that key, where that still is its newest."""
        with self.writing():
            self.execute(
                "update annotations set quality = ? where derived_key = ? and id = "
                "(select max(id) from annotations where picture_id = ?)",
                [quality, derived_key, picture_id],
            )

    def annotation(self, picture_id: int) -> StoredAnnotation | None:
        """The newest annotation of a picture; None while it waits."""
        sql = "select * from annotations where picture_id = ? order by id desc limit 1"
        with failures():
            for row in self._db.query(sql, [picture_id]):
                record = unpacked(row["annotation"])
                return StoredAnnotation(
                    picture_id=row["picture_id"],
                    annotation=record,
                    engine_version=row["engine_version"],
                    made_utc=datetime.fromisoformat(row["made_utc"]),
                    derived_key=row["derived_key"],
                    quality=row["quality"] or "",
                )
        return None

    def derived_key(self, picture_id: int) -> str | None:
        """Key of a picture's newest derived files; None while it waits. A tenth of the time that `annotation` takes."""
        sql = "select derived_key from annotations where picture_id = ? order by id desc limit 1"
        rows = self.read(sql, [picture_id])
        return str(rows[0]["derived_key"]) if rows else None

    # --- for the other modules of this folder --------------------------------------------------------------------

    def read(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> list[dict[str, Any]]:
        """All rows of a query; inside `writing` it is part of the transaction."""
        with failures():
            return list(self._db.query(sql, values))

    def execute(self, sql: str, values: Sequence[Any] = ()) -> int:
        """Run a statement inside `writing`; how many rows it touched."""
        with failures():
            return int(self._db.execute(sql, values).rowcount)

    @contextmanager
    def writing(self) -> Iterator[Callable[..., int]]:
        """One transaction that has the write lock from its start, so that it never fails half way for lack of it."""
        with failures():
            self._db.conn.execute("begin immediate")
            try:
                yield self.execute
            except BaseException:
                self._db.rollback()
                raise
            self._db.commit()


def _row_id(key: Any) -> int:
    return int(key)
