"""Placing in worker processes: order kept, one bad picture never stops the rest, derived files without metadata."""

from __future__ import annotations

import dataclasses
import functools
from datetime import UTC, datetime

import fakes
import pytest
from PIL import Image

from moondesk.records import Known
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.hand_corrections import draw_missing
from moondesk.service.jobs.placing import PlacingJob, place_all
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store.pictures import list_pictures

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


def jobs(tmp_path, widths):
    made = []
    for k, width in enumerate(widths):
        path = tmp_path / f"{k}.png"
        path.write_bytes(fakes.png(width, shade=k))
        made.append(PlacingJob(path=path, known=Known()))
    return made


def statuses(placed):
    return [p.annotation.status for p in placed]


def test_a_fault_in_the_core_is_one_unreadable_picture(tmp_path, caplog):
    listed = jobs(tmp_path, [80, fakes.RAISES, fakes.NOT_MOON, 80])
    listed.insert(1, PlacingJob(path=tmp_path / "gone.png", known=Known()))
    placed = list(place_all(listed, fakes.load, 0, 60))
    assert statuses(placed) == ["annotated", "unreadable", "unreadable", "not_moon", "annotated"]
    assert placed[1].annotation.reason == "The file cannot be read: No such file or directory."
    assert placed[2].annotation.reason == "The tool failed on this picture (RuntimeError: a planted fault)."


def test_a_killed_worker_costs_only_its_own_picture(tmp_path):
    placed = list(place_all(jobs(tmp_path, [80, 80, fakes.CRASHES, 80, 80, 80]), fakes.load, 2, 60))
    assert statuses(placed) == ["annotated", "annotated", "unreadable", "annotated", "annotated", "annotated"]
    assert placed[2].annotation.reason == "The picture made the program that opens it stop."
    assert all(len(p.sha256) == 64 for p in placed)


def test_a_picture_that_hangs_is_given_up(tmp_path):
    placed = list(place_all(jobs(tmp_path, [fakes.HANGS, 80]), fakes.load, 1, 1))
    assert statuses(placed) == ["unreadable", "annotated"]
    assert placed[0].annotation.reason == "The picture took longer than 1 s."


def take_and_place(folder, storage, media, config, load=fakes.load):
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    return list(place_waiting(storage, media, config, load, load().version, lambda: NOW))


def test_placed_pictures_are_stored_once_per_version(folder, storage, media, config):
    placed = take_and_place(folder, storage, media, config)
    assert len(placed) == 3
    assert {s.annotation.status for _, s in placed} == {"annotated"}
    assert take_and_place(folder, storage, media, config) == []
    summary = next(p.summary for p in list_pictures(storage, 1) if p.summary)
    assert summary.best_seen == ("Copernicus", "Mare Imbrium (Sea of Rains)")


def here(fn, *args):
    return fn(fakes.load(), *args)


def test_derived_pictures_carry_no_metadata(folder, storage, media, config):
    for picture, stored in take_and_place(folder, storage, media, config):
        sha = picture.enclosure.sha256
        assert media.derived(sha, stored.derived_key, "labelled") is None, "drawn when it is asked for"
        draw_missing(here, media.path(sha), stored.annotation, media.derived_folder(sha, stored.derived_key))
        for role in ("photo", "thumbnail", "labelled", "upright"):
            path = media.derived(picture.enclosure.sha256, stored.derived_key, role)
            with Image.open(path) as derived:
                assert not derived.getexif(), role
                assert not {"exif", "icc_profile", "comment", "xmp", "Software"} & set(derived.info), role
            assert b"Camera maker" not in path.read_bytes()
        assert "<g" in media.derived(picture.enclosure.sha256, stored.derived_key, "overlay").read_text()


def test_a_failing_drawing_does_not_cost_the_placement(folder, storage, media, config, caplog):
    placed = take_and_place(folder, storage, media, config, _load_bad_pen)
    assert {s.annotation.status for _, s in placed} == {"annotated"}
    assert "overlay could not be made" in caplog.text
    picture, stored = placed[0]
    assert media.derived(picture.enclosure.sha256, stored.derived_key, "photo")
    assert media.derived(picture.enclosure.sha256, stored.derived_key, "overlay") is None


def _bad_pen(*_):
    raise ValueError("no ink")


@functools.cache
def _load_bad_pen():
    engine = fakes.load()
    return dataclasses.replace(engine, overlay_svg=_bad_pen)


@pytest.mark.parametrize("workers", [0, 2])
def test_nothing_to_place(workers):
    assert list(place_all([], fakes.load, workers, 60)) == []
