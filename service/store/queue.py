"""The queue of pictures to be placed: durable, and each picture with one worker at a time.

A picture is leased (who, until when, how often). A worker that lives renews its leases; one that was killed does not,
and its pictures are taken up again by whoever asks next, at once where it is seen that it is gone (`jobs.queue_owners`). A
picture whose placing fails again and again is put aside with the reason, and so is one whose workers keep vanishing:
perhaps it is what ends them. All times are UTC.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime, timedelta

from moondesk.service.store.annotations import insert_annotation
from moondesk.service.store.decisions import revision
from moondesk.service.store.messages import StoredMessage, message, message_of
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.records import Lease, QueueCounts, SketchRow, StoredAnnotation
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage
from moondesk.service.store.versions import keep_sketch

#: How often a picture may fail, and how often its worker may vanish without a word (a machine that is switched off).
FAILURES, VANISHED = 3, 10

# Of version :version, and neither done nor put aside: what a new engine or a person asks for is due again.
_DUE = """
    from pictures p join submissions s on s.id = p.submission_id join editions e on e.id = s.edition_id
    left join jobs j on j.picture_id = p.id
    where p.id in (select id from pictures where refused is null and sha256 is not null and placed_by is null
                   union select id from pictures where refused is null and sha256 is not null and placed_by < :version
                   union select id from pictures where refused is null and sha256 is not null and placed_by > :version
                   union select picture_id from jobs where again)
    and p.refused is null and p.sha256 is not null
    and (j.quarantined is null or j.engine_version is not :version)
"""
# What nobody has seen placed yet, and what a person asks for again, goes before all that a new release only places
# anew: tonight's pictures do not wait for an archive. Among each the newest edition first, of it the newest evening
# (from noon to noon of UTC: near enough for an order), and of an evening what was received first.
_ORDER = """
    order by p.placed_by is not null and not coalesce(j.again, 0), e.number desc,
    date(coalesce(s.received_utc, s.stored_utc), '-12 hours') desc,
    coalesce(s.received_utc, s.stored_utc), s.id, p.position
"""
# A lease that ends later than any could was given before the clock was set back, and holds nothing.
_FREE = " and (j.leased_until_utc is null or j.leased_until_utc <= :now or j.leased_until_utc > :never)"
#: Longer than any lease is given for.
LONGEST = timedelta(minutes=3)


def lease(storage: Storage, version: str, owner: str, count: int, now: datetime, seconds: float) -> tuple[Lease, ...]:
    """Give at most `count` pictures to an owner, in `_ORDER`; nobody else gets them for so many seconds.

    version: of the engine that will place them.
    """
    until = now + timedelta(seconds=seconds)
    leases: list[Lease] = []
    with storage.writing() as execute:
        rows = storage.read(
            f"""
            select p.id, j.attempts, j.failures, j.engine_version as counted {_DUE} {_FREE} {_ORDER} limit :count
            """,
            {"version": version, **_times(now), "count": count},
        )
        for row in rows:
            same = row["counted"] == version
            attempts, failures = (row["attempts"], row["failures"]) if same else (0, 0)
            if attempts - failures >= VANISHED:
                _put_aside(storage, row["id"], version, message("placers_vanished", times=attempts))
                continue
            execute(
                """
                insert into jobs (picture_id, engine_version, attempts, failures, leased_by, leased_until_utc)
                values (:id, :version, :attempts, :failures, :owner, :until)
                on conflict (picture_id) do update set engine_version = :version, attempts = :attempts,
                failures = :failures, leased_by = :owner, leased_until_utc = :until, quarantined = null
                """,
                {
                    "id": row["id"],
                    "version": version,
                    "attempts": attempts + 1,
                    "failures": failures,
                    "owner": owner,
                    "until": time_text(until),
                },
            )
            leases.append(
                Lease(
                    picture=read_picture(storage, row["id"]),
                    owner=owner,
                    until_utc=until,
                    attempts=attempts + 1,
                    failures=failures,
                )
            )
    return tuple(leases)


def renew(storage: Storage, owner: str, now: datetime, seconds: float) -> None:
    """Keep all that an owner has; what somebody else took up meanwhile is not its own any more."""
    with storage.writing() as execute:
        execute(
            "update jobs set leased_until_utc = ? where leased_by = ?",
            [time_text(now + timedelta(seconds=seconds)), owner],
        )


def finish(
    storage: Storage,
    owner: str,
    stored: StoredAnnotation,
    best_seen: Sequence[str],
    sketch: SketchRow | None = None,
    seen: str | None = None,
) -> bool:
    """Store a leased picture's annotation (and its sketch) and end its lease, all or nothing.

    seen: the revision of the picture's decisions that it was placed with. False where the lease was lost, or somebody
    has decided something meanwhile: nothing is stored then; it is placed by whoever has it now, or anew.
    """
    with storage.writing() as execute:
        if not _is_mine(storage, owner, stored.picture_id):
            return False
        if seen is not None and revision(storage, stored.picture_id) != seen:
            execute(
                "update jobs set leased_by = null, leased_until_utc = null, again = 1 where picture_id = ?",
                [stored.picture_id],
            )
            return False
        insert_annotation(storage, stored, best_seen)
        if sketch is not None:
            keep_sketch(storage, sketch)
        execute("delete from jobs where picture_id = ?", [stored.picture_id])
    return True


def fail(
    storage: Storage,
    owner: str,
    picture_id: int,
    version: str,
    reason: StoredMessage,
    stored: StoredAnnotation | None = None,
) -> bool:
    """Note that a leased picture's worker failed. True: it is put aside now, with the reason, and with the annotation
    that says so (if one is given) for the pages; False: it will be tried again, or is not this owner's any more."""
    with storage.writing() as execute:
        if not _is_mine(storage, owner, picture_id):
            return False
        execute(
            "update jobs set failures = failures + 1, leased_by = null, leased_until_utc = null where picture_id = ?",
            [picture_id],
        )
        (row,) = storage.read("select failures from jobs where picture_id = ?", [picture_id])
        if row["failures"] < FAILURES:
            return False
        if stored is not None:
            insert_annotation(storage, stored, ())
        _put_aside(storage, picture_id, version, reason)
    return True


def release(storage: Storage, owner: str) -> None:
    """Give back all that an owner has and will not place; it does not count as an attempt."""
    with storage.writing() as execute:
        execute(
            "update jobs set attempts = attempts - 1, leased_by = null, leased_until_utc = null where leased_by = ?",
            [owner],
        )


def owners(storage: Storage) -> tuple[str, ...]:
    """Who has leases, those that are over among them."""
    return tuple(
        row["leased_by"] for row in storage.read("select distinct leased_by from jobs where leased_by is not null")
    )


def take_from(storage: Storage, owner: str) -> int:
    """Free all that an owner has who is gone for certain; how many. It counts as an attempt: perhaps one of these is
    what ended it."""
    with storage.writing() as execute:
        return execute("update jobs set leased_by = null, leased_until_utc = null where leased_by = ?", [owner])


def count_leased(storage: Storage, now: datetime) -> tuple[int, datetime | None]:
    """How many pictures somebody is placing at this moment, and when the last of them is free if nobody is."""
    (row,) = storage.read(
        "select count(*) as n, max(leased_until_utc) as until from jobs "
        "where leased_until_utc > :now and leased_until_utc <= :never",
        _times(now),
    )
    return row["n"], text_time(row["until"])


def ask_again(storage: Storage, picture_ids: Sequence[int]) -> int:
    """Have pictures placed anew, those put aside too, with all counts at nought; how many.

    Who is being placed at this moment is left alone.
    """
    with storage.writing():
        return insert_again(storage, picture_ids)


def insert_again(storage: Storage, picture_ids: Sequence[int]) -> int:
    """`ask_again` within a transaction."""
    return sum(
        storage.execute(
            """
            insert into jobs (picture_id, engine_version, again)
            select id, '', 1 from pictures where id = ? and refused is null and sha256 is not null
            on conflict (picture_id) do update set attempts = 0, failures = 0, quarantined = null, again = 1
            where leased_by is null or quarantined is not null
            """,
            [k],
        )
        for k in picture_ids
    )


def to_retry(storage: Storage) -> tuple[int, ...]:
    """Pictures that were put aside, or could not be read at all."""
    rows = storage.read(
        """
        select p.id from pictures p left join jobs j on j.picture_id = p.id
        where p.refused is null and p.sha256 is not null and (j.quarantined is not null or
        (select status from annotations where picture_id = p.id order by id desc limit 1) = 'unreadable')
        order by p.id
        """
    )
    return tuple(row["id"] for row in rows)


def counts(storage: Storage, version: str, now: datetime) -> QueueCounts:
    """How many pictures wait for this version of the engine (the leased ones not among them), and so on."""
    values = {"version": version, **_times(now)}
    (due,) = storage.read(f"select count(*) as n {_DUE}", values)
    (free,) = storage.read(f"select count(*) as n {_DUE} {_FREE}", values)
    (aside,) = storage.read(
        "select count(*) as n from jobs where quarantined is not null and engine_version = ?", [version]
    )
    return QueueCounts(free["n"], due["n"] - free["n"], aside["n"])


def states(storage: Storage, picture_ids: Sequence[int], now: datetime) -> dict[int, str]:
    """How pictures stand: "placed" (by whatever version), "leased", "waiting"; what is refused or gone is left out."""
    rows = storage.read(
        """
        select p.id, case when p.placed_by is not null or j.quarantined is not null then 'placed'
        when j.leased_until_utc > :now and j.leased_until_utc <= :never then 'leased' else 'waiting' end as state
        from pictures p left join jobs j on j.picture_id = p.id
        where p.id in (select value from json_each(:ids)) and p.refused is null and p.sha256 is not null
        """,
        {**_times(now), "ids": json.dumps(list(picture_ids))},
    )
    return {row["id"]: row["state"] for row in rows}


def quarantine(storage: Storage) -> dict[int, str]:
    """Ids of the pictures that are put aside, and why."""
    rows = storage.read("select picture_id, quarantined from jobs where quarantined is not null order by picture_id")
    return {row["picture_id"]: message_of(row["quarantined"]).words() for row in rows}


def _times(now: datetime) -> dict[str, str | None]:
    return {"now": time_text(now), "never": time_text(now + LONGEST)}


def _is_mine(storage: Storage, owner: str, picture_id: int) -> bool:
    return bool(storage.read("select 1 from jobs where picture_id = ? and leased_by = ?", [picture_id, owner]))


def _put_aside(storage: Storage, picture_id: int, version: str, reason: StoredMessage) -> None:
    storage.execute(
        "update jobs set engine_version = ?, quarantined = ?, leased_by = null, leased_until_utc = null, "
        "again = 0 where picture_id = ?",
        [version, reason.kept, picture_id],
    )
