"""How well claims in free words are judged: two corpora with the truth beside each, by who wrote no code.

    python -m tests.core.claims.score [open|apart] [--misses]

The half "open" may be looked at by who writes the word lists; the half "apart" is only ever measured: --misses is
refused there. The picture of each evening shows the whole disc, surely placed and dated.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np

from moondesk.ephemeris.aspect import aspect_at
from moondesk.notes.claims import check_claim
from moondesk.notes.messages import in_english
from moondesk.records import (
    Annotation,
    Clock,
    ClockVerdict,
    EveningKnowledge,
    EveningVerdict,
    Pose,
    Status,
    Terminator,
    TimeCandidate,
    TimeReadings,
)
from moondesk.visibility.marks import mark_features

FOLDER = Path(__file__).parent
HALVES, MEASURED_ONLY = ("open", "apart"), ("apart",)
EVENINGS = {
    1: datetime(2026, 10, 14, 17, 30, tzinfo=UTC), 2: datetime(2026, 10, 18, 18, tzinfo=UTC),
    3: datetime(2026, 10, 19, 20, 33, tzinfo=UTC), 4: datetime(2026, 10, 21, 19, tzinfo=UTC),
    5: datetime(2026, 10, 24, 20, tzinfo=UTC), 6: datetime(2026, 10, 26, 4, 30, tzinfo=UTC),
    7: datetime(2026, 10, 29, 22, tzinfo=UTC), 8: datetime(2026, 11, 1, 4, tzinfo=UTC)}  # fmt: skip


@cache
def picture(number: int) -> Annotation:
    """The evening's Moon as the Earth's centre sees it, north up, everything in the light marked as seen."""
    when = EVENINGS[number]
    sky = aspect_at(when, None)
    pose = Pose(
        x=500, y=500, radius_px=450, north_screen_deg=0.0, mirrored=False, libration_lat_deg=sky.libration_lat_deg,
        libration_lon_deg=sky.libration_lon_deg, sub_solar_lat_deg=sky.sub_solar_lat_deg,
        sub_solar_lon_deg=sky.sub_solar_lon_deg, distance_radii=sky.distance_km / 1737.4)  # fmt: skip
    marks = tuple(replace(m, seen=0.95 if m.lit_fraction > 0 and m.radius_px >= 3 else 0.1) for m in mark_features(
        pose, pose, np.full((1001, 1001), 0.5, np.float32), 1001, 1001, 2.0))  # fmt: skip
    time = TimeCandidate(when, 1.0, "told")
    return Annotation(
        status=Status.ANNOTATED, sure=True, width=1001, height=1001,
        taken=TimeReadings(candidates=(time,), earliest_utc=None, latest_utc=None), time=time,
        clock=Clock(ClockVerdict.AGREES, None, None), limb=None, pose=pose,
        terminator=Terminator(sky.phase_angle_deg, sky.illuminated_fraction, 270.0, 0.05), aspect=sky, features=marks,
        dated=EveningKnowledge(EveningVerdict.SURE))  # fmt: skip


def counts(half: str, language: str, misses: list[str] | None = None) -> dict[str, int]:
    """Of one language: how many claims, understood, vague (roughly or cannot tell), false called true, true false."""
    found = dict.fromkeys(("claims", "understood", "vague", "false called true", "true called false"), 0)
    for line in (FOLDER / f"{half}.jsonl").read_text(encoding="utf-8").splitlines():
        one = json.loads(line)
        if one["lang"] != language:
            continue
        checked = check_claim(one["text"], picture(one["evening"]), EVENINGS[one["evening"]])
        verdict = checked.verdict
        found["claims"] += 1
        found["understood"] += verdict != "not understood"
        found["vague"] += verdict in ("roughly", "cannot tell")
        found["false called true"] += verdict == "true" and not one["true"]
        found["true called false"] += verdict == "false" and one["true"]
        if misses is not None and verdict != ("true" if one["true"] else "false"):
            misses.append(
                f"{one['id']} {one['evening']} {one['true']}: {verdict}: {one['text']} [{in_english(checked.said)}]"
            )
    return found


def main(arguments: list[str]) -> None:
    for half in [a for a in arguments if a in HALVES] or list(HALVES):
        misses: list[str] = []
        for language in ("en", "bg"):
            found = counts(half, language, misses if half not in MEASURED_ONLY else None)
            print(half, language, ", ".join(f"{name} {n}" for name, n in found.items()))
        if "--misses" in arguments and half not in MEASURED_ONLY:
            print(*misses, sep="\n")


if __name__ == "__main__":
    main(sys.argv[1:])
