"""Nothing that others see has changed but what was meant to: see `tests.snapshots`, also for recording anew."""

from __future__ import annotations

import pytest

from moondesk.service.intake.picture_formats import missing_extras
from tests.snapshots import FOLDER, difference
from tests.snapshots.making import SNAPSHOTS


@pytest.mark.parametrize("name", SNAPSHOTS)
def test_what_others_see_is_as_recorded(name):
    if name == "pages.txt" and missing_extras():
        pytest.skip("extras are not installed, and the pages that list formats say so")
    told = difference(name, SNAPSHOTS[name]())
    if told:
        pytest.fail(f"{told}\n\nIf this is meant: python -m tests.snapshots --record", pytrace=False)


def test_every_file_is_of_a_snapshot():
    assert {path.name for path in FOLDER.iterdir() if path.suffix in (".json", ".txt")} == set(SNAPSHOTS)


def test_a_number_differs_by_more_than_rounding_alone(tmp_path, monkeypatch):
    monkeypatch.setattr("tests.snapshots.FOLDER", tmp_path)
    (tmp_path / "x.json").write_text('{"x": 840.16, "n": 3,\n"sun": -1.3047, "at": "2026-10-17T20:10:31Z"}\n')
    assert not difference("x.json", '{"x": 840.18, "n": 3,\n"sun": -1.3046, "at": "2026-10-17T20:10:25Z"}\n')
    told = difference("x.json", '{"x": 840.16, "n": 4,\n"sun": -1.3260, "at": "2026-10-17T20:41:31Z"}\n')
    assert '+{"x": 840.16, "n": 4,' in told
    assert '+"sun": -1.3260, "at": "2026-10-17T20:41:31Z"}' in told
