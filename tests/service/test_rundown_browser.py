"""The rundown in a real browser: keys, dragging, two people at once, without script. Needs Playwright and Chromium."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import fakes
import pytest
from browsers import chromium, needs_chromium, served, sync_api
from desk_people import WORDS, make_account
from fakes import add_edition

from moondesk.service.intake.intake import Intake
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store import rundowns
from moondesk.service.store.forget import forget
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import EditionPlan
from moondesk.service.web.desk.app import create_app

pytestmark = needs_chromium

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
DESK, TABLET, PHONE = {"width": 1280, "height": 900}, {"width": 768, "height": 1024}, {"width": 360, "height": 740}
#: All four entries stand in it: a pointer reaches no further than the window.
TALL_PHONE = {"width": 360, "height": 2400}
NAMES = ("Ilse", "Bo", "Cy", "Dora")


@pytest.fixture
def edition(tmp_path, storage, media, config):
    """An edition with four placed pictures in its rundown, and a fifth that nobody has picked."""
    folder = tmp_path / "in"
    folder.mkdir()
    rows = []
    for shade, name in enumerate((*NAMES, "Eve")):
        (folder / f"{name}.png").write_bytes(fakes.png(shade=60 + 9 * shade))
        rows.append(f"{name}.png,{name},{name} from Graz,{'' if name == 'Bo' else 'yes by form'}")
    (folder / "submissions.csv").write_text("file,name,credit,consent\n" + "\n".join(rows) + "\n")
    edition = add_edition(storage, EditionPlan(number=12))
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    for name in NAMES:
        rundowns.add(storage, edition.id, picture(storage, edition, name), "Ada", NOW)
    return edition


def picture(storage, edition, name):
    return next(
        p.picture.id for p in list_pictures(storage, edition.id) if p.picture.submission.arrival.sender_name == name
    )


@pytest.fixture
def application(config, edition):
    return create_app(config)


@pytest.fixture
def desk_url(application):
    with served(application) as url:
        yield f"{url}/rundown/12"


@pytest.fixture
def open_page(desk_url):
    """Opens the rundown; every complaint of the browser, but of answers that a test names, fails the test."""
    complaints = []
    with chromium() as browser:

        def opened(size=DESK, script=True, expected=()):
            page = browser.new_context(viewport=size, java_script_enabled=script).new_page()
            known = (
                "Clear-Site-Data header on",  # told at a log-out
                *(f"the server responded with a status of {status}" for status in expected),
            )
            page.on("console", lambda m: any(k in m.text for k in known) or complaints.append(m.text))
            page.on("pageerror", lambda error: complaints.append(str(error)))
            page.on(
                "response",
                lambda r: r.status >= 400 and r.status not in expected and complaints.append(f"{r.url}: {r.status}"),
            )
            page.set_default_timeout(30_000)
            page.goto(desk_url)
            return page

        yield opened
    assert not complaints


def order(page):
    return page.locator(".entry .sender").all_inner_texts()


def stored(storage, edition):
    names = {p.picture.id: p.picture.submission.arrival.sender_name for p in list_pictures(storage, edition.id)}
    return [names[i.picture_id] for i in rundowns.rundown(storage, edition.id).items]


def expect_order(page, *names):
    sync_api.expect(page.locator(".entry .sender")).to_have_text(list(names))


def drag(page, name, target, upper=True):
    """Drag an entry by its handle until its middle lies in the upper or lower half of another entry."""
    handle = page.locator(".entry", has_text=f"{name} from").locator(".handle")
    box = handle.bounding_box()
    own = page.locator(".entry", has_text=f"{name} from").bounding_box()
    goal = page.locator(".entry", has_text=f"{target} from").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    middle = own["y"] + own["height"] / 2
    to = goal["y"] + goal["height"] * (0.3 if upper else 0.7)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + (to - middle) / 2, steps=4)
    page.mouse.move(x, y + to - middle, steps=4)


def test_the_whole_by_keys(open_page, storage, edition):
    page = open_page()
    expect_order(page, *NAMES)
    page.keyboard.press("ArrowDown")
    sync_api.expect(page.locator(".entry.chosen .sender")).to_have_text("Ilse")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Shift+ArrowDown")  # at once: each step waits for the one before it
    expect_order(page, "Bo", "Cy", "Ilse", "Dora")
    sync_api.expect(page.locator(".sender:focus")).to_have_text("Ilse")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Delete")
    expect_order(page, "Bo", "Ilse", "Dora")
    sync_api.expect(page.locator("#said")).to_contain_text("Cy was taken out. It can be put back below.")
    sync_api.expect(page.locator(".sender:focus")).to_have_text("Ilse")  # the one that moved up

    page.keyboard.press("e")
    page.keyboard.type("2:15")
    page.keyboard.press("Tab")
    page.keyboard.type("Ilse K.")
    page.keyboard.press("Enter")
    entry = page.locator(".entry", has_text="Ilse K.")
    sync_api.expect(entry.locator(".credit")).to_have_text("Ilse K.")
    sync_api.expect(entry.locator(".length")).to_contain_text("2:15")
    sync_api.expect(page.locator(".sender:focus")).to_have_text("Ilse")
    page.get_by_role("button", name="Put back Cy").press("Enter")
    expect_order(page, "Bo", "Cy", "Ilse", "Dora")
    assert stored(storage, edition) == ["Bo", "Cy", "Ilse", "Dora"]
    page.locator(".sender", has_text="Dora").focus()
    page.keyboard.press("Enter")
    sync_api.expect(page).to_have_url(re.compile(r"/pictures/\d+$"))


@pytest.mark.parametrize("size", [DESK, TALL_PHONE])
def test_dragging(open_page, storage, edition, size):
    page = open_page(size)
    drag(page, "Cy", "Bo")
    page.mouse.up()
    expect_order(page, "Ilse", "Cy", "Bo", "Dora")
    sync_api.expect(page.locator("#said")).to_have_text("Moved: Cy.")
    assert stored(storage, edition) == ["Ilse", "Cy", "Bo", "Dora"]
    page.evaluate("window.scrollTo(0, 0)")
    drag(page, "Ilse", "Cy", upper=False)
    page.keyboard.press("Escape")  # thought better of
    page.mouse.up()
    expect_order(page, "Ilse", "Cy", "Bo", "Dora")
    drag(page, "Ilse", "Cy", upper=False)
    page.mouse.up()
    expect_order(page, "Cy", "Ilse", "Bo", "Dora")
    sync_api.expect(page.locator("#said")).to_have_text("Moved: Ilse.")
    assert stored(storage, edition) == ["Cy", "Ilse", "Bo", "Dora"]


def test_what_another_does_shows_and_disturbs_nothing_that_is_typed(open_page, storage, edition, media):
    ada, bea = open_page(), open_page()
    bea.locator(".entry", has_text="Cy from").locator("details.edit > summary").click()
    bea.locator(".entry", has_text="Cy from").get_by_label("Note for the presenter").fill("half a sent")
    ada.locator(".sender", has_text="Dora").focus()
    ada.keyboard.press("Shift+ArrowUp")
    expect_order(ada, "Ilse", "Bo", "Dora", "Cy")
    rundowns.add(storage, edition.id, picture(storage, edition, "Eve"), "Cleo", NOW)
    expect_order(bea, "Ilse", "Bo", "Dora", "Cy", "Eve")  # by itself, within the look's 4 s
    sync_api.expect(bea.locator("#said")).to_contain_text("Cleo picked Eve")
    note = bea.locator(".entry", has_text="Cy from").get_by_label("Note for the presenter")
    sync_api.expect(note).to_have_value("half a sent")
    sync_api.expect(note).to_be_focused()
    bea.keyboard.type("ence")
    bea.locator(".entry", has_text="Cy from").get_by_role("button", name="Save").click()
    sync_api.expect(bea.locator(".remark")).to_contain_text("half a sentence")
    forget(storage, media, "Dora", NOW)
    sync_api.expect(bea.locator(".caution", has_text="withdrawn by its sender")).to_be_visible()
    expect_order(bea, "Ilse", "Bo", "Cy", "Eve")


def test_a_clash_shows_both_and_keeps_what_was_typed(open_page, storage, edition):
    ada, bea = open_page(), open_page(expected=(409,))
    cy = bea.locator(".entry", has_text="Cy from")
    cy.locator("details.edit > summary").click()
    cy.get_by_label("Length").fill("3:00")
    cy.get_by_label("How to say it").fill("SIGH")
    entry = ada.locator(".entry", has_text="Cy from")
    entry.locator("details.edit > summary").click()
    entry.get_by_label("Length").fill("2:00")
    entry.get_by_label("Note for the presenter").fill("Ada's")
    entry.get_by_role("button", name="Save").click()
    sync_api.expect(ada.locator("#said")).to_contain_text("Saved: Cy.")
    sync_api.expect(bea.locator("#said")).to_contain_text("Ada's")  # Bea's page has learnt of it, and is still typed in
    sync_api.expect(cy.get_by_label("Length")).to_have_value("3:00")
    cy.get_by_role("button", name="Save").click()
    sync_api.expect(bea.locator("#said")).to_contain_text("has changed the same meanwhile")
    sync_api.expect(bea.locator(":focus")).to_have_value("3:00")
    sync_api.expect(cy.locator(".complaint")).to_have_text("desk put 2:00 here; you wanted 3:00.")
    sync_api.expect(cy.get_by_label("How to say it")).to_have_value("SIGH")
    sync_api.expect(cy.get_by_label("Note for the presenter")).to_have_value("Ada's")
    cy.get_by_role("button", name="Save").click()
    sync_api.expect(bea.locator("#said")).to_contain_text("Saved: Cy.")
    item = next(i for i in rundowns.rundown(storage, edition.id).items if i.seconds == 180)
    assert (item.pronunciation, item.note) == ("SIGH", "Ada's")


def test_a_desk_that_does_not_answer_loses_nothing(open_page):
    page = open_page()
    cy = page.locator(".entry", has_text="Cy from")
    cy.locator("details.edit > summary").click()
    cy.get_by_label("Note for the presenter").fill("typed")
    page.evaluate("() => { window.fetch = () => Promise.reject(new TypeError('no line')); }")
    cy.get_by_role("button", name="Save").click()
    sync_api.expect(page.locator("#said")).to_contain_text("The desk does not answer")
    sync_api.expect(cy.get_by_label("Note for the presenter")).to_have_value("typed")


def test_without_script(open_page, storage, edition):
    page = open_page(script=False)
    page.set_default_timeout(30_000)  # to note it as on air is to draw its frame, by a core that is not loaded yet
    sync_api.expect(page.locator(".handle").first).to_be_hidden()
    page.get_by_role("button", name="Move Dora up").click()
    expect_order(page, "Ilse", "Bo", "Dora", "Cy")
    page.get_by_role("button", name="Take out Ilse").click()
    sync_api.expect(page.locator("#said")).to_contain_text("Ilse was taken out")
    page.get_by_role("button", name="Put back Ilse").click()
    expect_order(page, "Ilse", "Bo", "Dora", "Cy")
    bo = page.locator(".entry", has_text="Bo from")
    sync_api.expect(bo).to_contain_text("Cannot go on air: nobody has said that it may be shown.")
    bo.locator("details.ask > summary").click()
    bo.get_by_label("In which words").fill("Yes, you may show it")
    bo.get_by_role("button", name="They agree").click()
    sync_api.expect(page.locator(".total")).to_contain_text("4 pictures ready")
    sync_api.expect(bo).to_contain_text("Consent by phone: “Yes, you may show it”")
    bo.get_by_role("button", name="Was on air: Bo").click()
    sync_api.expect(bo.locator(".onair")).to_contain_text("Was on air")


def test_what_arrives_during_the_programme_stands_in_it_by_two_keys(
    open_page, storage, edition, media, config, tmp_path
):
    page = open_page()
    bo = page.locator(".entry", has_text="Bo from")
    bo.locator("details.edit > summary").click()
    bo.get_by_label("How to say it").fill("boh")
    bo.locator("details.edit > summary").focus()
    sync_api.expect(page.locator(".fresh")).to_have_count(1)  # Eve, whom nobody has picked
    before = page.evaluate("[scrollY, document.querySelector('.entry').getBoundingClientRect().top]")
    folder = tmp_path / "late"
    folder.mkdir()
    (folder / "late.png").write_bytes(fakes.png(shade=200))
    (folder / "submissions.csv").write_text("file,name,credit,consent\nlate.png,Fay,Fay L.,yes by phone\n")
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    sync_api.expect(page.locator(".fresh .newer").first).to_have_text("Fay", timeout=30_000)  # by itself
    assert page.evaluate("[scrollY, document.querySelector('.entry').getBoundingClientRect().top]") == before
    page.keyboard.press("n")
    page.keyboard.press("p")
    expect_order(page, *NAMES, "Fay")
    sync_api.expect(page.locator(".entry.chosen .credit")).to_have_text("Fay L.")
    assert stored(storage, edition) == [*NAMES, "Fay"]
    sync_api.expect(bo.get_by_label("How to say it")).to_have_value("boh")
    page.keyboard.press("Shift+ArrowUp")  # what was picked has the focus: on to its place
    expect_order(page, "Ilse", "Bo", "Cy", "Fay", "Dora")
    page.locator(".sender").first.focus()
    page.keyboard.press("p")  # one is left, so that there is no doubt which
    expect_order(page, "Ilse", "Bo", "Cy", "Fay", "Dora", "Eve")
    sync_api.expect(page.locator(".justin")).to_have_count(0)


@pytest.mark.parametrize("size", [TABLET, PHONE])
def test_nothing_is_wider_than_the_window(open_page, size):
    page = open_page(size)
    for summary in page.locator("details > summary").all():
        summary.click()
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    for box in (found.bounding_box() for found in page.locator("#rundown button:visible").all()):
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= size["width"]
        assert min(box["width"], box["height"]) >= 24  # WCAG 2.2, 2.5.8


CARDS = """
{% from "picks.html" import pick_button with context %}
<link rel="stylesheet" href="/static/rundown.css">
{% for id, name, place in cards %}<div class="card" data-picture="{{ id }}"><a href="#x">{{ name }}</a>
{{ pick_button(id, 12, token, place, name) }}</div>{% endfor %}
"""


def test_picking_by_one_key_from_elsewhere(open_page, application, storage, edition):
    """The button and its key on a page of cards: the selected one is picked, told, and nothing else moves."""
    page = open_page()
    page.goto(page.url.replace("/rundown/12", "/add"))  # a page that has nothing to do with picks
    token = page.locator("input[name=token]").first.get_attribute("value")
    eve, ilse = (picture(storage, edition, name) for name in ("Eve", "Ilse"))
    with application.test_request_context("/", base_url="http://127.0.0.1"):
        cards = application.jinja_env.from_string(CARDS).render(cards=((eve, "Eve", 0), (ilse, "Ilse", 1)), token=token)
    page.evaluate(
        """html => new Promise((done) => {
        document.querySelector('main').insertAdjacentHTML('beforeend', html);
        const script = document.createElement('script');
        script.src = '/static/picks.js';
        script.onload = done;
        document.body.append(script);
    })""",
        cards,
    )
    page.keyboard.press("p")
    sync_api.expect(page.locator(".pick-said")).to_contain_text("Select a picture first")
    page.locator(".card a", has_text="Eve").focus()
    page.keyboard.press("p")
    said = "Eve stands at place 5. Credit: Eve from Graz."
    sync_api.expect(page.locator(".pick-said")).to_have_text(said)
    sync_api.expect(page.get_by_role("link", name="In the rundown, place 5")).to_be_visible()
    assert stored(storage, edition) == [*NAMES, "Eve"]
    page.keyboard.press("p")
    sync_api.expect(page.locator(".pick-said")).to_contain_text("stood already at place 5")
    assert stored(storage, edition) == [*NAMES, "Eve"]


def test_what_is_typed_and_not_saved_is_asked_about_and_kept(open_page, desk_url, edition, storage, config):
    """A reply and an entry of the rundown, left without saving; then brought back, discarded, saved."""
    asked = []
    page = open_page()
    page.set_default_timeout(30_000)  # the first reply is drafted from a core that is not loaded yet
    page.on("dialog", lambda dialog: asked.append(dialog.type) or dialog.accept())
    host, said = desk_url.removesuffix("/rundown/12"), page.locator("p.unsaved")
    reply = f"{host}/pictures/{picture(storage, edition, 'Ilse')}/reply"

    page.goto(reply, wait_until="domcontentloaded")
    drafted = page.input_value("#body")
    page.locator("#body").press_sequentially("Thank you! ")
    page.goto(desk_url, wait_until="domcontentloaded")
    assert asked == ["beforeunload"]
    page.goto(reply, wait_until="domcontentloaded")
    assert page.input_value("#body") == "Thank you! " + drafted or page.input_value("#body") == drafted + "Thank you! "
    sync_api.expect(said).to_contain_text("not saved; it stands here again.")
    page.get_by_role("button", name="Discard it").click()
    sync_api.expect(page.locator("#body")).to_have_value(drafted)
    page.goto(reply, wait_until="domcontentloaded")
    assert (asked, page.input_value("#body"), said.count()) == (["beforeunload"], drafted, 0)

    page.locator("#body").fill("Thank you,\n  and   clear skies.  ")
    page.get_by_role("button", name="Save the draft").click()
    sync_api.expect(page.locator("#body")).to_have_value("Thank you,\n  and   clear skies.")
    page.goto(reply, wait_until="domcontentloaded")
    assert (asked, said.count()) == (["beforeunload"], 0)

    page.goto(desk_url, wait_until="domcontentloaded")
    entry = page.locator(".entry", has_text="Cy from")
    entry.locator("details.edit > summary").click()
    entry.get_by_label("Note for the presenter").fill("A friend of the programme")
    page.goto(reply, wait_until="domcontentloaded")
    page.goto(desk_url, wait_until="domcontentloaded")
    note = page.locator(".entry", has_text="Cy from").get_by_label("Note for the presenter")
    sync_api.expect(note).to_have_value("A friend of the programme")
    sync_api.expect(said).to_be_visible()
    page.locator(".entry", has_text="Cy from").get_by_role("button", name="Save").click()
    sync_api.expect(page.locator(".entry", has_text="Cy from").locator(".remark")).to_contain_text("A friend")
    assert page.evaluate("Object.keys(localStorage)") == []
    page.goto(reply, wait_until="domcontentloaded")
    assert asked == ["beforeunload"] * 2

    make_account(config.data_dir, "Ada Brook")
    page.goto(f"{host}/login?next=/settings")
    page.get_by_label("Name").fill("Ada Brook")
    page.get_by_label("Password").fill(WORDS)
    page.get_by_label("Password").press("Enter")
    page.locator("#mail_days").fill("80")
    for _ in range(100):  # it is kept when nothing was typed for a moment
        if page.evaluate("Object.keys(localStorage)") == ["draft 1 settings"]:
            break
        page.wait_for_timeout(100)
    page.get_by_role("button", name="Log out").click()
    page.wait_for_url("**/login?left=yes")
    assert page.evaluate("Object.keys(localStorage)") == []  # what is typed may name people
    assert asked == ["beforeunload"] * 2
