"""The store: all SQL of the product is here and in `migrations`; records in, records out, no decisions.

Write-ahead log and a busy time-out, so that the desk reads while the placing writes; a submission is committed with
full synchronisation, because its sender is told that it is there. One Storage is one connection: one for a request.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from service.errors import NotStoredError, StorageError
from service.store.migrations import migrations
from service.store.records import (
    Arrival,
    Counts,
    Edition,
    EditionPlan,
    ListedPicture,
    ListedSubmission,
    SentPicture,
    StoredAnnotation,
)
from service.store.rows import edition_of, listed_of, packed, picture_of, time_text, unpacked

DATABASE_NAME = "moondesk.db"
BUSY_SECONDS = 20.0

# A picture's newest annotation is the one with the highest id.
_LISTING = """
    select s.*, s.id as s_id, p.id as p_id, p.position, p.given_name, p.size_bytes, p.sha256, p.media_type, p.refused,
           a.status, a.sure, a.reason, a.taken_utc as a_taken_utc, a.time_source, a.clock_verdict, a.best_seen,
           a.derived_key,
           (select json_group_array(json_array(field, value, words, source))
            from (select * from suggestions where submission_id = s.id order by id)) as suggestions
    from pictures p
    join submissions s on s.id = p.submission_id
    left join annotations a on a.id = (select max(id) from annotations where picture_id = p.id)
"""


class Storage:
    """One connection to the store of a data folder. Use as a context manager, or close it."""

    def __init__(self, data_dir: Path) -> None:
        try:
            data_dir.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(data_dir / DATABASE_NAME, timeout=BUSY_SECONDS)
        except (OSError, sqlite3.Error) as error:
            raise StorageError(f"The data folder {data_dir} cannot be used: {error}.",
                                "Choose another with --data, or check its permissions.") from error
        self._db = Database(connection)
        try:
            with _failures():
                self._db.enable_wal()
                self._db.execute("pragma synchronous = full")
                if migrations.pending(self._db):
                    with self._write():  # the lock first: two programs may open a fresh store at once
                        migrations.apply(self._db)
                self._db.execute("pragma foreign_keys = on")  # afterwards: a step may build a table anew
        except StorageError:
            self.close()
            raise

    def __enter__(self) -> Storage:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._db.close()

    # --- editions ---------------------------------------------------------------------------------------------

    def add_edition(self, plan: EditionPlan) -> Edition:
        """Store an edition. Raises StorageError where its number is taken."""
        with self._write():
            table = self._db.table("editions").insert({
                "number": plan.number, "kind": plan.kind, "recording_utc": time_text(plan.recording_utc),
                "air_utc": time_text(plan.air_utc), "evenings": json.dumps([e.isoformat() for e in plan.evenings]),
                "day_number": plan.day_number,
            })
        return Edition(_row_id(table.last_pk), plan)

    def editions(self) -> tuple[Edition, ...]:
        """All editions, the newest number first."""
        with _failures():
            return tuple(edition_of(row) for row in self._db.query("select * from editions order by number desc"))

    def edition(self, number: int) -> Edition:
        """The edition of a number. Raises NotStoredError."""
        with _failures():
            for row in self._db.query("select * from editions where number = ?", [number]):
                return edition_of(row)
        raise NotStoredError(f"There is no edition {number}.", "Go back to the list.")

    # --- submissions ------------------------------------------------------------------------------------------

    def add_submission(self, edition_id: int, arrival: Arrival, stored_utc: datetime) -> int | None:
        """Store an arrival with its enclosures, all or nothing; its id, or None where its key is there already."""
        place = arrival.place
        with self._write():
            if list(self._db.query("select id from submissions where key = ?", [arrival.key])):
                return None
            table = self._db.table("submissions").insert({
                "edition_id": edition_id, "key": arrival.key, "source": arrival.source, "origin": arrival.origin,
                "stored_utc": time_text(stored_utc), "received_utc": time_text(arrival.received_utc),
                "sender_name": arrival.sender_name, "sender_address": arrival.sender_address,
                "credit_line": arrival.credit_line, "subject": arrival.subject, "message_id": arrival.message_id,
                "taken_utc": time_text(arrival.taken_utc), "latitude_deg": place.latitude_deg if place else None,
                "longitude_deg": place.longitude_deg if place else None, "height_m": place.height_m if place else None,
                "place_name": arrival.place_name, "equipment": arrival.equipment, "consent": arrival.consent,
                "remarks": json.dumps(arrival.remarks, ensure_ascii=False), "channel": arrival.channel,
                "link": arrival.link, "receipt": arrival.receipt,
            })
            submission_id = _row_id(table.last_pk)
            self._db.table("suggestions").insert_all(
                {"submission_id": submission_id, "field": s.field, "value": s.value, "words": s.words,
                 "source": s.source}
                for s in arrival.suggestions
            )
            self._db.table("pictures").insert_all(
                {
                    "submission_id": submission_id, "position": position, "given_name": e.given_name,
                    "size_bytes": e.size_bytes, "sha256": e.sha256, "media_type": e.media_type, "refused": e.refused,
                }
                for position, e in enumerate(arrival.enclosures)
            )
        return submission_id

    def has_key(self, key: str) -> bool:
        """True where something of that key was taken before."""
        with _failures():
            return bool(list(self._db.query("select 1 from submissions where key = ?", [key])))

    def picture(self, picture_id: int) -> SentPicture:
        """One picture with its submission. Raises NotStoredError."""
        with _failures():
            for row in self._db.query(_LISTING + " where p.id = ?", [picture_id]):
                return picture_of(row)
        raise NotStoredError(f"There is no picture {picture_id}.", "Go back to the list.")

    def pictures(self, edition_id: int, limit: int = 60, offset: int = 0) -> tuple[ListedPicture, ...]:
        """An edition's pictures with their summaries, the last received first."""
        sql = _LISTING + """
            where s.edition_id = ? order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc, p.position
            limit ? offset ?
        """
        with _failures():
            return tuple(listed_of(row) for row in self._db.query(sql, [edition_id, limit, offset]))

    def submissions(self, edition_number: int | None = None) -> Iterator[ListedSubmission]:
        """All submissions, or an edition's, in the order in which they were stored; one at a time."""
        sql = f"""
            select listed.*, e.number as edition_number from ({_LISTING}) as listed
            join editions e on e.id = listed.edition_id
            where :number is null or e.number = :number order by listed.s_id, listed.position
        """
        with _failures():
            rows = self._db.query(sql, {"number": edition_number})
            for _, group in groupby(rows, key=lambda row: row["s_id"]):
                of_one = list(group)
                pictures = tuple((picture_of(row).enclosure, row["status"]) for row in of_one)
                yield ListedSubmission(picture_of(of_one[0]).submission, of_one[0]["edition_number"], pictures)

    def neighbours(self, picture_id: int) -> tuple[int | None, int | None]:
        """Ids of the pictures before and after one in its edition's list."""
        sql = """
            with mine as (select s.edition_id from pictures p join submissions s on s.id = p.submission_id
                          where p.id = :id),
            listed as (
                select p.id, lag(p.id) over list as before, lead(p.id) over list as after
                from pictures p join submissions s on s.id = p.submission_id
                where s.edition_id = (select edition_id from mine)
                window list as (order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc, p.position))
            select before, after from listed where id = :id
        """
        with _failures():
            for row in self._db.query(sql, {"id": picture_id}):
                return row["before"], row["after"]
        return None, None

    def counts(self, edition_id: int) -> Counts:
        """How many of an edition's pictures stand where."""
        sql = f"""
            select count(*) as total,
                   coalesce(sum(refused is not null), 0) as refused,
                   coalesce(sum(refused is null and status is null), 0) as waiting,
                   coalesce(sum(status = 'annotated' and sure), 0) as sure,
                   coalesce(sum(status = 'annotated' and not sure), 0) as unsure
            from ({_LISTING} where s.edition_id = ?)
        """
        with _failures():
            row = next(iter(self._db.query(sql, [edition_id])))
        rest = row["total"] - row["refused"] - row["waiting"] - row["sure"] - row["unsure"]
        return Counts(row["total"], row["sure"], row["unsure"], rest, row["refused"], row["waiting"])

    def unplaced(self, engine_version: str) -> tuple[SentPicture, ...]:
        """Pictures that this version of the engine was not the last to look at, the first received first."""
        sql = _LISTING + """
            where p.refused is null and p.sha256 is not null and a.engine_version is not ?
            order by coalesce(s.received_utc, s.stored_utc), s.id, p.position
        """
        with _failures():
            return tuple(picture_of(row) for row in self._db.query(sql, [engine_version]))

    # --- annotations ------------------------------------------------------------------------------------------

    def add_annotation(self, stored: StoredAnnotation, best_seen: Sequence[str], ready: bytes = b"") -> None:
        """Store an annotation; the older ones of its picture are kept. ready: it by `rows.packed`, if that is done."""
        a = stored.annotation
        with self._write():
            self._db.table("annotations").insert({
                "picture_id": stored.picture_id, "engine_version": stored.engine_version,
                "made_utc": time_text(stored.made_utc), "derived_key": stored.derived_key, "status": a.status,
                "sure": int(a.sure), "reason": a.reason, "taken_utc": time_text(a.time.utc if a.time else None),
                "time_source": a.time.source if a.time else "", "clock_verdict": a.clock.verdict,
                "best_seen": json.dumps(list(best_seen), ensure_ascii=False),
                "annotation": ready or packed(a),
            })

    def annotation(self, picture_id: int) -> StoredAnnotation | None:
        """The newest annotation of a picture; None while it waits."""
        sql = "select * from annotations where picture_id = ? order by id desc limit 1"
        with _failures():
            for row in self._db.query(sql, [picture_id]):
                record = unpacked(row["annotation"])
                return StoredAnnotation(row["picture_id"], record, row["engine_version"],
                                        datetime.fromisoformat(row["made_utc"]), row["derived_key"])
        return None

    # --- erasing ----------------------------------------------------------------------------------------------

    def submissions_of(self, sender: str) -> tuple[int, ...]:
        """Ids of what a sender sent: by address, or by name where no address is known; letter case does not count."""
        sql = "select id, sender_name, sender_address from submissions"
        wanted = sender.casefold()
        with _failures():  # compared here: the database folds the case of ASCII letters only
            return tuple(row["id"] for row in self._db.query(sql)
                         if (row["sender_address"] or row["sender_name"]).casefold() == wanted)

    def erase(self, submission_ids: Sequence[int], when_utc: datetime) -> None:
        """Erase submissions with all that hangs on them, and note the files that nobody else has, all or nothing."""
        marks = ", ".join("?" * len(submission_ids))
        mine, ids = f"submission_id in ({marks})", list(submission_ids)
        with _failures():
            self._db.execute("pragma secure_delete = on")  # overwritten, not only let go
        with self._write():
            self._db.execute(
                f"""
                insert or ignore into files_to_erase
                select sha256 from pictures where sha256 is not null and {mine}
                union select substr(key, instr(key, ':') + 1) from submissions where id in ({marks})
                """, [*ids, *ids])
            self._db.execute(
                f"""
                insert or ignore into erased_receipts
                select receipt, ? from submissions where receipt is not null and id in ({marks})
                """, [time_text(when_utc), *ids])
            self._db.execute(f"delete from annotations where picture_id in (select id from pictures where {mine})", ids)
            for table in ("pictures", "suggestions"):
                self._db.execute(f"delete from {table} where {mine}", ids)
            self._db.execute(f"delete from submissions where id in ({marks})", ids)
            self._db.execute(
                """
                delete from files_to_erase where sha256 in (select sha256 from pictures where sha256 is not null
                union select substr(key, instr(key, ':') + 1) from submissions)
                """)
            self._db.execute("insert into audit (when_utc, what) values (?, ?)",
                             [time_text(when_utc), f"a sender was forgotten: {len(ids)} submissions"])
        with _failures():  # the log holds what was erased until it is folded into the store
            self._db.execute("pragma wal_checkpoint(truncate)")

    def files_to_erase(self) -> tuple[str, ...]:
        with _failures():
            return tuple(row["sha256"] for row in self._db.query("select sha256 from files_to_erase"))

    def file_erased(self, sha256: str) -> None:
        with self._write():
            self._db.execute("delete from files_to_erase where sha256 = ?", [sha256])

    def audit(self) -> tuple[tuple[datetime, str], ...]:
        """What was done for good, in order."""
        with _failures():
            return tuple((datetime.fromisoformat(row["when_utc"]), row["what"])
                         for row in self._db.query("select when_utc, what from audit order by id"))

    # --- the store as a whole ---------------------------------------------------------------------------------

    def copy_to(self, path: Path) -> None:
        """A consistent copy of the store in one file, while others read and write; whole or not there."""
        aside = path.with_name(f".part-{path.name}")
        aside.unlink(missing_ok=True)
        with _failures():
            self._db.execute("vacuum into ?", [str(aside)])
        aside.replace(path)
        for rest in ("-wal", "-shm"):  # of an older copy in its place: they would be played into the new one
            path.with_name(path.name + rest).unlink(missing_ok=True)

    def original_hashes(self) -> tuple[str, ...]:
        """SHA-256 of every original that is known: pictures, and the mails and archives that they came in."""
        sql = """
            select sha256 as sha from pictures where sha256 is not null
            union select substr(key, instr(key, ':') + 1) from submissions order by 1
        """
        with _failures():
            return tuple(row["sha"] for row in self._db.query(sql))

    def faults(self) -> tuple[str, ...]:
        """What the database finds wrong with itself; empty where it is sound."""
        with _failures():
            sound = [row["integrity_check"] for row in self._db.query("pragma integrity_check")]
            loose = list(self._db.query("pragma foreign_key_check"))
        said = [f"The database says: {text}." for text in sound if text != "ok"]
        return (*said, *(["Some rows of the database belong to nothing."] if loose else []))

    # --- for the other modules of the store -------------------------------------------------------------------

    def read(self, sql: str, values: Sequence[Any] = ()) -> list[dict[str, Any]]:
        with _failures():
            return list(self._db.query(sql, list(values)))

    @contextmanager
    def writing(self) -> Iterator[Callable[..., Any]]:
        """One transaction; gives what executes a statement in it."""
        with self._write():
            yield self._db.execute

    @contextmanager
    def _write(self) -> Iterator[None]:
        """One transaction that has the write lock from its start, so that it never fails half way for lack of it."""
        with _failures():
            self._db.conn.execute("begin immediate")
            try:
                yield
            except BaseException:
                self._db.rollback()
                raise
            self._db.commit()


@contextmanager
def _failures() -> Iterator[None]:
    try:
        yield
    except (sqlite3.Error, zlib.error) as error:
        raise StorageError(f"The store answered: {error}.",
                            "Is the disk full, or another program holding the store?") from error


def _row_id(key: Any) -> int:
    return int(key)
