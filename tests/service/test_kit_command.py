"""`moondesk kit` and `moondesk rundown`: everything for an edition by one command, whole, without metadata, and without
what may not be shown."""

from __future__ import annotations

import json
import sys
from datetime import timedelta
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner
from fakes import add_edition
from PIL import Image, ImageFile
from test_composite_command import TAKEN, add

from moondesk.service.cli import kit
from moondesk.service.cli.main import main
from moondesk.service.store import rundowns
from moondesk.service.store.records import ConsentRecord, EditionPlan
from moondesk.service.store.submissions import add_consent

#: Pixels by the names of the formats (common practice: HD and upright HD). UHD is drawn in test_air_frames.
SIZES = {"hd": (1920, 1080), "vertical": (1080, 1920)}


@pytest.fixture
def shown(storage, media, config):
    """Three pictures of one evening and one of another day; two are picked, Dora of them may not be shown."""
    edition = add_edition(storage, EditionPlan(number=12, air_utc=TAKEN + timedelta(days=4)))
    for number, name in enumerate(("Ilse", "Марко", "Cy"), 1):
        add(storage, media, edition, number, name)
    add(storage, media, edition, 4, "Eike", taken=TAKEN + timedelta(days=2))
    add(storage, media, edition, 9, "Dora", "refused")
    for picture_id in (1, 5, 2):
        rundowns.add(storage, edition.id, picture_id, "Ada", TAKEN)
    return config


def run(config, *asked):
    told = CliRunner().invoke(main, [*map(str, asked), "--data", str(config.data_dir)])
    return told.exit_code, told.output


def test_everything_is_there_and_whole(shown, tmp_path, monkeypatch):
    monkeypatch.setattr(kit, "FORMATS", tuple(SIZES))
    folder = tmp_path / "kit"
    code, told = run(shown, "kit", 12, "--out", folder)
    names = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert {
        "rundown.csv",
        "rundown.json",
        "month.png",
        "month-feed.png",
        "month-story.png",
        "nights/2026-10-17.png",
        "open/pictures.csv",
        "open/pictures.json",
        "open/picture-1.fits",
        "open/picture-1.geojson",
    } <= names
    assert code == 1  # Dora is picked and may not be shown: told, and the rest is made
    assert "Dora" in told
    for shape, size in SIZES.items():
        for who in ("01-Ilse", "03-Марко"):
            frame = folder / "frames" / f"{who}-{shape}"
            with Image.open(frame / "frame.png") as image:
                assert (image.size, image.mode, image.info) == (size, "RGB", {"srgb": 0})
            layers = sorted((frame / "layers").glob("*.png"))
            assert len(layers) > 6
            stacked = None
            for layer in layers:
                with Image.open(layer) as image:
                    assert (image.size, image.mode) == (size, "RGBA")
                    stacked = image.copy() if stacked is None else Image.alpha_composite(stacked, image)
            with Image.open(frame / "frame.png") as image:  # what a mixer lays over each other is the whole frame
                off = np.abs(np.asarray(stacked)[..., :3].astype(int) - np.asarray(image).astype(int))
            assert off.max() <= 2
            groups = ElementTree.parse(frame / "frame.svg").getroot()
            assert {g.get("id") for g in groups if g.get("id")} >= {p.stem[3:] for p in layers}
    assert all("Dora" not in name for name in names)
    assert "Dora" not in (folder / "open" / "pictures.json").read_text()
    with Image.open(folder / "nights" / "2026-10-17.png") as image:
        assert image.size[0] == 1001
    assert [i["sender"] for i in json.loads((folder / "rundown.json").read_text())["items"]] == ["Ilse", "Марко"]


def test_the_rundown_on_paper(shown, storage, tmp_path):
    pytest.importorskip("weasyprint", reason="the extra pdf is not installed")
    reader = pytest.importorskip("pypdfium2", reason="a reader of PDF of its own")
    add_consent(storage, 1, ConsentRecord(state="given", kind="phone", evidence="Yes.", noted_by="Ada"), TAKEN)
    code, told = run(shown, "rundown", 12, "--out", tmp_path / "r.pdf")
    assert code == 0, told
    assert not ImageFile.LOAD_TRUNCATED_IMAGES, "what prints lets half pictures pass for whole ones"
    document = reader.PdfDocument(tmp_path / "r.pdf")
    try:
        text = "".join(document[k].get_textpage().get_text_range() for k in range(len(document)))
        info, pages = document.get_metadata_dict(), len(document)
        sizes = {tuple(map(round, document[k].get_size())) for k in range(len(document))}
    finally:
        document.close()
    assert all(words in text for words in ("1. Ilse", "2. Марко", "Not on air", "Dora"))
    assert sizes == {(595, 842)}  # A4 in points (ISO 216)
    assert pages == 2  # one a picture; who is not on air stands on the last
    assert not info.get("Author")


def test_two_pictures_stand_on_a_page_of_letter_paper(shown, storage, tmp_path):
    pytest.importorskip("weasyprint", reason="the extra pdf is not installed")
    reader = pytest.importorskip("pypdfium2", reason="a reader of PDF of its own")
    add_consent(storage, 1, ConsentRecord(state="given", kind="phone", evidence="Yes.", noted_by="Ada"), TAKEN)
    code, told = run(shown, "rundown", 12, "--out", tmp_path / "r.pdf", "--paper", "letter", "--two")
    assert code == 0, told
    document = reader.PdfDocument(tmp_path / "r.pdf")
    try:
        text = document[0].get_textpage().get_text_range()
        size = tuple(map(round, document[0].get_size()))
    finally:
        document.close()
    assert "1. Ilse" in text
    assert "2. Марко" in text
    assert size == (612, 792)  # 8.5 by 11 inches


def test_without_the_printer_it_says_how_to_get_it(shown, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    code, told = run(shown, "rundown", 12, "--out", tmp_path / "r.pdf")
    assert code != 0
    assert "pip install 'moondesk[pdf]'" in told
    assert not (tmp_path / "r.pdf").exists()
    assert run(shown, "rundown", 12, "--out", tmp_path / "r.csv")[0] == 0
    assert run(shown, "rundown", 12, "--out", tmp_path / "r.doc")[0] == 2
    assert run(shown, "rundown", 99, "--out", tmp_path / "r.csv")[0] == 2
