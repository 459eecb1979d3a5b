"""Libraries that come as extras of the installation, imported when the first file that needs one comes.

They are extras for their licences or their size. Without them the original is kept and the sentence says what to
install.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import importlib.util
import re
from dataclasses import dataclass
from typing import Any

from moondesk.records import NotFound


@dataclass(frozen=True, kw_only=True)
class Extra:
    """What one extra brings."""

    #: As in pip install 'moondesk[name]'.
    name: str
    module: str
    distribution: str
    #: Older releases have holes that hostile files can use.
    at_least: tuple[int, ...] = ()
    #: What cannot be opened without it, and what else to do.
    what: str
    otherwise: str
    #: What is said at the start of a program where it is missing.
    lacking: str

    def is_usable(self) -> bool:
        """Whether it is installed, and new enough to be safe; it is not loaded."""
        if importlib.util.find_spec(self.module) is None:
            return False
        return not self.at_least or _release(importlib.metadata.version(self.distribution)) >= self.at_least

    def load(self) -> Any | NotFound:
        """The library's module, or the refusal that says what to install."""
        try:
            library = importlib.import_module(self.module)
        except ImportError:
            return self._missing("needs an extra that is not installed")
        if self.at_least and _release(library.__version__) < self.at_least:
            needed = ".".join(map(str, self.at_least))
            return self._missing(
                f"the installed {self.distribution} {library.__version__} opens unsafely ({needed} is needed)"
            )
        return library

    def _missing(self, why: str) -> NotFound:
        return NotFound(
            "picture",
            f"The file is {self.what}, which {why}; the original is kept.",
            f"Run pip install 'moondesk[{self.name}]', then moondesk retry, which places it; {self.otherwise}",
        )


def _release(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", version)[:2])
