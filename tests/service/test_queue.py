"""The queue: one worker at a time has a picture, a vanished one's are taken up again, a bad one is put aside."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import fakes
import pytest
from fakes import add_edition

from moondesk.records import Status
from moondesk.sentences import sentences_of
from moondesk.service.cli import placing
from moondesk.service.jobs import queue_owners
from moondesk.service.jobs.housekeeping import run_housekeeping_once
from moondesk.service.store import queue
from moondesk.service.store.annotations import add_annotation, read_annotation
from moondesk.service.store.editions import list_editions
from moondesk.service.store.messages import in_words
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure, StoredAnnotation
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import add_submission, each_submission
from moondesk.service.store.superseded import Superseded, sweep_superseded

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
LATER = NOW + timedelta(seconds=61)


@pytest.fixture
def waiting(storage):
    """Ten pictures that wait, and one that was refused."""
    edition = add_edition(storage, EditionPlan(number=1))
    for k in range(10):
        add_submission(
            storage,
            edition.id,
            Arrival(
                key=f"file:{k:064x}",
                source="folder",
                origin=f"{k}.png",
                enclosures=(
                    Enclosure(given_name=f"{k}.png", size_bytes=10, sha256=f"{k:064x}", media_type="image/png"),
                ),
            ),
            NOW,
        )
    add_submission(
        storage,
        edition.id,
        Arrival(
            key="file:ff",
            source="folder",
            origin="no.gif",
            enclosures=(
                Enclosure(
                    given_name="no.gif",
                    size_bytes=10,
                    sha256=f"{99:064x}",
                    media_type=None,
                    refusal=sentences_of("It is a GIF."),
                ),
            ),
        ),
        NOW,
    )
    return storage


def ids(leases):
    return [k.picture.id for k in leases]


def stored(picture_id, version="1", status=Status.ANNOTATED):
    made = fakes.annotation() if status == "annotated" else fakes.bare(status, "It hangs.")
    return StoredAnnotation(
        picture_id=picture_id, annotation=made, engine_version=version, made_utc=NOW, derived_key="0" * 16
    )


def test_nobody_gets_what_another_has_until_its_time_is_over(waiting):
    assert ids(queue.lease(waiting, "1", "a", 3, NOW, 60)) == [1, 2, 3]
    assert ids(queue.lease(waiting, "1", "b", 3, NOW, 60)) == [4, 5, 6]
    assert queue.counts(waiting, "1", NOW) == queue.QueueCounts(4, 6, 0)
    queue.renew(waiting, "b", NOW + timedelta(seconds=30), 60)
    again = queue.lease(waiting, "1", "c", 20, LATER, 60)  # a was killed, b lives
    assert ids(again) == [1, 2, 3, 7, 8, 9, 10]
    assert [k.attempts for k in again[:4]] == [2, 2, 2, 1]
    assert not queue.finish(waiting, "a", stored(1), ())  # it was only slow: c has the picture now
    assert queue.finish(waiting, "c", stored(1), ())
    assert queue.finish(waiting, "b", stored(4), ())
    assert not queue.finish(waiting, "b", stored(4), ())
    assert read_annotation(waiting, 1).engine_version == "1"


def test_what_is_done_is_due_again_for_another_version_only(waiting):
    for given in queue.lease(waiting, "1", "a", 20, NOW, 60):
        assert queue.finish(waiting, "a", stored(given.picture.id), ("Copernicus",))
    assert queue.lease(waiting, "1", "a", 20, NOW, 60) == ()
    assert len(queue.lease(waiting, "2", "a", 20, NOW, 60)) == 10


def test_a_picture_that_fails_again_and_again_is_put_aside_with_the_reason(waiting):
    for attempt in range(1, queue.FAILURES + 1):
        (given,) = queue.lease(waiting, "1", "a", 1, NOW, 60)
        assert (given.picture.id, given.attempts, given.failures) == (1, attempt, attempt - 1)
        aside = queue.fail(waiting, "a", 1, "1", in_words("It hangs."), stored(1, status=Status.UNREADABLE))
        assert aside == (attempt == queue.FAILURES)
    assert queue.quarantine(waiting) == {1: "It hangs."}
    assert read_annotation(waiting, 1).annotation.status == "unreadable"
    assert ids(queue.lease(waiting, "1", "a", 2, NOW, 60)) == [2, 3]  # the rest goes on
    assert [next(iter(listed.quarantined)) for listed in each_submission(waiting)][:2] == ["It hangs.", ""]
    assert queue.to_retry(waiting) == (1,)
    assert queue.ask_again(waiting, [1, 11, 12]) == 1  # 11 was refused: there is no picture to place
    assert ids(queue.lease(waiting, "1", "b", 1, NOW, 60)) == [1]
    assert queue.finish(waiting, "b", stored(1), ())
    assert queue.quarantine(waiting) == {}


def test_a_picture_whose_workers_vanish_is_put_aside_in_the_end(waiting):
    now = NOW
    for _ in range(queue.VANISHED):
        assert ids(queue.lease(waiting, "1", "a", 1, now, 60)) == [1]
        now += timedelta(seconds=61)
    assert ids(queue.lease(waiting, "1", "a", 2, now, 60)) == [2]
    assert "ended 10 times" in queue.quarantine(waiting)[1]


def test_what_is_given_back_does_not_count(waiting):
    for _ in range(queue.VANISHED + 5):
        assert ids(queue.lease(waiting, "1", "a", 1, NOW, 60)) == [1]
        queue.release(waiting, "a")


def test_two_takers_at_once_never_have_the_same_picture(waiting, config):
    edition = list_editions(waiting)[0]
    for k in range(200):
        add_submission(
            waiting,
            edition.id,
            Arrival(
                key=f"file:{1000 + k:064x}",
                source="folder",
                origin=f"{k}.png",
                enclosures=(
                    Enclosure(given_name=f"{k}.png", size_bytes=10, sha256=f"{1000 + k:064x}", media_type="image/png"),
                ),
            ),
            NOW,
        )
    got: dict[str, list[int]] = {name: [] for name in "abcd"}

    def take(owner):
        with Storage(config.data_dir) as mine:
            while given := queue.lease(mine, "1", owner, 3, NOW, 60):
                for one in given:
                    assert queue.finish(mine, owner, stored(one.picture.id), ())
                got[owner] += ids(given)

    threads = [threading.Thread(target=take, args=(name,)) for name in got]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    taken = sorted(k for one in got.values() for k in one)
    assert taken == [*range(1, 11), *range(12, 212)]


def test_tonights_pictures_are_placed_before_old_ones_are_placed_anew(storage):
    """An archive that a new release places anew, two editions with pictures of two evenings, one asked for again."""

    def came(edition, name, received):
        add_submission(
            storage,
            edition.id,
            Arrival(
                key=f"file:{name:0>64}",
                source="folder",
                origin=name,
                enclosures=(Enclosure(given_name=name, size_bytes=10, sha256=f"{name:0>64}", media_type="image/png"),),
                received_utc=received,
            ),
            NOW,
        )

    archive, tonight = add_edition(storage, EditionPlan(number=1)), add_edition(storage, EditionPlan(number=2))
    for k in range(3):
        came(archive, f"a{k}", NOW - timedelta(days=30 - k))
    for given in queue.lease(storage, "1", "a", 9, NOW, 60):
        assert queue.finish(storage, "a", stored(given.picture.id), ())
    came(archive, "b4", NOW - timedelta(days=2))
    came(tonight, "c5", NOW - timedelta(hours=11))  # the evening of the 25th, from noon to noon
    came(tonight, "c6", NOW - timedelta(hours=10))
    came(tonight, "c7", NOW - timedelta(days=1))  # the evening before
    queue.ask_again(storage, [2])
    assert ids(queue.lease(storage, "2", "a", 9, NOW, 60)) == [5, 6, 7, 4, 2, 3, 1]


def test_what_an_older_release_left_is_removed_unless_aired_or_corrected(storage, media):
    edition = add_edition(storage, EditionPlan(number=1))
    shas = [media.put(fakes.png(80 + k)) for k in range(4)]
    for k, sha in enumerate(shas):
        add_submission(
            storage,
            edition.id,
            Arrival(
                key=f"file:{k}",
                source="folder",
                origin=f"{k}.png",
                enclosures=(Enclosure(given_name=f"{k}.png", size_bytes=10, sha256=sha, media_type="image/png"),),
            ),
            NOW,
        )
    keys = {"1": "1" * 16, "2": "2" * 16}
    for version, key in keys.items():
        for number, sha in enumerate(shas, 1):
            if (version, number) != ("2", 4):  # the last is still to be placed anew
                add_annotation(
                    storage,
                    StoredAnnotation(
                        picture_id=number,
                        annotation=fakes.annotation(),
                        engine_version=version,
                        made_utc=NOW,
                        derived_key=key,
                    ),
                    (),
                )
            folder = media.derived_folder(sha, key)
            folder.mkdir(parents=True)
            (folder / "photo.jpg").write_bytes(b"x")
            os.utime(folder, (NOW.timestamp(), NOW.timestamp()))
    storage.execute(
        "insert into decisions (picture_id, kind, what, who, made_utc) values (2, 'equipment', '\"6 inch\"', 'Ada', '')"
    )
    storage.execute(
        "insert into aired (edition_id, item_id, picture_id, aired_utc, credit, frame) values (?, 1, 3, '', '', '')",
        [edition.id],
    )
    later = NOW + timedelta(minutes=1)
    assert sweep_superseded(storage, media, NOW) == Superseded(0, 0)  # superseded a moment ago: perhaps still on air
    assert sweep_superseded(storage, media, later) == Superseded(1, 2)
    left = storage.read("select picture_id, engine_version from annotations order by id")
    assert [tuple(row.values()) for row in left] == [(2, "1"), (3, "1"), (4, "1"), (1, "2"), (2, "2"), (3, "2")]
    there = [sorted(f.name[0] for f in media.derived_folder(sha, "0" * 16).parent.iterdir()) for sha in shas]
    assert there == [["2"], ["1", "2"], ["1", "2"], ["1"]]  # of the last, nothing names the folder of the new release
    assert sweep_superseded(storage, media, later) == Superseded(0, 0)
    assert read_annotation(storage, 1).derived_key == keys["2"]
    said = []
    storage.execute("delete from decisions")
    run_housekeeping_once(media.root, said.append, lambda: NOW + timedelta(days=1, minutes=1))
    assert any(line.startswith("Placed anew since, and removed: 1 older placings, 1 folders") for line in said), said


def test_what_a_program_had_that_is_gone_is_free_at_once(waiting):
    child = subprocess.run(
        [sys.executable, "-c", "from moondesk.service.jobs.queue_owners import owner_name; print(owner_name())"],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    gone, alive = child.stdout.strip(), queue_owners.owner_name()
    elsewhere = f"another-host/1:{os.getpid() + 1}:abcdef"
    earlier = alive.rpartition(":")[0] + ":000000000000"  # of a program before us with our number, as in a container
    for owner in (gone, alive, elsewhere, earlier):
        queue.lease(waiting, "1", owner, 2, NOW, 60)
    assert queue_owners.take_from_the_gone(waiting) == 4
    assert set(queue.owners(waiting)) == {alive, elsewhere}
    again = queue.lease(waiting, "1", "next", 20, NOW, 60)
    assert [k.picture.id for k in again] == [1, 2, 7, 8, 9, 10]
    assert [k.attempts for k in again] == [2, 2, 2, 2, 1, 1], "a picture that ends its worker is still found out"


def test_what_is_held_is_told_with_its_time(waiting, capsys, monkeypatch):
    assert queue.count_leased(waiting, NOW) == (0, None)
    queue.lease(waiting, "1", "another-host/1:7:ab", 3, NOW, 60)
    assert queue.count_leased(waiting, NOW) == (3, NOW + timedelta(seconds=60))
    assert queue.count_leased(waiting, LATER) == (0, None)
    monkeypatch.setattr(placing, "now", lambda: NOW)
    placing.tell_held(waiting)
    assert "3 pictures are held by another program that places; if it is gone, they are free from 08:01:00 UTC" in (
        capsys.readouterr().err
    )


def test_a_lease_from_before_the_clock_was_set_back_holds_nothing(waiting):
    queue.lease(waiting, "1", "a", 3, NOW, 90)
    before = NOW - timedelta(hours=2)
    assert queue.counts(waiting, "1", before) == queue.QueueCounts(10, 0, 0)
    assert queue.states(waiting, [1], before) == {1: "waiting"}
    assert ids(queue.lease(waiting, "1", "b", 3, before, 90)) == [1, 2, 3]
    assert not queue.finish(waiting, "a", stored(1), ()), "nothing is doubled where a was only slow"
    assert queue.finish(waiting, "b", stored(1), ())
