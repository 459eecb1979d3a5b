"""The API beside its own document, judged by validators of others.

openapi-spec-validator reads the document by the standard, jsonschema what a really placed picture is told as, and
schemathesis sends what the document allows and what it forbids to a served desk: no 5xx, no status, header or body
that the document does not know, nothing valid refused, nothing invalid taken. Few requests here, many with `-m slow`.
"""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path

import pytest
from api_desk import PROGRAMME, fill_folder, open_desk, served

from moondesk.pipeline import annotate_picture
from moondesk.records import Known
from moondesk.service.programme.permission import permission
from moondesk.service.programme.words import best_seen
from moondesk.service.settings.config import Config
from moondesk.service.store.records import Arrival, Enclosure, SentPicture, StoredAnnotation, Submission
from moondesk.service.web.api import shapes
from moondesk.service.web.api.document import document

SENT = datetime(2026, 10, 20, 20, 0, tzinfo=UTC)
SAMPLES = Path(__file__).resolve().parents[2] / "sample_submissions"
#: Valid requests may be answered so too: what is asked for is not there, another version, a consent that is no yes.
CONFIG = """
[checks.positive_data_acceptance]
expected-statuses = ["2xx", "404", "409", "412", "422"]
[checks.missing_required_header]
expected-statuses = [428]
"""
#: Numbers that are there, and any version of the rundown, so that requests come through to the store.
KNOWN_IDS = """
[parameters]
"path.number" = 1
"path.picture_id" = 1
"path.submission_id" = 1
"path.item_id" = 1
"header.If-Match" = "*"
"""
needs_schemathesis = pytest.mark.skipif(find_spec("schemathesis") is None, reason="schemathesis is not installed")


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """Where a desk is served, and the token for it."""
    path = tmp_path_factory.mktemp("contract")
    fill_folder(path / "folder")
    desk = open_desk(path / "folder", Config(data_dir=path / "data", programme=PROGRAMME))
    with served(desk.app) as where:
        yield where, desk.token


def run(address, folder, config, *more):
    """Let schemathesis ask; what it printed where it found anything."""
    where, token = address
    (folder / "schemathesis.toml").write_text(config)
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "from schemathesis.cli import schemathesis; schemathesis()",
            "--config-file",
            "schemathesis.toml",
            "run",
            f"{where}/api/openapi.json",
            "--header",
            f"Authorization: Bearer {token}",
            "--continue-on-failure",
            "--no-shrink",
            *more,
        ],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=3_000,
    )
    asked = re.search(r"([0-9]+) generated", done.stdout)
    assert asked, done.stdout + done.stderr
    assert int(asked[1]) > 60
    print(asked[0])  # pytest -s
    return "" if done.returncode == 0 else done.stdout


@needs_schemathesis
@pytest.mark.parametrize("config", [CONFIG, CONFIG + KNOWN_IDS], ids=["any ids", "known ids"])
def test_what_is_answered_is_what_the_document_says(address, tmp_path, config):
    assert not run(
        address, tmp_path, config, "--phases", "fuzzing", "--max-examples", "6", "--generation-deterministic"
    )


@needs_schemathesis
@pytest.mark.slow
@pytest.mark.parametrize("config", [CONFIG, CONFIG + KNOWN_IDS], ids=["any ids", "known ids"])
def test_the_same_with_all_corner_cases_chains_of_requests_and_many_examples(address, tmp_path, config):
    assert not run(address, tmp_path, config, "--max-examples", "150", "--seed", "26")


def test_the_document_is_openapi():
    validator = pytest.importorskip("openapi_spec_validator")
    validator.validate(document("0.1.0"))


def test_a_really_placed_picture_is_told_as_its_schema_says():
    jsonschema = pytest.importorskip("jsonschema")
    data = (SAMPLES / "IMG_0457.jpg").read_bytes()
    annotation = annotate_picture(data, Known(received_utc=SENT, taken_utc=None, place=None, zones=()))
    assert annotation.status == "annotated"
    assert best_seen(annotation, 3)
    enclosure = Enclosure(given_name="IMG_0457.jpg", size_bytes=len(data), sha256="0" * 64, media_type="image/jpeg")
    found = SentPicture(
        1, Submission(1, 1, SENT, Arrival(key="key", source="mail", origin="a.eml", enclosures=(enclosure,))), enclosure
    )
    stored = StoredAnnotation(
        picture_id=1, annotation=annotation, engine_version="core", made_utc=SENT, derived_key="0" * 16
    )
    told = shapes.picture(
        found,
        stored,
        (),
        permission(found.submission.arrival, found.id),
        edition=1,
        images={"photo": "/x"},
        versions=shapes.versions(1, 1, [1], []),
    )
    for name, value in (("Picture", told), ("Features", shapes.features(found, annotation, 0.5))):
        schema = {**document("1"), "$ref": f"#/components/schemas/{name}"}
        jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker()).validate(value)
    assert 20 < len(shapes.features(found, annotation, 0.5)["features"]) < len(told["placement"]["features"])
