"""The upload page in a real browser: on a phone, with and without script, by keyboard alone, on a broken line."""

from __future__ import annotations

import threading
from datetime import UTC, datetime

import fakes
import pytest
from browsers import chromium, needs_chromium, sync_api

from moondesk.service.settings.config import CONFIG_NAME
from moondesk.service.store.submissions import each_submission
from moondesk.service.web.public.app import create_public_app, public_server

pytestmark = needs_chromium

NOW = datetime(2026, 3, 25, 21, 0, tzinfo=UTC)
PHONE = {"width": 360, "height": 780}
#: Complaints that the tests themselves ask for.
ASKED_FOR = ("status of 422", "status of 413", "status of 400", "net::ERR_FAILED")


@pytest.fixture(scope="module")
def browser():
    with chromium() as started:
        yield started


@pytest.fixture
def url(config):
    config.data_dir.mkdir()
    (config.data_dir / CONFIG_NAME).write_text("[public]\nform_bytes = 2_000_000\n")
    server = public_server(create_public_app(config, lambda: NOW), "127.0.0.1", 0)
    over = threading.Event()

    def run():
        while not over.is_set():
            server.asyncore.loop(timeout=0.02, map=server._map, count=1)

    thread = threading.Thread(target=run)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}/"
    over.set()
    thread.join(5)
    server.task_dispatcher.shutdown()
    for channel in server.active_channels.copy().values():
        channel.close()
    server.close()


@pytest.fixture
def open_page(browser, url):
    complaints, contexts = [], []

    def opened(script=True, size=PHONE, **more):
        context = browser.new_context(viewport=size, java_script_enabled=script, **more)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda m: complaints.append(m.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.set_default_timeout(30_000)
        page.goto(url)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not [c for c in complaints if not any(known in c for known in ASKED_FOR)]


def picture(k: int = 0, size: int = 0) -> dict:
    return {"name": f"moon {k}.png", "mimeType": "image/png", "buffer": fakes.png(shade=40 + k) + bytes(size)}


def received(storage):
    return [(s.submission.arrival.credit_line, len(s.pictures)) for s in each_submission(storage)]


@pytest.mark.parametrize("script", [True, False])
def test_a_phone_sends_two_pictures_and_gets_its_receipt(open_page, storage, script):
    page = open_page(script)
    page.set_input_files("#pictures", [picture(1), picture(2)])
    page.fill("#name", "Ilse from Vienna")
    page.fill("#taken", "2026-03-25T20:04")
    page.check("#agreed")
    page.get_by_role("button", name="Send").click()
    sync_api.expect(page.get_by_role("heading", level=1)).to_have_text("We have it. Thank you!")
    sync_api.expect(page.locator(".progress > li")).to_have_count(2)
    assert received(storage) == [("Ilse from Vienna", 2)]
    (listed,) = each_submission(storage)
    assert listed.submission.arrival.taken_utc == datetime(2026, 3, 25, 19, 4, tzinfo=UTC)

    page.get_by_role("heading", name="Take the pictures back").click()
    page.check("#sure")
    page.get_by_role("button", name="Take them back").click()
    sync_api.expect(page.get_by_role("heading", level=1)).to_have_text("Taken back")
    assert received(storage) == []


def test_by_keyboard_alone(open_page, storage):
    """In the order of the page, and nothing that has the focus is out of sight or too small for a thumb."""
    page = open_page()
    page.set_input_files("#pictures", [picture()])  # the system's own dialogue is not the page's
    reached = []
    for _ in range(40):
        page.keyboard.press("Tab")
        focused = page.evaluate("""() => { const e = document.activeElement, b = e.getBoundingClientRect();
            return [e.id || e.ariaLabel || e.textContent.trim().slice(0, 20), b.width, b.height,
                    getComputedStyle(e).outlineStyle !== "none" || !!e.closest(".drop")]; }""")
        name, width, height, outlined = focused
        if reached and name == reached[-1]:
            continue  # parts of a date
        reached.append(name)
        assert width > 20, name
        assert height >= 24, name  # WCAG 2.2, 2.5.8
        assert outlined, name
        if name == "name":
            page.keyboard.type("Bo")
        elif name in ("agreed", "minor"):
            page.keyboard.press("Space")
        elif name == "guardian":
            page.keyboard.type("Ada")
        elif name == "guardian_agreed":
            page.keyboard.press("Space")
        elif name == "Send":
            page.keyboard.press("Enter")
            break
    assert reached == [
        "Skip to the content",
        "The Evening Sky",
        "pictures",
        "Leave out moon 0.png",
        "name",
        "address",
        "place",
        "taken",
        "zone",
        "equipment",
        "story",
        "agreed",
        "minor",
        "guardian",
        "guardian_agreed",
        "Send",
    ]
    sync_api.expect(page.get_by_role("heading", level=1)).to_have_text("We have it. Thank you!")
    assert received(storage) == [("Bo", 1)]


@pytest.mark.parametrize("size", [PHONE, {"width": 768, "height": 900}, {"width": 1280, "height": 900}])
def test_nothing_is_wider_than_the_window(open_page, size):
    page = open_page(size=size)
    long_name = "a-rather-long-name-that-nobody-would-break" * 3 + ".png"
    page.set_input_files("#pictures", [{**picture(), "name": long_name}])
    page.check("#minor")
    page.get_by_role("button", name="Send").click()
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert page.evaluate(wide) <= 0
    page.check("#agreed")
    page.uncheck("#minor")
    page.get_by_role("button", name="Send").click()
    page.wait_for_url("**/receipt/**")
    assert page.evaluate(wide) <= 0


def test_at_twice_the_text_size_it_still_fits(open_page):
    page = open_page(size={"width": 640, "height": 900})
    page.set_viewport_size({"width": 320, "height": 450})  # 640 px at 200 %, WCAG 2.2, 1.4.10
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def test_what_is_missing_is_told_in_place_and_the_focus_goes_there(open_page, storage):
    page = open_page()
    page.fill("#name", "Ilse")
    page.get_by_role("button", name="Send").click()
    sync_api.expect(page.locator("#pictures-complaint")).to_have_text("Please choose at least one picture.")
    sync_api.expect(page.locator("#pictures")).to_be_focused()
    sync_api.expect(page.locator("#pictures")).to_have_attribute("aria-invalid", "true")
    page.set_input_files("#pictures", [picture()])
    page.check("#agreed")
    page.fill("#address", "ilse")  # what only the server complains about
    page.get_by_role("button", name="Send").click()
    sync_api.expect(page.locator("#address-complaint")).to_contain_text("no complete mail address")
    page.fill("#address", "")
    page.get_by_role("button", name="Send").click()
    page.wait_for_url("**/receipt/**")
    assert received(storage) == [("Ilse", 1)]


def test_pictures_are_added_one_after_the_other_and_left_out_again(open_page, storage):
    page = open_page()
    for k in range(3):
        page.set_input_files("#pictures", [picture(k)])
    sync_api.expect(page.locator(".chosen li")).to_have_count(3)
    page.get_by_role("button", name="Leave out moon 1.png").click()
    sync_api.expect(page.locator(".chosen li")).to_have_count(2)
    page.evaluate("""() => {
        const carrier = new DataTransfer();
        carrier.items.add(new File([new Uint8Array([1, 2, 3])], "image.png", { type: "image/png" }));
        document.dispatchEvent(new ClipboardEvent("paste", { clipboardData: carrier }));
        document.dispatchEvent(new DragEvent("drop", { dataTransfer: carrier, cancelable: true }));
    }""")
    sync_api.expect(page.locator(".chosen li")).to_have_count(4)
    for name in ("image-", "image.png"):
        page.locator(".chosen li", has_text=name).get_by_role("button").first.click()
    page.check("#agreed")
    page.get_by_role("button", name="Send").click()
    page.wait_for_url("**/receipt/**")
    (listed,) = each_submission(storage)
    assert [e.given_name for e, _ in listed.pictures] == ["moon 0.png", "moon 2.png"]


def test_a_broken_line_loses_nothing_and_a_second_press_sends_it(open_page, storage):
    page = open_page()
    page.set_input_files("#pictures", [picture(0, 300_000)])
    page.fill("#equipment", "6 inch Dobsonian")
    page.check("#agreed")
    page.route("**/*", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    page.get_by_role("button", name="Send").click()
    sync_api.expect(page.locator(".notice")).to_contain_text("Everything is still here")
    sync_api.expect(page.locator(".notice")).to_be_focused()
    sync_api.expect(page.locator(".chosen li")).to_have_count(1)
    page.unroute("**/*")
    page.get_by_role("button", name="Send").click()
    page.wait_for_url("**/receipt/**")
    (listed,) = each_submission(storage)
    assert listed.submission.arrival.equipment == "6 inch Dobsonian"


def test_a_page_that_was_thrown_away_has_its_words_again(open_page):
    page = open_page()
    page.fill("#equipment", "6 inch Dobsonian")
    page.check("#agreed")
    page.reload()
    sync_api.expect(page.locator("#equipment")).to_have_value("6 inch Dobsonian")
    assert not page.is_checked("#agreed")  # a consent is given anew


def test_a_stale_page_sends_all_the_same(open_page, storage):
    page = open_page()
    page.set_input_files("#pictures", [picture()])
    page.check("#agreed")
    page.evaluate("document.querySelector('[name=token]').value = 'stale'")
    page.get_by_role("button", name="Send").click()
    page.wait_for_url("**/receipt/**")
    assert len(received(storage)) == 1


def test_too_large_is_told_before_and_after_sending(open_page, storage):
    page = open_page()
    page.set_input_files("#pictures", [picture(0, 2_500_000)])
    sync_api.expect(page.locator("#pictures-complaint")).to_contain_text("Please leave some out")
    page.get_by_role("button", name="Send").click()
    sync_api.expect(page.locator("#pictures")).to_be_focused()
    assert received(storage) == []


def test_without_script_too_large_a_form_is_a_page_and_going_back_keeps_the_words(open_page, storage):
    page = open_page(script=False)
    page.set_input_files("#pictures", [picture(0, 2_500_000)])
    page.fill("#name", "Ilse from Vienna")
    page.check("#agreed")
    page.get_by_role("button", name="Send").click()
    sync_api.expect(page.get_by_role("heading", level=1)).to_have_text("Too large")
    page.go_back()
    sync_api.expect(page.locator("#name")).to_have_value("Ilse from Vienna")
    assert received(storage) == []


def test_without_script_nothing_is_wider_than_a_phone(open_page):
    page = open_page(script=False)
    page.set_input_files("#pictures", [picture()])
    for part in page.locator(".part, .drop, #pictures, .go button").all():
        box = part.bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= PHONE["width"], part
    assert page.locator("#pictures").bounding_box()["height"] >= 44  # a thumb's width, common practice


def test_without_script_the_guardian_is_asked_by_style_rules_alone(open_page):
    page = open_page(script=False)
    sync_api.expect(page.locator("#guardian")).to_be_hidden()
    page.check("#minor")
    sync_api.expect(page.locator("#guardian")).to_be_visible()


def test_the_visitors_own_clock_is_offered(open_page, storage):
    page = open_page(timezone_id="Asia/Tokyo")
    sync_api.expect(page.locator("#zone")).to_have_value("Asia/Tokyo")
    page.set_input_files("#pictures", [picture()])
    page.fill("#taken", "2026-03-25T20:00")
    page.check("#agreed")
    page.get_by_role("button", name="Send").click()
    page.wait_for_url("**/receipt/**")
    (listed,) = each_submission(storage)
    # UTC+9 all year (from memory)
    assert listed.submission.arrival.taken_utc == datetime(2026, 3, 25, 11, 0, tzinfo=UTC)
