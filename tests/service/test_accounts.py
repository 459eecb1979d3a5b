"""Accounts: passwords, logging in and out, what slows guessing, people and their tokens, from where one may come."""

from __future__ import annotations

import http.client
import io
import re
import threading
from dataclasses import replace
from datetime import timedelta

import argon2
import pytest
from click.testing import CliRunner
from desk_people import NOW, WORDS, log_in, make_account, post, token_of

from service import passwords
from service.cli import main
from service.config import CONFIG_NAME, Config, load_config
from service.desk import door, reach
from service.desk.app import create_app, listen
from service.desk.login import local_path
from service.errors import AddressError, BadInputError
from service.store import accounts, audit, logins
from service.web.tokens import Tokens

NEW = "a lantern in the dry dock"


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


def enter(client, name="Ada Brook", password=WORDS, **more):
    return client.post("/login", data={"token": token_of(client, "/login"), "name": name, "password": password, **more})


# --- passwords --------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("password", "words"), [
    ("", "at least 12"), ("eleven char", "at least 12"), ("x" * 201, "200 characters; it has 201"),
    ("aaaaaaaaaaaaaa", "repeats"), ("abcabcabcabcabc", "repeats"), ("abcdefghijklm", "runs along"),
    ("9876543210987", "runs along"), ("qwertyuiopasdf", "runs along"), ("password123456", "names"),
    ("Ada Brook 2026!", "names"), ("AdaBrookAdaBrook", "names"), ("lantern hour 1", "names"),
    ("letmein-letmein-1", "names"),
])
def test_what_is_tried_first_is_no_password(password, words):
    assert words in passwords.complaint(password, ("Ada Brook", "Lantern Hour"))


@pytest.mark.parametrize("password", [
    "four moons over the pier", "correct horse battery", "twelve chars", "Tr0ub4dor&3xyz", "4711-0815-2024-77",
    "密码很长的一句话没有人猜得到", "     a     b     c     d     e", "ada keeps bees by the canal",
])
def test_no_rule_of_composition_stands_against_these(password):
    """NIST SP 800-63B, 5.1.1.2: length, any Unicode, blanks; no mixtures of kinds asked for."""
    assert passwords.complaint(password, ("Ada Brook", "Lantern Hour")) == ""


def test_the_hash_is_argon2id_by_rfc_9106_and_each_has_its_own_salt():
    """RFC 9106, section 4, second recommended option: t=3, p=4, m=2^16 KiB, 128-bit salt, 256-bit tag."""
    one, two = passwords.hashed(WORDS), passwords.hashed(WORDS)
    assert one != two
    for encoded in (one, passwords.NOBODYS):  # of an unknown name: as much work as of a known one
        found = argon2.extract_parameters(encoded)
        assert (found.type, found.time_cost, found.parallelism, found.memory_cost, found.salt_len, found.hash_len) == (
            argon2.Type.ID, 3, 4, 65_536, 16, 32)
        assert not passwords.is_outdated(encoded)
    assert passwords.matches(WORDS, one)
    assert not passwords.matches(WORDS + " ", one)
    assert not passwords.matches(WORDS, "no hash")


def test_a_password_is_the_same_however_the_keyboard_composes_it():
    """Unicode NFKC: a letter with its accent beside it, and the ligature or full-width forms."""
    encoded = passwords.hashed("caf\u00e9 am \uff2d\u00fchlteich")
    assert passwords.matches("cafe\u0301 am Mu\u0308hlteich", encoded)


# --- logging in and out -----------------------------------------------------------------------------------------------

def test_in_and_out(app, config, ada, storage):
    client = app.test_client()
    assert client.get("/pictures/7?x=1").headers["Location"] == "/login?next=/pictures/7?x%3D1"
    page = client.get("/login?next=/people").text
    assert 'name="next" value="/people"' in page
    answer = enter(client, next="/people")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/people")
    cookie = next(c for c in answer.headers.getlist("Set-Cookie") if c.startswith("moondesk_session="))
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "Secure" not in cookie  # plain http to this machine
    secret = re.match(r"moondesk_session=([^;]+)", cookie)[1]
    assert storage.read("select token from sessions") == [{"token": logins.hashed(secret)}]  # itself it is nowhere
    assert ">Ada Brook</a>" in client.get("/people").text
    assert client.get("/login").headers["Location"] == "/"
    assert client.get("/logout").status_code == 405
    answer = client.post("/logout", data={"token": token_of(client)})
    assert answer.headers["Location"] == "/login?left=yes"
    assert "You are logged out." in client.get(answer.headers["Location"]).text
    client.set_cookie("moondesk_session", secret)  # who kept the cookie has nothing
    assert client.get("/people").headers["Location"] == "/login?next=/people"


def test_a_log_in_gives_a_fresh_session_and_ends_the_one_before(app, config, ada, storage):
    client = app.test_client()
    planted = log_in(client, config.data_dir, ada)
    client.delete_cookie("moondesk_session")
    token = token_of(client, "/login")
    client.set_cookie("moondesk_session", "chosen-by-somebody-else")
    answer = client.post("/login", data={"token": token, "name": "Ada Brook", "password": WORDS})
    assert answer.status_code == 303
    assert client.get_cookie("moondesk_session").value not in (planted, "chosen-by-somebody-else")
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
    assert logins.hashed(secret) not in {row["token"] for row in storage.read("select token from sessions")}


@pytest.mark.parametrize(("name", "password"), [
    ("Ada Brook", ""), ("Ada Brook", "four moons over the pie"), ("Ada Brook", WORDS.upper()), ("Nobody", WORDS),
    ("", WORDS), ("' or 1=1 --", WORDS), ("Closed", WORDS),
])
def test_what_is_wrong_is_told_alike_for_everybody(app, config, ada, storage, name, password):
    closed = make_account(config.data_dir, "Closed", "helper")
    accounts.set_open(storage, closed.id, False, NOW, "Ada Brook")
    client = app.test_client()
    answer = enter(client, name, password)
    assert (answer.status_code, "do not belong together" in answer.text) == (422, True)
    assert client.get_cookie("moondesk_session") is None
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


@pytest.mark.parametrize(("text", "path"), [
    ("/people?x=1", "/people?x=1"), ("", "/"), ("https://evil.example/", "/"), ("//evil.example", "/"),
    ("/\\evil.example", "/"), ("\\/evil.example", "/"), ("javascript:alert(1)", "/"), ("/a\r\nSet-Cookie: x", "/"),
    ("/" + "x" * 600, "/"), ("///evil.example", "/"), ("people", "/"),
])
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
        return client.post("/login", data={"token": token, "name": name, "password": password},
                           environ_base={"REMOTE_ADDR": f"127.0.0.{1 + k}"}).status_code

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
    answers = [client.post("/login", data={"token": token, "name": f"name {k}", "password": "x"})
               for k in range(at_once + 1)]
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
        theirs.post("/login", data={"token": token, "name": "Ada Brook", "password": "x"},
                    environ_base={"REMOTE_ADDR": f"127.0.0.{2 + k}"})
    theirs.set_cookie("moondesk_known", f"{ada.id}.{'0' * 16}.{'0' * 64}", path="/login")
    for k in range(door.OF_ADDRESS[0]):
        theirs.post("/login", data={"token": token, "name": f"name {k}", "password": "x"})
    assert theirs.post("/login", data={"token": token, "name": "Ada Brook", "password": "x"}).status_code == 429
    assert enter(app.test_client()).status_code == 429  # the same address, no mark
    assert enter(hers).status_code == 303


def test_marks_of_browsers_are_signed():
    tokens, other = Tokens(b"k" * 32), Tokens(b"o" * 32)
    mark = tokens.browser_mark(7)
    assert tokens.marked_account(mark) == 7
    for bad in ("", "7", mark[:-1], mark + "0", "8" + mark[1:], other.browser_mark(7), "7.é.ü", mark.replace(".", "")):
        assert tokens.marked_account(bad) is None, bad
    assert tokens.form_id(mark, "0" * 32, NOW) is None  # no other kind of token either


def test_no_stranger_sends_more_than_a_form_of_text(app, ada):
    for path in ("/login", "/setup", "/logout"):
        many = {"token": "x", "file": (io.BytesIO(b"0" * 200_000), "x.jpg")}
        assert app.test_client().post(path, data=many).status_code == 413, path
    assert app.test_client().post("/add", data={"pictures": (io.BytesIO(b"0" * 200_000), "x.jpg")}).status_code == 401


# --- people -----------------------------------------------------------------------------------------------------------

def test_a_presenter_lets_somebody_in_who_then_works_and_is_closed_again(app, config, ada, storage):
    client, theirs = app.test_client(), app.test_client()
    log_in(client, config.data_dir, ada)
    answer = post(client, "/people", "/people", name="Bo  Lind", role="helper", password=NEW, again=NEW)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/people?done=added")
    bo = accounts.credentials(storage, "bo lind")[0]
    assert (bo.name, bo.role) == ("Bo Lind", "helper")
    assert enter(theirs, "Bo Lind", NEW).status_code == 303
    assert theirs.get("/settings").status_code == 403
    assert post(client, f"/people/{bo.id}/role", role="presenter").status_code == 303
    assert theirs.get("/settings").status_code == 200  # at once
    assert post(client, f"/people/{bo.id}/open", open="no").status_code == 303
    assert theirs.get("/").status_code == 303
    assert "closed on 26 March 2026" in client.get("/people").text
    assert post(client, f"/people/{bo.id}/open", open="yes").status_code == 303
    assert theirs.get("/").status_code == 303  # the session is gone, the account is not
    said = [line.what for line in audit.lines(storage, 10)]
    assert said == ["account Bo Lind opened again", "account Bo Lind closed", "Bo Lind is now presenter",
                    "account Bo Lind made, helper", "account Ada Brook made, presenter"]
    assert {line.who for line in audit.lines(storage, 10)} == {"Ada Brook"}


@pytest.mark.parametrize(("typed", "field", "words"), [
    ({"name": ""}, "name", "Please type a name"), ({"name": "ada  BROOK"}, "name", "already"),
    ({"name": "x" * 61}, "name", "it has 61"), ({"password": "short", "again": "short"}, "password", "at least 12"),
    ({"again": "another one here"}, "again", "not the same"), ({"role": "owner"}, "role", "one of the list"),
])
def test_what_is_wrong_with_a_new_account_is_told_beside_its_field(app, config, ada, storage, typed, field, words):
    client = app.test_client()
    log_in(client, config.data_dir, ada)
    fields = {"name": "Bo", "role": "helper", "password": NEW, "again": NEW, **typed}
    answer = post(client, "/people", "/people", **fields)
    assert answer.status_code == 422
    assert words in re.search(rf'id="{field}-complaint">([^<]*)<', answer.text)[1]
    assert re.search(rf'<(input|select) id="{field}"[^>]*aria-describedby="[^"]*{field}-complaint" aria-invalid="true"',
                     answer.text)
    assert NEW not in answer.text
    assert len(accounts.accounts(storage)) == 1


def test_the_last_presenter_stays(app, config, ada, storage):
    bo = make_account(config.data_dir, "Bo", "helper")
    client = app.test_client()
    log_in(client, config.data_dir, ada)
    for path, fields in ((f"/people/{ada.id}/role", {"role": "helper"}), (f"/people/{ada.id}/open", {"open": "no"})):
        answer = post(client, path, **fields)
        assert (answer.status_code, "Ada Brook is the only presenter." in answer.text) == (409, True)
    cleo = make_account(config.data_dir, "Cleo", "presenter")
    accounts.set_open(storage, cleo.id, False, NOW, "Ada Brook")  # a closed one does not count
    with pytest.raises(BadInputError, match="only presenter"):
        accounts.set_role(storage, ada.id, "helper", NOW, "Ada Brook")
    accounts.set_role(storage, bo.id, "presenter", NOW, "Ada Brook")
    accounts.set_role(storage, ada.id, "helper", NOW, "Ada Brook")
    assert [(a.name, a.role) for a in accounts.accounts(storage)][:2] == [("Ada Brook", "helper"), ("Bo", "presenter")]


def test_a_presenter_sets_a_password_for_who_forgot_theirs(app, config, ada, storage):
    bo = make_account(config.data_dir, "Bo", "helper")
    client, theirs = app.test_client(), app.test_client()
    log_in(client, config.data_dir, ada)
    log_in(theirs, config.data_dir, bo)
    wrong = post(client, f"/people/{bo.id}/password", password="bo bo bo bo bo", again="x")
    assert wrong.status_code == 422
    assert f'id="password-{bo.id}-complaint">It repeats' in wrong.text
    assert post(client, f"/people/{bo.id}/password", password=NEW, again=NEW).status_code == 303
    assert theirs.get("/").status_code == 303
    assert enter(theirs, "Bo", NEW).status_code == 303
    mine = post(client, f"/people/{ada.id}/password", password=NEW, again=NEW)
    assert mine.headers["Location"] == "/account"  # one's own wants the old one
    assert passwords.matches(WORDS, accounts.credentials(storage, "Ada Brook")[1])
    assert post(client, "/people/999/password", password=NEW, again=NEW).status_code == 404


def test_ones_own_password_wants_the_old_one_and_ends_the_other_sessions(app, config, ada, storage):
    client, elsewhere = app.test_client(), app.test_client()
    before = log_in(client, config.data_dir, ada)
    log_in(elsewhere, config.data_dir, ada)
    wrong = post(client, "/account/password", old="x", password=NEW, again=NEW)
    assert (wrong.status_code, "not your password of today" in wrong.text) == (422, True)
    assert elsewhere.get("/").status_code == 200
    assert post(client, "/account/password", old=WORDS, password=NEW, again=NEW).status_code == 303
    assert client.get("/").status_code == 200
    assert client.get_cookie("moondesk_session").value != before
    assert elsewhere.get("/").status_code == 303
    assert enter(elsewhere, password=NEW).status_code == 303
    assert post(client, "/account/sessions").status_code == 303
    assert elsewhere.get("/").status_code == 303
    assert client.get("/").status_code == 200


def test_a_programs_token_is_shown_once_and_kept_as_its_hash(app, config, ada, storage):
    client = app.test_client()
    log_in(client, config.data_dir, ada)
    assert post(client, "/account/tokens", label="", token_role="helper").status_code == 422
    answer = post(client, "/account/tokens", label="prompter", token_role="helper")
    token = re.search(r"<code>(moondesk_[^<]+)</code>", answer.text)[1]
    assert answer.headers["Cache-Control"] == "no-store"
    assert token not in client.get("/account").text
    assert [tuple(row.values()) for row in storage.read("select token, label, role from api_tokens")] == [
        (logins.hashed(token), "prompter", "helper")]
    (kept,) = logins.tokens_of(storage, ada.id)
    assert logins.token_account(storage, token, NOW)[1] == "helper"
    bo = make_account(config.data_dir, "Bo", "helper")
    theirs = app.test_client()
    log_in(theirs, config.data_dir, bo)
    assert post(theirs, f"/account/tokens/{kept.id}/revoke").status_code == 404
    assert post(theirs, "/account/tokens", label="x", token_role="presenter").status_code == 422  # more than he may
    assert post(client, f"/account/tokens/{kept.id}/revoke").status_code == 303
    assert logins.token_account(storage, token, NOW) is None


# --- the set-up -------------------------------------------------------------------------------------------------------

def test_the_set_up_is_one_page_and_then_no_more(app, storage):
    client = app.test_client()
    page = client.get("/setup").text
    for name in ("name", "password", "again", "programme_name", "zone", "latitude", "longitude", "height_m", "rule",
                 "first_number", "hour"):
        assert re.search(rf'<(input|select) id="{name}" name="{name}"', page), name
        assert f'<label for="{name}">' in page, name
    fields = {"token": token_of(client, "/setup"), "name": "Ada Brook", "password": WORDS, "again": WORDS,
              "programme_name": "Lantern Hour", "zone": "Europe/Lisbon", "latitude": "37,8", "longitude": "-8.72",
              "height_m": "40", "rule": "evening of the date of new Moon", "first_number": "0", "hour": "19:30"}
    wrong = client.post("/setup", data={**fields, "password": "short", "latitude": "98"})
    assert wrong.status_code == 422
    assert "at least 12" in wrong.text
    assert 'value="Ada Brook"' in wrong.text
    assert accounts.accounts(storage) == ()
    answer = client.post("/setup", data=fields)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    assert "Lantern Hour" in client.get("/").text  # logged in, and the settings count
    (ada,) = accounts.accounts(storage)
    assert (ada.name, ada.role) == ("Ada Brook", "presenter")
    for asked in (client, app.test_client()):
        assert asked.get("/setup").status_code == 303
    late = app.test_client()
    assert late.post("/setup", data={**fields, "name": "Eve"}).status_code == 303
    assert len(accounts.accounts(storage)) == 1
    with pytest.raises(BadInputError, match="set up meanwhile"):
        accounts.add_account(storage, "Eve", "presenter", "x", NOW, "Eve", first=True)


def test_the_first_account_is_a_presenters(storage):
    with pytest.raises(BadInputError, match="must be a presenter's"):
        accounts.add_account(storage, "Bo", "helper", "x", NOW, "Bo")


# --- from where -------------------------------------------------------------------------------------------------------

AWAY = Config(None, address="https://desk.example.org", proxies=("10.0.0.2",))


@pytest.mark.parametrize(("host", "remote", "forwarded", "has_accounts", "answered"), [
    ("127.0.0.1:8750", "127.0.0.1", False, False, True), ("localhost", "::1", False, False, True),
    ("[::1]:80", "::ffff:127.0.0.1", False, True, True), ("desk.example.org", "127.0.0.1", True, True, True),
    ("DESK.example.org:443", "10.0.0.2", True, True, True), ("desk.example.org", "10.0.0.2", True, False, False),
    ("desk.example.org", "10.0.0.9", True, True, False), ("127.0.0.1", "10.0.0.9", False, True, False),
    ("127.0.0.1", "127.0.0.1", True, False, False), ("evil.example", "127.0.0.1", False, True, False),
    ("desk.example.org.evil.example", "127.0.0.1", False, True, False), ("10.0.0.1", "10.0.0.2", True, True, False),
    ("", "127.0.0.1", False, True, False),
])
def test_from_where_the_desk_is_reached(host, remote, forwarded, has_accounts, answered):
    assert (reach.refusal(AWAY, host, remote, forwarded, has_accounts) == "") is answered
    if host not in ("127.0.0.1:8750", "localhost", "[::1]:80"):
        assert reach.refusal(Config(None), "desk.example.org", "127.0.0.1", True, True)


def test_listening_beyond_this_machine_wants_accounts_https_and_a_proxy():
    assert reach.listening_address("localhost", Config(None), False) == "127.0.0.1"
    assert reach.listening_address("0.0.0.0", AWAY, True) == "0.0.0.0"
    for config, has_accounts, words in ((AWAY, False, "this machine only"), (Config(None), True, "https"),
                                        (replace(AWAY, proxies=()), True, "https"),
                                        (replace(AWAY, address=""), True, "https")):
        with pytest.raises(AddressError, match=words):
            reach.listening_address("0.0.0.0", config, has_accounts)
    with pytest.raises(AddressError, match="no address to listen on"):
        reach.listening_address("example.org", AWAY, True)


def test_by_https_cookies_are_for_https_and_this_host_alone(config, clock):
    app = create_app(replace(config, address="https://desk.example.org", proxies=("127.0.0.1",)), now=clock.now)
    make_account(config.data_dir, "Ada Brook")
    client = app.test_client()
    how = {"base_url": "https://desk.example.org", "headers": {"X-Forwarded-For": "203.0.113.5"}}
    token = re.search(r'name="token" value="([^"]+)"', client.get("/login", **how).text)[1]
    answer = client.post("/login", data={"token": token, "name": "Ada Brook", "password": WORDS}, **how)
    assert answer.status_code == 303
    cookies = answer.headers.getlist("Set-Cookie")
    assert any(c.startswith("__Host-moondesk_session=") and "Path=/" in c and "Domain" not in c for c in cookies)
    assert all("Secure" in c and "HttpOnly" in c for c in cookies)
    assert answer.headers["Strict-Transport-Security"]
    assert client.get("/", **how).status_code == 200
    assert app.test_client().get("/login", base_url="http://127.0.0.1").status_code == 200  # at the machine itself


@pytest.mark.parametrize(("text", "words"), [
    ('[desk]\naddress = "http://desk.example.org"', "https"), ('[desk]\naddress = "desk"', "https"),
    ('[desk]\naddress = "https://desk.example.org/x"', "https"), ('[desk]\nproxies = "10.0.0.2"', "a list"),
    ('[desk]\nproxies = ["proxy"]', "proxy"), ("[desk]\nhost = 1", "no 'host'"),
    ("[weights]\nfocus = 11", "from 0 to 10"), ("[weights]\nbeauty = 1", "no 'beauty'"),
    ("[weights]\nfocus = nan", "from 0 to 10"),
])
def test_a_wrong_address_or_weight_in_the_file_names_itself(tmp_path, text, words):
    (tmp_path / CONFIG_NAME).write_text(text)
    with pytest.raises(BadInputError, match=words):
        load_config(tmp_path)


# --- the command ------------------------------------------------------------------------------------------------------

def test_the_command_adds_and_resets(config, storage):
    def run(*args, typed=""):
        return CliRunner().invoke(main, ["account", *args, "--data", str(config.data_dir)], input=typed)

    assert run("list").exit_code == 3
    added = run("add", "Ada Brook", typed=f"ada brook ada\nada brook ada\n{WORDS}\n{WORDS}\n")
    assert added.exit_code == 0, added.output
    assert "holds too little" in added.output
    assert WORDS not in added.output
    assert run("add", "ada brook", typed=f"{WORDS}\n{WORDS}\n").exit_code == 2
    assert run("add", "Bo", "--role", "helper", typed=f"{WORDS}\n{WORDS}\n").exit_code == 0
    bo = accounts.credentials(storage, "Bo")[0]
    accounts.set_open(storage, bo.id, False, NOW, "Ada Brook")
    assert run("list").output.splitlines() == ["Ada Brook: presenter", "Bo: helper, closed"]
    assert run("reset", "Nobody").exit_code == 2
    assert run("reset", "bo", typed=f"{NEW}\n{NEW}\n").exit_code == 0
    found, encoded = accounts.credentials(storage, "Bo")
    assert found.disabled_utc is None
    assert passwords.matches(NEW, encoded)
    assert {line.who for line in audit.lines(storage, 20)} == {"the command line", "Ada Brook"}


@pytest.mark.parametrize("how", [[], ["--port", "0"]])
def test_serving_to_others_without_accounts_is_refused_in_words(config, storage, how):
    result = CliRunner().invoke(main, ["serve", "--host", "0.0.0.0", "--data", str(config.data_dir), *how])
    assert result.exit_code == 2
    assert "this machine only" in result.output
    assert "set it up" in result.output
    make_account(config.data_dir)
    result = CliRunner().invoke(main, ["serve", "--host", "0.0.0.0", "--data", str(config.data_dir), *how])
    assert result.exit_code == 2
    assert "https (TLS)" in result.output


def test_the_server_hands_a_proxys_headers_on_to_be_judged(config, monkeypatch):
    """They must not vanish on the way: by them a desk without accounts knows that somebody else asks."""
    import waitress
    from waitress.server import BaseWSGIServer

    made, urls = [], []
    create = waitress.create_server
    monkeypatch.setattr(waitress, "create_server", lambda *args, **how: made.append(create(*args, **how)) or made[0])
    monkeypatch.setattr(BaseWSGIServer, "run", lambda _: None)
    listen(create_app(config), "127.0.0.1", 0, urls.append)
    server, over = made[0], threading.Event()

    def run():
        while not over.is_set():
            server.asyncore.loop(timeout=0.05, map=server._map, count=1)

    thread = threading.Thread(target=run)
    thread.start()
    answers = []
    for headers in ({}, {"X-Forwarded-For": "203.0.113.5"}, {"Host": "evil.example"}):
        line = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=20)
        line.request("GET", "/setup", headers=headers)
        answers.append(line.getresponse().status)
        line.close()
    over.set()
    thread.join(20)
    server.task_dispatcher.shutdown()
    for channel in server.active_channels.copy().values():
        channel.close()
    server.close()
    assert answers == [200, 400, 400]
    assert urls == [f"http://127.0.0.1:{server.effective_port}/"]
