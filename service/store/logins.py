"""Who is logged in, and tokens by which programs ask: kept as SHA-256 of secrets that only their holders have.

A secret of 256 random bits needs no slow hash: there is nothing to guess (NIST SP 800-63B, look-up secrets of 112 bits
or more).
"""

from __future__ import annotations

import hashlib
import secrets
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from moondesk.service.errors import StorageError
from moondesk.service.store import audit
from moondesk.service.store.accounts import DeskAccount, Role, account, account_of
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

#: A session ends when nothing was asked for so long (a rundown may lie open from the rehearsal until after the air) ...
IDLE = timedelta(hours=12)
#: ... and in any case so long after the log-in (NIST SP 800-63B, 7.2: within 30 days).
LONGEST = timedelta(days=7)
#: How exactly it is noted when a session was seen last: a look at a page should not write.
SEEN_EVERY = timedelta(minutes=10)
#: Tokens of programs begin so, that whoever finds one knows what it is.
TOKEN_PREFIX = "moondesk_"


@dataclass(frozen=True, kw_only=True)
class ApiToken:
    """A program's token. role: the most it may do; what its account may not do, it may not either."""

    id: int
    account_id: int
    label: str
    role: Role
    made_utc: datetime
    used_utc: datetime | None
    revoked_utc: datetime | None


def hash_token(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def open_session(storage: Storage, account_id: int, now: datetime, old: str = "") -> str:
    """The secret of a fresh session. old: the secret that the browser came with; that session ends."""
    secret = secrets.token_urlsafe(32)
    with storage.writing():
        storage.execute(
            "delete from sessions where token = ? or seen_utc < ? or made_utc < ?",
            [hash_token(old), time_text(now - IDLE), time_text(now - LONGEST)],
        )
        storage.execute(
            "insert into sessions values (?, ?, ?, ?)", [hash_token(secret), account_id, time_text(now), time_text(now)]
        )
    return secret


def session_account(storage: Storage, secret: str, now: datetime, note: bool = True) -> DeskAccount | None:
    """Whose session it is; None where it is over, or the account closed. note: that it was seen, if there is room."""
    rows = storage.read(
        """
        select a.*, s.seen_utc, s.made_utc as opened_utc from sessions s join accounts a on a.id = s.account_id
        where s.token = ? and a.disabled_utc is null
        """,
        [hash_token(secret)],
    )
    for row in rows:
        seen, opened = datetime.fromisoformat(row["seen_utc"]), datetime.fromisoformat(row["opened_utc"])
        if now - seen >= IDLE or now - opened >= LONGEST:
            return None
        if note and now - seen >= SEEN_EVERY:
            with suppress(StorageError), storage.writing():
                storage.execute(
                    "update sessions set seen_utc = ? where token = ?", [time_text(now), hash_token(secret)]
                )
        return account_of(row)
    return None


def close_session(storage: Storage, secret: str) -> None:
    with storage.writing():
        storage.execute("delete from sessions where token = ?", [hash_token(secret)])


def close_other_sessions(storage: Storage, account_id: int, secret: str) -> int:
    """How many there were."""
    with storage.writing():
        return storage.execute(
            "delete from sessions where account_id = ? and token <> ?", [account_id, hash_token(secret)]
        )


def add_token(storage: Storage, account_id: int, label: str, role: Role, now: datetime, who: str) -> str:
    """A program's fresh token, which can be shown this once."""
    secret = TOKEN_PREFIX + secrets.token_urlsafe(32)
    with storage.writing():
        name = account(storage, account_id).name
        storage.execute(
            "insert into api_tokens (account_id, token, label, role, made_utc) values (?, ?, ?, ?, ?)",
            [account_id, hash_token(secret), label, role, time_text(now)],
        )
        audit.note(storage, now, who, "token_made", name=name, role=role)
    return secret


def tokens_of(storage: Storage, account_id: int | None = None) -> tuple[ApiToken, ...]:
    """Tokens that are not revoked, of one account or of all."""
    rows = storage.read(
        "select * from api_tokens where revoked_utc is null and (:id is null or account_id = :id) order by id",
        {"id": account_id},
    )
    return tuple(_token_of(row) for row in rows)


def token_account(storage: Storage, secret: str, now: datetime) -> tuple[DeskAccount, Role] | None:
    """Whose token it is and what it may do: the lesser of the account's role and its own. None: it is worth nothing."""
    rows = storage.read(
        """
        select a.*, t.id as token_id, t.role as most, t.used_utc from api_tokens t join accounts a
        on a.id = t.account_id where t.token = ? and t.revoked_utc is null and a.disabled_utc is null
        """,
        [hash_token(secret)],
    )
    for row in rows:
        used = text_time(row["used_utc"])
        if used is None or now - used >= SEEN_EVERY:
            with suppress(StorageError), storage.writing():
                storage.execute("update api_tokens set used_utc = ? where id = ?", [time_text(now), row["token_id"]])
        found = account_of(row)
        return found, "helper" if "helper" in (found.role, row["most"]) else "presenter"
    return None


def revoke_token(storage: Storage, token_id: int, account_id: int, now: datetime, who: str) -> bool:
    """Revoke a token of an account; False where it has none of that number."""
    with storage.writing():
        done = storage.execute(
            "update api_tokens set revoked_utc = ? where id = ? and account_id = ? and revoked_utc is null",
            [time_text(now), token_id, account_id],
        )
        if done:
            name = account(storage, account_id).name
            audit.note(storage, now, who, "token_revoked", name=name)
    return bool(done)


def _token_of(row: dict[str, Any]) -> ApiToken:
    made = text_time(row["made_utc"])
    assert made is not None
    return ApiToken(
        id=row["id"],
        account_id=row["account_id"],
        label=row["label"],
        role=row["role"],
        made_utc=made,
        used_utc=text_time(row["used_utc"]),
        revoked_utc=text_time(row["revoked_utc"]),
    )
