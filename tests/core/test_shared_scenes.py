"""The accuracy that is stood for, on rendered scenes and real photographs kept outside the project. Slow, by hand:

    MOONDESK_SHARED=FOLDER python -m pytest -m slow tests/core/test_shared_scenes.py -s

FOLDER holds scenes/ (truth.json, submissions.csv, score.py) and real_photos/ (marks.json). The scenes' sky comes from
DE421 with its own mean-Earth frame; the photographs' features were located independently, to about 0.2 % of the radius.
"""

from __future__ import annotations

import csv
import importlib.util
import json
import os
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from moondesk import Known, annotate_picture
from moondesk.exports.json_line import json_line

SHARED = Path(os.environ.get("MOONDESK_SHARED", Path(__file__).parents[3] / "shared"))
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not (SHARED / "scenes" / "truth.json").exists(), reason="the folder of test scenes is not here"),
]


def _scorer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("score", SHARED / "scenes" / "score.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _place(folder: Path, names: list[str], received: dict[str, str]) -> dict[str, Any]:
    lines = {}
    for name in names:
        known = Known(received_utc=datetime.fromisoformat(received[name]) if name in received else None)
        lines[name] = json_line(name, "0" * 64, annotate_picture((folder / name).read_bytes(), known))
    return lines


def test_scenes() -> None:
    folder = SHARED / "scenes"
    truth = json.loads((folder / "truth.json").read_text())
    with (folder / "submissions.csv").open() as table:
        received = {row["file"]: row["received_utc"] for row in csv.DictReader(table)}
    score = _scorer()
    total = score.summary(score.score(truth, _place(folder, [t["file"] for t in truth], received)))
    print(json.dumps(total))
    assert total["right"] >= 66
    assert total["sure_right"] >= 60
    assert total["false"] == 0
    assert total["wrong"] <= 1
    assert total["median_error_pctR"] <= 0.08
    assert total["in_rim"] >= 0.99


def test_real_photographs() -> None:
    folder = SHARED / "real_photos"
    truth = json.loads((folder / "marks.json").read_text())
    with (folder / "manifest.csv").open() as table:
        other = [row["file"] for row in csv.DictReader(table) if row["category"] == "non_moon"]
    score = _scorer()
    total = score.summary(score.score(truth, _place(folder, [t["file"] for t in truth], {})))
    print(json.dumps(total))
    assert total["right"] == len(truth)
    assert total["mirror_wrong"] == 0
    assert all(line["status"] != "annotated" for line in _place(folder, other, {}).values())
