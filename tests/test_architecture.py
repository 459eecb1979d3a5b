"""Imports run one way, the core stays pure, SQL has one door: read from the source with `ast`, nothing is imported."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

#: What the pure core never imports: the shell, the web, stores, networks, processes.
NOT_IN_CORE = {
    "service",
    "tests",
    "flask",
    "click",
    "waitress",
    "jinja2",
    "werkzeug",
    "sqlite3",
    "sqlite_utils",
    "socket",
    "ssl",
    "http",
    "urllib",
    "requests",
    "subprocess",
    "multiprocessing",
    "email",
    "skyfield",
}
#: Nor calls: clocks, the environment, the randomness of the machine.
CLOCKS = {
    "time.time",
    "time.time_ns",
    "datetime.now",
    "datetime.utcnow",
    "datetime.today",
    "date.today",
    "datetime.datetime.now",
    "datetime.date.today",
    "Time.now",
    "os.environ",
    "os.getenv",
    "os.urandom",
    "random.random",
}
SQL_DOORS = {"opening.py", "migrations.py", "migrations_desk.py", "migrations_letters.py"}


def modules(package: str) -> list[Path]:
    found = sorted((ROOT / package).rglob("*.py"))
    assert found, package
    return found


def imports(path: Path) -> Iterator[str]:
    """Every module a file imports anywhere in it, with dots."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path.name}: a relative import hides where it goes"
            yield node.module or ""


def dotted(node: ast.AST) -> str:
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


@pytest.mark.parametrize("path", modules("annotate"), ids=lambda p: p.relative_to(ROOT).as_posix())
def test_the_core_is_pure(path):
    wrong = sorted(name for name in imports(path) if name.split(".")[0] in NOT_IN_CORE)
    assert not wrong, f"{path.name} imports {wrong}"
    tree = ast.parse(path.read_text(encoding="utf-8"))
    used = {dotted(node) for node in ast.walk(tree) if isinstance(node, ast.Attribute)} & CLOCKS
    assert not used, f"{path.name} reads {sorted(used)}"


@pytest.mark.parametrize("path", modules("service"), ids=lambda p: p.name)
def test_the_shell_keeps_its_doors(path):
    names = set(imports(path))
    assert not {n for n in names if n.split(".")[0] == "tests"}
    if path.name not in SQL_DOORS:
        wrong = {n for n in names if n.split(".")[0] in ("sqlite3", "sqlite_utils")}
        assert not wrong, f"{path.name} imports {sorted(wrong)}; SQL belongs to moondesk.service.store"


def test_records_and_words_need_no_web():
    pure = ("store/records", "words", "desk/pages", "desk/single/layers", "arrivals/tables", "arrivals/mail", "errors")
    for name in pure:
        heavy = {n.split(".")[0] for n in imports(ROOT / "service" / f"{name}.py")} & {"flask", "cv2", "click"}
        assert not heavy, f"{name}.py imports {sorted(heavy)}"


def test_the_top_level_is_what_it_should_be():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "annotate", "service", "tests", "sample_submissions"}
    made = {"build", "dist", "moondesk.egg-info", "LICENSE"}
    present = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}
    assert present - made <= allowed
