"""The episode's page and the prompter's text: forms and the script's answers, own words, nobody named who may not be."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime

import pytest
from fakes import add_edition
from test_as_run import plan_with
from test_rundown_store import send

from moondesk.notes.messages import Name, Number, say
from moondesk.script.records import Cue, Line, Script, ScriptItem
from moondesk.service.store import episodes, rundowns
from moondesk.service.store.records import ConsentRecord, EditionPlan
from moondesk.service.store.submissions import add_consent
from moondesk.service.studio import episode_writing
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.onair import onair

NOW = datetime(2026, 10, 19, 18, 0, tzinfo=UTC)
SIZE = say("{name} is {km} kilometres wide.", name=Name("Tycho"), km=Number(85.29), seconds_of_arc=Number(43.2, 1))
LINE = Line(said=SIZE, facts=("size:Tycho",), cue=Cue(show="as sent", picture=1))
SCRIPT = Script(
    items=(ScriptItem(kind="tour", title=say("A walk over the Moon"), paragraphs=((LINE,),), words=5, seconds=2.0),)
)


class Desk:
    def __init__(self, client):
        self.client, self.page = client, client.get("/rundown/12/episode").text

    def post(self, path, **form):
        token = re.search(r'name="token" value="([^"]+)"', self.page)[1]
        head = {"Accept": "application/json"} if form.pop("json", False) else {}
        form = {"token": token, "version": self.version, **form}
        answer = self.client.post(f"/rundown/12/episode/{path}", data=form, headers=head)
        if not head:
            self.page = self.client.get("/rundown/12/episode").text
        return answer

    @property
    def version(self):
        return int(re.search(r'data-version="(\d+)"', self.page)[1])

    def items(self):
        return [int(k) for k in re.findall(r'data-item="(\d+)"', self.page)]


@pytest.fixture
def edition(storage):
    return add_edition(storage, EditionPlan(number=12, evenings=(date(2026, 10, 19),)))


@pytest.fixture
def item_id(storage, edition):
    return rundowns.add(storage, edition.id, send(storage, edition, "ilse"), "Ada", NOW).item_id


@pytest.fixture
def desk(config, item_id, monkeypatch):
    monkeypatch.setattr(onair, "make_plan", lambda *_: plan_with(item_id, "Ilse"))
    monkeypatch.setattr(episode_writing, "script_of", lambda *_: SCRIPT)
    return Desk(create_app(config, now=lambda: NOW).test_client())


def test_an_episode_is_made_checked_and_taken_back_by_forms(desk, storage, edition):
    assert desk.post("order", order="about the half").status_code == 303
    tour = next(i.id for i in episodes.episode(storage, edition.id).items if i.kind == "tour")
    assert len(desk.items()) == 10
    told = desk.post(f"items/{tour}/edit", json=True, text="[light: Plato] Tycho is 120 km wide. <b>Hello.</b>").json
    assert "85 km across" in told["checked"]
    assert "&lt;b&gt;Hello." in told["checked"]
    assert "No picture stands here." in told["checked"]
    assert told["length"] == "7 words, 0:03"
    clash = desk.post(f"items/{tour}/edit", json=True, text="Mine.")  # from the version before
    assert (clash.status_code, clash.json["theirs"][:14]) == (409, "[light: Plato]")
    desk.page = desk.client.get("/rundown/12/episode").text
    asked = desk.post("write", item=tour)
    assert (asked.status_code, "Write over my words" in asked.text) == (409, True)
    assert "Left as they are, for they have words of your own: A walk over the Moon." in desk.post("write").text
    assert desk.post("write", item=tour, over="yes").status_code == 303
    assert "<td>85</td><td>85.29</td>" in desk.page
    assert 'class="said-so computed"' in desk.page
    last = re.search(r'name="last" value="(\d+)"', desk.page)[1]
    assert desk.post("undo", last=last).status_code == 303
    assert "Tycho is 120 km wide." in desk.page
    assert desk.post(f"items/{tour}/move", after=0).status_code == 303
    assert desk.items()[0] == tour
    assert desk.post(f"items/{tour}/out").status_code == 303
    assert desk.post("keep-order", name="Our evening").status_code == 303
    assert "Our evening (your own)" in desk.page
    assert desk.post("rate", rate="20").status_code == 422
    assert desk.post("rate", rate="118").status_code == 303
    assert 'value="118"' in desk.page


def test_the_prompter_has_what_may_be_spoken_and_what_each_mark_shows(desk, storage, edition, item_id):
    desk.post("add", kind="pictures", title="Ilse's Moon")
    (item,) = desk.items()
    text = "[picture 1: as sent] This is how Ilse saw it. [close: Plato] Look at Plato. [light: Tycho] And at Tycho."
    desk.post(f"items/{item}/edit", text=text)
    assert "sentences with the credit are not in the prompter" in desk.page
    told = desk.client.get("/air/12/prompter/text.json").json
    assert "Ilse" not in str(told)
    add_consent(storage, 1, ConsentRecord(state="given", kind="phone", evidence="Yes.", noted_by="Ada"), NOW)
    told = desk.client.get("/air/12/prompter/text.json").json
    parts = told["items"][0]["parts"]
    assert [p.get("say") or p["cue"] for p in parts] == [
        "picture 1: as sent", "This is how Ilse saw it.", "close: Plato", "Look at Plato.", "light: Tycho", "And at Tycho.",
    ]  # fmt: skip
    states = [p["state"]["step"] for p in parts if "cue" in p]
    assert states == [{"item": item_id, "count": 0, "bare": True}, *[{"item": item_id, "count": 0, "view": 1}] * 2]
    assert [p["why"] for p in parts if "cue" in p][2] == "The frame has no light for Tycho."
    assert desk.client.get("/air/12/prompter").status_code == 200
    head = {"X-Form-Token": re.search(r'data-token="([^"]+)"', desk.page)[1]}
    paced = desk.client.post("/air/12/prompter/pace", json=[[26, 12.0]] * 4, headers=head)
    assert paced.json == {"rate": 130}
    assert desk.client.post("/air/12/prompter/pace", json=[["x"]], headers=head).status_code == 400
