"""The pages: what stands on them, what never leaves, who may ask."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from datetime import UTC, datetime
from html.parser import HTMLParser

import fakes
import pytest
from fakes import add_edition

from moondesk.records import Evening, EveningKnowledge, EveningVerdict
from moondesk.sentences import sentences_of
from moondesk.service.errors import AddressError, BadInputError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.settings.config import Config
from moondesk.service.store.annotations import add_annotation, read_annotation
from moondesk.service.store.pictures import list_pictures, read_picture
from moondesk.service.store.submissions import add_submission
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.inbox.inbox_page import InboxPage
from moondesk.service.web.desk.picture.facts import moon_facts
from moondesk.service.web.desk.picture.picture_page import PicturePage
from moondesk.service.web.listening import free_port, loopback_address
from moondesk.service.web.problems import ErrorPage

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


@pytest.fixture
def client(config):
    app = create_app(config)
    app.extensions["moondesk.workshop"] = WarmPool(fakes.load, 60, InProcess())
    return app.test_client()


@pytest.fixture
def filled(folder, storage, media, config):
    """A store with placed, unsure, refused, not-the-Moon and waiting pictures; ids by name."""
    (folder / "d.png").write_bytes(fakes.png(fakes.NOT_MOON))
    (folder / "e.png").write_bytes(fakes.png(fakes.UNSURE))
    edition = open_edition(storage, config, NOW, lambda _: None)

    def take():
        list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))

    take()
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    (folder / "waiting <b>.png").write_bytes(fakes.png(shade=200))
    take()
    return {p.picture.enclosure.given_name: p.picture.id for p in list_pictures(storage, edition.id)}


def test_an_empty_desk_says_what_to_do(client):
    page = client.get("/").get_data(as_text=True)
    assert "Nothing has come in yet" in page
    assert "moondesk take FOLDER" in page


def test_the_list_names_everyone_with_status_and_time(client, filled):
    page = client.get("/").get_data(as_text=True)
    for words in (
        "Edition 1",
        "Ilse",
        "Names: sure",
        "Names: not sure",
        "Evening: told by Ilse",
        "Not the Moon",
        "Cannot be used",
        "Waiting",
        ">20:04 (19:04 UTC)<",
        "Day 7",
        "Evening of 25 March 2026",
        "Vienna",
        "Best seen: Copernicus and Mare Imbrium (Sea of Rains).",
        "No consent recorded.",
        "The file is a web page",
        "waiting &lt;b&gt;.png",
    ):
        assert words in page, words


def test_the_picture_page(client, filled):
    page = client.get(f"/pictures/{filled['a.png']}").get_data(as_text=True)
    for words in (
        "Ilse from Vienna",
        "yes by form",
        "6 inch",
        "told by Ilse, to the minute",
        "48.20° N, 16.40° E",
        "day 7 of the lunation",
        "Sure: the names are in the right places.",
        "Mirrored",
        "12° left of up",
        "58 %",
        "1.2 km",
        "Sun 12° high; clearly seen",
        'id="show-seas"',
        'id="layer-zero-meridian"',
        "labelled.png",
        "upright.png",
        'viewBox="-0.5 -0.5 80.0 60.0"',
    ):
        assert words in page, words
    assert "Grimaldi" not in page.split('class="seen"')[1]  # in the dark: nothing to point at


def test_the_page_of_a_picture_without_a_date_lists_evenings_that_fit(client, filled, storage):
    picture_id = filled["a.png"]
    stored = read_annotation(storage, picture_id)
    evening = Evening(datetime(2020, 3, 9, 22, 0, tzinfo=UTC), 0.4, 3.0, 0.5)
    dated = replace(
        stored.annotation,
        time=None,
        evenings=(evening,),
        dated=EveningKnowledge(EveningVerdict.UNKNOWN, "Nobody has said when."),
    )
    add_annotation(storage, replace(stored, annotation=dated, engine_version="fake 2"), [])
    page = client.get(f"/pictures/{picture_id}").get_data(as_text=True)
    assert "Evening of 9 March 2020" in page
    assert "It was this night" in page
    assert "Evening: unknown" in page
    assert "Nobody has said when." in page


def test_what_is_not_sure_says_why_and_what_to_do(client, filled):
    page = client.get(f"/pictures/{filled['e.png']}").get_data(as_text=True)
    assert "Not sure: Two turns fit nearly as well." in page
    assert "Pin two features." in page
    lamp = client.get(f"/pictures/{filled['d.png']}").get_data(as_text=True)
    assert "This is a street lamp." in lamp
    assert "Best seen" not in lamp
    assert "labelled.png" not in lamp
    assert 'data-zoom="disc"' not in lamp
    assert 'class="layers"' not in lamp


def test_pages_of_refused_and_waiting_pictures(client, filled):
    refused = client.get(f"/pictures/{filled['page.jpg']}").get_data(as_text=True)
    assert "The file is a web page" in refused
    assert "There is no picture to show." in refused
    assert "has not been placed yet" in client.get(f"/pictures/{filled['waiting <b>.png']}").get_data(as_text=True)


def test_derived_pictures_are_served_and_originals_never(client, filled, storage):
    number = filled["b.jpg"]
    original = fakes.jpeg_with_gps()
    for role, kind in (
        ("photo.jpg", "image/jpeg"),
        ("thumbnail.jpg", "image/jpeg"),
        ("labelled.png", "image/png"),
        ("upright.png", "image/png"),
    ):
        with client.get(f"/pictures/{number}/{role}") as response:
            assert (response.status_code, response.mimetype) == (200, kind)
            assert b"Camera maker" not in response.data
    sha = read_picture(storage, number).enclosure.sha256
    for path in (
        f"/pictures/{number}/original",
        f"/pictures/{number}/overlay.svg",
        f"/originals/{sha[:2]}/{sha}",
        f"/pictures/{number}/..%2f..%2fmoondesk.db",
        "/static/..%2f..%2fmoondesk.db",
        f"/{sha}",
    ):
        response = client.get(path)
        assert response.status_code == 404, path
        assert original not in response.data


@pytest.mark.parametrize(
    "path",
    [
        "/nowhere",
        "/pictures/999",
        "/pictures/x",
        "/pictures/999/photo.jpg",
        "/?edition=99",
        "/pictures/99999999999999999999999",
    ],
)
def test_what_is_not_there_is_a_designed_404(client, filled, path):
    response = client.get(path)
    assert response.status_code == 404
    assert "Not here" in response.get_data(as_text=True)
    assert "To the list" in response.get_data(as_text=True)


def test_odd_queries_do_no_harm(client, filled):
    for query in ("?page=0", "?page=-1", "?page=99999", "?page=' or 1", "?edition=x", "?page=²"):
        assert client.get("/" + query).status_code == 200, query


def test_a_fault_is_a_page_and_no_trace(config, monkeypatch, caplog):
    app = create_app(config)
    monkeypatch.setattr("moondesk.service.web.desk.inbox.inbox.narrow", lambda *_: 1 / 0)
    response = app.test_client().get("/")
    assert response.status_code == 500
    assert "Something broke" in response.get_data(as_text=True)
    assert "ZeroDivisionError" not in response.get_data(as_text=True)


def test_every_answer_is_hardened(client, filled):
    for path in (
        "/",
        "/nowhere",
        "/static/desk.css",
        f"/pictures/{filled['a.png']}/photo.jpg",
        "/font/DejaVuSansCondensed-Bold.ttf",
    ):
        with client.get(path) as response:
            policy = response.headers["Content-Security-Policy"]
            assert "default-src 'none'" in policy
            assert "unsafe" not in policy
            assert response.headers["X-Content-Type-Options"] == "nosniff"
            assert response.headers["Referrer-Policy"] == "no-referrer"


def test_pages_hold_no_inline_code_and_nothing_from_elsewhere(client, filled):
    for path in ("/", f"/pictures/{filled['a.png']}", "/nowhere"):
        page = client.get(path).get_data(as_text=True)
        assert not re.search(r"<style|style=|\son\w+=|javascript:", page), path
        assert not re.search(r"<script(?![^>]*\ssrc=\"/static/)", page), path
        assert not re.search(r"(?:src|href)=\"(?:https?:)?//", page), path


def test_only_names_of_this_machine_are_answered(client):
    """Otherwise a page elsewhere could read the desk by pointing its own name at 127.0.0.1."""
    for host in ("127.0.0.1:8750", "localhost", "[::1]:80"):
        assert client.get("/", headers={"Host": host}).status_code == 200, host
    for host in ("evil.example", "127.0.0.1.evil.example:8750", "10.0.0.1"):
        assert client.get("/", headers={"Host": host}).status_code == 400, host


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.5", "example.org", "", "localhost.example.org"])
def test_the_desk_refuses_any_other_address(host):
    with pytest.raises(AddressError, match="this machine only"):
        loopback_address(host)


def test_loopback_addresses_and_ports():
    import socket

    assert [loopback_address(h) for h in ("127.0.0.1", "localhost", "::1", "[::1]")] == [
        "127.0.0.1",
        "127.0.0.1",
        "::1",
        "::1",
    ]
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        number = taken.getsockname()[1]
        for port, default, may_move in ((number, 8750, False), (number, 8750, True), (None, number, False)):
            with pytest.raises(BadInputError, match="is taken: another program listens there"):
                free_port("127.0.0.1", port, default, may_move)
        assert free_port("127.0.0.1", None, number, may_move=True) not in (0, number)
    assert free_port("127.0.0.1", 0) > 0


@pytest.mark.parametrize(
    ("template", "record"), [("inbox.html", InboxPage), ("picture.html", PicturePage), ("error.html", ErrorPage)]
)
def test_a_template_uses_every_field_of_its_record_and_nothing_else(config, template, record):
    from jinja2 import meta, nodes

    environment = create_app(config).jinja_env
    names, own = set(), {"url_for"}
    for name in (template, "base.html"):
        tree = environment.parse(environment.loader.get_source(environment, name)[0])
        names |= meta.find_undeclared_variables(tree)
        own |= {n for imported in tree.find_all(nodes.FromImport) for n in imported.names}
        own |= {macro.name for macro in tree.find_all(nodes.Macro)}
        own |= {n.name for n in tree.find_all(nodes.Name) if n.ctx == "store"}
    assert names - own == {f.name for f in fields(record)}


class _Outline(HTMLParser):
    def __init__(self):
        super().__init__()
        self.headings, self.images, self.ids = [], [], []

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if tag in ("h1", "h2", "h3"):
            self.headings.append(int(tag[1]))
        if tag == "img":
            self.images.append(values)
        if "id" in values:
            self.ids.append(values["id"])


def test_pages_are_readable_by_machines_that_read_to_people(client, filled):
    for path in ("/", f"/pictures/{filled['a.png']}", f"/pictures/{filled['page.jpg']}", "/nowhere"):
        outline = _Outline()
        outline.feed(client.get(path).get_data(as_text=True))
        assert outline.headings[0] == 1 or path == "/nowhere"
        assert outline.headings.count(1) == 1
        assert all(b - a <= 1 for a, b in zip(outline.headings, outline.headings[1:], strict=False)), path
        assert all("alt" in image for image in outline.images)
        assert len(outline.ids) == len(set(outline.ids))


def test_a_hundred_pictures_are_paged(client, storage, config):
    from moondesk.service.store.records import Arrival, EditionPlan, Enclosure

    edition = add_edition(storage, EditionPlan(number=1))
    for k in range(100):
        add_submission(
            storage,
            edition.id,
            Arrival(
                key=f"file:{k}",
                source="folder",
                origin="a",
                enclosures=(
                    Enclosure(given_name="a", size_bytes=1, sha256=None, media_type=None, refusal=sentences_of("No.")),
                ),
            ),
            NOW,
        )
    first = client.get("/").get_data(as_text=True)
    assert first.count('class="card refused"') == 60
    assert "Page 1 of 2" in first
    assert client.get("/?page=2").get_data(as_text=True).count('class="card refused"') == 40


def test_the_app_tells_a_broken_store(tmp_path):
    from moondesk.service.errors import StorageError
    from moondesk.service.store.storage import DATABASE_NAME

    (tmp_path / DATABASE_NAME).write_bytes(b"x" * 4096)
    with pytest.raises(StorageError):
        create_app(replace(Config(data_dir=tmp_path)))


def test_what_the_optics_say_stands_beside_the_pictures_own_hand():
    a = fakes.annotation()
    a = replace(a, pose=replace(a.pose, mirrored=False))

    def optics(words):
        return next((f for f in moon_facts(a, words) if f.label == "Optics say"), None)

    assert optics("8 inch Newtonian, 25 mm eyepiece").value == "Not mirrored"
    against = optics("80 mm refractor with a star diagonal")
    assert against.value == "Mirrored"
    assert "against what the optics say; the picture counts" in against.note
    assert optics("grandmother's telescope") is None  # nothing that would settle it
    assert optics("") is None
