"""Stores made and brought up to date: `schema.sql` for a new one, steps for one that an earlier release has made.

A step and the note that it ran share one transaction; none is ever edited. The first release's tables are the oldest
that there are: `tests/reference/first_release_store.zip` is a store of it. Both ways lead to the same tables, which
`tests/service/test_storage.py` compares.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from sqlite3 import Connection, OperationalError

from moondesk.service.store.rows import sender_key

#: Steps by which the first release's tables came about, as its stores note them.
FIRST_RELEASE = (
    "m001_editions", "m002_submissions", "m003_pictures", "m004_annotations", "m005_suggestions", "m006_erasures",
    "m007_forms", "m008_jobs", "m009_consents", "m010_mailboxes", "m011_copies", "m012_accounts", "m013_decisions",
    "m014_rundowns", "m015_inbox", "m016_names", "m017_air", "m018_frame_choices", "m019_replies", "m020_aired",
)  # fmt: skip


def steps_of(db: Connection) -> tuple[str, ...]:
    """Names of the steps that have run on a store, in their order; none: it is empty."""
    try:
        rows = db.execute("select name from _sqlite_migrations where migration_set = 'moondesk' order by id").fetchall()
    except OperationalError as error:
        if "no such table" not in str(error):
            raise
        return ()
    return tuple(row[0] for row in rows)


def bring_up_to_date(db: Connection) -> None:
    """Within a transaction that has the write lock: another program may have done it meanwhile."""
    ran = steps_of(db)
    if not ran:
        for statement in (Path(__file__).parent / "schema.sql").read_text(encoding="utf-8").split(";\n"):
            db.execute(statement)
        for name in KNOWN:
            _note(db, name)
        return
    for step in STEPS:
        if step.__name__ not in ran:
            step(db)
            _note(db, step.__name__)


def _note(db: Connection, name: str) -> None:
    db.execute(
        "insert into _sqlite_migrations (migration_set, name, applied_at) values ('moondesk', ?, datetime('now'))",
        [name],
    )


def m021_marks(db: Connection) -> None:
    db.execute(
        """
        create table erased_marks (                   -- of what was erased, so that no older backup brings it back
            kind     text not null check (kind in ('submission', 'sender')),
            mark     text not null,                   -- keyed hash, see `marks`
            when_utc text not null,
            primary key (kind, mark)
        ) strict, without rowid
        """
    )
    db.execute(
        """
        create table backups (                        -- where backups were made: they are told what is erased
            folder   text primary key,
            when_utc text not null
        ) strict, without rowid
        """
    )


def m022_turned_away(db: Connection) -> None:
    db.execute(
        """
        create table turned_away (                    -- forms at the upload page, see `turned_away`
            hour_utc text not null,
            reason   text not null,
            count    integer not null,
            primary key (hour_utc, reason)
        ) strict
        """
    )
    # A reply that somebody has said to send: the desk sends it by itself, see `replies`.
    db.execute("alter table replies add column queued_utc text")


def m023_evening(db: Connection) -> None:
    # The verdict on when a picture was taken, apart from where the Moon lies in it; null: placed before it was told.
    db.execute("alter table annotations add column evening text")


def m023_letters(db: Connection) -> None:
    # '': nobody has looked whether the words were understood, and the programme's terms do not count then
    db.execute("alter table submissions add column words_read text not null default ''")
    db.execute("alter table submissions add column sender_key text not null default ''")  # see `letters.sender_key`
    db.execute("create index submissions_sender_key on submissions (sender_key) where sender_key <> ''")
    db.execute(
        """
        create table mail_texts (                     -- kept as long as the whole mails are
            submission_id integer primary key references submissions (id) on delete cascade,
            parts         text not null               -- JSON list of [kind, text], see records.LetterPart
        ) strict
        """
    )
    db.execute(
        """
        create table letters (
            submission_id integer primary key references submissions (id) on delete cascade,
            kind          text not null check (kind in ('letter', 'machine')),
            read_utc      text,                       -- null: nobody has read it, and it holds its sender's pictures
            read_by       text not null default ''
        ) strict
        """
    )
    db.execute("create index letters_unread on letters (submission_id) where read_utc is null and kind = 'letter'")
    db.execute(
        """
        create table letter_holds (                   -- whose pictures: 'a:' and a sender's key, 's:' and a submission
            what      text not null,
            letter_id integer not null references letters (submission_id) on delete cascade,
            primary key (what, letter_id)
        ) strict, without rowid
        """
    )
    db.execute("create index letter_holds_letter on letter_holds (letter_id)")
    db.create_function("sender_key", 1, sender_key, deterministic=True)
    db.execute("update submissions set sender_key = sender_key(sender_address) where sender_address <> ''")
    _old_letters(db)


def _old_letters(db: Connection) -> None:
    """Mails that older releases listed as pictures that cannot be used become letters that nobody has read."""
    old = db.execute(
        """
        select p.id, p.submission_id, s.sender_key from pictures p join submissions s on s.id = p.submission_id
        where p.media_type = 'message/rfc822' and p.refused like 'The mail has no picture attached.%'
        and not exists (select 1 from pictures q where q.submission_id = p.submission_id and q.id <> p.id)
        and not exists (select 1 from rundown_items where picture_id = p.id)
        and not exists (select 1 from aired where picture_id = p.id)
        """
    ).fetchall()
    for picture_id, submission_id, sender in old:
        machine = sender.startswith(("mailer-daemon@", "postmaster@"))
        db.execute(
            "insert into letters (submission_id, kind) values (?, ?)",
            [submission_id, "machine" if machine else "letter"],
        )
        if sender:
            db.execute("insert into letter_holds values ('a:' || ?, ?)", [sender, submission_id])
        for table in ("annotations", "jobs", "sketches", "decisions", "shown"):
            db.execute(f"delete from {table} where picture_id = ?", [picture_id])
        for table in ("consents", "replies"):
            db.execute(f"update {table} set picture_id = null where picture_id = ?", [picture_id])
        db.execute("delete from versions where ? in (picture_id, other_id)", [picture_id])
        db.execute("delete from pictures where id = ?", [picture_id])


def m024_ways(db: Connection) -> None:
    # A further way by which pictures come is a row of `arrivals`, no change of the tables: the condition goes, which
    # only goes with its column.
    db.execute("alter table submissions add column way text not null default ''")
    db.execute("update submissions set way = source")
    db.execute("alter table submissions drop column source")
    db.execute("alter table submissions rename column way to source")


STEPS: tuple[Callable[[Connection], None], ...] = (m021_marks, m022_turned_away, m023_evening, m023_letters, m024_ways)
#: Names of all steps, in their order.
KNOWN = (*FIRST_RELEASE, *(step.__name__ for step in STEPS))
