"""A sender's card on a rendered evening: the Moon, its names and their own name, all of it inside the card."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache

import numpy as np
import pytest

from moondesk import Known, annotate_picture
from moondesk.drawing.frame import Texts
from moondesk.files.picture import decode_rgb
from moondesk.records import NotFound, Place
from moondesk.stacking.card import LAYOUTS, MARGIN, WIDTH, CardWords, card
from moondesk.stacking.page import Page
from tests.scenes import FileTags, Optics, SceneSpec, Sky, render

EVENING = datetime(2026, 3, 26, 19, 0, tzinfo=UTC)


@cache
def placed():
    spec = SceneSpec(EVENING, Place(48.2, 16.4), 640.0, 520.0, 400.0, 33.0, width=1280, height=1040, sky=Sky(0.0),
                     fine=False, optics=Optics(1.0), tags=FileTags("jpeg"))  # fmt: skip
    data = render(spec).data
    found = annotate_picture(data, Known(taken_utc=EVENING))
    assert found.sure
    return decode_rgb(data), found


def words(credit: str) -> CardWords:
    return CardWords(
        programme="Moon at Nine",
        credit=credit,
        lines=("80 mm refractor", "26 March 2026"),
        thanks="Thank you!",
        texts=Texts(),
    )


@pytest.mark.parametrize("shape", ["feed", "story"])
@pytest.mark.parametrize(
    "credit",
    [
        "Ines Marl",
        "Борис Петров, Казанлък",
        "ليلى الحداد",
        "山田 花子",
        "Jo Hart, class 5b of the school by the old harbour in the north",
    ],
)
def test_name_and_moon_stand_inside_the_card(shape, credit, monkeypatch):
    pages = []
    finish = Page.finish
    monkeypatch.setattr(Page, "finish", lambda page: pages.append(page) or finish(page))
    rgb, annotation = placed()
    offered = ("Tycho", "Maurolycus", "Theophilus")
    made = card(rgb, annotation, words(credit), shape, offered)
    assert not isinstance(made, NotFound)
    layout = LAYOUTS[shape]
    assert made.shape == (layout.height, WIDTH, 3)
    free = 0.11 * layout.height if shape == "story" else 20
    for box in pages[0].texts:
        assert MARGIN - 3 <= box.x0 <= box.x1 <= WIDTH - MARGIN + 1
        assert free <= box.y0 <= box.y1 <= layout.height - free
    top, bottom = layout.picture
    moon = made[top:bottom].astype(int)
    assert moon.max(axis=2).mean() > 20
    coloured = np.ptp(moon, axis=2) > 40  # the Moon is grey: names and their lines are not
    assert coloured.sum() > 1500
    assert not coloured[:, :20].any()
    assert not coloured[:, -20:].any()


def test_without_a_name_there_is_no_card():
    rgb, annotation = placed()
    assert isinstance(card(rgb, annotation, words(""), "feed"), NotFound)
