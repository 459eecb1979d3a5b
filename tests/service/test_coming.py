"""The evenings to come: what the page says against skyfield with DE421, its cautions, its drawings, its edges."""

from __future__ import annotations

import itertools
import re
from dataclasses import fields, replace
from datetime import UTC, date, datetime, time, timedelta
from importlib.util import find_spec
from pathlib import Path
from zoneinfo import ZoneInfo

import cv2
import numpy as np
import pytest

from moondesk.ephemeris.rise_and_set import NightWindow
from moondesk.records import Feature, FeatureMark, Place
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.programme.evenings_to_come import Air, air_of, evening_air, evening_to_come, first_evening
from moondesk.service.programme.viewer_requests import OPTICS, EveningSky, cautions, requests
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.records import Edition, EditionPlan
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.coming.coming_page import ComingPage, change_words

VIENNA = Place(48.2, 16.4, 170.0)


@pytest.fixture
def config(tmp_path):
    return Config(data_dir=tmp_path / "data", programme=Programme("The Evening Sky", "Europe/Vienna", VIENNA))


@pytest.fixture
def client(config):
    return create_app(config).test_client()


@pytest.fixture(scope="module")
def skyfield_sky():
    """when -> (Moon's height, Sun's height, their distance), degrees, in Vienna, by skyfield and JPL DE421."""
    api = pytest.importorskip("skyfield.api", reason="the comparison needs skyfield")
    spec = find_spec("skyfield_data")
    path = Path(spec.origin).parent / "data/de421.bsp" if spec and spec.origin else None
    if path is None or not path.is_file():
        pytest.skip("package skyfield-data (DE421) is not installed")
    eph, ts = api.load_file(str(path)), api.load.timescale(builtin=True)
    observer = eph["earth"] + api.wgs84.latlon(VIENNA.latitude_deg, VIENNA.longitude_deg, VIENNA.height_m)

    def sky(when):
        at = observer.at(ts.from_datetime(when))
        moon, sun = (at.observe(eph[body]).apparent() for body in ("moon", "sun"))
        return moon.altaz()[0].degrees, sun.altaz()[0].degrees, moon.separation_from(sun).degrees

    yield sky
    eph.close()


def test_a_whole_lunation_says_where_the_moon_is_and_never_forgets_the_sun(client, skyfield_sky):
    """Air time is 20:00 in Vienna: dark in March 2026, and in May and June before sunset."""
    seen = set()
    days = [date(2026, 3, 1) + timedelta(days=k) for k in range(30)] + [date(2026, 5, k) for k in (16, 19, 26)]
    for day in days:
        page = client.get(f"/coming?evening={day}").get_data(as_text=True)
        moon, sun, apart = skyfield_sky(datetime(day.year, day.month, day.day, 20, tzinfo=ZoneInfo("Europe/Vienna")))
        if moon > 0.1:
            assert f"{moon:.0f}° high in the" in page or f"{moon - 0.02:.0f}° high in the" in page, day
        elif moon < -0.1:
            assert "Below the horizon" in page, day
        near, up = bool(apart < 45), bool(sun > -50 / 60)
        seen.add((near, up))
        assert ("Never point a telescope" in page) == (near or up), day
        assert ("lost in its glare" in page) == (apart < 12), day
        assert ("The Sun is still up on air" in page) == (up and apart >= 12), day
        if apart < 12:
            assert "Nothing this evening" in page
    assert len(seen) == 4, "not every case came up"


def test_the_caution_names_when_the_sun_is_down(client, skyfield_sky):
    """By skyfield: the Sun's centre 50 arc minutes below the horizon, searched minute by minute."""
    start = datetime(2026, 5, 19, 17, 0, tzinfo=UTC)
    sets = next(w for k in range(200) if skyfield_sky(w := start + timedelta(minutes=k))[1] < -50 / 60)
    page = client.get("/coming?evening=2026-05-19").get_data(as_text=True)
    told = re.search(r"after the Sun has set entirely, at \d\d:\d\d \((\d\d):(\d\d) UTC\) over a level horizon", page)
    assert told
    assert abs(start.replace(hour=int(told[1]), minute=int(told[2])) - sets) <= timedelta(minutes=1)
    assert "earthshine" in page


def test_the_page_of_an_evening_after_first_quarter(client):
    page = client.get("/coming?from=2026-03-26").get_data(as_text=True)
    assert page.count("/moon.png?size=small") == 7
    for words in (
        "Thursday, 26 March 2026, day 8",
        "48.20° N, 16.40° E",
        "On air at 20:00 (no edition has",
        "Full Moon",
        "2 April 2026, 04:1",
        "growing",
        "Sun is rising there",
        "Plato",
        "Montes Alpes",
        "As the eye sees it",
        'id="layer-terminator"',
        "Comes into the light by the evening after",
    ):
        assert words in page, words
    assert "Copernicus" in page.split('id="next"')[1]  # dark on the 26th, lit on the 27th
    assert "Copernicus" not in page.split('id="near"')[1].split('id="next"')[0]


def test_north_up_is_offered_and_is_another_drawing(client):
    eye, north = (
        client.get(f"/coming?evening=2026-03-26&view={view}").get_data(as_text=True) for view in ("eye", "north")
    )
    assert "zenith up" in eye
    assert "north up, not mirrored" in north

    def large(page):
        return re.search(r'<image href="([^"]+)"', page)[1].replace("&amp;", "&")

    shown = []
    for page in (eye, north):
        with client.get(large(page)) as response:
            assert (response.status_code, response.mimetype) == (200, "image/png")
            shown.append(cv2.imdecode(np.frombuffer(response.data, np.uint8), cv2.IMREAD_GRAYSCALE))
    assert shown[0].shape == shown[1].shape == (1000, 1000)
    assert np.abs(shown[0].astype(float) - shown[1]).mean() > 10


def test_drawings_are_kept_and_may_be_deleted(client, config):
    address = "/coming/2026-03-26/moon.png?size=small"
    with client.get(address) as response:
        first = response.data
    kept = list((config.data_dir / "derived" / "sky").glob("*.png"))
    assert len(kept) == 1
    with client.get(address) as response:
        assert response.data == first
    kept[0].unlink()
    with client.get(address) as response:
        assert response.data == first


def test_without_a_place_it_says_what_cannot_be_told(tmp_path):
    client = create_app(
        Config(data_dir=tmp_path / "data", programme=Programme("The Evening Sky", "Europe/Vienna"))
    ).test_client()
    page = client.get("/coming?from=2026-03-26").get_data(as_text=True)
    assert "place is not set: heights" in page
    assert "As the eye sees it" not in page
    assert "Moon on air" not in page
    assert "north up, not mirrored" in page
    assert "Never point a telescope" in client.get("/coming?from=2026-03-20").get_data(as_text=True)


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/coming?from=yesterday", 400),
        ("/coming?evening=2026-02-30", 400),
        ("/coming?from=1850-01-01", 400),
        ("/coming?from=9999-12-31", 400),
        ("/coming/2026-13-01/moon.png", 400),
        ("/coming/2026-03-26/moon.png?size=9000", 404),
        ("/coming?view=' or 1", 200),
        ("/coming", 200),
        ("/coming?from=2026-03-26&evening=2026-09-01", 200),
        ("/coming?from=1900-03-01", 200),
        ("/coming?from=2099-10-31", 200),
    ],
)
def test_odd_addresses(client, path, status):
    assert client.get(path).status_code == status


def test_air_time_is_that_of_the_newest_edition_and_may_be_after_midnight(config):
    calendar = load_calendar(config)
    plans = [
        EditionPlan(
            number=7, kind="live", recording_utc=None, air_utc=datetime(2026, 3, 26, 23, 30, tzinfo=UTC)
        ),  # 00:30 in Vienna
        EditionPlan(number=6, kind="live", recording_utc=None, air_utc=datetime(2026, 3, 25, 19, 0, tzinfo=UTC)),
        EditionPlan(number=8),
    ]
    air = air_of([Edition(k, plan) for k, plan in enumerate(plans)], calendar)
    assert (air.clock, air.source) == (time(0, 30), "as edition 7")
    assert evening_air(date(2026, 3, 25), air, "Europe/Vienna") == (plans[1].air_utc, 6)
    assert evening_air(date(2026, 3, 26), air, "Europe/Vienna") == (plans[0].air_utc, 7)
    # summer time begins in the night to 29 March: 00:30 is before it, a day later it is 22:30 UTC
    assert evening_air(date(2026, 3, 28), air, "Europe/Vienna")[0] == datetime(2026, 3, 28, 23, 30, tzinfo=UTC)
    assert evening_air(date(2026, 3, 29), air, "Europe/Vienna")[0] == datetime(2026, 3, 29, 22, 30, tzinfo=UTC)
    none = air_of([], load_calendar(replace(config, days={"hour": 21.5})))
    assert none.clock == time(21, 30)


def test_this_evening_lasts_until_six_hours_after_the_programme(config):
    calendar, air = load_calendar(config), Air(time(20, 0), "")
    for now, expected in (((26, 9), 26), ((26, 19), 26), ((26, 23), 26), ((27, 2), 27)):
        assert first_evening(datetime(2026, 3, *now, tzinfo=UTC), air, calendar) == date(2026, 3, expected)


def test_a_moon_that_is_down_on_air_is_drawn_for_when_it_is_up(client):
    page = client.get("/coming?evening=2026-04-08").get_data(as_text=True)
    assert "Below the horizon" in page
    assert "Drawn from maps for 9 April 2026, 0" in page
    assert "Sun is setting there" in page
    assert "Goes into the dark by the evening after" in page
    assert "Sun just up" not in page  # it goes down there
    assert "Below the horizon on air" in page


def mark(name, kind, size, lit=1.0):
    return FeatureMark(
        feature=Feature(name=name, kind=kind, lat_deg=0.0, lon_deg=0.0, size_km=size),
        x=0,
        y=0,
        sigma_px=0,
        radius_px=1,
        sun_altitude_deg=5.0,
        cos_view=1.0,
        lit_fraction=lit,
        seen=1.0,
        prominence=0.5,
    )


def test_what_is_asked_for_goes_by_what_each_equipment_shows():
    evening = evening_to_come(date(2026, 3, 26), Air(time(20, 0), ""), "Europe/Vienna", VIENNA)
    sky = EveningSky(
        on_air=evening.on_air, caution="none", night=None, sun_up_on_air=False, waxing=True, eclipse="none"
    )
    marks = [
        mark("Plato", "crater", 101),
        mark("Pico", "mountain", 25),
        mark("Lassell", "crater", 23),
        mark("Rima Hadley", "rille", 116),
        mark("Gruemberger", "crater", 93, lit=0.1),
    ]
    assert requests(sky, marks) == (
        ("Phone at binoculars or an eyepiece", "Plato"),
        ("Small telescope", "Pico"),
        ("Larger telescope", "Lassell and Rima Hadley"),
    )
    assert requests(replace(sky, caution="lost"), marks) == ()
    assert requests(replace(sky, eclipse="total"), [])[0][1].startswith("the total eclipse")
    full = replace(sky, on_air=replace(sky.on_air, phase_angle_deg=3.0))
    assert [kit for kit, _ in requests(full, marks)] == ["Any telescope or long lens"]


def test_the_mornings_crescent_is_to_be_left_before_the_sun_rises():
    end = datetime(2026, 4, 15, 10, 0, tzinfo=UTC)
    rises = end - timedelta(hours=6)
    night = NightWindow(end - timedelta(days=1), end, (), ((rises, end),))
    one = evening_to_come(date(2026, 4, 14), Air(time(20, 0), ""), "Europe/Vienna", VIENNA)
    said = cautions(
        EveningSky(on_air=one.on_air, caution="near", night=night, sun_up_on_air=False, waxing=False, eclipse="none"),
        {rises: "06:00"},
    )
    assert len(said) == 1
    assert "finished well before the Sun rises, at 06:00 over a level horizon" in said[0]
    assert OPTICS in said[0]


def test_changes_in_words():
    from moondesk.comparison.changed_light import LightChange

    f = Feature(name="Copernicus", kind="crater", lat_deg=9.6, lon_deg=-20.1, size_km=96.0)
    assert (
        change_words(
            LightChange(
                feature=f,
                amount="whole",
                sun_before_deg=-10.0,
                sun_after_deg=2.4,
                lit_before=0.0,
                lit_after=1.0,
                prominence=0.5,
            )
        )
        == "lit now, Sun 2° high"
    )
    assert (
        change_words(
            LightChange(
                feature=f,
                amount="partly",
                sun_before_deg=-1.0,
                sun_after_deg=0.2,
                lit_before=0.2,
                lit_after=0.62,
                prominence=0.5,
            ),
            "then",
        )
        == "60 % lit then, 20 % before"
    )
    assert (
        change_words(
            LightChange(
                feature=f,
                amount="whole",
                sun_before_deg=4.0,
                sun_after_deg=-6.0,
                lit_before=1.0,
                lit_after=0.0,
                prominence=0.5,
            )
        )
        == "dark now, Sun 6° down"
    )
    assert (
        change_words(
            LightChange(
                feature=f,
                amount="partly",
                sun_before_deg=4.0,
                sun_after_deg=0.0,
                lit_before=1.0,
                lit_after=0.4,
                prominence=0.5,
            )
        )
        == "40 % still lit now, 100 % before"
    )


def test_the_template_uses_every_field_and_nothing_else(config):
    from jinja2 import meta, nodes

    environment = create_app(config).jinja_env
    tree = environment.parse(environment.loader.get_source(environment, "coming.html")[0])
    own = {macro.name for macro in tree.find_all(nodes.Macro)}
    names = meta.find_undeclared_variables(tree) - own - {"url_for"}
    assert names | {"programme"} == {f.name for f in fields(ComingPage)}


def test_the_page_holds_nothing_inline_and_its_headings_are_in_order(client):
    page = client.get("/coming?evening=2026-03-21").get_data(as_text=True)
    assert not re.search(r"<style|style=|\son\w+=|javascript:", page)
    levels = [int(n) for n in re.findall(r"<h([1-6])", page)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
