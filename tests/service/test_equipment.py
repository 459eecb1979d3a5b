"""Equipment from a sender's words. The expected values are plain arithmetic: 1 inch is 25.4 mm exactly."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest

from moondesk.service.programme.equipment import equipment_words, optics_words
from moondesk.service.programme.letter.optics import Equipment, read_equipment
from moondesk.service.store.records import Arrival, Suggestion


@pytest.mark.parametrize(
    ("text", "aperture", "eyepiece", "kind"),
    [
        ("6 inch Dobsonian, 25 mm eyepiece", 152, 25, "Dobsonian"),
        ('I used my 6" Dobsonian with a 25mm Plössl.', 152, 25, "Dobsonian"),
        ("Taken through an 8-inch Schmidt-Cassegrain and a 32 mm Plossl eyepiece", 203, 32, "Schmidt-Cassegrain"),
        ("telescope: 150/750 Newtonian, eyepiece 10 mm", 150, 10, "Newtonian"),
        ("130/900 reflector", 130, None, "Newtonian"),
        ("through a 70mm refractor", 70, None, "refractor"),
        ("a 4.5 inch f/8 reflector", 114, None, "Newtonian"),
        ("a 4½ inch reflector", 114, None, "Newtonian"),
        ("a 4 1/2 inch reflector", 114, None, "Newtonian"),
        ("114 mm Newtonian telescope, ocular 12.5 mm", 114, 12.5, "Newtonian"),
        ("six inch Newtonian on a Dobson mount", 152, None, "Dobsonian"),
        ("90 mm Maksutov, phone held to the 20 mm eyepiece", 90, 20, "Maksutov"),
        ("102mm f/13 Mak", 102, None, "Maksutov"),
        ("10x50 binoculars on a fence", 50, None, "binoculars"),
        ("binoculars 15 \u00d7 70", 70, None, "binoculars"),
        ("Telescope with aperture of 200 mm", 200, None, "telescope"),
        ("My telescope has a mirror of 8 inches", 203, None, "telescope"),
        ("refractor 80 mm, EP: 26mm", 80, 26, "refractor"),
        ("Dobsonian, 6 inch", 152, None, "Dobsonian"),
        ("Newtonian 200mm f/6", 200, None, "Newtonian"),
        ("a telescope (114 mm) with a 10mm", 114, 10, "telescope"),
        ("15 cm Newtonian and 2x Barlow", 150, None, "Newtonian"),
        ("phone through the telescope", None, None, "telescope"),
        ("just my phone", None, None, "phone"),
        # numbers that are no aperture
        ("200 mm lens on a tripod", None, None, "camera lens"),
        ("a 1.25 inch eyepiece of 25 mm", None, 25, ""),
        ("2 inch diagonal, refractor", None, None, "refractor"),
        ("my 6.1 inch phone at the telescope", None, None, "telescope"),
        ("shown on a 24 inch monitor", None, None, ""),
        ("a telescope from 25 mm brass", None, None, "telescope"),
        ("taken on 12/2026 with a telescope at 1/250", None, None, "telescope"),
        ("the Moon was 30 mm wide in the eyepiece photo", None, None, ""),
        ("telescope with 1000 mm focal length", None, None, "telescope"),
        ("telescope, 25 mm", None, None, "telescope"),
        ("telescope 25 mm eyepiece", None, 25, "telescope"),
        ("a 50 mm finder scope", None, None, "telescope"),
        ("a 1.25 inch diagonal on my telescope", None, None, "telescope"),
        ("phone camera, 26 mm equivalent", None, None, "camera"),
        # two of a kind: nothing tells which
        ("My 6 inch Dobsonian and my brother's 8 inch Newtonian", None, None, "Dobsonian"),
        ("eyepieces 10 mm eyepiece and 25 mm eyepiece, 80 mm refractor", 80, None, "refractor"),
        ("6 inch Dobsonian. It is a 150/1200 Dobsonian.", 152, None, "Dobsonian"),  # one telescope, said twice
        ("6 inch Dobsonian. It is a 200/1200 Dobsonian.", None, None, "Dobsonian"),
        # neither
        ("", None, None, ""),
        ("The Moon over our roof.", None, None, ""),
        ("0 mm refractor, 99999 mm refractor", None, None, "refractor"),
        ("a microscope, an episode, a dobermann", None, None, ""),
    ],
)
def test_what_is_read(text, aperture, eyepiece, kind):
    found = read_equipment(text)
    assert (found.aperture_mm, found.eyepiece_mm, found.kind) == (aperture, eyepiece, kind)


def test_the_words_go_with_it():
    found = read_equipment("Dear all. I used my 6 inch Dobsonian.\nIt was cold. The eyepiece was a 25 mm Kellner. Ilse")
    assert found == Equipment(
        aperture_mm=152,
        eyepiece_mm=25,
        kind="Dobsonian",
        words="I used my 6 inch Dobsonian. The eyepiece was a 25 mm Kellner.",
    )
    assert not read_equipment("It was cold.")


def test_a_letter_s_equipment_is_told_in_short_and_its_own_words_tell_the_hand():
    words = "Tirei-a com um refletor de 114 mm e o telemóvel."
    fields = {"aperture_mm": "114", "eyepiece_mm": "10", "equipment_kind": "Newtonian", "camera": "phone"}
    bare = Arrival(key="mail:1", source="mail", origin="1.eml", enclosures=())
    read = replace(bare, suggestions=tuple(Suggestion(f, value, words, "mail") for f, value in fields.items()))
    assert equipment_words(read) == "114 mm Newtonian, 10 mm eyepiece, phone"
    assert optics_words(read) == f"114 mm Newtonian, 10 mm eyepiece, phone; {words}"
    told = replace(read, equipment="my tube")
    assert equipment_words(told) == optics_words(told) == "my tube"
    assert equipment_words(bare) == optics_words(bare) == ""


@pytest.mark.parametrize(
    "text",
    [
        "6 " * 9000,
        "a-" * 9000,
        "6 inch " + "x " * 9000,
        "eyepiece " * 2000,
        "6 inch a-a-a-a-" * 1500,
        "9" * 20_000,
        "150/" * 5000,
    ],
)
def test_hostile_text_takes_no_time(text):
    began = time.process_time()
    read_equipment(text)
    assert time.process_time() - began < 2


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("snapped on my redmi note 11 pro, no telescope", "phone"),
        ("Moto G54 no parapeito da janela, zoom de 10x", "phone"),
        ("P1000 à main levée, zoom à fond", "camera"),
        ("Foto con la lente 55-250 en una Canon T7i", "camera lens"),
        ("pris au 130/900", "telescope"),
        ("Je m'oppose à ce que vous la montriez.", ""),
        ("Call 555-1234 between 20-30 November", ""),
    ],
)
def test_what_is_sold_by_its_type_is_known_in_every_language(text: str, kind: str) -> None:
    assert read_equipment(text).kind == kind


def test_the_ends_of_a_zoom_are_no_aperture() -> None:
    assert read_equipment("Objektiv 70-300 und ein Refraktor").aperture_mm is None


@pytest.mark.parametrize(
    ("words", "aperture", "eyepiece"),
    [
        ("بتلسكوب نيوتوني ٢٠٣ ملم وعينية ٢٠ ملم", 203, 20),
        ("Une lunette de 90 mm et un oculaire de 20", 90, 20),
        ("Luneta refratora de 70 mm mas uma ocular de 10 mm", 70, 10),
        ("dans le T250 avec un oculaire de 32", 250, 32),
        ("Four-and-a-half-inch refractor from 1974", 114, None),
        ("mein Achtzöller mit 30er Okular", 203, 30),
        ("mit dem 10 mal 50 Fernglas", 50, None),
        ("SC de ocho pulgadas, Plössl de 32 mm.", 203, 32),
        ("10倍50ミリの双眼鏡", 50, None),
        ("口径102のアクロマート", 102, None),
        ("口径一五センチ", None, None),  # figures in Chinese numerals are not read, and no part of them is
        ("chhe inch ka telescope", 152, None),
    ],
)
def test_a_number_before_an_and_is_not_of_the_thing_behind_it(
    words: str, aperture: int, eyepiece: float | None
) -> None:
    found = read_equipment(words)
    assert (found.aperture_mm, found.eyepiece_mm) == (aperture, eyepiece)
