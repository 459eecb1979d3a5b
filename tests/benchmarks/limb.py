"""The limb against ready-made circle finders, on scenes whose truth is known. Run by hand.

    python -m tests.benchmarks.limb SCENES_DIR

SCENES_DIR holds pictures, truth.json and submissions.csv (as `python -m tests.scenes` writes them); without an
argument the environment variable MOONDESK_SHARED names the folder above `scenes`. Left out are the families `tiny`
(the answer there is no annotation) and `closeup` (an arc so short fixes no circle, figures A2). Truth is the
undistorted disc, so that circles fitted in the families `low` and `lens` carry what flattening and lens add.
"""

from __future__ import annotations

import csv
import json
import os
import sys
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from skimage.feature import canny
from skimage.measure import CircleModel, ransac

from moondesk.files.picture import decode
from moondesk.pipeline import annotate_picture
from moondesk.placement.limb import find_circles, fit_limb
from moondesk.records import Known, NotFound, Picture

Circle = tuple[float, float, float]
LEFT_OUT = frozenset({"tiny", "closeup"})
NO_CIRCLE = frozenset({"low", "lens"})
SEARCH_PX = 800


def reduced(picture: Picture) -> tuple[np.ndarray, float]:
    """8-bit grey of at most SEARCH_PX a side for the ready-made finders, and full pixels per pixel of it."""
    grey = np.round(255 * np.clip(picture.luminance, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    shrink = max(grey.shape) / SEARCH_PX
    if shrink > 1:
        grey = cv2.resize(grey, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
    return grey, picture.width / grey.shape[1]


def full(circle: Circle, shrink: float) -> Circle:
    return (circle[0] + 0.5) * shrink - 0.5, (circle[1] + 0.5) * shrink - 0.5, circle[2] * shrink


def first_limb(data: bytes, picture: Picture, received: datetime) -> Circle | None:
    """The package's fit of the first candidate alone: no surface, no clock."""
    for circle in find_circles(picture.luminance)[:1]:
        limb = fit_limb(picture.luminance, circle)
        if not isinstance(limb, NotFound):
            return full((limb.x, limb.y, limb.radius_px), picture.shrink)
    return None


def solved_pose(data: bytes, picture: Picture, received: datetime) -> Circle | None:
    pose = annotate_picture(data, Known(received_utc=received)).pose
    return None if pose is None else (pose.x, pose.y, pose.radius_px)


def _hough(picture: Picture, method: int, param1: float, param2: float) -> Circle | None:
    grey, shrink = reduced(picture)
    found = cv2.HoughCircles(
        cv2.medianBlur(grey, 5),
        method,
        1.5,
        max(grey.shape) / 2,
        param1=param1,
        param2=param2,
        minRadius=10,
        maxRadius=max(grey.shape),
    )
    if found is None:
        return None
    x, y, radius = (float(c) for c in found.reshape(-1, found.shape[-1])[0, :3])
    return full((x, y, radius), shrink)


def hough(data: bytes, picture: Picture, received: datetime) -> Circle | None:
    return _hough(picture, cv2.HOUGH_GRADIENT, 100, 30)


def hough_alt(data: bytes, picture: Picture, received: datetime) -> Circle | None:
    return _hough(picture, cv2.HOUGH_GRADIENT_ALT, 200, 0.8)


def ransac_circle(data: bytes, picture: Picture, received: datetime) -> Circle | None:
    grey, shrink = reduced(picture)
    y, x = np.nonzero(canny(grey, sigma=2.0))
    if len(x) < 10:
        return None
    largest = 2 * max(grey.shape)
    model, _ = ransac(
        np.column_stack([x, y]).astype(float),
        CircleModel,
        min_samples=3,
        residual_threshold=1.5,
        max_trials=2000,
        is_model_valid=lambda m, *_: bool(10 < m.radius < largest),
        rng=7,
    )
    return full((*(float(c) for c in model.center), float(model.radius)), shrink) if model else None


METHODS: dict[str, Callable[[bytes, Picture, datetime], Circle | None]] = {
    "solved pose (limb and surface)": solved_pose,
    "fit_limb, first candidate": first_limb,
    "OpenCV HoughCircles, gradient": hough,
    "OpenCV HoughCircles, gradient alt": hough_alt,
    "scikit-image RANSAC circle on Canny edges": ransac_circle,
}


def errors(circle: Circle | None, truth: dict[str, float]) -> tuple[float, float]:
    """(radius, centre) error in %R; infinite where nothing was found."""
    if circle is None:
        return np.inf, np.inf
    x, y, radius = circle
    whole = truth["radius"]
    return 100 * abs(radius - whole) / whole, 100 * float(np.hypot(x - truth["x"], y - truth["y"])) / whole


def table(rows: list[tuple[str, dict[str, tuple[float, float]]]], seconds: dict[str, float]) -> str:
    """A markdown table: medians over all, and how many lie within 1 %R; inf counts as a miss."""
    lines = [
        "| method | found | radius, median %R | centre, median %R | radius within 1 %R | centre within 1 %R "
        "| both within 1 %R | seconds a picture |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for name in METHODS:
        e = np.array([row[name] for _, row in rows])
        found, within = np.isfinite(e[:, 0]).sum(), e <= 1.0
        lines.append(
            f"| {name} | {found} of {len(e)} | {np.median(e[:, 0]):.3f} | {np.median(e[:, 1]):.3f} "
            f"| {within[:, 0].sum()} | {within[:, 1].sum()} | {within.all(axis=1).sum()} "
            f"| {seconds[name] / len(e):.2f} |"
        )
    return "\n".join(lines)


def measure(folder: Path) -> tuple[list[tuple[str, dict[str, tuple[float, float]]]], dict[str, float]]:
    truth: list[dict[str, Any]] = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    with (folder / "submissions.csv").open(encoding="utf-8", newline="") as file:
        received = {r["file"]: datetime.fromisoformat(r["received_utc"]) for r in csv.DictReader(file)}
    rows: list[tuple[str, dict[str, tuple[float, float]]]] = []
    seconds = dict.fromkeys(METHODS, 0.0)
    for scene in truth:
        if scene["family"] in LEFT_OUT:
            continue
        data = (folder / scene["file"]).read_bytes()
        picture = decode(data)
        if isinstance(picture, NotFound):
            raise ValueError(f"{scene['file']}: {picture.reason}")
        row = {}
        for name, method in METHODS.items():
            start = time.perf_counter()
            row[name] = errors(method(data, picture, received[scene["file"]]), scene["limb"])
            seconds[name] += time.perf_counter() - start
        rows.append((scene["family"], row))
    return rows, seconds


def main() -> None:
    shared = os.environ.get("MOONDESK_SHARED")
    if len(sys.argv) > 2 or (len(sys.argv) < 2 and not shared):
        raise SystemExit("usage: python -m tests.benchmarks.limb SCENES_DIR")
    folder = Path(sys.argv[1]) if len(sys.argv) == 2 else Path(str(shared)) / "scenes"
    rows, seconds = measure(folder)
    print(f"{len(rows)} scenes\n\n{table(rows, seconds)}")
    circles = [r for r in rows if r[0] not in NO_CIRCLE]
    share = {name: spent * len(circles) / len(rows) for name, spent in seconds.items()}
    print(f"\nwithout {' and '.join(sorted(NO_CIRCLE))}: {len(circles)} scenes\n\n{table(circles, share)}")


if __name__ == "__main__":
    main()
