"""The package as it is built: what travels in it, and that its demo runs where nothing else is."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SAMPLES = {p.name for p in (ROOT / "sample_submissions").iterdir()}


def built(command: str, target: Path, source: Path = ROOT) -> Path:
    """A wheel or a source archive, by the build's own tools without asking any index."""
    program = f"from setuptools import build_meta; build_meta.{command}({str(target)!r})"
    done = subprocess.run([sys.executable, "-c", program], cwd=source, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    (made,) = target.iterdir()
    return made


def copied(into: Path) -> Path:
    """The source tree, so that nothing is built in it."""
    for name in ("annotate", "service", "sample_submissions", "pyproject.toml", "README.md"):
        subprocess.run(["cp", "-r", str(ROOT / name), str(into)], check=True)
    return into


@pytest.mark.skipif(sys.platform == "win32", reason="cp")
def test_the_samples_travel_in_a_wheel_built_from_a_source_archive(tmp_path):
    pytest.importorskip("setuptools", minversion="69")
    for name in ("tree", "archive", "unpacked", "wheel"):
        (tmp_path / name).mkdir()
    archive = built("build_sdist", tmp_path / "archive", copied(tmp_path / "tree"))
    with tarfile.open(archive) as tar:
        tar.extractall(tmp_path / "unpacked", filter="data")
    (source,) = (tmp_path / "unpacked").iterdir()
    with zipfile.ZipFile(built("build_wheel", tmp_path / "wheel", source)) as wheel:
        names = wheel.namelist()
        assert {Path(n).name for n in names if n.startswith("moondesk/service/samples/")} == SAMPLES
        tops = {n.split("/")[0] for n in names}
        assert {top for top in tops if not top.endswith(".dist-info")} == {"moondesk"}
        assert {f"moondesk/docs/{page.name}" for page in (ROOT / "annotate" / "docs").iterdir()} <= set(names)
        for name in ("DSC_0412.jpg", "programme.toml"):
            assert wheel.read(f"moondesk/service/samples/{name}") == (ROOT / "sample_submissions" / name).read_bytes()


@pytest.mark.slow
def test_the_demo_runs_from_an_installed_wheel_in_an_empty_folder(tmp_path):
    """What the package needs is taken from the environment of the tests."""
    for name in ("tree", "wheel", "empty"):
        (tmp_path / name).mkdir()
    wheel = built("build_wheel", tmp_path / "wheel", copied(tmp_path / "tree"))
    venv.create(tmp_path / "venv", with_pip=True)
    python = tmp_path / "venv" / "bin" / "python"
    (site,) = (tmp_path / "venv").glob("lib/*/site-packages")
    needed = next(p for p in sys.path if p.endswith("site-packages"))
    (site / "needed.pth").write_text(needed + "\n")
    subprocess.run([python, "-m", "pip", "install", "-q", "--no-deps", "--no-index", wheel], check=True)
    done = subprocess.run(
        [python.parent / "moondesk", "demo", "--no-serve", "--workers", "1"],
        cwd=tmp_path / "empty",
        env={**os.environ, "TMPDIR": str(tmp_path)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("Placed, sure") >= 10, done.stdout
    assert list((tmp_path / "empty").iterdir()) == []
