"""The upload application from outside: what it answers, to whom, how often; and that the desk is not in it."""

from __future__ import annotations

import html
import http.client
import io
import json
import re
import socket
import threading
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from itertools import count
from pathlib import Path

import fakes
import pytest
from servers import running

import moondesk.service.web
from moondesk.service.errors import AddressError, BadInputError
from moondesk.service.settings.config import CONFIG_NAME, read_config
from moondesk.service.settings.public import Public
from moondesk.service.store import rundowns
from moondesk.service.store.media import sha256_of
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.receipts import receipt
from moondesk.service.store.submissions import each_submission
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.headers import SECURITY_HEADERS
from moondesk.service.web.problems import ErrorPage
from moondesk.service.web.public.app import create_public_app, public_server
from moondesk.service.web.public.pages import FormPage, ReceiptPage

NOW = datetime(2026, 3, 25, 21, 0, tzinfo=UTC)
SETTINGS = "[public]\nproxies = ['10.0.0.1']\ncontact = 'ask@example.org'\nform_bytes = 2_000_000\n"


class Clock:
    """Both clocks of the application, in the test's hand."""

    def __init__(self):
        self.seconds = 1000.0

    def now(self):
        return NOW + timedelta(seconds=self.seconds - 1000)

    def __call__(self):
        return self.seconds


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def app(config, clock):
    config.data_dir.mkdir()
    (config.data_dir / CONFIG_NAME).write_text(SETTINGS)
    return create_public_app(config, clock.now, clock)


@pytest.fixture
def client(app):
    return app.test_client()


def token_of(client) -> str:
    return re.search(r'name="token" value="([^"]+)"', client.get("/").text).group(1)


def send(client, *pictures, accept="text/html", **typed):
    """The form filled in, with its token."""
    data = {"name": "Ilse", "agreed": "yes", **typed}
    data.setdefault("token", token_of(client))
    data["pictures"] = [(io.BytesIO(p), f"{k}.png") for k, p in enumerate(pictures)]
    return client.post("/", data=data, headers={"Accept": accept})


def multipart(picture: bytes, **typed) -> bytes:
    """A form with one picture as a browser writes it, with x for its boundary (RFC 7578)."""
    parts = b"".join(
        f'--x\r\nContent-Disposition: form-data; name="{k}"\r\n\r\n{v}\r\n'.encode() for k, v in typed.items()
    )
    return (
        parts
        + b'--x\r\nContent-Disposition: form-data; name="pictures"; filename="a.png"\r\n\r\n'
        + picture
        + b"\r\n--x--\r\n"
    )


MULTIPART = "multipart/form-data; boundary=x"


# --- the form -----------------------------------------------------------------------------------------------------


def test_pictures_go_in_and_a_receipt_comes_back(client, storage, media):
    answer = send(client, fakes.png(), fakes.jpeg_with_gps(), place="Vienna", equipment="6 inch, 25 mm eyepiece")
    assert answer.status_code == 303
    (listed,) = each_submission(storage)
    arrival = listed.submission.arrival
    assert (arrival.source, arrival.credit_line, arrival.place_name) == ("form", "Ilse", "Vienna")
    assert media.path(sha256_of(fakes.jpeg_with_gps())).read_bytes() == fakes.jpeg_with_gps()
    page = client.get(answer.headers["Location"])
    assert page.status_code == 200
    assert "We have it" in page.text
    assert page.text.count("It waits for its turn") == 2
    assert page.headers["Cache-Control"] == "no-store"
    assert page.headers["X-Robots-Tag"] == "noindex"


def test_a_receipt_names_no_host_that_the_request_made_up(client):
    path = send(client, fakes.png()).headers["Location"]
    page = client.get(path, headers={"Host": "evil.example"}).text
    assert "evil" not in page
    assert "this page’s own address" in page


def test_the_receipt_says_placed_and_later_on_air(client, storage, media, config):
    from moondesk.service.jobs.waiting import place_waiting

    address = send(client, fakes.png()).headers["Location"]
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    assert "the Moon in it has been placed" in client.get(address).text
    (listed,) = each_submission(storage)
    edition_id, later = listed.submission.edition_id, NOW + timedelta(days=1)
    picked = rundowns.add(storage, edition_id, list_pictures(storage, edition_id)[0].picture.id, "Ida", NOW)
    rundowns.note_aired(storage, edition_id, [picked.item_id], later, "Ida", later)
    assert "On air on 26 March 2026" in client.get(address).text


def test_pictures_are_taken_back_by_the_receipt_alone(client, storage, media):
    address = send(client, fakes.png(), address="ilse@example.org").headers["Location"]
    token = token_of(client)
    asked = client.post(address + "/withdraw", data={"token": token})
    assert (asked.status_code, "Please tick the box" in asked.text) == (422, True)
    done = client.post(address + "/withdraw", data={"token": token, "sure": "yes"})
    assert (done.status_code, done.headers["Location"]) == (303, address)
    assert "Taken back" in client.get(address).text
    assert list(each_submission(storage)) == []
    assert [p for p in (media.root / "originals").rglob("*") if p.is_file()] == []
    assert client.post(address + "/withdraw", data={"token": token, "sure": "yes"}).status_code == 303
    assert receipt(storage, address.rpartition("/")[2]).erased_utc == NOW


def test_the_same_form_sent_twice_gives_the_same_receipt(client, storage):
    token = token_of(client)
    first, again = (send(client, fakes.png(), token=token) for _ in range(2))
    assert first.headers["Location"] == again.headers["Location"]
    assert len(list(each_submission(storage))) == 1


@pytest.mark.parametrize("accept", ["text/html", "application/json"])
def test_what_is_wrong_is_told_and_what_was_typed_is_kept(client, storage, accept):
    answer = send(client, name="Ilse <b>", address="ilse", agreed="", equipment="6 inch", minor="yes", accept=accept)
    assert answer.status_code == 422
    wrong = ("at least one picture", "no complete mail address", "Without this tick", "name of the parent or guardian")
    if accept == "application/json":
        assert set(answer.json["complaints"]) == {"pictures", "address", "agreed", "guardian", "guardian_agreed"}
        assert all(any(w in c for c in answer.json["complaints"].values()) for w in wrong)
    else:
        assert all(w in answer.text for w in (*wrong, 'value="Ilse &lt;b&gt;"', ">6 inch</textarea>"))
        assert answer.text.count('aria-invalid="true"') == 5
    assert list(each_submission(storage)) == []


def test_a_file_that_is_no_picture_is_refused_with_its_sentence(client, storage):
    answer = send(client, b"<html>hello</html>")
    assert answer.status_code == 422
    assert "The file is a web page" in answer.text
    mixed = send(client, b"<html>hello</html>", fakes.png())
    assert "We could not use this one. The file is a web page" in client.get(mixed.headers["Location"]).text


def test_names_in_any_script_come_back_as_they_are(client, storage):
    name = "इल्से 月 Łucja ﷼ Zoë 'or 1=1;--"
    page = client.get(send(client, fakes.png(), name=name).headers["Location"])
    assert name.replace("'", "&#39;") in page.text
    assert next(iter(each_submission(storage))).submission.arrival.credit_line == name


# --- forged, too much, too often ----------------------------------------------------------------------------------


@pytest.mark.parametrize("forged", ["", "x", "1.2.3", "another visitor's", "old"])
def test_a_form_without_its_own_token_is_not_taken(client, app, storage, clock, forged):
    if forged == "another visitor's":
        forged = token_of(app.test_client())
    elif forged == "old":
        forged = token_of(client)
        clock.seconds += 13 * 3600
    client.get("/")
    for accept in ("text/html", "application/json"):
        answer = send(client, fakes.png(), token=forged, name="Ilse Kept", accept=accept)
        assert answer.status_code == 400
        assert "press Send again" in answer.text
        assert ("Ilse Kept" in answer.text) == (accept == "text/html")
        fresh = (
            answer.json["token"]
            if accept == "application/json"
            else re.search(r'name="token" value="([^"]+)"', answer.text).group(1)
        )
    assert list(each_submission(storage)) == []
    assert send(client, fakes.png(), token=fresh).status_code == 303


def test_without_cookies_nothing_is_taken(app, storage):
    client = app.test_client(use_cookies=False)
    assert send(client, fakes.png()).status_code == 400
    assert list(each_submission(storage)) == []


def test_a_token_is_no_use_for_another_installation(client, tmp_path, config):
    from moondesk.service.web.tokens import load_tokens, new_visitor

    ours, theirs = load_tokens(config.data_dir), load_tokens(tmp_path / "other")
    visitor = new_visitor()
    assert ours.form_id(ours.issue(visitor, NOW), visitor, NOW)
    assert theirs.form_id(ours.issue(visitor, NOW), visitor, NOW) is None
    assert ours.receipt("form:x") != theirs.receipt("form:x")
    assert load_tokens(config.data_dir) == ours
    assert (config.data_dir / "forms.key").stat().st_mode & 0o077 == 0


def test_a_form_opened_before_the_clock_was_set_back_is_still_good(tmp_path):
    from moondesk.service.web.tokens import load_tokens, new_visitor

    ours, visitor = load_tokens(tmp_path), new_visitor()
    token = ours.issue(visitor, NOW)
    assert ours.form_id(token, visitor, NOW - timedelta(minutes=5))
    assert ours.form_id(token, visitor, NOW + timedelta(hours=11))
    for hours in (-13, 13):
        assert ours.form_id(token, visitor, NOW + timedelta(hours=hours)) is None


def test_the_rate_is_limited_before_the_token_and_before_the_form_is_read(client, clock, monkeypatch):
    """A flood of forged forms must be told 429, not 400: a limiter behind the token would never count them."""
    codes = [client.post("/", data={"token": "x"}).status_code for _ in range(65)]
    assert codes == [400] * 60 + [429] * 5
    monkeypatch.setattr("moondesk.service.web.public.views.read_form", lambda *_: 1 / 0)
    answer = client.post("/", data=b"x" * 5_000_000, content_type=MULTIPART)
    assert answer.status_code == 429
    assert 0 < int(answer.headers["Retry-After"]) <= 60
    assert "what you typed should still be there" in answer.text
    clock.seconds += 60
    assert client.post("/", data={"token": "x"}).status_code == 400


def test_another_address_has_its_own_limit_and_none_can_be_feigned(client):
    def post(remote, forwarded):
        return client.post(
            "/", data={"token": "x"}, headers={"X-Forwarded-For": forwarded}, environ_base={"REMOTE_ADDR": remote}
        ).status_code

    assert [post("192.0.2.1", f"198.51.100.{k}") for k in range(62)][-1] == 429  # its header is not believed
    assert post("10.0.0.1", "198.51.100.1") == 400  # our proxy's is
    for last in ("198.51.100.1", "198.51.100.1:4711"):  # but its last word only; some write the port too
        assert [post("10.0.0.1", f"203.0.113.{k}, {last}") for k in range(62)][-1] == 429
    assert post("10.0.0.1", "[2001:db8::1]:4711") == 400


def test_receipts_cannot_be_tried_out(client):
    codes = {client.get(f"/receipt/{k:032x}").status_code for k in range(70)}
    assert codes == {404, 429}


def test_too_large_a_form_is_413_with_advice(client, storage):
    for accept in ("text/html", "application/json"):
        answer = client.post(
            "/",
            data=multipart(bytes(3_000_000), token=token_of(client)),
            content_type=MULTIPART,
            headers={"Accept": accept},
        )
        assert answer.status_code == 413
        assert "2 MB together" in answer.text
    assert list(each_submission(storage)) == []


def test_too_much_text_and_too_many_parts_are_413(client):
    token = token_of(client)
    for kind in (MULTIPART.partition(";")[0], "application/x-www-form-urlencoded", "text/plain"):
        long = {"token": token, "name": "x" * 200_000}
        data = "x" * 200_000 if kind == "text/plain" else long
        assert client.post("/", data=data, content_type=kind).status_code == 413, kind
    parts = {f"f{k}": "x" for k in range(200)}
    assert client.post("/", data={"token": token, **parts}, content_type="multipart/form-data").status_code == 413
    many = send(client, *(fakes.png(shade=k) for k in range(13)))
    assert (many.status_code, "at most 12 pictures" in many.text) == (422, True)


def test_a_full_disk_is_told_before_anything_is_read(client, monkeypatch, storage):
    from collections import namedtuple

    monkeypatch.setattr("shutil.disk_usage", lambda _: namedtuple("usage", "free")(1_000_000))
    answer = send(client, fakes.png())
    assert (answer.status_code, "Not just now" in answer.text) == (503, True)
    assert list(each_submission(storage)) == []


# --- all routes ---------------------------------------------------------------------------------------------------


def addresses(app):
    """(method, path) of every route, with made-up values for its variables."""
    for rule in app.url_map.iter_rules():
        for method in rule.methods - {"HEAD", "OPTIONS"}:
            yield method, re.sub(r"<[^>]+>", "x", rule.rule)


def test_these_are_all_the_routes(app):
    assert sorted(addresses(app)) == [
        ("GET", "/"),
        ("GET", "/q/x"),
        ("GET", "/q/x/x.jpg"),
        ("GET", "/receipt/x"),
        ("GET", "/static/x"),
        ("POST", "/"),
        ("POST", "/q/x"),
        ("POST", "/receipt/x/withdraw"),
    ]


def test_every_post_needs_its_token_and_changes_nothing_without(app, client, storage):
    address = send(client, fakes.png()).headers["Location"]
    for method, path in addresses(app):
        if method == "POST":
            path = path.replace("/receipt/x", address)
            for data in ({}, {"token": "x", "sure": "yes"}, {"sure": "yes", "name": "x", "agreed": "yes"}):
                told = 404 if path == "/q/x" else 400  # a question's link is its token
                assert client.post(path, data=data).status_code == told, path
    assert len(list(each_submission(storage))) == 1


def test_no_route_of_the_desk_answers_here(app, client, config, storage):
    """The desk's list stands at the public form's own address; all its others must be unknown."""
    send(client, fakes.png())
    seconds = count(0, 1000)  # so slowly that nobody is told to wait
    client = create_public_app(config, clock=lambda: float(next(seconds))).test_client()
    desk = create_app(config)
    paths = {re.sub(r"<[^>]+>", "1", rule.rule) for rule in desk.url_map.iter_rules()}
    static = Path(moondesk.service.web.__file__).parent / "static"
    paths |= {f"/static/{p.name}" for p in static.iterdir()} - {
        "/static/desk.css",
        "/static/components.css",
        "/static/public.css",
        "/static/public.js",
        "/static/icon.svg",
    }
    paths |= {"/moondesk.db", "/forms.key", "/static/../../config.py", "/static/..%2f..%2fconfig.py", "/originals/"}
    for path in paths - {"/"}:
        for method in ("get", "post"):
            assert getattr(client, method)(path).status_code in (400, 404, 405), path
    assert "Send us your Moon" in client.get("/").text
    assert not [e for e in app.view_functions if not e.startswith("upload.")]


def test_every_answer_carries_the_headers(app, client):
    answers = [client.open(path, method=method) for method, path in addresses(app)]
    answers += [
        client.get("/"),
        client.get("/nowhere"),
        client.delete("/"),
        client.get("/static/public.css"),
        send(client, fakes.png()),
        client.open("/", method="TRACE"),
        *(client.post("/", data={"token": "x"}) for _ in range(62)),
    ]
    assert {a.status_code for a in answers} >= {200, 303, 400, 404, 405, 429}
    for answer in answers:
        for name, value in SECURITY_HEADERS.items():
            assert answer.headers[name] == value, (answer.status, name)
    assert "unsafe" not in SECURITY_HEADERS["Content-Security-Policy"]


def test_a_fault_is_a_page_and_no_trace(app, client, monkeypatch, caplog):
    monkeypatch.setattr("moondesk.service.web.public.views.form_page", lambda *_: 1 / 0)
    answer = client.get("/")
    assert (answer.status_code, "Something broke" in answer.text, "Error" in answer.text) == (500, True, False)


def test_the_cookie_is_the_pages_own(client, config, clock):
    cookie = client.get("/").headers["Set-Cookie"]
    assert all(word in cookie for word in ("HttpOnly", "SameSite=Strict", "Path=/"))
    assert "Set-Cookie" not in client.get("/").headers
    (config.data_dir / CONFIG_NAME).write_text("[public]\naddress = 'https://moon.example.org/'\n")
    behind = create_public_app(config, clock.now, clock).test_client()
    assert "Secure" in behind.get("/").headers["Set-Cookie"]
    assert behind.get("/").headers["Strict-Transport-Security"] == "max-age=31536000"
    assert "Strict-Transport-Security" not in client.get("/").headers
    tokens = behind.application.extensions["moondesk.public"].tokens
    behind.set_cookie(tokens.cookie("moondesk_form"), "0" * 32)
    address = send(behind, fakes.png()).headers["Location"]
    assert f'value="https://moon.example.org{address}"' in behind.get(address).text


# --- the server ---------------------------------------------------------------------------------------------------


@pytest.fixture
def served(app):
    with running(app) as server:
        yield server


def posted(server, size: int, headers=None):
    """A body of that size sent as browsers send it: all of it, before the answer is read."""
    connection = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=20)
    connection.request("POST", "/", body=b"x" * size, headers={"Content-Type": MULTIPART, **(headers or {})})
    answer = connection.getresponse()
    body = answer.read().decode()
    connection.close()
    return answer.status, body


def test_over_the_limit_the_browser_sees_413_and_not_a_broken_line(served):
    status, body = posted(served, 5_000_000)
    assert status == 413
    assert "Please go back and send fewer pictures" in body


def test_bodies_that_never_end_hold_nobody_up(served):
    """More of them than the server has threads; each says that a megabyte follows, and sends two bytes."""
    head = (
        b"POST / HTTP/1.1\r\nHost: x\r\nContent-Type: multipart/form-data; boundary=x\r\n"
        b"Content-Length: 1000000\r\n\r\n--"
    )
    stalled = [socket.create_connection(("127.0.0.1", served.effective_port)) for _ in range(12)]
    try:
        for line in stalled:
            line.sendall(head)
        connection = http.client.HTTPConnection("127.0.0.1", served.effective_port, timeout=5)
        connection.request("GET", "/")
        assert connection.getresponse().read().startswith(b"<!doctype html>")
        connection.close()
    finally:
        for line in stalled:
            line.close()


def test_forwarded_headers_reach_the_application_as_they_were_sent(served, app):
    """The server would drop them, and with them every visitor behind a proxy would share one limit."""
    here = app.extensions["moondesk.public"]
    posted(served, 10, {"X-Forwarded-For": "198.51.100.7"})
    assert list(here.limits.tries._buckets) == ["127.0.0.1"]


def test_many_send_at_once(served, app, storage):
    """Six threads serve, two children read: eight forms at once must all be taken."""
    here = app.extensions["moondesk.public"]
    answers = []

    def one(shade):
        visitor = f"{shade:032x}"
        body = multipart(
            fakes.png(shade=shade), token=here.tokens.issue(visitor, here.now()), name=f"Sender {shade}", agreed="yes"
        )
        connection = http.client.HTTPConnection("127.0.0.1", served.effective_port, timeout=30)
        cookie = f"{here.tokens.cookie('moondesk_form')}={visitor}"
        connection.request("POST", "/", body=body, headers={"Content-Type": MULTIPART, "Cookie": cookie})
        answers.append(connection.getresponse().status)
        connection.close()

    threads = [threading.Thread(target=one, args=(k,)) for k in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers == [303] * 8
    assert len(list(each_submission(storage))) == 8


def test_it_listens_where_it_is_told(app):
    with pytest.raises(AddressError, match="no address"):
        public_server(app, "example.org", 0)


@pytest.mark.parametrize(
    "table",
    [
        {"adress": "x"},
        {"address": "moon.example.org"},
        {"proxies": "127.0.0.1"},
        {"proxies": ["proxy"]},
        {"pictures": 0},
        {"form_bytes": "many"},
    ],
)
def test_wrong_settings_are_told(table, tmp_path):
    lines = (f"{name} = {json.dumps(value)}" for name, value in table.items())
    (tmp_path / CONFIG_NAME).write_text("\n".join(("[public]", *lines)))
    with pytest.raises(BadInputError, match=r"moondesk\.toml: \[public\] "):
        read_config(tmp_path)
    (tmp_path / CONFIG_NAME).write_text("[public]\nadress = 'x'\n")
    with pytest.raises(BadInputError, match=r"did you mean 'address'\? It has address, "):
        read_config(tmp_path)
    assert read_config(tmp_path / "nowhere").public == Public()


# --- for everybody ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("template", "record"),
    [("public_form.html", FormPage), ("public_receipt.html", ReceiptPage), ("public_error.html", ErrorPage)],
)
def test_a_template_uses_every_field_of_its_record_and_nothing_else(app, template, record):
    from jinja2 import meta, nodes

    environment = app.jinja_env
    names, own = set(), {"url_for", "request"}
    for name in (template, "public_base.html"):
        tree = environment.parse(environment.loader.get_source(environment, name)[0])
        names |= meta.find_undeclared_variables(tree)
        own |= {n for imported in tree.find_all(nodes.FromImport) for n in imported.names}
        own |= {n.name for n in tree.find_all(nodes.Name) if n.ctx == "store"}
    assert names - own == {f.name for f in fields(record)}


class _Page(HTMLParser):
    """What of a page a machine can check that reads it to people."""

    def __init__(self):
        super().__init__()
        self.labels, self.inputs, self.ids, self.headings, self.tags = set(), [], [], [], []
        self.described, self.language = [], ""

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        self.tags.append(tag)
        self.ids += [values["id"]] if "id" in values else []
        self.described += values.get("aria-describedby", "").split() + values.get("aria-labelledby", "").split()
        if tag == "html":
            self.language = values.get("lang")
        if tag == "label":
            self.labels.add(values["for"])
        if tag in ("input", "select", "textarea") and values.get("type") != "hidden":
            self.inputs.append(values)
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        assert tag != "img" or "alt" in values
        assert tag != "progress" or "aria-label" in values
        assert tag != "svg" or values.get("aria-hidden") == "true"


def pages(client):
    yield client.get("/").text
    yield send(client, agreed="", address="x").text
    address = send(client, fakes.png()).headers["Location"]
    yield client.get(address).text
    client.post(address + "/withdraw", data={"token": token_of(client), "sure": "yes"})
    yield client.get(address).text
    yield client.get("/nowhere").text


def test_every_input_has_a_label_and_every_page_its_landmarks(client):
    for text in pages(client):
        page = _Page()
        page.feed(text)
        assert page.language == "en"
        for field in page.inputs:
            assert field["id"] in page.labels, field
        assert set(page.described) <= set(page.ids)
        assert len(page.ids) == len(set(page.ids))
        assert page.headings.count(1) == 1
        assert page.headings[0] == 1
        assert all(b - a <= 1 for a, b in zip(page.headings, page.headings[1:], strict=False))
        assert all(page.tags.count(landmark) == 1 for landmark in ("main", "header", "title"))
        assert not re.search(r"tabindex=\"[1-9]", text)  # the order of the focus is that of the page


def test_pages_hold_no_inline_code_and_nothing_from_elsewhere(client):
    for text in pages(client):
        assert not re.search(r"<style|style=|\son\w+=|javascript:", text)
        assert not re.search(r"<script(?![^>]*\ssrc=\"/static/)", text)
        assert not re.search(r"(?:src|href|action)=\"(?:https?:)?//", text)


def test_the_page_says_what_happens_to_the_data_and_warns_of_the_sun(client):
    text = " ".join(client.get("/").text.split())
    for words in (
        "Never point a camera, binoculars or a telescope near the Sun",
        "never shown and never passed on",
        "take everything back at any time",
        "The law where you live may give you more rights",
        "A child took these pictures",
        "Questions about your data: ask@example.org",
    ):
        assert words in text, words


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    if len(colour) == 4:
        colour = "#" + "".join(2 * c for c in colour[1:])
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_computed_as_the_standard_does():
    """21 to 1 for black on white by definition; #767676 on white is the lightest grey that passes 4.5 (from memory)."""
    assert contrast("#000000", "#fff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def palettes() -> dict[str, dict[str, str]]:
    style = (Path(moondesk.service.web.__file__).parent / "static" / "desk.css").read_text()
    dark, light = (
        dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{3,6})\b", part.split("}")[0]))
        for part in style.split(":root {")[1:3]
    )
    return {"dark": dark, "light": {**dark, **light}}


@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_all_text_stands_out_from_what_it_lies_on(scheme):
    """WCAG 2.2: 1.4.3 wants 4.5 for text, 1.4.11 wants 3 for the edges of fields."""
    palette = palettes()[scheme]
    for text in ("text", "quiet", "lamp", "fault", "refused", "unsure", "unplaced", "waiting", "sure"):
        for ground in ("night", "panel", "raised", "field"):
            assert contrast(palette[text], palette[ground]) >= 4.5, (text, ground)
    assert contrast(palette["on-lamp"], palette["lamp"]) >= 4.5
    for ground in ("panel", "field", "night"):
        assert contrast(palette["edge"], palette[ground]) >= 3, ground


# --- the language of the pages ----------------------------------------------------------------------------------------


def test_the_pages_speak_the_browsers_language_or_the_chosen_one(client, storage):
    bulgarian = {"Accept-Language": "bg-BG, en;q=0.5"}
    page = client.get("/", headers=bulgarian).text
    assert '<html lang="bg" dir="ltr"' in page
    assert "Изпратете ни вашата Луна" in page
    assert "Send us your Moon" not in page
    assert "Send us your Moon" in client.get("/?language=en", headers=bulgarian).text
    assert "Send us your Moon" in client.get("/?language=xx").text
    token = token_of(client)
    refused = client.post("/?language=bg", data={"token": token, "name": "Илза"})
    assert "Моля, изберете поне една снимка." in refused.text
    data = {"token": token, "name": "Илза", "agreed": "yes", "pictures": [(io.BytesIO(fakes.png()), "a.png")]}
    address = client.post("/?language=bg", data=data).headers["Location"]
    assert address.endswith("?language=bg")
    receipt_page = client.get(address).text
    assert "Получихме я. Благодарим ви!" in receipt_page
    assert "25 март 2026" in receipt_page
    (listed,) = each_submission(storage)
    assert listed.consents[0].evidence.endswith("[bg]")
    assert "Не е тук" in client.get("/nowhere?language=bg").text


def test_the_script_speaks_it_too(client):
    page = client.get("/?language=bg").text
    words = json.loads(html.unescape(re.search(r'data-words="([^"]+)"', page).group(1)))
    script = (Path(moondesk.service.web.__file__).parent / "static/public.js").read_text()
    asked = set(re.findall(r'put\("((?:[^"\\]|\\.)+)"', script))
    assert asked == set(words)
    assert "data-words" not in client.get("/").text
