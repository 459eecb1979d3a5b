"""The page on air and the presenter's window in a real browser: moves between views, the spotlight, the pointer, fill and
key, the first opening, and what is taken back while it is shown."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from browsers import chromium, needs_chromium, served, sync_api
from fakes import add_edition
from PIL import Image
from test_air_control import item

from moondesk.service.programme.air_plan import MAKING, AirNote, Move, Other, PlannedLayer, PlannedView, plan_of
from moondesk.service.store.air import make_link
from moondesk.service.store.records import EditionPlan
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.onair import onair

pytestmark = needs_chromium

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
#: Of each layer: colour, and the part of the frame that it covers (left, top, right, bottom; shares).
LAYERS = {
    "far": ("picture", "Picture", True, (60, 60, 60, 255), (0, 0, 1, 1)),
    "near": ("picture", "Picture", True, (140, 140, 140, 255), (0, 0, 1, 1)),
    "tycho-lit": ("spotlight", "Tycho", False, (0, 0, 0, 255), (0.0, 0.0, 0.1, 1)),
    "tycho": ("feature", "Tycho", False, (0, 200, 0, 255), (0.2, 0.0, 0.3, 1)),
    "seas": ("seas", "Seas", False, (0, 0, 220, 128), (0.4, 0.0, 0.5, 1)),
    "credit": ("credit", "Credit", True, (220, 0, 0, 255), (0.6, 0.0, 0.7, 1)),
    "other": ("against", "Wipe to Bo", False, (200, 200, 40, 255), (0, 0, 1, 1)),
}
BO = Other(7, "Bo Ek", "Bo Ek")


def layer(number, name):
    kind, title, base, _, _ = LAYERS[name]
    return PlannedLayer(name=name, title=title, kind=kind, base=base, url=f"{number}/{name}/1")


def with_views(number):
    """The half of it twice as large after the first view; turned over after the second."""
    grown = (2.0, 0.0, 0.0, 2.0, -160.0, -90.0)
    turned = (-1.0, 0.0, 0.0, 1.0, 320.0, 0.0)
    steps = [(0.0, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)), (0.5, (0.02, 0.0, 0.0, 1.0, 156.8, 0.0)), (0.5, (-0.02, 0.0, 0.0, 1.0, 163.2, 0.0)), (1.0, turned)]  # fmt: skip
    near = tuple(layer(number, name) for name in ("near", "tycho-lit", "tycho", "seas", "credit"))
    return replace(
        item(number),
        layers=tuple(layer(number, name) for name in ("far", "tycho-lit", "tycho", "seas", "credit")),
        views=(
            PlannedView(title="Close-up", layers=near, move=Move(matrix=grown, seconds=0.8)),
            PlannedView(title="Turned", layers=near, move=Move(matrix=turned, seconds=0.8, path=tuple(steps), flips=True)),
            PlannedView(title="Against Bo Ek", layers=(near[0], layer(number, "other"), near[-1]), other=BO),
        ),
    )  # fmt: skip


def drawn(_studio, _edition, _item, name, _mark):
    *_, colour, (left, top, right, bottom) = LAYERS[name]
    pixels = np.zeros((180, 320, 4), np.uint8)
    pixels[int(180 * top) : int(180 * bottom), int(320 * left) : int(320 * right)] = colour
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def rundown(monkeypatch):
    told = {"items": [with_views(1), with_views(2)], "stopped": []}
    monkeypatch.setattr(onair, "make_plan", lambda *_: plan_of(12, "The Evening Sky", tuple(told["items"]), None))
    monkeypatch.setattr(onair, "layer_png", drawn)
    monkeypatch.setattr(onair, "stopped_items", lambda *_: told["stopped"])
    return told


@pytest.fixture
def app(config, storage, rundown):
    add_edition(storage, EditionPlan(number=12))
    return create_app(config, now=lambda: NOW)


@pytest.fixture
def browser():
    with chromium() as opened:
        yield opened


def opened(browser, address, width=640, height=360):
    page = browser.new_context(viewport={"width": width, "height": height}).new_page()
    page.complaints = []
    page.on("console", lambda m: page.complaints.append(m.text))
    page.on("pageerror", lambda e: page.complaints.append(str(e)))
    page.goto(address)
    return page


def ready(page):
    page.locator("body[data-loaded='14 of 14']").wait_for(state="attached", timeout=30_000)


def seen(page, *shares):
    page.wait_for_timeout(450)
    shot = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB")).astype(int)
    return [shot[shot.shape[0] // 2, int(shot.shape[1] * share)].tolist() for share in shares]


def near(colour, expected):
    return np.abs(np.subtract(colour, expected)).max() <= 4


def test_views_are_led_into_one_another_and_names_come_after(app, browser):
    with served(app) as url:
        page = opened(browser, f"{url}/air/12")
        ready(page)
        page.keyboard.press("a")
        picture, green, red = seen(page, 0.9, 0.25, 0.65)
        assert near(picture, (60, 60, 60))
        assert near(green, (0, 200, 0))
        assert near(red, (220, 0, 0))
        page.keyboard.press("ArrowRight")
        page.locator("body[data-moving]").wait_for(state="attached")
        ways = page.evaluate(
            "[...document.querySelectorAll('.plane canvas')].flatMap((c) => c.getAnimations())"
            ".filter((a) => a.effect.getKeyframes().some((f) => f.transform)).length"
        )
        assert ways == 2  # both pictures, on the compositor
        page.locator("body:not([data-moving])").wait_for(state="attached")
        picture, green, red = seen(page, 0.9, 0.25, 0.65)
        assert near(picture, (140, 140, 140))
        assert near(green, (140, 140, 140))
        assert near(red, (220, 0, 0))
        page.keyboard.press("ArrowLeft")  # back the same way
        page.locator("body[data-moving]").wait_for(state="attached")
        page.keyboard.press("ArrowDown")  # who steps on does not wait for it
        page.locator("body[data-onair^='2:']").wait_for(state="attached")
        assert near(seen(page, 0.9)[0], (60, 60, 60))
        page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowRight")
        for _ in range(2):
            page.keyboard.press("ArrowRight")
        page.locator("body:not([data-moving])").wait_for(state="attached")
        sync_api.expect(page.locator(".plane canvas.led")).to_have_count(0)
        assert not page.complaints


def test_a_spotlight_and_layers_by_number(app, browser):
    with served(app) as url:
        page = opened(browser, f"{url}/air/12")
        ready(page)
        page.keyboard.press("2")
        assert near(seen(page, 0.45)[0], (30, 30, 140))
        page.keyboard.press("s")
        dark, green, blue = seen(page, 0.05, 0.25, 0.45)
        assert near(dark, (0, 0, 0))
        assert near(green, (0, 200, 0))
        assert near(blue, (60, 60, 60))
        page.keyboard.press("s")
        page.keyboard.press("0")
        assert near(seen(page, 0.45)[0], (60, 60, 60))


def test_one_evening_is_wiped_over_another_and_goes_when_either_is_taken_back(app, browser, rundown):
    with served(app) as url:
        window = opened(browser, f"{url}/air/12/presenter", 1280, 800)
        page = window.context.new_page()
        page.set_viewport_size({"width": 640, "height": 360})
        page.goto(f"{url}/air/12")
        ready(page)
        titles = window.locator("#steps .head, #steps .view").all_text_contents()[:4]
        assert titles == ["Sender 1", "Close-up", "Turned", "Against Bo Ek"]
        window.locator("#steps button", has_text="Against Bo Ek").first.click()
        sync_api.expect(window.locator("#notes").get_by_text("Beside it: Bo Ek")).to_have_count(1)
        for share in ("20", "40"):  # as a hand draws it
            window.get_by_label("Wipe Sender 1 to Bo Ek").fill(share)
        left, right, credit = seen(page, 0.5, 0.8, 0.65)
        assert near(left, (140, 140, 140))
        assert near(right, (200, 200, 40))
        assert near(credit, (220, 0, 0))
        for _ in range(2):
            page.keyboard.press("+")
        assert near(seen(page, 0.45)[0], (200, 200, 40))
        page.keyboard.press("x")
        page.locator(".plane.in-turn").wait_for(state="attached")
        rundown["stopped"] = [7]  # the second one's sender: neither stays
        page.locator(".plane canvas").first.wait_for(state="detached", timeout=5_000)
        rundown["items"][0] = replace(rundown["items"][0], views=rundown["items"][0].views[:2])
        page.locator("body[data-onair='1: near credit'] .plane canvas.shown").first.wait_for()
        assert near(seen(page, 0.9)[0], (140, 140, 140))


def test_the_pointer_follows_the_hand_and_stays_on_the_picture(app, browser, storage):
    secret = make_link(storage, "mixer", "Ada", NOW)
    with served(app) as url:
        window = opened(browser, f"{url}/air/12/presenter", 1280, 800)
        on_air = window.context.new_page()
        on_air.set_viewport_size({"width": 640, "height": 360})
        on_air.goto(f"{url}/air/12")
        elsewhere = opened(browser, f"{url}/onair/{secret}")  # shares nothing with them but the desk
        ready(on_air)
        ready(elsewhere)
        window.bring_to_front()
        box = window.locator("#now .plane").bounding_box()

        def rings(x, y):
            window.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"])
            return [
                page.locator(".ring.shown").evaluate(
                    "async (e) => { await Promise.allSettled(e.getAnimations().map((a) => a.finished));"
                    " const r = e.getBoundingClientRect(); return [r.x / innerWidth, r.y / innerHeight]; }"
                )
                for page in (on_air, elsewhere)
            ]

        window.wait_for_timeout(500)
        rings(0.4, 0.4)
        window.wait_for_timeout(200)
        for found in rings(0.5, 0.25):
            assert np.abs(np.subtract(found, (0.5, 0.25))).max() < 0.12
        window.wait_for_timeout(150)
        window.mouse.move(5, 5)
        for page in (on_air, elsewhere):
            page.locator(".ring:not(.shown)").wait_for(state="attached")
        window.bring_to_front()
        assert Axe().run(window).response["violations"] == []
        assert not window.complaints


def test_a_finger_points_and_lifts(app, browser):
    with served(app) as url:
        context = browser.new_context(viewport={"width": 1280, "height": 800}, has_touch=True)
        on_air, window = context.new_page(), context.new_page()
        on_air.goto(f"{url}/air/12")
        window.goto(f"{url}/air/12/presenter")
        ready(on_air)
        window.wait_for_timeout(500)
        box = window.locator("#now .plane").bounding_box()
        touch = context.new_cdp_session(window)
        at = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 4}
        touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [at]})
        window.locator("#now .ring.shown").wait_for(state="attached")
        on_air.locator(".ring.shown").wait_for(state="attached")
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        for page in (window, on_air):
            page.locator(".ring.shown").wait_for(state="detached", timeout=1500)  # sooner than at rest


def test_the_end_of_what_is_said_stands_clear_of_the_edge(app, browser, rundown):
    words = ("Its walls are worn by later impacts, and the light falls in from the east this evening.",) * 2
    notes = tuple(AirNote(head, "", words) for head in ("Tycho", "Clavius", "Copernicus", "Plato", "Maginus"))
    rundown["items"][0] = replace(rundown["items"][0], notes=notes)
    with served(app) as url:
        window = opened(browser, f"{url}/air/12/presenter", 1440, 900)
        last = window.locator("#notes h3", has_text="Maginus")
        last.wait_for(state="attached")
        assert last.evaluate("(e) => getComputedStyle(e).fontFamily === getComputedStyle(document.body).fontFamily")
        free = window.locator("#notes").evaluate(
            "(e) => { e.scrollTo({top: e.scrollHeight, behavior: 'instant'});"
            " return e.getBoundingClientRect().bottom - e.lastElementChild.getBoundingClientRect().bottom; }"
        )
        assert free >= 38  # the fading part
        assert not window.complaints


def test_each_part_alone_as_fill_and_as_key(app, browser, storage):
    secret = make_link(storage, "mixer", "Ada", NOW)
    with served(app) as url:
        app.test_client().get("/air/12/state")
        key = opened(browser, f"{url}/onair/{secret}?show=names&signal=key")
        fill = opened(browser, f"{url}/onair/{secret}?show=names&signal=fill")
        credit = opened(browser, f"{url}/onair/{secret}?show=credit&ground=none")
        on_air = opened(browser, f"{url}/air/12")
        ready(on_air)
        on_air.keyboard.press("a")
        on_air.wait_for_timeout(1500)
        assert [c[0] for c in seen(key, 0.05, 0.25, 0.65)] == [0, 255, 0]
        assert near(seen(key, 0.45)[0], (128, 128, 128))
        assert near(seen(fill, 0.45)[0], (0, 0, 110))
        shot = np.asarray(Image.open(io.BytesIO(credit.screenshot(omit_background=True))).convert("RGBA"))
        assert shot[180, int(0.65 * 640)].tolist() == [220, 0, 0, 255]
        assert shot[180, int(0.25 * 640), 3] == 0


def test_the_first_opening_says_what_is_made_and_the_output_says_nothing(app, browser, rundown):
    waiting = [replace(item(k), layers=(), stops=(MAKING,)) for k in (1, 2, 3)]
    ready_items, rundown["items"] = rundown["items"], waiting
    with served(app) as url:
        window = opened(browser, f"{url}/air/12/presenter", 1280, 720)
        on_air = window.context.new_page()
        on_air.goto(f"{url}/air/12")
        window.get_by_text("Making 3 frames").wait_for()
        sync_api.expect(on_air.locator("body :not(script, .hidden, noscript)").filter(has_text="e")).to_have_count(0)
        assert near(seen(on_air, 0.5)[0], (6, 8, 12))  # the theme's ground
        rundown["items"] = [ready_items[0], *waiting[1:]]
        window.get_by_text("Making 2 frames").wait_for()
        assert not window.locator("#left-out").is_visible()
        on_air.locator("body[data-onair^='1:']").wait_for(state="attached")
        on_air.locator("canvas.shown").first.wait_for()
        assert near(seen(on_air, 0.9)[0], (60, 60, 60))
        # all that is pressed while it is live stands in a low window without scrolling, beside what is said
        low = max(
            b["y"] + b["height"] for b in (x.bounding_box() for x in window.locator(".live button:visible").all())
        )
        assert low <= 720
        assert window.locator("#notes").bounding_box()["y"] < 200


def test_what_is_taken_back_leaves_the_output(app, browser, rundown):
    with served(app) as url:
        page = opened(browser, f"{url}/air/12")
        ready(page)
        page.locator("body[data-onair^='1:']").wait_for(state="attached")
        rundown["stopped"] = [1]  # the plan that the page has still names it
        page.locator(".plane canvas").first.wait_for(state="detached", timeout=5_000)
        rundown["items"] = rundown["items"][1:]
        page.locator("body[data-onair^='2:']").wait_for(state="attached")
        assert near(seen(page, 0.9)[0], (60, 60, 60))
