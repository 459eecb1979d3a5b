"""What stands on air, as the windows that show and drive it tell each other; the picture pinned as plan B; and the
addresses under which the page on air can be opened without a log-in, for a source in streaming software."""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from moondesk.service.store import audit
from moondesk.service.store.rows import time_text
from moondesk.service.store.storage import Storage

#: How far a page's clock may be ahead of the desk's. A count from the future would outbid every step that follows.
AHEAD_MS = 60_000


@dataclass(frozen=True)
class AirState:
    """at_ms: a clock that every change raises, milliseconds; the later of two counts. state: see air_steps.js."""

    at_ms: int = 0
    state: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class AirLink:
    """An address that shows what is on air to whoever knows it. label: what it was made for; drives: a program may step
    through the rundown by it."""

    id: int
    label: str
    made_by: str
    made_utc: datetime
    drives: bool = False


def state(storage: Storage, edition_id: int, now_ms: int) -> AirState:
    """What stands on air. now_ms: the desk's clock; a count from its future stands, but the next step outbids it."""
    rows = storage.read("select at_ms, state from air_states where edition_id = ?", [edition_id])
    if not rows:
        return AirState()
    at_ms = rows[0]["at_ms"]
    return AirState(at_ms if at_ms <= now_ms + AHEAD_MS else 1, json.loads(rows[0]["state"]))


def keep_state(storage: Storage, edition_id: int, told: AirState, now_ms: int) -> AirState:
    """Keep a state unless a later one is there; the one that stands then. ValueError for one from the future."""
    if told.at_ms > now_ms + AHEAD_MS:
        raise ValueError(f"a step of {told.at_ms} at {now_ms}")
    with storage.writing():
        now = state(storage, edition_id, now_ms)
        if told.at_ms <= now.at_ms:
            return now
        storage.execute(
            "insert or replace into air_states values (?, ?, ?)", [edition_id, told.at_ms, json.dumps(told.state)]
        )
    return told


def spare(storage: Storage, edition_id: int) -> int | None:
    """The item pinned as plan B, if any."""
    rows = storage.read("select item_id from air_spares where edition_id = ?", [edition_id])
    return rows[0]["item_id"] if rows else None


def pin(storage: Storage, edition_id: int, item_id: int | None) -> None:
    """Pin an item of the edition's rundown as plan B; None: none. ValueError for an item of another rundown."""
    with storage.writing():
        if item_id is not None and not storage.read(
            "select 1 from rundown_items where id = ? and edition_id = ?", [item_id, edition_id]
        ):
            raise ValueError(f"item {item_id} is not in the rundown of edition {edition_id}")
        storage.execute("delete from air_spares where edition_id = ?", [edition_id])
        if item_id is not None:
            storage.execute("insert into air_spares values (?, ?)", [edition_id, item_id])


def make_link(storage: Storage, label: str, who: str, now: datetime, drives: bool = False) -> str:
    """A new address's secret, which is shown once; kept is its SHA-256."""
    secret = secrets.token_urlsafe(24)
    with storage.writing():
        storage.execute(
            "insert into air_links (secret, label, made_by, made_utc, drives) values (?, ?, ?, ?, ?)",
            [_hash(secret), label, who, time_text(now), int(drives)],
        )
        audit.note(storage, now, who, "air_link_made", label=label)
    return secret


def links(storage: Storage) -> tuple[AirLink, ...]:
    rows = storage.read("select * from air_links where revoked_utc is null order by id")
    return tuple(_link(row) for row in rows)


def find_link(storage: Storage, secret: str) -> AirLink | None:
    """The address of a secret; None: there is none, or it was ended."""
    rows = storage.read("select * from air_links where secret = ? and revoked_utc is null", [_hash(secret)])
    return _link(rows[0]) if rows else None


def revoke_link(storage: Storage, link_id: int, who: str, now: datetime) -> bool:
    """End an address; False where it had ended."""
    with storage.writing():
        rows = storage.read("select label from air_links where id = ? and revoked_utc is null", [link_id])
        if not rows:
            return False
        storage.execute("update air_links set revoked_utc = ? where id = ?", [time_text(now), link_id])
        audit.note(storage, now, who, "air_link_ended", label=rows[0]["label"])
    return True


def _link(row: Mapping[str, Any]) -> AirLink:
    made_utc = datetime.fromisoformat(row["made_utc"])
    return AirLink(row["id"], row["label"], row["made_by"], made_utc, bool(row["drives"]))


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
