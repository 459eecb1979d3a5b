"""The API: what it tells of the store, who may ask, and how it says what is wrong."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from api_desk import PROGRAMME, Program, copied, fill_folder, is_problem, open_desk
from PIL import Image

from moondesk.records import Place
from moondesk.service.programme.listing import submission_object
from moondesk.service.settings.config import Config
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import each_submission, submissions_after
from moondesk.service.web.api import shapes
from moondesk.service.web.api.checking import check, json_of, query_of
from moondesk.service.web.api.document import document
from moondesk.service.web.api.operations import BODY_BYTES, OPERATIONS
from moondesk.service.web.api.schemas import SCHEMAS, of, text
from moondesk.service.web.desk.app import create_app

NEW_MOON = datetime(2026, 3, 19, 1, 23, tzinfo=UTC)  # NASA's table of phases, from memory


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """A data folder with placed pictures, made once."""
    path = tmp_path_factory.mktemp("prepared")
    fill_folder(path / "folder")
    return open_desk(path / "folder", Config(data_dir=path / "data", programme=PROGRAMME))


@pytest.fixture
def desk(prepared, config):
    """Each test has a copy of its own."""
    return copied(prepared, config)


@pytest.fixture
def program(desk):
    return Program(desk)


# --- the table, the document, the routes ------------------------------------------------------------------------------


def test_the_document_and_the_routes_are_the_same(desk, program):
    routes = {
        (rule.rule.replace("<", "{").replace(">", "}"), method)
        for rule in desk.app.url_map.iter_rules()
        if rule.rule.startswith("/api")
        for method in rule.methods - {"HEAD", "OPTIONS"}
    }
    told = program.get("/openapi.json")
    assert routes == {(path, method.upper()) for path, methods in told["paths"].items() for method in methods}
    assert len(routes) == len(OPERATIONS)
    assert "may change until version 1.0" in told["info"]["description"]


def test_every_schema_is_used_and_every_reference_leads_somewhere():
    text_of_all = json.dumps(document("1"))
    for name in SCHEMAS:
        assert f'#/components/schemas/{name}"' in text_of_all, name
    used = {part.split('"')[0] for part in text_of_all.split("#/components/schemas/")[1:]}
    assert used == set(SCHEMAS)


# --- who may ask ------------------------------------------------------------------------------------------------------


def test_without_a_token_nothing_is_told(desk):
    client = desk.app.test_client()
    for headers in ({}, {"Authorization": "Bearer moondesk_wrong"}, {"Authorization": "Basic YTpi"}):
        answer = client.get("/api/editions", headers=headers)
        is_problem(answer, 401, "program's token is wanted")
        assert answer.headers["WWW-Authenticate"].startswith("Bearer")
        is_problem(client.post("/api/editions/1/rundown/items", headers=headers, json={"picture_id": 1}), 401)
        is_problem(client.get("/api/no/such/thing", headers=headers), 401)


def test_a_token_opens_no_page(desk, program):
    assert program.client.get("/", headers=program.headers).status_code == 303


def test_no_page_elsewhere_may_read_it_and_nobody_keeps_it(program):
    answer = program.ask("/editions", headers={"Origin": "https://elsewhere.example"})
    assert not [name for name in answer.headers.keys() if name.startswith("Access-Control")]  # noqa: SIM118
    assert answer.headers["Cache-Control"] == "no-store"
    assert program.ask("/editions/9").headers["Cache-Control"] == "no-store"


# --- reading ----------------------------------------------------------------------------------------------------------


def test_editions_and_their_counts(program):
    (edition,) = program.get("/editions")["editions"]
    assert edition == {
        "number": 1,
        "kind": "live",
        "recording_utc": None,
        "air_utc": None,
        "evenings": [],
        "day_number": None,
    }
    told = program.get("/editions/1")
    assert told["edition"] == edition
    assert told["pictures"] == {"total": 7, "sure": 3, "unsure": 1, "not_placed": 1, "refused": 1, "waiting": 1}
    is_problem(program.ask("/editions/2"), 404, "There is no edition 2.")


def test_submissions_are_told_as_the_command_lists_them(program, config):
    told = program.get("/editions/1/submissions")
    assert told["next_after"] is None
    with Storage(config.data_dir) as storage:
        listed = [submission_object(s) for s in each_submission(storage, 1)]
    assert len(listed) == 7
    for line, one in zip(listed, told["submissions"], strict=True):
        assert one.pop("stored_utc") == "2026-03-26T08:00:00Z"
        assert [p.pop("id") for p in one["pictures"]]
        received = line["received_utc"]
        assert one == {**line, "received_utc": received and received.replace("+00:00", "Z")}
        assert {k: v for k, v in program.get(f"/submissions/{one['id']}").items() if k in one and k != "pictures"} == {
            k: v for k, v in one.items() if k != "pictures"
        }
    is_problem(program.ask("/submissions/99"), 404, "There is no submission 99.")


def test_leafing_through_submissions_leaves_none_out_and_tells_what_came_since(program, config):
    seen, after = [], 0
    for _ in range(4):
        page = program.get(f"/editions/1/submissions?limit=2&after={after}")
        seen += [s["id"] for s in page["submissions"]]
        after = page["next_after"]
    assert (seen, after) == ([1, 2, 3, 4, 5, 6, 7], None)
    assert program.get("/editions/1/submissions?after=7")["submissions"] == []
    with Storage(config.data_dir) as storage:
        assert submissions_after(storage, 77, 0, 9) == ()


@pytest.mark.parametrize(
    ("name", "status", "sure"),
    [
        ("a.png", "annotated", True),
        ("e.png", "annotated", False),
        ("d.png", "not_moon", False),
        ("page.jpg", "refused", False),
        ("waiting.png", "waiting", False),
    ],
)
def test_a_picture_says_where_it_stands(desk, program, name, status, sure):
    told = program.get(f"/pictures/{desk.ids[name]}")
    assert (told["given_name"], told["status"]) == (name, status)
    assert bool(told["placement"] and told["placement"]["sure"]) is sure
    assert (told["placement"] is None) is (status in ("refused", "waiting"))
    assert (told["refused"] is None) is (status != "refused")
    assert bool(told["certainty"]) is (status == "annotated")


def test_all_of_a_placed_picture(desk, program):
    told = program.get(f"/pictures/{desk.ids['a.png']}")
    assert told["placement"]["schema"] == 3
    assert told["placement"]["pose"]["mirrored"] is True
    assert told["placement"]["taken"]["utc"] == "2026-03-25T19:04:00Z"
    assert told["time_candidates"] == [
        {"utc": "2026-03-25T19:04:00Z", "sigma_minutes": 1.0, "source": "told", "hours_after_picture": 0.0}
    ]
    assert told["place"] == {"latitude_deg": 48.2, "longitude_deg": 16.4, "height_m": 0.0}
    assert told["credit_line"] == "Ilse from Vienna"
    assert told["consent"]["may_be_shown"] is True
    assert told["versions"] == {"best_id": told["id"], "ids": [told["id"]], "questions": []}
    assert {s["about"]: s["tone"] for s in told["certainty"]} == {
        "Names": "sure",
        "Which way round": "sure",
        "Time told": "sure",
        "Evening": "unsure",
        "To be seen": "sure",
    }
    assert set(told["images"]) >= {"photo", "thumbnail", "labelled", "upright"}
    assert {s["tone"] for s in program.get(f"/pictures/{desk.ids['e.png']}")["certainty"]} >= {"unsure"}


def test_features_by_how_well_they_are_seen(desk, program):
    path = f"/pictures/{desk.ids['a.png']}/features"
    told = program.get(path)
    assert [f["name"] for f in told["features"]] == ["Copernicus", "Mare Imbrium", "Grimaldi"]
    assert [f["seen"] for f in told["features"]] == [0.95, 0.9, 0.0]
    assert told["features"][0]["sun_altitude_deg"] == 12.0
    assert [f["name"] for f in program.get(path + "?min_seen=0.91")["features"]] == ["Copernicus"]
    assert program.get(f"/pictures/{desk.ids['waiting.png']}/features") == {
        "picture_id": desk.ids["waiting.png"],
        "status": "waiting",
        "sure": False,
        "features": [],
    }


def test_finding_pictures(desk, program):
    ids = desk.ids

    def found(query):
        return {p["id"] for p in program.get(f"/pictures?{query}")["pictures"]}

    assert found("shows=Copernicus") == {ids["a.png"], ids["b.jpg"], ids["c.png"]}  # not where the placing is unsure
    assert found("shows=Nowhere") == set()
    assert found("q=ilse+vienna") == {ids["a.png"]}
    assert found("place=vienna") == {ids["a.png"]}
    assert found("edition=1") == set(ids.values())
    page = program.get("/pictures?limit=4&offset=4")
    assert (len(page["pictures"]), page["next_offset"]) == (3, None)
    assert program.get("/pictures?limit=4")["next_offset"] == 4
    is_problem(program.ask("/pictures?edition=5"), 404)


def test_pictures_are_given_out_as_made_here_and_no_original_is(desk, program):
    images = program.get(f"/pictures/{desk.ids['b.jpg']}")["images"]
    for role, address in images.items():
        with program.client.get(address, headers=program.headers) as answer:
            assert answer.status_code == 200, role
            with Image.open(io.BytesIO(answer.data)) as picture:
                assert not picture.getexif(), role  # b.jpg came with its position
    for name in ("original", "overlay", "photo.jpg", "..%2F..%2Foriginals", "x"):
        is_problem(program.ask(f"/pictures/{desk.ids['b.jpg']}/images/{name}"), 404)
    assert program.get(f"/pictures/{desk.ids['waiting.png']}")["images"] == {}


def test_evenings_to_come_carry_the_caution_of_the_sun(prepared, config):
    desk = copied(prepared, replace(config, programme=replace(PROGRAMME, place=Place(48.2, 16.4, 200.0))))
    first = (NEW_MOON - timedelta(days=1)).date()
    told = Program(desk).get(f"/coming?first={first}&evenings=9")
    assert told["place_known"] is True
    evenings = told["evenings"]
    assert [e["evening"] for e in evenings] == [(first + timedelta(days=k)).isoformat() for k in range(9)]
    by_caution = [e["sun_caution"] for e in evenings]
    assert by_caution[:2] == ["lost", "lost"]
    assert by_caution[2:] == sorted(by_caution[2:], key=["lost", "near", "none"].index)
    assert by_caution[-1] == "none"
    for e in evenings:
        assert bool(e["cautions"]) >= (e["sun_caution"] != "none")
        assert e["near_terminator"] or e["illuminated_fraction"] < 0.02
    assert "Ask for no pictures" in evenings[0]["cautions"][0]


def test_evenings_without_a_place_and_outside_the_years(program):
    told = program.get("/coming?evenings=1")
    assert told["place_known"] is False
    assert told["evenings"][0]["altitude_deg"] is None
    assert told["evenings"][0]["evening"] == "2026-03-26"
    for day in ("1899-01-01", "2099-12-30", "9999-12-31"):
        is_problem(program.ask(f"/coming?first={day}"), 422, "1900 to 2099")


def test_how_the_placing_stands(program):
    told = program.get("/progress")
    assert told["waiting"] >= 1
    assert told["being_placed"] == 0


# --- what is asked wrongly --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "where"),
    [
        ("limit=0", "query limit"),
        ("limit=201", "query limit"),
        ("limit=many", "query limit"),
        ("limit=", "query limit"),
        ("limit=1.5", "query limit"),
        ("limit=1&limit=2", "query limit"),
        ("shoes=Copernicus", "query shoes"),
        ("first_time=yes", "query first_time"),
        ("q=" + "x" * 101, "query q"),
        ("edition=-1", "query edition"),
        ("edition=99999999999999999999", "query edition"),
        ("offset=\u0663", "query offset"),
    ],
)
def test_a_parameter_that_is_wrong_or_unknown_is_told(program, query, where):
    told = is_problem(program.ask(f"/pictures?{query}"), 422)
    assert [e["where"] for e in told["errors"]] == [where]


def test_addresses_that_are_none(program):
    for path in ("/", "/nothing", "/pictures/x", "/pictures/-1", "/pictures/" + "9" * 5000, "/editions/1/rundown/x"):
        is_problem(program.ask(path), 404)
    answer = program.ask("/editions", "DELETE")
    is_problem(answer, 405, "GET")
    assert "GET" in answer.headers["Allow"]


@pytest.mark.parametrize(
    ("body", "status", "words"),
    [
        (b"", 400, "no JSON"),
        (b"{", 400, "no JSON"),
        (b"[" * 19_000, 400, "nested"),
        (b'{"picture_id": NaN}', 400, "NaN"),
        (b'{"picture_id": ' + b"1" * 5_000 + b"}", 400, "no JSON"),
        (b"\xff\xfe{}", 400, ""),
        (b"\x80", 400, "UTF-8"),
        (b"[]", 422, "an object"),
        (b"{}", 422, "It is missing."),
        (b'{"picture_id": "1"}', 422, "a whole number"),
        (b'{"picture_id": true}', 422, "a whole number"),
        (b'{"picture_id": 1.5}', 422, "a whole number"),
        (b'{"picture_id": 0}', 422, "from 1"),
        (b'{"picture_id": 1e999}', 422, ""),
        (b'{"picture_id": 1, "a/b~": 2}', 422, "/a~1b~0"),
        (b" " * (BODY_BYTES + 1), 413, "larger"),
        (b" " * 200_000, 413, "too large"),
    ],
)
def test_bodies_that_are_none(program, body, status, words):
    is_problem(
        program.ask("/editions/1/rundown/items", "POST", data=body, content_type="application/json"), status, words
    )


def test_a_body_of_another_kind(program):
    is_problem(program.ask("/editions/1/rundown/items", "POST", data={"picture_id": 1}), 415, "application/json")


def test_a_store_that_cannot_be_read_is_told_as_a_problem(desk, program, config):
    for path in config.data_dir.glob("moondesk.db*"):
        path.unlink()
    (config.data_dir / "moondesk.db").write_bytes(b"no database" * 1000)
    is_problem(program.ask("/editions"), 503)


# --- parts ------------------------------------------------------------------------------------------------------------


def test_numbers_are_finite_and_times_end_in_z():
    assert shapes.number(float("nan"), 2) is None
    assert shapes.number(float("-inf"), 2) is None
    assert str(shapes.number(-0.0001, 2)) == "0.0"
    assert shapes.utc(datetime(2026, 3, 25, 20, 4, tzinfo=UTC)) == "2026-03-25T20:04:00Z"
    assert shapes.utc(None) is None


@pytest.mark.parametrize(
    ("value", "schema", "fits"),
    [
        (1, of("integer"), True),
        (1.0, of("integer"), True),
        (1.5, of("integer"), False),
        (True, of("integer"), False),
        (float("inf"), of("integer"), False),
        (float("inf"), of("number"), False),
        (False, of("number"), False),
        (0, of("number", minimum=0, maximum=1), True),
        (1.01, of("number", minimum=0, maximum=1), False),
        (None, {"type": ["string", "null"]}, True),
        (3, {"type": ["string", "null"]}, False),
        ("x", text(enum=["x"]), True),
        ("y", text(enum=["x"]), False),
        ("2026-02-30", text(format="date"), False),
        ("2026-02-28", text(format="date"), True),
        ("20260228", text(format="date"), False),
        ("abc", text(maxLength=2), False),
        ("", text(minLength=1), False),
    ],
)
def test_values_against_their_schemas(value, schema, fits):
    assert (check(value, schema) == []) is fits


def test_defaults_and_faults_of_a_query():
    known = next(operation for operation in OPERATIONS if operation.name == "pictures").query
    values, faults = query_of([("q", "x"), ("first_time", "true")], known)
    assert faults == []
    assert values == {"q": "x", "shows": "", "place": "", "edition": None, "first_time": True, "limit": 50, "offset": 0}
    assert len(query_of([(f"wrong{k}", "") for k in range(100)], known)[1]) == 20


def test_json_that_json_does_not_have():
    for data in (b"NaN", b"-Infinity", b'{"a": Infinity}'):
        with pytest.raises(ValueError, match="no number"):
            json_of(data)


def test_a_desk_without_accounts_reads_but_a_page_elsewhere_changes_nothing(config, storage):
    """While there are no accounts there are no tokens: a change wants the token of a page of the desk."""
    client = create_app(config).test_client()
    assert client.get("/api/editions").json == {"editions": []}
    is_problem(client.post("/api/editions/1/rundown/items", json={"picture_id": 1}), 400, "wants a program's token")
