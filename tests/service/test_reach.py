"""From where the desk is reached: names, addresses, https, and what it refuses to listen on."""

from __future__ import annotations

import http.client
import re
from dataclasses import replace

import pytest
from click.testing import CliRunner
from desk_people import NOW, WORDS, make_account
from servers import running

from moondesk.service.cli.main import main
from moondesk.service.errors import AddressError, BadInputError
from moondesk.service.settings.config import CONFIG_NAME, Config
from moondesk.service.store.settings import load_config
from moondesk.service.web.access import network_rules
from moondesk.service.web.desk.app import create_app

AWAY = Config(data_dir=None, address="https://desk.example.org", proxies=("10.0.0.2",))


@pytest.mark.parametrize(
    ("host", "remote", "forwarded", "has_accounts", "answered"),
    [
        ("127.0.0.1:8750", "127.0.0.1", False, False, True),
        ("localhost", "::1", False, False, True),
        ("[::1]:80", "::ffff:127.0.0.1", False, True, True),
        ("desk.example.org", "127.0.0.1", True, True, True),
        ("DESK.example.org:443", "10.0.0.2", True, True, True),
        ("desk.example.org", "10.0.0.2", True, False, False),
        ("desk.example.org", "10.0.0.9", True, True, False),
        ("127.0.0.1", "10.0.0.9", False, True, False),
        ("127.0.0.1", "127.0.0.1", True, False, False),
        ("evil.example", "127.0.0.1", False, True, False),
        ("desk.example.org.evil.example", "127.0.0.1", False, True, False),
        ("10.0.0.1", "10.0.0.2", True, True, False),
        ("", "127.0.0.1", False, True, False),
    ],
)
def test_from_where_the_desk_is_reached(host, remote, forwarded, has_accounts, answered):
    assert (network_rules.refusal(AWAY, host, remote, forwarded, has_accounts) == "") is answered
    if host not in ("127.0.0.1:8750", "localhost", "[::1]:80"):
        assert network_rules.refusal(Config(data_dir=None), "desk.example.org", "127.0.0.1", True, True)


def test_listening_beyond_this_machine_wants_accounts_https_and_a_proxy():
    assert network_rules.listening_address("localhost", Config(data_dir=None), False) == "127.0.0.1"
    assert network_rules.listening_address("0.0.0.0", AWAY, True) == "0.0.0.0"
    for config, has_accounts, words in (
        (AWAY, False, "this machine only"),
        (Config(data_dir=None), True, "https"),
        (replace(AWAY, proxies=()), True, "https"),
        (replace(AWAY, address=""), True, "https"),
    ):
        with pytest.raises(AddressError, match=words):
            network_rules.listening_address("0.0.0.0", config, has_accounts)
    with pytest.raises(AddressError, match="no address to listen on"):
        network_rules.listening_address("example.org", AWAY, True)


def test_by_https_cookies_are_for_https_and_this_host_alone(config):
    app = create_app(replace(config, address="https://desk.example.org", proxies=("127.0.0.1",)), now=lambda: NOW)
    make_account(config.data_dir, "Ada Brook")
    client = app.test_client()
    how = {"base_url": "https://desk.example.org", "headers": {"X-Forwarded-For": "203.0.113.5"}}
    token = re.search(r'name="token" value="([^"]+)"', client.get("/login", **how).text)[1]
    answer = client.post("/login", data={"token": token, "name": "Ada Brook", "password": WORDS}, **how)
    assert answer.status_code == 303
    cookies = answer.headers.getlist("Set-Cookie")
    assert any(c.startswith("__Host-moondesk_session_") and "Path=/" in c and "Domain" not in c for c in cookies)
    assert all("Secure" in c and "HttpOnly" in c for c in cookies)
    assert answer.headers["Strict-Transport-Security"]
    assert client.get("/", **how).status_code == 200
    assert app.test_client().get("/login", base_url="http://127.0.0.1").status_code == 200  # at the machine itself


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[desk]\naddress = "http://desk.example.org"', "https"),
        ('[desk]\naddress = "desk"', "https"),
        ('[desk]\naddress = "https://desk.example.org/x"', "https"),
        ('[desk]\nproxies = "10.0.0.2"', "a list"),
        ('[desk]\nproxies = ["proxy"]', "proxy"),
        ("[desk]\nhost = 1", "no 'host'"),
        ("[weights]\nfocus = 11", "from 0 to 10"),
        ("[weights]\nbeauty = 1", "no 'beauty'"),
        ("[weights]\nfocus = nan", "from 0 to 10"),
    ],
)
def test_a_wrong_address_or_weight_in_the_file_names_itself(tmp_path, text, words):
    (tmp_path / CONFIG_NAME).write_text(text)
    with pytest.raises(BadInputError, match=words):
        load_config(tmp_path)


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


def test_the_server_hands_a_proxys_headers_on_to_be_judged(config):
    """They must not vanish on the way: by them a desk without accounts knows that somebody else asks."""
    answers = []
    with running(create_app(config)) as server:
        for headers in ({}, {"X-Forwarded-For": "203.0.113.5"}, {"Host": "evil.example"}):
            line = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=20)
            line.request("GET", "/setup", headers=headers)
            answers.append(line.getresponse().status)
            line.close()
    assert answers == [200, 400, 400]
