"""The tables, continued: what the desk needs besides what came in. The rules are those of `migrations`."""

from __future__ import annotations

from sqlite_utils import Database

from moondesk.service.store.migrations import migrations

__all__ = ["migrations"]


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
    db.execute(
        "update pictures set placed_by = (select engine_version from annotations where picture_id = pictures.id "
        "order by id desc limit 1)"
    )
    db.execute("create index pictures_placed_by on pictures (placed_by) where refused is null and sha256 is not null")


@migrations()
def m016_names(db: Database) -> None:
    db.execute(
        """
        create table feature_names (                  -- as the programme writes and speaks them
            language text not null,
            feature  text not null,                   -- the IAU's name
            local    text not null,                   -- '': the IAU's alone is written
            spoken   text not null,                   -- '': nobody has said
            who      text not null,
            when_utc text not null,
            primary key (language, feature)
        ) strict, without rowid
        """
    )


@migrations()
def m017_air(db: Database) -> None:
    db.execute(
        """
        create table air_states (                     -- what stands on air, see `air`
            edition_id integer primary key references editions (id),
            at_ms      integer not null,
            state      text not null                  -- JSON
        ) strict
        """
    )
    db.execute(
        """
        create table air_spares (                     -- the picture pinned as plan B
            edition_id integer primary key references editions (id),
            item_id    integer not null references rundown_items (id) on delete cascade
        ) strict
        """
    )
    db.execute(
        """
        create table air_links (                      -- addresses of the page on air that want no log-in
            id          integer primary key,
            secret      text not null unique,         -- SHA-256
            label       text not null,
            made_by     text not null,
            made_utc    text not null,
            revoked_utc text
        ) strict
        """
    )


@migrations()
def m018_frame_choices(db: Database) -> None:
    db.execute(
        """
        create table frame_choices (                  -- how a picture of the rundown is shown on air
            item_id  integer primary key references rundown_items (id) on delete cascade,
            view     text not null,
            zoom     text not null,                   -- a feature's name; '': the whole disc
            features text not null,                   -- JSON: names in the order of revealing
            who      text not null,
            when_utc text not null
        ) strict
        """
    )


@migrations()
def m019_replies(db: Database) -> None:
    db.execute(
        """
        create table replies (                        -- one for each submission, see `replies`
            id            integer primary key,
            submission_id integer not null unique references submissions (id) on delete cascade,
            state         text not null check (state in ('draft', 'approved', 'sending', 'sent', 'failed', 'unknown')),
            version       integer not null,
            address       text not null,
            subject       text not null,
            body          text not null,
            picture_id    integer references pictures (id) on delete set null,  -- whose labelled picture goes with it
            message_id    text not null,              -- kept before the first try, the same at each
            who           text not null,
            changed_utc   text not null,
            sent_utc      text,
            tries         integer not null,
            next_utc      text,
            words         text not null               -- what the last try brought
        ) strict
        """
    )
    db.execute("create index replies_due on replies (next_utc) where state = 'approved'")


@migrations()
def m020_aired(db: Database) -> None:
    db.execute(
        """
        create table aired (                          -- what was on air, kept also where its sender was forgotten since
            id         integer primary key,
            edition_id integer not null references editions (id),
            item_id    integer,                       -- null, and nothing below but the time: forgotten
            picture_id integer references pictures (id),
            aired_utc  text not null,
            credit     text not null,                 -- as it stood on the frame
            frame      text not null,                 -- SHA-256 of the frame as it was aired, PNG; '': none was kept
            unique (edition_id, item_id)
        ) strict
        """
    )
    db.execute("create index aired_picture on aired (picture_id)")
    db.execute(
        "insert into aired (edition_id, item_id, picture_id, aired_utc, credit, frame) select edition_id, id, "
        "picture_id, aired_utc, coalesce(credit_line, ''), '' from rundown_items where aired_utc is not null"
    )
    # Of a surely placed picture whose time is believed: when it was taken, so that the archive finds its evening.
    db.execute("alter table pictures add column sky_utc text")
    db.execute("create index pictures_sky on pictures (sky_utc) where sky_utc is not null")
    # Of what a picture shows: the Sun's height over it, and whether it was morning there; null: placed before this.
    db.execute("alter table shown add column sun_deg real")
    db.execute("alter table shown add column morning integer")


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
