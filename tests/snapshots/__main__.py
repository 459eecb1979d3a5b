"""See the package."""

from __future__ import annotations

import argparse
import sys

from tests.snapshots import difference, path_of
from tests.snapshots.making import SNAPSHOTS

parser = argparse.ArgumentParser(prog="python -m tests.snapshots", description="Compare or record the snapshots.")
parser.add_argument("--record", action="store_true", help="record anew what differs")
record = parser.parse_args().record
found = 0
for name, make in SNAPSHOTS.items():
    made = make()
    told = difference(name, made)
    if told:
        found += 1
        print(told)
        if record:
            path_of(name).write_text(made, encoding="utf-8")
sys.exit(bool(found) and not record)
