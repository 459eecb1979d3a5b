"""The store: what goes in comes out, nothing twice, nothing half."""

from __future__ import annotations

import multiprocessing
import re
import sqlite3
import zipfile
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from fakes import add_edition, annotation, bare
from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from moondesk.records import Place
from moondesk.sentences import sentence, sentences_of
from moondesk.service.errors import BadInputError, NotStoredError, StorageError
from moondesk.service.store import queue, steps
from moondesk.service.store.annotations import add_annotation, read_annotation
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.migrations import FIRST_RELEASE, KNOWN
from moondesk.service.store.pictures import count_pictures, list_pictures, neighbours_of, read_picture
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure, StoredAnnotation
from moondesk.service.store.steps import migrations
from moondesk.service.store.storage import DATABASE_NAME, Storage
from moondesk.service.store.submissions import add_submission, has_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
PLAN = EditionPlan(
    number=12,
    kind="recorded",
    recording_utc=datetime(2026, 3, 26, 16, tzinfo=UTC),
    air_utc=datetime(2026, 3, 27, 20, tzinfo=UTC),
    evenings=(date(2026, 3, 25), date(2026, 3, 26)),
    day_number=7,
)


def arrival(key: str = "file:1", refused: str | None = None, sha: str | None = "ab" * 32, **more) -> Arrival:
    return Arrival(
        key=key,
        source="folder",
        origin="a.png",
        enclosures=(
            Enclosure(
                given_name="a.png",
                size_bytes=10,
                sha256=sha,
                media_type="image/png",
                refusal=sentences_of(refused or ""),
            ),
        ),
        **more,
    )


def test_an_edition_comes_back_whole(storage):
    stored = add_edition(storage, PLAN)
    assert list_editions(storage) == (stored,)
    assert read_edition(storage, 12).plan == PLAN
    with pytest.raises(NotStoredError, match="no edition 13"):
        read_edition(storage, 13)
    with pytest.raises(BadInputError):
        add_edition(storage, PLAN)


def test_a_submission_comes_back_whole_and_is_taken_once(storage):
    edition = add_edition(storage, PLAN)
    full = arrival(
        received_utc=NOW,
        sender_name="Zoë 月",
        sender_address="z@example.org",
        credit_line="Zoë",
        subject="'; drop table pictures; --",
        message_id="<1>",
        taken_utc=NOW,
        place=Place(48.2, -16.4, 100),
        place_name="Wien",
        equipment="8 inch",
        consent="form",
        remarks=(*sentences_of("one"), sentence("mail_undated")),
    )
    assert add_submission(storage, edition.id, full, NOW) == 1
    assert add_submission(storage, edition.id, full, NOW) is None
    picture = read_picture(storage, 1)
    assert picture.submission.arrival == full
    assert (picture.submission.edition_id, picture.submission.stored_utc) == (edition.id, NOW)
    assert has_submission(storage, "file:1")
    assert not has_submission(storage, "file:2")


def test_a_failing_submission_leaves_nothing(storage):
    edition = add_edition(storage, PLAN)
    with pytest.raises(StorageError):
        add_submission(storage, edition.id + 1, arrival(), NOW)  # no such edition
    assert count_pictures(storage, edition.id).total == 0
    assert not has_submission(storage, "file:1")


def test_the_newest_annotation_counts(storage):
    edition = add_edition(storage, PLAN)
    add_submission(storage, edition.id, arrival(), NOW)
    assert read_annotation(storage, 1) is None
    add_annotation(
        storage,
        StoredAnnotation(
            picture_id=1,
            annotation=bare("unplaced", "Blurred."),
            engine_version="old",
            made_utc=NOW,
            derived_key="0" * 16,
        ),
        (),
    )
    stored = StoredAnnotation(
        picture_id=1, annotation=annotation(), engine_version="new", made_utc=NOW, derived_key="f" * 16
    )
    add_annotation(storage, stored, ["Copernicus"])
    back = read_annotation(storage, 1)
    assert (back.engine_version, back.derived_key) == ("new", "f" * 16)
    assert back.annotation.features == stored.annotation.features
    listed = list_pictures(storage, edition.id)
    assert len(listed) == 1
    assert (listed[0].summary.status, listed[0].summary.best_seen) == ("annotated", ("Copernicus",))


def test_what_waits_for_an_engine(storage):
    edition = add_edition(storage, PLAN)
    add_submission(storage, edition.id, arrival("file:1"), NOW)
    add_submission(storage, edition.id, arrival("file:2", refused="A film."), NOW)
    add_submission(storage, edition.id, arrival("file:3", sha=None, refused="Too large."), NOW)

    def waiting(version: str) -> list[int]:
        found = queue.lease(storage, version, "me", 9, NOW, 60)
        queue.release(storage, "me")
        return [lease.picture.id for lease in found]

    assert waiting("1") == [1]
    add_annotation(
        storage,
        StoredAnnotation(picture_id=1, annotation=annotation(), engine_version="1", made_utc=NOW, derived_key="0" * 16),
        (),
    )
    assert waiting("1") == []
    assert waiting("2") == [1]
    add_annotation(
        storage,
        StoredAnnotation(picture_id=1, annotation=annotation(), engine_version="2", made_utc=NOW, derived_key="0" * 16),
        (),
    )
    assert waiting("1") == [1]  # gone back to the first: the list must not show the second's


def test_counts_order_and_neighbours(storage):
    edition = add_edition(storage, PLAN)
    for hour, (status, sure) in enumerate([("annotated", True), ("annotated", False), ("not_moon", False)]):
        add_submission(storage, edition.id, arrival(f"file:{hour}", received_utc=NOW.replace(hour=hour)), NOW)
        record = annotation(sure) if status == "annotated" else bare(status)
        add_annotation(
            storage,
            StoredAnnotation(
                picture_id=hour + 1, annotation=record, engine_version="1", made_utc=NOW, derived_key="0" * 16
            ),
            (),
        )
    add_submission(storage, edition.id, arrival("file:x", received_utc=NOW), NOW)
    add_submission(storage, edition.id, arrival("file:y", refused="A film."), NOW)
    counts = count_pictures(storage, edition.id)
    assert (counts.total, counts.sure, counts.unsure, counts.not_placed, counts.refused, counts.waiting) == (
        5,
        1,
        1,
        1,
        1,
        1,
    )
    order = [p.picture.id for p in list_pictures(storage, edition.id)]
    assert order == [5, 4, 3, 2, 1]  # the last received first; without a received time, when it was stored
    assert neighbours_of(storage, 3) == (4, 2)
    assert neighbours_of(storage, 5) == (None, 4)
    assert neighbours_of(storage, 99) == (None, None)
    assert [p.picture.id for p in list_pictures(storage, edition.id, 2, 2)] == [3, 2]


def test_another_connection_reads_while_one_writes(config, storage):
    edition = add_edition(storage, PLAN)
    with Storage(config.data_dir) as reader, storage.writing():
        storage.execute("update editions set day_number = 3")
        assert list_editions(reader) == (edition,)


def _open(data_dir):
    Storage(data_dir).close()


def test_two_programs_open_a_fresh_store_at_once(tmp_path):
    context = multiprocessing.get_context("spawn")
    processes = [context.Process(target=_open, args=(tmp_path / "fresh",)) for _ in range(3)]
    for p in processes:
        p.start()
    for p in processes:
        p.join(30)
    assert [p.exitcode for p in processes] == [0, 0, 0]


def test_a_file_that_is_no_database_is_told(tmp_path):
    (tmp_path / DATABASE_NAME).write_bytes(b"not a database at all, but long enough to be looked at" * 50)
    with pytest.raises(StorageError, match="not a database"):
        Storage(tmp_path)


def test_a_new_store_has_all_steps_noted_and_a_log(tmp_path):
    Storage(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / DATABASE_NAME)) as connection:
        names = [row[0] for row in connection.execute("select name from _sqlite_migrations order by id")]
        assert names == list(KNOWN)
        assert connection.execute("pragma journal_mode").fetchone() == ("wal",)


def first_release(folder):
    with zipfile.ZipFile(Path(__file__).parents[1] / "reference" / "first_release_store.zip") as packed:
        packed.extract(DATABASE_NAME, folder)
    return folder / DATABASE_NAME


def tables_of(path):
    """Each table, index as its statement, without comments, layout and quotes."""
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute("select name, sql from sqlite_master where sql is not null").fetchall()
    return {name: plain_sql(sql) for name, sql in rows}


def plain_sql(sql):
    bare = " ".join(re.sub(r"--[^\n]*", "", sql).replace('"', "").split()).casefold()
    if bare.startswith("create trigger"):
        return bare, [], ""
    head, _, inside = re.sub(r" ?([(),]) ?", r"\1", bare).partition("(")
    lines, end = re.split(r",(?![^()]*\))", inside[: inside.rindex(")")]), inside[inside.rindex(")") :]
    if head.startswith("create table"):  # a column added later stands behind the conditions of the whole table
        lines.sort(key=lambda line: line.startswith(("unique(", "primary key(")))
    return head, lines, end


def test_an_older_store_gets_the_same_tables_as_a_new_one(tmp_path):
    path = first_release(tmp_path / "old")
    assert tables_of(path) != tables_of(new_store(tmp_path))
    Storage(tmp_path / "old").close()
    assert tables_of(path) == tables_of(new_store(tmp_path))


def new_store(folder):
    Storage(folder / "new").close()
    return folder / "new" / DATABASE_NAME


def test_the_names_of_the_steps_are_those_of_the_steps():
    assert [*FIRST_RELEASE, *(step.name for step in migrations.pending(Database(memory=True)))] == list(KNOWN)


def test_a_step_that_fails_leaves_an_older_store_as_it_was(tmp_path, monkeypatch):
    failing = Migrations("moondesk")
    for step in migrations.pending(Database(memory=True)):
        failing(name=step.name)(step.fn)

    @failing()
    def m999_failing(db):
        db.execute("create table half (id integer)")
        raise OSError("the power went")

    path = first_release(tmp_path)
    before = tables_of(path)
    monkeypatch.setattr(steps, "migrations", failing)
    with pytest.raises(OSError, match="the power went"):
        Storage(tmp_path)
    assert tables_of(path) == before
    monkeypatch.undo()
    Storage(tmp_path).close()
    assert tables_of(path) == tables_of(new_store(tmp_path))


def test_a_store_from_before_the_first_release_is_refused(tmp_path):
    path = first_release(tmp_path)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("delete from _sqlite_migrations where name = 'm020_aired'")
    with pytest.raises(StorageError, match="older than the first release"):
        Storage(tmp_path)
