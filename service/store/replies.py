"""Replies to senders: drafted, approved by a person, sent once.

    draft --approve--> approved --claim--> sending --settle--> sent | failed | unknown
      ^--- take back ----'  ^--- later, at a time ---'            unknown --a person--> sent | approved

An approved one goes out by the desk once somebody has queued it; `moondesk send` takes all that are approved.
A change names the version that its maker saw. `claim` commits before anything goes over the line, so a sender that is
killed leaves "sending": `settle_abandoned` makes that "unknown" after a time, and nothing is ever sent again by itself.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from moondesk.service.errors import DeskError
from moondesk.service.store.messages import StoredMessage, message, message_of
from moondesk.service.store.records import Bounce
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

State = Literal["draft", "approved", "sending", "sent", "failed", "unknown"]
#: A sender that has not settled a mail after this long was ended.
ABANDONED = timedelta(minutes=5)
#: Waits before the next try, doubled each time, and the tries after which it has failed.
FIRST_WAIT, TRIES = timedelta(minutes=5), 8


@dataclass(frozen=True, kw_only=True)
class Reply:
    """One submission's reply. picture_id: whose labelled picture goes with it; card: of which picture a card goes with it,
    and the mark of that card as it was seen, "12:0123456789abcdef", "" for none. words: what the last try brought.

    queued_utc: when somebody said to send it; None: it is not to go out by itself.
    """

    id: int
    submission_id: int
    state: State
    version: int
    to: str
    subject: str
    body: str
    picture_id: int | None
    message_id: str
    who: str
    changed_utc: datetime
    sent_utc: datetime | None
    tries: int
    next_utc: datetime | None
    words: str
    queued_utc: datetime | None
    card: str = ""


class ReplyChangedError(DeskError):
    """Somebody else has changed the reply, or it has gone out, meanwhile."""

    http_status = 409


def reply_of(storage: Storage, submission_id: int) -> Reply | None:
    rows = storage.read("select * from replies where submission_id = ?", [submission_id])
    return _reply(rows[0]) if rows else None


def replies(storage: Storage, states: tuple[State, ...] = ()) -> tuple[Reply, ...]:
    """All of them, or those of some states, the newest changed first."""
    marks = ",".join("?" * len(states))
    rows = storage.read(
        "select * from replies"
        + (f" where state in ({marks})" if states else "")
        + " order by changed_utc desc, id desc",
        list(states),
    )
    return tuple(_reply(row) for row in rows)


def keep(
    storage: Storage,
    submission_id: int,
    to: str,
    subject: str,
    body: str,
    picture_id: int | None,
    seen: int,
    who: str,
    now: datetime,
    card: str = "",
) -> Reply:
    """Keep a draft as it was typed; seen: the version that its maker saw, 0 for none. Raises ReplyChangedError."""
    with storage.writing():
        found = reply_of(storage, submission_id)
        if found is None:
            storage.execute(
                """
                insert into replies (submission_id, state, version, address, subject, body, picture_id, message_id, who,
                                     changed_utc, tries, words, card) values (?, 'draft', 1, ?, ?, ?, ?, '', ?, ?, 0, '', ?)
                """,
                [submission_id, to, subject, body, picture_id, who, time_text(now), card],
            )
        else:
            _check(found, seen, ("draft",))
            _change(storage, found, who, now, address=to, subject=subject, body=body, picture_id=picture_id, card=card)
    kept = reply_of(storage, submission_id)
    assert kept is not None
    return kept


def check_draft(storage: Storage, submission_id: int, seen: int) -> None:
    """Raises ReplyChangedError where the draft is not the one that its maker saw; seen: 0 for none."""
    found = reply_of(storage, submission_id)
    if found is not None:
        _check(found, seen, ("draft",))


def approve(storage: Storage, submission_id: int, seen: int, message_id: str, who: str, now: datetime) -> None:
    """Let it go out. message_id: what the mail will carry, at every try. Raises ReplyChangedError."""
    with storage.writing():
        found = _there(storage, submission_id)
        _check(found, seen, ("draft",))
        _change(
            storage,
            found,
            who,
            now,
            state="approved",
            message_id=found.message_id or message_id,
            tries=0,
            next_utc=None,
            queued_utc=None,
            words="",
        )


def take_back(storage: Storage, submission_id: int, seen: int, who: str, now: datetime) -> None:
    """Make a draft of it again, as long as it has not gone out. Raises ReplyChangedError."""
    with storage.writing():
        found = _there(storage, submission_id)
        _check(found, seen, ("approved", "failed"))
        _change(storage, found, who, now, state="draft", queued_utc=None)


def queue(storage: Storage, submission_id: int, seen: int, who: str, now: datetime) -> None:
    """Say to send an approved one, at once. Raises ReplyChangedError."""
    with storage.writing():
        found = _there(storage, submission_id)
        _check(found, seen, ("approved",))
        _change(storage, found, who, now, queued_utc=now, next_utc=None)


def queue_all(storage: Storage, who: str, now: datetime) -> int:
    """Say to send all that are approved and not queued; how many."""
    with storage.writing():
        due = [reply for reply in replies(storage, ("approved",)) if reply.queued_utc is None]
        for reply in due:
            _change(storage, reply, who, now, queued_utc=now, next_utc=None)
    return len(due)


def decide(storage: Storage, submission_id: int, arrived: bool, seen: int, who: str, now: datetime) -> None:
    """Of an unknown end a person says that it arrived, or that it is to be sent again; of an approved one that is not
    queued, that it has gone out another way. Raises ReplyChangedError."""
    with storage.writing():
        found = _there(storage, submission_id)
        by_hand = arrived and found.state == "approved" and found.queued_utc is None
        _check(found, seen, ("approved",) if by_hand else ("unknown",))
        if arrived:
            _change(storage, found, who, now, state="sent", sent_utc=found.sent_utc or now)
        else:
            _change(storage, found, who, now, state="approved", tries=0, next_utc=None, queued_utc=now)


def claim(storage: Storage, now: datetime, queued: bool = False) -> Reply | None:
    """The next approved reply that is due, given to this sender alone; None: there is none. queued: of those alone.

    Committed when it returns: whatever becomes of the sender, no other takes it.
    """
    with storage.writing():
        rows = storage.read(
            """
            select * from replies where state = 'approved' and (next_utc is null or next_utc <= :now)
            and (queued_utc is not null or not :queued) order by next_utc, id limit 1
            """,
            {"now": time_text(now), "queued": queued},
        )
        if not rows:
            return None
        found = _reply(rows[0])
        _change(storage, found, found.who, now, state="sending", tries=found.tries + 1)
    return reply_of(storage, found.submission_id)


def settle(storage: Storage, reply: Reply, ending: str, told: StoredMessage, now: datetime) -> State:
    """Note how a claimed reply ended: "sent", "later", "failed", "unknown"; the state that it has then."""
    with storage.writing():
        found = reply_of(storage, reply.submission_id)
        if found is None or found.state != "sending" or found.version != reply.version:
            return found.state if found else "failed"  # its sender was forgotten meanwhile, or it was given up
        if ending == "later" and found.tries < TRIES:
            wait = FIRST_WAIT * 2 ** (found.tries - 1)
            _change(storage, found, found.who, now, state="approved", next_utc=now + wait, words=told.kept)
            return "approved"
        state: State = "failed" if ending == "later" else ending  # type: ignore[assignment]
        _change(
            storage,
            found,
            found.who,
            now,
            state=state,
            words=told.kept,
            next_utc=None,
            sent_utc=now if ending == "sent" else None,
        )
        return state


def settle_abandoned(storage: Storage, now: datetime) -> int:
    """Replies whose sender was ended in the middle become unknown; how many."""
    with storage.writing():
        stuck = [r for r in replies(storage, ("sending",)) if now - r.changed_utc > ABANDONED]
        for reply in stuck:
            _change(storage, reply, reply.who, now, state="unknown", words=message("mail_interrupted").kept)
    return len(stuck)


def note_bounce(storage: Storage, bounce: Bounce, now: datetime) -> None:
    """Within a transaction: a reply that went out came back; a person may take it back, put it right, and send it anew."""
    for row in storage.read(
        "select * from replies where message_id <> '' and state in ('sent', 'unknown') and message_id in "
        "(select value from json_each(?))",
        [json.dumps(list(bounce.message_ids))],
    ):
        found = _reply(row)
        _change(storage, found, found.who, now, state="failed", words=message("mail_bounced", why=bounce.why).kept)


def _there(storage: Storage, submission_id: int) -> Reply:
    found = reply_of(storage, submission_id)
    if found is None:
        raise ReplyChangedError("There is no such reply any more.", "Its sender may have been forgotten.")
    return found


def _check(found: Reply, seen: int, states: tuple[State, ...]) -> None:
    if found.version != seen or found.state not in states:
        raise ReplyChangedError(
            f"{found.who} has changed this reply meanwhile: it is {found.state} now.",
            "Nothing was changed; look at it as it stands.",
        )


def _change(storage: Storage, found: Reply, who: str, now: datetime, **values: Any) -> None:
    told = {k: time_text(v) if isinstance(v, datetime) else v for k, v in values.items()}
    told |= {"version": found.version + 1, "who": who, "changed_utc": time_text(now)}
    storage.execute(
        f"update replies set {', '.join(f'{name} = ?' for name in told)} where id = ?", [*told.values(), found.id]
    )


def _reply(row: dict[str, Any]) -> Reply:
    changed = text_time(row["changed_utc"])
    assert changed is not None
    return Reply(
        id=row["id"],
        submission_id=row["submission_id"],
        state=row["state"],
        version=row["version"],
        to=row["address"],
        subject=row["subject"],
        body=row["body"],
        picture_id=row["picture_id"],
        message_id=row["message_id"],
        who=row["who"],
        changed_utc=changed,
        sent_utc=text_time(row["sent_utc"]),
        tries=row["tries"],
        next_utc=text_time(row["next_utc"]),
        words=message_of(row["words"]).words(),
        queued_utc=text_time(row["queued_utc"]),
        card=row["card"],
    )
