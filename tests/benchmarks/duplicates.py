"""How surely copies are told from other exposures: renders pairs from a seed, compares them, prints tables in Markdown.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.duplicates --count 100 --seed 11 --rows FILE

Each count is one rendered picture with eight pairs (`tests.benchmarks.duplicate_cases`). Run by hand, one process. `--rows FILE`
keeps every measurement as a line of JSON; `--tabulate` prints the tables of such a file again.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any, TypeVar

import cv2
import numpy as np

from moondesk.duplicates.fingerprint import alike, sketch, unpack_sketch
from moondesk.duplicates.likeness import SAME_BELOW, SAME_BELOW_SMALL, SMALLER, compare
from moondesk.duplicates.raster import PixelRaster, read_raster
from tests.benchmarks.duplicate_cases import Pair, pairs
from tests.benchmarks.tables import share

Row = dict[str, Any]
T = TypeVar("T")
KINDS = ("version", "codec", "sibling", "night", "exposure")
#: Stored pictures for which the length of the list to compare is told.
STORED = 20_000


def timed(work: Callable[[], T]) -> tuple[T, float]:
    start = time.process_time()
    return work(), 1e3 * (time.process_time() - start)


def row_of(number: int, pair: Pair) -> Row:
    rasters = []
    for data in (pair.first, pair.second):
        raster, read_ms = timed(lambda data=data: read_raster(data))
        assert isinstance(raster, PixelRaster), pair.how
        rasters.append(raster)
    likeness, ms = timed(lambda: compare(*rasters))
    first, sketch_ms = timed(lambda: sketch(rasters[0].grey))
    return {
        "number": number, "kind": pair.kind, "family": pair.family, "how": pair.how, **asdict(likeness),
        "read_ms": read_ms, "compare_ms": ms, "sketch_ms": sketch_ms,
        "sketches": [s.packed().hex() for s in (first, sketch(rasters[1].grey))],
    }  # fmt: skip


def tables(rows: list[Row]) -> str:
    lines = ["| pairs | number | same | asked | different | same, 95 % | same or asked, 95 % |",
             "| --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for kind in KINDS:
        some = [r["likelihood"] for r in rows if r["kind"] == kind]
        if some:
            same, asked = some.count("same"), some.count("perhaps")
            none = some.count("different")
            lines.append(f"| {kind} | {len(some)} | {same} | {asked} | {none} | {share(same, len(some))} | "
                         f"{share(same + asked, len(some))} |")  # fmt: skip
    lines += ["", f"Unexplained grey levels (proven below {SAME_BELOW}, or {SAME_BELOW_SMALL} where the copy is "
              f"smaller by {SMALLER}):", "", "| pairs | scale | number | least | 5 % | median | 95 % | most |",
              "| --- | --- | --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for low, high in ((0, SMALLER), (SMALLER, 99)):
        for kind in KINDS:
            told = [r["unexplained"] for r in rows if r["kind"] == kind and low <= r["scale"] < high]
            told = [u for u in told if np.isfinite(u)]
            if told:
                cells = " | ".join(f"{x:.2f}" for x in np.percentile(told, [0, 5, 50, 95, 100]))
                lines.append(f"| {kind} | {'below' if high == SMALLER else 'from'} {SMALLER} | {len(told)} | {cells} |")
    lines += ["", "| one threshold for all, grey levels | versions called same | nights and exposures called same |",
              "| --- | --- | --- |"]  # fmt: skip
    copies = np.array([r["unexplained"] for r in rows if r["kind"] == "version"], float)
    others = np.array([r["unexplained"] for r in rows if r["kind"] in ("night", "exposure")], float)
    for limit in (0.3, 0.4, 0.5, 0.6, 0.7, 0.85, 1.0, 1.3, 1.6, 2.0):
        lines.append(f"| {limit} | {np.sum(copies <= limit)} of {len(copies)} | {np.sum(others <= limit)} of "
                     f"{len(others)} |")  # fmt: skip
    for name in ("sketch_ms", "read_ms", "compare_ms"):
        ms = [r[name] for r in rows]
        lines.append(f"\n{name}: mean {np.mean(ms):.1f}, 95 % below {np.percentile(ms, 95):.1f} ms of CPU")
    return "\n".join([*lines, "", ranks(rows)])


def ranks(rows: list[Row]) -> str:
    """Where a copy's original stands among the stored ones by likeness of sketches alone."""
    kept = {r["number"]: unpack_sketch(bytes.fromhex(r["sketches"][0])) for r in rows if r["kind"] == "version"}
    places = []
    for r in rows:
        if r["kind"] == "version" and len(kept) > 1:
            likeness = alike(unpack_sketch(bytes.fromhex(r["sketches"][1])), list(kept.values()))
            own = list(kept).index(r["number"])
            above = np.delete(likeness, own) > likeness[own]
            places.append((STORED * float(above.mean()), "crop" in r["how"]))
    for label, some in (("all", [p for p, _ in places]), ("not cropped", [p for p, crop in places if not crop])):
        if some:
            print(f"sketches, {label}: original among the first 12 of {STORED} for "
                  f"{100 * np.mean(np.array(some) < 12):.1f} % of {len(some)}")  # fmt: skip
    big = list(kept.values()) * (STORED // max(len(kept), 1))
    return f"alike: {timed(lambda: alike(big[0], big))[1]:.0f} ms of CPU for {len(big)} sketches" if big else ""


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.duplicates", description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=100, help="rendered pictures, eight pairs each")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rows", type=Path, help="file to add every measurement to, a line of JSON each")
    parser.add_argument("--tabulate", action="store_true", help="measure nothing: tables of the file of --rows")
    args = parser.parse_args()
    cv2.setNumThreads(1)
    if args.tabulate:
        if args.rows is None:
            parser.error("--tabulate needs --rows")
        print(tables([json.loads(line) for line in args.rows.read_text(encoding="utf-8").splitlines()]))
        return
    rows: list[Row] = []
    for number in range(args.count):
        for pair in pairs(number, args.seed):
            rows.append(row_of(number, pair))
            if args.rows is not None:
                with args.rows.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(rows[-1]) + "\n")
    print(tables(rows))


if __name__ == "__main__":
    main()
