"""What people decide by hand, and placing by the queue: neither undoes the other."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import fakes
import pytest

from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store import decisions, queue
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.decided import DecidedChange
from moondesk.service.store.pictures import list_pictures

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
MIRRORED = DecidedChange("hand", {"mirrored": True})


@pytest.fixture
def picture(tmp_path, storage, media, config):
    (tmp_path / "one.png").write_bytes(fakes.png())
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(
        Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(
            tmp_path / "one.png"
        )
    )
    return list_pictures(storage, edition.id)[0].picture.id


def decide(storage, picture):
    with storage.writing():
        decisions.insert_changes(storage, picture, [MIRRORED], "Ida", NOW)


def engine(version, asked):
    """One that says by which hand it was asked to place, if by any."""

    def correct(data, known, corrections, earlier=None):
        asked.append(corrections.mirrored)
        return fakes.annotation(known=known)

    return lambda: replace(fakes.load(), version=version, correct=correct)


def place(storage, media, config, version, asked, pool=None):
    load = engine(version, asked)
    return list(place_waiting(storage, media, config, load, version, lambda: NOW, pool or InProcess()))


def test_a_newer_core_places_with_what_was_decided(picture, storage, media, config):
    asked = []
    place(storage, media, config, "1", asked)
    assert asked == []
    decide(storage, picture)
    assert len(place(storage, media, config, "2", asked)) == 1
    assert asked == [True]
    assert (
        read_annotation(storage, picture).derived_key
        != storage.read("select derived_key from annotations order by id limit 1")[0]["derived_key"]
    )


def test_what_is_decided_while_it_is_placed_is_not_lost(picture, storage, media, config):
    class Slow(InProcess):
        """Somebody corrects the picture while its worker is at it."""

        def submit(self, fn, /, *args, **kwargs):
            if not decisions.decisions_of(storage, picture):
                decide(storage, picture)
            return super().submit(fn, *args, **kwargs)

    asked = []
    placed = place(storage, media, config, "1", asked, Slow())
    assert asked == [True], "the first was thrown away, the second knew the decision"
    assert len(placed) == 1
    assert queue.counts(storage, "1", NOW) == queue.QueueCounts(0, 0, 0)
