"""Copies in the store: found while pictures are placed, merged or asked about, decided, parted, erased."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from email.message import EmailMessage

import fakes
import pytest
from click.testing import CliRunner
from photos import jpeg, photo
from PIL import Image

from moondesk.service.cli.main import main
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs import duplicate_search
from moondesk.service.jobs.child_pool import ChildDiedError
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store import versions
from moondesk.service.store.forget import forget
from moondesk.service.store.media import sha256_of
from moondesk.service.store.pictures import count_pictures, list_pictures, neighbours_of
from moondesk.service.store.submissions import each_submission
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
FIRST = jpeg(photo(1), 92)
SMALL = jpeg(Image.open(io.BytesIO(FIRST)).resize((320, 240), Image.Resampling.BICUBIC), 75)
AGAIN = jpeg(Image.open(io.BytesIO(FIRST)), 80)


@pytest.fixture
def send(tmp_path, storage, media, config):
    """Take one mail with these pictures and place what waits; ids of its pictures."""
    intake = Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
    )
    folder = tmp_path / "in"
    folder.mkdir()

    def sending(sender: str, *pictures: bytes, place: bool = True) -> list[int]:
        number = len(list(folder.iterdir()))
        message = EmailMessage()
        message["From"] = f"{sender} <{sender.lower()}@example.org>"
        message["Message-ID"] = f"<{number}@example.org>"
        message.set_content(f"Mail {number}")
        for k, data in enumerate(pictures):
            message.add_attachment(data, maintype="image", subtype="jpeg", filename=f"{sender}-{number}-{k}.jpg")
        path = folder / f"{number}.eml"
        path.write_bytes(message.as_bytes())
        list(intake.take_path(path))
        if place:
            list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
        return list(list(each_submission(storage))[-1].picture_ids)

    return sending


def listed(data_dir):
    lines = CliRunner().invoke(main, ["list", "--jsonl", "--data", str(data_dir)]).stdout.splitlines()
    return [json.loads(line) for line in lines]


def test_a_picture_sent_twice_is_one_with_its_versions(send, storage, config):
    (small,), (first,) = send("Ann", SMALL), send("Ann", FIRST)
    assert versions.group_of(storage, small) == versions.group_of(storage, first) == (small, first)
    shown = list_pictures(storage, 1)
    assert [(p.picture.id, p.versions, p.asked) for p in shown] == [(first, 1, ())], "the larger one is shown, once"
    assert count_pictures(storage, 1).total == 1
    assert neighbours_of(storage, first) == (None, None)
    of = [p["version_of"] for line in listed(config.data_dir) for p in line["pictures"]]
    assert of == [sha256_of(FIRST), None]


def test_three_versions_in_one_mail_are_one(send, storage):
    send("Ann", SMALL, FIRST, AGAIN)
    assert len(list_pictures(storage, 1)) == 1
    assert list_pictures(storage, 1)[0].versions == 2
    assert list_pictures(storage, 1)[0].picture.enclosure.sha256 == sha256_of(FIRST)


def test_across_senders_it_is_asked_and_never_merged(send, storage, config):
    (first,), (second,) = send("Ann", FIRST), send("Bea", AGAIN)
    assert [(p.picture.id, p.asked) for p in list_pictures(storage, 1)] == [
        (second, ("Ann sent the same picture. Whose is it?",)),
        (first, ("Bea sent the same picture. Whose is it?",)),
    ]
    lines = listed(config.data_dir)
    assert [p["version_of"] for line in lines for p in line["pictures"]] == [None, None]
    assert lines[1]["flags"][-1] == "Bea-1-0.jpg: Ann sent the same picture. Whose is it?"
    (pair,) = versions.pairs_of(storage, first)
    assert pair.open
    assert not pair.stands


def test_a_person_joins_and_parts(send, storage):
    (first,), (second,) = send("Ann", FIRST), send("Bea", SMALL)
    (pair,) = versions.pairs_of(storage, second)
    said = versions.decide(storage, pair.id, "same", "Ida", NOW)
    assert (said.stands, said.decided_by, said.decided_utc) == (True, "Ida", NOW)
    assert [p.picture.id for p in list_pictures(storage, 1)] == [first]
    versions.decide(storage, pair.id, "different", "Ida", NOW)
    assert [(p.picture.id, p.asked) for p in list_pictures(storage, 1)] == [(second, ()), (first, ())]
    versions.decide(storage, pair.id, None, "Ida", NOW)
    assert versions.pairs_of(storage, first)[0].open


def test_what_a_person_parted_stays_parted(send, storage):
    (first,), (again,) = send("Ann", FIRST), send("Ann", AGAIN)
    (pair,) = versions.pairs_of(storage, again)
    assert pair.stands
    versions.decide(storage, pair.id, "different", "Ida", NOW)
    versions.settle(storage, again, [pair])  # found once more, by another run
    assert not versions.pairs_of(storage, again)[0].stands
    assert versions.group_of(storage, first) == (first,)


def test_what_was_not_compared_when_the_program_ended_is_compared_by_the_next(send, storage, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(duplicate_search.Copies, "give_out", lambda self: None)  # as if killed right after the annotation
        (first,), (again,) = send("Ann", FIRST), send("Ann", AGAIN)
    assert versions.waiting_ids(storage, 9) == (first, again)
    (other,) = send("Bea", jpeg(photo(7), 92))
    assert versions.waiting_ids(storage, 9) == ()
    assert versions.group_of(storage, again) == (first, again)
    assert versions.group_of(storage, other) == (other,)


def test_one_that_ends_its_worker_stops_nothing(send, storage, monkeypatch):
    def crash(*_: object) -> None:
        raise ChildDiedError("gone")

    send("Ann", FIRST)
    with monkeypatch.context() as patch:
        patch.setattr(duplicate_search, "compare", crash)
        (again,) = send("Ann", AGAIN)
    assert storage.read("select compared from sketches where picture_id = ?", [again]) == [{"compared": "failed"}]
    assert len(list_pictures(storage, 1)) == 2
    (small,) = send("Ann", SMALL)
    assert versions.group_of(storage, small) == (1, small)


def test_a_new_version_of_the_core_compares_nothing_again(send, storage, media, config, monkeypatch):
    send("Ann", FIRST), send("Ann", AGAIN)
    monkeypatch.setattr(duplicate_search, "compare", lambda *_: 1 / 0)
    newer = replace(fakes.load(), version="fake 2")
    done = list(place_waiting(storage, media, config, lambda: newer, "fake 2", lambda: NOW))
    assert len(done) == 2
    assert {row["compared"] for row in storage.read("select compared from sketches")} == {"done"}


def test_forgetting_the_sender_of_the_best_leaves_the_others_a_best(send, storage, media):
    (first,), (second,), (third,) = send("Ann", FIRST), send("Bea", AGAIN), send("Bea", SMALL)
    for pair in (*versions.pairs_of(storage, first), *versions.pairs_of(storage, third)):
        versions.decide(storage, pair.id, "same", "Ida", NOW)
    assert [(p.picture.id, p.versions) for p in list_pictures(storage, 1)] == [(first, 2)]
    forget(storage, media, "ann@example.org", NOW)
    assert [(p.picture.id, p.versions) for p in list_pictures(storage, 1)] == [(second, 1)]
    assert versions.group_of(storage, third) == (second, third)
    assert storage.read("select 1 from sketches where picture_id = ?", [first]) == []


def test_a_sender_who_goes_while_it_is_compared(send, storage, media):
    (first,), (again,) = send("Ann", FIRST), send("Ann", AGAIN)
    pairs = versions.pairs_of(storage, again)
    forget(storage, media, "ann@example.org", NOW)
    assert not versions.settle(storage, again, pairs)
    assert storage.read("select * from versions") == []
    assert versions.group_of(storage, first) == (first,)


def test_the_page_asks_and_keeps_the_answer(send, storage, config):
    (first,), (second,) = send("Ann", FIRST), send("Bea", AGAIN)
    client = create_app(config, lambda: NOW).test_client()
    page = client.get(f"/pictures/{second}").text
    assert "Ann sent the same picture. Whose is it?" in page
    assert "Ann sent the same picture. Whose is it?" in client.get("/").text
    (pair,) = versions.pairs_of(storage, second)
    token = re.search(r'name="token" value="([^"]+)"', page)[1]
    address = f"/pictures/{second}/pairs/{pair.id}"
    assert client.post(address, data={"said": "same"}).status_code == 400, "a form's token is wanted"
    assert client.post(address, data={"said": "yes", "token": token}).status_code == 400
    answer = client.post(address, data={"said": "same", "token": token})
    assert answer.headers["Location"] == f"/pictures/{second}#copies"
    page = client.get(f"/pictures/{second}").text
    assert "Said by desk, 26 March 2026" in page
    assert "it is the better one" in page
    assert "2 versions" in client.get("/").text
    assert versions.pairs_of(storage, first)[0].decided_by == "desk"
    client.post(address, data={"said": "undo", "token": token})
    assert versions.pairs_of(storage, first)[0].open
