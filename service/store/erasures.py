"""What is to be erased: rows at once, files noted in the same transaction and removed after it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime

from moondesk.service.arrivals import ARRIVAL_WAYS
from moondesk.service.store import as_run, audit
from moondesk.service.store.aired import nameless
from moondesk.service.store.episodes import erase_names
from moondesk.service.store.erased_marks import insert_marks
from moondesk.service.store.letter_facts import drop_erased
from moondesk.service.store.opening import erase_copies_from_before
from moondesk.service.store.rows import time_text
from moondesk.service.store.rundowns import erase_items
from moondesk.service.store.senders import fold_sender
from moondesk.service.store.storage import Storage
from moondesk.service.store.versions import erase_copies

#: Originals that something in the store still stands for.
_WANTED = """
    select sha256 from pictures where sha256 is not null
    union select substr(key, instr(key, ':') + 1) from submissions
    where id not in (select submission_id from mails_erased)
    union select frame from aired where frame <> ''
"""


def erase(storage: Storage, submission_ids: Sequence[int], when_utc: datetime, sender: str = "", who: str = "") -> None:
    """Erase submissions with all that hangs on them, and note the files that nobody else has, all or nothing.

    sender: who is forgotten with them, see `submissions_of`; "" where these submissions alone are meant. who: does it.
    """
    marks = ", ".join("?" * len(submission_ids))
    mine, ids = f"submission_id in ({marks})", list(submission_ids)
    storage.execute("pragma secure_delete = on")  # overwritten, not only let go
    with storage.writing():
        insert_marks(storage, submission_ids, fold_sender(sender), when_utc)
        storage.execute(
            f"""
            insert or ignore into files_to_erase
            select sha256 from pictures where sha256 is not null and {mine}
            union select substr(key, instr(key, ':') + 1) from submissions where id in ({marks})
            union select frame from aired where frame <> '' and picture_id in (select id from pictures where {mine})
            """,
            [*ids, *ids, *ids],
        )
        nameless(storage, f"select id from pictures where {mine}", ids)
        as_run.nameless(storage, f"select id from pictures where {mine}", ids)
        erase_copies(storage, f"select id from pictures where {mine}", ids)
        erase_names(storage, f"select id from pictures where {mine}", ids)
        erase_items(storage, f"select id from pictures where {mine}", ids)
        for table in ("annotations", "jobs"):
            storage.execute(f"delete from {table} where picture_id in (select id from pictures where {mine})", ids)
        # what they said in answer to another's picture stays as a yes or no, without their words
        storage.execute(f"update suggestions set words = '' where letter_id in ({marks})", ids)
        for table in ("consents", "mail_texts", "mails_erased", "pictures", "suggestions"):
            storage.execute(f"delete from {table} where {mine}", ids)
        drop_erased(storage)
        storage.execute(
            "insert or ignore into erased_receipts select receipt, ? from submissions where receipt is not "
            f"null and id in ({marks})",
            [time_text(when_utc), *ids],
        )
        storage.execute(f"delete from submissions where id in ({marks})", ids)
        _keep_wanted(storage)
        audit.note(storage, when_utc, who, "sender_forgotten", count=len(ids))
    fold(storage)
    erase_copies_from_before(storage.data_dir)


def old_mails(storage: Storage, before_utc: datetime) -> tuple[int, ...]:
    """Ids of submissions by mail that were stored before that time and whose whole mail is still kept."""
    rows = storage.read(
        """
        select id from submissions where source in (select value from json_each(?)) and stored_utc < ?
        and id not in (select submission_id from mails_erased)
        """,
        [json.dumps([w.name for w in ARRIVAL_WAYS.values() if w.is_mail]), time_text(before_utc)],
    )
    return tuple(row["id"] for row in rows)


def erase_mails(storage: Storage, submission_ids: Sequence[int], when_utc: datetime) -> None:
    """Give up the whole mails (their text) of submissions; pictures, and sentences that were quoted of them, stay."""
    storage.execute("pragma secure_delete = on")
    with storage.writing():
        for k in submission_ids:
            storage.execute(
                "insert or ignore into files_to_erase select substr(key, instr(key, ':') + 1) "
                "from submissions where id = ?",
                [k],
            )
            storage.execute("delete from mail_texts where submission_id = ?", [k])
            # what was quoted only because nobody understood it is evidence of nothing
            storage.execute(
                "update suggestions set words = '' where submission_id = ? and field = 'consent' and source <> 'answer' and "
                "submission_id in (select id from submissions where words_read = 'not_understood')",
                [k],
            )
            storage.execute(
                "delete from suggestions where submission_id = ? and not exists "
                "(select 1 from pictures where submission_id = ?)",
                [k, k],
            )
            storage.execute("insert or ignore into mails_erased values (?, ?)", [k, time_text(when_utc)])
            storage.execute(
                "update pictures set sha256 = null where submission_id = ? and sha256 = "
                "(select substr(key, instr(key, ':') + 1) from submissions where id = ?)",
                [k, k],
            )
        drop_erased(storage)
        _keep_wanted(storage)
        audit.note(storage, when_utc, "", "mails_erased", count=len(submission_ids))
    fold(storage)


def files_to_erase(storage: Storage) -> tuple[str, ...]:
    return tuple(row["sha256"] for row in storage.read("select sha256 from files_to_erase"))


def forget_files(storage: Storage) -> None:
    """Strike off all files that were noted to go: of a copy of the store that has none of them."""
    with storage.writing() as execute:
        execute("delete from files_to_erase")


@contextmanager
def erase_file(storage: Storage, sha256: str) -> Iterator[bool]:
    """True: nothing in the store stands for that file, and nothing will until the block ends; it is then struck off.

    Who takes a file in looks after the commit whether it is still there (see `intake`): of the two, one comes second.
    """
    with storage.writing():
        yield not storage.read(f"select 1 from ({_WANTED}) where sha256 = ?", [sha256])
        storage.execute("delete from files_to_erase where sha256 = ?", [sha256])


def fold(storage: Storage) -> None:
    """The log holds what was erased until it is folded into the store."""
    storage.execute("pragma wal_checkpoint(truncate)")


def _keep_wanted(storage: Storage) -> None:
    storage.execute(f"delete from files_to_erase where sha256 in ({_WANTED})")
