"""Logging in and out, and what slows guessing."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from desk_people import NOW, WORDS, cookie, enter, log_in, make_account, token_of

from moondesk.service import passwords
from moondesk.service.store import accounts, logins
from moondesk.service.web.access import door
from moondesk.service.web.access.login import local_path
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.tokens import Tokens


class Clock:
    """Time of day and seconds, moved by hand."""

    def __init__(self):
        self.passed = 0.0

    def now(self):
        return NOW + timedelta(seconds=self.passed)

    def seconds(self):
        return self.passed


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def app(config, clock):
    return create_app(config, now=clock.now, clock=clock.seconds)


@pytest.fixture
def ada(config, app):
    return make_account(config.data_dir, "Ada Brook", "presenter")


# --- in and out -------------------------------------------------------------------------------------------------------


def test_in_and_out(app, config, ada, storage):
    client = app.test_client()
    assert client.get("/pictures/7?x=1").headers["Location"] == "/login?next=/pictures/7?x%3D1"
    page = client.get("/login?next=/people").text
    assert 'name="next" value="/people"' in page
    answer = enter(client, next="/people")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/people")
    given = next(c for c in answer.headers.getlist("Set-Cookie") if c.startswith(f"{cookie(client)}="))
    assert "HttpOnly" in given
    assert "SameSite=Lax" in given
    assert "Secure" not in given  # plain http to this machine
    secret = re.match(r"moondesk_session_[0-9a-f]{10}=([^;]+)", given)[1]
    assert storage.read("select token from sessions") == [{"token": logins.hash_token(secret)}]  # itself it is nowhere
    assert ">Ada Brook</a>" in client.get("/people").text
    assert client.get("/login").headers["Location"] == "/"
    assert client.get("/logout").status_code == 405
    answer = client.post("/logout", data={"token": token_of(client)})
    assert answer.headers["Location"] == "/login?left=yes"
    assert answer.headers["Clear-Site-Data"] == '"cache", "storage"'
    assert "You are logged out." in client.get(answer.headers["Location"]).text
    client.set_cookie(cookie(client), secret)  # who kept the cookie has nothing
    assert client.get("/people").headers["Location"] == "/login?next=/people"


def test_two_desks_on_one_host_do_not_log_each_other_out(app, config, ada, tmp_path):
    """One jar of cookies for both, as a browser has it for one host whatever the ports."""
    other = create_app(replace(config, data_dir=tmp_path / "other"), now=lambda: NOW)
    make_account(tmp_path / "other", "Ada Brook", "presenter")
    jar = {}
    for desk in (app, other):
        client = desk.test_client()
        for name, value in jar.items():
            client.set_cookie(name, value)
        answer = enter(client)
        assert answer.status_code == 303
        jar.update(given.partition(";")[0].split("=", 1) for given in answer.headers.getlist("Set-Cookie"))
    for desk in (app, other):
        client = desk.test_client()
        for name, value in jar.items():
            client.set_cookie(name, value)
        assert client.get("/account").status_code == 200
    assert len([name for name in jar if name.startswith("moondesk_session_")]) == 2
    assert create_app(config).extensions["moondesk.keeper"].tokens.cookie("x") == (  # the same after a restart
        app.extensions["moondesk.keeper"].tokens.cookie("x")
    )


def test_no_browser_keeps_a_page_of_the_desk(app, config, ada):
    client = app.test_client()
    log_in(client, config.data_dir, ada)
    for path in ("/", "/people", "/add", "/replies", "/progress", "/audit", "/nowhere", "/pictures/1", "/air"):
        assert client.get(path).headers["Cache-Control"] == "no-store", path
    with client.get("/static/desk.css") as answer:
        assert answer.headers["Cache-Control"] == "no-cache"  # asked for anew each time, and by its ETag kept


def test_a_log_in_gives_a_fresh_session_and_ends_the_one_before(app, config, ada, storage):
    client = app.test_client()
    planted = log_in(client, config.data_dir, ada)
    client.delete_cookie(cookie(client))
    token = token_of(client, "/login")
    client.set_cookie(cookie(client), "chosen-by-somebody-else")
    answer = client.post("/login", data={"token": token, "name": "Ada Brook", "password": WORDS})
    assert answer.status_code == 303
    assert client.get_cookie(cookie(client)).value not in (planted, "chosen-by-somebody-else")
    second = logins.open_session(storage, ada.id, NOW, planted)
    assert logins.session_account(storage, planted, NOW) is None
    assert logins.session_account(storage, second, NOW).name == "Ada Brook"


def test_a_session_ends_by_itself(app, config, ada, clock, storage):
    client = app.test_client()
    secret = log_in(client, config.data_dir, ada)
    for _ in range(20):  # looked at every hour it lasts over a day
        clock.passed += 3_600
        assert client.get("/account").status_code == 200
    clock.passed += logins.IDLE.total_seconds() + 1
    assert client.get("/account").status_code == 303
    used = logins.open_session(storage, ada.id, NOW)
    for hours in range(1, 168, 10):
        assert logins.session_account(storage, used, NOW + timedelta(hours=hours)) is not None
    assert logins.session_account(storage, used, NOW + logins.LONGEST) is None  # however often it was used
    logins.open_session(storage, ada.id, NOW + timedelta(days=30))
    assert logins.hash_token(secret) not in {row["token"] for row in storage.read("select token from sessions")}


@pytest.mark.parametrize(
    ("name", "password"),
    [
        ("Ada Brook", ""),
        ("Ada Brook", "four moons over the pie"),
        ("Ada Brook", WORDS.upper()),
        ("Nobody", WORDS),
        ("", WORDS),
        ("' or 1=1 --", WORDS),
        ("Closed", WORDS),
    ],
)
def test_what_is_wrong_is_told_alike_for_everybody(app, config, ada, storage, name, password):
    closed = make_account(config.data_dir, "Closed", "helper")
    accounts.set_open(storage, closed.id, False, NOW, "Ada Brook")
    client = app.test_client()
    answer = enter(client, name, password)
    assert (answer.status_code, "do not belong together" in answer.text) == (422, True)
    assert client.get_cookie(cookie(client)) is None
    assert password == "" or password not in answer.text


def test_names_are_compared_by_their_letters(app, ada):
    for name in ("ada brook", "ADA  BROOK", " Ada Brook ", "\uff21da Brook"):
        assert enter(app.test_client(), name).status_code == 303, name


def test_an_unknown_name_costs_as_much_work_as_a_known_one(app, ada, monkeypatch):
    """Counted, not timed: each try checks one hash, of the same parameters (above)."""
    seen = []
    monkeypatch.setattr(passwords, "matches", lambda password, encoded: bool(seen.append(encoded)))
    enter(app.test_client(), "Ada Brook", "x")
    enter(app.test_client(), "Nobody", "x")
    assert [e == passwords.NOBODYS for e in seen] == [False, True]


def test_an_old_hash_is_made_anew_when_its_owner_logs_in(app, config, ada, storage):
    before = accounts.credentials(storage, "Ada Brook")[1]
    assert passwords.is_outdated(before)
    assert enter(app.test_client()).status_code == 303
    after = accounts.credentials(storage, "Ada Brook")[1]
    assert not passwords.is_outdated(after)
    assert passwords.matches(WORDS, after)


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("/people?x=1", "/people?x=1"),
        ("", "/"),
        ("https://evil.example/", "/"),
        ("//evil.example", "/"),
        ("/\\evil.example", "/"),
        ("\\/evil.example", "/"),
        ("javascript:alert(1)", "/"),
        ("/a\r\nSet-Cookie: x", "/"),
        ("/" + "x" * 600, "/"),
        ("///evil.example", "/"),
        ("people", "/"),
    ],
)
def test_after_the_log_in_nobody_is_sent_elsewhere(app, text, path):
    with app.test_request_context():
        assert local_path(text) == path


# --- what slows guessing ----------------------------------------------------------------------------------------------


def test_guessing_one_account_is_slowed_whichever_address_it_comes_from(app, ada, clock, monkeypatch):
    monkeypatch.setattr(passwords, "matches", lambda password, _: password == WORDS)
    at_once, seconds = door.OF_ACCOUNT
    client = app.test_client()
    token = token_of(client, "/login")

    def guess(k, name="Ada Brook", password="x"):
        return client.post(
            "/login",
            data={"token": token, "name": name, "password": password},
            environ_base={"REMOTE_ADDR": f"127.0.0.{1 + k}"},
        ).status_code

    assert [guess(k) for k in range(at_once)] == [422] * at_once
    assert guess(200) == 429
    assert guess(201, password=WORDS) == 429  # the right one too: else it would be told from the others
    assert guess(202, "Somebody else") == 422
    clock.passed += seconds
    assert guess(203, password=WORDS) == 303
    assert enter(app.test_client(), password="x").status_code == 429


def test_guessing_names_from_one_address_is_slowed(app, ada, monkeypatch):
    monkeypatch.setattr(passwords, "matches", lambda *_: False)
    at_once, _ = door.OF_ADDRESS
    client = app.test_client()
    token = token_of(client, "/login")
    answers = [
        client.post("/login", data={"token": token, "name": f"name {k}", "password": "x"}) for k in range(at_once + 1)
    ]
    assert [a.status_code for a in answers] == [422] * at_once + [429]
    assert int(answers[-1].headers["Retry-After"]) > 0
    assert "Too many tries in a row. Wait" in answers[-1].text


def test_who_guesses_does_not_keep_its_owner_out(app, config, ada, monkeypatch):
    """A browser that was logged in before has tries of its own; a mark cannot be made up."""
    hers, theirs = app.test_client(), app.test_client()
    assert enter(hers).status_code == 303
    hers.post("/logout", data={"token": token_of(hers)})
    monkeypatch.setattr(passwords, "matches", lambda password, _: password == WORDS)
    monkeypatch.setattr(accounts, "renew_hash", lambda *_: None)
    monkeypatch.setattr(passwords, "is_outdated", lambda _: False)
    token = token_of(theirs, "/login")
    for k in range(door.OF_ACCOUNT[0]):
        theirs.post(
            "/login",
            data={"token": token, "name": "Ada Brook", "password": "x"},
            environ_base={"REMOTE_ADDR": f"127.0.0.{2 + k}"},
        )
    theirs.set_cookie(cookie(theirs, "moondesk_known"), f"{ada.id}.{'0' * 16}.{'0' * 64}", path="/login")
    for k in range(door.OF_ADDRESS[0]):
        theirs.post("/login", data={"token": token, "name": f"name {k}", "password": "x"})
    assert theirs.post("/login", data={"token": token, "name": "Ada Brook", "password": "x"}).status_code == 429
    assert enter(app.test_client()).status_code == 429  # the same address, no mark
    assert enter(hers).status_code == 303


def test_marks_of_browsers_are_signed():
    tokens, other = Tokens(b"k" * 32), Tokens(b"o" * 32)
    mark = tokens.browser_mark(7)
    assert tokens.account_of_mark(mark) == 7
    for bad in ("", "7", mark[:-1], mark + "0", "8" + mark[1:], other.browser_mark(7), "7.é.ü", mark.replace(".", "")):
        assert tokens.account_of_mark(bad) is None, bad
    assert tokens.form_id(mark, "0" * 32, NOW) is None  # no other kind of token either


def test_no_stranger_sends_more_than_a_form_of_text(app, ada):
    for path in ("/login", "/setup", "/logout"):
        many = {"token": "x", "file": (io.BytesIO(b"0" * 200_000), "x.jpg")}
        assert app.test_client().post(path, data=many).status_code == 413, path
    assert app.test_client().post("/add", data={"pictures": (io.BytesIO(b"0" * 200_000), "x.jpg")}).status_code == 401
