"""Links to receipts that are still to be mailed to whoever gave an address. Each is sent once at most.

It is struck off before it goes over the line, and put back where the server asks to try later: a program that is ended in
the middle sends none twice. The link itself is not kept, see `receipts`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from moondesk.service.store.rows import sender_key, time_text
from moondesk.service.store.storage import Storage

#: Mails to one address a day: anybody can type another's.
A_DAY = 5
#: Waits before the next try, doubled each time, and the tries after which it is given up.
FIRST_WAIT, TRIES = timedelta(minutes=5), 6


@dataclass(frozen=True, kw_only=True)
class ReceiptMail:
    """key: of the submission, of which its link is made; tries: with this one."""

    submission_id: int
    key: str
    to: str
    language: str
    tries: int


def queue(storage: Storage, key: str, language: str, now: datetime) -> bool:
    """Have the link of a submission mailed; False: none is, because it has no address, or that had enough of them."""
    with storage.writing():
        rows = storage.read("select id, sender_key from submissions where key = ? and sender_key <> ''", [key])
        if not rows or not sender_key(rows[0]["sender_key"]):
            return False
        (today,) = storage.read(
            "select count(*) as n from submissions where sender_key = ? and source = 'form' and stored_utc > ?",
            [rows[0]["sender_key"], time_text(now - timedelta(days=1))],
        )
        if today["n"] > A_DAY:
            return False
        storage.execute(
            "insert or ignore into receipt_mails values (?, ?, 0, ?)", [rows[0]["id"], language, time_text(now)]
        )
    return True


def claim(storage: Storage, now: datetime) -> ReceiptMail | None:
    """The next that is due, struck off; None: there is none."""
    with storage.writing():
        rows = storage.read(
            """
            select m.*, s.key, s.sender_address from receipt_mails m join submissions s on s.id = m.submission_id
            where m.next_utc <= ? order by m.next_utc, m.submission_id limit 1
            """,
            [time_text(now)],
        )
        if not rows:
            return None
        (row,) = rows
        storage.execute("delete from receipt_mails where submission_id = ?", [row["submission_id"]])
    return ReceiptMail(
        submission_id=row["submission_id"],
        key=row["key"],
        to=row["sender_address"],
        language=row["language"],
        tries=row["tries"] + 1,
    )


def later(storage: Storage, mail: ReceiptMail, now: datetime) -> None:
    """It could not be sent: once more after a while, unless it was taken back or tried often enough."""
    if mail.tries >= TRIES:
        return
    with storage.writing():
        storage.execute(
            "insert or ignore into receipt_mails select id, ?, ?, ? from submissions where id = ?",
            [mail.language, mail.tries, time_text(now + FIRST_WAIT * 2 ** (mail.tries - 1)), mail.submission_id],
        )
