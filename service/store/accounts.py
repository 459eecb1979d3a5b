"""Accounts of the desk; passwords are kept as their Argon2id hashes only. Sessions and tokens stand in `logins`.

An account is closed, never deleted: its name stands in the records of what was decided. Of the presenters at least one
stays open, whatever is asked, so that nobody locks everybody out.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.store import audit
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage

#: A helper works on the pictures; a presenter also decides about people, settings and editions.
Role = Literal["helper", "presenter"]


@dataclass(frozen=True, kw_only=True)
class DeskAccount:
    id: int
    #: As it is shown, and stands in records of who did what.
    name: str
    role: Role
    made_utc: datetime
    #: When the password was set last.
    password_utc: datetime
    #: When it was closed; None: it is open.
    disabled_utc: datetime | None = None


def fold_name(name: str) -> str:
    """A name as it is compared: compatibility forms (NFKC), letter case and outer or doubled blanks do not count."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def any_account(storage: Storage) -> bool:
    """Whether the desk has accounts at all; without any it stands open to this machine."""
    return bool(storage.read("select 1 from accounts limit 1"))


def accounts(storage: Storage) -> tuple[DeskAccount, ...]:
    """All of them, the closed ones last."""
    rows = storage.read("select * from accounts order by disabled_utc is not null, folded")
    return tuple(account_of(row) for row in rows)


def account(storage: Storage, account_id: int) -> DeskAccount:
    """Raises NotStoredError."""
    for row in storage.read("select * from accounts where id = ?", [account_id]):
        return account_of(row)
    raise NotStoredError("There is no such account.", "Go back to People.")


def credentials(storage: Storage, name: str) -> tuple[DeskAccount, str] | None:
    """The account of a name with the hash of its password, closed ones too; None where there is none."""
    for row in storage.read("select * from accounts where folded = ?", [fold_name(name)]):
        return account_of(row), row["password"]
    return None


def add_account(
    storage: Storage, name: str, role: Role, password_hash: str, now: datetime, who: str, first: bool = False
) -> DeskAccount:
    """Store an account. Raises BadInputError where the name is taken, or, with `first`, where any account exists."""
    shown = " ".join(name.split())
    with storage.writing():
        if first and any_account(storage):
            raise BadInputError("The desk has been set up meanwhile.", "Log in with the account that was made.")
        if role != "presenter" and not any_account(storage):
            raise BadInputError(
                "The first account must be a presenter's, or nobody could let others in.", "Make that one first."
            )
        if credentials(storage, shown):
            raise BadInputError(f"There is an account named {shown} already.", "Choose another name.")
        storage.execute(
            "insert into accounts (name, folded, role, password, made_utc, password_utc) values (?, ?, ?, ?, ?, ?)",
            [shown, fold_name(shown), role, password_hash, time_text(now), time_text(now)],
        )
        audit.note(storage, now, who, "account_made", name=shown, role=role)
        found = credentials(storage, shown)
    assert found is not None
    return found[0]


def set_password(
    storage: Storage, account_id: int, password_hash: str, now: datetime, who: str, keep_session: str = ""
) -> None:
    """Set a password and end all sessions of the account but `keep_session` (the hash of its token)."""
    with storage.writing():
        name = account(storage, account_id).name
        storage.execute(
            "update accounts set password = ?, password_utc = ? where id = ?",
            [password_hash, time_text(now), account_id],
        )
        storage.execute("delete from sessions where account_id = ? and token <> ?", [account_id, keep_session])
        audit.note(storage, now, who, "password_changed", name=name)


def renew_hash(storage: Storage, account_id: int, password_hash: str) -> None:
    """The same password hashed by today's parameters."""
    with storage.writing():
        storage.execute("update accounts set password = ? where id = ?", [password_hash, account_id])


def set_role(storage: Storage, account_id: int, role: Role, now: datetime, who: str) -> None:
    """Raises BadInputError for the last open presenter."""
    with storage.writing():
        found = account(storage, account_id)
        if found.role == role:
            return
        if role != "presenter":
            _another_presenter(storage, found)
        storage.execute("update accounts set role = ? where id = ?", [role, account_id])
        audit.note(storage, now, who, "account_role", name=found.name, role=role)


def set_open(storage: Storage, account_id: int, is_open: bool, now: datetime, who: str) -> None:
    """Open or close an account; closing ends its sessions and its tokens. BadInputError for the last presenter."""
    with storage.writing():
        found = account(storage, account_id)
        if is_open == (found.disabled_utc is None):
            return
        if not is_open:
            _another_presenter(storage, found)
            storage.execute("delete from sessions where account_id = ?", [account_id])
            storage.execute(
                "update api_tokens set revoked_utc = ? where account_id = ? and revoked_utc is null",
                [time_text(now), account_id],
            )
        storage.execute(
            "update accounts set disabled_utc = ? where id = ?", [None if is_open else time_text(now), account_id]
        )
        audit.note(storage, now, who, "account_opened" if is_open else "account_closed", name=found.name)


def account_of(row: dict[str, Any]) -> DeskAccount:
    made, password = text_time(row["made_utc"]), text_time(row["password_utc"])
    assert made is not None
    assert password is not None
    return DeskAccount(
        id=row["id"],
        name=row["name"],
        role=row["role"],
        made_utc=made,
        password_utc=password,
        disabled_utc=text_time(row["disabled_utc"]),
    )


def _another_presenter(storage: Storage, found: DeskAccount) -> None:
    others = storage.read(
        "select 1 from accounts where role = 'presenter' and disabled_utc is null and id <> ?", [found.id]
    )
    if found.role == "presenter" and found.disabled_utc is None and not others:
        raise BadInputError(
            f"{found.name} is the only presenter.",
            "Make somebody else a presenter first: without one nobody could let people in again.",
        )
