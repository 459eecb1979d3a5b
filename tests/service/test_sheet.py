"""The rundown to hold in hand, and what becomes of a picture that is taken back: it is in no outlet of the desk."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime

import fakes
import pytest
from air_plans import made_plan
from fakes import add_edition

from moondesk.service.csv_safe import csv_text
from moondesk.service.exports.rundown import as_csv, as_json, sheet_of
from moondesk.service.intake.intake import Intake
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.programme.air_plan import AirItem, AirNote, PlannedLayer, plan_of
from moondesk.service.store import air, replies, rundowns
from moondesk.service.store.forget import forget
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import ConsentRecord, EditionPlan
from moondesk.service.store.submissions import add_consent
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
AIR = datetime(2026, 3, 26, 20, 0, tzinfo=UTC)


def item(number, sender="Ilse", seconds=60, note="", **more):
    layer = PlannedLayer(name="picture", title="Picture", kind="picture", base=True, url=f"{number}/picture/1")
    return AirItem(
        id=number,
        place=number,
        sender=sender,
        credit=f"{sender} from Graz",
        pronunciation="",
        note=note,
        story="",
        seconds=seconds,
        layers=(layer,),
        stops=(),
        notes=(AirNote("", "", ("Half the Moon is lit.",)), AirNote("Plato", "Plato", ("Small.",), True)),
        **more,
    )


def sheet(*items):
    plan = plan_of(12, "The Evening Sky", items, None)
    return sheet_of(plan, {i.id: 100 + i.id for i in items}, AIR, "Europe/Vienna")


def test_times_run_on_from_the_first_picture():
    """RFC 4180 by Python's own reader; 20:00 UTC is 21:00 in Vienna in winter (common knowledge)."""
    rows = list(csv.DictReader(io.StringIO(as_csv(sheet(item(1), item(2, "Bo", 95), item(3))).removeprefix("\ufeff"))))
    assert [(r["place"], r["starts"], r["length"]) for r in rows] == [
        ("1", "0:00", "1:00"),
        ("2", "1:00", "1:35"),
        ("3", "2:35", "1:00"),
    ]
    assert rows[0]["notes"] == "Half the Moon is lit."  # what the frame does not point at is not printed
    assert [i.at for i in sheet(item(1), item(2))] == ["21:00 (20:00 UTC)", "21:01 (20:01 UTC)"]


@pytest.mark.parametrize("evil", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_cell_is_a_formula(evil):
    (row,) = csv.DictReader(io.StringIO(as_csv(sheet(item(1, evil, note=evil))).removeprefix("\ufeff"), newline=""))
    for name in ("sender", "credit", "note"):
        assert row[name].startswith("'"), name
    told = json.loads(as_json(12, "The Evening Sky", sheet(item(1, evil))))
    assert told["items"][0]["sender"] == evil  # a program is no spreadsheet


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize(
    "evil", ["Eve;=1+1", " =1+1", "＝1+1", "a\t@SUM(A1)", "a\n=1", "a\r\n＋1", 'Eve;"=1+1"', "\u200b=1", "Eve; -1"]
)
def test_no_cell_is_a_formula_whatever_divides_cells(evil, delimiter):
    """German and Bulgarian spreadsheets divide at the semicolon; read by Python's own reader with each mark."""
    for row in csv.reader(
        io.StringIO(csv_text(("a", "b"), [(evil, "b")]).removeprefix("\ufeff"), newline=""), delimiter=delimiter
    ):
        for cell in row:
            assert cell.strip(' \t\r\n"\u200b')[:1] not in tuple("=+-@＝＋－＠"), row


class Here:
    run = staticmethod(at_once)

    def warm(self):
        pass


@pytest.fixture
def desk(tmp_path, storage, media, config):
    """Two pictures in a rundown, both with consent; Ilse's is the plan B too, and a reply to her is approved."""
    folder = tmp_path / "in"
    folder.mkdir()
    for n, name in enumerate(("Ilse", "Bo")):
        (folder / f"{name}.png").write_bytes(fakes.png(shade=60 + 9 * n))
    (folder / "submissions.csv").write_text(
        "file,name,credit,consent\nIlse.png,Ilse,Ilse from Graz,yes by form\nBo.png,Bo,Bo from Graz,yes by form\n"
    )
    edition = add_edition(storage, EditionPlan(number=12, air_utc=AIR))
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    ids = {p.picture.submission.arrival.sender_name: p.picture for p in list_pictures(storage, edition.id)}
    items = {name: rundowns.add(storage, edition.id, ids[name].id, "Ada", NOW).item_id for name in ("Ilse", "Bo")}
    air.pin(storage, edition.id, items["Ilse"])
    of = ids["Ilse"].submission.id
    kept = replies.keep(storage, of, "ilse@viewers.example", "s", "Dear Ilse", None, 0, "Ada", NOW)
    replies.approve(storage, of, kept.version, "<1@x>", "Ada", NOW)
    app = create_app(config, now=lambda: NOW)
    app.extensions["moondesk.workshop"] = Here()
    return app.test_client(), ids["Ilse"], items["Ilse"]


#: Whatever leaves the desk for air or hand.
OUTLETS = ("/air/12/plan.json", "/air/12/rundown.csv", "/air/12/rundown.json")
SHOWN = "Ilse from Graz"


def test_every_outlet_has_it_while_it_may_be_shown(desk):
    client, _, item_id = desk
    made_plan(client, "/air/12/plan.json")
    for path in (*OUTLETS, "/air/12/sheet"):
        assert SHOWN in client.get(path).get_data(as_text=True), path
    assert client.get("/air/12/plan.json").json["spare"]["id"] == item_id
    with client.get(f"/rundown/12/items/{item_id}/frame/whole.png") as frame:
        assert frame.status_code == 200


def test_a_consent_taken_back_takes_it_out_of_every_outlet_and_the_desk_says_so(desk, storage):
    client, picture, item_id = desk
    layer = made_plan(client, "/air/12/plan.json")["items"][0]["layers"][0]["url"]
    assert client.get(layer).status_code == 200
    add_consent(
        storage,
        picture.submission.id,
        ConsentRecord(state="refused", kind="phone", evidence="Not any more.", noted_by="Ada"),
        NOW,
    )
    for path in OUTLETS:
        assert "Ilse" not in client.get(path).get_data(as_text=True).replace('"left_out":[["Ilse"', ""), path
    told = client.get("/air/12/plan.json").json
    assert told["spare"] is None
    assert told["left_out"][0][0] == "Ilse"
    assert client.get(layer).status_code == 404  # kept frames too
    assert client.get(f"/rundown/12/items/{item_id}/frame/whole.png").status_code == 404
    page = client.get("/air/12/sheet").get_data(as_text=True)
    assert SHOWN not in page
    assert "Not on air" in page


def test_who_is_forgotten_is_nowhere(desk, storage, media):
    client, picture, item_id = desk
    made_plan(client, "/air/12/plan.json")
    forget(storage, media, "Ilse", NOW)
    for path in (*OUTLETS, "/air/12/sheet", "/rundown/12", "/air/12/presenter", "/replies"):
        assert "Ilse" not in client.get(path).get_data(as_text=True), path
    assert client.get(f"/rundown/12/items/{item_id}/frame/whole.png").status_code == 404
    assert client.get(f"/pictures/{picture.id}/notes").status_code == 404
    assert "withdrawn" in client.get("/rundown/12").get_data(as_text=True)
    assert replies.replies(storage) == ()
    assert not list((media.root / "derived").rglob("air-*/whole.png")) or all(
        picture.enclosure.sha256 not in str(p) for p in (media.root / "derived").rglob("*")
    )
