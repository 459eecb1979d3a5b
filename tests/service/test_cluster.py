"""The same work through a Dask cluster: one code path, a worker killed midway loses nothing."""

from __future__ import annotations

import os
import signal
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import fakes
import pytest
from fakes import add_edition

from moondesk.service.errors import BadInputError
from moondesk.service.jobs import placing
from moondesk.service.jobs.executors import ClusterPool, InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store import queue
from moondesk.service.store.media import sha256_of
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure
from moondesk.service.store.submissions import add_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


def fill(storage, media, widths):
    edition = add_edition(storage, EditionPlan(number=1))
    for k, width in enumerate(widths):
        data = fakes.png(width, shade=k)
        add_submission(
            storage,
            edition.id,
            Arrival(
                key=f"file:{k:064x}",
                source="folder",
                origin=f"{k}.png",
                enclosures=(
                    Enclosure(
                        given_name=f"{k}.png", size_bytes=len(data), sha256=media.put(data), media_type="image/png"
                    ),
                ),
            ),
            NOW,
        )


def place(storage, media, config, pool):
    return list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: datetime.now(UTC), pool))


@pytest.mark.parametrize("pool", [InProcess, lambda: ThreadPoolExecutor(3)])
def test_any_executor_will_do(storage, media, config, pool, caplog):
    fill(storage, media, [80, fakes.RAISES, fakes.NOT_MOON, 80])
    with pool() as opened:
        placed = place(storage, media, config, opened)
    assert [s.annotation.status for _, s in placed] == ["annotated", "unreadable", "not_moon", "annotated"]


def test_a_picture_that_ends_its_worker_is_put_aside_and_the_rest_goes_on(storage, media, config):
    from dataclasses import replace

    fill(storage, media, [80, fakes.CRASHES, 80])
    placed = place(storage, media, replace(config, workers=2), None)
    assert {p.id: s.annotation.status for p, s in placed} == {1: "annotated", 2: "unreadable", 3: "annotated"}
    assert queue.quarantine(storage) == {2: "The picture made the program that opens it stop."}
    assert queue.counts(storage, "fake 1", NOW) == queue.QueueCounts(0, 0, 1)


def test_an_original_that_the_worker_cannot_see_is_no_picture_without_a_moon(storage, media, config):
    fill(storage, media, [80])
    (media.root / "originals").rename(media.root / "elsewhere")
    ((_, stored),) = place(storage, media, config, InProcess())
    assert stored.annotation.reason.startswith("The file cannot be read")
    assert list(queue.quarantine(storage)) == [1]


def test_another_version_on_the_cluster_is_told(storage, media, config):
    fill(storage, media, [80])
    with pytest.raises(BadInputError, match="another version"):
        list(place_waiting(storage, media, config, fakes.load, "another", lambda: NOW, InProcess()))
    assert queue.counts(storage, "another", NOW) == queue.QueueCounts(1, 0, 0)


def test_what_is_wrong_with_the_cluster_is_blamed_on_no_picture(storage, media, config):
    """As where the scheduler has no such release: every call fails, and not one picture is put aside for it."""

    class Broken(InProcess):
        def submit(self, fn, /, *args, **kwargs):
            return super().submit(_unpickled)

    fill(storage, media, [80] * 5)
    for _ in range(queue.FAILURES + queue.VANISHED):
        with pytest.raises(BadInputError, match="cannot be placed where they were sent"):
            place(storage, media, config, Broken())
    assert queue.counts(storage, "fake 1", NOW) == queue.QueueCounts(5, 0, 0)
    assert len(place(storage, media, config, InProcess())) == 5


def test_a_result_that_cannot_be_packed_costs_its_own_picture_alone(storage, media, config, monkeypatch, caplog):
    fill(storage, media, [80, 81, 80])
    whole = placing._settle

    def packs(job, annotation, sha, problems=()):
        if sha == sha256_of(fakes.png(81, shade=1)):
            raise ValueError("a NaN")
        return whole(job, annotation, sha, problems)

    monkeypatch.setattr(placing, "_settle", packs)
    assert [s.annotation.status for _, s in place(storage, media, config, InProcess())] == [
        "annotated",
        "annotated",
        "unreadable",
    ]
    assert queue.quarantine(storage) == {2: "The tool failed on this picture (ValueError: a NaN)."}


def _unpickled():
    raise RuntimeError("Error during deserialization of the task graph.")


def test_nobody_at_the_address():
    pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    with pytest.raises(BadInputError, match="No cluster answers"):
        ClusterPool("no-scheme://nowhere", 5)


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    os.environ["PYTHONPATH"] = os.pathsep.join([os.path.dirname(__file__), *sys.path])  # the workers unpickle `fakes`
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50, host="127.0.0.1"
    ) as opened:
        yield opened


@pytest.mark.slow
def test_a_cluster_does_the_same(cluster, storage, media, config):
    fill(storage, media, [80, fakes.CRASHES, fakes.NOT_MOON, 80])
    with ClusterPool(cluster.scheduler_address, 30) as pool:
        assert pool.workers == 2
        placed = place(storage, media, config, pool)
    assert {p.id: s.annotation.status for p, s in placed} == {
        1: "annotated",
        2: "unreadable",
        3: "not_moon",
        4: "annotated",
    }
    assert queue.quarantine(storage) == {2: "The picture made the program that opens it stop."}


@pytest.mark.slow
def test_a_worker_killed_midway_loses_nothing(cluster, storage, media, config):
    fill(storage, media, [80] * 60)
    seen = []
    with ClusterPool(cluster.scheduler_address, 30) as pool:
        for picture, stored in place_waiting(
            storage, media, config, fakes.load, "fake 1", lambda: datetime.now(UTC), pool
        ):
            seen.append(picture.id)
            assert stored.annotation.status == "annotated"
            if len(seen) == 15:
                os.kill(next(iter(cluster.workers.values())).pid, signal.SIGKILL)
    assert sorted(seen) == list(range(1, 61))
    rows = storage.read("select count(*) as n, count(distinct picture_id) as m from annotations")
    assert rows == [{"n": 60, "m": 60}]
