"""The picture's page: what its scripts are given, what is said to be sure, views by time and place."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, datetime

import fakes
import pytest

from moondesk.drawing import annotate_turned, turn_for
from moondesk.records import Clock, Evening, EveningKnowledge, EveningVerdict, Place, TimeCandidate
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.turned_layouts import VIEWS, TurnedLayout, lay_out
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.programme.certainty_words import certainty
from moondesk.service.settings.config import Programme
from moondesk.service.store.decided import Decision
from moondesk.service.store.pictures import list_pictures
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.picture.decision_words import decision_rows, words_of
from moondesk.service.web.desk.picture.picture_data import COLUMNS, features_json, surface_json, well_known
from moondesk.service.web.desk.picture.picture_page import apart_words, readings, views_of

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
VIENNA, CAPE = Place(48.2, 16.4), Place(-33.9, 18.4)


@pytest.fixture
def placed(folder, storage, media, config):
    """Ids of pictures by name: sure, unsure, not the Moon, refused."""
    (folder / "d.png").write_bytes(fakes.png(fakes.NOT_MOON))
    (folder / "e.png").write_bytes(fakes.png(fakes.UNSURE))
    edition = open_edition(storage, config, NOW, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    return {p.picture.enclosure.given_name: p.picture.id for p in list_pictures(storage, edition.id)}


def client_of(config, **programme):
    app = create_app(replace(config, programme=replace(config.programme, **programme)), now=lambda: NOW)
    app.extensions["moondesk.workshop"] = WarmPool(fakes.load, 60, InProcess())
    return app.test_client()


@pytest.fixture
def client(config):
    return client_of(config)


# --- what the scripts ask for ----------------------------------------------------------------------------------------


def test_features_with_their_facts_and_how_well_they_are_seen(client, placed):
    told = client.get(f"/pictures/{placed['a.png']}/features.json").json
    assert tuple(told["columns"]) == COLUMNS
    rows = {row[0]: dict(zip(COLUMNS, row, strict=True)) for row in told["rows"]}
    crater, sea, dark = rows["Copernicus"], rows["Mare Imbrium"], rows["Grimaldi"]
    assert (crater["kind"], crater["size_km"], crater["x"], crater["y"], crater["radius"]) == (
        "crater",
        96.0,
        30.0,
        30.0,
        3.0,
    )
    assert (crater["light"], crater["seen_words"]) == ("Sun 12° high", "clearly seen")
    assert sea["meaning"] == "Sea of Rains"
    assert (dark["light"], dark["seen_words"]) == ("in the dark", "cannot be seen")
    assert told["rows"][0][0] == "Copernicus"  # what to point at first leads


def test_nothing_is_named_where_nothing_is_placed(client, placed):
    lamp = placed["d.png"]
    assert client.get(f"/pictures/{lamp}/features.json").json["rows"] == []
    assert client.get(f"/pictures/{lamp}/surface.json").json["pose"] is None
    for path in ("features.json", "surface.json", "views/upright.json"):
        assert client.get(f"/pictures/{placed['page.jpg']}/{path}").status_code == 404  # refused: never placed
        assert client.get(f"/pictures/999/{path}").status_code == 404
    assert client.get(f"/pictures/{placed['a.png']}/views/inside-out.json").status_code == 404
    told = client.get(f"/pictures/{lamp}/views/upright.json").json
    assert "placed picture" in told["notice"]


def test_the_pose_for_measuring_is_all_numbers():
    told = surface_json(fakes.annotation())
    assert told["radius_km"] == 1737.4  # IAU mean radius, Archinal et al. 2018
    assert told["sure"] is True
    assert (told["pose"]["x"], told["pose"]["mirrored"]) == (40.0, True)
    json.dumps(told, allow_nan=False)  # scores that were not measured are left out
    assert "score" not in told["pose"]
    assert surface_json(fakes.annotation(sure=False))["sure"] is False
    assert surface_json(None)["pose"] is None
    assert features_json(None)["rows"] == []


def test_names_for_pins_are_those_of_the_near_side(client):
    known = client.get("/names.json").json
    assert {"Tycho", "Plato", "Mare Crisium", "Montes Apenninus"} <= set(known)
    assert "Tsiolkovskiy" not in known  # on the far side, 129 degrees east (IAU gazetteer)
    assert 300 < len(well_known()) < 1500


# --- views -----------------------------------------------------------------------------------------------------------


def test_views_by_what_is_known(config):
    placed = fakes.annotation()
    there = replace(config, programme=Programme("x", "UTC", VIENNA))
    south = replace(config, programme=Programme("x", "UTC", CAPE))
    assert [slug for slug, _ in views_of(placed, config.programme.place)] == ["upright"]
    assert [slug for slug, _ in views_of(placed, there.programme.place)] == ["upright", "eye"]
    assert [slug for slug, _ in views_of(placed, south.programme.place)] == ["upright", "eye", "south"]
    assert [slug for slug, _ in views_of(replace(placed, time=None), there.programme.place)] == ["upright"]
    assert views_of(fakes.bare("not_moon"), there.programme.place) == ()
    assert views_of(None, there.programme.place) == ()


@pytest.mark.parametrize("view", ["upright", "south"])
def test_a_view_takes_the_pictures_pixels_where_its_overlay_has_them(view):
    annotation = fakes.annotation()
    laid = lay_out(fakes.load(), annotation, view, None)
    assert isinstance(laid, TurnedLayout)
    north = 0.0 if view == "upright" else 180.0
    turned = annotate_turned(annotation, turn_for(annotation, north))
    a, b, c, d, e, f = laid.matrix
    for mark, there in zip(annotation.features, turned.features, strict=True):
        assert (a * mark.x + c * mark.y + e, b * mark.x + d * mark.y + f) == pytest.approx((there.x, there.y))
    assert laid.box == (-0.5, -0.5, turned.width, turned.height)
    assert f'viewBox="-0.5 -0.5 {turned.width} {turned.height}"' in laid.svg
    assert a * d - b * c == pytest.approx(-1.0)  # mirrored as sent, so mirrored back
    assert laid.utc is None


def test_looked_at_closely_names_are_smaller_and_the_picture_lies_as_before(client, placed):
    """Text of half the size on the same pixels, so that it is as large on a screen that shows them twice as large."""
    annotation = fakes.annotation()
    plain, fine = (lay_out(fakes.load(), annotation, "sent", None, size) for size in (1.0, 0.55))
    assert plain.matrix == pytest.approx((1, 0, 0, 1, 0, 0))
    assert (plain.box, plain.font_px) == (fine.box, fine.font_px) == ((-0.5, -0.5, 80.0, 60.0), plain.font_px)
    sizes = [min(float(v) for v in re.findall(r'<text[^>]*font-size="([\d.]+)"', laid.svg)) for laid in (plain, fine)]
    assert sizes[1] == pytest.approx(0.55 * sizes[0], rel=0.02)
    address = f"/pictures/{placed['a.png']}/views/sent.json"
    assert client.get(f"{address}?text=0.3").json["box"] == [-0.5, -0.5, 80.0, 60.0]
    for wrong in ("0.31", "nan", "", "1e9"):
        assert client.get(f"{address}?text={wrong}").status_code == 404, wrong


def test_north_and_south_of_the_equator_the_eye_sees_it_the_other_way_up():
    """At the meridian, by hand: looking south from Vienna the Moon's north is up; looking north from the Cape it is
    down. 2026 March 25, 19:04 UTC: the Moon near first quarter, high in both places."""

    def up(place):
        laid = lay_out(fakes.load(), fakes.annotation(), "eye", place)
        assert laid.altitude_deg > 5
        a, b, c, d, _, _ = laid.matrix
        # the picture's north lies 12 degrees left of up: where does the view put it?
        x, y = -0.2079, -0.9781
        return -(b * x + d * y), a * x + c * y

    assert up(VIENNA)[0] > 0.5
    assert up(CAPE)[0] < -0.5


def test_the_eye_wants_time_and_place():
    engine, placed = fakes.load(), fakes.annotation()
    assert "place" in lay_out(engine, placed, "eye", None).reason
    assert "time" in lay_out(engine, replace(placed, time=None), "eye", VIENNA).reason
    assert "placed" in lay_out(engine, fakes.bare("disc_only"), "upright", VIENNA).reason
    for wrong in (("backwards", VIENNA), ("upright", VIENNA, 0.7)):
        with pytest.raises(ValueError, match="no view"):
            lay_out(engine, placed, *wrong)
    assert set(VIEWS) == {"sent", "upright", "south", "eye"}


def test_the_view_of_the_eye_says_when_and_how_high(config, placed):
    client = client_of(config, place=VIENNA)
    page = client.get(f"/pictures/{placed['a.png']}").get_data(as_text=True)
    assert 'value="eye"' in page
    assert 'value="south"' not in page
    told = client.get(f"/pictures/{placed['a.png']}/views/eye.json").json
    assert re.search(r"at 20:04 \(19:04 UTC\), the Moon \d+° high", told["words"])
    assert 'id="layer-' in told["markup"]
    assert 'value="south"' in client_of(config, place=CAPE).get(f"/pictures/{placed['a.png']}").get_data(as_text=True)


# --- what is said to be sure -----------------------------------------------------------------------------------------


def test_sure_and_not_sure_one_sentence_each():
    sure = {s.about: s for s in certainty(fakes.annotation())}
    assert [(about, s.tone) for about, s in sure.items()] == [
        ("Names", "sure"),
        ("Which way round", "sure"),
        ("Time told", "sure"),
        ("Evening", "unsure"),
        ("To be seen", "sure"),
    ]
    assert "within 1.2 km" in sure["Names"].words  # 0.07 % of 1737.4 km
    assert "exchanged" in sure["Which way round"].words
    unsure = {s.about: s for s in certainty(fakes.annotation(sure=False))}
    assert unsure["Names"].tone == "unsure"
    assert unsure["Names"].words == "Two turns fit nearly as well."
    assert unsure["Which way round"].tone == "unsure"
    assert unsure["To be seen"].tone == "unsure"


@pytest.mark.parametrize(
    ("verdict", "tone"), [("agrees", "sure"), ("disagrees", "unsure"), ("cannot_tell", "open"), ("no_clock", "open")]
)
def test_the_clock_is_sure_only_where_the_picture_agrees(verdict, tone):
    told = {s.about: s for s in certainty(replace(fakes.annotation(), clock=Clock(verdict, None, None)))}
    assert told["Time told"].tone == tone


def test_what_is_not_known_is_open_and_never_sure():
    undated = replace(
        fakes.annotation(),
        time=None,
        evenings=(Evening(NOW, 0.4, 3.0, 0.5),),
        dated=EveningKnowledge(EveningVerdict.UNKNOWN),
    )
    assert {s.about: s.tone for s in certainty(undated)}["Evening"] == "open"
    worked_out = replace(
        undated, time=TimeCandidate(NOW, 40.0, "picture"), dated=EveningKnowledge(EveningVerdict.UNSURE, "Why.")
    )
    assert {s.about: s.tone for s in certainty(worked_out)}["Evening"] == "unsure"
    disc = {s.about: s for s in certainty(fakes.bare("disc_only", "Only the edge was found."))}
    assert (disc["Names"].tone, disc["Names"].words) == ("open", "Only the edge was found.")
    assert not any(s.tone == "sure" for s in disc.values())
    for nothing in ("unreadable", "not_moon"):
        assert certainty(fakes.bare(nothing)) == ()


def test_every_reading_of_the_time_stands_beside_what_the_picture_shows():
    a = fakes.annotation()
    told, camera = a.taken.candidates[0], TimeCandidate(datetime(2026, 3, 25, 21, 4, tzinfo=UTC), 2.0, "exif+zone")
    assert readings(a, "UTC") == ()  # one alone is shown as the time already
    two = replace(a, taken=replace(a.taken, candidates=(told, camera)))
    first, second = readings(two, "Europe/Vienna")
    assert (first.label, second.label) == ("1", "2")
    assert "taken as right" in first.note
    assert "2.0 h after what the picture shows" in second.note
    assert "22:04 (21:04 UTC)" in second.value
    from_picture = replace(a, time=TimeCandidate(NOW, 40.0, "picture"))
    assert len(readings(from_picture, "UTC")) == 1  # the file's own, which was not believed
    assert [apart_words(h) for h in (0.5, 1.6, 30, 100)] == ["30 min", "1.6 h", "30.0 h", "4 days"]


# --- decisions in words ----------------------------------------------------------------------------------------------


def test_decisions_in_words():
    zone = "Europe/Vienna"
    assert words_of("hand", {"mirrored": True}, zone) == "Left and right are exchanged"
    assert words_of("time", {"utc": "2026-03-25T19:30:00+00:00"}, zone) == "Taken 25 March 2026, 20:30 (19:30 UTC)"
    assert words_of("time", {"utc": None}, zone) == "Time not known"
    assert words_of("place", {"name": "Graz", "latitude_deg": 47.07, "longitude_deg": 15.44}, zone) == (
        "Place: Graz, 47.07° N, 15.44° E"
    )
    assert words_of("place", {"name": "", "latitude_deg": None, "longitude_deg": None}, zone) == "Place: not known"
    assert words_of("equipment", {"text": ""}, zone) == "Equipment: none"
    assert words_of("split_versions", {"whatever": 1}, zone) == "Split versions"  # kinds to come
    made = (
        Decision(id=1, picture_id=1, kind="hand", what={"mirrored": False}, who="Ada", made_utc=NOW),
        Decision(
            id=2,
            picture_id=1,
            kind="credit_line",
            what={"text": "A. & B."},
            who="Bo",
            made_utc=NOW,
            undone_utc=NOW,
            undone_by="Ada",
        ),
    )
    second, first = decision_rows(made, zone)
    assert (second.id, second.wide, second.undone) == (2, True, "Ada, 26 March 2026, 09:00 (08:00 UTC)")
    assert (first.undone, first.wide, first.by) == ("", False, "Ada, 26 March 2026, 09:00 (08:00 UTC)")


def test_a_name_that_looks_like_markup_stays_text(client, placed, storage):
    number = placed["a.png"]
    page = client.get(f"/pictures/{number}").get_data(as_text=True)
    token, seen = (re.search(rf'name="{n}" value="([^"]+)"', page)[1] for n in ("token", "seen"))
    client.post(f"/pictures/{number}/corrections", data={"token": token, "seen": seen, "sender_name": '"><script>x'})
    page = client.get(f"/pictures/{number}").get_data(as_text=True)
    assert "<script>x" not in page
    assert "&lt;script&gt;x" in page
    assert 'value="&#34;&gt;&lt;script&gt;x"' in page
