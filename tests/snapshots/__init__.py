"""What others see of the program, recorded as text: commands, addresses, the API, tables, placings, frames, lists.

    python -m tests.snapshots            tells what differs
    python -m tests.snapshots --record   records anew what differs

A difference is a change that somebody outside notices: it is recorded anew only where it is meant. No snapshot names a
module or a function, so that the code may be moved freely.
"""

from __future__ import annotations

import difflib
import re
from decimal import Decimal
from pathlib import Path

FOLDER = Path(__file__).parent
#: Numbers with a fraction may differ by this share, or by one in the last place: machines round otherwise.
RELATIVE = Decimal("1e-4")
_NUMBER = re.compile(r"(?<![\w.])-?\d+\.\d+(?:e-?\d+)?(?![\w.])")


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
    a, b = Decimal(old), Decimal(made)
    last = Decimal(1).scaleb(max(a.as_tuple().exponent, b.as_tuple().exponent))
    return old if abs(a - b) <= max(RELATIVE * abs(a), last) else made
