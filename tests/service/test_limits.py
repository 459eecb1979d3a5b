"""How much the upload page takes: of a visitor, of an address that many share, of everybody; and who is turned away."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime, timedelta

import fakes
import pytest
from desk_people import log_in, make_account

from moondesk.service.errors import StorageError
from moondesk.service.settings.public import Public
from moondesk.service.store import turned_away
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.public.app import create_public_app
from moondesk.service.web.public.rate_limits import KEEP_EVERY, Charge, TurnedAway, limits_of
from moondesk.service.web.tokens import load_tokens
from moondesk.service.web.visitors import Proxies, client_address, networks_of

NOW = datetime(2026, 3, 25, 21, 0, tzinfo=UTC)


class Clock:
    seconds = 1000.0

    def __call__(self):
        return self.seconds


@pytest.fixture
def clock():
    return Clock()


def limited(clock, **how):
    return limits_of(Public(**how), None, clock)


def test_a_class_behind_one_address_gets_in_and_one_visitor_is_still_limited(clock):
    limits = limited(clock)
    assert [limits.wait_for_form(Charge(f"{k:032x}", "192.0.2.1", 5_000_000)) for k in range(100)] == [0] * 100
    mine = [limits.wait_for_form(Charge("f" * 32, "192.0.2.1", 5_000_000)) for _ in range(22)]
    assert (mine[:20], mine[20] > 0) == ([0] * 20, True)


def test_an_address_and_all_together_have_a_ceiling_in_forms_and_in_bytes(clock):
    def forms(limits, size=1, address="192.0.2.1"):
        return next(k for k in range(1000) if limits.wait_for_form(Charge(f"{k:032x}", address, size)))

    assert forms(limited(clock, address_forms_per_hour=90)) == 30
    everybody = limited(clock, all_forms_per_hour=90)
    assert sum(everybody.wait_for_form(Charge(f"{k:032x}", f"198.51.100.{k}", 1)) == 0 for k in range(50)) == 30
    # a quarter of the hour's bytes is one address's, a third of that may come in a row
    assert forms(limited(clock, all_bytes_per_hour=1_200_000_000), 10_000_000) == 10


def test_what_is_turned_away_by_one_limit_costs_nothing_of_the_others(clock):
    limits = limited(clock, all_forms_per_hour=3)
    assert limits.wait_for_form(Charge("a" * 32, "192.0.2.1", 1)) == 0
    for _ in range(50):
        assert limits.wait_for_form(Charge("b" * 32, "192.0.2.2", 1)) > 0
    clock.seconds += 1200
    assert limits.wait_for_form(Charge("b" * 32, "192.0.2.2", 1)) == 0


def test_addresses_of_ipv6_are_counted_by_the_64_and_a_48_has_four_times_as_much(clock):
    """RFC 6177 gives sites a /48 to a /64: one customer has up to 65,536 of the latter."""
    assert networks_of("2001:db8:1:2:3::4") == ("2001:db8:1:2::/64", "2001:db8:1::/48")
    assert networks_of(client_address("2001:db8:1:2:3::4", "", ())) == networks_of("2001:db8:1:2:3::4")
    assert networks_of("::ffff:192.0.2.1") == networks_of("192.0.2.1") == ("192.0.2.1",)
    limits = limited(clock, address_forms_per_hour=30)

    def taken(*addresses):
        return sum(
            limits.wait_for_form(Charge(f"{k:032x}", client_address(a, "", ()), 1)) == 0
            for k, a in enumerate(addresses)
        )

    assert taken(*(f"2001:db8:1:2::{k}" for k in range(30))) == 10
    assert taken(*(f"2001:db8:1:{k}::1" for k in range(10, 90))) == 30
    assert taken("2001:db8:2::1") == 1


@pytest.mark.parametrize(
    ("hop", "address"),
    [
        ("198.51.100.7:4711", "198.51.100.7"),
        ("[2001:db8::1]:443", "2001:db8::/64"),
        ("2001:db8::1", "2001:db8::/64"),
        ("[2001:db8::1]", "2001:db8::/64"),
        ("unknown", "10.0.0.1"),
        ("_hidden", "10.0.0.1"),
        ("", "10.0.0.1"),
    ],
)
def test_a_proxy_may_write_the_port_too(hop, address):
    assert client_address("10.0.0.1", hop, ("10.0.0.1",)) == address


def test_a_proxy_on_this_machine_that_is_not_named_is_told_of_once(caplog):
    proxies = Proxies((), "[public]")
    for _ in range(3):
        assert proxies.asking("127.0.0.1", "198.51.100.7") == "127.0.0.1"
    proxies.asking("192.0.2.1", "198.51.100.7")  # a stranger's own invention
    assert caplog.text.count('proxies = ["127.0.0.1"]') == 1
    named = Proxies(("127.0.0.1",), "[public]")
    assert named.asking("127.0.0.1", "198.51.100.7") == "198.51.100.7"
    assert caplog.text.count("counted as one visitor") == 1


def test_a_form_from_before_the_clock_was_put_back_is_taken(config):
    tokens = load_tokens(config.data_dir)
    token = tokens.issue("0" * 32, NOW)
    assert tokens.form_id(token, "0" * 32, NOW - timedelta(hours=2))
    assert tokens.form_id(token, "0" * 32, NOW - timedelta(hours=13)) is None


# --- from outside -----------------------------------------------------------------------------------------------------


def send(client, *pictures, **typed):
    token = re.search(r'name="token" value="([^"]+)"', client.get("/").text).group(1)
    data = {"name": "Ilse", "agreed": "yes", "token": token, **typed}
    data["pictures"] = [(io.BytesIO(p), f"{k}.png") for k, p in enumerate(pictures)]
    return client.post("/", data=data).status_code


def test_a_form_that_comes_to_nothing_is_not_counted(config, clock):
    config.data_dir.mkdir()
    (config.data_dir / "moondesk.toml").write_text("[public]\nforms_at_once = 2\n")
    client = create_public_app(config, lambda: NOW, clock).test_client()
    assert [send(client) for _ in range(5)] == [422] * 5  # without a picture
    assert [send(client, fakes.png(shade=k)) for k in range(3)] == [303, 303, 429]


def test_how_many_were_turned_away_is_told_at_the_desk(config, clock, storage):
    (config.data_dir / "moondesk.toml").write_text("[public]\nforms_at_once = 1\n")
    public = create_public_app(config, lambda: NOW, clock)
    client = public.test_client()
    assert [send(client, fakes.png()) for _ in range(4)] == [303, 429, 429, 429]
    clock.seconds += KEEP_EVERY
    client.get("/")
    assert turned_away.since(storage, NOW) == {"often": 3}
    desk = create_app(config, now=lambda: NOW + timedelta(hours=3)).test_client()
    log_in(desk, config.data_dir, make_account(config.data_dir), NOW)
    assert "3 forms were turned away at the upload page" in desk.get("/").text
    later = create_app(config, now=lambda: NOW + timedelta(hours=26)).test_client()
    log_in(later, config.data_dir, make_account(config.data_dir, "Bo"), NOW + timedelta(hours=26))
    assert "turned away" not in later.get("/").text


def test_a_flood_costs_no_write_for_each_and_a_full_disk_loses_no_count(storage, clock, monkeypatch):
    told, opened = TurnedAway(clock), []
    for _ in range(50):
        told.count("room")
        told.keep(lambda: opened.append(1) or storage, NOW)
    assert len(opened) == 1
    clock.seconds += KEEP_EVERY

    def full(_):
        raise StorageError("The store answered: database or disk is full.")

    with monkeypatch.context() as broken:
        broken.setattr(Storage, "writing", full)
        told.keep(lambda: storage, NOW)
    told.keep(lambda: storage, NOW, at_once=True)
    assert turned_away.since(storage, NOW) == {"room": 50}
