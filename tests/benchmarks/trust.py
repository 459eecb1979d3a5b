"""How far the placing can be trusted: renders pictures from a seed, places them, prints tables in Markdown.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.trust --count 102 --seed 3 --part scenes

Parts: scenes (every family in turn: accuracy, trust, sigmas), clock (every error of the camera's clock on each scene,
the time of pictures without one, and as many right clocks again), harder (bent, doubled, cut, eclipsed, dim or undated
pictures in turn), rightclocks (right clocks, every second picture's light disturbed by glow, rays, vignettes, pasted
detail or clouds), others (things that are not the Moon), tiny (discs too small for names), night (pictures of years ago
handed in as fresh, or undated). Run by hand. `--rows FILE` keeps every measurement as a line of JSON; `--tabulate`
prints the tables of such a file again.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

import cv2

from tests.benchmarks.cases import Row, clock_rows, library_pictures, night_rows, other_row, scene_row, tiny_row
from tests.benchmarks.tables import tables
from tests.scenes import DISTURBED, FAMILIES, HARDER, KINDS

PARTS = ("scenes", "clock", "others", "tiny", "night", "harder", "rightclocks")
#: Families without a clock of their own to put wrong, or without anything to read the time from.
NO_CLOCK = ("noexif", "wrongclock", "tiny")

#: Round pieces of each library picture.
ROUND_PIECES = 4

Job = tuple[Callable[..., Any], tuple[Any, ...]]


def jobs(part: str, count: int, seed: int) -> Iterator[Job]:
    """The measurements of a part; the same count and seed give the same pictures, a larger count adds to them."""
    base = seed * 100_000 + 20_000 * PARTS.index(part)
    if part == "scenes":
        families = list(FAMILIES)
        yield from ((scene_row, (families[n % len(families)], base + n)) for n in range(count))
    elif part == "clock":
        families = [f for f in FAMILIES if f not in NO_CLOCK]
        yield from ((clock_rows, (families[n % len(families)], base + n)) for n in range(count))
        # a false accusation is rare: as many more right clocks are wanted to bound it
        yield from ((clock_rows, (families[n % len(families)], base + n, False)) for n in range(count, 2 * count))
    elif part == "night":
        families = [f for f in FAMILIES if f != "tiny"]
        yield from ((night_rows, (families[n % len(families)], base + n)) for n in range(count))
    elif part == "harder":
        families = list(HARDER)
        yield from ((scene_row, (families[n % len(families)], base + n, part)) for n in range(count))
    elif part == "rightclocks":
        ordinary, disturbed = [f for f in FAMILIES if f not in NO_CLOCK], list(DISTURBED)
        for n in range(count):
            families = ordinary if n % 2 else disturbed
            yield scene_row, (families[n // 2 % len(families)], base + n, part)
    elif part == "tiny":
        yield from ((tiny_row, (base + n,)) for n in range(count))
    else:
        names = [p.name for p in library_pictures()]
        kinds = list(KINDS)
        yield from ((other_row, (f"whole:{name}", base)) for name in names)
        yield from ((other_row, (f"round:{name}", base + n)) for n in range(ROUND_PIECES) for name in names)
        yield from ((other_row, (kinds[n % len(kinds)], base + n // len(kinds))) for n in range(count))


def _one_thread() -> None:
    cv2.setNumThreads(1)


def measure(part: str, count: int, seed: int, workers: int, keep: Path | None) -> list[Row]:
    rows: list[Row] = []
    start = time.perf_counter()
    with ProcessPoolExecutor(workers, initializer=_one_thread) as pool:
        running = [pool.submit(function, *arguments) for function, arguments in jobs(part, count, seed)]
        for done in as_completed(running):
            result = done.result()
            new = result if isinstance(result, list) else [result]
            rows += new
            if keep is not None:
                with keep.open("a", encoding="utf-8") as file:
                    file.writelines(json.dumps(row) + "\n" for row in new)
    print(f"<!-- {part}: {len(rows)} measurements in {time.perf_counter() - start:.0f} s -->", flush=True)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.trust", description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=102, help="pictures of each part (clock: 7 files each)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", choices=[*PARTS, "all"], default="all")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--rows", type=Path, help="file to add every measurement to, a line of JSON each")
    parser.add_argument("--tabulate", action="store_true", help="measure nothing: tables of the file of --rows")
    args = parser.parse_args()
    if args.tabulate:
        if args.rows is None:
            parser.error("--tabulate needs --rows")
        lines = args.rows.read_text(encoding="utf-8").splitlines()
        rows = [json.loads(line) for line in lines]
        print(tables([r for r in rows if args.part in ("all", r["part"])]))
        return
    for part in PARTS if args.part == "all" else (args.part,):
        print(tables(measure(part, args.count, args.seed, args.workers, args.rows)), flush=True)


if __name__ == "__main__":
    main()
