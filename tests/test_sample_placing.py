"""Every sample picture placed as its index says: status, hand, and lit features within 1 % of the radius.

Truth comes with the pictures (sample_submissions/index.json, written by the renderer that made them); 1 % of the
radius is 17 km at the disc's centre, a small crater's whole radius.
"""

from __future__ import annotations

import email
import email.policy
import json
import math
import statistics
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from moondesk import Known, annotate_picture
from moondesk.codec import json_line
from moondesk.records import Annotation
from moondesk.service.intake.tables import read_table

FOLDER = Path(__file__).parent.parent / "sample_submissions"
INDEX: list[dict[str, Any]] = json.loads((FOLDER / "index.json").read_text())["files"]


def bytes_and_known(row: dict[str, Any]) -> tuple[bytes, Known]:
    data = (FOLDER / row["file"]).read_bytes()
    if not row["file"].endswith(".eml"):
        told = read_table(FOLDER / "submissions.csv").row_for(row["file"])
        assert told is not None
        return data, told.known()
    mail = email.message_from_bytes(data, policy=email.policy.default)
    part = next(p for p in mail.iter_attachments() if p.get_content_maintype() == "image")
    received = datetime.strptime(str(mail["Date"]), "%a, %d %b %Y %H:%M:%S %z").astimezone(UTC)
    return part.get_content(), Known(received_utc=received)


@cache
def placed_sample(file: str) -> Annotation:
    """A sample placed with what is known of it; once for all tests that want it."""
    return annotate_picture(*bytes_and_known(next(row for row in INDEX if row["file"] == file)))


@pytest.mark.parametrize("row", INDEX, ids=[row["file"] for row in INDEX])
def test_sample_is_placed_as_its_index_says(row: dict[str, Any]) -> None:
    line = json_line(row["file"], row["sha256"], placed_sample(row["file"]))
    assert line["status"] in {row["status"], *(row["also_acceptable"] or [])}, line["reason"]
    if line["status"] != "annotated":
        assert line["reason"]
        assert not line["sure"]
        return
    moon = row["moon"]
    assert line["pose"]["mirrored"] == moon["mirrored"]
    got = {f["name"]: f for f in line["features"]}
    errors = [math.hypot(got[n]["x"] - x, got[n]["y"] - y) for n, (x, y) in moon["features"].items() if n in got]
    assert len(errors) > 5
    assert 100 * statistics.median(errors) / moon["limb"]["radius"] < 1.0
    if abs(row["clock_error_h"]) > 12:
        assert line["clock"]["verdict"] == "disagrees"
    else:
        assert line["clock"]["verdict"] != "disagrees"
