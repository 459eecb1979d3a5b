"""Set-up, log-in and settings in a real browser: without script, by keyboard, on a small screen."""

from __future__ import annotations

import pytest
from browsers import chromium, needs_chromium, served, sync_api
from desk_people import WORDS

from moondesk.service.store.accounts import accounts
from moondesk.service.web.desk.app import create_app

pytestmark = needs_chromium


@pytest.fixture
def phone(config):
    """A page of 360 px without script, at a fresh desk."""
    with served(create_app(config)) as url, chromium() as browser:
        page = browser.new_context(
            viewport={"width": 360, "height": 740}, java_script_enabled=False, base_url=url
        ).new_page()
        page.set_default_timeout(30_000)
        yield page


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
    sync_api.expect(again).to_have_attribute("aria-invalid", "true")
    sync_api.expect(phone.locator("#again-complaint")).to_contain_text("not the same")
    sync_api.expect(phone.get_by_label("Your name")).to_have_value("Ada Brook")
    sync_api.expect(phone.get_by_label("Password", exact=True)).to_have_value("")
    phone.get_by_label("Password", exact=True).fill(WORDS)
    again.fill(WORDS)
    again.press("Enter")
    phone.wait_for_url("**/")
    assert [a.name for a in accounts(storage)] == ["Ada Brook"]
    for path in ("/people", "/account", "/settings", "/editions", "/audit"):
        phone.goto(path, wait_until="domcontentloaded")  # the samples of looks are drawn meanwhile
        assert width(phone) <= 360, path
        sync_api.expect(phone.get_by_role("heading", level=1)).to_have_count(1)
    phone.get_by_role("button", name="Log out").press("Enter")
    phone.wait_for_url("**/login**")
    sync_api.expect(phone.get_by_role("status")).to_contain_text("You are logged out.")
    phone.go_back()  # to /audit, which no browser may have kept
    phone.wait_for_url("**/login?next=/audit")
    phone.goto("/editions")
    phone.wait_for_url("**/login?next=/editions")
    phone.get_by_label("Name").fill("ada brook")
    phone.get_by_label("Password").fill("wrong")
    phone.get_by_label("Password").press("Enter")
    sync_api.expect(phone.get_by_role("alert")).to_contain_text("do not belong together")
    assert width(phone) <= 360
    phone.get_by_label("Password").fill(WORDS)
    phone.get_by_label("Password").press("Enter")
    phone.wait_for_url("**/editions")
