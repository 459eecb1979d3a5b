"""Who sent what, as it is asked before a person is forgotten: by address, or by name where no address is known."""

from __future__ import annotations

from collections.abc import Sequence

from moondesk.service.store.storage import Storage


def submissions_of(storage: Storage, sender: str) -> tuple[int, ...]:
    """Ids of what a sender sent: by any address in it, or by name where none is known; letter case does not count."""
    wanted = fold_sender(sender)
    return tuple(sorted({k for k, known in senders(storage) if known == wanted}))


def senders(storage: Storage) -> tuple[tuple[int, str], ...]:
    """(submission, sender): each of its addresses, or where there is none the name as it came and as it was put right."""
    others = storage.read("select submission_id, address from other_addresses")
    return (
        *((k, fold_sender(address or name)) for k, name, address in _names_and_addresses(storage)),
        *((row["submission_id"], fold_sender(row["address"])) for row in others),
    )


def also_theirs(storage: Storage, submission_ids: Sequence[int]) -> tuple[tuple[str, int], ...]:
    """(how `submissions_of` finds them, how many): other submissions that may be of who sent these, but do not say so:
    the same name without an address, the same address but for what stands after a +."""
    mine = set(submission_ids)
    rows = _names_and_addresses(storage)
    names = {fold_sender(name) for k, name, _ in rows if k in mine and name}
    addresses = {_strip_tag(address) for k, _, address in rows if k in mine and address}
    found: dict[str, set[int]] = {}
    for k, name, address in rows:
        if k not in mine and (_strip_tag(address) in addresses if address else fold_sender(name) in names):
            found.setdefault(address or name, set()).add(k)
    return tuple(sorted((sender, len(ids)) for sender, ids in found.items()))


def fold_sender(sender: str) -> str:
    """Folded here: the database folds the case of ASCII letters only."""
    return sender.strip().casefold()


def _strip_tag(address: str) -> str:
    user, _, host = fold_sender(address).rpartition("@")
    return f"{user.partition('+')[0]}@{host}"


def _names_and_addresses(storage: Storage) -> list[tuple[int, str, str]]:
    rows = storage.read(
        """
        select id, sender_name, sender_address from submissions
        union select s.id, json_extract(d.what, '$.text'), s.sender_address from decisions d
        join pictures p on p.id = d.picture_id join submissions s on s.id = p.submission_id
        where d.kind = 'sender_name'
        """
    )
    return [(row["id"], row["sender_name"] or "", row["sender_address"]) for row in rows]
