"""The desk in a real browser: what only layout, style rules and script can break. Needs Playwright and Chromium."""

from __future__ import annotations

from datetime import UTC, datetime

import fakes
import pytest
from browsers import chromium, needs_chromium, served, sync_api

from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.web.desk.app import create_app

pytestmark = needs_chromium

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
DESK, PHONE = {"width": 1280, "height": 900}, {"width": 360, "height": 780}


@pytest.fixture
def desk_url(tmp_path, storage, media, config):
    """A running desk on loopback with two placed samples, one sure and one not."""
    folder = tmp_path / "two"
    folder.mkdir()
    (folder / "a.png").write_bytes(fakes.png())
    (folder / "b-with-a-rather-long-name-that-nobody-would-break-by-hand.png").write_bytes(fakes.png(fakes.UNSURE))
    (folder / "submissions.csv").write_text("file,name,place\na.png,Ilse,Vienna\n")
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    app = create_app(config)
    app.extensions["moondesk.workshop"] = WarmPool(fakes.load, 60, InProcess())
    with served(app) as url:
        yield f"{url}/"


@pytest.fixture
def open_page(desk_url):
    """Opens the list in a page of a given size; every complaint of the browser fails the test."""
    complaints = []
    with chromium() as browser:

        def opened(size, script=True):
            page = browser.new_context(viewport=size, java_script_enabled=script).new_page()
            page.on("console", lambda message: complaints.append(message.text))
            page.on("pageerror", lambda error: complaints.append(str(error)))
            page.on("requestfailed", lambda failed: complaints.append(f"{failed.url}: {failed.failure}"))
            page.on("response", lambda r: r.status >= 400 and complaints.append(f"{r.url}: {r.status}"))
            page.set_default_timeout(30_000)
            page.goto(desk_url)
            return page

        yield opened
    assert not complaints


def overflow(page) -> int:
    """By how many pixels the page is wider than its window."""
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


def test_from_the_list_to_a_picture_with_its_layers_and_its_zoom(open_page):
    page = open_page(DESK)
    sync_api.expect(page.locator(".card")).to_have_count(2)
    page.get_by_role("link", name="Ilse").click()
    sync_api.expect(page.get_by_role("heading", level=1)).to_have_text("Ilse")

    seas, limb = page.locator("#layer-seas"), page.locator("#layer-limb")
    sync_api.expect(seas).to_be_visible()
    page.get_by_role("checkbox", name="Seas").uncheck()
    sync_api.expect(seas).to_be_hidden()
    sync_api.expect(limb).to_be_visible()
    page.get_by_role("checkbox", name="Seas").check()
    sync_api.expect(seas).to_be_visible()

    page.get_by_role("button", name="Whole").click()
    zoom = page.locator(".zoom output")
    sync_api.expect(zoom).to_have_text("100 %")
    page.get_by_role("button", name="Zoom in").click()
    sync_api.expect(zoom).to_have_text("160 %")
    page.locator("svg.stage").press("0")
    sync_api.expect(zoom).to_have_text("100 %")

    page.get_by_role("radio", name="Upright").check()
    sync_api.expect(page.locator("svg.stage.laid")).to_be_visible(timeout=30_000)  # the first view loads the core


@pytest.mark.parametrize("script", [True, False])
def test_nothing_is_wider_than_a_phone(open_page, script):
    page = open_page(PHONE, script)
    for link in ("", "Ilse", "Sender not named"):
        if link:
            page.get_by_role("link", name=link).click()
            page.wait_for_url("**/pictures/*")  # loaded: before that there is no document to measure
        assert overflow(page) <= 0 if script else page.locator("main").bounding_box()["width"] <= PHONE["width"]
        for element in (".card", ".viewer", ".facts"):
            for box in (found.bounding_box() for found in page.locator(element).all()):
                assert box["x"] >= 0, (link, element)
                assert box["x"] + box["width"] <= PHONE["width"], (link, element)
        if link:
            page.go_back()


CONTROLS = (
    "button, .button, .tools label span, select, input:not([type=checkbox], [type=radio], [type=range], [type=hidden])"
)
HEIGHTS = """found => found.filter(e => e.checkVisibility({opacityProperty: true}))
    .map(e => [e.getBoundingClientRect().height, e.getBoundingClientRect().width])
    .filter(([height, width]) => height > 1 && width > 1).map(([height]) => Math.round(height))"""


def test_buttons_and_fields_have_one_of_two_heights(open_page):
    page = open_page(DESK)
    heights = set(page.locator(CONTROLS).evaluate_all(HEIGHTS))
    for path in ("add", "settings", "setup", "editions", "compare", "archive", "replies"):
        page.goto(f"{page.url.partition('?')[0].rsplit('/', 1)[0]}/{path}", wait_until="networkidle")
        heights |= set(page.locator(CONTROLS).evaluate_all(HEIGHTS))
    page.goto(page.url.rsplit("/", 1)[0])
    page.get_by_role("link", name="Ilse").click()
    page.wait_for_url("**/pictures/*")  # loaded with its styles
    heights |= set(page.locator(CONTROLS).evaluate_all(HEIGHTS))
    assert heights == {32, 40}  # --control-small, --control-middle of components.css


def test_without_script_the_picture_stands_with_its_names(open_page):
    page = open_page(DESK, script=False)
    page.get_by_role("link", name="Ilse").click()
    sync_api.expect(page.locator("svg.stage image")).to_be_visible()
    sync_api.expect(page.locator("#layer-seas text")).to_have_text("Mare <Imbrium>")
    sync_api.expect(page.locator("#layer-limb circle")).to_be_visible()
    sync_api.expect(page.locator(".zoom")).to_be_hidden()
    page.get_by_role("checkbox", name="Limb").uncheck()  # style rules alone switch the layers
    sync_api.expect(page.locator("#layer-limb")).to_be_hidden()
    link = page.get_by_role("link", name="Labelled picture at full size").get_attribute("href")
    answer = page.request.get(page.url.partition("/pictures/")[0] + link)
    assert (answer.status, answer.headers["content-type"]) == (200, "image/png")
