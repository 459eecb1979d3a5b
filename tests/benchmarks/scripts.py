"""Thirty evenings of a lunation, thirty scripts: python -m tests.benchmarks.scripts --cache DIR --out DIR --minutes 5 --minutes 10

Pictures of senders of our own invention are rendered and placed once, and kept in the cache. Each script is checked: its
length, ideas and novelties that were told before, sentences shared with another, and every number by a path of its own.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from moondesk.notes.messages import in_english
from moondesk.script.marks import write_script
from tests.core.script_evenings import RATE, month
from tests.core.script_truth import mistakes, told_twice_as_new, truth, worst_shared


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.scripts", description=__doc__)
    parser.add_argument("--cache", type=Path, default=None, help="folder of placed pictures; none: supposed ones")
    parser.add_argument("--out", type=Path, default=None, help="folder for the scripts")
    parser.add_argument("--minutes", type=float, action="append", help="length (repeatable)")
    args = parser.parse_args()
    for minutes in args.minutes or [5.0, 10.0]:
        made = list(month(args.cache, minutes=minutes))
        wrong = []
        with truth() as sky:
            for episode, script in made:
                share = script.words / (RATE * minutes)
                if not 0.9 <= share <= 1.1:
                    wrong.append(f"{episode.day} length: {share:.2f} of the time")
                wrong += mistakes(sky, episode, script)
        wrong += told_twice_as_new(made)
        shared, a, b = worst_shared([script for _, script in made])
        if args.out is not None:
            args.out.mkdir(parents=True, exist_ok=True)
            for episode, script in made:
                name = f"{episode.day}_{minutes:g}min.txt"
                (args.out / name).write_text(write_script(script, in_english) + "\n", encoding="utf-8")
        lengths = [s.words / (RATE * minutes) for _, s in made]
        lines = sum(len(s.lines) for _, s in made)
        print(f"{minutes:g} minutes: {len(made)} scripts, {lines} sentences, {min(lengths):.2f} to {max(lengths):.2f} of the time; "
              f"two share at most {100 * shared:.1f} % ({made[a][0].day}, {made[b][0].day}); {len(wrong)} mistakes")  # fmt: skip
        for one in wrong:
            print(f"  {one}")


if __name__ == "__main__":
    main()
