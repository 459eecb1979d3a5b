"""What others see of the program, recorded as text: commands, addresses, the API, tables, placings, frames, lists.

    python -m tests.snapshots            tells what differs
    python -m tests.snapshots --record   records anew what differs

A difference is a change that somebody outside notices: it is recorded anew only where it is meant. No snapshot names a
module or a function, so that the code may be moved freely.
"""

from __future__ import annotations

import difflib
import re
from datetime import datetime
from decimal import Decimal
from pathlib import Path

FOLDER = Path(__file__).parent
#: Numbers with a fraction may differ by so many in the last place, small ones by this share up to so much: processors add
#: up in another order.
PLACES, RELATIVE, MOST = 3, Decimal("5e-3"), Decimal("0.02")
#: Times read from the light, whose own uncertainty is minutes, in seconds.
SECONDS = 60.0
_NUMBER = re.compile(r"(?<![\w.])-?\d+\.\d+(?:e-?\d+)?(?![\w.])|(?<!\w)\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ(?!\w)")


def path_of(name: str) -> Path:
    return FOLDER / name


def difference(name: str, made: str) -> str:
    """As a unified diff of what is recorded and what was made; "" for none."""
    path = path_of(name)
    old = path.read_text(encoding="utf-8") if path.is_file() else ""
    if name.endswith(".json"):
        made = _as_recorded(old, made)
    return "\n".join(
        difflib.unified_diff(old.splitlines(), made.splitlines(), f"recorded/{name}", f"made/{name}", lineterm="")
    )


def _as_recorded(old: str, made: str) -> str:
    """What was made, with the recorded number in place of each that is as good as that."""
    before = old.splitlines()
    lines = made.splitlines()
    for tag, a0, a1, b0, b1 in difflib.SequenceMatcher(
        None, [_NUMBER.sub("#", line) for line in before], [_NUMBER.sub("#", line) for line in lines], False
    ).get_opcodes():
        if tag == "equal":
            for i, j in zip(range(a0, a1), range(b0, b1), strict=True):
                numbers = iter(_NUMBER.findall(before[i]))
                lines[j] = _NUMBER.sub(lambda found, numbers=numbers: _nearest(next(numbers), found[0]), lines[j])
    return "\n".join(lines) + "\n"


def _nearest(old: str, made: str) -> str:
    if "T" in old or "T" in made:
        if not ("T" in old and "T" in made):
            return made
        apart = datetime.fromisoformat(old) - datetime.fromisoformat(made)
        return old if abs(apart.total_seconds()) <= SECONDS else made
    a, b = Decimal(old), Decimal(made)
    last = Decimal(1).scaleb(max(a.as_tuple().exponent, b.as_tuple().exponent))
    return old if abs(a - b) <= max(min(RELATIVE * abs(a), MOST), PLACES * last) else made
