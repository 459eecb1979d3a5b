"""`moondesk card`: of what may be shown, with the sender's own name, or not at all."""

from __future__ import annotations

import email
import html
import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner
from desk_people import post
from fakes import add_edition
from PIL import Image
from test_composite_command import add

from moondesk.service.cli.main import main
from moondesk.service.replies.message import From
from moondesk.service.replies.sending import mail_bytes
from moondesk.service.store import replies
from moondesk.service.store.records import ConsentRecord, EditionPlan, Suggestion
from moondesk.service.store.submissions import add_consent
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 10, 18, 9, 0, tzinfo=UTC)
SENDER = From("The Evening Sky", "moon@evening-sky.example")


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


def test_a_card_goes_with_a_reply_as_it_was_seen_or_not_at_all(storage, media, config):
    add(storage, media, add_edition(storage, EditionPlan(number=12)), 1, "Þóra")
    client = create_app(config, now=lambda: NOW).test_client()
    page = client.get("/pictures/1/reply").text
    card = re.search(r'name="card" value="(1:[0-9a-f]{16})">', page)[1]  # offered, and not chosen
    address = html.unescape(re.search(r'src="(/pictures/1/card-feed.png[^"]+)"', page)[1])
    seen = client.get(address).data
    assert seen.startswith(b"\x89PNG")
    typed = {
        "to": "thora@viewers.example",
        "subject": "Moon",
        "body": "Thank you.",
        "version": "0",
        "action": "approve",
    }
    assert post(client, "/pictures/1/reply", "/pictures/1/reply", card=f"1:{'0' * 16}", **typed).status_code == 409
    assert post(client, "/pictures/1/reply", "/pictures/1/reply", card=card, **typed).status_code == 303
    assert address in html.unescape(client.get("/pictures/1/reply").text)
    mail = email.message_from_bytes(client.get("/pictures/1/reply.eml").data)
    (attached,) = [part for part in mail.walk() if part.get_filename()]
    assert (attached.get_content_type(), attached.get_filename()) == ("image/png", "moon-card.png")
    assert attached.get_payload(decode=True) == seen
    reply = replies.reply_of(storage, 1)
    other = replace(config, programme=replace(config.programme, name="Pier Light"))
    with pytest.raises(ValueError, match="another by now"):
        mail_bytes(storage, other, SENDER, reply, NOW)
    add_consent(storage, 1, ConsentRecord(state="refused", kind="phone", evidence="No.", noted_by="Ada"), NOW)
    with pytest.raises(ValueError, match="cannot be made"):
        mail_bytes(storage, config, SENDER, reply, NOW)


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
