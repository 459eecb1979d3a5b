"""What mypy's strict rules, the linter and the formatter say of the source tree: nothing."""

from __future__ import annotations

import importlib.util
import subprocess
import sys

import pytest

from tests.check_types import ROOT, errors


def needs(tool: str) -> pytest.MarkDecorator:
    return pytest.mark.skipif(importlib.util.find_spec(tool) is None, reason=f"{tool} is not installed")


@needs("mypy")
@needs("av")  # of an extra without stubs mypy knows nothing where it is not installed
def test_every_type_holds():
    assert errors() == []


@needs("ruff")
@pytest.mark.parametrize("command", [("check",), ("format", "--check")], ids=" ".join)
def test_the_source_is_as_the_linter_and_the_formatter_want_it(command):
    done = subprocess.run(
        [sys.executable, "-m", "ruff", *command, "--quiet", "."], cwd=ROOT, capture_output=True, text=True
    )
    assert not done.returncode, done.stdout + done.stderr
