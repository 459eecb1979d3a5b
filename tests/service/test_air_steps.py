"""What stands on air at the desk: no count from the future, and no full disk, stops the steps that follow."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from desk_people import token_of
from fakes import add_edition

from moondesk.service.errors import StorageError
from moondesk.service.programme.air_plan import AirPlan
from moondesk.service.store import air
from moondesk.service.store.air import AHEAD_MS, AirState
from moondesk.service.store.records import EditionPlan
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.onair.frame_maker import FrameMaker
from moondesk.service.web.desk.onair.steps import Steps

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
NOW_MS = int(NOW.timestamp() * 1000)
FAR = 2**53 - 1


@pytest.fixture
def edition(storage):
    return add_edition(storage, EditionPlan(number=12))


@pytest.fixture
def client(config, edition):
    return create_app(config, now=lambda: NOW).test_client()


def put(client, at, count):
    return client.post(
        "/air/12/state",
        json={"state": {"step": {"item": 1, "count": count}}, "at": at},
        headers={"X-Form-Token": token_of(client, "/add")},
    )


def test_a_step_from_the_future_is_refused_and_the_next_one_counts(client):
    refused = put(client, FAR, 1)
    assert (refused.status_code, refused.json) == (
        409,
        {"state": {}, "at": 0, "now": NOW_MS, "stopped": [], "withdrawn": 0, "pages": 0},
    )
    assert put(client, NOW_MS + AHEAD_MS + 1, 1).status_code == 409
    assert put(client, NOW_MS, 2).json["state"]["step"]["count"] == 2
    assert put(client, NOW_MS - 1, 3).json["state"]["step"]["count"] == 2  # an earlier one
    assert client.get("/air/12/state").json == {
        "state": {"step": {"item": 1, "count": 2}},
        "at": NOW_MS,
        "now": NOW_MS,
        "stopped": [],
        "withdrawn": 0,
        "pages": 0,
    }


def test_a_store_that_holds_a_step_from_the_future_is_healed_by_the_next_one(client, storage, edition):
    air.keep_state(storage, edition.id, AirState(FAR, {"step": {"item": 7, "count": 0}}), FAR)
    told = client.get("/air/12/state").json
    assert (told["state"]["step"]["item"], told["at"]) == (7, 1)  # it stands, and anything outbids it
    assert put(client, NOW_MS, 2).json["at"] == NOW_MS
    assert air.state(storage, edition.id, NOW_MS) == AirState(NOW_MS, {"step": {"item": 1, "count": 2}})


def test_on_a_full_disk_the_steps_go_on_from_memory(storage, edition, monkeypatch, caplog):
    steps = Steps()
    assert steps.put(storage, edition.id, AirState(NOW_MS, {"step": 1}), NOW_MS).state == {"step": 1}

    def full(*_):
        raise StorageError("The store answered: database or disk is full.", "")

    with monkeypatch.context() as broken:
        broken.setattr(Storage, "writing", full)
        assert steps.put(storage, edition.id, AirState(NOW_MS + 5, {"step": 2}), NOW_MS + 5).state == {"step": 2}
        assert steps.put(storage, edition.id, AirState(NOW_MS + 4, {"step": 9}), NOW_MS + 5).state == {"step": 2}
        assert steps.now(storage, edition.id, NOW_MS + 6) == AirState(NOW_MS + 5, {"step": 2})
    assert "in memory alone" in caplog.text
    steps.put(storage, edition.id, AirState(NOW_MS + 7, {"step": 3}), NOW_MS + 7)  # there is room again
    assert air.state(storage, edition.id, NOW_MS + 7) == AirState(NOW_MS + 7, {"step": 3})


def test_frames_are_made_once_at_a_time_and_what_fails_is_told():
    maker, began, go_on = FrameMaker(), threading.Semaphore(0), threading.Event()
    waiting = AirPlan(edition=12, programme="", items=(), left_out=(), spare=None, making=("Ilse", "Bo"))

    def make():
        began.release()
        assert go_on.wait(10)
        return replace(waiting, left_out=(("Ilse", "The picture took too long."), ("Cy", "No consent.")), making=())

    for _ in range(3):
        maker.begin(1, "hd", waiting.making, make)
    assert began.acquire(timeout=10)
    assert not began.acquire(timeout=0.1)  # the others wait for the first
    assert maker.amend(1, "hd", waiting) == waiting
    go_on.set()
    while (told := maker.amend(1, "hd", waiting)) == waiting:
        time.sleep(0.01)
    assert told.making == ("Bo",)
    assert told.left_out == (("Ilse", "The picture took too long."),)
    maker.begin(1, "hd", waiting.making, make)
    assert not began.acquire(timeout=0.1)  # it is tried again, but not at once
