"""A question by a link in a real browser: at the desk, and on the audience's page by day and night, on a phone, right to left.

Rules: WCAG 2.0 to 2.2, A and AA, as far as axe-core can tell. Needs Playwright and Chromium.
"""

from __future__ import annotations

import re
from dataclasses import replace
from importlib.resources import files

import pytest
from browsers import chromium, listen_to, needs_chromium, served
from letters_desk import NOW, application, mail, picture_of, taken

from moondesk.service.programme.permission import permission_of
from moondesk.service.settings.config import CONFIG_NAME, read_config
from moondesk.service.store.pictures import list_by_id
from moondesk.service.web.public import tongue
from moondesk.service.web.public.app import create_public_app

sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (extra: test)")
pytest.importorskip("axe_playwright_python", reason="axe-core is not installed (extra: test)")

pytestmark = needs_chromium

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
SIZES = (((1280, 900), "dark"), ((360, 740), "light"), ((360, 740), "dark"), ((1280, 900), "light"))
ADDRESS = "https://moon.example.org"


def check(page, where):
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{where} is {wide} px too wide"
    page.evaluate(AXE)
    found = page.evaluate("(tags) => axe.run(document, {runOnly: {type: 'tag', values: tags}})", LEVELS)
    assert not [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found["violations"]], where


def test_asked_at_the_desk_and_answered_on_a_phone(config, storage, monkeypatch):
    config.data_dir.mkdir(exist_ok=True)
    (config.data_dir / CONFIG_NAME).write_text(f'[public]\naddress = "{ADDRESS}"\ncontact = "ask@example.org"\n')
    config = replace(config, public=read_config(config.data_dir).public)
    (ann,) = taken(storage, config, mail("ann@x.org", "Here is the Moon.", "Moon", 90))
    picture, complaints, links = picture_of(storage, ann), [], {}
    public = create_public_app(config, lambda: NOW)
    with served(application(config)) as desk, served(public) as audience, chromium() as browser:
        for k, kind in enumerate(("consent", "guardian", "name", "taken")):
            size, scheme = SIZES[k]
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]}, base_url=desk, color_scheme=scheme
            )
            page = context.new_page()
            listen_to(page, complaints)
            page.goto(f"/pictures/{picture}")
            page.get_by_label("Language of the question").select_option("")  # the letter's own stands there
            page.locator(f".ask button[value={kind}]").click()
            sync_api.expect(page.get_by_role("button", name="Copy the link")).to_be_visible()
            check(page, f"the link, {size}, {scheme}")
            links[kind] = page.get_by_label("Link", exact=True).input_value().replace(ADDRESS, audience)
            if kind == "name":
                page.get_by_role("button", name="Put it into the reply").click()
                sync_api.expect(page.get_by_label("Words")).to_have_value(re.compile("/q/"))
                check(page, f"the reply, {size}, {scheme}")
            page.goto(f"/pictures/{picture}")
            check(page, f"the picture, {size}, {scheme}")
            page.goto("/letters")
            check(page, f"the letters, {size}, {scheme}")
            context.close()
        assert not complaints
        for size, scheme in SIZES:
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]},
                color_scheme=scheme,
                locale="bg-BG",
                java_script_enabled=True,
            )
            page = context.new_page()
            listen_to(page, complaints)
            for kind, link in links.items():
                page.goto(link)
                check(page, f"{kind}, {size}, {scheme}")
                sync_api.expect(page.locator("html")).to_have_attribute("lang", "bg")
                for button in page.locator(".answers button").all():
                    assert button.bounding_box()["height"] >= 44
            page.goto(links["consent"])
            page.get_by_role("button", name="Да, може да я покажете").click()
            sync_api.expect(page.get_by_role("status")).to_contain_text("Да, може да я покажете")
            check(page, f"answered, {size}, {scheme}")
            page.get_by_role("link", name="English").click()
            page.get_by_role("button", name="No, please do not show it").click()
            sync_api.expect(page.get_by_role("status")).to_contain_text("No, please do not show it")
            page.goto(links["taken"])
            page.get_by_role("button", name="Беше приблизително тогава").click()
            sync_api.expect(page.get_by_role("alert")).to_be_visible()
            check(page, f"a complaint, {size}, {scheme}")
            context.close()
        assert not permission_of(list_by_id(storage, [picture])[0]).given
        monkeypatch.setattr(tongue, "direction", lambda _: "rtl")
        page = browser.new_page(viewport={"width": 360, "height": 740})
        for link in (*links.values(), f"{audience}/q/nothing", audience, f"{audience}/?language=bg"):
            page.goto(link)
            check(page, "right to left")
    assert all("422" in c for c in complaints), complaints
