"""Receipts: what the sender of a form may ask about it, by the token of a link that nobody can guess.

The store holds only the SHA-256 of a token, so that a copy of it opens no receipt.
"""

from __future__ import annotations

import hashlib
from datetime import datetime

from moondesk.records import Status
from moondesk.service.store.erasures import erase
from moondesk.service.store.messages import words_of
from moondesk.service.store.records import Receipt, ReceiptPicture
from moondesk.service.store.rows import text_time
from moondesk.service.store.storage import Storage


def receipt_hash(token: str) -> str:
    """What the store knows a token by."""
    return hashlib.sha256(token.encode()).hexdigest()


def receipt(storage: Storage, token: str) -> Receipt | None:
    """What is known of a receipt; None for a token that was never given out."""
    wanted = receipt_hash(token)
    rows = storage.read(
        """
        select s.id, s.stored_utc, s.credit_line, p.given_name, p.refused, p.aired_utc,
               (select status from annotations where picture_id = p.id order by id desc limit 1) as status
        from submissions s left join pictures p on p.submission_id = s.id
        where s.receipt = ? order by p.position
        """,
        [wanted],
    )
    if rows:
        first = rows[0]
        pictures = tuple(
            ReceiptPicture(
                row["given_name"],
                words_of(row["refused"] or "") or None,
                Status(row["status"]) if row["status"] else None,
                text_time(row["aired_utc"]),
            )
            for row in rows
            if row["given_name"] is not None
        )
        return Receipt(
            submission_id=first["id"],
            stored_utc=text_time(first["stored_utc"]),
            credit=first["credit_line"],
            pictures=pictures,
        )
    for row in storage.read("select when_utc from erased_receipts where receipt = ?", [wanted]):
        return Receipt(submission_id=None, erased_utc=text_time(row["when_utc"]))
    return None


def withdraw(storage: Storage, token: str, when_utc: datetime) -> None:
    """Erase what came with a receipt: it is as if it had never been sent, but that the receipt says so.

    The files are only noted to go; `forget.erase_files` removes them.
    """
    found = receipt(storage, token)
    if found and found.submission_id is not None:
        erase(storage, (found.submission_id,), when_utc, who="the receipt's link")
