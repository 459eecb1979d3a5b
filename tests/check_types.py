"""Types of the whole package under mypy's strict rules: python -m tests.check_types

mypy looks for packages where they lie, and the build alone maps the folders of the source tree to their names; so it is
given a tree of links that is built like the installed package.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TREE = ROOT / ".mypy_cache" / "tree"


def link_tree() -> Path:
    """The folder that holds `moondesk`, its shell within it."""
    package = TREE / "moondesk"
    shutil.rmtree(package, ignore_errors=True)
    package.mkdir(parents=True)
    for path in (ROOT / "annotate").iterdir():
        (package / path.name).symlink_to(path)
    (package / "service").symlink_to(ROOT / "service")
    return TREE


def errors() -> list[str]:
    """One line each, by the paths of the source tree."""
    link_tree()
    command = [sys.executable, "-m", "mypy", "--config-file", str(ROOT / "pyproject.toml"), "-p", "moondesk"]
    done = subprocess.run(command, cwd=TREE, capture_output=True, text=True)
    lines = done.stdout.splitlines() if done.returncode else []
    return [
        line.replace("moondesk/service/", "service/").replace("moondesk/", "annotate/")
        for line in lines
        if ": error:" in line
    ] or ([done.stdout + done.stderr] if done.returncode else [])


if __name__ == "__main__":
    lines = errors()
    print("\n".join(lines) or "no type errors")
    raise SystemExit(bool(lines))
