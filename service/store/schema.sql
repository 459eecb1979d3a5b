-- The tables of a new store. One that an earlier release has made is brought to the same by the steps in migrations.py:
-- whoever changes something here adds a step there. Columns that a step adds stand last, as it puts them.
--
-- *_utc: ISO 8601 with offset. who, *_by: the name of an account, or 'moondesk'.

-- Steps that have run, of a new store all. (The name is older than the code.)
create table _sqlite_migrations (
    id            integer primary key,
    migration_set text,
    name          text,
    applied_at    text
);
create unique index idx__sqlite_migrations_migration_set_name on _sqlite_migrations (migration_set, name);

-- --- what came in --------------------------------------------------------------------------------------------------

create table editions (
    id            integer primary key,
    number        integer not null unique,
    kind          text not null check (kind in ('live', 'recorded')),
    recording_utc text,
    air_utc       text,
    evenings      text not null default '[]', -- JSON list of dates in the programme's zone
    day_number    integer                     -- the programme's day of the lunation on the first evening
) strict;

create table submissions (
    id             integer primary key,
    edition_id     integer not null references editions (id),
    key            text not null unique,      -- 'mail:', 'file:' or 'form:' and a SHA-256: nothing is taken twice
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
    remarks        text not null,             -- JSON list of sentences
    channel        text not null default '',  -- where else it was sent, as typed at the desk
    link           text not null default '',
    receipt        text unique,               -- SHA-256 of the token in the sender's receipt link
    words_read     text not null default '',  -- '': nobody has looked whether its words were understood
    sender_key     text not null default '',  -- see `rows.sender_key`
    source         text not null default '',  -- name of the way by which it came, see `arrivals`
    answer_to      text not null default ''   -- where answers go; '': to sender_address
) strict;
create index submissions_edition on submissions (edition_id, received_utc);
create index submissions_message on submissions (message_id);
create index submissions_sender on submissions (sender_address collate nocase, id);
create index submissions_sender_key on submissions (sender_key) where sender_key <> '';

create table other_addresses (                -- by which it is found besides its sender's: letters, who is forgotten
    address       text not null,              -- see `rows.sender_key`
    submission_id integer not null references submissions (id) on delete cascade,
    primary key (submission_id, address)
) strict, without rowid;
create index other_addresses_address on other_addresses (address);

create table suggestions (
    id            integer primary key,
    submission_id integer not null references submissions (id),
    field         text not null,              -- see records.SuggestedField
    value         text not null,
    words         text not null,              -- from which it was read
    source        text not null,
    letter_id     integer references submissions (id) on delete set null,  -- the later mail that it stands in
    noted_utc     text,                       -- when that came
    decided       text not null default '',   -- 'accepted', 'wrong' (it counts no more); '': nobody has said
    decided_by    text not null default '',
    decided_utc   text
) strict;
create index suggestions_submission on suggestions (submission_id);
create index suggestions_letter on suggestions (letter_id) where letter_id is not null;

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
) strict;
create index consents_submission on consents (submission_id, id);

create table mail_texts (                     -- kept as long as the whole mails are
    submission_id integer primary key references submissions (id) on delete cascade,
    parts         text not null               -- JSON list of [kind, text], see records.LetterPart
) strict;

create virtual table letter_search using fts5 (words, tokenize = 'trigram'); -- rows by submission, see the triggers
create trigger mail_texts_kept after insert on mail_texts begin
    delete from letter_search where rowid = new.submission_id;
    insert into letter_search (rowid, words)
    select new.submission_id, coalesce(group_concat(json_extract(value, '$[1]'), char(10)), '') from json_each(new.parts);
end;
create trigger mail_texts_erased after delete on mail_texts begin
    delete from letter_search where rowid = old.submission_id;
end;

create table letters (
    submission_id integer primary key references submissions (id) on delete cascade,
    kind          text not null check (kind in ('letter', 'machine')),
    read_utc      text,                       -- null: nobody has read it, and it holds its sender's pictures
    read_by       text not null default '',
    outcome       text not null default '',   -- 'not_meant': nothing was to be taken back; 'erased': it was
    erase_utc     text                        -- when it goes itself, once its sender was told; see `withdrawals`
) strict;
create index letters_unread on letters (submission_id) where read_utc is null and kind = 'letter';

create table letter_holds (                   -- whose pictures: 'a:' and a sender's key, 's:' and a submission
    what      text not null,
    letter_id integer not null references letters (submission_id) on delete cascade,
    primary key (what, letter_id)
) strict, without rowid;
create index letter_holds_letter on letter_holds (letter_id);

create table mailbox_taken (                  -- what need not be fetched again; the submission's key decides
    mailbox     text not null,
    uidvalidity integer not null,
    uid         integer not null,
    primary key (mailbox, uidvalidity, uid)
) strict, without rowid;

create table turned_away (                    -- forms at the upload page, see `turned_away`
    hour_utc text not null,
    reason   text not null,
    count    integer not null,
    primary key (hour_utc, reason)
) strict;

-- --- pictures ------------------------------------------------------------------------------------------------------

create table pictures (
    id            integer primary key,
    submission_id integer not null references submissions (id),
    position      integer not null,           -- order in the mail
    given_name    text not null,
    size_bytes    integer not null,
    sha256        text,                       -- null: the bytes were not kept
    media_type    text,
    refused       text,                       -- the sentence that says why; null: a picture
    aired_utc     text,
    version_of    integer,                    -- the best of its versions; null: it is that itself, or has none
    placed_by     text,                       -- who made its newest annotation
    words         text not null default '',   -- in which it is looked for
    sky_utc       text,                       -- when a surely placed one was taken, if its time is believed
    unique (submission_id, position)
) strict;
create index pictures_sha256 on pictures (sha256);
create index pictures_version_of on pictures (version_of) where version_of is not null;
create index pictures_placed_by on pictures (placed_by) where refused is null and sha256 is not null;
create index pictures_sky on pictures (sky_utc) where sky_utc is not null;

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
    annotation     blob not null,             -- the record as JSON, zlib
    quality        text,                      -- JSON, see `measured`
    camera         text,                      -- as the file names it
    evening        text                       -- the verdict on when it was taken; null: placed before it was told
) strict;
create index annotations_picture on annotations (picture_id, id);
create index annotations_made on annotations (made_utc);

create table shown (                          -- what a surely placed picture shows in good light
    feature    text not null,
    picture_id integer not null references pictures (id) on delete cascade,
    leading    integer not null,              -- one of the most prominent of the picture
    sun_deg    real,                          -- the Sun's height over it; null: placed before that was kept
    morning    integer,
    primary key (feature, picture_id)
) strict, without rowid;
create index shown_picture on shown (picture_id, leading);

create table jobs (
    picture_id       integer primary key references pictures (id),
    engine_version   text not null,           -- for which the counts and the reason stand
    attempts         integer not null default 0,  -- how often it was leased
    failures         integer not null default 0,  -- how often its worker told of a failure, or died
    leased_by        text,
    leased_until_utc text,
    quarantined      text,                    -- the reason, see `messages`; null: it may be tried
    again            integer not null default 0   -- a person asked for it anew
) strict;

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
) strict;
create index sketches_waiting on sketches (picture_id) where compared = 'waits';

create table versions (                       -- a pair that the tool takes for one picture, or asks about
    id          integer primary key,
    picture_id  integer not null references pictures (id),  -- the one that came later
    other_id    integer not null references pictures (id),
    kind        text not null check (kind in ('version_of', 'ask')),
    better_id   integer not null,
    words       text not null,                -- see `messages`
    unexplained real,
    decided     text check (decided in ('same', 'different')),  -- by a person; null: nobody has said
    decided_by  text,
    decided_utc text
) strict;
create unique index versions_pair on versions (min(picture_id, other_id), max(picture_id, other_id));
create index versions_other on versions (other_id);
create index versions_picture on versions (picture_id);

create table decisions (
    id         integer primary key,
    picture_id integer not null references pictures (id) on delete cascade,
    kind       text not null,                 -- see `decided`
    what       text not null,                 -- JSON
    who        text not null,
    made_utc   text not null,
    undone_utc text,                          -- null: it stands
    undone_by  text
) strict;
create index decisions_picture on decisions (picture_id, id);

-- --- the programme -------------------------------------------------------------------------------------------------

create table rundowns (
    edition_id integer primary key references editions (id),
    version    integer not null default 0,    -- raised by each change; a change names the one it was made from
    seconds    integer,                       -- the programme's time for pictures; null: nobody has said
    withdrawn  integer not null default 0     -- items that went with what their senders took back
) strict;

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
) strict;
create index rundown_items_picture on rundown_items (picture_id);
create index rundown_items_aired on rundown_items (edition_id) where aired_utc is not null;

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
) strict;
create index rundown_changes_version on rundown_changes (edition_id, version);
create index rundown_changes_item on rundown_changes (item_id);

create table frame_choices (                  -- how a picture of the rundown is shown on air
    item_id  integer primary key references rundown_items (id) on delete cascade,
    view     text not null,
    zoom     text not null,                   -- a feature's name; '': the whole disc
    features text not null,                   -- JSON: names in the order of revealing
    who      text not null,
    when_utc text not null
) strict;

create table tours (                          -- views of a picture in the rundown that are shown one after the other
    item_id  integer primary key references rundown_items (id) on delete cascade,
    views    text not null,                   -- JSON, see `tours`
    who      text not null,
    when_utc text not null
) strict;

create table episodes (                       -- what is said of an edition, see `episodes`
    edition_id       integer primary key references editions (id),
    version          integer not null default 0,  -- raised by each change; a change names the one it was made from
    words_per_minute integer,                     -- null: nobody has said
    template         text not null default '',    -- name of the running order that it was made from
    spoken_utc       text
) strict;

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
) strict;
create index episode_items_edition on episode_items (edition_id, position);

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
) strict;
create index episode_changes_version on episode_changes (edition_id, version);
create index episode_changes_item on episode_changes (item_id);

create table episode_pictures (               -- the numbers by which marks call pictures; none is given twice
    edition_id integer not null references editions (id),
    number     integer not null,
    item_id    integer references rundown_items (id) on delete set null,
    primary key (edition_id, number)
) strict, without rowid;
create index episode_pictures_item on episode_pictures (item_id);

create table running_orders (                 -- the programme's own
    name     text primary key,
    days     text not null,                   -- JSON: ages of the Moon, in days, for which it is meant
    shares   text not null,                   -- JSON: [kind, part of the time] in order
    who      text not null,
    when_utc text not null
) strict, without rowid;

create table air_states (                     -- what stands on air, see `air`
    edition_id integer primary key references editions (id),
    at_ms      integer not null,
    state      text not null                  -- JSON
) strict;

create table air_spares (                     -- the picture pinned as plan B
    edition_id integer primary key references editions (id),
    item_id    integer not null references rundown_items (id) on delete cascade
) strict;

create table air_links (                      -- addresses of the page on air that want no log-in
    id          integer primary key,
    secret      text not null unique,         -- SHA-256
    label       text not null,
    made_by     text not null,
    made_utc    text not null,
    revoked_utc text,
    drives      integer not null default 0    -- 1: a program may step through the rundown by it
) strict;

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
    credit     text not null,
    other_item_id    integer,                 -- the second picture of a view with two; null: none, or forgotten
    other_picture_id integer references pictures (id),
    other_credit     text not null default ''
) strict;
create index air_log_edition on air_log (edition_id, begin_utc);
create index air_log_picture on air_log (picture_id) where picture_id is not null;
create index air_log_other_picture on air_log (other_picture_id) where other_picture_id is not null;

create table air_times (                      -- when an edition was on air, as somebody at the desk said
    id         integer primary key,
    edition_id integer not null references editions (id),
    begin_utc  text not null,
    end_utc    text,                          -- null: it is on air
    who        text not null
) strict;
create index air_times_edition on air_times (edition_id, begin_utc);

create table aired (                          -- what was on air, kept also where its sender was forgotten since
    id         integer primary key,
    edition_id integer not null references editions (id),
    item_id    integer,                       -- null, and nothing below but the time: forgotten
    picture_id integer references pictures (id),
    aired_utc  text not null,
    credit     text not null,                 -- as it stood on the frame
    frame      text not null,                 -- SHA-256 of the frame as it was aired, PNG; '': none was kept
    unique (edition_id, item_id)
) strict;
create index aired_picture on aired (picture_id);

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
    words         text not null,              -- what the last try brought, see `messages`
    queued_utc    text,                       -- since when somebody has it sent; the desk sends it by itself
    card          text not null default ''    -- the card that goes with it, see `replies`
) strict;
create index replies_due on replies (next_utc) where state = 'approved';

create table receipt_mails (                  -- links to receipts that are still to be mailed, see `receipt_mails`
    submission_id integer primary key references submissions (id) on delete cascade,
    language      text not null,
    tries         integer not null,
    next_utc      text not null
) strict;

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
) strict;
create index questions_submission on questions (submission_id);
create index questions_picture on questions (picture_id) where picture_id is not null;

create table answers (                        -- all that were given to a question: the last one counts
    id          integer primary key,
    question_id integer not null references questions (id) on delete cascade,
    choice      text not null,                -- see programme.questions
    value       text not null,                -- what was typed or chosen beside it, for people
    asked       text not null,                -- the question's words as they were shown
    words       text not null,                -- those of the button, and of what was typed
    language    text not null,
    when_utc    text not null
) strict;
create index answers_question on answers (question_id, id);

create table feature_names (                  -- as the programme writes and speaks them
    language text not null,
    feature  text not null,                   -- the IAU's name
    local    text not null,                   -- '': the IAU's alone is written
    spoken   text not null,                   -- '': nobody has said
    who      text not null,
    when_utc text not null,
    primary key (language, feature)
) strict, without rowid;

-- --- the desk ------------------------------------------------------------------------------------------------------

create table accounts (
    id           integer primary key,
    name         text not null,
    folded       text not null unique,        -- the name as it is compared, see accounts.folded
    role         text not null check (role in ('helper', 'presenter')),
    password     text not null,               -- Argon2id with its parameters and salt
    made_utc     text not null,
    password_utc text not null,
    disabled_utc text
) strict;

create table sessions (
    token      text primary key,              -- SHA-256 of what the cookie holds
    account_id integer not null references accounts (id),
    made_utc   text not null,
    seen_utc   text not null
) strict, without rowid;
create index sessions_account on sessions (account_id);

create table api_tokens (
    id          integer primary key,
    account_id  integer not null references accounts (id),
    token       text not null unique,         -- SHA-256 of the token
    label       text not null,
    role        text not null check (role in ('helper', 'presenter')),  -- the most that it may
    made_utc    text not null,
    used_utc    text,
    revoked_utc text
) strict;
create index api_tokens_account on api_tokens (account_id);

create table settings (                       -- made at the desk; what moondesk.toml sets goes before them
    key      text primary key,                -- 'programme.zone'
    value    text not null,                   -- JSON
    who      text not null,
    when_utc text not null
) strict, without rowid;

create table audit (
    id       integer primary key,
    when_utc text not null,
    what     text not null,                   -- see `messages`; without any personal data
    who      text not null default ''
) strict;

-- --- what is to go, and went ---------------------------------------------------------------------------------------

create table files_to_erase (sha256 text primary key) strict;

create table mails_erased (
    submission_id integer primary key references submissions (id),
    when_utc      text not null
) strict;

create table erased_receipts (receipt text primary key, when_utc text not null) strict;

create table erased_marks (                   -- of what was erased, so that no older backup brings it back
    kind     text not null check (kind in ('submission', 'sender')),
    mark     text not null,                   -- keyed hash, see `marks`
    when_utc text not null,
    primary key (kind, mark)
) strict, without rowid;

create table backups (                        -- where backups were made: they are told what is erased
    folder   text primary key,
    when_utc text not null
) strict, without rowid;
