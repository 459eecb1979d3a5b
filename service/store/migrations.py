"""Stores made and brought up to date: `schema.sql` for a new one, `steps` for one that an earlier release has made.

The first release's tables are the oldest that there are: `tests/reference/first_release_store.zip` is a store of it. Both
ways lead to the same tables, which `tests/service/test_storage.py` compares.
"""

from __future__ import annotations

from pathlib import Path
from sqlite3 import Connection, OperationalError, complete_statement

#: Steps by which the first release's tables came about, as its stores note them.
FIRST_RELEASE = (
    "m001_editions", "m002_submissions", "m003_pictures", "m004_annotations", "m005_suggestions", "m006_erasures",
    "m007_forms", "m008_jobs", "m009_consents", "m010_mailboxes", "m011_copies", "m012_accounts", "m013_decisions",
    "m014_rundowns", "m015_inbox", "m016_names", "m017_air", "m018_frame_choices", "m019_replies", "m020_aired",
)  # fmt: skip


#: Names of all steps, in their order: those of `steps` after the first release's.
KNOWN = (
    *FIRST_RELEASE,
    "m021_marks",
    "m022_turned_away",
    "m023_evening",
    "m023_letters",
    "m024_ways",
    "m025_mails",
    "m026_questions",
    "m027_withdrawals",
    "m028_letter_facts",
    "m029_receipt_mails",
    "m030_driving_links",
    "m031_tours",
    "m032_as_run",
    "m033_episodes",
    "m034_reply_cards",
    "m035_air_log_other",
)


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
    if steps_of(db):
        from sqlite_utils import Database

        from moondesk.service.store.steps import migrations

        migrations.apply(Database(db))
        return
    statement = ""
    for line in (Path(__file__).parent / "schema.sql").read_text(encoding="utf-8").splitlines(keepends=True):
        statement += line
        if complete_statement(statement):  # a trigger is one, with statements in it
            db.execute(statement)
            statement = ""
    db.executemany(
        "insert into _sqlite_migrations (migration_set, name, applied_at) values ('moondesk', ?, datetime('now'))",
        [[name] for name in KNOWN],
    )
