"""sample_submissions/ against its own index, with independent readers."""

from __future__ import annotations

import csv
import email
import email.policy
import hashlib
import io
import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps

from tests.builders.build_samples import picture_of
from tests.builders.sample_cases import CASES

FOLDER = Path(__file__).resolve().parents[1] / "sample_submissions"
INDEX = json.loads((FOLDER / "index.json").read_text(encoding="utf-8"))
ROWS: dict[str, dict[str, Any]] = {row["file"]: row for row in INDEX["files"]}


def picture_bytes(row: dict[str, Any]) -> bytes:
    data = (FOLDER / row["file"]).read_bytes()
    if row["attachment"] is None:
        return data
    mail = email.message_from_bytes(data, policy=email.policy.default)
    (part,) = mail.iter_attachments()
    assert part.get_filename() == row["attachment"]
    return part.get_content()


def test_every_file_is_indexed_and_the_folder_is_small() -> None:
    there = {p.name for p in FOLDER.iterdir()}
    assert there == set(ROWS) | {"index.json", "submissions.csv", "programme.toml"}
    assert len(ROWS) >= 14
    assert sum(p.stat().st_size for p in FOLDER.iterdir()) < 5_000_000
    assert {row["licence"] for row in ROWS.values()} == {"CC0-1.0"}


@pytest.mark.parametrize("name", list(ROWS))
def test_hashes_and_sizes(name: str) -> None:
    row = ROWS[name]
    data = picture_bytes(row)
    assert hashlib.sha256(data).hexdigest() == row["sha256"]
    if row["attachment"]:
        assert hashlib.sha256((FOLDER / name).read_bytes()).hexdigest() == row["sha256_of_mail"]
    shown = ImageOps.exif_transpose(Image.open(io.BytesIO(data)))
    if row["moon"]:
        assert shown.size == (row["moon"]["width"], row["moon"]["height"])


def test_table_names_the_loose_pictures_and_nobody_else() -> None:
    with (FOLDER / "submissions.csv").open(encoding="utf-8", newline="") as file:
        table = {row["file"]: row for row in csv.DictReader(file)}
    assert set(table) == {name for name, row in ROWS.items() if row["attachment"] is None}
    for name, row in table.items():
        assert datetime.fromisoformat(row["received_utc"]) > datetime.fromisoformat(ROWS[name]["taken_utc"])


def test_clocks_in_the_files_run_as_the_index_says() -> None:
    """DateTimeOriginal less its offset is the time taken, plus the clock's error."""
    seen = 0
    for row in ROWS.values():
        inner = Image.open(io.BytesIO(picture_bytes(row))).getexif().get_ifd(0x8769)
        if 0x9003 in inner and 0x9011 in inner:
            clock = datetime.strptime(inner[0x9003] + inner[0x9011], "%Y:%m:%d %H:%M:%S%z")
            truth = datetime.fromisoformat(row["taken_utc"]) + timedelta(hours=row["clock_error_h"])
            assert abs(clock - truth) <= timedelta(seconds=1)
            seen += 1
    assert seen >= 8


def test_mails_carry_words_about_consent_or_none() -> None:
    texts = {}
    for name, row in ROWS.items():
        if row["attachment"]:
            mail = email.message_from_bytes((FOLDER / name).read_bytes(), policy=email.policy.default)
            body = mail.get_body(("plain",))
            assert body is not None
            texts[name] = " ".join(body.get_content().split())
            assert str(mail["From"]).rstrip(">").endswith(".example")
    assert "I am her mother and I agree" in texts["clara_11.eml"]
    assert "agree" not in texts["thin_cloud.eml"]
    assert len(texts) >= 3


def test_a_sample_can_be_rebuilt_from_its_seed() -> None:
    case = next(c for c in CASES if c.file == "Moon crop final.png")
    data, _ = picture_of(case)
    new, old = (np.asarray(Image.open(io.BytesIO(b)).convert("L")).astype(float)
                for b in (data, (FOLDER / case.file).read_bytes()))  # fmt: skip
    assert np.abs(new - old).mean() < 0.5  # other versions of the libraries may round otherwise
