"""The bench's measurements as Markdown tables, shares with their 95 % intervals, and its failures, worst first."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np
from scipy.stats import binomtest

Row = dict[str, Any]

#: Edges of the bins of stated sigma, %R.
SIGMA_BINS = (0.0, 0.03, 0.05, 0.1, 0.2, 0.35, math.inf)
#: Craters of this half diameter, %R of the Moon (20 km across), and larger are counted apart from smaller ones.
LARGE_RIM_PCT = 50 * 20 / 1737.4
#: A 95th percentile above this, %R, leaves names on the wrong ground.
PART_OFF_PCT = 2.5
#: Half diameter of what is not counted as a crater with a rim, %R (400 km across: seas).
SEA_PCT = 50 * 400 / 1737.4


def tables(rows: Sequence[Row]) -> str:
    """All tables that the rows' parts call for, with the list of failures at the end."""
    by_part = _grouped(rows, lambda r: r["part"])
    makers = {"scenes": _scenes, "clock": _clock, "others": _others, "tiny": _tiny, "night": _night,
              "harder": _harder, "rightclocks": _right_clocks}  # fmt: skip
    said = [makers[part](by_part[part]) for part in makers if part in by_part]
    return "\n\n".join([*said, failures(rows)])


def share(hits: int, of: int) -> str:
    """A share in percent with its Wilson 95 % interval (Wilson 1927, as scipy computes it)."""
    if of == 0:
        return "-"
    low, high = binomtest(hits, of).proportion_ci(0.95, method="wilson")
    return f"{100 * hits / of:.1f} ({100 * low:.1f}–{100 * high:.1f})"


def markdown(head: Sequence[str], body: Iterable[Sequence[object]]) -> str:
    lines = [head, ["---"] * len(head), *([str(cell) for cell in line] for line in body)]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def _grouped(rows: Iterable[Row], key: Callable[[Row], Any]) -> dict[Any, list[Row]]:
    groups: dict[Any, list[Row]] = defaultdict(list)
    for row in rows:
        groups[key(row)].append(row)
    return dict(groups)


def _false(row: Row) -> bool:
    return row["status"] == "annotated" and row["sure"] and not row["right"]


def _wrong(row: Row) -> bool:
    return row["status"] == "annotated" and not row["sure"] and not row["right"]


def _percentile(values: Iterable[float], q: float, form: str = ".3f") -> str:
    array = np.array(list(values))
    return format(float(np.percentile(array, q)), form) if array.size else "-"


def _scenes(rows: list[Row]) -> str:
    body = []
    groups = _grouped(rows, lambda r: r["family"])
    for name, group in [*sorted(groups.items()), ("all", rows), ("all but tiny", [r for r in rows if not _is_tiny(r)])]:
        errors = [r["error"] for r in group if r["right"] and r["error"] is not None]
        body.append([
            name, len(group), share(sum(r["right"] for r in group), len(group)),
            share(sum(r["right"] and r["sure"] for r in group), len(group)),
            sum(map(_false, group)), sum(map(_wrong, group)), _percentile(errors, 50), _percentile(errors, 90),
        ])  # fmt: skip
    head = ("family", "n", "right, %", "sure and right, %", "false", "wrong", "median %R", "p90 %R")
    return "\n\n".join([markdown(head, body), _trust(rows), _sigmas(rows), _rims(rows)])


def _is_tiny(row: Row) -> bool:
    return row["family"] == "tiny"


def _trust(rows: list[Row]) -> str:
    placed = [r for r in rows if r["status"] == "annotated" and not _is_tiny(r)]
    body = []
    for name, wanted in (("sure", True), ("not sure", False)):
        group = [r for r in placed if r["sure"] is wanted]
        mirrored = sum(r["mirror_ok"] is False for r in group)
        body.append([name, len(group), share(sum(r["right"] for r in group), len(group)), mirrored])
    return markdown(("annotated and called", "n", "right, %", "wrong hand"), body)


def _sigmas(rows: list[Row]) -> str:
    """Coordinates (two a feature) of right pictures: what was stated beside what was observed."""
    marks = [m for r in rows if r["right"] for m in r.get("marks", ())]
    table = np.array(marks).reshape(-1, 4)
    body = []
    for low, high in [*itertools.pairwise(SIGMA_BINS), (0.0, math.inf)]:
        chosen = table[(table[:, 2] >= low) & (table[:, 2] < high)]
        if not len(chosen):
            continue
        ratio = np.abs(chosen[:, :2]) / chosen[:, 2:3]
        name = "all" if (low, high) == (0.0, math.inf) else f"{low:g} to {high:g}".replace("to inf", "and more")
        body.append([
            name, 2 * len(chosen), f"{math.sqrt(np.mean(chosen[:, 2] ** 2)):.3f}",
            f"{math.sqrt(np.mean(chosen[:, :2] ** 2)):.3f}",
            f"{100 * np.mean(ratio <= 1):.1f}", f"{100 * np.mean(ratio <= 2):.1f}", f"{100 * np.mean(ratio <= 3):.2f}",
        ])  # fmt: skip
    head = ("stated sigma, %R", "coordinates", "stated rms", "observed rms", "in 1 sigma, %", "in 2, %", "in 3, %")
    return markdown(head, body) + "\n\n" + _sigmas_by_family(rows)


def _sigmas_by_family(rows: list[Row]) -> str:
    body = []
    for family, group in sorted(_grouped([r for r in rows if r["right"] and r.get("marks")], _family).items()):
        per_picture = []
        for row in group:
            marks = np.array(row["marks"])
            per_picture.append((np.abs(marks[:, :2]) / marks[:, 2:3], marks))
        ratio = np.vstack([p[0] for p in per_picture])
        stated = float(np.median(np.concatenate([p[1][:, 2] for p in per_picture])))
        worst = min(float(np.mean(p[0] <= 2)) for p in per_picture)
        body.append(
            [
                family,
                len(group),
                f"{stated:.3f}",
                f"{math.sqrt(np.mean(ratio**2)):.2f}",
                f"{100 * np.mean(ratio <= 1):.1f}",
                f"{100 * np.mean(ratio <= 2):.1f}",
                f"{100 * worst:.1f}",
            ]
        )
    head = ("family", "right", "median stated sigma, %R", "rms of error / sigma", "in 1 sigma, %", "in 2, %",
            "in 2, worst picture, %")  # fmt: skip
    return markdown(head, body)


def _family(row: Row) -> str:
    return str(row["family"])


def _rims(rows: list[Row]) -> str:
    """Lit craters whose stated pixel lies within half a diameter of the true one, over pictures called sure."""
    marks = [m for r in rows if r["sure"] for m in r.get("marks", ()) if m[3] < SEA_PCT]
    body = []
    for name, group in (("20 km and more", [m for m in marks if m[3] >= LARGE_RIM_PCT]),
                        ("below 20 km", [m for m in marks if m[3] < LARGE_RIM_PCT])):  # fmt: skip
        inside = sum(math.hypot(m[0], m[1]) <= m[3] for m in group)
        body.append([name, len(group), f"{100 * inside / len(group):.2f}" if group else "-"])
    return markdown(("craters of sure pictures", "n", "within the rim, %"), body)


def _part_off(row: Row) -> bool:
    """Sure and right in the median, with names that are not."""
    return bool(row["sure"] and row["right"] and row["error95"] is not None and row["error95"] > PART_OFF_PCT)


def _accused(row: Row) -> bool:
    return bool(row["clock_right"] and row.get("clock") == "disagrees")


def _harder(rows: list[Row]) -> str:
    body = []
    for name, group in [*sorted(_grouped(rows, _family).items()), ("all", rows)]:
        marks = np.array([m for r in group if r["right"] for m in r["marks"]]).reshape(-1, 4)
        within = np.abs(marks[:, :2]) <= 2 * marks[:, 2:3]
        body.append([
            name, len(group), sum(r["placed"] for r in group), sum(r["right"] for r in group),
            sum(r["right"] and r["sure"] for r in group), sum(bool(r["sure"]) and not r["right"] for r in group),
            sum(map(_part_off, group)), sum(map(_accused, group)),
            sum(r["status"] == "eclipse" and not r["eclipsed"] for r in group),
            _percentile([r["error"] for r in group if r["right"]], 50),
            f"{np.mean(within):.3f}" if within.size else "-",
        ])  # fmt: skip
    head = ("family", "n", "placed", "right", "sure and right", "sure and wrong", "sure, part off",
            "right clock accused", "eclipse falsely told", "median %R", "within 2 sigma")  # fmt: skip
    return markdown(head, body)


def _right_clocks(rows: list[Row]) -> str:
    body = []
    for name, group in [*sorted(_grouped(rows, _family).items()), ("all", rows)]:
        says = [sum(r.get("clock") == v for r in group) for v in ("agrees", "cannot_tell", "disagrees")]
        sure = sum(bool(r["sure"]) for r in group)
        wrong = sum(bool(r["sure"]) and not r["right"] for r in group)
        body.append(
            [
                name,
                len(group),
                sum(r["placed"] for r in group),
                sure,
                wrong,
                *says,
                sum(bool(r.get("old")) for r in group),
            ]
        )
    head = ("right clocks", "n", "placed", "sure", "sure and wrong", "agrees", "cannot tell", "accused", "called old")
    accused = share(sum(map(_accused, rows)), len(rows))
    return markdown(head, body) + f"\n\nRight clocks accused, %: {accused}"


def _clock(rows: list[Row]) -> str:
    body = []
    with_clock = [r for r in rows if r["offset"] is not None]

    def key(row: Row) -> tuple[int, bool]:
        return abs(row["offset"]), not row["place"]

    for (offset, no_place), group in sorted(_grouped(with_clock, key).items()):
        placed = [r for r in group if r["status"] == "annotated"]
        says = {v: sum(r.get("clock") == v for r in group) for v in ("disagrees", "agrees", "cannot_tell")}
        body.append([
            "0" if offset == 0 else f"±{offset}", "no" if no_place else "yes", len(group), len(placed),
            share(says["disagrees"], len(group)), says["agrees"], says["cannot_tell"],
            sum(r["mirror_ok"] is False for r in placed),
        ])  # fmt: skip
    for offset, group in sorted(_grouped(with_clock, lambda r: abs(r["offset"])).items()):
        says_wrong = share(sum(r.get("clock") == "disagrees" for r in group), len(group))
        body.append([f"±{offset}" if offset else "0", "either", len(group), "", says_wrong, "", "", ""])
    head = ("clock off, h", "place in file", "n", "annotated", "disagrees, %", "agrees", "cannot tell", "wrong hand")
    return "\n\n".join([markdown(head, body), _verdicts_by_family(with_clock), _hours(rows)])


def _verdicts_by_family(rows: list[Row]) -> str:
    """Share of pictures whose clock is called wrong, by family and error."""
    offsets = sorted({abs(r["offset"]) for r in rows})
    body = []
    for family, group in sorted(_grouped(rows, _family).items()):
        by_offset = _grouped(group, lambda r: abs(r["offset"]))
        cells = []
        for offset in offsets:
            chosen = by_offset.get(offset, [])
            cells.append(f"{sum(r.get('clock') == 'disagrees' for r in chosen)} of {len(chosen)}")
        body.append([family, *cells])
    return markdown(("called wrong", *(f"{o} h" for o in offsets)), body)


def _hours(rows: list[Row]) -> str:
    """Error of the time that the picture itself gives, by what was known."""
    right = [r for r in rows if r["offset"] == 0]
    wrong = [r for r in rows if r["offset"] is not None and abs(r["offset"]) >= 8]
    kinds = (
        ("no clock, no place", [r for r in rows if r["offset"] is None]),
        ("clock right, place known", [r for r in right if r["place"]]),
        ("clock right, no place", [r for r in right if not r["place"]]),
        ("clock wrong by 8 h or more, place known", [r for r in wrong if r["place"]]),
        ("clock wrong by 8 h or more, no place", [r for r in wrong if not r["place"]]),
    )
    body = []
    for name, group in kinds:
        hours = [abs(r["hours"]) for r in group if r.get("hours") is not None]
        sigmas = [r["clock_sigma_h"] for r in group if r.get("hours") is not None]
        ratio = [h / sigma for h, sigma in zip(hours, sigmas, strict=True)]
        body.append([
            name, len(group), len(hours), _percentile(hours, 50, ".2f"), _percentile(hours, 95, ".2f"),
            f"{max(hours):.1f}" if hours else "-", share(sum(h <= 5 for h in hours), len(hours)),
            _percentile(sigmas, 50, ".2f"),
            f"{100 * np.mean(np.array(ratio) <= 1):.0f}" if ratio else "-",
            f"{100 * np.mean(np.array(ratio) <= 2):.0f}" if ratio else "-",
        ])  # fmt: skip
    head = ("time from the picture", "n", "given", "median h", "p95 h", "worst h", "within 5 h, %",
            "median stated sigma, h", "in 1 sigma, %", "in 2 sigma, %")  # fmt: skip
    return markdown(head, body)


def _others(rows: list[Row]) -> str:
    def kind(row: Row) -> str:
        return f"library, {row['family'].split(':')[0]}" if ":" in row["family"] else str(row["family"])

    body = []
    statuses = ("annotated", "eclipse", "disc_only", "unplaced", "not_moon", "unreadable", "raised")
    for name, group in [*sorted(_grouped(rows, kind).items()), ("all", rows)]:
        counts = [sum(r["status"] == s for r in group) for s in statuses]
        body.append([name, len(group), *counts, sum(r["sure"] for r in group)])
    shares = markdown(("of all", "%"), [
        (s, share(sum(r["status"] == s for r in rows), len(rows))) for s in ("annotated", "disc_only", "not_moon")
    ])  # fmt: skip
    return markdown(("not the Moon", "n", *statuses, "sure"), body) + "\n\n" + shares


def _tiny(rows: list[Row]) -> str:
    body = [(status, len(group), share(len(group), len(rows)), _percentile([r["radius_px"] for r in group], 0, ".1f"),
             _percentile([r["radius_px"] for r in group], 100, ".1f"))
            for status, group in sorted(_grouped(rows, lambda r: r["status"]).items())]  # fmt: skip
    return markdown(("tiny discs", "n", "share, %", "least radius, px", "largest"), body)


def _night(rows: list[Row]) -> str:
    """Pictures of years ago, handed in as fresh or without a date."""
    body, listed = [], []
    for case, group in _grouped(rows, lambda r: r["case"]).items():
        sure = [r for r in group if r["status"] == "annotated" and (r["sure"] or r["told"])]
        found = [r for r in sure if r["rank"] is not None]
        if case.startswith("undated"):
            listed.append(
                [
                    case,
                    len(group),
                    len(sure),
                    share(len(found), len(sure)),
                    share(sum(r["rank"] == 0 for r in found), len(sure)),
                    _percentile([r["listed"] for r in sure], 50, ".0f"),
                ]
            )
        else:
            quiet = sum(r["status"] == "annotated" and r["sure"] for r in group)
            told_of = sum(r["told"] for r in group)
            body.append([case, len(group), told_of, share(told_of, len(sure)), quiet, share(len(found), len(sure))])
    told = markdown(
        (
            "picture of years ago",
            "n",
            "told",
            "told, % of those placed surely",
            "sure and not told",
            "true night listed, %",
        ),
        body,
    )
    lists = markdown(("without a date", "n", "sure", "true night listed, %", "first, %", "listed, median"), listed)
    return told + "\n\n" + lists


def failures(rows: Sequence[Row]) -> str:
    """What went wrong, worst first: by rank, then by size."""
    listed = sorted(((*_fault(r), r) for r in rows if _fault(r)[0]), key=lambda f: (f[0], -f[2]))
    body = []
    for _, what, _, r in listed:
        error = r.get("error")
        body.append([
            what, r["part"], r["family"], r["seed"], r["status"], "sure" if r["sure"] else "",
            "-" if error is None else f"{error:.2f}", r["reason"] or r.get("words") or "",
        ])  # fmt: skip
    head = ("failure", "part", "family", "seed", "status", "", "median %R", "its own words")
    return markdown(head, body) if body else "No failures."


def _fault(row: Row) -> tuple[int, str, float]:
    """Rank (0: none, 1: worst), what it is, and its size within the rank."""
    size = float(row.get("error") or 0.0)
    if row["status"] == "raised":
        return 1, "raised an exception", 0.0
    if row["part"] in ("others", "tiny"):
        if row["status"] in ("annotated", "eclipse"):
            return (2, "sure and false", 0.0) if row["sure"] else (5, "annotated, is not to be", 0.0)
        moonlike = row["part"] == "others" and row["status"] == "disc_only"
        return (9, "disc only, is no Moon", 0.0) if moonlike else (0, "", 0.0)
    if row["part"] == "night":
        if row["case"].startswith("undated"):
            return (9, f"{row['case']}: night not listed", 0.0) if row["sure"] and row["rank"] is None else (0, "", 0.0)
        return (6, f"old and not told: {row['case']}", 0.0) if row["sure"] else (0, "", 0.0)
    if row["part"] in ("scenes", "harder", "rightclocks"):
        if row["sure"] and not row["right"]:
            return 2, "sure and false", size
        if _part_off(row):
            return 2, "sure, a part off", float(row["error95"])
        if row["part"] != "scenes" and (_accused(row) or (row["clock_right"] and row.get("old"))):
            return 4, "right clock accused", 0.0
        if row["mirror_ok"] is False:
            return 3, "wrong hand", size
        if _wrong(row):
            return 5, "wrong, not sure", size
        return (0, "", 0.0) if row["right"] else (8, "not placed", 0.0)
    return _clock_fault(row)


def _clock_fault(row: Row) -> tuple[int, str, float]:
    hours = abs(row["hours"]) if row.get("hours") is not None else 0.0
    if row["status"] != "annotated":
        return 8, f"not placed, clock off {row['offset']} h", 0.0
    if row["mirror_ok"] is False:
        return 3, f"wrong hand, clock off {row['offset']} h", hours
    if row.get("old"):
        return 4, "called old", hours
    if row["offset"] == 0 and row["clock"] == "disagrees":
        return 4, "right clock accused", hours
    if hours > 6:
        return 6, f"picture's time off {row['hours']:+.1f} h, clock off {row['offset']} h", hours
    if row["offset"] is not None and abs(row["offset"]) >= 8 and row["clock"] == "agrees":
        return 7, f"wrong clock believed, off {row['offset']:+d} h", float(abs(row["offset"]))
    return 0, "", 0.0
