"""A desk that was restored from a backup, or lost a folder of derived pictures, shows every picture on every page."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime

import fakes
import pytest
from air_plans import made_plan
from test_roles import PARTS

from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.missing_pictures import WAITING, BeingDrawnError, place_in_line
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.store import rundowns
from moondesk.service.store.backup import backup
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.restoring import restore
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
#: What this desk has none of, restored or not: links without a log-in, composites, a reply, something aired, a letter,
#: a picture in a frame with others, a socket; and the page on air names its layers otherwise, the sheet its frames.
NOT_THERE_BEFORE = {
    "air.linked",
    "air.linked_plan",
    "air.linked_state",
    "air.linked_layer",
    "archive.night_file",
    "archive.month_file",
    "history.frame",
    "reply.eml",
    "compare.frame",
    "air.layer",
    "air.sheet_frame",
    "control.by_secret",
    "control.by_log_in",
    "control.linked_still",
    "letters.page",
    "letters.ask_erase",
    "reply.form",
    "after.file",
    "settings.theme",
}


@pytest.fixture
def data(folder, storage, media, config):
    """Two pictures that may be shown picked for an edition, others beside them."""
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    (listed,) = [p for p in list_pictures(storage, edition.id) if p.picture.enclosure.given_name == "a.png"]
    rundowns.add(storage, edition.id, listed.picture.id, "Ada", NOW)
    return config.data_dir


def desk_of(folder):
    app = create_app(load_config(folder), now=lambda: NOW)
    app.extensions["moondesk.workshop"] = WarmPool(fakes.load, 60, InProcess())
    return app


def told(client, path):
    with client.get(path) as answer:
        return answer.status_code, answer.mimetype, answer.get_data()


def every_page(app, parts):
    """(endpoint, status) of every route that is read."""
    client, found = app.test_client(), []
    for rule in app.url_map.iter_rules():
        if "GET" in rule.methods:
            with app.test_request_context():
                path = app.url_map.bind("localhost").build(
                    rule.endpoint, {name: parts.get(name, 1) for name in rule.arguments}
                )
            found.append((rule.endpoint, told(client, path)[0]))
    return found


def test_after_a_restore_every_page_answers(data, tmp_path, storage):
    parts = {
        **PARTS,
        "name": "whole.png",
        "image": "thumbnail",
        "item_id": storage.read("select id from rundown_items")[0]["id"],
        "picture_id": storage.read("select picture_id from rundown_items")[0]["picture_id"],
    }
    backup(data, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "back")
    assert not (tmp_path / "back" / "derived").exists()
    found = every_page(desk_of(tmp_path / "back"), parts)
    assert len(found) > 50
    refused = {endpoint for endpoint, status in found if status >= 400}
    assert refused == NOT_THERE_BEFORE
    assert {status for _, status in found} <= {200, 303, 400, 404, 426}


def test_after_a_restore_all_pictures_are_there(data, tmp_path):
    backup(data, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "back")
    client, seen = desk_of(tmp_path / "back").test_client(), 0
    with Storage(tmp_path / "back") as storage:
        placed = [p.picture.id for p in list_pictures(storage, 1) if p.summary]
    for picture_id in placed:
        for role in ("thumbnail", "photo", "labelled", "upright"):  # the small one first, as in the inbox
            status, kind, image = told(client, f"/pictures/{picture_id}/{role}")
            assert (status, kind.partition("/")[0]) == (200, "image"), role
            assert image
            seen += 1
    assert seen == 12
    page = told(client, f"/pictures/{placed[0]}")[2].decode()
    assert "Mare &lt;Imbrium&gt;" in page, "the overlay is drawn again too"


def test_after_a_restore_the_plan_of_air_has_its_frames(data, tmp_path):
    backup(data, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "back")
    client = desk_of(tmp_path / "back").test_client()
    plan = made_plan(client, "/air/1/plan.json")
    assert len(plan["items"]) == 1, plan
    layers = [layer["url"] for layer in plan["items"][0]["layers"]]
    assert layers
    assert {told(client, url)[:2] for url in layers} == {(200, "image/png")}
    with Storage(tmp_path / "back") as storage:
        item = rundowns.rundown(storage, 1).items[0].id
    assert told(client, f"/rundown/1/items/{item}/frame/whole.png")[:2] == (200, "image/png")


def test_one_deleted_folder_is_drawn_again(data, storage):
    picture = next(p for p in list_pictures(storage, 1) if p.summary).picture
    folder = data / "derived" / picture.enclosure.sha256[:2] / picture.enclosure.sha256
    shutil.rmtree(folder)
    client = desk_of(data).test_client()
    assert told(client, f"/pictures/{picture.id}/thumbnail")[:2] == (200, "image/jpeg")
    assert f"/pictures/{picture.id}/photo" in told(client, f"/pictures/{picture.id}")[2].decode()
    assert storage.read("select again from jobs") == [], "it was drawn, not placed anew"


def test_a_picture_whose_original_is_gone_says_so(data, storage):
    picture = next(p for p in list_pictures(storage, 1) if p.summary).picture
    shutil.rmtree(data / "derived")
    Media(data).path(picture.enclosure.sha256).unlink()
    client = desk_of(data).test_client()
    status, _, page = told(client, f"/pictures/{picture.id}/thumbnail")
    assert (status, b"missing from the store" in page) == (404, True)
    assert told(client, f"/pictures/{picture.id}")[0] == 200


def test_no_more_requests_wait_for_drawings_than_leave_threads_for_air():
    with place_in_line(), place_in_line(), place_in_line():
        assert WAITING == 3
        with pytest.raises(BeingDrawnError, match="being drawn"), place_in_line():
            pass
    with place_in_line():
        pass
