"""The page on air and the presenter's window in a real browser: all steps, keys, the desk stopped in the middle.

The layers are plain colours made here, so that what stands on air can be read off the screen's pixels.
"""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime

import numpy as np
import pytest
from browsers import chromium, needs_chromium, served, sync_api
from fakes import add_edition
from PIL import Image
from waitress import create_server

from moondesk.service.programme.air_plan import AirItem, AirNote, PlannedLayer, plan_of
from moondesk.service.store.air import find_link, make_link
from moondesk.service.store.records import EditionPlan
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.onair import onair

pytestmark = needs_chromium

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
#: Of each layer: colour and the part of the frame that it covers (left, top, right, bottom; shares).
LAYERS = {
    "picture": ("Picture", "picture", True, (90, 90, 90), (0, 0, 1, 1)),
    "terminator": ("Terminator", "terminator", False, (200, 0, 0), (0.1, 0.1, 0.2, 0.9)),
    "feature-1": ("Copernicus", "feature", False, (0, 200, 0), (0.3, 0.1, 0.4, 0.9)),
    "credit": ("Credit", "credit", False, (0, 0, 200), (0.5, 0.1, 0.6, 0.9)),
}


def item(number, sender):
    layers = tuple(
        PlannedLayer(name=name, title=title, kind=kind, base=base, url=f"{number}/{name}/1")
        for name, (title, kind, base, _, _) in LAYERS.items()
    )
    return AirItem(
        story="",
        id=number,
        place=number,
        sender=sender,
        credit=f"{sender} from Graz",
        pronunciation=f"say {sender}",
        note="",
        seconds=60,
        layers=layers,
        stops=(),
        notes=(AirNote("Copernicus, say: ko-PER-ni-kus", "Copernicus", (f"Copernicus as {sender} saw it.",)),),
    )


def drawn(item_id, name):
    """Each picture in a grey of its own."""
    _, _, base, colour, (left, top, right, bottom) = LAYERS[name]
    frame = np.zeros((180, 320, 4), np.uint8)
    colour = tuple(c + 20 * item_id for c in colour) if base else colour
    frame[int(180 * top) : int(180 * bottom), int(320 * left) : int(320 * right)] = (*colour, 255)
    out = io.BytesIO()
    Image.fromarray(frame).save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def rundown(monkeypatch):
    """What stands in it; a test may change it."""
    told = {"items": [item(1, "Ilse"), item(2, "Bo"), item(3, "Cy")], "spare": 3}
    monkeypatch.setattr(
        onair,
        "make_plan",
        lambda *_: plan_of(12, "The Evening Sky", tuple(told["items"]), told["spare"], (item(4, "Dora"),)),
    )
    monkeypatch.setattr(onair, "layer_png", lambda *asked: drawn(asked[2], asked[3]))
    return told


@pytest.fixture
def app(config, storage, rundown):
    add_edition(storage, EditionPlan(number=12))
    return create_app(config, now=lambda: NOW)


def colours(page):
    """What is seen: of the frame's middle row, the picture's grey and the layers that stand on it."""
    page.wait_for_timeout(450)
    shot = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB")).astype(int)
    row = shot[shot.shape[0] // 2]
    at = {
        name: row[int(row.shape[0] * (0.5 * (box[0] + box[2]) if name != "picture" else 0.9))]
        for name, (_, _, _, _, box) in LAYERS.items()
    }
    shown = [
        name for name, (_, _, base, colour, _) in LAYERS.items() if not base and np.abs(at[name] - colour).max() < 12
    ]
    grey = int(at["picture"][0])
    return (grey - 90) // 20 if grey > 80 else 0, shown


def ready(page):
    """All of the twelve layers are there."""
    page.locator("body[data-loaded='12 of 12']").wait_for(state="attached", timeout=30_000)


def shows(page, told):
    page.locator(f"body[data-onair='{told}']").wait_for(state="attached", timeout=30_000)


def test_all_steps_by_keys_and_a_clicker(app):
    with served(app) as url, chromium() as browser:
        page = browser.new_context(viewport={"width": 1280, "height": 720}).new_page()
        complaints = []
        page.on("console", lambda m: complaints.append(m.text))
        page.on("pageerror", lambda e: complaints.append(str(e)))
        page.goto(f"{url}/air/12")
        ready(page)
        assert colours(page) == (1, [])
        seen = []
        for key in ("ArrowRight", "PageDown", " ", "Enter"):
            page.keyboard.press(key)
            seen.append(colours(page))
        assert seen == [
            (1, ["terminator"]),
            (1, ["terminator", "feature-1"]),
            (1, ["terminator", "feature-1", "credit"]),
            (2, []),
        ]
        page.keyboard.press("PageUp")
        assert colours(page) == (1, ["terminator", "feature-1", "credit"])
        # no words over the output: those of the page are for readers of screens alone
        sync_api.expect(page.locator("body :not(script, .hidden, noscript)").filter(has_text="e")).to_have_count(0)
        page.keyboard.press("ArrowDown")
        page.keyboard.press("ArrowDown")
        assert colours(page) == (3, [])
        page.keyboard.press("b")
        assert colours(page) == (0, [])
        page.keyboard.press("b")
        assert colours(page) == (3, [])
        page.keyboard.press("ArrowUp")
        page.keyboard.press("h")  # held: what follows waits
        page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowRight")
        assert colours(page) == (2, [])
        page.keyboard.press("h")
        assert colours(page) == (2, ["terminator", "feature-1"])
        page.keyboard.press("p")
        assert colours(page) == (3, ["credit"])
        page.keyboard.press("ArrowRight")  # back to the rundown, where it stood
        assert colours(page) == (2, ["terminator", "feature-1"])
        for _ in range(20):
            page.keyboard.press("ArrowRight")
        assert colours(page) == (3, ["terminator", "feature-1", "credit"])
        assert not complaints


def test_the_presenters_window_drives_the_page_on_air(app):
    with served(app) as url, chromium() as browser:
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        on_air, window = context.new_page(), context.new_page()
        on_air.goto(f"{url}/air/12")
        window.goto(f"{url}/air/12/presenter")
        ready(on_air)
        window.get_by_text("Copernicus as Ilse saw it.").wait_for()
        assert "say Ilse" in window.inner_text("#notes")
        window.get_by_role("button", name="Next", exact=True).click()
        shows(on_air, "1: picture terminator")
        assert window.inner_text("#next-title") == "Ilse, Copernicus"
        window.get_by_role("button", name="Bo", exact=True).click()
        shows(on_air, "2: picture")
        window.get_by_text("Copernicus as Bo saw it.").wait_for()
        on_air.keyboard.press("b")
        window.get_by_role("button", name="Blank", pressed=True).wait_for()
        assert re.fullmatch(r"\d\d:\d\d:\d\d", window.inner_text("#clock"))


def test_two_machines_follow_each_other_by_way_of_the_desk(app):
    """Two contexts share nothing but the desk."""
    with served(app) as url, chromium() as browser:
        on_air, window = browser.new_context().new_page(), browser.new_context().new_page()
        on_air.goto(f"{url}/air/12")
        window.goto(f"{url}/air/12/presenter")
        ready(on_air)
        window.get_by_text("Copernicus as Ilse saw it.").wait_for()
        window.keyboard.press("ArrowRight")
        shows(on_air, "1: picture terminator")
        on_air.keyboard.press("ArrowDown")
        window.get_by_text("Copernicus as Bo saw it.").wait_for(timeout=30_000)


def test_the_rundown_goes_on_when_the_desk_stops_and_takes_up_again(app, rundown):
    import threading

    def serve(port):
        server = create_server(app, host="127.0.0.1", port=port, threads=4)
        thread = threading.Thread(target=server.run)
        thread.start()
        return server, thread

    def stop(server, thread):
        def close():
            for channel in list(server.active_channels.values()):
                channel.handle_close()
            server.close()

        server.trigger.pull_trigger(close)
        thread.join()
        server.task_dispatcher.shutdown()

    server, thread = serve(0)
    port = server.effective_port
    with chromium() as browser:
        context = browser.new_context(viewport={"width": 1280, "height": 720})
        page, window = context.new_page(), context.new_page()
        page.goto(f"http://127.0.0.1:{port}/air/12")
        window.goto(f"http://127.0.0.1:{port}/air/12/presenter")
        ready(page)
        page.bring_to_front()
        page.keyboard.press("ArrowRight")
        stop(server, thread)
        page.locator("body[data-desk=silent]").wait_for(state="attached", timeout=30_000)
        expected = [(1, ["terminator", "feature-1"]), (1, ["terminator", "feature-1", "credit"])]
        expected += [
            (k, shown)
            for k in (2, 3)
            for shown in ([], ["terminator"], ["terminator", "feature-1"], ["terminator", "feature-1", "credit"])
        ]
        seen = []
        for _ in expected:
            page.keyboard.press("ArrowRight")
            seen.append(colours(page))
        assert seen == expected
        window.bring_to_front()
        window.get_by_text("The desk does not answer").wait_for()
        window.keyboard.press("ArrowUp")  # the other window still drives it
        shows(page, "2: picture")
        rundown["items"] = [*rundown["items"][:2], item(4, "Dora")]
        server, thread = serve(port)
        try:
            page.locator("body[data-desk=answers]").wait_for(state="attached", timeout=30_000)
            # what was stepped meanwhile stands at the desk, and what was picked meanwhile is here
            page.bring_to_front()
            page.keyboard.press("ArrowDown")
            shows(page, "4: picture")
            assert colours(page) == (4, [])
            told = context.request.get(f"http://127.0.0.1:{port}/air/12/state").json()
            assert told["state"]["step"] == {"item": 4, "count": 0}
        finally:
            stop(server, thread)


def test_a_source_without_log_in_shows_on_a_clear_ground_and_changes_nothing(app, storage):
    secret = make_link(storage, "studio mixer", "Ada", NOW)
    assert find_link(storage, secret)
    with served(app) as url, chromium() as browser:
        page = browser.new_context(viewport={"width": 640, "height": 360}).new_page()
        page.goto(f"{url}/onair/{secret}?ground=none")
        ready(page)
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgba(0, 0, 0, 0)"
        page.keyboard.press("b")
        shot = np.asarray(Image.open(io.BytesIO(page.screenshot(omit_background=True))).convert("RGBA"))
        page.wait_for_timeout(500)
        shot = np.asarray(Image.open(io.BytesIO(page.screenshot(omit_background=True))).convert("RGBA"))
        assert shot[..., 3].max() == 0  # blank: nothing at all
        told = page.evaluate("fetch(document.body.dataset.plan).then((a) => a.json())")
        assert "Copernicus as" not in str(told)  # the presenter's notes stay at the desk
        assert page.request.get(f"{url}/air/12/state").json()["at"] == 0
        assert page.request.get(f"{url}/onair/{'x' * 32}").status == 404
