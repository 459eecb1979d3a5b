"""The list of drafts in a real browser: by keyboard, only what was seen, readable by all on any screen.

Rules: WCAG 2.0 to 2.2, A and AA, as far as axe-core can tell. Needs Playwright and Chromium.
"""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
from browsers import chromium, listen_to, needs_chromium, served
from letters_desk import NOW, application, mail, picture_of, taken, with_terms

from moondesk.service.store import letters, replies

sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (extra: test)")
pytest.importorskip("axe_playwright_python", reason="axe-core is not installed (extra: test)")

pytestmark = needs_chromium

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
REVIEW = "/replies/review?edition=12"


@pytest.fixture
def desk(config, storage):
    config = with_terms(config)
    of = taken(
        storage,
        config,
        *(mail(f"{name}@x.org", "My Moon. You may show it.", "Moon", 90 + 10 * k) for k, name in enumerate("abcd")),
        mail("zoe@x.org", "Which star was that?", "A question"),
    )
    letters.set_read(storage, of[-1], True, "Ada", NOW)
    return config, of


def check(page, where):
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{where} is {wide} px too wide"
    page.evaluate(AXE)
    found = page.evaluate("(tags) => axe.run(document, {runOnly: {type: 'tag', values: tags}})", LEVELS)
    assert not [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found["violations"]], where


def test_the_pages_are_read_by_all_on_any_screen(desk, storage):
    config, of = desk
    complaints: list[str] = []
    with served(application(config)) as url, chromium() as browser:
        paths = (
            REVIEW,
            f"/pictures/{picture_of(storage, of[0])}/reply?language=de",
            f"/letters/{of[-1]}/reply",
            "/replies",
        )
        for size, scheme in (((1440, 900), "dark"), ((360, 740), "light")):
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]}, base_url=url, color_scheme=scheme
            )
            page = context.new_page()
            listen_to(page, complaints)
            for path in paths:
                page.goto(path)
                for summary in page.locator(".draft summary").all()[:1]:
                    summary.click()
                check(page, f"{path} at {size}, {scheme}")
    assert not complaints


def test_no_draft_is_approved_unseen_and_keys_do_it_all(desk, storage):
    config, of = desk
    expect = sync_api.expect
    with served(application(config)) as url, chromium() as browser:
        page = browser.new_context(viewport={"width": 1280, "height": 700}, base_url=url).new_page()
        page.goto(REVIEW)
        expect(page.locator(f"#reply-{of[0]} .tick input")).to_be_checked()
        last = page.locator(f"#reply-{of[-1]}")
        expect(last.locator(".tick input")).to_be_disabled()  # nobody has scrolled there
        expect(last.locator(".approve")).to_be_disabled()
        page.keyboard.press("j")
        expect(page.locator(f"#reply-{of[1]}")).to_be_focused()
        expect(page.locator(f"#reply-{of[1]} .tick input")).to_be_checked()
        page.keyboard.press("a")
        expect(page.get_by_text("One reply is approved.")).to_be_visible()
        assert replies.reply_of(storage, of[1]).state == "approved"
        expect(page.locator(f"#reply-{of[2]}")).to_be_focused()  # the next one
        page.keyboard.press("e")
        area = page.locator(f"#body-{of[2]}")
        expect(area).to_be_focused()
        page.keyboard.type("Dear C, ")
        expect(page.locator(f"#reply-{of[2]} .tick input")).to_be_disabled()  # the words shown are not these
        page.keyboard.press("Escape")
        expect(page.locator(f"#reply-{of[2]}")).to_be_focused()
        page.locator(f"#reply-{of[2]}").get_by_role("button", name="Approve as it stands here").click()
        expect(page.get_by_text("One reply is approved.")).to_be_visible()
        assert replies.reply_of(storage, of[2]).body.startswith("Dear C, ")
        page.keyboard.press("s")
        page.get_by_role("button", name="Approve all that were seen").click()
        expect(page.get_by_text("are approved.").or_(page.get_by_text("is approved."))).to_be_visible()
        approved = {r.submission_id for r in replies.replies(storage) if r.state == "approved"}
        assert {of[1], of[2]} < approved


def test_another_language_redraws_a_draft_that_nobody_has_changed(desk, storage):
    config, of = desk
    expect = sync_api.expect
    with served(application(config)) as url, chromium() as browser:
        page = browser.new_page(base_url=url)
        page.goto(f"/pictures/{picture_of(storage, of[0])}/reply")
        expect(page.locator("form.anew button")).to_be_hidden()
        page.locator("select[name=language]").first.select_option("fr")
        expect(page.get_by_label("Words")).to_have_value(re.compile("^Bonjour A,"))
        expect(page.locator("form.anew button")).to_be_hidden()  # the script listens
        page.get_by_label("Words").fill("Mes mots.")
        page.locator("select[name=language]").first.select_option("de")
        expect(page.get_by_text("The words were changed here: they stay as they are.")).to_be_visible()
        expect(page.get_by_label("Words")).to_have_value("Mes mots.")
        expect(page.locator("select[name=language]").first).to_have_value("fr")
