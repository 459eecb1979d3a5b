"""What of a mailbox was fetched and need not be again. Whether a mail is new is decided by its submission's key."""

from __future__ import annotations

from moondesk.service.store.storage import Storage


def begin(storage: Storage, mailbox: str, uidvalidity: int) -> tuple[frozenset[int], bool]:
    """UIDs that were dealt with, under this UIDVALIDITY; and whether the server has renumbered the mailbox since.

    Numbers of before mean nothing then (RFC 3501, 2.3.1.1) and are dropped.
    """
    with storage.writing() as execute:
        dropped = execute("delete from mailbox_taken where mailbox = ? and uidvalidity <> ?", [mailbox, uidvalidity])
    rows = storage.read("select uid from mailbox_taken where mailbox = ?", [mailbox])
    return frozenset(row["uid"] for row in rows), dropped > 0


def note(storage: Storage, mailbox: str, uidvalidity: int, uid: int) -> None:
    """A mail was dealt with, and marked on the server."""
    with storage.writing() as execute:
        execute("insert or ignore into mailbox_taken values (?, ?, ?)", [mailbox, uidvalidity, uid])
