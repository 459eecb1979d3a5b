"""From a letter to air in a real browser, by keyboard: what was read, the story, the pick, the notes beside the frame.

Letters in Latin, Cyrillic and Arabic script; WCAG 2.0 to 2.2, A and AA, as far as axe-core can tell. Needs Playwright
and Chromium. MOONDESK_SHOTS names a folder in which the pages are kept as pictures.
"""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

import desk_people
import pytest
from browsers import chromium, listen_to, needs_chromium, served
from letters_desk import NOW, application, mail, picture_of, taken, with_terms

from moondesk.service.programme.permission import permission_of
from moondesk.service.store.pictures import list_by_id, read_picture

pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (extra: test)")
pytest.importorskip("axe_playwright_python", reason="axe-core is not installed (extra: test)")

pytestmark = needs_chromium

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
ENGLISH = (
    "Good evening,\n\nthis is the first picture from the telescope that my grandfather and I built: a 6 inch Dobsonian "
    "with a 25 mm eyepiece.\nI took it last night at half past nine in Ennis. You may show it on air. "
    "Please credit me as Orla Quill.\n\nOrla"
)
BULGARIAN = (
    "Здравейте,\n\nснимката направи дъщеря ми Яна, на девет години, снощи към девет и половина в Русе, с бинокъл 10x50.\n"
    "Като неин баща разрешавам да я покажете в предаването.\n\nПоздрави,\nД. Колев"
)
ARABIC = "مساء الخير،\n\nهذه صورة القمر من بيتي في عمّان ليلة أمس، بتلسكوب دوبسوني ٨ بوصة.\nأرجو عدم عرض الصورة على الشاشة.\n\nنور"


def keep(page, name):
    if folder := os.environ.get("MOONDESK_SHOTS"):
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def check(page, where):
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{where} is {wide} px too wide"
    page.evaluate(AXE)
    found = page.evaluate("(tags) => axe.run(document, {runOnly: {type: 'tag', values: tags}})", LEVELS)
    assert not found["violations"], (where, [(v["id"], v["nodes"][0]["html"][:200]) for v in found["violations"]])


def press_to(page, name, leads_on=True, most=200):
    """Go on with Tab until the button of that name has the focus, then press it. leads_on: the page comes anew."""
    for _ in range(most):
        page.keyboard.press("Tab")
        said = page.evaluate(
            "(document.activeElement.getAttribute('aria-label') || document.activeElement.textContent).trim()"
        )
        if said.startswith(name):
            if leads_on:
                with page.expect_navigation():
                    page.keyboard.press("Enter")
            else:
                page.keyboard.press("Enter")
            return
    raise AssertionError(f"no button {name!r} by Tab")


def test_from_the_letter_to_air_by_keyboard(config, storage):
    config = with_terms(config)
    orla, yana, nour = taken(
        storage,
        config,
        mail("orla@x.org", ENGLISH, "First light", 90),
        mail("kolev@x.org", BULGARIAN, "Луната", 110),
        mail("nour@x.org", ARABIC, "القمر", 130),
    )
    pictures = {name: picture_of(storage, n) for name, n in (("orla", orla), ("yana", yana), ("nour", nour))}
    app = application(config)
    account = desk_people.make_account(config.data_dir)
    complaints: list[str] = []
    with served(app) as address, chromium() as browser:
        client = app.test_client()
        secret = desk_people.log_in(client, config.data_dir, account, NOW)
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        context.add_cookies([{"name": desk_people.cookie(client), "value": secret, "url": address}])
        page = context.new_page()
        listen_to(page, complaints)
        for width, scheme in ((1280, "dark"), (1280, "light"), (360, "dark")):
            page.set_viewport_size({"width": width, "height": 900})
            page.emulate_media(color_scheme=scheme)
            for name, picture in pictures.items():
                page.goto(f"{address}/pictures/{picture}")
                check(page, f"{name} {width} {scheme}")
                keep(page, f"letter_{name}_{width}_{scheme}")
            page.goto(f"{address}/letters?find=grandf")
            check(page, f"found {width} {scheme}")
            keep(page, f"found_{width}_{scheme}")
        page.set_viewport_size({"width": 1280, "height": 900})
        page.goto(f"{address}/pictures/{pictures['orla']}")
        press_to(page, "Right: May it be shown")
        press_to(page, "Right: Name to say")
        page.focus("textarea[name=story]")
        page.keyboard.press("Control+A")
        page.keyboard.type("First light of a telescope built with her grandfather.")
        press_to(page, "Keep the story")
        page.get_by_text("Kept: it stands in the rundown").wait_for()
        press_to(page, "Pick", leads_on=False)
        page.get_by_text("In the rundown, place 1").first.wait_for()
        page.goto(f"{address}/rundown/12")
        page.get_by_text("First light of a telescope").first.wait_for()
        check(page, "rundown")
        keep(page, "rundown_story")
        page.goto(f"{address}/pictures/{pictures['orla']}/notes")
        assert "First light of a telescope" in page.content()
        page.goto(f"{address}/air/12/presenter")
        page.get_by_text("First light of a telescope").first.wait_for()  # beside the frame, for the presenter alone
        keep(page, "presenter_story")
        on_air = context.new_page()
        on_air.goto(f"{address}/air/12")
        on_air.wait_for_timeout(1500)  # a second look of the page at what stands on air
        assert "First light" not in on_air.content()
    assert not complaints
    arrival = read_picture(storage, pictures["orla"]).submission.arrival
    assert (arrival.credit_line, arrival.story[:11]) == ("Orla Quill", "First light")
    reasons = {n: permission_of(list_by_id(storage, [p])[0], config.entry_terms).reasons for n, p in pictures.items()}
    assert reasons == {"orla": (), "yana": ("suggested",), "nour": ("refused",)}
