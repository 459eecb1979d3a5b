"""Names in any script: which face, how letters join and follow, and a sign that none has.

What a face has and how it shapes is asked of fontTools and of Pillow (with its own build of HarfBuzz and FriBidi),
which this code does not use for it; the order of directions is held against examples worked by the rules of UAX 9.
"""

from __future__ import annotations

import hashlib
import io
import json
import unicodedata
from importlib.resources import files

import numpy as np
import pytest
from fontTools.ttLib import TTFont
from PIL import Image, ImageDraw, ImageFont, features

from moondesk.drawing.paint import coverage
from moondesk.drawing.text import TextLine, _levels, clean_text, set_line, wrap_text
from moondesk.drawing.typefaces import BOLD, order
from moondesk.records import NotFound

FONTS = files("moondesk.drawing").joinpath("fonts")
#: Script, name (invented), the face that has it.
NAMES = {
    "Latin": ("Grégoire Łącki-Åström", "noto-sans-latin-ext-600.woff"),
    "Vietnamese": ("Nguyễn Thị Hồng Ánh", "noto-sans-vietnamese-600.woff"),
    "Cyrillic": ("Юлия Щербак", "noto-sans-cyrillic-600.woff"),
    "Greek": ("Ελένη Παπαδοπούλου", "noto-sans-greek-600.woff"),
    "Devanagari": ("ज्ञानेश्वर क्षत्रिय", "noto-sans-devanagari-600.woff"),
    "Arabic": ("ليلى حداد", "noto-sans-arabic-600.woff"),
    "Hebrew": ("רות כהן", "noto-sans-hebrew-600.woff"),
    "Bengali": ("স্ত্রী বাংলা", "noto-sans-bengali-600.woff"),
    "Thai": ("แก้ว กุ้ง", "noto-sans-thai-600.woff"),
    "Tamil": ("தமிழ் ராஜா", "noto-sans-tamil-600.woff"),
    "Georgian": ("ნინო", "noto-sans-georgian-600.woff"),
    "Japanese": ("山田さくら", "noto-sans-jp-japanese-600.woff"),
    "Chinese": ("王小明", "noto-sans-sc-chinese-simplified-600.woff"),
    "Korean": ("김민지", "noto-sans-kr-korean-600.woff"),
}


def opened(name):
    plain = io.BytesIO()
    face = TTFont(io.BytesIO(FONTS.joinpath(name).read_bytes()))
    face.flavor = None
    face.save(plain)
    return face, plain.getvalue()


def drawn(line):
    """The line as pixels, 0..255."""
    return coverage(line.at(10.0, 100.0, "#ffffff")[0].outlines)[2]


def test_every_packaged_face_is_the_one_written_down_and_has_its_licence():
    told = json.loads(FONTS.joinpath("fonts.json").read_text())
    assert len(told) >= 20
    for entry in told:
        data = FONTS.joinpath(entry["file"]).read_bytes()
        assert hashlib.sha256(data).hexdigest() == entry["sha256"], entry["file"]
        licence = FONTS.joinpath(f"{entry['package'].partition('/')[2]}.LICENSE.txt").read_text()
        assert "SIL Open Font License, Version 1.1" in licence
    assert {e["file"] for e in told} == {p.name for p in FONTS.iterdir() if p.name.endswith(".woff")}


@pytest.mark.parametrize("script", NAMES)
def test_a_name_is_set_in_the_face_of_its_script(script):
    text, name = NAMES[script]
    signs = set(opened(name)[0].getBestCmap())
    own = [c for c in text if ord(c) in signs]
    assert own
    chosen = {next(f.file for f in order(text, BOLD) if f.has(c)) for c in own if not c.isspace() and not c.isascii()}
    assert name in chosen
    line = set_line(text, 60.0)
    assert isinstance(line, TextLine), line
    assert line.ink.height > 30
    assert (drawn(line) == 255).sum() > 60 * 15


@pytest.mark.skipif(not features.check("fribidi"), reason="this Pillow cannot join letters")
@pytest.mark.parametrize("script", ["Devanagari", "Arabic", "Hebrew", "Bengali", "Thai", "Cyrillic", "Korean"])
def test_letters_join_and_follow_as_pillow_has_them(script):
    """The same face by another library: as wide to a pixel, and the same ink."""
    text, name = NAMES[script]
    word = text.split()[0]
    face = ImageFont.truetype(io.BytesIO(opened(name)[1]), 80, layout_engine=ImageFont.Layout.RAQM)
    line = set_line(word, 80.0)
    assert line.advance == pytest.approx(face.getlength(word), abs=1.5)
    image = Image.new("L", (int(line.advance) + 60, 240))
    ImageDraw.Draw(image).text((20, 150), word, fill=255, font=face, anchor="ls")
    x0, y0, cover = coverage(line.at(20.0, 150.0, "#ffffff")[0].outlines)
    ours = np.zeros((240, image.width))
    ours[y0 : y0 + cover.shape[0], x0 : x0 + cover.shape[1]] = cover
    theirs = np.asarray(image, float)
    assert np.abs(ours - theirs).sum() < 0.2 * theirs.sum()  # edges are rounded otherwise; another form is beyond 0.5


@pytest.mark.parametrize(
    ("text", "levels"),
    [
        ("abc", "000"),
        ("שלום", "1111"),
        ("ab שלום cd", "0001111000"),  # a space between two directions is the line's (N2)
        ("שלום ab", "1111122"),  # the line goes leftwards by its first letter (P2, P3)
        ("ab ליל 12", "000111122"),  # a number after leftward letters keeps its own order (W2, I1)
        ("12 ab", "00000"),
    ],
)
def test_directions_of_text(text, levels):
    """Levels worked by hand from UAX 9's rules as the module names them."""
    assert "".join(map(str, _levels(text))) == levels


def test_latin_within_arabic_stands_to_the_left_of_what_it_follows():
    """Ink of the Latin word of a line that goes leftwards, told by the width of the Arabic one alone."""
    whole, alone = set_line("ليلى Vega", 60.0), set_line("ليلى", 60.0)
    latin = set_line("Vega", 60.0)
    left = drawn(whole)[:, : int(latin.ink.width)]
    assert (left > 128).sum() == pytest.approx((drawn(latin) > 128).sum(), rel=0.1)
    assert whole.ink.width > latin.ink.width + alone.ink.width


def test_accents_are_composed_and_hidden_signs_go():
    assert clean_text("  Zoe\u0308\u200e \u00a0Vale\n") == "Zoë Vale"
    assert unicodedata.is_normalized("NFC", clean_text("Nguye\u0302\u0303n"))
    assert isinstance(set_line("Nguye\u0302\u0303n", 40.0), TextLine)


@pytest.mark.parametrize(
    ("text", "sign"), [("Mina \U0001f319", "U+1F319"), ("\ua000", "U+A000"), ("A\u20e3", "U+20E3")]
)
def test_a_missing_sign_is_named_with_the_name_it_is_in(text, sign):
    found = set_line(text, 40.0)
    assert isinstance(found, NotFound)
    assert text in found.reason
    assert sign in found.reason


def test_lines_break_at_spaces_and_evenly():
    """Of the three ways to part five words into two lines at their middle, the one whose longer line is shortest."""
    lines = wrap_text("Eine lange Reihe von Namen", 40.0, BOLD, 340.0, 3)
    assert [line.text for line in lines] == ["Eine lange", "Reihe von Namen"]
    assert max(line.ink.width for line in lines) <= 340.0
    assert len(wrap_text("Eine lange Reihe von Namen", 40.0, BOLD, 1000.0, 3)) == 1


def test_nothing_to_set_is_a_wrong_call():
    with pytest.raises(ValueError, match="nothing to set"):
        set_line(" \u200e ", 40.0)
