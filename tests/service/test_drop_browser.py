"""Dropping and pasting pictures at the desk in a real browser, on a narrow screen. Needs Playwright and Chromium."""

from __future__ import annotations

from datetime import UTC, datetime

import fakes
from browsers import chromium, listen_to, needs_chromium, served, sync_api

from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store.submissions import each_submission
from moondesk.service.web.desk.app import create_app

HANDLE = "@moon_月.watcher_99"


@needs_chromium
def test_dropping_and_pasting_in_a_browser(config, storage, media):
    with served(create_app(config)) as url, chromium() as browser:
        page = browser.new_page(viewport={"width": 360, "height": 780})
        complaints = []
        listen_to(page, complaints)
        page.set_default_timeout(30_000)
        page.goto(url)
        page.get_by_role("link", name="Add pictures").click()
        page.wait_for_load_state()
        page.evaluate(
            """(bytes) => {
            const carrier = (name, extra) => {
                const made = new DataTransfer();
                made.items.add(new File([new Uint8Array([...bytes, extra])], name, { type: "image/png" }));
                return made;
            };
            document.dispatchEvent(new ClipboardEvent("paste", { clipboardData: carrier("image.png", 1) }));
            document.dispatchEvent(new DragEvent("drop", { dataTransfer: carrier("dropped.png", 2) }));
        }""",
            list(fakes.png()),
        )
        sync_api.expect(page.locator(".chosen li")).to_have_count(2)
        page.get_by_role("button", name="Take").click()
        sync_api.expect(page.locator("#name-complaint")).to_contain_text("type the handle")
        page.fill("#name", HANDLE)
        sync_api.expect(page.locator("#words")).to_be_hidden()
        page.select_option("#consent", "phone")
        page.fill("#words", "Yes, show it.")
        page.fill("#noted_by", "Ada")
        assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
        page.get_by_role("button", name="Take").click()
        sync_api.expect(page.get_by_role("heading", level=1)).to_have_text(f"2 pictures of {HANDLE}")
        sync_api.expect(page.get_by_role("status").first).to_contain_text("0 of 2 placed.")
        assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
        list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: datetime.now(UTC)))
        sync_api.expect(page.get_by_role("status").first).to_contain_text("All that could be used were placed.")
        sync_api.expect(page.locator(".card.sure")).to_have_count(2)  # it has shown them by itself
    assert complaints == []
    (listed,) = each_submission(storage)
    assert sorted(e.given_name.partition("-")[0] for e, _ in listed.pictures) == ["dropped.png", "image"]
