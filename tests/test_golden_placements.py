"""No placement moves by itself: every picture of the sets in `tests/golden` is placed as it was recorded.

python -m pytest tests/test_golden_placements.py                                   # samples and rendered scenes
MOONDESK_SHARED=FOLDER python -m pytest -m slow tests/test_golden_placements.py    # the folder's pictures
"""

from __future__ import annotations

import copy

import pytest

from moondesk.revisions import PLACEMENT
from tests.golden.placements import PICTURES, SHARED, advice, compute, libraries, moves, names_of, recorded_set, table

QUICK = ("samples", "rendered")
#: As recorded: collected without a look at the pictures.
RECORDED = {part: recorded_set(part) for part in PICTURES}


def check(part: str, name: str) -> None:
    head, lines = RECORDED[part]
    rows = moves(lines[name], compute(part, name))
    if rows and head["libraries"] != libraries():
        pytest.skip(f"placed otherwise, but recorded with other libraries or on another processor: {head['libraries']}")
    if rows:
        pytest.fail(f"{table(rows)}\n\n{advice(part, head['placement'])}", pytrace=False)


@pytest.mark.parametrize(("part", "name"), [(part, name) for part in QUICK for name in RECORDED[part][1]])
def test_placed_as_recorded(part: str, name: str) -> None:
    check(part, name)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("part", "name"), [(part, name) for part in PICTURES if part not in QUICK for name in RECORDED[part][1]]
)
def test_shared_picture_placed_as_recorded(part: str, name: str) -> None:
    if not (SHARED / part / name).exists():
        pytest.skip("the pictures are not here (MOONDESK_SHARED)")
    check(part, name)


@pytest.mark.parametrize("part", QUICK)
def test_recorded_under_the_placement_number_of_today(part: str) -> None:
    assert RECORDED[part][0]["placement"] == PLACEMENT, advice(part, RECORDED[part][0]["placement"])


@pytest.mark.parametrize("part", QUICK)
def test_every_picture_is_recorded(part: str) -> None:
    assert names_of(part) == list(RECORDED[part][1])


def test_a_small_move_is_noticed_and_a_smaller_one_is_not() -> None:
    line = RECORDED["rendered"][1]["clean"]
    radius = line["pose"]["radius_px"]
    assert moves(line, copy.deepcopy(line)) == []
    for key, unit in (
        ("x", radius),
        ("radius_px", radius),
        ("north_screen_deg", 57.29578),
        ("libration_lat_deg", 57.29578),
    ):
        for pct_radius, expected in ((0.0005, []), (0.0015, [key])):
            other = copy.deepcopy(line)
            other["pose"][key] += pct_radius / 100 * unit
            assert [move.what for move in moves(line, other)] == expected
    other = copy.deepcopy(line)
    other["pose"]["mirrored"] = not line["pose"]["mirrored"]
    assert [move.what for move in moves(line, other)] == ["mirrored"]
