"""Letters in a real browser: readable by all, on any screen; what comes in meanwhile turns red where it must.

Rules: WCAG 2.0 to 2.2, A and AA, as far as axe-core can tell. Needs Playwright and Chromium.
"""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
from browsers import chromium, listen_to, needs_chromium, served
from fakes import png
from letters_desk import NOW, application, mail, pick, picture_of, taken, with_terms

from moondesk.service.programme.air_plan import AirItem, PlannedLayer, plan_of
from moondesk.service.programme.permission import permission_of
from moondesk.service.store import letters, withdrawals
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.onair import onair

sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (extra: test)")
pytest.importorskip("axe_playwright_python", reason="axe-core is not installed (extra: test)")

pytestmark = needs_chromium

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
LONG = "https://example.org/" + "a" * 300


@pytest.fixture
def desk(config, storage):
    config = with_terms(config)
    quoted = f"Good evening, here is the Moon.\n\n> {LONG}\n-- \nAnn"
    ann, ivan = taken(
        storage,
        config,
        mail("ann@x.org", quoted, "Moon", 90),
        mail("ivan@x.org", "Не показвайте снимката.", "Луна", 120),
    )
    for number in (ann, ivan):
        pick(storage, picture_of(storage, number))
    letter, _, _ = taken(
        storage,
        config,
        mail("ann@x.org", f"غيّرت رأيي، احذفوا الصورة.\n{LONG}", "حذف الصورة"),
        mail("zoe@x.org", "Noch etwas. " * 60),
        mail("mo@x.org", "Away.", Auto_Submitted="auto-replied"),
    )
    return config, letter, picture_of(storage, ivan)


def check(page, where):
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{where} is {wide} px too wide"
    page.evaluate(AXE)
    found = page.evaluate("(tags) => axe.run(document, {runOnly: {type: 'tag', values: tags}})", LEVELS)
    assert not [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found["violations"]], where


def test_letters_are_read_by_all_on_any_screen(desk):
    config, letter, picture = desk
    complaints: list[str] = []
    with served(application(config)) as url, chromium() as browser:
        every = ("/", "/letters", f"/letters/{letter}", f"/pictures/{picture}", "/rundown/12")
        for size, scheme, paths in (((1440, 900), "dark", every), ((360, 740), "light", ("/", every[2]))):
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]}, base_url=url, color_scheme=scheme
            )
            page = context.new_page()
            listen_to(page, complaints)
            for path in paths:
                page.goto(path)
                for summary in page.locator(".letter-more summary").all():
                    summary.click()
                check(page, f"{path} at {size}, {scheme}")
        page.goto("/")
        page.get_by_role("link", name="Ann").first.click()
        page.get_by_role("button", name="I have read it", exact=True).click()
        sync_api.expect(page.locator(".done")).to_contain_text("Read by")
        sync_api.expect(page.get_by_role("button", name="Let somebody read it again")).to_be_visible()
        check(page, "a letter that was read")
    assert not complaints


def test_the_presenters_window_turns_red_when_a_letter_comes_in(config, storage, monkeypatch):
    config = with_terms(config)
    (ann, bo) = taken(
        storage,
        config,
        mail("ann@x.org", "Here is the Moon.", "Moon", 90),
        mail("bo@x.org", "Here is my Moon.", "Moon", 120),
    )
    numbers = {name: picture_of(storage, k) for name, k in (("Ann", ann), ("Bo", bo))}
    layer = PlannedLayer(name="picture", title="Picture", kind="picture", base=True, url="1/picture/1")

    def plan(*_):
        with Storage(config.data_dir) as opened:
            items = []
            for n, (name, k) in enumerate(numbers.items(), 1):
                stops = permission_of(list_by_id(opened, [k])[0], config.entry_terms).stops
                items.append(
                    AirItem(
                        id=n,
                        place=n,
                        sender=name,
                        credit=name,
                        pronunciation="",
                        note="",
                        story="",
                        seconds=60,
                        layers=() if stops else (layer,),
                        stops=stops,
                        notes=(),
                    )
                )
        return plan_of(12, "The Evening Sky", tuple(items), None)

    monkeypatch.setattr(onair, "make_plan", plan)
    monkeypatch.setattr(onair, "layer_png", lambda *_: b"")
    with served(application(config)) as url, chromium() as browser:
        page = browser.new_page(base_url=url)
        page.goto("/air/12/presenter")
        sync_api.expect(page.locator("#steps")).to_contain_text("Ann")
        sync_api.expect(page.locator("#left-out")).to_be_hidden()
        taken(storage, config, mail("ann@x.org", "Nein danke"))
        sync_api.expect(page.locator("#left-out")).to_contain_text(
            "Ann Cannot go on air: a letter from its sender waits to be read.", timeout=30_000
        )
        sync_api.expect(page.locator("#steps")).not_to_contain_text("Ann")


def test_taking_back_is_asked_once_more_on_any_screen(desk):
    config, letter, _ = desk
    complaints: list[str] = []
    with served(application(config)) as url, chromium() as browser:
        for size, scheme in (((1280, 900), "dark"), ((360, 740), "light")):
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]}, base_url=url, color_scheme=scheme
            )
            page = context.new_page()
            listen_to(page, complaints)
            page.goto(f"/letters/{letter}")
            check(page, f"the letter, {scheme}")
            page.get_by_role("button", name="Erase what is ticked").click()
            sync_api.expect(page.get_by_role("heading", name="This goes, for good")).to_be_visible()
            check(page, f"what goes, {scheme}")
        page.get_by_role("button", name="Erase for good").click()
        sync_api.expect(page.locator(".done")).to_contain_text("Erased by")
        check(page, "erased")
        page.get_by_role("link", name="The answer that says so").click()
        sync_api.expect(page.get_by_label("Words")).to_have_value(re.compile("حُذفت هنا صوركم"))
        check(page, "the answer")
    assert not complaints


def test_what_was_erased_leaves_the_page_on_air_at_once(config, storage, monkeypatch):
    config = with_terms(config)
    (ann,) = taken(storage, config, mail("ann@x.org", "Here is the Moon.", "Moon", 90))
    item = pick(storage, picture_of(storage, ann))
    (letter,) = taken(storage, config, mail("ann@x.org", "Nein danke, bitte löschen."))
    letters.set_read(storage, letter, True, "Ada", NOW)  # by mistake: it stands on air
    layer = PlannedLayer(name="picture", title="Picture", kind="picture", base=True, url=f"{item}/picture/1")

    def plan(studio, *_):
        rows = studio.storage.read("select id from rundown_items where out_utc is null")
        items = tuple(
            AirItem(
                id=row["id"],
                place=1,
                sender="Ann",
                credit="Ann",
                pronunciation="",
                note="",
                story="",
                seconds=60,
                layers=(layer,),
                stops=(),
                notes=(),
            )
            for row in rows
        )
        return plan_of(12, "The Evening Sky", items, None)

    monkeypatch.setattr(onair, "make_plan", plan)
    monkeypatch.setattr(onair, "layer_png", lambda *_: png(64, 36, shade=200))
    with served(application(config)) as url, chromium() as browser:
        page = browser.new_page(base_url=url)
        page.goto("/air/12")
        page.keyboard.press("ArrowRight")
        sync_api.expect(page.locator("canvas.shown")).to_have_count(1)
        withdrawals.erase(storage, Media(config.data_dir), letter, [ann], "Ada", NOW)
        sync_api.expect(page.locator("canvas")).to_have_count(0, timeout=3_000)
