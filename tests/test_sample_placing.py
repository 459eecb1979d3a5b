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
from moondesk.exports.json_line import json_line, pose_of
from moondesk.moon.geometry import surface_to_pixel
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


@pytest.mark.parametrize("row", INDEX, ids=[row["file"] for row in INDEX])
def test_features_come_out_again_from_the_line_alone(row: dict[str, Any]) -> None:
    a = placed_sample(row["file"])
    line = json.loads(json.dumps(json_line(row["file"], row["sha256"], a)))
    pose = pose_of(line)
    if pose is None:
        assert line["features"] == []
        return
    told = {f["name"]: f for f in line["features"]}
    marks = {m.feature.name: m for m in a.features if m.feature.name in told}
    at = surface_to_pixel(pose, [told[n]["lat"] for n in marks], [told[n]["lon"] for n in marks])
    off = [math.hypot(x - m.x, y - m.y) for x, y, m in zip(at.x, at.y, marks.values(), strict=True)]
    assert 100 * max(off) / pose.radius_px < 0.001  # %R


def by_the_page(line: dict[str, Any], lat_deg: float, lon_deg: float) -> tuple[float, float]:
    """A place's pixel by the formulas of annotate/docs/library.md: Snyder 1987 (Map Projections, equations 5-3, 22-4,
    22-5 and 23-3) for the perspective, then each term of the shape."""
    pose, shape = line["pose"], line["shape"]
    b0, l0 = map(math.radians, pose["sub_observer"])
    b, dl = math.radians(lat_deg), math.radians(lon_deg) - l0
    d, t = pose["distance_radii"], math.radians(pose["north_screen_deg"])
    k = math.sqrt(d * d - 1) / (d - math.sin(b0) * math.sin(b) - math.cos(b0) * math.cos(b) * math.cos(dl))
    u = k * math.cos(b) * math.sin(dl) * (-1 if pose["mirrored"] else 1)
    v = k * (math.cos(b0) * math.sin(b) - math.sin(b0) * math.cos(b) * math.cos(dl))
    q = complex(u * math.cos(t) - v * math.sin(t), -u * math.sin(t) - v * math.cos(t))

    def along(name: str) -> complex:
        angle = math.radians(shape[f"{name}_screen_deg"])
        return complex(-math.sin(angle), -math.cos(angle))

    def dot(one: complex, other: complex) -> float:
        return (one * other.conjugate()).real

    s, p = along("flattening"), along("tangential")
    q -= shape["flattening"] * dot(q, s) * s
    grow = 1 / (1 - shape["tilt"] * dot(q, along("tilt"))) + 2 * shape["tangential"] * dot(q, p)
    q = q * grow + shape["tangential"] * abs(q) ** 2 * p
    at, axis = complex(pose["x"], pose["y"]) + pose["radius_px"] * q, complex(shape["axis_x"], shape["axis_y"])
    at += (at - axis) * shape["radial_k1"] * (abs(at - axis) / shape["axis_scale_px"]) ** 2
    return at.real, at.imag


@pytest.mark.parametrize("row", INDEX, ids=[row["file"] for row in INDEX])
def test_features_come_out_of_the_line_by_the_formulas_of_the_page(row: dict[str, Any]) -> None:
    line = json_line(row["file"], row["sha256"], placed_sample(row["file"]))
    for feature in line["features"]:
        x, y = by_the_page(line, feature["lat"], feature["lon"])
        assert math.hypot(x - feature["x"], y - feature["y"]) < 0.01  # each is rounded to 0.01 px
