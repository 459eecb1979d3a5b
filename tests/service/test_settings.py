"""Settings made at the desk: they count at once, the file goes before them, and what is wrong is told. Editions too."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta

import pytest
from desk_people import NOW, log_in, make_account, post, token_of
from fakes import add_edition

from moondesk.records import Place
from moondesk.service.errors import BadInputError
from moondesk.service.intake.intake import open_edition
from moondesk.service.programme.editions import next_to_air
from moondesk.service.settings.at_desk import WORDS, with_settings
from moondesk.service.settings.config import CONFIG_NAME, WEIGHTS, Config, all_settings
from moondesk.service.store import audit
from moondesk.service.store.editions import read_edition
from moondesk.service.store.records import Edition, EditionPlan
from moondesk.service.store.settings import keep_settings, load_config, settings
from moondesk.service.web import settings_form
from moondesk.service.web.access.account import AccountPage
from moondesk.service.web.access.login import LoginPage
from moondesk.service.web.access.setup import SetupPage
from moondesk.service.web.desk.admin.editions import EditionPage, EditionsPage
from moondesk.service.web.desk.admin.editions_form import read_edition_form, read_plan
from moondesk.service.web.desk.admin.people import PeoplePage
from moondesk.service.web.desk.admin.settings import AuditPage, SettingsPage
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.settings_form import FIELDS, WEIGHT_WORDS, current_form, read_settings

FILE = """
[programme]
name = "Lantern Hour"
latitude = 37.8
longitude = -8.72
[weights]
focus = 4
"""


@pytest.fixture
def app(config):
    return create_app(config, now=lambda: NOW)


@pytest.fixture
def client(app, config):
    client = app.test_client()
    log_in(client, config.data_dir, make_account(config.data_dir))
    return client


def save(client, **typed):
    page = client.get("/settings").text
    state = re.search(r'name="state" value="(\w+)"', page)[1]
    return post(client, "/settings", "/settings", state=state, **typed)


def complaint_of(answer, field):
    found = re.search(rf'id="{field}-complaint">([^<]*)<', answer.text)
    return found[1] if found else ""


# --- settings ---------------------------------------------------------------------------------------------------------


def test_what_is_saved_counts_at_once_and_is_told_in_the_audit_list(client, config, storage):
    assert "The Evening Sky" in client.get("/").text
    answer = save(
        client,
        programme_name="Pier Light",
        zone="Europe/Lisbon",
        latitude="37.8",
        longitude="\u22128,72",
        height_m="",
        mail_days="30",
        weight_focus="7.5",
        theme="paper-almanac",
        paper="letter",
    )
    assert (answer.status_code, answer.headers["Location"]) == (303, "/settings?saved=yes")
    page = client.get("/settings?saved=yes").text
    assert "Pier Light" in page
    assert "Saved." in page
    assert 'value="7.5"' in page
    now = load_config(config.data_dir)  # for the commands too
    assert (now.programme.name, now.programme.zone, now.programme.place) == (
        "Pier Light",
        "Europe/Lisbon",
        Place(37.8, -8.72, 0.0),
    )
    assert (now.air.theme, now.programme.paper) == ("paper-almanac", "letter")
    assert re.search(r'value="paper-almanac" checked', page)
    assert client.get("/settings/theme.jpg?name=../evening.toml").status_code == 404
    assert (now.mail_days, now.weights["focus"], now.weights["noise"]) == (30, 7.5, WEIGHTS["noise"])
    lines = {(line.who, line.message.words(WORDS)) for line in audit.lines(storage, 20)}
    assert ("Ada", "the programme's name set to Pier Light") in lines
    assert ("Ada", "the place set to 37.8, -8.72, 0") in lines
    assert ("Ada", "the weight of focus set to 7.5") in lines
    count = audit.count(storage)
    assert save(client, programme_name="Pier Light", weight_focus="7.5").status_code == 303
    assert audit.count(storage) == count  # nothing changed, nothing told
    assert save(client, latitude="", longitude="", height_m="").status_code == 303
    assert load_config(config.data_dir).programme.place is None


def test_the_file_goes_before_and_the_page_says_so(config, storage):
    (config.data_dir / CONFIG_NAME).write_text(FILE)
    keep_settings(
        storage,
        {"programme.name": "Pier Light", "programme.place": None, "weights.focus": 1.0, "weights.noise": 2.0},
        NOW,
        "Ada",
    )
    told = load_config(config.data_dir)
    assert (told.programme.name, told.programme.place) == ("Lantern Hour", Place(37.8, -8.72, 0))
    assert (told.weights["focus"], told.weights["noise"]) == (4.0, 2.0)
    app = create_app(told, now=lambda: NOW)
    client = app.test_client()
    log_in(client, config.data_dir, make_account(config.data_dir))
    page = client.get("/settings").text
    assert page.count("Set in moondesk.toml.") == 5  # name, latitude, longitude, height, focus
    for name in ("programme_name", "latitude", "weight_focus"):
        assert re.search(rf'<input id="{name}"[^>]*disabled', page), name
    assert not re.search(r'<input id="weight_noise"[^>]*disabled', page)
    assert save(client, programme_name="Mine", weight_focus="9", weight_noise="3").status_code == 303
    assert settings(storage)["programme.name"] == "Pier Light"  # a field that is fixed is not looked at
    again = load_config(config.data_dir)
    assert (again.programme.name, again.weights["focus"], again.weights["noise"]) == ("Lantern Hour", 4.0, 3.0)


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("programme_name", " ", "Please type"),
        ("programme_name", "x" * 81, "it has 81"),
        ("zone", "Moon/Base", "of the list"),
        ("zone", "../../etc/passwd", "of the list"),
        ("zone", "", "of the list"),
        ("latitude", "91", "-90 to 90 degrees north"),
        ("latitude", "48°", "-90 to 90 degrees north"),
        ("longitude", "181", "-180 to 180 degrees east"),
        ("longitude", "nan", "-180 to 180 degrees east"),
        ("longitude", "1e3", "-180 to 180 degrees east"),
        ("height_m", "9001", "Metres"),
        ("rule", "any", "of the list"),
        ("first_number", "2", "of the list"),
        ("hour", "11:59", "12:00 to 23:59"),
        ("hour", "20", "12:00 to 23:59"),
        ("hour", "20:60", "12:00 to 23:59"),
        ("hour", "24:00", "12:00 to 23:59"),
        ("theme", "../evening.toml", "of the list"),
        ("paper", "a3", "of the list"),
        ("mail_days", "-1", "number of days"),
        ("mail_days", "90.5", "number of days"),
        ("mail_days", "٣", "number of days"),
        ("weight_focus", "10.1", "from 0 to 10"),
        ("weight_focus", "", "from 0 to 10"),
        ("weight_focus", "-1", "from 0 to 10"),
    ],
)
def test_what_is_wrong_is_told_beside_its_field_and_nothing_is_saved(client, storage, field, text, words):
    typed = {"programme_name": "Pier Light", "latitude": "37.8", "longitude": "-8.7", "height_m": "", field: text}
    answer = save(client, **typed)
    assert answer.status_code == 422
    assert words in complaint_of(answer, field)
    assert settings(storage) == {}


def test_a_height_alone_and_half_a_place_are_none(client):
    assert "no place" in complaint_of(save(client, latitude="", longitude="", height_m="40"), "height_m")
    half = save(client, latitude="48", longitude="", height_m="")
    assert "-180 to 180 degrees east" in complaint_of(half, "longitude")


def test_a_changed_day_rule_counts_at_once_and_the_editions_anew(client, config, storage):
    """New Moon was on 2026 March 19, 01:23 UTC (almanac, from memory): day 1 or 0 is that evening, or the 18th's."""
    add_edition(storage, EditionPlan(number=1, evenings=(date(2026, 3, 25),), day_number=7))
    assert "the evening of 25 March 2026 is day 7" in client.get("/settings").text  # it is the morning after
    rule = {"rule": "first evening after new Moon", "first_number": "0", "hour": "20:00"}
    assert save(client, **rule).status_code == 303
    assert "is day 6" in client.get("/settings").text
    assert read_edition(storage, 1).plan.day_number == 6
    assert save(client, zone="America/Los_Angeles").status_code == 303  # there it fell on the 18th, at 18:23
    assert read_edition(storage, 1).plan.day_number == 7


def test_two_who_change_settings_at_once_are_told(client, storage):
    page = client.get("/settings").text
    state = re.search(r'name="state" value="(\w+)"', page)[1]
    keep_settings(storage, {"programme.name": "Theirs"}, NOW, "Cleo")
    mine = post(client, "/settings", state=state, programme_name="Mine")
    assert (mine.status_code, "Somebody else changed the settings" in mine.text) == (409, True)
    assert 'value="Mine"' in mine.text
    assert settings(storage)["programme.name"] == "Theirs"
    assert save(client, programme_name="Mine").status_code == 303  # knowing it


def test_every_field_of_the_form_reads_back_as_it_stands():
    config = Config(data_dir=None)
    for one in (
        config,
        replace(
            config,
            programme=replace(config.programme, place=Place(-33.123456, 18.5, 12.5)),
            days={"first_number": 0, "hour": 19 + 1 / 3},
            mail_days=0,
        ),
    ):
        reading = read_settings(current_form(one), one)
        assert reading.complaints == {}
        same = with_settings(config, reading.values)
        assert current_form(same) == current_form(one)
        assert same.programme == one.programme
    assert set(WEIGHT_WORDS) == set(WEIGHTS)
    assert set(FIELDS) == set(current_form(config))


def test_a_setting_of_the_desk_without_a_field_of_its_own_has_a_plain_line(client, config, monkeypatch):
    row = all_settings()["limits.table_rows"]
    monkeypatch.setitem(settings_form.PLAIN, "limits_table_rows", row)
    monkeypatch.setitem(FIELDS, "limits_table_rows", row.key)
    assert re.search(r'for="limits_table_rows">Rows of one table<', client.get("/settings").text)
    assert read_settings({"limits_table_rows": " 500 "}, config).values == {row.key: 500}
    assert "limits_table_rows" in read_settings({"limits_table_rows": "many"}, config).complaints


def test_a_time_of_two_clocks_is_shown_in_the_programmes_zone(client, storage):
    with storage.writing():
        audit.note(storage, NOW, "", "sender_forgotten", count=2)  # by the program itself
    page = client.get("/audit").text
    assert "26 March 2026, 09:00 (08:00 UTC)" in page
    assert re.search(r"<b>moondesk</b> <span>a sender was forgotten", page)
    assert page.index("a sender was forgotten") < page.index("account Ada made")
    with storage.writing():
        for k in range(205):
            audit.note(storage, NOW, "Ada", "letter_read", letter=k)
    assert "Page 1 of 3" in client.get("/audit").text
    assert "account Ada made" in client.get("/audit?page=3").text
    for odd in ("0", "-1", "x", "99999999999", "²"):
        assert client.get(f"/audit?page={odd}").status_code == 200, odd


# --- editions ---------------------------------------------------------------------------------------------------------


def an_edition(number, air=None):
    return Edition(number, EditionPlan(number=number, air_utc=air))


def test_the_next_edition_is_the_chosen_one_until_it_is_aired():
    old, soon, later = an_edition(1, NOW - timedelta(days=1)), an_edition(2, NOW + timedelta(days=1)), an_edition(3)
    every = (later, soon, old)
    assert next_to_air(every, None, NOW) == soon
    assert next_to_air(every, 3, NOW) == later
    assert next_to_air(every, 1, NOW) == soon  # aired
    assert next_to_air(every, 9, NOW) == soon  # no such
    assert next_to_air((old,), 1, NOW) == old
    assert next_to_air((), 1, NOW) is None


def test_editions_are_added_changed_and_chosen(client, config, storage):
    answer = post(
        client,
        "/editions",
        "/editions",
        number="412",
        kind="live",
        air="2026-04-02T20:00",
        recording="",
        evenings=["2026-03-25", "", "2026-03-24"],
    )
    assert (answer.status_code, answer.headers["Location"]) == (303, "/editions?done=added")
    plan = read_edition(storage, 412).plan
    assert plan == EditionPlan(
        number=412,
        kind="live",
        recording_utc=None,
        air_utc=datetime(2026, 4, 2, 18, tzinfo=UTC),
        evenings=(date(2026, 3, 24), date(2026, 3, 25)),
        day_number=6,
    )
    assert post(client, "/editions", "/editions", number="412", kind="live").status_code == 422
    assert (
        post(
            client,
            "/editions",
            "/editions",
            number="413",
            kind="recorded",
            recording="2026-04-09T15:00",
            air="2026-04-09T20:00",
        ).status_code
        == 303
    )
    page = client.get("/editions").text
    assert page.index("Edition 413") < page.index("Edition 412")
    assert page.count("next to air") == 1
    assert open_edition(storage, load_config(config.data_dir), NOW, lambda _: None).plan.number == 412
    assert post(client, "/editions/next", "/editions", number="413").status_code == 303
    assert "Follow the numbers again" in client.get("/editions").text
    assert open_edition(storage, load_config(config.data_dir), NOW, lambda _: None).plan.number == 413
    form = client.get("/editions/413").text
    assert 'value="2026-04-09T15:00"' in form
    state = re.search(r'name="state" value="([^"]+)"', form)[1]
    moved = {"kind": "recorded", "recording": "2026-04-09T15:00", "air": "2026-04-10T20:00"}
    assert post(client, "/editions/413", "/editions", number="412", state=state, **moved).status_code == 409
    assert post(client, "/editions/413", "/editions", number="414", state=state, **moved).status_code == 303
    assert load_config(config.data_dir).next_edition == 414  # the choice goes with its number
    assert client.get("/editions/413").status_code == 404
    stale = post(client, "/editions/414", "/editions", number="414", state=state, **moved)
    assert (stale.status_code, "Somebody changed this edition" in stale.text) == (409, True)
    assert post(client, "/editions/next", "/editions", number="").status_code == 303
    assert post(client, "/editions/next", "/editions", number="7").status_code == 422
    assert open_edition(storage, load_config(config.data_dir), NOW, lambda _: None).plan.number == 412
    said = [line.message.words(WORDS) for line in audit.lines(storage, 20)]
    assert "edition 412 added" in said
    assert "edition 413, now 414, changed" in said


@pytest.mark.parametrize(
    ("typed", "evenings", "field"),
    [
        ({"number": ""}, [], "number"),
        ({"number": "0"}, [], "number"),
        ({"number": "-3"}, [], "number"),
        ({"number": "12345678"}, [], "number"),
        ({"kind": "streamed"}, [], "kind"),
        ({"air": "soon"}, [], "air"),
        ({"recording": "2026-04-09T15:00"}, [], "recording"),  # live
        ({"kind": "recorded", "recording": "2026-04-09T15:00", "air": "2026-04-09T15:00"}, [], "air"),
        ({"air": "2026-03-29T02:30"}, [], "air"),  # the clocks jump over it
        ({"air": "2026-10-25T02:30"}, [], "air"),  # and show this one twice
        ({}, ["2026-02-30"], "evenings"),
        ({}, ["1850-01-01"], "evenings"),
        ({}, ["x"], "evenings"),
    ],
)
def test_what_is_wrong_with_an_edition_is_told_beside_its_field(typed, evenings, field):
    reading = read_edition_form({"number": "5", "kind": "live", **typed}, evenings, "Europe/Vienna")
    assert (reading.plan, list(reading.complaints)) == (None, [field])


def test_an_edition_reads_back_as_it_stands():
    plan = EditionPlan(
        number=5,
        kind="recorded",
        recording_utc=datetime(2026, 4, 9, 13, tzinfo=UTC),
        air_utc=datetime(2026, 4, 9, 18, tzinfo=UTC),
        evenings=tuple(date(2026, 3, k) for k in range(20, 26)),
    )
    typed = read_plan(plan, "Europe/Vienna")
    assert (typed.recording, typed.evenings[-1]) == ("2026-04-09T15:00", "")
    form = {"number": typed.number, "kind": typed.kind, "recording": typed.recording, "air": typed.air}
    assert read_edition_form(form, list(typed.evenings), "Europe/Vienna").plan == plan


def test_an_edition_that_is_changed_under_ones_hands_is_refused(storage):
    from moondesk.service.store.editions import change_edition

    before = add_edition(storage, EditionPlan(number=1))
    change_edition(storage, before, EditionPlan(number=2), NOW, "Ada")
    with pytest.raises(BadInputError, match="meanwhile"):
        change_edition(storage, before, EditionPlan(number=3), NOW, "Bo")


def test_without_accounts_whoever_sits_at_the_machine_sets_and_is_named_so(app, storage):
    client = app.test_client()
    assert save(client, programme_name="Pier Light").status_code == 303
    (line,) = audit.lines(storage, 1)
    assert (line.who, line.message.words(WORDS)) == ("desk", "the programme's name set to Pier Light")


# --- the pages --------------------------------------------------------------------------------------------------------

PAGES = {
    "login.html": LoginPage,
    "setup.html": SetupPage,
    "people.html": PeoplePage,
    "account.html": AccountPage,
    "settings.html": SettingsPage,
    "editions.html": EditionsPage,
    "edition.html": EditionPage,
    "audit.html": AuditPage,
}


@pytest.mark.parametrize("template", PAGES)
def test_a_template_uses_every_field_of_its_record_and_nothing_else(app, template):
    from jinja2 import meta, nodes

    names, own = set(), {"url_for"}
    for name in (template, "base.html"):
        tree = app.jinja_env.parse(app.jinja_env.loader.get_source(app.jinja_env, name)[0])
        names |= meta.find_undeclared_variables(tree)
        own |= {n for imported in tree.find_all(nodes.FromImport) for n in imported.names}
        own |= {n.name for n in tree.find_all(nodes.Name) if n.ctx == "store"}
    assert names - own == {f.name for f in fields(PAGES[template])}


def test_every_field_has_its_label_and_no_page_has_inline_code(client, app, storage, config):
    add_edition(storage, EditionPlan(number=1))
    make_account(config.data_dir, "Bo", "helper")
    stranger = app.test_client()
    mine = ("/people", "/account", "/settings", "/editions", "/editions/1", "/audit")
    for asked, path in [*((client, p) for p in mine), (stranger, "/login")]:
        page = asked.get(path).text
        ids = re.findall(r'<(?:input|select|textarea)[^>]* id="([^"]+)"', page)
        assert len(ids) == len(set(re.findall(r'\sid="([^"]+)"', page)) & set(ids)), path  # none twice
        assert set(ids) == set(re.findall(r'<label[^>]* for="([^"]+)"', page)), path
        unnamed = [f for f in re.findall(r"<(?:input|select)[^>]*>", page) if "id=" not in f and "hidden" not in f]
        assert unnamed == [], path
        for described in re.findall(r'aria-describedby="([^"]+)"', page):
            assert all(f'id="{one}"' in page for one in described.split()), (path, described)
        assert page.count("<h1") == 1, path
        assert not re.search(r"<style|style=|\son\w+=|<script(?! src=\"/static/)", page), path
        assert page.count('method="post"') == page.count('name="token"'), path


def test_the_header_names_who_is_logged_in_on_every_page_and_on_errors(client):
    for path in ("/", "/people", "/nowhere", "/pictures/999"):
        page = client.get(path).text
        assert ">Ada</a>" in page, path
        assert re.search(r'action="/logout"><input type="hidden" name="token" value="\d', page), path
        assert "No accounts yet" not in page, path
    assert token_of(client, "/nowhere")
