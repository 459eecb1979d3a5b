"""Runs a bench and writes what it printed into RESULTS.md, with date, commit and machine.

    python -m tests.benchmarks.record NAME [ARGUMENTS...]     NAME as in tests/benchmarks/NAME.py

The block of the bench is replaced; what is written round it, the reasons and what was tried, is people's own and stays.
"""

from __future__ import annotations

import os
import platform
import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).resolve().parent
RESULTS = HERE / "RESULTS.md"


def machine() -> str:
    """Processor, cores, Python and the libraries that decide about speed and numbers."""
    import cv2
    import numpy as np

    model = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.is_file():
        found = re.search(r"model name\s*:\s*(.+)", info.read_text())
        model = found[1] if found else model
    versions = f"Python {platform.python_version()}, numpy {np.__version__}, OpenCV {cv2.__version__}"
    return f"{model}, {len(os.sched_getaffinity(0))} cores, load {os.getloadavg()[0]:.1f}; {versions}"


def commit() -> str:
    """Of the tree, with a plus where it is not as committed."""

    def git(*args: str) -> str:
        return subprocess.run(["git", *args], cwd=HERE, capture_output=True, text=True).stdout.strip()

    return git("rev-parse", "--short", "HEAD") + ("+" if git("status", "--porcelain", "--untracked-files=no") else "")


def put(text: str, name: str, block: str) -> str:
    """The results with this bench's block replaced, or a section for it at the end."""
    begin, end = f"<!-- {name} -->", f"<!-- /{name} -->"
    made = f"{begin}\n{block}\n{end}"
    if begin in text:
        head, _, rest = text.partition(begin)
        return head + made + rest.partition(end)[2]
    return f"{text.rstrip()}\n\n## {name}\n\n{made}\n"


def main(name: str, *arguments: str) -> int:
    module = f"tests.benchmarks.{name}"
    pytest = "import pytest\n" in (HERE / f"{name}.py").read_text(encoding="utf-8") and "__main__" not in (
        HERE / f"{name}.py"
    ).read_text(encoding="utf-8")
    told = ["pytest", "-s", "-q", f"tests/benchmarks/{name}.py"] if pytest else [module]
    command = ["-m", *told, *arguments]
    head = f"`python {' '.join(command)}`: {datetime.now(UTC):%Y-%m-%d}, commit {commit()}; {machine()}"
    done = subprocess.run([sys.executable, *command], cwd=HERE.parents[1], stdout=subprocess.PIPE, text=True)
    print(done.stdout)
    if done.returncode:
        return done.returncode
    tables = done.stdout.strip()
    shown = tables if tables.startswith("|") or "\n|" in tables else f"```\n{tables}\n```"
    RESULTS.write_text(put(RESULTS.read_text(encoding="utf-8"), name, f"{head}\n\n{shown}"), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:]))
