"""The tables, one function a step. A step and the note that it ran share one transaction; none is ever edited."""

from __future__ import annotations

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

migrations = Migrations("moondesk")


@migrations()
def m001_editions(db: Database) -> None:
    db.execute(
        """
        create table editions (
            id            integer primary key,
            number        integer not null unique,
            kind          text not null check (kind in ('live', 'recorded')),
            recording_utc text,                       -- ISO 8601 with offset, as all *_utc columns
            air_utc       text,
            evenings      text not null default '[]', -- JSON list of dates in the programme's zone
            day_number    integer                     -- the programme's day of the lunation on the first evening
        ) strict
        """
    )


@migrations()
def m002_submissions(db: Database) -> None:
    db.execute(
        """
        create table submissions (
            id             integer primary key,
            edition_id     integer not null references editions (id),
            key            text not null unique,      -- 'mail:' or 'file:' and a SHA-256: nothing is taken twice
            source         text not null check (source in ('folder', 'mail')),
            origin         text not null,
            stored_utc     text not null,
            received_utc   text,
            sender_name    text not null,
            sender_address text not null,
            credit_line    text not null,             -- exactly as to be shown; empty: the sender's name
            subject        text not null,
            message_id     text not null,
            taken_utc      text,                      -- told by somebody; the file's own clock is in the annotation
            latitude_deg   real,
            longitude_deg  real,
            height_m       real,
            place_name     text not null,
            equipment      text not null,
            consent        text not null,
            remarks        text not null              -- JSON list of sentences
        ) strict
        """
    )
    db.execute("create index submissions_edition on submissions (edition_id, received_utc)")


@migrations()
def m003_pictures(db: Database) -> None:
    db.execute(
        """
        create table pictures (
            id            integer primary key,
            submission_id integer not null references submissions (id),
            position      integer not null,           -- order in the mail
            given_name    text not null,
            size_bytes    integer not null,
            sha256        text,                       -- null: the bytes were not kept
            media_type    text,
            refused       text,                       -- the sentence that says why; null: a picture
            unique (submission_id, position)
        ) strict
        """
    )
    db.execute("create index pictures_sha256 on pictures (sha256)")


@migrations()
def m004_annotations(db: Database) -> None:
    db.execute(
        """
        create table annotations (
            id             integer primary key,
            picture_id     integer not null references pictures (id),
            engine_version text not null,
            made_utc       text not null,
            derived_key    text not null,             -- folder of the derived pictures
            status         text not null,             -- from here on a summary, so that lists need not unpack
            sure           integer not null,
            reason         text not null,
            taken_utc      text,
            time_source    text not null,
            clock_verdict  text not null,
            best_seen      text not null,             -- JSON list of names, best first
            annotation     blob not null              -- the record as JSON, zlib
        ) strict
        """
    )
    db.execute("create index annotations_picture on annotations (picture_id, id)")


@migrations()
def m005_suggestions(db: Database) -> None:
    db.execute(
        """
        create table suggestions (
            id            integer primary key,
            submission_id integer not null references submissions (id),
            field         text not null,              -- see records.SuggestedField
            value         text not null,
            words         text not null,              -- from which it was read
            source        text not null
        ) strict
        """
    )
    db.execute("create index suggestions_submission on suggestions (submission_id)")


@migrations()
def m006_erasures(db: Database) -> None:
    db.execute("create table files_to_erase (sha256 text primary key) strict")
    db.execute(
        """
        create table audit (
            id       integer primary key,
            when_utc text not null,
            what     text not null                    -- without any personal data
        ) strict
        """
    )


@migrations()
def m007_forms(db: Database) -> None:
    """Two more sources, which the old table's check forbids: it is built anew (foreign keys are off meanwhile)."""
    columns = ("id, edition_id, key, source, origin, stored_utc, received_utc, sender_name, sender_address, "
               "credit_line, subject, message_id, taken_utc, latitude_deg, longitude_deg, height_m, place_name, "
               "equipment, consent, remarks")
    db.execute(
        """
        create table submissions_new (
            id             integer primary key,
            edition_id     integer not null references editions (id),
            key            text not null unique,      -- 'mail:', 'file:' or 'form:' and a SHA-256
            source         text not null check (source in ('folder', 'mail', 'form', 'desk')),
            origin         text not null,
            stored_utc     text not null,
            received_utc   text,
            sender_name    text not null,
            sender_address text not null,
            credit_line    text not null,
            subject        text not null,
            message_id     text not null,
            taken_utc      text,
            latitude_deg   real,
            longitude_deg  real,
            height_m       real,
            place_name     text not null,
            equipment      text not null,
            consent        text not null,
            remarks        text not null,
            channel        text not null default '',  -- where else it was sent, as typed at the desk
            link           text not null default '',
            receipt        text unique                -- SHA-256 of the token in the sender's receipt link
        ) strict
        """
    )
    db.execute(f"insert into submissions_new ({columns}) select {columns} from submissions")
    db.execute("drop table submissions")
    db.execute("alter table submissions_new rename to submissions")
    db.execute("create index submissions_edition on submissions (edition_id, received_utc)")
    db.execute("alter table pictures add column aired_utc text")
    db.execute("create table erased_receipts (receipt text primary key, when_utc text not null) strict")


@migrations()
def m008_jobs(db: Database) -> None:
    db.execute(
        """
        create table jobs (
            picture_id       integer primary key references pictures (id),
            engine_version   text not null,           -- for which the counts and the reason stand
            attempts         integer not null default 0,  -- how often it was leased
            failures         integer not null default 0,  -- how often its worker told of a failure, or died
            leased_by        text,
            leased_until_utc text,
            quarantined      text,                    -- the reason; null: it may be tried
            again            integer not null default 0   -- a person asked for it anew
        ) strict
        """
    )


@migrations()
def m009_consents(db: Database) -> None:
    db.execute(
        """
        create table consents (
            id            integer primary key,
            submission_id integer not null references submissions (id),
            picture_id    integer references pictures (id),  -- null: for all of the submission
            state         text not null check (state in ('given', 'refused', 'asked')),
            kind          text not null check (kind in ('form', 'mail', 'phone', 'person', 'table')),
            evidence      text not null,              -- the sentence, word for word
            message_id    text not null,              -- of the mail that it stands in
            noted_by      text not null,
            noted_utc     text not null,
            guardian      integer not null,           -- said by a guardian
            minor         integer                     -- whether a child took it, as far as this record says
        ) strict
        """
    )
    db.execute("create index consents_submission on consents (submission_id, id)")


@migrations()
def m010_mailboxes(db: Database) -> None:
    db.execute(
        """
        create table mailbox_taken (                  -- what need not be fetched again; the submission's key decides
            mailbox     text not null,
            uidvalidity integer not null,
            uid         integer not null,
            primary key (mailbox, uidvalidity, uid)
        ) strict, without rowid
        """
    )
    db.execute("create index submissions_message on submissions (message_id)")
    db.execute(
        """
        create table mails_erased (
            submission_id integer primary key references submissions (id),
            when_utc      text not null
        ) strict
        """
    )


@migrations()
def m011_copies(db: Database) -> None:
    db.execute(
        """
        create table sketches (                       -- by which copies of a picture are found
            picture_id        integer primary key references pictures (id),
            sketch            blob not null,
            north_screen_deg  real,                   -- this and the next four: null where the placement is not sure
            mirrored          integer,
            libration_lat_deg real,
            libration_lon_deg real,
            sub_solar_lon_deg real,
            clock             text,                   -- the file's own clock, as it reads; null where it has none
            compared          text not null default 'waits' check (compared in ('waits', 'done', 'failed'))
        ) strict
        """
    )
    db.execute("create index sketches_waiting on sketches (picture_id) where compared = 'waits'")
    db.execute(
        """
        create table versions (                       -- a pair that the tool takes for one picture, or asks about
            id          integer primary key,
            picture_id  integer not null references pictures (id),  -- the one that came later
            other_id    integer not null references pictures (id),
            kind        text not null check (kind in ('version_of', 'ask')),
            better_id   integer not null,
            words       text not null,
            unexplained real,
            decided     text check (decided in ('same', 'different')),  -- by a person; null: nobody has said
            decided_by  text,
            decided_utc text
        ) strict
        """
    )
    db.execute("create unique index versions_pair on versions (min(picture_id, other_id), max(picture_id, other_id))")
    db.execute("create index versions_other on versions (other_id)")
    db.execute("create index versions_picture on versions (picture_id)")
    # The best of a picture's versions; null where it is that itself, or has none. Made anew with each pair.
    db.execute("alter table pictures add column version_of integer")
    db.execute("create index pictures_version_of on pictures (version_of) where version_of is not null")


@migrations()
def m012_accounts(db: Database) -> None:
    db.execute(
        """
        create table accounts (
            id           integer primary key,
            name         text not null,
            folded       text not null unique,        -- the name as it is compared, see accounts.folded
            role         text not null check (role in ('helper', 'presenter')),
            password     text not null,               -- Argon2id with its parameters and salt
            made_utc     text not null,
            password_utc text not null,
            disabled_utc text
        ) strict
        """
    )
    db.execute(
        """
        create table sessions (
            token      text primary key,              -- SHA-256 of what the cookie holds
            account_id integer not null references accounts (id),
            made_utc   text not null,
            seen_utc   text not null
        ) strict, without rowid
        """
    )
    db.execute("create index sessions_account on sessions (account_id)")
    db.execute(
        """
        create table api_tokens (
            id          integer primary key,
            account_id  integer not null references accounts (id),
            token       text not null unique,         -- SHA-256 of the token
            label       text not null,
            role        text not null check (role in ('helper', 'presenter')),  -- the most that it may
            made_utc    text not null,
            used_utc    text,
            revoked_utc text
        ) strict
        """
    )
    db.execute("create index api_tokens_account on api_tokens (account_id)")
    db.execute(
        """
        create table settings (                       -- made at the desk; what moondesk.toml sets goes before them
            key      text primary key,                -- 'programme.zone'
            value    text not null,                   -- JSON
            who      text not null,
            when_utc text not null
        ) strict, without rowid
        """
    )
    db.execute("alter table audit add column who text not null default ''")


@migrations()
def m013_decisions(db: Database) -> None:
    db.execute(
        """
        create table decisions (
            id         integer primary key,
            picture_id integer not null references pictures (id) on delete cascade,
            kind       text not null,                 -- see `decided`
            what       text not null,                 -- JSON
            who        text not null,
            made_utc   text not null,
            undone_utc text,                          -- null: it stands
            undone_by  text
        ) strict
        """
    )
    db.execute("create index decisions_picture on decisions (picture_id, id)")


@migrations()
def m014_rundowns(db: Database) -> None:
    db.execute(
        """
        create table rundowns (
            edition_id integer primary key references editions (id),
            version    integer not null default 0,    -- raised by each change; a change names the one it was made from
            seconds    integer,                       -- the programme's time for pictures; null: nobody has said
            withdrawn  integer not null default 0     -- items that went with what their senders took back
        ) strict
        """
    )
    db.execute(
        """
        create table rundown_items (
            id            integer primary key,
            edition_id    integer not null references editions (id),
            picture_id    integer not null references pictures (id) on delete cascade,
            position      integer not null,           -- 1, 2, 3 ... also of those taken out: they keep their place
            seconds       integer not null,
            credit_line   text,                       -- null: as the sender's credit stands; '': no name is shown
            pronunciation text not null,
            note          text not null,
            added_by      text not null,
            added_utc     text not null,
            out_utc       text,                       -- null: it stands
            out_by        text,
            aired_utc     text,
            unique (edition_id, picture_id)
        ) strict
        """
    )
    db.execute("create index rundown_items_picture on rundown_items (picture_id)")
    db.execute("create index rundown_items_aired on rundown_items (edition_id) where aired_utc is not null")
    db.execute(
        """
        create table rundown_changes (
            id         integer primary key,
            edition_id integer not null references editions (id),
            version    integer not null,              -- the rundown's after the change
            item_id    integer references rundown_items (id) on delete cascade,  -- null: of the rundown
            what       text not null,                 -- see `rundown_items`
            before     text,
            after      text,
            who        text not null,
            when_utc   text not null
        ) strict
        """
    )
    db.execute("create index rundown_changes_version on rundown_changes (edition_id, version)")
    db.execute("create index rundown_changes_item on rundown_changes (item_id)")


@migrations()
def m015_inbox(db: Database) -> None:
    db.execute(
        """
        create table shown (                          -- what a surely placed picture shows in good light
            feature    text not null,
            picture_id integer not null references pictures (id) on delete cascade,
            leading    integer not null,              -- one of the most prominent of the picture
            primary key (feature, picture_id)
        ) strict, without rowid
        """
    )
    db.execute("create index shown_picture on shown (picture_id, leading)")
    db.execute("create index submissions_sender on submissions (sender_address collate nocase, id)")
    db.execute("create index annotations_made on annotations (made_utc)")
    db.execute("alter table annotations add column quality text")  # JSON, see `measured`
    db.execute("alter table annotations add column camera text")  # as the file names it
    # Of the newest annotation: who made it, and what is best seen; and in what words the picture is looked for.
    db.execute("alter table pictures add column placed_by text")
    db.execute("alter table pictures add column words text not null default ''")
    db.execute("update pictures set placed_by = (select engine_version from annotations where picture_id = pictures.id "
               "order by id desc limit 1)")
    db.execute("create index pictures_placed_by on pictures (placed_by) where refused is null and sha256 is not null")
