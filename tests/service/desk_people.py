"""People at the desk for tests: accounts with cheap hashes, and clients that are logged in."""

from __future__ import annotations

import re
from datetime import UTC, datetime

from argon2 import PasswordHasher

from moondesk.service.store import accounts, logins
from moondesk.service.store.storage import Storage

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
WORDS = "four moons over the pier"


def make_account(data_dir, name="Ada", role="presenter", password=WORDS):
    """An account whose hash is as weak as the library allows: the real one takes a tenth of a second each."""
    weak = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(password)
    with Storage(data_dir) as storage:
        return accounts.add_account(storage, name, role, weak, NOW, name)


def cookie(client, name="moondesk_session"):
    """The full name of a cookie of the client's application."""
    return client.application.extensions["moondesk.keeper"].tokens.cookie(name)


def log_in(client, data_dir, account, now=NOW):
    """Give a test client a session, past the log-in page; the secret in its cookie."""
    with Storage(data_dir) as storage:
        secret = logins.open_session(storage, account.id, now)
    client.set_cookie(cookie(client), secret)
    return secret


def token_of(client, path="/account") -> str:
    """A form's token for who the client is logged in as."""
    page = client.get(path).text
    found = re.search(r'name="token" value="([^"]+)"', page)
    assert found, page
    return found.group(1)


def post(client, path, page="/account", **fields):
    """Send a form with the token of a page."""
    return client.post(path, data={"token": token_of(client, page), **fields})


def enter(client, name="Ada Brook", password=WORDS, **more):
    """Log in by the page."""
    return client.post("/login", data={"token": token_of(client, "/login"), "name": name, "password": password, **more})
