"""Placements of a fixed set of pictures: computed, recorded as JSON lines, and compared in percent of the radius.

    python -m tests.golden.placements [SET...]             # a table of what moved since it was recorded
    python -m tests.golden.placements --record [SET...]    # writes anew what is wanted to move

SET: samples, rendered; and of the pictures in the folder that MOONDESK_SHARED names scenes, scenes_more, real_photos.
Default: all whose pictures are here. A set's first line names the placement number, the libraries and the processor's
features that it was recorded with: with others the renderer's files differ in bytes, and an unsure placement may fall otherwise.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import multiprocessing
import os
import platform
import sys
import time
import zlib
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import MISSING, dataclass, fields, replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from moondesk import Annotation, Known, annotate_picture
from moondesk.records import Pose
from moondesk.revisions import PLACEMENT
from moondesk.service.intake.tables import Table, read_table
from tests.scenes import render, render_other, spec_of
from tests.scenes.screens import drawing
from tests.test_sample_placing import INDEX, bytes_and_known

FOLDER = Path(__file__).parent
SHARED = Path(os.environ.get("MOONDESK_SHARED", FOLDER.parents[2] / "shared"))
#: What may move, %R (of scores and counts in their own unit). On one machine placements repeat to the bit, whatever the
#: processes and OpenCV's threads; BLAS's code for another processor (OPENBLAS_CORETYPE=Haswell)
#: moves all but those of BY_ROUNDING by less.
TOLERANCE = 0.001
#: The Sun, which moves no feature, and the picture's own time: 0.0015 %R and 18 s by BLAS's code for another processor.
TOLERANCE_SUN, TOLERANCE_S = 0.005, 60.0
#: Pictures that rounding alone moves by more, up to 0.7 %R: of two answers nearly as good the other is taken. A move of
#: these and of no others comes from sums in another order.
BY_ROUNDING = frozenset({
    "008_partial.jpg", "029_undated.jpg", "044_undated.jpg", "045_afocal.jpg", "054_total.jpg", "059_undated.jpg",
    "070_penumbral.jpg", "072_blurred.jpg", "074_undated.jpg", "025_smart_scope_b.jpeg", "029_yellow_full.png",
    "033_crescent_mosaic.jpg", "080_crescent_ir_cut.jpg", "124_2022_four_panel.png",
})  # fmt: skip
#: Stands for the present, from which a picture without any date is searched backwards: after all of the sets.
NOW = datetime(2030, 1, 1, tzinfo=UTC)
RECEIVED = datetime(2026, 10, 20, 21, 0, tzinfo=UTC)
#: Families rendered by `spec_of`, each with its seed; and pictures of other things.
FAMILIES = {"clean": 5, "mirrored": 5, "cut": 5, "closeup": 5, "crescent": 5, "small": 5, "over": 5, "noexif": 5,
            "wrongclock": 5, "lens": 5, "tilt": 5, "afocal": 6, "partial": 5}  # fmt: skip
OTHERS: dict[str, Callable[[], bytes]] = {
    "drawing": lambda: drawing("flat", 2),
    "lamp": lambda: render_other("lamp", 5, 800, 600),
}
LIBRARIES = ("numpy", "scipy", "opencv-python-headless", "pillow", "scikit-image", "pyerfa")
FEATURES = 12
#: Decimals of what is not in pixels: each keeps a hundredth of the tolerance.
DECIMALS = {"distance_radii": 2, "flattening": 7, "tilt": 7, "tangential": 7, "radial_k1": 8, "sigma_pct_radius": 4,
            "score": 4, "rival_score": 4}  # fmt: skip
SMALL = 5  # decimals of pixels and degrees

Line = dict[str, Any]


@dataclass(frozen=True)
class Move:
    """What is otherwise than recorded. size: in `unit`; None where it is no number, or is there once only."""

    file: str
    what: str
    recorded: Any
    now: Any
    size: float | None = None
    unit: str = "%R"

    def __str__(self) -> str:
        size = "" if self.size is None else f"{self.size:.4f} {self.unit}"
        note = "  (by rounding too)" if self.file in BY_ROUNDING else ""
        return f"{self.file:28} {self.what:24} {self.recorded!s:>24} {self.now!s:>24} {size:>14}{note}"


# --- the pictures -----------------------------------------------------------------------------------------------


def _sample(name: str) -> tuple[bytes, Known]:
    return bytes_and_known(next(row for row in INDEX if row["file"] == name))


def _rendered(name: str) -> tuple[bytes, Known]:
    if name in OTHERS:
        return OTHERS[name](), Known(received_utc=RECEIVED)
    scene = render(spec_of(name, FAMILIES[name]))
    return scene.data, Known(received_utc=scene.spec.received_utc)


def _shared(part: str) -> Callable[[str], tuple[bytes, Known]]:
    def picture(name: str) -> tuple[bytes, Known]:
        folder = SHARED / part
        table = read_table(folder / "submissions.csv") if (folder / "submissions.csv").exists() else Table()
        row = table.row_for(name)
        return (folder / name).read_bytes(), row.known() if row else Known()

    return picture


PICTURES: dict[str, Callable[[str], tuple[bytes, Known]]] = {
    "samples": _sample, "rendered": _rendered,
    **{part: _shared(part) for part in ("scenes", "scenes_more", "real_photos")},
}  # fmt: skip


def names_of(part: str) -> list[str]:
    """Names of a set's pictures that are here."""
    if part == "samples":
        return sorted(row["file"] for row in INDEX)
    if part == "rendered":
        return sorted([*FAMILIES, *OTHERS])
    return sorted(p.name for p in (SHARED / part).glob("*") if p.suffix in (".jpg", ".jpeg", ".png"))


# --- a line -----------------------------------------------------------------------------------------------------


def compute(part: str, name: str) -> Line:
    """The line of a picture as the code places it now."""
    data, known = PICTURES[part](name)
    known = replace(known, now_utc=NOW, given_name=name)
    return {"file": name, "sha256": hashlib.sha256(data).hexdigest(), **placement(annotate_picture(data, known))}


def placement(a: Annotation) -> Line:
    """What is recorded of an annotation; a pose without the numbers that are as by default."""
    line: Line = {"status": a.status, "sure": a.sure, "dated": a.dated.verdict, "clock": a.clock.verdict,
                  "flags": list(a.flags)}  # fmt: skip
    if a.time is not None:
        line["time"] = [a.time.utc.astimezone(UTC).isoformat(timespec="seconds"), a.time.source]
    if a.clock.picture_utc is not None:
        line["picture_utc"] = a.clock.picture_utc.astimezone(UTC).isoformat(timespec="seconds")
    if a.limb is not None:
        line["limb"] = [round(v, SMALL) for v in (a.limb.x, a.limb.y, a.limb.radius_px)]
    if a.pose is not None:
        line["pose"] = _numbers_of(a.pose)
        line["marked"] = len(a.features)
        # by a hash of the name: spread over the disc, and a feature more or less changes one of them only
        chosen = sorted(a.features, key=lambda mark: zlib.crc32(mark.feature.name.encode()))[:FEATURES]
        line["features"] = {m.feature.name: [round(m.x, SMALL), round(m.y, SMALL)] for m in chosen}
    return line


def _numbers_of(pose: Pose) -> Line:
    numbers: Line = {}
    for of in fields(Pose):
        value = getattr(pose, of.name)
        if of.name in ("parameters", "covariance") or (of.default is not MISSING and value == of.default):
            continue
        if isinstance(value, float):
            value = round(float(value), DECIMALS.get(of.name, SMALL)) if math.isfinite(value) else None
        numbers[of.name] = value
    return numbers


# --- comparing --------------------------------------------------------------------------------------------------


def moves(recorded: Line, now: Line) -> list[Move]:
    """All that moved by more than the tolerance."""
    file, pose = recorded["file"], recorded.get("pose", {})
    radius = pose.get("radius_px") or (recorded.get("limb") or [0, 0, 1.0])[2]
    found = []

    def differs(what: str, a: Any, b: Any, scale: float, tolerance: float, unit: str) -> None:
        numeric = all(isinstance(v, float | int) and not isinstance(v, bool) for v in (a, b))
        size = None
        if numeric:
            change = (b - a + 180) % 360 - 180 if what.endswith(("screen_deg", "lon_deg")) else b - a
            size = abs(change) * scale
        if size > tolerance if size is not None else a != b:
            found.append(Move(file, what, a, b, size, unit))

    for key in ("sha256", "status", "sure", "dated", "clock", "flags", "marked"):
        if recorded.get(key) != now.get(key):
            found.append(Move(file, key, recorded.get(key), now.get(key)))
    for key in ("time", "picture_utc"):
        (a, *from_a), (b, *from_b) = (v if isinstance(v, list) else [v] for v in (recorded.get(key), now.get(key)))
        apart = (
            None
            if a is None or b is None
            else abs((datetime.fromisoformat(b) - datetime.fromisoformat(a)).total_seconds())
        )
        if from_a != from_b or (a != b if apart is None else apart > TOLERANCE_S):
            found.append(Move(file, key, a, b, apart, "s"))
    pixels = {"limb": (recorded.get("limb"), now.get("limb"))} | {
        name: (recorded.get("features", {}).get(name), now.get("features", {}).get(name))
        for name in sorted({*recorded.get("features", {}), *now.get("features", {})})
    }
    for name, (a, b) in pixels.items():
        if a is None or b is None:
            if a != b:
                found.append(Move(file, name, a, b))
        elif (away := 100 * max(abs(p - q) for p, q in zip(a, b, strict=True)) / radius) > TOLERANCE:
            found.append(Move(file, name, a, b, away))
    then = now.get("pose", {})
    defaults = {f.name: f.default for f in fields(Pose) if f.default is not MISSING}
    for key in sorted({*pose, *then}):
        a, b = (numbers.get(key, defaults.get(key)) for numbers in (pose, then))
        differs(
            key,
            a,
            b,
            _pct_of(key, pose, radius),
            TOLERANCE_SUN if key.startswith("sub_solar") else TOLERANCE,
            "" if key.endswith(("score", "matches")) else "%R",
        )
    return found


def _pct_of(key: str, pose: Line, radius: float) -> float:
    """%R that one unit of a pose's number moves a feature by at most, roughly."""
    degree = 100 * math.radians(1)
    if key.endswith("_screen_deg") and key != "north_screen_deg":  # direction of a bend: as much as that bends
        return 2 * degree * pose.get(key.removesuffix("_screen_deg"), 0.0)
    if key.endswith("_deg"):
        return degree
    bend = pose.get("radial_k1", 0.0) * (radius / pose.get("axis_scale_px", 1.0)) ** 2
    return {
        "x": 100 / radius, "y": 100 / radius, "radius_px": 100 / radius,
        # a point w radii before the centre is seen larger by 1 / (1 - w / distance)
        "distance_radii": 100 / pose.get("distance_radii", 221.3) ** 2,
        "flattening": 100.0, "tilt": 100.0, "tangential": 300.0,
        "radial_k1": 100 * (radius / pose.get("axis_scale_px", 1.0)) ** 2,
        "axis_x": 300 * abs(bend) / radius, "axis_y": 300 * abs(bend) / radius,
        "axis_scale_px": 200 * abs(bend) / pose.get("axis_scale_px", 1.0),
    }.get(key, 1.0)  # fmt: skip


def libraries() -> dict[str, str]:
    """What placements are computed with: another build or processor may round otherwise."""
    simd = np.show_config(mode="dicts")["SIMD Extensions"]["found"]
    return {"machine": platform.machine(), "simd": " ".join(simd), **{name: version(name) for name in LIBRARIES}}


def recorded_set(part: str) -> tuple[Line, dict[str, Line]]:
    """What a set was recorded with, `placement` (the number) and `libraries`; and its lines by file."""
    with (FOLDER / f"{part}.jsonl").open(encoding="utf-8") as file:
        head, *lines = map(json.loads, file)
    return head, {line["file"]: line for line in lines}


def advice(part: str, recorded_under: int) -> str:
    """What to do about placements that moved since they were recorded under that number."""
    raised = "" if recorded_under != PLACEMENT else "raise moondesk.revisions.PLACEMENT and "
    return f"If this move is wanted, {raised}record anew: python -m tests.golden.placements --record {part}"


def table(rows: Iterable[Move]) -> str:
    head = f"{'file':28} {'what':24} {'recorded':>24} {'now':>24} {'moved':>14}"
    return "\n".join([head, *map(str, rows)])


# --- by hand ----------------------------------------------------------------------------------------------------


def compute_set(part: str, workers: int) -> list[Line]:
    names = names_of(part)
    # started anew, with one thread each: as the children that place
    with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), cv2.setNumThreads, (1,)) as pool:
        return list(pool.map(compute, [part] * len(names), names))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.golden.placements", description=(__doc__ or "")[:86])
    parser.add_argument("sets", metavar="SET", nargs="*", help=", ".join(PICTURES))
    parser.add_argument("--record", action="store_true", help="write the placements anew")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    if unknown := {*args.sets} - {*PICTURES}:
        parser.error(f"no such set: {', '.join(sorted(unknown))}")
    moved = 0
    for part in args.sets or [part for part in PICTURES if names_of(part)]:
        start = time.perf_counter()
        lines = compute_set(part, args.workers)
        rows: list[Move] = []
        if (FOLDER / f"{part}.jsonl").exists():
            head, before = recorded_set(part)
            rows = [move for line in lines if line["file"] in before for move in moves(before[line["file"]], line)]
            rows += [
                Move(name, "picture", "is here", "is missing")
                for name in sorted({*before} - {line["file"] for line in lines})
            ]
            if args.record and rows and head["placement"] == PLACEMENT and head["libraries"] == libraries():
                parser.error(f"{table(rows)}\n\n{advice(part, PLACEMENT)}")
        if args.record:
            text = [{"placement": PLACEMENT, "libraries": libraries()}, *lines]
            (FOLDER / f"{part}.jsonl").write_text(
                "".join(json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n" for line in text),
                encoding="utf-8",
            )
        moved += len(rows)
        print(f"{part}: {len(lines)} pictures in {time.perf_counter() - start:.0f} s, {len(rows)} numbers moved")
        if rows:
            print(table(rows), flush=True)
    sys.exit(1 if moved and not args.record else 0)


if __name__ == "__main__":
    main()
