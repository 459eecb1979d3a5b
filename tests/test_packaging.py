"""What the package declares against what it imports, and what its lock and its wheel hold."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).parents[1]
WHOLE = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PROJECT = WHOLE["project"]
LOCK = ROOT / ".ci" / "requirements.lock"

#: Import names that are not their distribution's.
DISTRIBUTION = {
    "PIL": "pillow",
    "cv2": "opencv-python-headless",
    "skimage": "scikit-image",
    "erfa": "pyerfa",
    "argon2": "argon2-cffi",
    "fontTools": "fonttools",
}
#: Declared and imported nowhere: zoneinfo reads it where the system has no zones of its own (PEP 615).
DATA_ONLY = {"tzdata"}
#: Extras with parts of the product.
OPTIONAL = ("heic", "raw", "pdf", "video", "plot", "table", "cluster")
SUPPORTED = ("3.11", "3.12", "3.13", "3.14")


def _imported(*paths: Path) -> dict[str, str]:
    """Distribution -> a file that imports it, over all of the product; also by its name as text (optional parts)."""
    by_text = {"rawpy", "pillow_heif", "astropy_iers_data"}
    found = {}
    building = ROOT / "service" / "building.py"  # runs in the build alone, which declares its own
    everything = {*(ROOT / "annotate").rglob("*.py"), *(ROOT / "service").rglob("*.py")} - {building}
    for path in sorted(paths or everything):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                names = [node.module]
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                names = [name for name in (node.value.partition(".")[0],) if name in by_text]
            for top in {name.partition(".")[0] for name in names}:
                if top not in sys.stdlib_module_names and top != "moondesk":
                    found[DISTRIBUTION.get(top, top.replace("_", "-"))] = str(path.relative_to(ROOT))
    return found


def _requirements(*extras: str) -> dict[str, Requirement]:
    lines = [*PROJECT["dependencies"], *(r for e in extras for r in PROJECT["optional-dependencies"][e])]
    return {r.name: r for r in map(Requirement, lines)}


def test_everything_that_is_imported_is_declared():
    declared = _requirements(*OPTIONAL)
    assert {name: where for name, where in _imported().items() if name not in declared} == {}


def test_nothing_that_is_declared_is_idle():
    assert set(_requirements(*OPTIONAL)) - set(_imported()) - DATA_ONLY == set()


def test_the_group_core_is_what_the_core_imports():
    """At the versions that the whole has too."""
    core = {r.name: str(r.specifier) for r in map(Requirement, WHOLE["dependency-groups"]["core"])}
    whole = {r.name: str(r.specifier) for r in map(Requirement, PROJECT["dependencies"])}
    assert core.items() <= whole.items()
    imported = _imported(*(ROOT / "annotate").rglob("*.py"))
    assert set(core) == {n for n in imported if n in whole} | DATA_ONLY
    assert set(imported) - set(whole) <= {r for r in _requirements(*OPTIONAL) if r not in whole}


#: Imports refused: what the desk wants and the core does not.
WITHOUT_DESK = """
import importlib.abc, pathlib, sys
refused = set(sys.argv[1].split(","))
class Refusal(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in refused:
            raise ModuleNotFoundError(f"{name} is refused")
sys.meta_path.insert(0, Refusal())
import moondesk as md
found = md.annotate(sys.argv[2])
assert found.sure, found
assert len(found.to_qtable()) and found.wcs().naxis == 2 and found.json_line()["features"]
md.draw(found), md.draw(found, upright=True), repr(found), found.write_fits(sys.argv[3])
"""


def test_the_core_works_where_nothing_of_the_desk_is_installed(tmp_path):
    core = _imported(*(ROOT / "annotate").rglob("*.py"))
    desk = {name: r for name, r in _requirements(*OPTIONAL).items() if name not in core}
    by_name = {distribution: module for module, distribution in DISTRIBUTION.items()}
    refused = {by_name.get(name, name.replace("-", "_")) for name in desk} | {"markupsafe", "itsdangerous", "blinker"}
    assert {"flask", "waitress", "argon2", "babel", "click", "jinja2", "werkzeug"} <= refused
    sample = ROOT / "sample_submissions" / "20261017_211435.jpg"
    command = [sys.executable, "-c", WITHOUT_DESK, ",".join(refused), str(sample), str(tmp_path / "moon.fits")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "moon.fits").stat().st_size > 1_000_000


def test_the_extra_all_names_every_optional_part():
    (whole,) = map(Requirement, PROJECT["optional-dependencies"]["all"])
    assert whole.name == "moondesk"
    assert whole.extras == set(PROJECT["optional-dependencies"]) - {"all", "test"}


def _locked() -> list[tuple[str, str, Marker | None, int]]:
    """(name, version, marker, number of hashes) of each entry of the lock."""
    entries = re.split(r"\n(?=[a-z0-9])", LOCK.read_text(encoding="utf-8"))
    found = []
    for entry in entries:
        head = re.match(r"([a-z0-9][a-z0-9._-]*)==([^\s;\\]+)(?:\s*;\s*([^\\\n]+))?", entry)
        if head:
            marker = Marker(head[3].strip()) if head[3] else None
            found.append((head[1], head[2], marker, entry.count("--hash=sha256:")))
    return found


@pytest.mark.parametrize("python", SUPPORTED)
def test_the_lock_pins_every_dependency_by_hash_for_each_python(python):
    there = {}
    for name, version, marker, hashes in _locked():
        assert hashes, f"{name} has no hash"
        if marker is None or marker.evaluate(
            {
                "python_version": python,
                "python_full_version": f"{python}.0",
                "sys_platform": "linux",
                "platform_system": "Linux",
                "extra": "",
            }
        ):
            there[name] = Version(version)
    wanted = _requirements(*(e for e in PROJECT["optional-dependencies"] if e not in ("all", "dev")))
    missing = {n: str(r.specifier) for n, r in wanted.items() if n not in there or there[n] not in r.specifier}
    assert missing == {}


def test_the_licence_text_goes_with_the_package():
    text = (ROOT / "annotate" / "LICENSE").read_text(encoding="utf-8")
    assert text.startswith("MIT License")
    assert PROJECT["license"] == "MIT"
    named = {path for pattern in PROJECT["license-files"] for path in ROOT.glob(pattern)}
    assert ROOT / "annotate" / "LICENSE" in named
    assert {p.name for p in (ROOT / "annotate").rglob("*.LICENSE.txt")} <= {p.name for p in named}


def test_an_installed_package_carries_its_licence():
    try:
        installed = metadata.metadata("moondesk")
    except metadata.PackageNotFoundError:
        pytest.skip("the package is not installed, only its source is here")
    assert "annotate/LICENSE" in installed.get_all("License-File", [])


def test_every_folder_of_modules_goes_with_the_package():
    """An installation from the folder itself finds those that are missing from the list all the same."""
    listed = set(WHOLE["tool"]["setuptools"]["packages"])
    for folder, name in ((ROOT / "annotate", "moondesk"), (ROOT / "service", "moondesk.service")):
        for module in folder.rglob("*.py"):
            below = module.parent.relative_to(folder).parts
            assert ".".join((name, *below)) in listed, module
