"""The control socket: a program drives a whole edition and reads back what was shown; who may, and what is refused."""

from __future__ import annotations

import json
import socket
import time
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from desk_people import token_of
from fakes import add_edition
from servers import running
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from moondesk.service.programme.air_plan import AirItem, Other, PlannedLayer, PlannedView, plan_of
from moondesk.service.programme.air_steps import Step, revealed
from moondesk.service.store import air
from moondesk.service.store.air import make_link
from moondesk.service.store.records import EditionPlan
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.onair import control, onair

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
KINDS = ("picture", "terminator", "feature", "credit")


def item(number, stops=()):
    layers = tuple(
        PlannedLayer(name=kind, title=kind.title(), kind=kind, base=kind == "picture", url=f"{number}/{kind}/1")
        for kind in KINDS
    )
    return AirItem(
        id=number,
        place=number,
        sender=f"Sender {number}",
        credit=f"Sender {number}, Graz",
        pronunciation="",
        note="between us",
        story="",
        seconds=60,
        layers=() if stops else layers,
        stops=stops,
        notes=(),
    )


def against(one, other):
    """The item with a second view: its picture and that of another item in one frame."""
    second = PlannedLayer(name="against", title="B", kind="against", base=False, url=f"{other.id}/picture/2")
    credits = tuple(
        PlannedLayer(name=f"credit-{k}", title="", kind="credit", base=True, url=f"{k}/credit/2")
        for k in (one.id, other.id)
    )
    told = Other(other.id, other.sender, other.credit)
    view = PlannedView(title="Against", kind="against", layers=(one.layers[0], second, *credits), other=told)
    return replace(one, views=(view,))


@pytest.fixture
def rundown(monkeypatch):
    told = {"items": [item(1), item(2), item(3)], "spare": None}
    monkeypatch.setattr(
        onair, "make_plan", lambda *_: plan_of(12, "The Evening Sky", tuple(told["items"]), told["spare"])
    )
    monkeypatch.setattr(onair, "RECENT_S", 0.0)
    return told


@pytest.fixture
def app(config, storage, rundown):
    add_edition(storage, EditionPlan(number=12))
    return create_app(config, now=lambda: NOW)


class Program:
    """A small client: sends, and keeps what it is told."""

    def __init__(self, line):
        self.line, self.states, self.sent = line, [], 0

    def read(self):
        told = json.loads(self.line.recv(timeout=10))
        if told["is"] == "state":
            self.states.append(told)
        return told

    def ask(self, do, **more):
        """The answer; states that come before it are kept."""
        self.sent += 1
        self.line.send(json.dumps({"do": do, "id": self.sent, **more}))
        while True:
            told = self.read()
            if told["is"] in ("done", "refused"):
                assert told["id"] == self.sent
                return told


def ask_on(told):
    while True:
        told.ask("state")
        time.sleep(0.05)


@contextmanager
def program(port, path="/air/12/socket", **more):
    with connect(f"ws://127.0.0.1:{port}{path}", compression=None, **more) as line:
        found = Program(line)
        assert found.read()["is"] == "state"
        yield found


def test_a_program_drives_a_whole_edition_and_reads_back_what_was_shown(app, storage):
    with running(app) as server, program(server.effective_port) as told, program(server.effective_port) as other:
        plan = told.ask("plan")["plan"]
        assert [one["sender"] for one in plan["items"]] == ["Sender 1", "Sender 2", "Sender 3"]
        assert plan["items"][0]["views"] == [
            {
                "title": "Picture",
                "kind": "named",
                "layers": ["Terminator", "Feature", "Credit"],
                "spotlights": [],
                "against": None,
            }
        ]
        for one in plan["items"]:
            for count in range(len(one["views"][0]["layers"]) + 1):
                answer = told.ask("go", item=one["item"], count=count)
                assert answer["is"] == "done"
        shown = [(s["on_air"]["item"], s["on_air"]["layers"]) for s in told.states[1:]]
        assert shown == [(k, ["picture", *KINDS[1 : 1 + count]]) for k in (1, 2, 3) for count in range(4)]
        # each change once, numbered without a gap, to every line
        assert [s["seq"] for s in told.states] == list(range(1, 14))
        while len(other.states) < 13:
            other.read()
        assert [(s["seq"], s["on_air"]) for s in other.states] == [(s["seq"], s["on_air"]) for s in told.states]
        # the keys' own words, and what is set outright
        assert told.ask("back")["is"] == told.ask("item before")["is"] == "done"
        assert told.states[-1]["on_air"]["item"] == 2
        told.ask("all")
        assert told.states[-1]["on_air"]["titles"] == ["Terminator", "Feature", "Credit"]
        told.ask("layer", number=2, on=False)
        told.ask("layer", number=2, on=False)
        assert told.states[-1]["on_air"]["titles"] == ["Terminator", "Credit"]
        told.ask("bare")
        assert told.states[-1]["on_air"]["layers"] == ["picture", "credit"]
        told.ask("blank", on=True)
        assert told.states[-1]["on_air"] is None
        told.ask("blank", on=False)
        told.ask("hold", on=True)
        told.ask("next item")
        assert (told.states[-1]["on_air"]["item"], told.states[-1]["next"]["item"]) == (2, 3)
        page = app.test_client().get("/air/12/state").json
        assert page["state"]["step"] == {"item": 3, "count": 0}
        assert page["at"] == told.states[-1]["at"]


def test_a_program_wipes_one_evening_over_another(app, rundown):
    rundown["items"] = [against(item(1), item(2)), item(3)]
    with running(app) as server, program(server.effective_port) as told:
        assert told.ask("plan")["plan"]["items"][0]["views"][1]["against"] == "Sender 2"
        assert "No two pictures" in told.ask("wipe", share=0.5)["why"]
        told.ask("go", item=1, view=1)

        def now():
            return [told.states[-1]["on_air"]["against"][k] for k in ("share", "blink", "credit")]

        assert now() == [0.0, False, "Sender 2, Graz"]
        told.ask("wipe", share=0.35)
        assert now()[0] == 0.35
        told.ask("wipe on")
        assert now()[0] == 0.45
        assert "shares of the frame" in told.ask("wipe", share=1.2)["why"]
        told.ask("blink", on=True)
        told.ask("blink", on=True)
        assert now()[:2] == [1.0, True]
        told.ask("next")
        assert now()[:2] == [1.0, False]


def test_what_windows_do_is_told_to_programs_and_no_private_word(app, rundown):
    client = app.test_client()
    with running(app) as server, program(server.effective_port) as told:
        token = token_of(client, "/add")
        client.post(
            "/air/12/state",
            json={"state": {"step": {"item": 2, "count": 1}}, "at": int(NOW.timestamp() * 1000)},
            headers={"X-Form-Token": token},
        )
        assert told.read()["on_air"]["layers"] == ["picture", "terminator"]
        assert "between us" not in json.dumps(told.ask("plan"))
        # a picture that was taken back is on air no longer, whatever is asked
        rundown["items"] = [item(1), item(2, ("Cannot go on air: the sender does not want it shown.",)), item(3)]
        told.ask("state")
        assert told.states[-1]["on_air"]["item"] == 1
        assert "no item 2" in told.ask("go", item=2)["why"]


@pytest.mark.parametrize(
    ("sent", "why"),
    [
        ("hello", "JSON object"),
        ("[1]", "JSON object"),
        ("{}", "JSON object"),
        ('{"do": "explode"}', "nothing called “explode”"),
        ('{"do": "go"}', "no item None"),
        ('{"do": "go", "item": 1, "count": 9}', "no such view"),
        ('{"do": "go", "item": 1, "view": -1}', "whole number"),
        ('{"do": "layer", "number": 0}', "has 3 of these"),
        ('{"do": "layer", "number": true}', "whole number"),
        ('{"do": "light", "number": 1}', "has 0 of these"),
        ('{"do": "blank", "on": "yes"}', "true or false"),
        ('{"do": "plan B"}', "No picture is pinned"),
        ('{"do": "point", "x": 2, "y": 0}', "shares of the frame"),
        ('{"do": "point", "x": NaN, "y": 0}', "shares of the frame"),
    ],
)
def test_what_is_not_understood_is_refused_with_a_sentence_and_changes_nothing(app, sent, why):
    with running(app) as server, program(server.effective_port) as told:
        told.line.send(sent)
        answer = told.read()
        assert answer["is"] == "refused"
        assert why in answer["why"]
        assert told.ask("state")["is"] == "done"
        assert told.states[-1]["at"] == 0


def test_an_address_shows_or_drives_as_it_was_made_until_it_is_ended(app, storage):
    shows, drives = (make_link(storage, name, "Ada", NOW, drives=name == "b") for name in "ab")
    with running(app) as server:
        port = server.effective_port
        with program(port, f"/onair/{shows}/socket") as told, program(port, f"/onair/{drives}/socket") as driver:
            assert "only shows" in told.ask("next")["why"]
            assert told.ask("plan")["is"] == "done"
            assert driver.ask("next item")["is"] == "done"
            assert told.read()["on_air"]["item"] == 2
            driver.ask("state")
            driver.line.send(json.dumps({"do": "point", "x": 0.25, "y": 0.5}))
            while (got := told.read())["is"] != "point":
                pass
            assert got == {"is": "point", "x": 0.25, "y": 0.5}
            air.revoke_link(storage, 2, "Ada", NOW)
            with pytest.raises(ConnectionClosed):  # within a second
                ask_on(driver)
        with pytest.raises(InvalidStatus), program(port, f"/onair/{drives}/socket"):
            pass
        with pytest.raises(InvalidStatus), program(port, f"/onair/{'x' * 32}/socket"):
            pass
        with pytest.raises(InvalidStatus), program(port, "/air/13/socket"):
            pass


def test_a_page_elsewhere_and_who_is_not_logged_in_open_no_line(app, storage, config):
    from moondesk.service.passwords import hash_password
    from moondesk.service.store.accounts import add_account

    with running(app) as server:
        port = server.effective_port
        with pytest.raises(InvalidStatus) as refused, program(port, origin="https://elsewhere.example"):
            pass
        assert refused.value.response.status_code == 403
        with program(port, origin=f"http://127.0.0.1:{port}") as told:
            assert told.ask("next")["is"] == "done"
            add_account(storage, "Ada", "presenter", hash_password("a long enough password"), NOW, "Ada", first=True)
        with pytest.raises(InvalidStatus), program(port):
            pass


def test_too_many_messages_and_too_large_ones_are_bounded(app, monkeypatch):
    with running(app) as server:
        with program(server.effective_port) as told:
            for _ in range(control.AT_ONCE + 40):
                told.line.send('{"do": "point", "x": 0.5, "y": 0.5}')
            assert "Too many messages" in told.read()["why"]
        with program(server.effective_port) as told:
            told.line.send(json.dumps({"do": "next", "id": "x" * 9000}))
            with pytest.raises(ConnectionClosed) as ended:
                told.read()
            assert ended.value.rcvd.code == 1009
        # what asks for an ordinary page at this address, or breaks the protocol, gets an answer and no line
        assert app.test_client().get("/air/12/socket").status_code == 426
        with socket.create_connection(("127.0.0.1", server.effective_port)) as raw:
            raw.sendall(b"GET /air/12/socket HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\n\r\n")
            assert raw.recv(4096).startswith(b"HTTP/1.1 4")


def test_steps_of_the_rules_are_those_of_the_plan():
    plan = plan_of(12, "", (item(1),), None)
    assert [layer.kind for layer in revealed(plan.items[0].all_views[0])] == ["terminator", "feature", "credit"]
    assert Step(item=1).as_json() == {"item": 1, "count": 0}
