"""Letters: mails that a person must read, and the pictures that they hold until then.

A letter holds every picture of its sender, those that came before and those that come after, and of whoever is answered
in it; by addresses as they are written in the mail, case folded. Whether a picture is held is read with it
(`Arrival.held_by`), so that nothing can be shown by a page that did not ask. The text is kept as long as the whole mail
is, and goes with it; a letter that nobody has read by then still holds.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from moondesk.service.errors import NotStoredError
from moondesk.service.store import audit
from moondesk.service.store.records import Arrival, LetterPart
from moondesk.service.store.rows import sender_key, text_time, time_text
from moondesk.service.store.storage import Storage

#: Ids of the letters that hold what a submission s sent, as a JSON list; a part of a query.
HELD_BY = """
    (select json_group_array(letter_id) from (
        select distinct h.letter_id from letter_holds h join letters l on l.submission_id = h.letter_id
        where (h.what in ('a:' || s.sender_key, 's:' || s.id)
        or h.what in (select 'a:' || address from other_addresses where submission_id = s.id)) and l.read_utc is null and l.kind = 'letter'
        and h.letter_id <> s.id -- of its own pictures its words are read as every mail's
        order by h.letter_id))
"""


#: Of a letter that may take something back: nothing was meant to be; it was erased. "": it was read.
Outcome = Literal["", "not_meant", "erased"]


@dataclass(frozen=True, kw_only=True)
class Letter:
    """A letter. read_utc: None while nobody has read it; read_by: who did, and outcome what came of it. erase_utc: when it
    goes itself, None: with its mail."""

    id: int
    kind: Literal["letter", "machine"]
    edition_id: int
    stored_utc: datetime
    received_utc: datetime | None
    sender_name: str
    sender_address: str
    answer_to: str
    subject: str
    message_id: str
    read_utc: datetime | None
    read_by: str
    outcome: Outcome
    erase_utc: datetime | None

    @property
    def holds(self) -> bool:
        return self.kind == "letter" and self.read_utc is None


def keep_words(storage: Storage, submission_id: int, arrival: Arrival) -> None:
    """Within a transaction: what a mail's words are, and whether it is a letter."""
    storage.execute(
        "update submissions set words_read = ?, sender_key = ? where id = ?",
        [arrival.words_read, sender_key(arrival.sender_address), submission_id],
    )
    keys = {key for a in (arrival.sender_address, *arrival.addresses) if (key := sender_key(a))}
    for key in sorted(keys - {sender_key(arrival.sender_address)}):
        storage.execute("insert or ignore into other_addresses values (?, ?)", [key, submission_id])
    if arrival.text or arrival.words_read:
        _keep_text(storage, submission_id, arrival.text)
    if not arrival.letter:
        return
    storage.execute(
        "insert or ignore into letters (submission_id, kind) values (?, ?)", [submission_id, arrival.letter]
    )
    holds = {f"a:{key}" for key in keys - {sender_key(arrival.service)}}  # all that came by a form is not one person's
    for answered in _answered(storage, arrival):
        key = str(storage.read("select sender_key from submissions where id = ?", [answered])[0]["sender_key"])
        holds |= {f"s:{answered}"} | ({f"a:{key}"} if key else set())
    for what in sorted(holds):
        storage.execute("insert or ignore into letter_holds values (?, ?)", [what, submission_id])


def _answered(storage: Storage, arrival: Arrival) -> tuple[int, ...]:
    """Submissions that a mail answers, or that a reply of the programme's which it answers was to; the nearest first."""
    rows = storage.read(
        """
        select s.id, m.key as near from json_each(:ids) m join submissions s on s.message_id = m.value
        union select r.submission_id, m.key from json_each(:ids) m join replies r on r.message_id = m.value
        order by near, 1
        """,
        {"ids": json.dumps([i for i in arrival.answers if i])},
    )
    return tuple(dict.fromkeys(row["id"] for row in rows))


def keep_answer(storage: Storage, submission_id: int, arrival: Arrival) -> None:
    """Within a transaction: what a mail says about what it answers, as a suggestion there, which never counts as a yes.

    A no is one for all that it answers, a yes for the nearest alone, and not against a no that was written after it.
    """
    said = arrival.answer
    if said is None or arrival.letter == "machine":
        return
    storage.execute("delete from suggestions where letter_id = ?", [submission_id])
    answered = [k for k in _answered(storage, arrival) if k != submission_id]
    for earlier in answered if said.state == "refused" else answered[:1]:
        asked = storage.read("select 1 from consents where submission_id = ? and state = 'asked'", [earlier])
        later_no = storage.read(
            """
            select 1 from suggestions a join submissions l on l.id = a.letter_id join submissions mine on mine.id = :mine
            where a.submission_id = :earlier and a.source = 'answer' and a.value = 'refused'
            and coalesce(l.received_utc, l.stored_utc) >= coalesce(mine.received_utc, mine.stored_utc)
            """,
            {"earlier": earlier, "mine": submission_id},
        )
        if (said.bare and not asked) or (later_no and said.state != "refused"):
            continue
        storage.execute(
            """
            insert into suggestions (submission_id, field, value, words, source, letter_id, noted_utc)
            select ?, 'consent', ?, ?, 'answer', id, stored_utc from submissions where id = ?
            """,
            [earlier, said.state, said.words, submission_id],
        )


def keep_text(storage: Storage, submission_id: int, parts: Sequence[LetterPart]) -> None:
    """The text of a mail that an older release did not keep, once it was read again; not after the mail was erased."""
    with storage.writing():
        if storage.read(
            "select 1 from submissions where id = ? and id not in (select submission_id from mails_erased)",
            [submission_id],
        ):
            _keep_text(storage, submission_id, parts)


def _keep_text(storage: Storage, submission_id: int, parts: Sequence[LetterPart]) -> None:
    storage.execute(
        "insert or replace into mail_texts values (?, ?)",
        [submission_id, json.dumps([[p.kind, p.text] for p in parts], ensure_ascii=False)],
    )


def text_of(storage: Storage, submission_id: int) -> tuple[LetterPart, ...] | None:
    """A mail's text; None: it was not kept, or was erased."""
    rows = storage.read("select parts from mail_texts where submission_id = ?", [submission_id])
    return tuple(LetterPart(kind, text) for kind, text in json.loads(rows[0]["parts"])) if rows else None


def mail_of(storage: Storage, submission_id: int) -> str | None:
    """SHA-256 of the whole mail that a submission came in; None: it was none, or the mail was erased."""
    rows = storage.read(
        "select key from submissions where id = ? and key like 'mail:%' and id not in "
        "(select submission_id from mails_erased)",
        [submission_id],
    )
    return str(rows[0]["key"]).partition(":")[2] if rows else None


def letter(storage: Storage, submission_id: int) -> Letter:
    """Raises NotStoredError."""
    for row in storage.read(f"{_LETTERS} where l.submission_id = ?", [submission_id]):
        return _letter(row)
    raise NotStoredError(f"There is no letter {submission_id}.", "Go back to the list.")


def unread(storage: Storage, most: int) -> tuple[Letter, ...]:
    """Letters that nobody has read, of all editions, the last received first."""
    return tuple(
        _letter(row)
        for row in storage.read(f"{_LETTERS} where l.read_utc is null and l.kind = 'letter' {_ORDER} limit ?", [most])
    )


def count_unread(storage: Storage) -> int:
    return int(storage.read("select count(*) as n from letters where read_utc is null and kind = 'letter'")[0]["n"])


def read_letters(storage: Storage, most: int) -> tuple[Letter, ...]:
    """Letters that were read, and automatic mails, the last received first."""
    return tuple(
        _letter(row)
        for row in storage.read(
            f"{_LETTERS} where l.read_utc is not null or l.kind = 'machine' {_ORDER} limit ?", [most]
        )
    )


def pictures_held_by(storage: Storage, letter_id: int) -> tuple[int, ...]:
    """Pictures of whoever the letter is from or answers, the newest first, whether or not it still holds them."""
    rows = storage.read(
        """
        select id from pictures where version_of is null and submission_id in (
            select cast(substr(what, 3) as integer) from letter_holds where letter_id = :id and what like 's:%'
            union select s.id from letter_holds h join submissions s on s.sender_key = substr(h.what, 3)
            where h.letter_id = :id and h.what like 'a:%' and s.sender_key <> ''
            union select o.submission_id from letter_holds h join other_addresses o on o.address = substr(h.what, 3)
            where h.letter_id = :id and h.what like 'a:%')
        order by id desc
        """,
        {"id": letter_id},
    )
    return tuple(row["id"] for row in rows)


def submissions_held_by(storage: Storage, letter_id: int) -> tuple[int, ...]:
    """Submissions with pictures of whoever the letter is from or answers."""
    ids = pictures_held_by(storage, letter_id)
    rows = storage.read(
        """
        select distinct submission_id as id from pictures
        where id in (select value from json_each(:ids)) or version_of in (select value from json_each(:ids)) order by 1
        """,
        {"ids": json.dumps(ids)},
    )
    return tuple(row["id"] for row in rows)


def set_read(
    storage: Storage,
    letter_id: int,
    read: bool,
    who: str,
    now: datetime,
    outcome: Outcome = "",
    erase_utc: datetime | None = None,
) -> None:
    """Note that somebody has read a letter, or that it is to be read again. Raises NotStoredError."""
    letter(storage, letter_id)
    with storage.writing():
        changed = storage.execute(
            "update letters set read_utc = ?, read_by = ?, outcome = ?, erase_utc = ? where submission_id = ? and "
            "((read_utc is null) = ? or outcome <> ?)",
            [
                time_text(now) if read else None,
                who if read else "",
                outcome,
                time_text(erase_utc),
                letter_id,
                int(read),
                outcome,
            ],
        )
        if changed:
            code = {"": "letter_read", "not_meant": "letter_not_meant", "erased": "letter_erased"}[outcome]
            audit.note(storage, now, who, code if read else "letter_unread", letter=letter_id)


_LETTERS = """
    select l.kind, l.read_utc, l.read_by, l.outcome, l.erase_utc, s.id, s.edition_id, s.stored_utc, s.received_utc, s.sender_name,
           s.sender_address, s.answer_to, s.subject, s.message_id
    from letters l join submissions s on s.id = l.submission_id
"""
_ORDER = "order by coalesce(s.received_utc, s.stored_utc) desc, s.id desc"


def _letter(row: dict[str, Any]) -> Letter:
    return Letter(
        id=row["id"],
        kind=row["kind"],
        edition_id=row["edition_id"],
        stored_utc=datetime.fromisoformat(row["stored_utc"]),
        received_utc=text_time(row["received_utc"]),
        sender_name=row["sender_name"],
        sender_address=row["sender_address"],
        answer_to=row["answer_to"],
        subject=row["subject"],
        message_id=row["message_id"],
        read_utc=text_time(row["read_utc"]),
        read_by=row["read_by"],
        outcome=row["outcome"],
        erase_utc=text_time(row["erase_utc"]),
    )
