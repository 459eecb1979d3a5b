"""A whole evening at the desk in a real browser, with the sample submissions as the real core places them: set up, look
through, correct, compare, pick, order, log out; the rules of accessibility on every page on the way.

Rules: WCAG 2.0 to 2.2, A and AA, as far as axe-core can tell. Needs Playwright and Chromium.
"""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

import pytest
from browsers import chromium, listen_to, needs_chromium, served, sync_api

from moondesk.records import Annotation, Known
from moondesk.sentences import sentences_of
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.engine import Engine, load_engine
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.settings.config import Config
from moondesk.service.store import rundowns
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.editions import list_editions
from moondesk.service.store.media import Media
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app

pytest.importorskip("axe_playwright_python", reason="axe-core is not installed (extra: test)")
#: With a picture's light asked for, a day, a night, a month, and what was on air.
ARCHIVE = (
    "/archive?feature=Tycho&light=sunrise",
    "/archive?day=10",
    "/archive/nights/2026-10-19",
    "/archive/months/2026-10-10",
    "/history?q=412",
)
AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")

pytestmark = needs_chromium

SAMPLES = Path(__file__).parents[2] / "sample_submissions"
NOW = datetime(2026, 11, 2, 18, 0, tzinfo=UTC)
WORDS = "three lamps over the pier"
#: Placed wrongly on purpose, to be put right.
WRONG = "IMG_0457.jpg"
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
expect = sync_api.expect


def load() -> Engine:
    """The real core, which takes one picture for the wrong way up."""
    core = load_engine()

    def annotate(data: bytes, known: Known) -> Annotation:
        found = core.annotate(data, known)
        if known.given_name != WRONG or found.pose is None:
            return found
        pose = replace(found.pose, north_screen_deg=(found.pose.north_screen_deg + 140) % 360)
        return replace(found, pose=pose, sure=False, reasons=sentences_of("Two turns fit nearly as well."), features=())

    return replace(core, annotate=annotate)


@dataclass(frozen=True)
class Desk:
    url: str
    config: Config
    #: Ids by the names of the files.
    ids: dict[str, int]


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    data = tmp_path_factory.mktemp("data")
    shutil.copyfile(SAMPLES / "programme.toml", data / "moondesk.toml")
    config = load_config(data, 0)
    with Storage(data) as storage:
        edition = open_edition(storage, config, NOW, lambda _: None)
        list(
            Intake(storage=storage, media=Media(data), edition=edition, config=config, now=lambda: NOW).take_path(
                SAMPLES
            )
        )
        list(place_waiting(storage, Media(data), config, load, load().version, lambda: NOW))
        ids = {row["given_name"]: row["id"] for row in storage.read("select id, given_name from pictures")}
    app = create_app(config, now=lambda: NOW)
    app.extensions["moondesk.workshop"] = WarmPool(load, 60, InProcess())
    with served(app) as url:
        yield Desk(url, config, ids)


@pytest.fixture
def opened(desk):
    """Opens pages of a given size; every complaint of the browser fails the test."""
    complaints = []
    with chromium() as browser:

        def page_of(size=(1280, 900), script=True, scheme="dark"):
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]},
                java_script_enabled=script,
                base_url=desk.url,
                color_scheme=scheme,
            )
            page = context.new_page()
            listen_to(page, complaints)
            page.set_default_timeout(30_000)
            return page

        yield page_of
    # that the browser did as it was told at the log-out is no complaint
    assert not [c for c in complaints if not c.startswith("Clear-Site-Data header on")]


def check(page, where):
    """No violation of the rules that axe-core knows, and nothing wider than the window."""
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{where} is {wide} px too wide"
    # evaluated, not added as a tag: the page's own policy forbids that, as it should
    page.evaluate(AXE)
    found = page.evaluate("(tags) => axe.run(document, {runOnly: {type: 'tag', values: tags}})", LEVELS)
    told = [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found["violations"]]
    assert not told, f"{where}: {told}"


def truth(name, feature):
    """Where a feature is in a sample, by the samples' index."""
    index = json.loads((SAMPLES / "index.json").read_text(encoding="utf-8"))
    return next(e for e in index["files"] if e["file"] == name)["moon"]["features"][feature]


def at(page, x, y):
    """Where a pixel of the picture is on the screen, by the browser's own matrices."""
    page.locator("svg.stage").scroll_into_view_if_needed()
    return page.evaluate(
        """([x, y]) => {
        const image = document.querySelector("svg.stage image");
        const point = new DOMPoint(x, y).matrixTransform(image.getScreenCTM());
        return [point.x, point.y];
    }""",
        [x, y],
    )


def in_order(page):
    return [one.strip() for one in page.locator(".entry .sender").all_inner_texts()]


def test_the_whole_evening(opened, desk):
    page = opened()
    # set up: the first presenter, whose desk it is from then on
    page.goto("/")
    check(page, "inbox without accounts")
    page.get_by_role("link", name="set up").click()
    page.get_by_label("Your name").fill("Ada Brook")
    page.get_by_label("Password", exact=True).fill(WORDS)
    page.get_by_label("The password again").fill(WORDS)
    check(page, "set-up")
    page.get_by_label("The password again").press("Enter")
    page.wait_for_url("**/")

    # look through: groups with their reasons, one picture that needs a look
    check(page, "inbox")
    look = page.get_by_role("region", name=re.compile("Needs a look"))
    expect(look).to_contain_text("The placing is not certain. Two turns fit nearly as well.")
    page.get_by_label("Find").fill("Tycho")
    page.keyboard.press("Enter")
    expect(page.locator("#q")).to_have_value("Tycho")
    check(page, "inbox, searched")
    page.goto("/")

    # correct: two pins on a picture that was placed the wrong way up
    page.locator(f'.card[data-picture="{desk.ids[WRONG]}"] h3 a').click()
    expect(page.locator(".verdict")).to_contain_text("Not sure")
    check(page, "picture, not sure")
    page.get_by_role("radio", name="Correct").check()
    for name in ("Plato", "Theophilus"):
        page.locator("#pin-name").fill(name)
        page.mouse.click(*at(page, *truth(WRONG, name)))
    expect(page.locator("#pins li")).to_have_count(2)
    page.get_by_role("button", name="Place again").click()
    expect(page.locator(".verdict")).to_contain_text("Sure", timeout=60_000)
    expect(page.locator(".decisions li")).to_contain_text("Ada Brook")
    check(page, "picture, put right")
    with Storage(desk.config.data_dir) as storage:
        mark = next(
            m for m in read_annotation(storage, desk.ids[WRONG]).annotation.features if m.feature.name == "Tycho"
        )
    assert abs(mark.x - truth(WRONG, "Tycho")[0]) < 2
    assert abs(mark.y - truth(WRONG, "Tycho")[1]) < 2

    # compare it with the picture of the evening before
    page.goto(f"/compare?pictures={desk.ids[WRONG]},{desk.ids['moon_dob_18oct.jpg']}")
    expect(page.get_by_role("region", name="Pictures")).to_be_visible()
    check(page, "compare")

    # pick three by keys, order them, see what may go on air
    page.goto("/")
    for _ in range(3):
        page.keyboard.press("ArrowRight")
        page.keyboard.press("p")
        expect(page.locator(".card:has(h3 a:focus) .picked")).to_contain_text("In the rundown")
    page.get_by_role("navigation", name="Pages").get_by_role("link", name="Rundown").click()
    before = in_order(page)
    assert len(before) == 3
    check(page, "rundown")
    page.locator(".entry .sender").first.focus()
    page.keyboard.press("Shift+ArrowDown")
    expect(page.locator(".entry .sender").first).to_have_text(before[1])
    expect(page.locator(".entry .sender:focus")).to_have_text(before[0])
    assert in_order(page) == [before[1], before[0], before[2]]
    with Storage(desk.config.data_dir) as storage:
        edition = list_editions(storage)[0]
        assert [i.added_by for i in rundowns.rundown(storage, edition.id).items] == ["Ada Brook"] * 3

    # every other page on the way, then out; nothing is shown to a stranger
    for path in (
        "/coming",
        "/add",
        "/people",
        "/settings",
        "/editions",
        "/audit",
        "/account",
        f"/pictures/{desk.ids['promenade.jpg']}/reply",
        f"/pictures/{desk.ids[WRONG]}/reply",
        "/replies",
        "/names",
        f"/pictures/{desk.ids[WRONG]}/notes",
        "/air/412/presenter",
        "/rundown/412/items/1/frame",
        *ARCHIVE,
    ):
        page.goto(path)
        check(page, path)
    page.get_by_role("button", name="Log out").click()
    page.wait_for_url("**/login**")
    check(page, "log-in")
    for path in ("/", f"/pictures/{desk.ids[WRONG]}", "/rundown", "/compare", "/coming"):
        page.goto(path)
        page.wait_for_url("**/login?next=**") if path != "/" else page.wait_for_url("**/login**")

    # and in again: on a phone, by day, and without script, all can be read
    narrow, enlarged = (360, 740), (640, 450)
    for size, script, scheme in ((narrow, True, "light"), (narrow, False, "dark"), (enlarged, True, "dark")):
        page = opened(size, script, scheme)
        page.goto("/login")
        page.get_by_label("Name").fill("Ada Brook")
        page.get_by_label("Password").fill(WORDS)
        page.get_by_role("button", name="Log in").click()
        page.wait_for_url("**/")
        for path in (
            "/",
            f"/pictures/{desk.ids[WRONG]}",
            "/rundown",
            f"/pictures/{desk.ids[WRONG]}/notes",
            "/air/412/presenter",
            *(("/coming", "/rundown/412/items/1/frame", *ARCHIVE) if size == narrow and script else ()),
            f"/pictures/{desk.ids[WRONG]}/reply",
            f"/compare?pictures={desk.ids[WRONG]},{desk.ids['moon_dob_18oct.jpg']}",
        ):
            page.goto(path)
            if script:
                check(page, f"{path} at {size}, {scheme}")
            expect(page.get_by_role("heading", level=1)).to_be_visible()
