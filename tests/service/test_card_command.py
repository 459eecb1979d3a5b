"""`moondesk card`: of what may be shown, with the sender's own name, or not at all."""

from __future__ import annotations

import pytest
from click.testing import CliRunner
from fakes import add_edition
from PIL import Image
from test_composite_command import add

from moondesk.service.cli.main import main
from moondesk.service.store.records import EditionPlan, Suggestion


def run(config, *asked):
    told = CliRunner().invoke(main, ["card", *map(str, asked), "--data", str(config.data_dir)])
    return told.exit_code, told.output


@pytest.mark.parametrize(("shape", "size"), [("feed", (1080, 1350)), ("story", (1080, 1920))])
def test_a_card_in_both_sizes(storage, media, config, tmp_path, shape, size):
    add(storage, media, add_edition(storage, EditionPlan(number=12)), 1, "Þóra")
    code, told = run(config, 1, "--out", tmp_path / "card.png", "--for", shape)
    assert code == 0, told
    with Image.open(tmp_path / "card.png") as image:
        assert image.size == size
        assert image.info.keys() <= {"srgb"}


@pytest.mark.parametrize(
    ("state", "name", "more", "why"),
    [
        ("refused", "Dora", {}, "does not want it shown"),
        ("asked", "Dora", {}, "has not answered"),
        ("given", "", {}, "how the sender is to be named"),
        (
            "given",
            "Dora",
            {"suggestions": (Suggestion("unnamed", "yes", "please no name", "mail"),)},
            "asks not to be named",
        ),
    ],
)
def test_no_card_without_permission_or_name(storage, media, config, tmp_path, state, name, more, why):
    add(storage, media, add_edition(storage, EditionPlan(number=12)), 1, name, state, **more)
    code, told = run(config, 1, "--out", tmp_path / "card.png")
    assert code == 3
    assert why in told
    assert not (tmp_path / "card.png").exists()


def test_a_number_that_is_no_picture_is_told(storage, config, tmp_path):
    add_edition(storage, EditionPlan(number=12))
    code, told = run(config, 99, "--out", tmp_path / "card.png")
    assert (code, "no picture 99" in told) == (3, True)
