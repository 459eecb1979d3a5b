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
from moondesk.sentences import sentence


@dataclass(frozen=True, kw_only=True)
class Extra:
    """What one extra brings."""

    #: As in pip install 'moondesk[name]'.
    name: str
    module: str
    distribution: str
    #: Older releases have holes that hostile files can use.
    at_least: tuple[int, ...] = ()
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
            return self._refuse("missing")
        if self.at_least and _release(library.__version__) < self.at_least:
            needed = ".".join(map(str, self.at_least))
            return self._refuse("unsafe", library=self.distribution, release=library.__version__, needed=needed)
        return library

    def _refuse(self, why: str, **values: str) -> NotFound:
        return NotFound("picture", sentence(f"{self.name}_{why}", **values), sentence(f"{self.name}_install"))


def _release(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", version)[:2])
