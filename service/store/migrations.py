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
    columns = (
        "id, edition_id, key, source, origin, stored_utc, received_utc, sender_name, sender_address, "
        "credit_line, subject, message_id, taken_utc, latitude_deg, longitude_deg, height_m, place_name, "
        "equipment, consent, remarks"
    )
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
