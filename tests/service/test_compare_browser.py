"""Swipe, blink and side by side in a real browser, by keys and by hand. Needs Playwright and Chromium."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta

import cv2
import numpy as np
import pytest
from browsers import chromium, needs_chromium, served, sync_api
from fakes import add_edition

from moondesk import records
from moondesk.ephemeris.aspect import aspect_at
from moondesk.records import Place, Pose
from moondesk.sentences import sentences_of
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.media import DERIVED, Media, sha256_of
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure, StoredAnnotation
from moondesk.service.store.submissions import add_submission
from moondesk.service.web.desk.app import create_app

pytestmark = needs_chromium

VIENNA, KEY = Place(48.2, 16.4), "ab" * 8
EVENING = datetime(2026, 3, 26, 19, 0, tzinfo=UTC)
DESK, TABLET, PHONE = ({"width": w, "height": h} for w, h in ((1280, 800), (768, 1024), (360, 740)))


def keep_picture(storage, config, edition, n, who, taken, sure):
    """A plain grey disc, as placing would leave it; the later ones are brighter."""
    a, sha = aspect_at(taken, VIENNA), sha256_of(f"picture {n}".encode())
    pose = Pose(x=200.0, y=200.0, radius_px=150.0, north_screen_deg=10.0 * n, mirrored=bool(n % 2), libration_lat_deg=a.libration_lat_deg, libration_lon_deg=a.libration_lon_deg,
                sub_solar_lat_deg=a.sub_solar_lat_deg, sub_solar_lon_deg=a.sub_solar_lon_deg, sigma_pct_radius=0.05)  # fmt: skip
    enclosure = Enclosure(given_name=f"{n}.jpg", size_bytes=9, sha256=sha, media_type="image/jpeg")
    add_submission(
        storage,
        edition.id,
        Arrival(key=f"file:{n}", source="folder", origin="a", enclosures=(enclosure,), sender_name=who),
        EVENING,
    )
    time = records.TimeCandidate(taken, 1.0, "told")
    annotation = records.Annotation(
        status=records.Status.ANNOTATED, sure=sure, reasons=() if sure else sentences_of("Two turns fit nearly as well."), width=400, height=400,
        taken=records.TimeReadings(candidates=(), earliest_utc=None, latest_utc=None), time=time, clock=records.Clock(records.ClockVerdict.AGREES, None, None), pose=pose,
        terminator=records.Terminator(80.0, 0.6, 270.0, 0.2), dated=records.EveningKnowledge(records.EveningVerdict.SURE))  # fmt: skip
    picture_id = max(p.picture.id for p in list_pictures(storage, edition.id, 99))
    add_annotation(
        storage,
        StoredAnnotation(
            picture_id=picture_id, annotation=annotation, engine_version="fake 1", made_utc=EVENING, derived_key=KEY
        ),
        [],
    )
    folder = Media(config.data_dir).derived_folder(sha, KEY)
    folder.mkdir(parents=True)
    grey = np.zeros((400, 400), np.uint8)
    cv2.circle(grey, (200, 200), 150, 60 + 60 * n, -1)
    for role in ("photo", "thumbnail"):
        cv2.imwrite(str(folder / DERIVED[role]), grey)


@pytest.fixture
def desk_url(tmp_path, storage):
    config = Config(data_dir=tmp_path / "data", programme=Programme("The Evening Sky", "Europe/Vienna", VIENNA))
    edition = add_edition(storage, EditionPlan(number=1))
    for n, (who, days, sure) in enumerate((("Ilse", 0, True), ("Bo", 1, True), ("Karl", 1, False))):
        keep_picture(storage, config, edition, n, who, EVENING + timedelta(days=days, hours=n), sure)
    with served(create_app(config)) as url:
        yield url


@pytest.fixture
def open_page(desk_url):
    """Opens an address in a page of a given size; every complaint of the browser fails the test."""
    complaints = []
    with chromium() as browser:

        def opened(path, size, script=True, motion="no-preference"):
            context = browser.new_context(viewport=size, java_script_enabled=script, reduced_motion=motion)
            page = context.new_page()
            page.on("console", lambda message: complaints.append(message.text))
            page.on("pageerror", lambda error: complaints.append(str(error)))
            page.goto(desk_url + path)
            return page

        yield opened
    assert not complaints


def test_the_divider_moves_by_keys_and_by_hand(open_page):
    page = open_page("/compare?pictures=1,2", DESK)
    page.get_by_role("radio", name="Swipe").check()
    stage, slider = page.locator(".pair .stage"), page.locator(".pair input[type=range]")
    sync_api.expect(page.locator(".beside")).to_be_hidden()
    sync_api.expect(slider).to_have_value("50")
    stage.focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    sync_api.expect(slider).to_have_value("46")
    page.keyboard.press("ArrowRight")
    sync_api.expect(slider).to_have_value("48")
    slider.focus()
    page.keyboard.press("ArrowRight")  # the field's own step
    sync_api.expect(slider).to_have_value("49")
    stage.scroll_into_view_if_needed()
    box = stage.bounding_box()
    middle = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + box["width"] * 0.5, middle)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.25, middle + 20)
    page.mouse.up()
    sync_api.expect(slider).to_have_value("25")
    clip = page.evaluate("getComputedStyle(document.querySelector('.pair .over')).clipPath")
    assert "25%" in clip


def test_blinking_is_started_held_and_stopped_and_never_fast(open_page):
    page = open_page("/compare?pictures=1,2", DESK)
    page.evaluate("""() => {
      window.changes = [];
      new MutationObserver(() => window.changes.push(performance.now()))
        .observe(document.querySelector('.pair .stage'), { attributeFilter: ['data-upper'] });
    }""")
    page.locator(".modes input").first.focus()
    page.keyboard.press("b")
    stage, run = page.locator(".pair .stage"), page.locator("[data-act=run]")
    sync_api.expect(stage).to_be_focused()
    sync_api.expect(run).to_have_text("Stop")
    page.wait_for_timeout(3300)
    times = page.evaluate("window.changes")[1:]
    assert len(times) >= 2
    assert all(b - a > 990 for a, b in itertools.pairwise(times))  # WCAG 2.3.1: far below three flashes a second
    scrolled = page.evaluate("scrollY")
    page.keyboard.press("Space")
    sync_api.expect(stage).to_have_attribute("data-held", "true")
    before = page.evaluate("window.changes.length")
    page.wait_for_timeout(1500)
    assert page.evaluate("window.changes.length") == before
    assert page.evaluate("scrollY") == scrolled  # the space did not turn the page
    page.keyboard.press("Space")
    sync_api.expect(stage).to_have_attribute("data-held", "false")
    page.keyboard.press("b")
    sync_api.expect(run).to_have_text("Start")
    shown = stage.get_attribute("data-upper")
    page.keyboard.press("ArrowRight")
    assert stage.get_attribute("data-upper") != shown
    page.get_by_role("radio", name="Side by side").check()
    sync_api.expect(page.locator(".pair")).to_be_hidden()


def test_who_wants_less_motion_starts_the_blinking_by_hand(open_page):
    page = open_page("/compare?pictures=1,2", DESK, motion="reduce")
    page.get_by_role("radio", name="Blink").check()
    run, stage = page.locator("[data-act=run]"), page.locator(".pair .stage")
    sync_api.expect(run).to_have_text("Start")
    shown = stage.get_attribute("data-upper")
    page.wait_for_timeout(1400)
    assert stage.get_attribute("data-upper") == shown
    page.get_by_role("button", name="Change").click()
    assert stage.get_attribute("data-upper") != shown
    run.click()
    sync_api.expect(run).to_have_text("Stop")


def test_keys_elsewhere_on_the_page_do_nothing(open_page):
    page = open_page("/compare?pictures=1,2", DESK)
    page.locator("main").focus()
    page.keyboard.press("b")
    sync_api.expect(page.locator(".pair")).to_be_hidden()


def test_outlines_are_switched_by_style_rules_alone(open_page):
    page = open_page("/compare?pictures=1,2", DESK, script=False)
    outlines = page.locator(".beside .frame").first
    sync_api.expect(outlines).to_be_visible()
    page.get_by_role("checkbox", name="Outlines").uncheck()
    sync_api.expect(outlines).to_be_hidden()
    sync_api.expect(page.locator(".modes")).to_be_hidden()
    sync_api.expect(page.locator(".beside img")).to_have_count(2)
    assert page.locator("#new .name, .seen .name").count() > 5


def test_pictures_are_chosen_with_ticks_and_without_script(open_page):
    page = open_page("/compare", DESK, script=False)
    sync_api.expect(page.locator(".pick")).to_have_count(2)  # the third is not certain
    for name in ("Ilse", "Bo"):
        page.get_by_role("checkbox", name=name).check()
    page.get_by_role("button", name="Compare").click()
    sync_api.expect(page.locator(".beside figure")).to_have_count(2)


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
@pytest.mark.parametrize(
    "path", ["/compare", "/compare?pictures=1,2,3", "/coming?from=2026-03-21", "/coming?evening=2026-04-08"]
)
def test_nothing_is_wider_than_the_screen(open_page, size, path):
    page = open_page(path, size)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    if "pictures" in path:
        for way in ("Swipe", "Blink"):
            page.get_by_role("radio", name=way).check()
            assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
            stage, controls = (page.locator(f".pair .{part}").bounding_box() for part in ("stage", "controls"))
            assert stage["y"] + stage["height"] <= controls["y"]
