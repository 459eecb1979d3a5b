"""One test per optical train. Expected hands are common practice: an odd number of reflections mirrors."""

from __future__ import annotations

import pytest

from moondesk.records import Annotation, Clock, ClockVerdict, Pose, TimeReadings
from moondesk.visibility.handedness import compare_handedness, handedness_of_words

TRAINS = [
    # words, mirrored, reflections (common practice)
    ("200 mm Newtonian", False, 2),
    ("8 inch Dobsonian, phone at the eyepiece", False, 2),
    ("a small reflector", False, 2),
    ("Dob with my iPhone's front camera", True, 3),
    ("Newtonian, then flipped in an app", True, 3),
    ("Newtonian, front camera, flipped by the app", False, 4),
    ("Maksutov-Newtonian", False, 2),
    ("80 mm refractor with star diagonal", True, 1),
    ("refractor + 90° diagonal + selfie camera", False, 2),
    ("refractor, straight through", False, 0),
    ("refractor without diagonal", False, 0),
    ("DSLR at prime focus of an apochromat", False, 0),
    ("refractor with erecting prism", False, None),
    ("refractor with a 45-degree Amici diagonal", False, None),
    ("127 Mak with a mirror diagonal", True, 3),
    ("Maksutov, straight", False, 2),
    ('8" SCT with star diagonal', True, 3),
    ("Schmidt-Cassegrain, no diagonal", False, 2),
    ("SCT, correct-image prism", False, None),
    ("refractor, no star diagonal, not flipped in any app", False, 0),
    ("Dobsonian, without front camera", False, 2),
    ("telescope with a zenith mirror", True, None),
    ("telescope, diagonal removed", False, None),
    ("telescope with erecting prism, front camera", True, None),
    ("binoculars on a tripod", False, None),
    ("10x50 binoculars, front camera", True, None),
    ("spotting scope", False, None),
    ("phone, hand-held", False, 0),
    ("bridge camera on a tripod", False, 0),
    ("front-facing camera", True, 1),
    ("DSLR with 400 mm lens, flipped horizontally", True, 1),
]


@pytest.mark.parametrize(("words", "mirrored", "reflections"), TRAINS, ids=[t[0] for t in TRAINS])
def test_train(words: str, mirrored: bool, reflections: int | None) -> None:
    hand = handedness_of_words(words)
    assert (hand.mirrored, hand.reflections, hand.words) == (mirrored, reflections, words)
    assert reflections is None or hand.mirrored is (reflections % 2 == 1)
    assert hand.explanation.endswith(".")
    assert ("should be mirrored" in hand.explanation) is mirrored


@pytest.mark.parametrize("words", [
    "", "my grandfather's thing", "refractor", "Maksutov", "SCT on a wedge", "phone at the eyepiece of a telescope",
    "refractor and Newtonian", "refractor with diagonal, also straight through", "a dobermann and a makeshift stand",
])  # fmt: skip
def test_what_does_not_settle_it_stays_unsettled(words: str) -> None:
    hand = handedness_of_words(words)
    assert (hand.mirrored, hand.reflections) == (None, None)
    assert hand.explanation.endswith(".")


def annotation(mirrored: bool | None, sure: bool = True) -> Annotation:
    pose = (
        None
        if mirrored is None
        else Pose(
            x=9.0,
            y=9.0,
            radius_px=5.0,
            north_screen_deg=0.0,
            mirrored=mirrored,
            libration_lat_deg=0.0,
            libration_lon_deg=0.0,
            sub_solar_lat_deg=0.0,
            sub_solar_lon_deg=0.0,
        )
    )
    status = "unplaced" if pose is None else "annotated"
    clock = Clock(ClockVerdict.NO_CLOCK, None, None)
    return Annotation(
        status=status,
        sure=sure,
        width=20,
        height=20,
        taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=None,
        clock=clock,
        pose=pose,
    )


@pytest.mark.parametrize("mirrored", [False, True])
def test_agreement(mirrored: bool) -> None:
    said = compare_handedness(
        handedness_of_words("refractor with star diagonal" if mirrored else "Dobsonian"), annotation(mirrored)
    )
    assert "as the optics say" in said
    assert said.startswith("The picture is mirrored" if mirrored else "The picture is not mirrored")


def test_contradiction_is_explained_and_the_picture_counts() -> None:
    said = compare_handedness(handedness_of_words("Dobsonian"), annotation(True))
    assert "The picture is mirrored, against what the optics say; the picture counts." in said
    assert "flip in an app" in said
    said = compare_handedness(handedness_of_words("refractor with star diagonal"), annotation(False, sure=False))
    assert "not mirrored, though the placing is not sure, against" in said
    assert "erecting" in said


def test_unknown_on_either_side() -> None:
    assert "which was used is not said" in compare_handedness(handedness_of_words("refractor"), annotation(True))
    assert "could not be placed" in compare_handedness(handedness_of_words("Dobsonian"), annotation(None, False))
    assert compare_handedness(handedness_of_words(""), annotation(None, False)).startswith("Neither")
