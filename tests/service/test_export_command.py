"""`moondesk export`: what may be shown as open files; what is taken back is in none, also not of an earlier run."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from astropy.io import fits
from click.testing import CliRunner
from fakes import add_edition
from test_composite_command import add

from moondesk.service.cli.main import main
from moondesk.service.csv_safe import csv_text
from moondesk.service.store.annotations import add_annotation, read_annotation
from moondesk.service.store.forget import forget
from moondesk.service.store.records import ConsentRecord, EditionPlan
from moondesk.service.store.submissions import add_consent

NOW = datetime(2026, 10, 18, 18, 0, tzinfo=UTC)


@pytest.fixture
def out(storage, media, tmp_path):
    """Ilse and Bo may be shown, Dora may not; all pictures are the same placed sample."""
    edition = add_edition(storage, EditionPlan(number=12))
    for number, name, state in ((1, "=Ilse", "given"), (2, "Bo", "given"), (3, "Dora", "refused")):
        add(
            storage,
            media,
            edition,
            number,
            name,
            state,
            sender_address=f"{number}@viewers.example",
            place_name="Lower Sallow",
        )
    return tmp_path / "open"


def run(config, out, *arguments):
    told = CliRunner().invoke(main, ["export", *arguments, "--out", str(out), "--data", str(config.data_dir)])
    return told.exit_code, told.output


def everything(out) -> str:
    return "".join(path.read_bytes().decode("utf-8", "replace") for path in out.iterdir())


def test_lists_and_a_file_for_each_that_may_be_shown(config, out):
    code, told = run(config, out, "12", *(f"--kind={k}" for k in ("csv", "json", "geojson", "fits")))
    assert code == 0, told
    assert "1 may not be shown" in told
    assert {p.name for p in out.iterdir()} == {
        "pictures.csv",
        "pictures.json",
        *(f"picture-{n}.{k}" for n in (1, 2) for k in ("geojson", "fits")),
    }
    assert all(word not in everything(out) for word in ("Dora", "viewers.example", "Lower Sallow"))
    rows = list(csv.DictReader(io.StringIO((out / "pictures.csv").read_text("utf-8-sig"))))
    assert [(r["credit"], r["edition"], r["sure"], r["evening"]) for r in rows] == [
        ("'=Ilse", "12", "true", "2026-10-17"),
        ("Bo", "12", "true", "2026-10-17"),
    ]
    listed = json.loads((out / "pictures.json").read_text())
    assert (listed["withheld"], listed["pictures"][1]["credit"]) == (1, "Bo")
    assert float(rows[1]["disc_radius"]) == listed["pictures"][1]["placement"]["limb"]["radius"]
    assert json.loads((out / "picture-2.geojson").read_text())["credit"] == "Bo"
    assert fits.getheader(out / "picture-2.fits")["AUTHOR"] == "Bo"


def test_what_is_taken_back_is_gone_from_a_later_export(config, storage, media, out):
    run(config, out, "--kind=geojson", "--kind=fits", "--kind=csv")
    add_consent(storage, 2, ConsentRecord(state="refused", kind="phone", evidence="Not any more.", noted_by="Ada"), NOW)
    code, told = run(config, out, "--kind=csv")
    assert code == 0
    assert "picture-2.fits of an earlier export was removed" in told
    assert {p.name for p in out.iterdir()} == {"pictures.csv", "picture-1.geojson", "picture-1.fits"}
    assert "Bo" not in (out / "pictures.csv").read_text("utf-8-sig")
    forget(storage, media, "1@viewers.example", NOW)
    code, told = run(config, out, "--kind=csv")
    assert code == 3
    assert {p.name for p in out.iterdir()} == {"pictures.csv"}
    assert "Ilse" not in everything(out)


def test_an_unsure_one_is_listed_and_has_no_coordinates(config, storage, out):
    stored = read_annotation(storage, 1)
    unsure = replace(stored, annotation=replace(stored.annotation, sure=False), made_utc=NOW)
    add_annotation(storage, unsure, [])
    code, told = run(config, out, "12", "--kind=csv", "--kind=geojson")
    assert code == 0, told
    assert {p.name for p in out.iterdir()} == {"pictures.csv", "picture-2.geojson"}
    assert """ "12","'=Ilse","annotated","false" """.strip() in everything(out)
    assert run(config, out, "99")[0] == 2  # no such edition


def test_cells_stay_text_and_numbers_stay_numbers():
    assert csv_text(("a", "b"), [("-x", -1.5)]).splitlines()[1] == """ "'-x","-1.5" """.strip()
