"""Which wordings wear out over a month of scripts: python -m tests.core.script_wear [MINUTES]

Prints how many sentences of each item come again in how many evenings, the most used wordings, and the two scripts that
share most. Where one wording comes more than four times a month, its table wants more.
"""

from __future__ import annotations

import sys
from collections import Counter
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from script_evenings import month

from moondesk.notes.messages import in_english


def main() -> int:
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    used: dict[str, Counter[str]] = {}
    spoken: list[tuple[int, frozenset[str]]] = []
    short = []
    for episode, script in month(minutes=minutes):
        for item in script.items:
            for paragraph in item.paragraphs:
                used.setdefault(item.kind, Counter()).update(line.said.template for line in paragraph)
        spoken.append((episode.number, frozenset(in_english(line.said) for line in script.lines)))
        short.append((episode.number, script.words, *(i.words for i in script.items if i.kind in ("tour", "hidden"))))
    for kind, counted in used.items():
        print(f"{kind}: {sum(counted.values())} sentences, {len(counted)} wordings")
        for wording, count in counted.most_common(40):
            if count > 3:
                print(f"  {count} {wording}")
    shares = [(len(a & b) / min(len(a), len(b)), m, n) for (m, a), (n, b) in combinations(spoken, 2) if a and b]
    print("shared at most:", ", ".join(f"{100 * s:.0f} % of {m} and {n}" for s, m, n in sorted(shares)[-3:]))
    print("words (all, tour, hidden):", *short)
    return 0


if __name__ == "__main__":
    sys.exit(main())
