"""Set-up, log-in and settings in a real browser: without script, by keyboard, on a small screen."""

from __future__ import annotations

import shutil
import threading

import pytest
from desk_people import WORDS
from werkzeug.serving import make_server

from service.desk.app import create_app
from service.store.accounts import accounts

sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (extra: test)")

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on the path")


@pytest.fixture
def phone(config):
    """A page of 360 px without script, at a fresh desk."""
    server = make_server("127.0.0.1", 0, create_app(config), threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=[
            "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
            "--disable-component-update", "--disable-sync"])
        page = browser.new_context(viewport={"width": 360, "height": 740}, java_script_enabled=False,
                                   base_url=f"http://127.0.0.1:{server.server_port}").new_page()
        page.set_default_timeout(10_000)
        yield page
        browser.close()
    server.shutdown()
    server.server_close()
    thread.join()


def width(page) -> float:
    return max(box["x"] + box["width"] for box in (e.bounding_box() for e in page.locator("main *").all()) if box)


def test_from_the_set_up_to_the_log_out_by_keyboard(phone, storage):
    phone.goto("/")
    phone.get_by_role("link", name="set up").focus()
    phone.keyboard.press("Enter")
    phone.wait_for_url("**/setup")
    phone.get_by_label("Your name").focus()
    for text in ("Ada Brook", WORDS, "not the same"):
        phone.keyboard.type(text)
        phone.keyboard.press("Tab")
    phone.get_by_label("The password again").press("Enter")
    again = phone.get_by_label("The password again")
    assert again.get_attribute("aria-invalid") == "true"
    assert "not the same" in phone.locator("#again-complaint").inner_text()
    assert phone.get_by_label("Your name").input_value() == "Ada Brook"
    assert phone.get_by_label("Password", exact=True).input_value() == ""
    phone.get_by_label("Password", exact=True).fill(WORDS)
    again.fill(WORDS)
    again.press("Enter")
    phone.wait_for_url("**/")
    assert [a.name for a in accounts(storage)] == ["Ada Brook"]
    for path in ("/people", "/account", "/settings", "/editions", "/audit"):
        phone.goto(path)
        assert width(phone) <= 360, path
        assert phone.get_by_role("heading", level=1).count() == 1
    phone.get_by_role("button", name="Log out").press("Enter")
    phone.wait_for_url("**/login**")
    assert "You are logged out." in phone.get_by_role("status").inner_text()
    phone.goto("/editions")
    phone.wait_for_url("**/login?next=/editions")
    phone.get_by_label("Name").fill("ada brook")
    phone.get_by_label("Password").fill("wrong")
    phone.get_by_label("Password").press("Enter")
    assert "do not belong together" in phone.get_by_role("alert").inner_text()
    assert width(phone) <= 360
    phone.get_by_label("Password").fill(WORDS)
    phone.get_by_label("Password").press("Enter")
    phone.wait_for_url("**/editions")
