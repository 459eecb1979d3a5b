"""What programs change through the API: the rundown, where two change at once, and consents."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from api_desk import PROGRAMME, Program, copied, fill_folder, is_problem, open_desk

from moondesk.service.programme.permission import permission
from moondesk.service.settings.config import Config
from moondesk.service.store import rundowns
from moondesk.service.store.editions import read_edition
from moondesk.service.store.pictures import read_picture
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.storage import Storage
from moondesk.service.web.api import changing, shapes


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """A data folder with placed pictures, made once."""
    path = tmp_path_factory.mktemp("prepared")
    fill_folder(path / "folder")
    return open_desk(path / "folder", Config(data_dir=path / "data", programme=PROGRAMME))


@pytest.fixture
def desk(prepared, config):
    """Each test has a copy of its own."""
    return copied(prepared, config)


@pytest.fixture
def program(desk):
    return Program(desk)


# --- the rundown ------------------------------------------------------------------------------------------------------

ITEMS = "/editions/1/rundown/items"


@pytest.fixture
def picked(desk, program):
    """Three items, in this order."""
    return [
        program.ask(ITEMS, "POST", {"picture_id": desk.ids[name]}).json["id"] for name in ("a.png", "b.jpg", "e.png")
    ]


def tag(program):
    return program.ask("/editions/1/rundown").headers["ETag"]


def test_picking(desk, program):
    empty = program.ask("/editions/1/rundown")
    assert (empty.json["items"], empty.headers["ETag"]) == ([], '"0"')
    answer = program.ask(ITEMS, "POST", {"picture_id": desk.ids["a.png"]})
    assert answer.status_code == 201
    assert answer.headers["Location"] == f"/api{ITEMS}/{answer.json['id']}"
    item = answer.json
    assert (item["place"], item["credit_shown"], item["credit_line"]) == (1, "Ilse from Vienna", None)
    assert (item["may_go_on_air"], item["stops"], item["added_by"]) == (True, [], "Bo")
    again = program.ask(ITEMS, "POST", {"picture_id": desk.ids["a.png"]})
    assert (again.status_code, again.json) == (200, item)
    assert again.headers["ETag"] == answer.headers["ETag"] == tag(program) != empty.headers["ETag"]
    is_problem(program.ask(ITEMS, "POST", {"picture_id": 99}), 422, "no such picture")
    is_problem(program.ask(ITEMS, "POST", {"picture_id": desk.ids["page.jpg"]}), 422, "cannot be picked")
    is_problem(program.ask("/editions/4/rundown/items", "POST", {"picture_id": 1}), 404)


def test_what_has_no_consent_says_so_and_how_it_is_not_sure(desk, program, picked):
    unsure = program.get("/editions/1/rundown")["items"][2]
    assert unsure["may_go_on_air"] is False
    assert "nobody has said that it may be shown" in unsure["stops"][0]
    assert unsure["sure"] is False
    assert unsure["cautions"][0].startswith("Not sure")


def test_editing_wants_the_version_that_was_read(program, picked):
    path = f"{ITEMS}/{picked[0]}"
    told = is_problem(program.ask(path, "PATCH", {"seconds": 90}), 428, "If-Match")
    assert told["errors"][0]["where"] == "header If-Match"
    before = tag(program)
    done = program.ask(path, "PATCH", {"seconds": 90, "note": "first\x00of \ud800all", "credit_line": ""}, before)
    assert done.status_code == 200
    assert (done.json["seconds"], done.json["note"], done.json["credit_shown"]) == (90, "first of all", "")
    assert done.headers["ETag"] == tag(program) != before
    late = program.ask(path, "PATCH", {"note": "late"}, before)
    is_problem(late, 412, "Read it again")
    assert late.headers["ETag"] == tag(program)
    assert program.ask(path, "PATCH", {"credit_line": None}, f'"7", {tag(program)}').json["credit_line"] is None
    assert program.ask(path, "PATCH", {"seconds": 60.0}, "*").json["seconds"] == 60
    is_problem(program.ask(path, "PATCH", {"note": "x"}, f"W/{tag(program)}"), 412)  # RFC 9110, 13.1.1: strong
    is_problem(program.ask(path, "PATCH", {"note": "x"}, "12"), 400, "entity tags")
    is_problem(program.ask(path, "PATCH", {}, "*"), 422, "at least one")
    is_problem(program.ask(path, "PATCH", {"seconds": 0}, "*"), 422, "/seconds")
    is_problem(program.ask(path, "PATCH", {"seconds": None}, "*"), 422, "/seconds")
    is_problem(program.ask(f"{ITEMS}/99", "PATCH", {"note": "x"}, "*"), 404)


def test_a_sender_who_asks_not_to_be_named_is_not_named_by_a_program(desk, program, picked, config):
    with Storage(config.data_dir) as storage, storage.writing() as execute:
        submission = read_picture(storage, desk.ids["e.png"]).submission.id
        execute("update submissions set sender_name = 'Runa Holm' where id = ?", [submission])
        execute(
            "insert into suggestions (submission_id, field, value, words, source) values (?, 'unnamed', 'yes', "
            "'Please do not name me.', 'mail')",
            [submission],
        )
    path = f"{ITEMS}/{picked[2]}"
    is_problem(program.ask(path, "PATCH", {"credit_line": "R. Holm, Bergen"}, "*"), 422, "/credit_line")
    assert program.ask(path, "PATCH", {"credit_line": "from Bergen"}, "*").json["credit_shown"] == "from Bergen"


def test_who_comes_between_the_look_and_the_change_is_not_overwritten(program, picked, config, monkeypatch):
    """Both pass the first look at the version; the store sees the clash within its transaction."""
    check_match = changing.check_match

    def meanwhile(version):
        check_match(version)
        with Storage(config.data_dir) as storage:
            edition = read_edition(storage, 1)
            rundowns.edit(storage, edition.id, picked[0], {"seconds": 45}, version, "Ada", datetime.now(UTC))

    monkeypatch.setattr(changing, "check_match", meanwhile)
    told = is_problem(program.ask(f"{ITEMS}/{picked[0]}", "PATCH", {"seconds": 90}, tag(program)), 409, "Ada")
    assert told["errors"] == [{"where": "/seconds", "words": "Ada put 45 there; you want 90."}]
    assert program.get("/editions/1/rundown")["items"][0]["seconds"] == 45


def test_moving_and_taking_out_and_picking_again(desk, program, picked):
    def order():
        return [i["id"] for i in program.get("/editions/1/rundown")["items"]]

    first, second, third = picked
    moved = program.ask(f"{ITEMS}/{third}/place", "PUT", {"after_item_id": 0}, tag(program))
    assert [(i["id"], i["place"]) for i in moved.json["items"]] == [(third, 1), (first, 2), (second, 3)]
    same = program.ask(f"{ITEMS}/{third}/place", "PUT", {"after_item_id": 0}, tag(program))
    assert (same.status_code, same.headers["ETag"]) == (200, moved.headers["ETag"])
    is_problem(program.ask(f"{ITEMS}/{third}/place", "PUT", {"after_item_id": 99}, "*"), 422, "/after_item_id")
    is_problem(program.ask(f"{ITEMS}/{third}/place", "PUT", {"after_item_id": first}, '"1"'), 412)
    is_problem(program.ask(f"{ITEMS}/{first}", "DELETE"), 428)
    is_problem(program.ask(f"{ITEMS}/{first}", "DELETE", match='"1"'), 412)
    gone = program.ask(f"{ITEMS}/{first}", "DELETE", match=tag(program))
    assert (gone.status_code, gone.data) == (204, b"")
    assert gone.headers["ETag"] == tag(program)
    assert order() == [third, second]
    (out,) = program.get("/editions/1/rundown")["taken_out"]
    assert (out["id"], out["out_by"]) == (first, "Bo")
    is_problem(program.ask(f"{ITEMS}/{first}", "PATCH", {"note": "x"}, "*"), 409, "taken this picture out")
    assert program.ask(ITEMS, "POST", {"picture_id": desk.ids["a.png"]}).status_code == 201
    assert order() == [third, second, first]


# --- consent ----------------------------------------------------------------------------------------------------------


def test_a_consent_is_noted_with_its_words_and_by_whom(desk, program, picked):
    path = f"/pictures/{desk.ids['e.png']}/consents"
    asked = program.ask(path, "POST", {"state": "asked", "kind": "phone"})
    assert (asked.status_code, asked.json["consent"]["state"]) == (201, "asked")
    done = program.ask(path, "POST", {"state": "given", "kind": "phone", "evidence": "Yes, you may show it."})
    assert done.status_code == 201
    assert done.json["consent"] == {
        "state": "given",
        "kind": "phone",
        "evidence": "Yes, you may show it.",
        "minor": False,
        "guardian": False,
        "noted_by": "Bo",
        "may_be_shown": True,
        "stops": [],
        "held_by": [],
    }
    assert [c["state"] for c in done.json["consents"]] == ["asked", "given"]
    assert program.get("/editions/1/rundown")["items"][2]["may_go_on_air"] is True
    taken_back = program.ask(
        path,
        "POST",
        {
            "state": "refused",
            "kind": "mail",
            "evidence": "Please not.",
            "message_id": "<1@example.org>",
            "whole_submission": True,
        },
    )
    assert taken_back.json["consents"][-1]["picture_id"] is None
    assert program.get("/editions/1/rundown")["items"][2]["may_go_on_air"] is False


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"state": "given", "kind": "phone"}, "words in which they agreed"),
        ({"state": "given", "kind": "phone", "evidence": " \u200b "}, "words in which they agreed"),
        ({"state": "given", "kind": "phone", "evidence": "Only if you pay me."}, "no clear yes"),
        ({"state": "suggested", "kind": "phone"}, "/state"),
        ({"state": "given", "kind": "table"}, "/kind"),
        ({"state": "asked"}, "/kind"),
        ({"state": "asked", "kind": "phone", "evidence": "x" * 501}, "/evidence"),
    ],
)
def test_what_is_no_consent_is_not_noted(desk, program, body, words):
    path = f"/pictures/{desk.ids['e.png']}"
    is_problem(program.ask(f"{path}/consents", "POST", body), 422, words)
    assert program.get(path)["consents"] == []
    is_problem(program.ask("/pictures/99/consents", "POST", {"state": "asked", "kind": "phone"}), 404)


def test_a_consent_about_another_picture_of_the_submission_is_not_told_here(desk, config):
    with Storage(config.data_dir) as storage:
        found = read_picture(storage, desk.ids["a.png"])
    record = ConsentRecord(state="refused", kind="phone", noted_by="Ada", picture_id=found.id + 1)
    arrival = replace(found.submission.arrival, consents=(*found.submission.arrival.consents, record))
    other = shapes.consents(
        replace(found, submission=replace(found.submission, arrival=arrival)), permission(arrival, found.id)
    )
    assert other["consent"]["state"] == "given"
    assert [c["state"] for c in other["consents"]] == ["given"]
