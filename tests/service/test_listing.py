"""`moondesk list`: every submission on its line, what is told apart from what is only suggested."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from email.message import EmailMessage

import fakes
import pytest
from click.testing import CliRunner

from moondesk.service.cli.main import main
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.waiting import place_waiting

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
KEYS = [
    "id",
    "source",
    "message_id",
    "subject",
    "sender_name",
    "sender_address",
    "credit_line",
    "received_utc",
    "equipment",
    "consent",
    "may_go_on_air",
    "held_by",
    "letter",
    "flags",
    "pictures",
    "edition",
]
PICTURE_KEYS = ["sha256", "given_name", "media_type", "status", "version_of", "refused"]

BODY = """Dear all,

this is the Moon over our bridge, with my 6 inch Dobsonian and a 25 mm eyepiece.
You may show it on the programme. My daughter took it. Please credit me as Bo L. from Averim.

> Please tell us your telescope (8 inch?) and whether we may show your picture.
--
Bo, 90 mm refractor
"""


@pytest.fixture
def taken(tmp_path, folder, storage, media, config):
    message = EmailMessage()
    message["From"] = "Bo <bo@example.org>"
    message["Date"] = "Wed, 25 Mar 2026 21:05:00 +0100"
    message["Subject"] = "My Moon"
    message["Message-ID"] = "<77@example.org>"
    message.set_content(BODY.replace("\n--\n", "\n-- \n"))
    message.add_attachment(fakes.png(shade=7), maintype="image", subtype="png", filename="bridge.png")
    message.add_attachment(b"GIF89a" + bytes(80), maintype="image", subtype="gif", filename="wave.gif")
    (folder / "mail.eml").write_bytes(message.as_bytes())
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    return config.data_dir


def lines(data_dir, *args):
    result = CliRunner().invoke(main, ["list", "--jsonl", "--data", str(data_dir), *args])
    return result.exit_code, [json.loads(line) for line in result.stdout.splitlines()]


def by_name(data_dir):
    return {line["pictures"][0]["given_name"]: line for line in lines(data_dir)[1]}


def test_every_line_has_every_key_in_order(taken):
    code, listed = lines(taken)
    assert code == 0
    assert [list(line) for line in listed] == [KEYS] * 5
    assert all(list(p) == PICTURE_KEYS for line in listed for p in line["pictures"])
    assert [line["id"] for line in listed] == [1, 2, 3, 4, 5]


def test_a_mails_words_are_suggestions_with_their_sentences(taken):
    line = by_name(taken)["bridge.png"]
    assert (line["source"], line["message_id"], line["subject"], line["sender_address"], line["credit_line"]) == (
        "mail",
        "<77@example.org>",
        "My Moon",
        "bo@example.org",
        "Bo L. from Averim",
    )
    assert line["received_utc"] == "2026-03-25T20:05:00+00:00"
    assert line["equipment"] == {
        "aperture_mm": 152,
        "eyepiece_mm": 25.0,
        "kind": "Dobsonian",
        "words": "this is the Moon over our bridge, with my 6 inch Dobsonian and a 25 mm eyepiece.",
    }
    assert line["consent"] == {"state": "suggested", "kind": "mail", "evidence": "You may show it on the programme."}
    assert line["flags"] == ["A child seems to have taken the picture: a guardian's consent is needed."]
    assert [(p["status"], p["version_of"]) for p in line["pictures"]] == [("waiting", None), ("refused", None)]
    assert "GIF" in line["pictures"][1]["refused"]


def test_the_tables_word_is_told(taken):
    line = by_name(taken)["a.png"]
    assert line["credit_line"] == "Ilse from Vienna"
    assert line["consent"] == {"state": "given", "kind": "form", "evidence": "yes by form"}
    assert line["equipment"] == {"aperture_mm": None, "eyepiece_mm": None, "kind": None, "words": "6 inch"}
    bare = by_name(taken)["c.png"]
    assert bare["consent"] == {"state": "none", "kind": None, "evidence": ""}
    assert (bare["message_id"], bare["received_utc"], bare["sender_name"]) == (None, None, "")


def test_placed_pictures_carry_their_status_and_editions_are_told_apart(taken, storage, media, config):
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    assert by_name(taken)["a.png"]["pictures"][0]["status"] == "annotated"
    assert by_name(taken)["page.jpg"]["pictures"][0]["status"] == "refused"
    assert len(lines(taken, "--edition", "1")[1]) == 5
    assert lines(taken, "--edition", "9")[0] == 2


def test_the_plain_list_and_an_empty_one(taken, tmp_path):
    result = CliRunner().invoke(main, ["list", "--data", str(taken)])
    assert result.exit_code == 0
    assert len(result.stdout.splitlines()) == 5
    assert "Bo" in result.stdout
    assert "consent suggested" in result.stdout
    nothing = CliRunner().invoke(main, ["list", "--data", str(tmp_path / "none")])
    assert (nothing.exit_code, (tmp_path / "none").exists()) == (3, False)


def test_one_who_asks_not_to_be_named_is_not(folder, storage, media, config):
    message = EmailMessage()
    message["From"] = "Bo <bo@example.org>"
    message.set_content("Please do not use my name.")
    message.add_attachment(fakes.png(shade=7), maintype="image", subtype="png", filename="bridge.png")
    (folder / "mail.eml").write_bytes(message.as_bytes())
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(
        Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(
            folder / "mail.eml"
        )
    )
    (line,) = lines(config.data_dir)[1]
    assert (line["credit_line"], line["flags"][-1]) == ("", "The sender asks not to be named.")
