"""Accounts: passwords, people and their tokens, the set-up, and the command for who forgot a password."""

from __future__ import annotations

import re

import argon2
import pytest
from click.testing import CliRunner
from desk_people import NOW, WORDS, cookie, enter, log_in, make_account, post, token_of

from moondesk.service import passwords
from moondesk.service.cli.main import main
from moondesk.service.errors import BadInputError
from moondesk.service.store import accounts, audit, logins
from moondesk.service.web.desk.app import create_app

NEW = "a lantern in the dry dock"


@pytest.fixture
def app(config):
    return create_app(config, now=lambda: NOW)


@pytest.fixture
def ada(config, app):
    return make_account(config.data_dir, "Ada Brook", "presenter")


# --- passwords --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("password", "words"),
    [
        ("", "at least 12"),
        ("eleven char", "at least 12"),
        ("x" * 201, "200 characters; it has 201"),
        ("aaaaaaaaaaaaaa", "repeats"),
        ("abcabcabcabcabc", "repeats"),
        ("abcdefghijklm", "runs along"),
        ("9876543210987", "runs along"),
        ("qwertyuiopasdf", "runs along"),
        ("password123456", "names"),
        ("Ada Brook 2026!", "names"),
        ("AdaBrookAdaBrook", "names"),
        ("lantern hour 1", "names"),
        ("letmein-letmein-1", "names"),
    ],
)
def test_what_is_tried_first_is_no_password(password, words):
    assert words in passwords.complaint(password, ("Ada Brook", "Lantern Hour"))


@pytest.mark.parametrize(
    "password",
    [
        "four moons over the pier",
        "correct horse battery",
        "twelve chars",
        "Tr0ub4dor&3xyz",
        "4711-0815-2024-77",
        "密码很长的一句话没有人猜得到",
        "     a     b     c     d     e",
        "ada keeps bees by the canal",
    ],
)
def test_no_rule_of_composition_stands_against_these(password):
    """NIST SP 800-63B, 5.1.1.2: length, any Unicode, blanks; no mixtures of kinds asked for."""
    assert passwords.complaint(password, ("Ada Brook", "Lantern Hour")) == ""


def test_the_hash_is_argon2id_by_rfc_9106_and_each_has_its_own_salt():
    """RFC 9106, section 4, second recommended option: t=3, p=4, m=2^16 KiB, 128-bit salt, 256-bit tag."""
    one, two = passwords.hash_password(WORDS), passwords.hash_password(WORDS)
    assert one != two
    for encoded in (one, passwords.NOBODYS):  # of an unknown name: as much work as of a known one
        found = argon2.extract_parameters(encoded)
        assert (found.type, found.time_cost, found.parallelism, found.memory_cost, found.salt_len, found.hash_len) == (
            argon2.Type.ID,
            3,
            4,
            65_536,
            16,
            32,
        )
        assert not passwords.is_outdated(encoded)
    assert passwords.matches(WORDS, one)
    assert not passwords.matches(WORDS + " ", one)
    assert not passwords.matches(WORDS, "no hash")


def test_a_password_is_the_same_however_the_keyboard_composes_it():
    """Unicode NFKC: a letter with its accent beside it, and the ligature or full-width forms."""
    encoded = passwords.hash_password("caf\u00e9 am \uff2d\u00fchlteich")
    assert passwords.matches("cafe\u0301 am Mu\u0308hlteich", encoded)


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
    assert said == [
        "account Bo Lind opened again",
        "account Bo Lind closed",
        "Bo Lind is now presenter",
        "account Bo Lind made, helper",
        "account Ada Brook made, presenter",
    ]
    assert {line.who for line in audit.lines(storage, 10)} == {"Ada Brook"}


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"name": ""}, "name", "Please type a name"),
        ({"name": "ada  BROOK"}, "name", "already"),
        ({"name": "x" * 61}, "name", "it has 61"),
        ({"password": "short", "again": "short"}, "password", "at least 12"),
        ({"again": "another one here"}, "again", "not the same"),
        ({"role": "owner"}, "role", "one of the list"),
    ],
)
def test_what_is_wrong_with_a_new_account_is_told_beside_its_field(app, config, ada, storage, typed, field, words):
    client = app.test_client()
    log_in(client, config.data_dir, ada)
    fields = {"name": "Bo", "role": "helper", "password": NEW, "again": NEW, **typed}
    answer = post(client, "/people", "/people", **fields)
    assert answer.status_code == 422
    assert words in re.search(rf'id="{field}-complaint">([^<]*)<', answer.text)[1]
    assert re.search(
        rf'<(input|select) id="{field}"[^>]*aria-describedby="[^"]*{field}-complaint" aria-invalid="true"', answer.text
    )
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
    assert client.get_cookie(cookie(client)).value != before
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
        (logins.hash_token(token), "prompter", "helper")
    ]
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
    for name in (
        "name",
        "password",
        "again",
        "programme_name",
        "zone",
        "latitude",
        "longitude",
        "height_m",
        "rule",
        "first_number",
        "hour",
    ):
        assert re.search(rf'<(input|select) id="{name}" name="{name}"', page), name
        assert f'<label for="{name}">' in page, name
    fields = {
        "token": token_of(client, "/setup"),
        "name": "Ada Brook",
        "password": WORDS,
        "again": WORDS,
        "programme_name": "Lantern Hour",
        "zone": "Europe/Lisbon",
        "latitude": "37,8",
        "longitude": "-8.72",
        "height_m": "40",
        "rule": "evening of the date of new Moon",
        "first_number": "0",
        "hour": "19:30",
    }
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
