"""Writes scenes of every family in turn: NNN_family.jpg, truth.json, submissions.csv."""

from __future__ import annotations

import argparse
import csv
import json
import time
from pathlib import Path

from tests.scenes import DISTURBED, FAMILIES, HARDER, render, spec_of

SETS = {"ordinary": list(FAMILIES), "harder": list(HARDER), "disturbed": list(DISTURBED)}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.scenes", description=__doc__)
    parser.add_argument("--count", type=int, default=len(FAMILIES), help="number of pictures")
    parser.add_argument("--set", choices=list(SETS), default="ordinary", help="which families")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, required=True, help="folder to write")
    every = [family for families in SETS.values() for family in families]
    parser.add_argument("--family", action="append", choices=every, help="only these families (repeatable)")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    families = args.family or SETS[args.set]
    rows = []
    for n in range(args.count):
        family = families[n % len(families)]
        start = time.perf_counter()
        scene = render(spec_of(family, args.seed * 100_000 + n))
        name = f"{n:03d}_{family}.jpg"
        (args.out / name).write_bytes(scene.data)
        rows.append({"file": name, **scene.truth})
        print(f"{name}  {len(scene.data) / 1e3:.0f} kB  {time.perf_counter() - start:.1f} s", flush=True)
    (args.out / "truth.json").write_text(json.dumps(rows), encoding="utf-8")
    with (args.out / "submissions.csv").open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(["file", "received_utc"])
        table.writerows([row["file"], row["received_utc"]] for row in rows)


if __name__ == "__main__":
    main()
