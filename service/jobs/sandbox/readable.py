"""What a program of this package has to read to run: its interpreter, the libraries, the package; never a data folder.

Folders in PYTHONPATH are taken for code, as whoever starts the program says that they are.
"""

from __future__ import annotations

import os
import sys
import sysconfig
from pathlib import Path

from moondesk.service.folders import CORE, SHELL

#: The packages of this product.
OWN = (CORE, SHELL)
#: Of the system: libraries, and what they look up. Links among them are made as links.
SYSTEM = (
    "/usr/lib",
    "/usr/lib32",
    "/usr/lib64",
    "/usr/libexec",
    "/usr/local/lib",
    "/usr/local/lib64",
    "/lib",
    "/lib32",
    "/lib64",
    "/etc/ld.so.cache",
    "/usr/share/zoneinfo",
    "/nix/store",
    "/gnu/store",
)


def interpreter() -> str:
    """The interpreter itself, not an environment's link to it."""
    return os.path.realpath(getattr(sys, "_base_executable", "") or sys.executable)


def import_paths() -> list[str]:
    """Where modules come from but the package's own: code told by PYTHONPATH, the library, what is installed."""
    told = [p for p in os.environ.get("PYTHONPATH", "").split(os.pathsep) if p and os.path.isabs(p)]
    library = [p for p in sys.path if _is_library(p)]
    return list(dict.fromkeys([*told, *library]))


def readable() -> list[str]:
    """Files and folders that are there, none below another."""
    above = {str(folder) for own in OWN for folder in own.parents if folder.name not in _INSTALLED}
    told = [p for p in import_paths() if p not in above]  # with the tree come the folders beside the packages
    base = [
        f"{prefix}/{name}"
        for prefix in dict.fromkeys([sys.base_prefix, sys.base_exec_prefix])
        for name in ("lib", "lib64")
    ]
    wanted = [
        interpreter(),
        *SYSTEM,
        *base,
        sysconfig.get_path("stdlib"),
        sysconfig.get_path("platstdlib"),
        *map(str, OWN),
        *told,
    ]
    there = sorted({os.path.normpath(p) for p in wanted if os.path.exists(p)})
    return [p for p in there if os.path.islink(p) or not any(p.startswith(f"{q}/") for q in there)]


_INSTALLED = ("site-packages", "dist-packages")


def _is_library(path: str) -> bool:
    parts = Path(path).parts
    standard = {sysconfig.get_path("stdlib"), sysconfig.get_path("platstdlib")}
    return bool(parts) and (
        parts[-1] in _INSTALLED
        or path in standard
        or parts[-1] == "lib-dynload"
        or (parts[-1].startswith("python") and parts[-1].endswith(".zip"))
    )
