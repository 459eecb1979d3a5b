"""Text of strangers as one clean line. Pure."""

from __future__ import annotations

import unicodedata

#: Longest text kept of one cell of a table; more is not a name or a place.
CELL_CHARACTERS = 500


def clean_text(text: str, limit: int = CELL_CHARACTERS) -> str:
    """One line of printable text: control and direction-override characters out, spaces folded, accents composed."""
    kept = "".join(
        c if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co", "Cn") or c in "\u200c\u200d" else " "
        for c in unicodedata.normalize("NFC", text)
    )
    return " ".join(kept.split())[:limit]


def clean_lines(text: str) -> str:
    """Printable text of several lines, with at most one empty line between two."""
    lines = [clean_text(line, 4_000) for line in text.splitlines()]
    return "\n".join(line for k, line in enumerate(lines) if line or (k and lines[k - 1])).strip()
