"""Makes each snapshot: its file's name and its text."""

from __future__ import annotations

import atexit
import csv
import hashlib
import json
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import click
import numpy as np
from click.testing import CliRunner
from flask.testing import FlaskClient

from moondesk.drawing import annotate_upright, draw_labelled, draw_layers, draw_upright, in_original, overlay_svg
from moondesk.drawing.boxes import Inside
from moondesk.drawing.broadcast import flatten, frame_layers, layer_rgba
from moondesk.drawing.frame import FORMATS, AirFrame, FrameRequest, Texts, Zoom
from moondesk.drawing.svg import frame_svg
from moondesk.exports.json_line import json_line
from moondesk.files.picture import decode_rgb
from moondesk.records import Annotation, ByteArray
from moondesk.service.cli.main import main
from moondesk.service.settings.config import Config
from moondesk.service.store.opening import open_store
from moondesk.service.web.access.roles import least
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.public.app import create_public_app
from tests.service.air_plans import made_plan
from tests.test_sample_placing import FOLDER as SAMPLES
from tests.test_sample_placing import INDEX, placed_sample

#: Half lit; mirrored, through an eyepiece with a lens that bends; the thin Moon, stored on its side.
WHOLE = ("20261017_211435.jpg", "IMG_0088.jpg", "IMG_2231.jpg")
TEXTS = Texts(credit="Þórunn Vale", lines=("102 mm achromat, 25 mm eyepiece", "Day 8 of the lunation, 17 October 2026"))
NAMES = ("Copernicus", "Plato", "Tycho", "Ptolemaeus", "Theophilus", "Langrenus", "Mare Crisium")
FRAMES = {
    "level": ("20261017_211435.jpg", "hd", None, 0.0),
    "upright": ("IMG_0088.jpg", "vertical", None, 37.0),
    "close-up": ("20261017_211435.jpg", "hd", Zoom(-11.4, 26.4, 700), 0.0),
}
LEFT_OUT = ("kind", "lat", "lon", "diameter_km", "labelled")
#: Placed with consent, not the Moon, a child's mail, a mail without consent.
TAKEN = ("20261017_211435.jpg", "promenade.jpg", "clara_11.eml", "thin_cloud.eml")
#: When the desk is asked.
NOW = datetime(2026, 10, 25, 12, 0, tzinfo=UTC)
#: Of a form, each time another.
TOKEN = r"\d{10}\.[0-9a-f]{32}\.[0-9a-f]{64}"


def as_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1) + "\n"


# --- the command line -------------------------------------------------------------------------------------------------


def help_of_all() -> str:
    return "\n".join(_help(main, ()))


def _help(command: click.Command, names: tuple[str, ...]) -> Iterator[str]:
    told = run(*names, "--help")
    yield f"$ {' '.join(('moondesk', *names))} --help\n{told}"
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            yield from _help(command.get_command(context, name), (*names, name))


def run(*arguments: str) -> str:
    """What a command writes to stdout."""
    told = CliRunner().invoke(main, arguments, prog_name="moondesk", terminal_width=100, catch_exceptions=False)
    assert told.exit_code in (0, 1), told.output
    return told.stdout


# --- the web ----------------------------------------------------------------------------------------------------------


def openapi() -> str:
    with tempfile.TemporaryDirectory() as folder:
        told = create_app(Config(data_dir=Path(folder))).test_client().get("/api/openapi.json").get_json()
    told["info"]["version"] = "*"
    return json.dumps(told, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def addresses() -> str:
    """Application, methods, at the desk the least role that may ask, rule."""
    lines = []
    with tempfile.TemporaryDirectory() as folder:
        desk, public = create_app(Config(data_dir=Path(folder))), create_public_app(Config(data_dir=Path(folder)))
    for name, app in (("desk", desk), ("public", public)):
        for rule in app.url_map.iter_rules():
            role = least(rule.endpoint) if app is desk else "-"
            methods = ",".join(sorted(rule.methods - {"HEAD", "OPTIONS"}))
            lines.append((name, rule.rule, f"{name:7} {methods:5} {role:10} {rule.rule}"))
    return "\n".join(line for *_, line in sorted(lines)) + "\n"


# --- the store --------------------------------------------------------------------------------------------------------


def tables() -> str:
    with tempfile.TemporaryDirectory() as folder:
        db = open_store(Path(folder))
        found = [
            re.sub(r" ?([()]) ?", r"\1", " ".join(re.sub(r"--[^\n]*", "", sql).split()))
            for (sql,) in db.execute("select sql from sqlite_master where sql is not null")
        ]
        db.close()
    return "\n".join(sorted(found)) + "\n"


@cache
def taken() -> tuple[Path, str, re.Pattern[str]]:
    """A data folder with a few samples, taken and placed; what was said of that; when it was, in all spellings. The
    folder goes when the program ends."""
    begun = datetime.now(UTC)
    temporary = tempfile.mkdtemp()
    atexit.register(shutil.rmtree, temporary, ignore_errors=True)
    folder, data = Path(temporary, "samples"), Path(temporary, "data")
    folder.mkdir()
    for name in TAKEN:
        shutil.copyfile(SAMPLES / name, folder / name)
    rows = list(csv.reader((SAMPLES / "submissions.csv").read_text(encoding="utf-8").splitlines()))
    with (folder / "submissions.csv").open("w", encoding="utf-8", newline="") as table:
        csv.writer(table).writerows([rows[0], *(row for row in rows if row[0] in TAKEN)])
    told = run("take", str(folder), "--workers", "1", "--data", str(data))
    minutes = [begun + timedelta(minutes=n) for n in range(int((datetime.now(UTC) - begun).total_seconds() / 60) + 2)]
    return (
        data,
        told,
        re.compile(
            "|".join(rf"{at:%Y-%m-%dT%H:%M}:[\d.]+(?:Z|\+00:00)|{at.day} {at:%B %Y, %H:%M} UTC" for at in minutes)
        ),
    )


def listed_and_exported() -> str:
    """Each line of `list`, and of `export` all but the placings; of these the keys."""
    data, placed, _ = taken()
    at = ("--data", str(data))
    listed = [json.loads(line) for line in run("list", "--jsonl", *at).splitlines()]
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        run("export", "--out", folder, *(f"--kind={kind}" for kind in ("csv", "json", "geojson")), *at)
        exported = json.loads((out / "pictures.json").read_text(encoding="utf-8"))
        maps = {path.name: json.loads(path.read_text(encoding="utf-8")) for path in sorted(out.glob("*.geojson"))}
        head = (out / "pictures.csv").read_text(encoding="utf-8-sig").splitlines()[0]
    exported["made_utc"] = "*"
    for picture in exported["pictures"]:
        picture["placement"] = keys(picture["placement"])
    return as_json(
        {
            "take": sorted(placed.splitlines()),
            "list": listed,
            "export": exported,
            "pictures.csv": head,
            "geojson": {name: keys(found) for name, found in maps.items()},
        }
    )


def keys(value: Any) -> Any:
    """The shape of a value: keys, and of a list its different shapes."""
    if isinstance(value, dict):
        return {key: keys(one) for key, one in value.items()}
    if isinstance(value, list):
        shapes = {json.dumps(keys(one)): keys(one) for one in value}
        return list(shapes.values())
    return None if value is None else type(value).__name__.replace("int", "number").replace("float", "number")


#: Marks by which a browser knows that a picture or a page is another one: made of the code's own bytes among others.
MARK = r"(?<=v=)[0-9a-f]{16}|(?<=\"mark\":\")[0-9a-f]{16}"


def pages() -> str:
    """Every page of the desk and every answer of its API to a first picture that is picked: status, kind, the text by
    its hash. MOONDESK_PAGES names a folder where to write the texts, for comparing those of two checkouts."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder, "data")
        shutil.copytree(taken()[0], data)
        app = create_app(Config(data_dir=data), now=lambda: NOW, clock=lambda: 0.0)
        client = app.test_client()
        token = re.search(TOKEN, client.get("/").text)
        assert token is not None
        told = client.post("/rundown/1/add", data={"picture_id": "1", "token": token[0]})
        assert told.status_code in (200, 303), told.text
        made_plan(client, "/air/1/plan.json")
        rules = sorted(rule.rule for rule in app.url_map.iter_rules() if "GET" in rule.methods)
        lines = [
            _page(
                client,
                re.sub(r"<(?:any\((?:[^)]*, )?([^)]*)\):)?[^>]*>", lambda found: (found[1] or "1").strip("'"), rule),
            )
            for rule in rules
        ]
    return "\n".join(lines) + "\n"


def _page(client: FlaskClient, path: str) -> str:
    with client.get(path) as told:
        mark = ""
        if told.mimetype.startswith("text/") or "json" in told.mimetype:
            core = run("--version").split()[-1]
            text = taken()[2].sub("*", re.sub(TOKEN, "*", told.text))
            text = re.sub(rf'(core |"engine": ?"){re.escape(core)}\b', r"\1*", text)
            if path.endswith("openapi.json"):
                text = ""  # a snapshot of its own
            text = re.sub(MARK, "*", text)
            mark = _hash(text.encode())
            if into := os.environ.get("MOONDESK_PAGES"):
                Path(into, re.sub(r"\W+", "-", path).strip("-") or "index").write_text(text, encoding="utf-8")
        return f"{told.status_code} {told.mimetype:24} {mark or '-':16} {path}"


# --- pictures ---------------------------------------------------------------------------------------------------------


@cache
def sample(file: str) -> tuple[ByteArray, Annotation]:
    return decode_rgb((SAMPLES / file).read_bytes()), placed_sample(file)


def placings() -> str:
    """The line of each sample. Of a few with all features, each as its values in the order of the keys; what the
    catalogue says is left out, and what the label's place says."""
    told, names = [], ()
    for row in INDEX:
        line = json_line(row["file"], row["sha256"], placed_sample(row["file"]))
        features = line.pop("features")
        _tell_as_known(line)
        names = names or tuple(features[0])
        head = as_json(line).removesuffix("\n}\n")
        kept = (
            [[_rough(v) for k, v in f.items() if k not in LEFT_OUT] for f in features]
            if row["file"] in WHOLE
            else [f["name"] for f in features if f["labelled"]]
        )
        rows = ",\n".join(json.dumps(one, ensure_ascii=False, separators=(",", ":")) for one in kept)
        told.append(f'{head},\n "features": [\n{rows}\n]}}')
    return f"[{json.dumps(names)},\n" + ",\n".join(told) + "\n]\n"


def _rough(value: Any) -> Any:
    return round(value, 2) if isinstance(value, float) else value


def _tell_as_known(line: dict[str, Any]) -> None:
    """As finely as processors agree: spreads and correlations in place of a covariance, scores to a hundredth, the arc
    of the limb to a half turn."""
    for key, one in line.items():
        if isinstance(one, dict):
            _tell_as_known(one)
        elif key == "covariance" and one is not None:
            matrix = np.array(one)
            spread = np.sqrt(np.diag(matrix))
            line[key] = [
                [float(f"{v:.4g}") for v in spread],
                *(json.dumps([round(float(v), 2) + 0.0 for v in row]) for row in matrix / np.outer(spread, spread)),
            ]
        elif key == "score" and one is not None:
            line[key] = round(one, 2)
        elif key == "arc_deg" and one is not None:
            line[key] = 180.0 * round(one / 180)


def frames() -> str:
    """Layers of frames for air, their texts and where those stand, their shapes and pixels by hash."""
    told = {}
    for name, (file, kind, zoom, north) in FRAMES.items():
        frame = frame_layers(
            *sample(file),
            FrameRequest(format=FORMATS[kind], texts=TEXTS, north_screen_deg=north, zoom=zoom, features=NAMES),
        )
        assert isinstance(frame, AirFrame), frame
        told[name] = {
            "left out": [f"{one.reason} {one.advice}" for one in frame.left_out],
            "whole": by_pixels(flatten(frame)),
            "layers": [
                {
                    "name": layer.name,
                    "kind": layer.kind,
                    "title": layer.title,
                    "base": layer.base,
                    "texts": [
                        [
                            t.text,
                            *(round(v, 1) for v in (t.box.x0, t.box.y0, t.box.x1, t.box.y1, t.cap_px)),
                            t.colour,
                            t.ground,
                            t.plate,
                        ]
                        for t in layer.texts
                    ],
                    "svg": by_text(frame_svg(replace(frame, layers=(layer,)))),
                    "pixels": by_pixels(layer_rgba(frame, layer)),
                }
                for layer in frame.layers
            ],
        }
    return as_json(told)


def overlays() -> str:
    """The overlay of the desk and the copy that stands upright: layers by hash, with what is written in them."""
    told = {}
    for file in WHOLE:
        rgb, annotation = sample(file)
        upright, drawn = annotate_upright(annotation, 1000), draw_upright(rgb, annotation, 1000)
        assert isinstance(upright, Annotation)
        assert isinstance(drawn, np.ndarray)
        told[file] = {
            "as sent": {**_overlay(annotation), "labelled": by_pixels(draw_labelled(rgb, annotation))},
            "upright": {**_overlay(upright, in_original(annotation, upright)), "labelled": by_pixels(drawn)},
        }
    return as_json(told)


def _overlay(annotation: Annotation, inside: Inside | None = None) -> dict[str, Any]:
    groups = re.split(r'(?=<g id=")', overlay_svg(annotation, inside=inside))
    pixels = {layer: by_pixels(drawn) for layer, drawn in draw_layers(annotation, inside=inside).items()}
    return {
        "svg": [[group.partition(">")[0], by_text(group), re.findall(r">([^<>\n]+)<", group)] for group in groups],
        "pixels": pixels,
    }


#: Not the digits of a colour or of a name.
_NUMBER = r"(?<![0-9a-z#.])-?\d+(?:\.\d+)?(?![0-9a-z.])"


def by_text(svg: str) -> str:
    """Hash of a document without its numbers and photographs, and of the numbers the mean and the root mean square."""
    svg = re.sub(r"base64,[^\"]+", "base64,", svg)
    numbers = np.array([float(one) for one in re.findall(_NUMBER, svg)] or [0.0])
    words = re.sub(r"(?:#[ ,A-Z]*)+", "#", re.sub(_NUMBER, "#", svg))
    return f"{_hash(words.encode())} {numbers.mean():.2f} {np.sqrt(np.mean(numbers**2)):.2f}"


def by_pixels(pixels: ByteArray) -> str:
    """How bright each colour is on the mean, and the place of what is bright, both as shares: processors draw an edge's
    pixel a little otherwise, and a hash would tell two of them apart."""
    values = pixels.astype(float)
    if values.shape[2] == 4:
        values[..., :3] *= values[..., 3:] / 255  # colours that are not seen do not count
    light = values.sum(axis=2)
    whole = max(light.sum(), 1.0)
    middle = (np.arange(n) @ light.sum(axis=1 - axis) / whole / n for axis, n in enumerate(light.shape))
    return " ".join(f"{one:.4f}" for one in (*(values.mean(axis=(0, 1)) / 255), *middle))


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


SNAPSHOTS: dict[str, Callable[[], str]] = {
    "help.txt": help_of_all,
    "openapi.json": openapi,
    "addresses.txt": addresses,
    "tables.txt": tables,
    "placings.json": placings,
    "frames.json": frames,
    "overlays.json": overlays,
    "lists.json": listed_and_exported,
    "pages.txt": pages,
}
