"""The tables, continued: letters, and whether words were understood. The rules are those of `migrations`."""

from __future__ import annotations

from sqlite_utils import Database

from moondesk.service.store.migrations_desk import migrations

__all__ = ["migrations"]


@migrations()
def m023_letters(db: Database) -> None:
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
    db.register_function(lambda text: sender_key(text), name="sender_key", deterministic=True)
    db.execute("update submissions set sender_key = sender_key(sender_address) where sender_address <> ''")
    _old_letters(db)


def _old_letters(db: Database) -> None:
    """Mails that older releases listed as pictures that cannot be used become letters that nobody has read."""
    old = list(
        db.query(
            """
        select p.id, p.submission_id, s.sender_key from pictures p join submissions s on s.id = p.submission_id
        where p.media_type = 'message/rfc822' and p.refused like 'The mail has no picture attached.%'
        and not exists (select 1 from pictures q where q.submission_id = p.submission_id and q.id <> p.id)
        and not exists (select 1 from rundown_items where picture_id = p.id)
        and not exists (select 1 from aired where picture_id = p.id)
        """
        )
    )
    for row in old:
        machine = row["sender_key"].startswith(("mailer-daemon@", "postmaster@"))
        db.execute(
            "insert into letters (submission_id, kind) values (?, ?)",
            [row["submission_id"], "machine" if machine else "letter"],
        )
        if row["sender_key"]:
            db.execute("insert into letter_holds values ('a:' || ?, ?)", [row["sender_key"], row["submission_id"]])
        for table in ("annotations", "jobs", "sketches", "decisions", "shown"):
            db.execute(f"delete from {table} where picture_id = ?", [row["id"]])
        for table in ("consents", "replies"):
            db.execute(f"update {table} set picture_id = null where picture_id = ?", [row["id"]])
        db.execute("delete from versions where ? in (picture_id, other_id)", [row["id"]])
        db.execute("delete from pictures where id = ?", [row["id"]])


def sender_key(address: str) -> str:
    """A sender as letters and pictures are joined: the last address in a From line, case folded; '' for none."""
    words = [word.strip("<>()[],;:\"'") for word in address.split()]
    return next((word.casefold() for word in reversed(words) if "@" in word.strip("@")), "")
