"""Frames of a rundown as files: what leaves the desk, in which words, and what must not leave it.

The picture is a sample with known truth, placed by the core itself; nothing runs in a child here.
"""

from __future__ import annotations

import base64
import io
import itertools
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import exifread
import pytest
from click.testing import CliRunner
from fakes import add_edition
from PIL import Image

from moondesk import annotate_picture
from moondesk.files.picture import decode_rgb
from moondesk.records import Clock, ClockVerdict, Known, TimeCandidate
from moondesk.service.cli.main import main
from moondesk.service.jobs.derived_pictures import PHOTO_QUALITY, jpeg
from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.programme.frame_request import lines_of
from moondesk.service.store import rundowns
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.forget import forget
from moondesk.service.store.media import DERIVED, write_whole
from moondesk.service.store.pictures import list_by_id, list_pictures, read_picture
from moondesk.service.store.records import Arrival, ConsentRecord, EditionPlan, Enclosure, StoredAnnotation
from moondesk.service.store.settings import keep_settings
from moondesk.service.store.submissions import add_consent, add_submission
from moondesk.service.web.desk.app import create_app

SAMPLE = Path(__file__).resolve().parents[2] / "sample_submissions" / "20261017_211435.jpg"
NOW = datetime(2026, 10, 18, 9, 0, tzinfo=UTC)
KEY = "ab" * 8


@cache
def placed():
    data = SAMPLE.read_bytes()
    return data, decode_rgb(data), annotate_picture(data, Known())


class Here:
    """What the desk's workshop does, in this process."""

    run = staticmethod(at_once)

    def warm(self):
        pass


@pytest.fixture
def client(config):
    app = create_app(config)
    app.extensions["moondesk.workshop"] = Here()
    return app.test_client()


@pytest.fixture
def pick(storage, media):
    """Puts a placed picture into edition 12 and its rundown; the item's id."""
    count = itertools.count(1)
    edition = add_edition(storage, EditionPlan(number=12))

    def add(who="Ilse Quendel", consent="Yes, you may show it.", annotation=None, **more):
        data, rgb, found = placed()
        n = next(count)
        sha = media.put(data + b"\0" * n)
        consents = (ConsentRecord(state="given", kind="table", evidence=consent),) if consent else ()
        arrival = Arrival(
            key=f"file:{n}",
            source="folder",
            origin="a",
            enclosures=(Enclosure(given_name=f"{n}.jpg", size_bytes=len(data), sha256=sha, media_type="image/jpeg"),),
            sender_name=who,
            consents=consents,
            **more,
        )
        add_submission(storage, edition.id, arrival, NOW)
        picture_id = max(p.picture.id for p in list_pictures(storage, edition.id, 99))
        add_annotation(
            storage,
            StoredAnnotation(
                picture_id=picture_id,
                annotation=annotation or found,
                engine_version="fake 1",
                made_utc=NOW,
                derived_key=KEY,
            ),
            [],
        )
        write_whole(media.derived_folder(sha, KEY) / DERIVED["photo"], jpeg(rgb, PHOTO_QUALITY))
        return rundowns.add(storage, edition.id, picture_id, "Ana", NOW).item_id

    return add


def layers(client, item, **asked):
    return client.get(f"/rundown/12/items/{item}/frame/layers.json", query_string=asked).json


def got(client, address):
    """Status, media type and bytes."""
    with client.get(address) as response:
        return response.status_code, response.mimetype, response.data


def chunks(data):
    """Names of a PNG's chunks (PNG specification, section 5.3)."""
    at, names = 8, []
    while at < len(data):
        length = int.from_bytes(data[at : at + 4])
        names.append(data[at + 4 : at + 8].decode())
        at += length + 12
    return names


def credit_of(told):
    return next(layer["title"] for layer in told["layers"] if layer["kind"] == "credit")


def test_layers_are_listed_and_each_is_a_picture_with_alpha(client, pick):
    item = pick(equipment="102 mm achromat, telephone")
    told = layers(client, item)
    assert (told["item"], told["format"], told["width"], told["height"], told["notice"]) == (item, "hd", 1920, 1080, "")
    kinds = [layer["kind"] for layer in told["layers"] if layer["kind"] != "spotlight"]
    shown = [k for k in kinds if k != "credit"]
    assert shown[:3] == ["picture", "seas", "feature"]  # what is to be seen, then the lines laid over it
    assert [k for k in kinds if k in ("terminator", "lines", "directions")] == ["terminator", "lines", "directions"]
    assert kinds.count("feature") >= 3
    assert [layer["kind"] for layer in told["layers"] if layer["base"]] == ["picture", "credit", "scale"]
    assert credit_of(told) == "Ilse Quendel"
    for layer in told["layers"]:
        assert told["mark"] in layer["url"]
        status, kind, data = got(client, layer["url"])
        assert (status, kind) == (200, "image/png")
        assert Image.open(io.BytesIO(data)).size == (1920, 1080)
        assert Image.open(io.BytesIO(data)).mode == "RGBA"


def test_nothing_of_the_photographs_file_is_in_what_leaves(client, pick):
    assert exifread.process_file(io.BytesIO(SAMPLE.read_bytes()))  # the sample has a camera's notes
    item = pick()
    for name in ("whole.png", "picture.png", "credit.png"):
        _, _, data = got(client, f"/rundown/12/items/{item}/frame/{name}")
        assert set(chunks(data)) == {"IHDR", "sRGB", "IDAT", "IEND"}
        assert chunks(data)[1] == "sRGB"  # before the pixels (PNG specification, section 5.6)
        assert Image.open(io.BytesIO(data)).info == {"srgb": 0}
    _, kind, data = got(client, f"/rundown/12/items/{item}/frame/whole.svg")
    assert kind == "image/svg+xml"
    assert ET.fromstring(data).get("width") == "1920"
    for image in ET.fromstring(data).iter("{http://www.w3.org/2000/svg}image"):
        assert not exifread.process_file(io.BytesIO(base64.b64decode(image.get("href").partition(",")[2])))


@pytest.mark.parametrize(
    ("asked", "size"),
    [
        ({"format": "vertical"}, (1080, 1920)),
        ({"zoom": "Theophilus"}, (1920, 1080)),
        ({"zoom": "-11.4, 26.4, 500"}, (1920, 1080)),
    ],
)
def test_other_formats_and_close_ups(client, pick, asked, size):
    item = pick()
    told = layers(client, item, **asked)
    assert (told["width"], told["height"]) == size
    assert ("inset" in [x["kind"] for x in told["layers"]]) is ("zoom" in asked)
    assert Image.open(io.BytesIO(got(client, told["layers"][1]["url"])[2])).size == size


@pytest.mark.parametrize(
    "asked",
    [
        {"format": "cinema"},
        {"view": "sideways"},
        {"zoom": "Nowhere Crater"},
        {"zoom": "91, 0, 500"},
        {"zoom": "0, 0, 5"},
        {"zoom": "Copernicus", "view": "eye"},
    ],
)
def test_what_cannot_be_made_is_said(client, pick, asked):
    """No such format, view or crater; the eye's view without the programme's place."""
    item = pick()
    told = layers(client, item, **{"view": "upright", **asked})
    assert told["layers"] == []
    assert told["notice"].endswith(".")


def test_without_consent_there_is_no_frame_and_nothing_is_drawn(client, pick, config):
    item = pick(consent="")
    told = layers(client, item)
    assert told["layers"] == []
    assert "nobody has said that it may be shown" in told["notice"]
    assert client.get(f"/rundown/12/items/{item}/frame/whole.png").status_code == 404
    assert "nobody has said that it may be shown" in client.get(f"/rundown/12/items/{item}/frame").get_data(
        as_text=True
    )
    assert not list(config.data_dir.rglob("air-*"))


def test_consent_taken_back_closes_what_was_drawn(client, pick, storage):
    item = pick()
    address = layers(client, item)["layers"][0]["url"]
    assert got(client, address)[0] == 200
    submission = read_picture(storage, rundowns.rundown(storage, 1).items[0].picture_id).submission
    add_consent(
        storage, submission.id, ConsentRecord(state="refused", kind="phone", evidence="Please no.", noted_by="Ana"), NOW
    )
    assert got(client, address)[0] == 404
    assert "does not want it shown" in layers(client, item)["notice"]


def test_a_sender_that_is_forgotten_takes_the_frames_along(client, pick, storage, media, config):
    item = pick()
    assert layers(client, item)["layers"]
    assert list(config.data_dir.rglob("air-*"))
    forget(storage, media, "Ilse Quendel", NOW)
    assert client.get(f"/rundown/12/items/{item}/frame/layers.json").status_code == 404
    assert not list(config.data_dir.rglob("air-*"))


def test_another_credit_is_another_frame(client, pick, storage):
    item = pick()
    before = layers(client, item)["mark"]
    rundowns.edit(storage, 1, item, {"credit_line": "Ilse from Vienna"}, 1, "Ana", NOW)
    told = layers(client, item)
    assert told["mark"] != before
    assert credit_of(told) == "Ilse from Vienna"


def test_a_sign_that_cannot_be_shown_is_told_before_air(client, pick):
    item = pick("Ilse \U0001f319")
    assert "U+1F319" in layers(client, item)["notice"]
    assert "Ilse" in layers(client, item)["notice"]


def test_a_sender_that_is_not_named_gets_no_frame_until_somebody_decides(client, pick):
    assert "how its sender is to be named" in layers(client, pick(""))["notice"]


def test_a_frame_in_the_programmes_language(client, pick, storage):
    keep_settings(storage, {"programme.language": "bg"}, NOW, "Ana")
    told = layers(client, pick("Лидия Караманова"))
    titles = {layer["kind"]: layer["title"] for layer in told["layers"]}
    assert titles["terminator"] == "Терминатор"
    assert titles["scale"].endswith(" км")
    assert titles["credit"] == "Лидия Караманова"


def words(config, pick, storage, annotation, **more):
    item = pick(annotation=annotation, **more)
    (listed,) = list_by_id(storage, [rundowns.rundown(storage, 1).item(item).picture_id])
    return [
        line if isinstance(line, str) else Language().write(line)
        for line in lines_of(annotation, listed.picture.submission.arrival.equipment, load_calendar(config))
    ]


def test_day_and_evening_stand_under_the_credit(config, pick, storage):
    """New Moon was on 10 October 2026 at 15:50 UTC (U.S. Naval Observatory, phases of 2026), the evening after is the
    first: the 17th is the eighth by the programme's count."""
    _, _, annotation = placed()
    assert words(config, pick, storage, annotation, equipment="15x70 binoculars") == [
        "15x70 binoculars",
        "Day 8 of the lunation, 17 October 2026",
    ]


@pytest.mark.parametrize("why", ["the clock disagrees", "the time is not known", "not to a quarter of a day"])
def test_an_evening_that_is_not_certain_is_not_said(config, pick, storage, why):
    _, _, annotation = placed()
    told = {
        "the clock disagrees": replace(annotation, clock=Clock(ClockVerdict.DISAGREES, None, None)),
        "the time is not known": replace(annotation, time=None),
        "not to a quarter of a day": replace(annotation, time=TimeCandidate(NOW, 700.0, "picture")),
    }[why]
    assert words(config, pick, storage, told) == []


def test_long_equipment_ends_where_a_part_of_it_ends(config, pick, storage):
    long = "150 mm reflector on an equatorial mounting, camera at prime focus, stacked from 300 frames of 1500"
    assert words(config, pick, storage, placed()[2], equipment=long)[0] == (
        "150 mm reflector on an equatorial mounting, camera at prime focus"
    )
    assert words(config, pick, storage, placed()[2], equipment="a " * 60)[0].startswith("Day 8")


def test_the_command_writes_all_files_under_clear_names(config, pick, tmp_path):
    pick("Ilse Quendel")
    pick("Бо Ринг", consent="")
    out = tmp_path / "out"
    result = CliRunner().invoke(
        main, ["frames", "12", "--data", str(config.data_dir), "--out", str(out), "--format", "vertical"]
    )
    assert result.exit_code == 1  # one may not be shown
    assert "02-Бо-Ринг: Cannot go on air" in result.stderr
    folder = out / "01-Ilse-Quendel-vertical"
    with Image.open(folder / "frame.png") as image:
        assert image.size == (1080, 1920)
    assert ET.parse(folder / "frame.svg").getroot().get("height") == "1920"
    names = sorted(p.name for p in (folder / "layers").iterdir())
    assert names[0] == "01-picture.png"
    assert any(name.endswith("-credit.png") for name in names)
    assert [p.name for p in out.iterdir()] == [folder.name]


def test_the_command_writes_what_is_not_picked_only_if_asked(config, pick, storage, tmp_path):
    item = pick("Ilse Quendel")
    rundowns.take_out(storage, 1, item, 1, "Ana", NOW)
    asked = ["frames", "12", "--data", str(config.data_dir), "--out", str(tmp_path / "out")]
    result = CliRunner().invoke(main, asked)
    assert result.exit_code == 3
    assert "add --all" in result.stderr
    result = CliRunner().invoke(main, [*asked, "--all"])
    assert result.exit_code == 0
    assert (tmp_path / "out" / "01-Ilse-Quendel-hd" / "frame.png").is_file()


def test_a_close_up_of_what_lies_in_the_dark_is_refused(config, pick, tmp_path):
    pick("Ilse Quendel")
    dark = next(m.feature.name for m in placed()[2].features if m.lit_fraction == 0 and m.feature.size_km > 80)
    out = tmp_path / "out"
    asked = ["frames", "12", "--data", str(config.data_dir), "--out", str(out)]
    for zoom in (dark, "0, 85, 300" if placed()[2].pose.sub_solar_lon_deg < 0 else "0, -85, 300"):
        result = CliRunner().invoke(main, [*asked, "--zoom", zoom])
        assert result.exit_code == 1, result.output
        assert "in the light" in result.stderr + result.output
        assert not out.exists()


def test_the_command_says_where_there_is_nothing(tmp_path):
    result = CliRunner().invoke(main, ["frames", "12", "--data", str(tmp_path), "--out", str(tmp_path / "out")])
    assert result.exit_code == 3
    assert "Nothing was taken" in result.stderr
