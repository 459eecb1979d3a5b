"""Two roles, a stranger and a desk without accounts, tried against every route that the application has."""

from __future__ import annotations

import re

import fakes
import pytest
from desk_people import NOW, cookie, log_in, make_account, token_of

from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store import accounts, logins
from moondesk.service.store.editions import list_editions
from moondesk.service.web.access import roles
from moondesk.service.web.desk.app import create_app

#: What stands for the variable parts of addresses: the first picture, an evening, an account ...
PARTS = {
    "secret": "x" * 32,
    "what": "back",
    "kind": "csv",
    "picture_id": 1,
    "account_id": 1,
    "token_id": 1,
    "number": 1,
    "role": "photo.jpg",
    "filename": "desk.css",
    "evening": "2026-03-25",
    "view": "upright",
    "shape": "feed",
    "decision_id": 1,
    "pair_id": 1,
    "item_id": 1,
    "edition": 1,
    "first": "2026-03-01",
    "line_id": 1,
    "stacked": "composite.png",
    "sheet": "sheet.png",
}
READING = ("GET", "HEAD", "OPTIONS")
#: Answers that let nobody in.
REFUSALS = {401, 403}


@pytest.fixture
def app(folder, storage, media, config):
    """A desk with pictures in it."""
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    return create_app(config, now=lambda: NOW)


@pytest.fixture
def presenter(config):
    return make_account(config.data_dir, "Ada", "presenter")


@pytest.fixture
def helper(config, presenter):
    return make_account(config.data_dir, "Bo", "helper")


def walk(app):
    """(endpoint, method, path, the least role) of every route and method."""
    found = []
    for rule in app.url_map.iter_rules():
        parts = {name: PARTS.get(name, 1) for name in rule.arguments}
        with app.test_request_context():
            path = app.url_map.bind("localhost").build(rule.endpoint, parts)
        for method in sorted(rule.methods):
            found.append((rule.endpoint, method, path, roles.ROUTES.get(rule.endpoint)))
    assert len(found) > 50
    return found


def asked(client, method, path, **how):
    with client.open(path, method=method, **how) as answer:
        return answer.status_code, answer.headers.get("Location", ""), answer.get_data()


def test_every_route_has_a_line_and_every_line_a_route(app):
    endpoints = {rule.endpoint for rule in app.url_map.iter_rules()}
    assert endpoints - set(roles.ROUTES) == set(), (
        "add them to moondesk.service.web.access.roles with the least role each wants"
    )
    assert set(roles.ROUTES) - endpoints == set()
    assert set(roles.ROUTES.values()) == {"everyone", "helper", "presenter"}


def test_what_everyone_may_ask_is_this_and_no_more(app):
    everyone = {e for e, least in roles.ROUTES.items() if least == "everyone"}
    assert everyone == {
        "static",
        "desk.font",
        "login.form",
        "login.enter",
        "setup.form",
        "setup.make",
        "api.openapi",  # the description of the interface, which is the same at every desk
        # who has no log-in but the secret in the address
        "air.linked",
        "air.linked_plan",
        "air.linked_state",
        "air.linked_layer",
        "control.by_secret",
        "control.linked_still",
    }


def test_without_its_secret_the_page_on_air_shows_nothing(app, presenter):
    client, walked = app.test_client(), 0
    for endpoint, method, path, _ in walk(app):
        if endpoint.startswith("air.linked") and method == "GET":
            status, _, body = asked(client, method, path)
            assert (status, b"Ilse" in body) == (404, False), endpoint
            walked += 1
    assert walked == 4


def test_a_stranger_gets_into_no_route(app, presenter):
    client = app.test_client()
    for endpoint, method, path, least in walk(app):
        if least == "everyone":
            continue
        status, where, body = asked(client, method, path)
        sent_to_log_in = status == 303 and where.startswith("/login")
        assert status == 401 or (sent_to_log_in and method in ("GET", "HEAD")), (endpoint, method, status, where)
        assert b"Ilse" not in body, endpoint  # a sender's name
        assert method == "HEAD" or b"Log in" in body or b"log in" in body or sent_to_log_in, endpoint


def test_a_stranger_with_a_form_token_gets_in_no_further(app, presenter):
    """The token keeps forged forms out, not people: it must not pass for a log-in."""
    client = app.test_client()
    token = token_of(client, "/login")
    for endpoint, method, path, least in walk(app):
        if least != "everyone" and method not in READING:
            assert asked(client, method, path, data={"token": token})[0] == 401, endpoint


@pytest.mark.parametrize("made_up", ["", "x", "0" * 43, "' or 1=1 --"])
def test_made_up_cookies_are_strangers(app, presenter, made_up):
    client = app.test_client()
    client.set_cookie(cookie(client), made_up)
    assert asked(client, "GET", "/")[:2] == (303, "/login")
    client.set_cookie(cookie(client), "x" * 3_000)
    assert asked(client, "GET", "/people")[:2] == (303, "/login?next=/people")


def test_a_helper_gets_into_a_helpers_routes_and_no_presenters(app, config, helper):
    client = app.test_client()
    log_in(client, config.data_dir, helper)
    token = token_of(client)
    for endpoint, method, path, least in walk(app):
        if method not in READING:
            continue
        status, where, body = asked(client, method, path)
        if method == "OPTIONS":  # answered by whichever route of that address comes first: its methods and no more
            assert body == b"" or status in (403, 404)  # a socket's address is none for other requests
        elif least == "presenter":
            assert status == 403, (endpoint, method, status)
            assert method == "HEAD" or b"This is for presenters." in body
        else:
            assert status not in REFUSALS, (endpoint, method, status)
            assert not where.startswith("/login"), endpoint
    for endpoint, method, path, least in walk(app):
        if least == "presenter" and method not in READING:
            assert asked(client, method, path, data={"token": token})[0] == 403, endpoint


def test_nothing_a_helper_sends_to_a_presenters_route_changes_anything(app, config, helper, presenter, storage):
    client = app.test_client()
    log_in(client, config.data_dir, helper)
    token = token_of(client)
    before = (
        accounts.accounts(storage),
        list_editions(storage),
        storage.read("select * from settings"),
        storage.read("select * from audit"),
    )
    for path, fields in {
        "/people": {"name": "Eve", "role": "presenter", "password": "a door left ajar", "again": "a door left ajar"},
        f"/people/{helper.id}/role": {"role": "presenter"},
        f"/people/{presenter.id}/open": {"open": "no"},
        f"/people/{presenter.id}/password": {"password": "a door left ajar", "again": "a door left ajar"},
        "/settings": {"programme_name": "Mine"},
        "/editions": {"number": "9", "kind": "live"},
        "/editions/1": {"number": "9", "kind": "live"},
        "/editions/next": {"number": "1"},
    }.items():
        assert client.post(path, data={"token": token, **fields}).status_code == 403, path
    assert before == (
        accounts.accounts(storage),
        list_editions(storage),
        storage.read("select * from settings"),
        storage.read("select * from audit"),
    )


def test_a_presenter_gets_into_every_route(app, config, presenter):
    client = app.test_client()
    log_in(client, config.data_dir, presenter)
    for endpoint, method, path, _ in walk(app):
        if method in READING:
            status, where, _ = asked(client, method, path)
            assert status not in REFUSALS, (endpoint, method, status)
            assert status < 500, (endpoint, method, status)
            assert not where.startswith("/login"), endpoint


def test_nothing_is_changed_without_a_forms_token(app, config, presenter):
    """A page elsewhere can make a presenter's browser send a form, but cannot know this."""
    client = app.test_client()
    log_in(client, config.data_dir, presenter)
    stranger = app.test_client()
    theirs = token_of(stranger, "/login")
    other = make_account(config.data_dir, "Cleo", "presenter")
    second = app.test_client()
    log_in(second, config.data_dir, other)
    tried = 0
    for endpoint, method, path, _ in walk(app):
        if method in READING or endpoint in ("login.enter", "setup.make"):
            continue
        for token in ("", "x", theirs, token_of(second)):
            status, _, _ = asked(client, method, path, data={"token": token})
            assert status == 400, (endpoint, method, token, status)
            tried += 1
    assert tried >= 4 * 12
    assert client.get("/account").status_code == 200  # the log-out was refused too


def test_the_routes_that_look_at_the_token_themselves_do(app, config, presenter):
    assert sorted(roles.OWN_TOKEN) == ["drop.send", "login.enter", "setup.make"]
    client = app.test_client()
    answer = client.post("/login", data={"name": "Ada", "password": "four moons over the pier"})
    assert (
        answer.status_code,
        "Set-Cookie" in answer.headers and "moondesk_session" in answer.headers["Set-Cookie"],
    ) == (400, False)
    log_in(client, config.data_dir, presenter)
    assert client.post("/add", data={"name": "x"}).status_code == 400


def test_setting_up_without_a_token_makes_nobody(app, storage):
    fields = {"name": "Eve", "password": "a door left ajar", "again": "a door left ajar"}
    assert app.test_client().post("/setup", data=fields).status_code == 400
    assert accounts.accounts(storage) == ()


def test_a_route_without_a_line_answers_nobody(config, presenter):
    app = create_app(config, now=lambda: NOW)
    app.add_url_rule("/forgotten", "forgotten", lambda: "secret")
    client = app.test_client()
    assert asked(client, "GET", "/forgotten")[:2] == (303, "/login?next=/forgotten")
    log_in(client, config.data_dir, presenter)
    status, _, body = asked(client, "GET", "/forgotten")
    assert (status, b"secret" in body) == (403, False)
    assert b"has no line in the table of roles" in body


def test_without_accounts_the_desk_is_open_to_this_machine_and_says_so(app):
    client = app.test_client()
    for endpoint, method, path, _ in walk(app):
        if method in READING:
            status, where, _ = asked(client, method, path)
            assert status not in REFUSALS, (endpoint, method, status)
            assert status < 500, (endpoint, method, status)
            assert not where.startswith("/login"), (endpoint, where)
    page = client.get("/").text
    assert re.search(r'No accounts yet: <a href="/setup">set up</a>', page)
    for path in ("/people", "/account", "/login"):  # the first account is the set-up's
        assert asked(client, "GET", path)[:2] == (303, "/setup"), path
    app_forgotten = create_app(app.extensions["moondesk.config"], now=lambda: NOW)
    app_forgotten.add_url_rule("/forgotten", "forgotten", lambda: "secret")
    assert asked(app_forgotten.test_client(), "GET", "/forgotten")[0] == 403


def test_without_accounts_nothing_that_is_passed_on_is_answered(app):
    """Else a proxy before the desk would open it to everybody."""
    client = app.test_client()
    for header in ("X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "Forwarded", "Via"):
        for path in ("/", "/setup", "/static/desk.css"):
            status, _, body = asked(client, "GET", path, headers={header: "1.2.3.4"})
            assert (status, b"no accounts yet" in body) == (400, True), (header, path)
    assert asked(client, "GET", "/", environ_base={"REMOTE_ADDR": "192.168.1.7"})[0] == 400


def test_programs_open_what_is_under_api_with_their_token_and_nothing_else(
    config, storage, presenter, helper, monkeypatch
):
    app = create_app(config, now=lambda: NOW)
    lines = {**roles.ROUTES, "api_look": "helper", "api_set": "presenter"}
    app.add_url_rule("/api/look", "api_look", lambda: {"who": _actor()})
    app.add_url_rule("/api/set", "api_set", lambda: {"who": _actor()}, methods=["POST"])
    monkeypatch.setattr(roles, "least", lambda endpoint: lines.get(endpoint or ""))
    tokens = {
        "helper": logins.add_token(storage, helper.id, "a", "helper", NOW, "Bo"),
        "too much": logins.add_token(storage, helper.id, "b", "presenter", NOW, "Bo"),
        "limited": logins.add_token(storage, presenter.id, "c", "helper", NOW, "Ada"),
        "presenter": logins.add_token(storage, presenter.id, "d", "presenter", NOW, "Ada"),
    }
    client = app.test_client()

    def ask(path, token, method="GET"):
        return client.open(path, method=method, headers={"Authorization": f"Bearer {token}"} if token else {})

    for who, token in tokens.items():
        name = "Ada" if who in ("limited", "presenter") else "Bo"
        assert ask("/api/look", token).json == {"who": name}, who
        assert ask("/api/set", token, "POST").status_code == (200 if who == "presenter" else 403), who
        assert ask("/", token).headers["Location"] == "/login", who  # a page is for people
    for bad in ("", "x", tokens["helper"][:-1], "moondesk_"):
        answer = ask("/api/look", bad)
        assert (answer.status_code, answer.mimetype) == (401, "application/problem+json")
        assert answer.headers["WWW-Authenticate"].startswith("Bearer")
    assert ask("/api/nowhere", "").status_code == 401
    assert ask("/api/nowhere", tokens["helper"]).status_code == 404
    (mine,) = (t for t in logins.tokens_of(storage, presenter.id) if t.label == "d")
    assert not logins.revoke_token(storage, mine.id, helper.id, NOW, "Bo")  # not his
    assert ask("/api/set", tokens["presenter"], "POST").status_code == 200
    assert logins.revoke_token(storage, mine.id, presenter.id, NOW, "Ada")
    assert ask("/api/set", tokens["presenter"], "POST").status_code == 401
    accounts.set_open(storage, helper.id, False, NOW, "Ada")
    assert ask("/api/look", tokens["helper"]).status_code == 401
    # people at the desk may look at /api too, but change nothing there without a form's token
    log_in(client, config.data_dir, presenter)
    assert client.get("/api/look").json == {"who": "Ada"}
    assert client.post("/api/set").status_code == 400
    assert client.post("/api/set", headers={"X-Form-Token": token_of(client)}).status_code == 200


def _actor() -> str:
    from moondesk.service.web.access.sessions import actor

    return actor().name


def test_scripts_are_told_in_json(app, presenter):
    answer = app.test_client().post("/add", headers={"Accept": "application/json"})
    assert (answer.status_code, answer.json["notice"]) == (401, "You are not logged in. Log in, then do it again.")
