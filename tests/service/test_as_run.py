"""The as-run log: what stood on air with its times, rehearsals apart, and nothing of who is forgotten."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from desk_people import token_of
from fakes import add_edition
from test_rundown_store import send

from moondesk.service.programme.air_plan import AirItem, PlannedLayer, PlannedView, plan_of
from moondesk.service.programme.as_run import Time, rehearsed, runs_of, shown_pictures, times_of
from moondesk.service.store import aired, as_run, rundowns
from moondesk.service.store.forget import forget
from moondesk.service.store.records import ConsentRecord, EditionPlan, LoggedStep, OnAirTime
from moondesk.service.store.submissions import add_consent
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.onair import onair

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)


def after(seconds):
    return NOW + timedelta(seconds=seconds)


def step(seconds, picture=None, kind="picture", credit="Ida, Graz"):
    shown = {} if picture is None else {"item_id": picture + 10, "picture_id": picture, "credit": credit}
    return LoggedStep(begin_utc=after(seconds), kind=kind, layers=(("credit", "Credit"),), **shown)


def test_only_what_stood_while_the_edition_was_on_air_counts_and_a_picture_counts_after_three_seconds():
    steps = (step(-60, 1), step(-5, 2), step(2, 3), step(4.9, 4), step(40, kind="blank"), step(50, 2), step(900, 5))
    runs = runs_of(steps, (Time(NOW, after(60)),))
    assert [(r.begin_utc, r.end_utc) for r in runs] == [
        (NOW, after(2)), (after(2), after(4.9)), (after(4.9), after(40)), (after(40), after(50)), (after(50), after(60)),
    ]  # fmt: skip
    shown = {s.picture_id: s for s in shown_pictures(runs)}
    assert {k: s.counts for k, s in shown.items()} == {2: True, 3: False, 4: True}
    assert shown[2].seconds == 12
    assert shown[2].longest == 10
    assert shown[2].begin_utc == NOW
    assert shown[4].credit_seconds == pytest.approx(35.1)
    assert rehearsed(steps, runs) == 2


def test_the_second_picture_of_a_view_with_two_was_on_air_too_and_is_forgotten_by_itself(storage, edition):
    picture = send(storage, edition, "bo")
    first = step(0, 9)
    both = replace(step(5, 9), layers=(("credit", "Credit"), ("against", "Bo, Pula")), other_item_id=12)
    both = replace(both, other_picture_id=picture, other_credit="Bo, Pula")
    shown = shown_pictures(runs_of((first, both), (Time(NOW, after(20)),)))
    assert [(s.item_id, s.seconds, s.credit) for s in shown] == [(19, 20, "Ida, Graz"), (12, 15, "Bo, Pula")]
    assert as_run.note_step(storage, edition.id, replace(first, picture_id=None))
    assert as_run.note_step(storage, edition.id, replace(both, picture_id=None))
    assert as_run.steps(storage, edition.id)[1].other_credit == "Bo, Pula"
    with storage.writing():
        as_run.nameless(storage, "?", [picture])
    left = as_run.steps(storage, edition.id)[1]
    assert (left.other_item_id, left.other_picture_id, left.other_credit) == (None, None, "")
    assert (left.item_id, left.layers, left.credit) == (19, (("credit", "Credit"),), "Ida, Graz")


def test_when_it_was_on_air_is_as_noted_else_as_planned_and_ends_by_itself():
    plan = EditionPlan(number=12, air_utc=NOW)
    assert times_of(plan, (), after(-1)) == ()
    assert times_of(plan, (), after(60)) == (Time(NOW, after(60)),)
    assert times_of(plan, (), after(86_400))[0].end_utc == after(5_400)
    noted = OnAirTime(after(30), after(90), "Ida")
    assert times_of(plan, (noted,), after(86_400)) == (Time(after(30), after(90)),)
    assert times_of(EditionPlan(number=12), (), NOW) == ()


@pytest.fixture
def edition(storage):
    return add_edition(storage, EditionPlan(number=12))


def plan_with(item_id, credit):
    def layer(kind, base):
        return PlannedLayer(name=kind, title=kind.title(), kind=kind, base=base, url=f"{item_id}/{kind}/1")

    first = (layer("picture", True), layer("credit", True), layer("feature", False), layer("spotlight", False))
    item = AirItem(
        id=item_id, place=1, sender="Ida", credit=credit, pronunciation="", note="", story="", seconds=60, layers=first,
        stops=(), notes=(), views=(PlannedView(title="Close", layers=first[:2], kind="close_up", feature="Plato"),),
    )  # fmt: skip
    return plan_of(12, "The Evening Sky", (item,), None)


def test_each_step_of_the_page_on_air_is_logged_and_a_forgotten_senders_names_leave(
    config, storage, media, edition, monkeypatch
):
    picture = send(storage, edition, "ida")
    item_id = rundowns.add(storage, edition.id, picture, "Ida", NOW).item_id
    monkeypatch.setattr(onair, "make_plan", lambda *_: plan_with(item_id, "Ida, Graz"))
    clock = {"now": NOW}
    client = create_app(config, now=lambda: clock["now"]).test_client()
    steps = (
        {"step": {"item": item_id, "count": 0}}, {"step": {"item": item_id, "count": 0}},
        {"step": {"item": item_id, "count": 1}}, {"step": {"item": item_id, "count": 1, "spot": 1}},
        {"step": {"item": item_id, "count": 0, "view": 1}}, {"step": {"item": item_id, "count": 0}, "blank": True},
    )  # fmt: skip
    for n, told in enumerate(steps):
        clock["now"] = after(n)
        sent = {"state": told, "at": int(after(n).timestamp() * 1000)}
        answer = client.post("/air/12/state", json=sent, headers={"X-Form-Token": token_of(client, "/add")})
        assert answer.status_code == 200
    logged = as_run.steps(storage, edition.id)
    assert [(s.kind, s.view, s.feature, [kind for kind, _ in s.layers]) for s in logged] == [
        ("picture", "named", "", ["credit"]), ("picture", "named", "", ["credit", "feature"]),
        ("picture", "named", "Spotlight", ["credit", "spotlight"]), ("picture", "close_up", "Plato", ["credit"]),
        ("blank", "", "", []),
    ]  # fmt: skip
    assert [(s.begin_utc - NOW).total_seconds() for s in logged] == [0, 2, 3, 4, 5]
    assert {s.credit for s in logged[:4]} == {"Ida, Graz"}
    as_run.set_on_air_time(storage, edition.id, after(-1), after(60), "Ada")
    page = client.get("/after/12").text
    assert "Ida, Graz" not in page
    assert "Taken back" in page
    add_consent(storage, 1, ConsentRecord(state="given", kind="phone", evidence="Yes.", noted_by="Ada"), NOW)
    assert "Ida, Graz" in client.get("/after/12").text
    token = token_of(client, "/add")
    assert client.post("/after/12/confirm", data={"token": token, "item": item_id}).status_code == 303
    (line,) = aired.lines(storage)
    assert (line.credit, line.aired_utc) == ("Ida, Graz", NOW)
    assert client.post("/after/12/confirm", data={"token": token, "item": item_id}).status_code == 400
    assert logged[0].picture_id == picture
    forget(storage, media, "ida@example.org", after(60))
    left = as_run.steps(storage, edition.id)
    assert len(left) == 5
    assert {(s.item_id, s.picture_id, s.feature, s.layers, s.credit) for s in left} == {(None, None, "", (), "")}


def test_somebody_says_when_it_is_on_air_and_may_put_it_right(storage, edition):
    assert as_run.go_on_air(storage, edition.id, "Ida", NOW)
    assert not as_run.go_on_air(storage, edition.id, "Ida", NOW)
    assert as_run.on_air_times(storage, edition.id) == (OnAirTime(NOW, None, "Ida"),)
    assert as_run.go_off_air(storage, edition.id, after(600))
    assert not as_run.go_off_air(storage, edition.id, NOW)
    as_run.set_on_air_time(storage, edition.id, after(30), after(500), "Ada")
    assert as_run.on_air_times(storage, edition.id) == (OnAirTime(after(30), after(500), "Ada"),)
    with pytest.raises(ValueError, match="before it begins"):
        as_run.set_on_air_time(storage, edition.id, NOW, NOW, "Ada")
