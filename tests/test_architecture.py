"""Imports run one way, the core stays pure, SQL has one door: read from the source with `ast`, nothing is imported."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

#: Rooms by floor, the highest first: a module imports from its own floor and from those below. Names without `moondesk.`.
FLOORS = (
    ("service.cli", "service.__main__"),
    ("service.web.desk",),
    ("service.web.public", "service.web.api"),
    ("service.web.access",),
    ("service.web",),
    ("service.exports", "service.replies", "service.intake"),
    ("service.studio",),
    ("service.jobs",),
    ("service.programme",),
    ("service.store",),
    ("service.settings",),
    ("service.gazetteer",),
    ("service.languages", "service.lexicons"),
    ("service",),
    ("library",),
    ("pipeline", "corrections", "codec"),
    ("script",),
    ("tour", "ideas"),
    ("exports", "stacking", "comparison", "notes", "shadows", "quality", "duplicates", "drawing", "speech"),
    ("visibility", "checks"),
    ("placement",),
    ("moon",),
    ("ephemeris",),
    ("files",),
    ("records", "revisions"),
    ("sentences",),
)

#: What the pure core never imports: the shell, the web, stores, networks, processes.
NOT_IN_CORE = {
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
#: Of the shell's other rooms: records and what is computed from them alone.
RULES_MAY_READ = {
    "service.errors",
    "service.gazetteer.sounds",
    "service.gazetteer.towns",
    "service.lexicons.folding",
    "service.lexicons.lexicon",
    "service.lexicons.patterns",
    "service.languages.catalogue",
    "service.passwords",
    "service.settings.config",
    "service.store.measured",
    "service.store.records",
    "service.store.episode_items",
    "service.store.rundown_items",
    "service.texts",
}
SQL_DOORS = {"opening.py", "migrations.py", "steps.py"}


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


def name_of(path: Path) -> str:
    """A file's name as a module, without `moondesk.`; empty for the core's own face."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(p for p in (parts if parts[0] == "service" else parts[1:]) if p != "__init__")


@cache
def graph() -> dict[str, set[str]]:
    """What each module imports of the others."""
    files = {name_of(path): path for room in ("annotate", "service") for path in modules(room)}
    arrows: dict[str, set[str]] = {}
    for name, path in files.items():
        arrows[name] = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "moondesk":
                inside = node.module.partition(".")[2]
                deeper = [f"{inside}.{alias.name}".lstrip(".") for alias in node.names]
                arrows[name] |= {d if d in files else inside for d in deeper}
            elif isinstance(node, ast.Import):
                arrows[name] |= {a.name.partition(".")[2] for a in node.names if a.name.startswith("moondesk.")}
        arrows[name] -= {name}
    return arrows


def floor(name: str) -> int | None:
    """Counted from the top; None for the core's own face."""
    rooms = [(len(room), at) for at, rooms in enumerate(FLOORS) for room in rooms if f"{name}.".startswith(f"{room}.")]
    return max(rooms)[1] if rooms else None


def circles() -> list[set[str]]:
    """Modules that import one another: each can be reached from each."""
    arrows = graph()

    def reached(start: str) -> set[str]:
        seen, todo = set(), [start]
        while todo:
            for target in arrows.get(todo.pop(), set()) - seen:
                seen.add(target)
                todo.append(target)
        return seen

    reach = {name: reached(name) for name in arrows}
    return [
        {other for other in reach[name] if name in reach.get(other, set())}
        for name in sorted(arrows)
        if name in reach[name]
    ]


def test_every_module_has_its_floor():
    assert {name for name in graph() if floor(name) is None} <= {"", "__main__"}


def test_no_import_runs_back_up():
    up = {
        (name, target)
        for name, targets in graph().items()
        for target in targets
        if (here := floor(name)) is not None and (there := floor(target)) is not None and there < here
    }
    assert up == set()


def test_commands_ask_the_rules_and_no_page():
    """Whoever is below the desk does so by its floor."""
    pages = {(n, t) for n, ts in graph().items() if n.startswith("service.cli.") for t in ts if ".web.desk." in t}
    assert {(name, page) for name, page in pages if page != "service.web.desk.app"} == set()


def test_no_files_import_one_another_in_a_circle():
    found = {frozenset(c) for c in circles()}
    assert found == set()


def test_the_core_knows_nothing_of_the_shell():
    core = {name for name in graph() if not f"{name}.".startswith("service.")}
    assert {(name, t) for name in core for t in graph()[name] if f"{t}.".startswith("service.")} == set()


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


@pytest.mark.parametrize("path", modules("service/programme"), ids=lambda p: p.relative_to(ROOT).as_posix())
def test_rules_take_what_they_read_as_arguments(path):
    """They open no store, no file and no page, and ask no clock: records, words and numbers go in and come out."""
    names = list(imports(path))
    shell = {n.removeprefix("moondesk.") for n in names if n.startswith("moondesk.service.")}
    assert {n for n in shell if not f"{n}.".startswith("service.programme.")} - RULES_MAY_READ == set()
    wrong = {n.split(".")[0] for n in names} & (
        NOT_IN_CORE - {"urllib", "email"} | {"os", "io", "pathlib", "shutil", "time"}
    )
    assert not wrong, f"{path.name} imports {sorted(wrong)}"
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    used = {dotted(node) for node in nodes if isinstance(node, ast.Attribute)} & CLOCKS
    used |= {node.id for node in nodes if isinstance(node, ast.Name) and node.id == "open"}
    assert not used, f"{path.name} uses {sorted(used)}"


def test_rules_and_records_need_no_web():
    pure = [
        p for p in modules("service") if p.relative_to(ROOT).parts[1] in ("programme", "store", "settings", "errors.py")
    ]
    for path in [*pure, ROOT / "service/web/desk/placing_words.py", ROOT / "service/web/desk/picture/layers.py"]:
        heavy = {n.split(".")[0] for n in imports(path)} & {"flask", "cv2", "click"}
        assert not heavy, f"{path.name} imports {sorted(heavy)}"


def test_the_top_level_is_what_it_should_be():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "annotate", "service", "tests", "sample_submissions"}
    made = {"build", "dist", "moondesk.egg-info", "LICENSE"}
    present = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}
    assert present - made <= allowed
