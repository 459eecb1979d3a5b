"""Theme files: what they may say, and that a slip in one is told in a sentence and never passes for a look."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from moondesk.drawing.lower_third import read_logo
from moondesk.drawing.text import set_line
from moondesk.drawing.theme import GROUNDS, LEAST_CONTRAST, LETTERS, NIGHTGLASS, THEMES, Theme, contrast_ratio
from moondesk.drawing.typefaces import BOLD
from moondesk.service.errors import BadInputError
from moondesk.service.settings.themes import read_theme

WHOLE = """
name = "Evening Post"
lower_third = "line"
logo = "post.png"
logo_corner = "upper left"
[colours]
text = "#FFFFFF"
seas = "#9fd0ff"
"""


@pytest.fixture
def folder(tmp_path):
    done, data = cv2.imencode(".png", np.full((40, 120, 4), 200, np.uint8))
    assert done
    (tmp_path / "post.png").write_bytes(data.tobytes())
    done, data = cv2.imencode(".png", np.full((40, 120, 3), 200, np.uint8))
    (tmp_path / "flat.png").write_bytes(data.tobytes())
    (tmp_path / "no.ttf").write_bytes(b"no font at all")
    return tmp_path


def test_a_file_is_read(folder):
    (folder / "post.toml").write_text(WHOLE)
    theme = read_theme("post.toml", folder)
    assert (theme.name, theme.lower_third, theme.text, theme.seas) == ("Evening Post", "line", "#ffffff", "#9fd0ff")
    assert theme.craters == NIGHTGLASS.craters  # what is not said
    assert theme.logo is not None
    assert read_logo(theme.logo.data).shape == (40, 120, 4)
    assert read_theme("paper-almanac", folder) is THEMES["paper-almanac"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('nmae = "x"', "did you mean 'name'?"),
        ('[colours]\nsea = "#ffffff"', "did you mean 'seas'?"),
        ('[colours]\nseas = "blue"', "is no colour like"),
        ('[colours]\nseas = "#202020"', "seas on plate has a contrast of 1"),
        ('[colours]\nplate = "#b0b0b0"', "on plate has a contrast of"),
        ("[colours]\nseas = 5", "must be in quotation marks"),
        ('colours = "red"', "written [colours]"),
        ('lower_third = "box"', "one of rule, plate, line"),
        ('logo_corner = "middle"', "one of upper left, upper right"),
        ('logo = "gone.png"', "cannot be read"),
        ('logo = "flat.png"', "no alpha channel"),
        ('logo = "no.ttf"', "it is no PNG"),
        ('typeface = "no.ttf"', "no font file that can be read"),
        ("name = ", "cannot be read"),
    ],
)
def test_a_slip_is_told_in_a_sentence(folder, text, told):
    (folder / "slip.toml").write_text(text)
    with pytest.raises(BadInputError) as caught:
        read_theme("slip.toml", folder)
    assert told in str(caught.value)
    assert "slip.toml" in str(caught.value)
    assert caught.value.advice


def test_a_name_that_is_none_is_told_with_those_that_there_are(folder):
    with pytest.raises(BadInputError) as caught:
        read_theme("nightglas", folder)
    assert "nightglass" in caught.value.advice
    with pytest.raises(BadInputError, match="cannot be read"):
        read_theme("gone.toml", folder)


def test_a_typeface_of_its_own_is_set_as_high_as_the_packaged_one(folder):
    from importlib.resources import files

    face = files("moondesk").joinpath("data", "DejaVuSansCondensed-Bold.ttf").read_bytes()
    (folder / "own.ttf").write_bytes(face)
    (folder / "own.toml").write_text('typeface = "own.ttf"')
    theme = read_theme("own.toml", folder)
    line, usual = set_line("H", 100.0, theme.cut(BOLD)), set_line("H", 100.0, BOLD)
    assert line.ink.height == pytest.approx(usual.ink.height, abs=0.8)
    assert line.ink.width != pytest.approx(usual.ink.width, abs=0.5)
    assert set_line("雨の海", 100.0, theme.cut(BOLD)).ink.width > 0  # signs that it lacks are the packaged ones'


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_letters_of_every_theme_can_be_read(theme):
    assert isinstance(theme, Theme)
    for ink in LETTERS:
        for ground in (*(getattr(theme, g) for g in GROUNDS), "#000000"):
            assert contrast_ratio(getattr(theme, ink), ground) >= LEAST_CONTRAST, ink
