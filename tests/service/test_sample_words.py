"""What the words of the sample mails suggest, against what was written into them (read by eye)."""

from __future__ import annotations

from pathlib import Path

import pytest

from moondesk.service.intake.mail import read_mail
from moondesk.service.programme.letter.reading import read_letter

FOLDER = Path(__file__).resolve().parents[2] / "sample_submissions"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (
            "first_quarter.eml",
            {
                "aperture_mm": "152",
                "eyepiece_mm": "25",
                "equipment_kind": "Dobsonian",
                "camera": "phone",
                "consent": "suggested",
                "credit": "N. Albarrão, Averim",
            },
        ),
        (
            "terminator.eml",
            {
                "aperture_mm": "200",
                "equipment_kind": "Newtonian",
                "camera": "camera",
                "consent": "suggested",
                "credit": "Лидия Караманова",
            },
        ),
        ("thin_cloud.eml", {"aperture_mm": "72", "equipment_kind": "refractor", "camera": "phone"}),
        (
            "clara_11.eml",
            {
                "equipment_kind": "camera lens",
                "consent": "suggested",
                "minor": "yes",
                "guardian": "yes",
                "credit": "Clara",
            },
        ),
    ],
)
def test_sample_mails(name, expected):
    mail = read_mail((FOLDER / name).read_bytes())
    found = read_letter(mail.subject, mail.sender_name, mail.body).facts
    told = {s.field: s.value for s in found}
    assert told.pop("language") == "en"
    story = told.pop("story", "")
    assert ("grandfather's camera" in story) is (name == "clara_11.eml")
    assert told == expected
    assert {s.source for s in found} == {"mail"}
