"""Where the two packages lie: installed one within the other, and side by side in the source tree."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

SHELL = Path(__file__).resolve().parent


def _core() -> Path:
    spec = find_spec("moondesk")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).resolve().parent


#: The package `moondesk` itself, without the shell where that lies beside it.
CORE = _core()
