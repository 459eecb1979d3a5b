"""An episode in a real browser, from the picks to the prompter: written, edited, read with a clicker, each mark on air and
in the log of what was shown. Keyboard alone; WCAG 2.2 A and AA as far as axe-core can tell."""

from __future__ import annotations

from datetime import UTC, date, datetime
from importlib.resources import files

import pytest
from browsers import chromium, listen_to, needs_chromium, served, sync_api
from fakes import add_edition
from test_air_browser import drawn
from test_rundown_store import send

from moondesk.notes.messages import Name, Number, say
from moondesk.script.records import Cue, Line, Script, ScriptItem
from moondesk.service.programme.air_plan import AirItem, PlannedLayer, PlannedView, plan_of
from moondesk.service.store import as_run, rundowns
from moondesk.service.store.records import ConsentRecord, EditionPlan
from moondesk.service.store.submissions import add_consent
from moondesk.service.studio import episode_writing
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.onair import onair

pytest.importorskip("axe_playwright_python", reason="axe-core is not installed (extra: test)")
pytestmark = needs_chromium

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
NOW = datetime(2026, 10, 19, 18, 0, tzinfo=UTC)
WIDE = say("{name} is {km} kilometres wide.", name=Name("Copernicus"), km=Number(96.07))
SCRIPT = Script(
    items=tuple(
        ScriptItem(kind=kind, title=say(title), paragraphs=(lines,), words=8, seconds=4.0)
        for kind, title, lines in (
            ("pictures", "The viewers' pictures", (Line(said=say("Ilse saw this."), cue=Cue(show="as sent", picture=1)),)),
            (
                "tour",
                "A walk over the Moon",
                (
                    Line(said=say("Here they stand by name."), cue=Cue(show="named")),
                    Line(said=WIDE, facts=("size:Copernicus",), cue=Cue(show="light", feature="Copernicus")),
                ),
            ),
            ("farewell", "Farewell", (Line(said=say("Good night."), cue=Cue(show="nothing")),)),
        )
    )
)  # fmt: skip


def layers(item_id, *more):
    told = (("picture", "Picture", "picture", True), ("credit", "Credit", "credit", False), *more)
    return tuple(PlannedLayer(name=n, title=t, kind=k, base=b, url=f"{item_id}/{n}/1") for n, t, k, b in told)


def plan(item_id):
    named = layers(
        item_id,
        ("feature-1", "Copernicus", "feature", False),
        ("terminator", "Terminator", "terminator", False),
        ("spot-1", "Copernicus", "spotlight", False),
    )
    item = AirItem(
        id=item_id, place=1, sender="Ilse", credit="Ilse", pronunciation="", note="", story="", seconds=60,
        layers=layers(item_id), kind="as_sent", title="As it was sent", stops=(), notes=(),
        views=(PlannedView(title="Named", layers=named),),
    )  # fmt: skip
    return plan_of(12, "The Evening Sky", (item,), None)


@pytest.fixture
def app(config, storage, monkeypatch):
    edition = add_edition(storage, EditionPlan(number=12, evenings=(date(2026, 10, 19),)))
    picture = send(storage, edition, "ilse")
    add_consent(storage, 1, ConsentRecord(state="given", kind="phone", evidence="Yes.", noted_by="Ada"), NOW)
    item_id = rundowns.add(storage, edition.id, picture, "Ada", NOW).item_id
    monkeypatch.setattr(onair, "make_plan", lambda *_: plan(item_id))
    monkeypatch.setattr(
        onair, "layer_png", lambda *asked: drawn(asked[2], asked[3] if "-1" not in asked[3] else "credit")
    )
    monkeypatch.setattr(episode_writing, "script_of", lambda *_: SCRIPT)
    return create_app(config)


def check_access(page):
    page.evaluate(AXE)
    found = page.evaluate("(tags) => axe.run(document, {runOnly: {type: 'tag', values: tags}})", LEVELS)
    assert [(v["id"], [n["html"][:90] for n in v["nodes"]]) for v in found["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_from_the_picks_to_the_prompter_to_the_log(app, storage):
    complaints = []
    with served(app) as url, chromium() as browser:
        context = browser.new_context(viewport={"width": 1440, "height": 900})
        page = context.new_page()
        listen_to(page, complaints)
        page.goto(f"{url}/rundown/12")
        page.get_by_role("link", name="Episode", exact=True).press("Enter")
        page.get_by_role("button", name="Write the text", exact=True).press("Enter")
        text = page.get_by_label("Text of A walk over the Moon")
        text.focus()
        page.keyboard.press("Control+End")
        page.keyboard.type(" Tycho is 120 kilometres wide.")
        page.locator("a.said-so.false").wait_for()
        sync_api.expect(page.locator(".true-value")).to_contain_text("By the IAU's list Tycho is 85 km across")
        page.get_by_role("link", name="Copernicus is 96").press("Enter")
        sync_api.expect(page.locator(".why:focus")).to_contain_text("96.07")
        check_access(page)
        page.set_viewport_size({"width": 390, "height": 844})
        page.emulate_media(color_scheme="light")
        check_access(page)
        air = context.new_page()
        air.goto(f"{url}/air/12")
        air.locator("body[data-onair^='1: picture']").wait_for(state="attached")
        page.set_viewport_size({"width": 1440, "height": 900})
        page.get_by_role("link", name="Prompter").press("Enter")
        page.locator("#words section").first.wait_for()
        page.locator("body[data-desk=answers]").wait_for(state="attached")
        check_access(page)
        for shown in (  # a clicker sends these keys
            "1: picture",
            "1: picture credit feature-1 terminator",
            "1: picture credit feature-1 spot-1",
            "nothing",
        ):
            page.keyboard.press("PageDown")
            sync_api.expect(air.locator("body")).to_have_attribute("data-onair", shown)
        page.keyboard.press("PageUp")
        air.locator("body[data-onair='1: picture credit feature-1 spot-1']").wait_for(state="attached")
        page.keyboard.press("m")
        sync_api.expect(page.locator(".prompter.mirrored")).to_have_count(1)
        page.set_viewport_size({"width": 390, "height": 844})
        page.get_by_role("button", name="Onward").click()
        air.locator("body[data-onair='nothing']").wait_for(state="attached")
        check_access(page)
        phone = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True).new_page()
        phone.goto(f"{url}/air/12/prompter")  # one that is opened later goes along, whichever of the two steps
        phone.locator("body[data-at='3']").wait_for(state="attached")
        phone.get_by_role("button", name="Back").tap()
        page.locator("body[data-at='2']").wait_for(state="attached")
        assert page.locator("#now canvas, #now .plane").first.bounding_box()["y"] < 400
    assert complaints == []
    logged = [(s.kind, s.view, s.feature) for s in as_run.steps(storage, 1)]
    assert logged[:4] == [
        ("picture", "as_sent", ""), ("picture", "named", ""), ("picture", "named", "Copernicus"), ("blank", "", ""),
    ]  # fmt: skip
