"""Pictures put in at the desk: dropped, pasted or chosen, with the sender's handle, channel and link typed once."""

from __future__ import annotations

import io
import re
from dataclasses import fields
from datetime import UTC, datetime

import fakes
import pytest

from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.permission import permission
from moondesk.service.store import queue
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.submissions import each_submission
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.inbox.drop import DropPage
from moondesk.service.web.desk.inbox.drop_form import read_drop

ID = "0" * 32
HANDLE = "@moon_月.watcher_99"


@pytest.fixture
def client(config):
    return create_app(config).test_client()


def token_of(client) -> str:
    return re.search(r'name="token" value="([^"]+)"', client.get("/add").text).group(1)


def put_in(client, *pictures, accept="text/html", **typed):
    data = {"name": HANDLE, "token": token_of(client), **typed}
    data["pictures"] = [(io.BytesIO(p), f"{k}.png") for k, p in enumerate(pictures)]
    return client.post("/add", data=data, headers={"Accept": accept})


def test_what_is_dropped_is_one_submission_with_the_handle_as_given(client, storage):
    link = "https://example.org/p/1?x=y"
    answer = put_in(client, fakes.png(), fakes.png(shade=5), channel="letter box", link=link, place="Porto")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/added/1")
    (listed,) = each_submission(storage)
    arrival = listed.submission.arrival
    assert (arrival.source, arrival.credit_line, arrival.channel, arrival.link, arrival.place_name) == (
        "desk",
        HANDLE,
        "letter box",
        link,
        "Porto",
    )
    assert credit_of(arrival).name == HANDLE
    assert (len(listed.pictures), arrival.receipt, permission(arrival).consent.state) == (2, None, "none")
    page = client.get(f"/pictures/{list_pictures(storage, listed.submission.edition_id)[0].picture.id}").text
    for words in (HANDLE, "put in at the desk", "letter box", link, "None recorded"):
        assert words in page, words


def test_adding_leads_to_the_picture_which_shows_how_its_placing_stands(client, config, storage, monkeypatch):
    monkeypatch.setattr("moondesk.service.web.desk.placing_status.engine_version", lambda: "fake 1")
    one, two = put_in(client, fakes.png()), put_in(client, fakes.png(shade=5), fakes.png(shade=9), name="Bo")
    assert (one.headers["Location"], two.headers["Location"]) == ("/pictures/1", "/added/2")
    page = client.get("/pictures/1").text
    command = f"In a terminal: moondesk work --follow --data {config.data_dir}"  # no placing beside this desk
    assert f"It waits to be placed. In all 3 to be placed; nothing is placing them now. {command}" in page
    assert "/standing?p=1" in page
    assert "static/placing.js" in page
    both = client.get("/added/2").text
    assert ("2 pictures of Bo" in both, "0 of 2 placed." in both) == (True, True)
    assert '<noscript><meta http-equiv="refresh"' in both
    now = datetime.now(UTC)
    assert len(queue.lease(storage, "fake 1", "a", 2, now, 60)) == 2
    told = client.get("/standing?p=1").json
    assert (told["state"], told["words"]) == (
        "leased",
        "It is being placed at this moment. In all 3 to be placed, 2 of them at this moment.",
    )
    assert "0 of 2 placed, 1 at this moment." in client.get("/standing?p=2&p=3").json["words"]
    queue.release(storage, "a")
    assert client.get("/standing?p=1&p=2&p=3").json["words"] == (
        f"0 of 3 placed. Nothing is placing them now. {command}"
    )
    list(place_waiting(storage, Media(config.data_dir), config, fakes.load, "fake 1", lambda: now))
    assert client.get("/standing?p=1").json["state"] == "placed"
    assert "placing.js" not in client.get("/pictures/1").text
    done = client.get("/added/2").text
    assert ("placing.js" in done, "refresh" in done, "All that could be used were placed." in done) == (
        False,
        False,
        True,
    )
    assert client.get("/added/9").status_code == 404
    assert client.get("/standing?p=x&p=99999999999999999999").json == {"state": "", "words": ""}


@pytest.mark.parametrize(
    ("consent", "words", "state", "kind"),
    [
        ("phone", "Yes, you may show it.", "given", "phone"),
        ("person", "Gladly (said at the fair)", "given", "person"),
        ("written", "do share it!", "given", "mail"),
        ("asked", "", "unclear", "mail"),
        ("refused", "", "refused", "mail"),
    ],
)
def test_a_consent_is_noted_with_its_words_and_by_whom(client, storage, consent, words, state, kind):
    assert put_in(client, fakes.png(), consent=consent, words=words, noted_by="Ada").status_code == 303
    (listed,) = each_submission(storage)
    found = permission(listed.submission.arrival).consent
    assert (found.state, found.kind) == (state, kind)
    assert [(c.evidence, c.noted_by) for c in listed.consents] == [(words, "Ada")]


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"name": ""}, "name"),
        ({"link": "javascript:alert(1)"}, "link"),
        ({"link": "example.org"}, "link"),
        ({"consent": "phone", "words": "yes"}, "noted_by"),
        ({"consent": "phone", "noted_by": "Ada"}, "words"),
        ({"consent": "phone", "words": "Only if you pay me.", "noted_by": "Ada"}, "words"),
        ({"consent": "maybe"}, "consent"),
        ({"taken": "2026-03-29T02:30"}, "taken"),
        ({"channel": "x" * 81}, "channel"),
    ],
)
def test_what_is_wrong_is_told_beside_its_field(typed, wrong):
    reading = read_drop({"name": HANDLE, **typed}, ID, "Europe/Vienna")
    assert (reading.form, list(reading.complaints)) == (None, [wrong])


def test_no_picture_no_token_no_taking(client, storage):
    assert put_in(client).status_code == 422
    assert put_in(client, b"<html>").status_code == 422
    for accept in ("text/html", "application/json"):
        stale = put_in(client, fakes.png(), token="x", place="Porto Covo", accept=accept)
        assert (stale.status_code, "press Take again" in stale.text) == (400, True)
    assert 'value="Porto Covo"' in put_in(client, fakes.png(), token="x", place="Porto Covo").text
    assert list(each_submission(storage)) == []


def test_a_token_of_the_upload_page_is_none_of_the_desk(client, config, storage):
    """Both are signed with one key, but each for its own cookie."""
    from moondesk.service.web.public.app import create_public_app

    public = create_public_app(config).test_client()
    theirs = re.search(r'name="token" value="([^"]+)"', public.get("/").text).group(1)
    token_of(client)
    assert put_in(client, fakes.png(), token=theirs).status_code == 400
    assert client.post("/add", data={}, headers={"Host": "evil.example"}).status_code == 400
    assert list(each_submission(storage)) == []


def test_text_without_files_has_a_limit_of_its_own(client):
    assert client.post("/add", data={"name": "x" * 200_000}).status_code == 413


def test_the_template_uses_every_field_of_its_record_and_nothing_else(config):
    from jinja2 import meta, nodes

    environment = create_app(config).jinja_env
    names, own = set(), {"url_for"}
    for name in ("drop.html", "base.html"):
        tree = environment.parse(environment.loader.get_source(environment, name)[0])
        names |= meta.find_undeclared_variables(tree)
        own |= {n for imported in tree.find_all(nodes.FromImport) for n in imported.names}
        own |= {n.name for n in tree.find_all(nodes.Name) if n.ctx == "store"}
    assert names - own == {f.name for f in fields(DropPage)}


def test_every_field_has_a_label(client):
    text = client.get("/add").text
    labelled = set(re.findall(r'<label[^>]* for="(\w+)"', text))
    ids = re.findall(r'<(?:input|select|textarea)[^>]* id="(\w+)"', text)
    assert set(ids) == labelled
    assert len(ids) == 12
    assert text.count("<h1>") == 1
    assert not re.search(r"<style|style=|\son\w+=", text)
