"""Steps that bring a store which an earlier release has made up to date, by the migrations of sqlite-utils.

A step and the note that it ran share one transaction; none is ever edited. Imported where an older store is met alone:
the library takes a while to load.
"""

from __future__ import annotations

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from moondesk.service.store.rows import sender_key

migrations = Migrations("moondesk")


@migrations()
def m021_marks(db: Database) -> None:
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


@migrations()
def m022_turned_away(db: Database) -> None:
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


@migrations()
def m023_evening(db: Database) -> None:
    # The verdict on when a picture was taken, apart from where the Moon lies in it; null: placed before it was told.
    db.execute("alter table annotations add column evening text")


@migrations()
def m023_letters(db: Database) -> None:  # numbers may repeat: their order in `migrations.KNOWN` counts
    # '': nobody has looked whether the words were understood, and the programme's terms do not count then
    db.execute("alter table submissions add column words_read text not null default ''")
    db.execute("alter table submissions add column sender_key text not null default ''")  # see `rows.sender_key`
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
    db.conn.create_function("sender_key", 1, sender_key, deterministic=True)
    db.execute("update submissions set sender_key = sender_key(sender_address) where sender_address <> ''")
    _old_letters(db)


def _old_letters(db: Database) -> None:
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


@migrations()
def m024_ways(db: Database) -> None:
    # A further way by which pictures come is a row of `arrivals`, no change of the tables: the condition goes, which
    # only goes with its column.
    db.execute("alter table submissions add column way text not null default ''")
    db.execute("update submissions set way = source")
    db.execute("alter table submissions drop column source")
    db.execute("alter table submissions rename column way to source")


@migrations()
def m025_mails(db: Database) -> None:
    db.execute("alter table submissions add column answer_to text not null default ''")
    db.execute(
        """
        create table other_addresses (                -- by which it is found besides its sender's
            address       text not null,              -- see `rows.sender_key`
            submission_id integer not null references submissions (id) on delete cascade,
            primary key (submission_id, address)
        ) strict, without rowid
        """
    )
    db.execute("create index other_addresses_address on other_addresses (address)")
    # what a later mail says about an earlier one: see `letters.keep_answer`
    db.execute("alter table suggestions add column letter_id integer references submissions (id) on delete set null")
    db.execute("alter table suggestions add column noted_utc text")
    db.execute("create index suggestions_letter on suggestions (letter_id) where letter_id is not null")


@migrations()
def m026_questions(db: Database) -> None:
    db.execute(
        """
        create table questions (                      -- asked of a sender by a link, see `questions`
            id            integer primary key,
            submission_id integer not null references submissions (id) on delete cascade,
            picture_id    integer references pictures (id) on delete cascade,  -- null: about all of the submission
            kind          text not null check (kind in ('consent', 'guardian', 'name', 'taken')),
            token         text not null unique,       -- SHA-256 of what stands in the link
            language      text not null,              -- of the sender, as far as it is known; ''
            made_by       text not null,
            made_utc      text not null,
            expires_utc   text not null,
            revoked_utc   text,
            revoked_by    text not null default ''
        ) strict
        """
    )
    db.execute("create index questions_submission on questions (submission_id)")
    db.execute("create index questions_picture on questions (picture_id) where picture_id is not null")
    db.execute(
        """
        create table answers (                        -- all that were given to a question: the last one counts
            id          integer primary key,
            question_id integer not null references questions (id) on delete cascade,
            choice      text not null,                -- see programme.questions
            value       text not null,                -- what was typed or chosen beside it, for people
            asked       text not null,                -- the question's words as they were shown
            words       text not null,                -- those of the button, and of what was typed
            language    text not null,
            when_utc    text not null
        ) strict
        """
    )
    db.execute("create index answers_question on answers (question_id, id)")


@migrations()
def m027_withdrawals(db: Database) -> None:
    # 'not_meant': nothing was to be taken back; 'erased': it was
    db.execute("alter table letters add column outcome text not null default ''")
    db.execute("alter table letters add column erase_utc text")  # when the letter goes itself, see `withdrawals`


@migrations()
def m028_letter_facts(db: Database) -> None:
    # what is read in a letter is accepted or called wrong by a person; letters are searched by any part of their words
    db.execute("alter table suggestions add column decided text not null default ''")
    db.execute("alter table suggestions add column decided_by text not null default ''")
    db.execute("alter table suggestions add column decided_utc text")
    db.execute("create virtual table letter_search using fts5 (words, tokenize = 'trigram')")
    db.execute(
        """
        create trigger mail_texts_kept after insert on mail_texts begin
            delete from letter_search where rowid = new.submission_id;
            insert into letter_search (rowid, words)
            select new.submission_id, coalesce(group_concat(json_extract(value, '$[1]'), char(10)), '')
            from json_each(new.parts);
        end
        """
    )
    db.execute(
        """
        create trigger mail_texts_erased after delete on mail_texts begin
            delete from letter_search where rowid = old.submission_id;
        end
        """
    )
    db.execute(
        """
        insert into letter_search (rowid, words)
        select m.submission_id, coalesce((select group_concat(json_extract(value, '$[1]'), char(10))
                                          from json_each(m.parts)), '') from mail_texts m
        """
    )


@migrations()
def m029_receipt_mails(db: Database) -> None:
    db.execute(
        """
        create table receipt_mails (                  -- links to receipts that are still to be mailed, see `receipt_mails`
            submission_id integer primary key references submissions (id) on delete cascade,
            language      text not null,
            tries         integer not null,
            next_utc      text not null
        ) strict
        """
    )


@migrations()
def m030_driving_links(db: Database) -> None:
    # an address for a source may also let a program step through the rundown
    db.execute("alter table air_links add column drives integer not null default 0")


@migrations()
def m031_tours(db: Database) -> None:
    db.execute(
        """
        create table tours (                          -- views of a picture in the rundown that are shown one after the other
            item_id  integer primary key references rundown_items (id) on delete cascade,
            views    text not null,                   -- JSON, see `tours`
            who      text not null,
            when_utc text not null
        ) strict
        """
    )


@migrations()
def m032_as_run(db: Database) -> None:
    db.execute(
        """
        create table air_log (                        -- each step of the page on air, rehearsals among them, see `as_run`
            id         integer primary key,
            edition_id integer not null references editions (id),
            begin_utc  text not null,
            kind       text not null check (kind in ('picture', 'plan_b', 'blank', 'nothing')),
            item_id    integer,                       -- null, and nothing below: no picture, or its sender was forgotten
            picture_id integer references pictures (id),
            view       text not null,                 -- as_sent, upright, named, close_up
            feature    text not null,                 -- what a close-up is about or a light is on
            layers     text not null,                 -- JSON: [kind, title] of what stood over the photograph
            credit     text not null
        ) strict
        """
    )
    db.execute("create index air_log_edition on air_log (edition_id, begin_utc)")
    db.execute("create index air_log_picture on air_log (picture_id) where picture_id is not null")
    db.execute(
        """
        create table air_times (                      -- when an edition was on air, as somebody at the desk said
            id         integer primary key,
            edition_id integer not null references editions (id),
            begin_utc  text not null,
            end_utc    text,                          -- null: it is on air
            who        text not null
        ) strict
        """
    )
    db.execute("create index air_times_edition on air_times (edition_id, begin_utc)")


@migrations()
def m033_episodes(db: Database) -> None:
    db.execute(
        """
        create table episodes (                       -- what is said of an edition, see `episodes`
            edition_id       integer primary key references editions (id),
            version          integer not null default 0,  -- raised by each change; a change names the one it was made from
            words_per_minute integer,                     -- null: nobody has said
            template         text not null default '',    -- name of the running order that it was made from
            spoken_utc       text
        ) strict
        """
    )
    db.execute(
        """
        create table episode_items (
            id         integer primary key,
            edition_id integer not null references editions (id),
            position   integer not null,              -- 1, 2, 3 ... also of those taken out
            kind       text not null,
            title      text not null,
            text       text not null,                 -- as typed, with its marks
            seconds    integer,                       -- null: by its words
            sources    text not null,                 -- JSON: where each composed sentence comes from
            out        integer not null default 0     -- 1: taken out
        ) strict
        """
    )
    db.execute("create index episode_items_edition on episode_items (edition_id, position)")
    db.execute(
        """
        create table episode_changes (
            id         integer primary key,
            edition_id integer not null references editions (id),
            version    integer not null,              -- the episode's after the change; those of one were made together
            item_id    integer references episode_items (id) on delete cascade,  -- null: of the episode
            field      text not null,                 -- see `episode_items`
            before     text,
            after      text,
            who        text not null,
            when_utc   text not null,
            undoes     integer                        -- the version that it took back
        ) strict
        """
    )
    db.execute("create index episode_changes_version on episode_changes (edition_id, version)")
    db.execute("create index episode_changes_item on episode_changes (item_id)")
    db.execute(
        """
        create table episode_pictures (               -- the numbers by which marks call pictures; none is given twice
            edition_id integer not null references editions (id),
            number     integer not null,
            item_id    integer references rundown_items (id) on delete set null,
            primary key (edition_id, number)
        ) strict, without rowid
        """
    )
    db.execute("create index episode_pictures_item on episode_pictures (item_id)")
    db.execute(
        """
        create table running_orders (                 -- the programme's own
            name     text primary key,
            days     text not null,                   -- JSON: ages of the Moon, in days, for which it is meant
            shares   text not null,                   -- JSON: [kind, part of the time] in order
            who      text not null,
            when_utc text not null
        ) strict, without rowid
        """
    )


@migrations()
def m034_reply_cards(db: Database) -> None:
    # the sender's card for a feed goes with a reply, as it was seen
    db.execute("alter table replies add column card text not null default ''")


@migrations()
def m035_air_log_other(db: Database) -> None:
    # a view with two pictures shows both of them to the audience
    db.execute("alter table air_log add column other_item_id integer")
    db.execute("alter table air_log add column other_picture_id integer references pictures (id)")
    db.execute("alter table air_log add column other_credit text not null default ''")
    db.execute("create index air_log_other_picture on air_log (other_picture_id) where other_picture_id is not null")
