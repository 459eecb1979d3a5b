"""Who sent what, as it is asked before a person is forgotten: by address, or by name where no address is known."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

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


@dataclass(frozen=True)
class Variant:
    """sender: as `submissions_of` finds them; submissions: how many; why: what makes them perhaps the same person's."""

    sender: str
    submissions: int
    why: str


def variants(storage: Storage, submission_ids: Sequence[int], typed: Sequence[str] = ()) -> tuple[Variant, ...]:
    """Other submissions that may be of who sent these, or is meant by what was typed; to be offered, never taken. A name
    of one word alone tells of nobody who has an address."""
    mine, others = set(submission_ids), _other_addresses(storage)
    rows = _names_and_addresses(storage)
    names = {n for k, n, _ in rows if k in mine and n} | {t for t in typed if "@" not in t}
    folded, orders = {fold_sender(n) for n in names}, {name_key(n) for n in names}
    addresses = {fold_sender(a) for k, _, a in rows if k in mine and a} | {fold_sender(t) for t in typed if "@" in t}
    addresses |= {a for k in mine for a in others.get(k, ())}
    untagged, undotted = {_strip_tag(a) for a in addresses}, {_strip_dots(a) for a in addresses}
    found: dict[str, tuple[set[int], str]] = {}
    for k, name, address in rows:
        if k in mine or fold_sender(address or name) in {fold_sender(t) for t in typed}:
            continue
        own = {fold_sender(address), *others.get(k, ())} - {""}
        if own & addresses:
            why = "the same address stands in them"
        elif untagged & {_strip_tag(a) for a in own}:
            why = "the same address but for what stands after a +"
        elif undotted & {_strip_dots(a) for a in own}:
            why = "the same address but for its dots"
        elif name and (not address or len(name.split()) > 1) and fold_sender(name) in folded:
            why = "the same name"
        elif name and (not address or len(name.split()) > 1) and name_key(name) in orders:
            why = "the same name, spelled otherwise or in another order"
        else:
            continue
        found.setdefault(address or name, (set(), why))[0].add(k)
    return tuple(Variant(sender, len(ids), why) for sender, (ids, why) in sorted(found.items()))


def fold_sender(sender: str) -> str:
    """Folded here: the database folds the case of ASCII letters only."""
    return sender.strip().casefold()


def name_key(name: str) -> str:
    """A name without its order, accents and punctuation: "Núñez, Ana" is "Ana Nunez". For an offer alone."""
    plain = unicodedata.normalize("NFKD", name.casefold().translate(_LETTERS))
    plain = "".join(c for c in plain if not "\u0300" <= c <= "\u036f")  # of other scripts marks are letters
    return " ".join(
        sorted("".join(c if c.isalnum() or unicodedata.category(c)[0] == "M" else " " for c in plain).split())
    )


#: Letters that no decomposition takes apart, as they are written where they are missing.
_LETTERS = str.maketrans({"ø": "o", "đ": "d", "ł": "l", "æ": "ae", "œ": "oe", "ı": "i", "ð": "d", "þ": "th"})
#: An address beside that of so many senders is of a form or a list that passes mails on.
_SERVICE_FROM = 3


def _other_addresses(storage: Storage) -> dict[int, set[str]]:
    """Addresses in submissions beside their senders', without those of forms and lists."""
    rows = storage.read(
        """
        select submission_id as id, address from other_addresses where address not in (
            select o.address from other_addresses o join submissions s on s.id = o.submission_id
            group by o.address having count(distinct s.sender_key) >= ?)
        """,
        [_SERVICE_FROM],
    )
    found: dict[int, set[str]] = {}
    for row in rows:
        found.setdefault(row["id"], set()).add(fold_sender(row["address"]))
    return found


def _strip_tag(address: str) -> str:
    user, _, host = fold_sender(address).rpartition("@")
    return f"{user.partition('+')[0]}@{host}"


def _strip_dots(address: str) -> str:
    user, _, host = _strip_tag(address).rpartition("@")
    return f"{user.replace('.', '')}@{host}"


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
