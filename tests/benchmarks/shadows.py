"""Heights from shadows against the relief that the scenes were rendered from: python -m tests.benchmarks.shadows

Scenes near the terminator are rendered with the renderer's own relief (LOLA on the packaged grid, cubic; in half of
them the invented small craters too) and shadows marched through it. Each picture is placed by the product; every crater
of 20 to 200 km with the Sun low is tried at its sunward rim. The truth is the same relief along the same line: the ray
of the Sun's centre from the shadow's tip back to the point that it grazes.
"""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from moondesk.files.picture import decode_rgb
from moondesk.moon.geometry import unit_vector
from moondesk.pipeline import annotate_picture
from moondesk.quality.measurement import Quality, measure_quality
from moondesk.quality.resolution import Resolution
from moondesk.quality.texture import FWHM
from moondesk.records import MOON_RADIUS_KM, Known, NotFound
from moondesk.shadows.craters import LEAST_REACH_KM, REACH, is_tried, rim_shadow, sunward_rim
from moondesk.shadows.heights import ShadowHeight
from moondesk.shadows.measurement import sun_of
from moondesk.shadows.profiles import SunLine, sun_line
from tests.benchmarks.rating import spec_of
from tests.benchmarks.tables import markdown
from tests.scenes import render, true_pose
from tests.scenes import surface as relief
from tests.scenes.optics import MOST_CELLS, _frame_span, facing_axes

FAMILIES = ("closeup", "closeup", "closeup", "clean", "cut")


def relief_of(spec, pose):
    """The heights that the scene was rendered from, as a function of unit vectors (N, 3): km."""
    span = _frame_span(spec, pose)
    axes = facing_axes(pose)
    box = span[2]
    scale = min(max(1.5 * pose.radius_px, 330.0), float(np.sqrt(MOST_CELLS / ((box[1] - box[0]) * (box[3] - box[2])))))
    patch = relief.build_patch(axes, box, scale, spec.fine, spec.seed)

    def heights(vectors: np.ndarray) -> np.ndarray:
        local = vectors @ axes.T
        col, row = patch.at(local[:, 0], local[:, 1])
        return MOON_RADIUS_KM * relief._look_up(patch.height, col, row)

    return heights


def true_shadows(heights, line: SunLine, sun: np.ndarray) -> list[tuple[float, float, float]]:
    """(start, tip, height) of the shadows on a line, km; the start is the point that the tip's ray grazes."""
    km = np.arange(line.km[0], line.km[-1], 0.25)
    vectors = np.stack([np.interp(km, line.km, line.vectors[:, k]) for k in range(3)], axis=1)
    vectors /= np.linalg.norm(vectors, axis=1, keepdims=True)
    z = heights(vectors)
    h = np.arcsin(np.clip(vectors @ sun, -1, 1))
    theta = (km[:, None] - km[None, :]) / MOON_RADIUS_KM
    with np.errstate(all="ignore"):
        ray = (MOON_RADIUS_KM + z)[:, None] * np.cos(h)[:, None] / np.cos(h[:, None] + theta)
    over = np.where(theta > 0.2 / MOON_RADIUS_KM, (MOON_RADIUS_KM + z)[None, :] - ray, -np.inf)
    blocked = over.max(axis=1) > 0
    found, i = [], 0
    while i < len(km):
        if not blocked[i]:
            i += 1
            continue
        first = i
        while i < len(km) and blocked[i]:
            i += 1
        if i < len(km) and first > 0:
            j = int(np.argmax(over[i - 1]))
            found.append((float(km[j]), float(km[i - 1]), float(z[j] - z[i - 1])))
    return found


def scene_rows(number: int, family: str, seed: int) -> list[dict[str, Any]]:
    from dataclasses import replace

    spec = spec_of(family, seed)
    rng = np.random.default_rng(seed)
    spec = replace(spec, fine=bool(rng.random() < 0.5))
    scene = render(spec)
    a = annotate_picture(scene.data, Known(received_utc=spec.received_utc))
    sunny = sun_of(a)
    if sunny is None:
        return []
    placed, sun_sigma = sunny
    rgb = decode_rgb(scene.data)
    grey = cv2.cvtColor(np.ascontiguousarray(rgb), cv2.COLOR_RGB2GRAY).astype(np.float32) / 255.0
    linear = np.where(grey <= 0.04045, grey / 12.92, ((grey + 0.055) / 1.055) ** 2.4).astype(np.float32)
    truth = true_pose(spec, scene.aspect)
    heights = relief_of(spec, truth)
    sun = unit_vector(truth.sub_solar_lat_deg, truth.sub_solar_lon_deg)
    quality = measure_quality(rgb, a)
    if not isinstance(quality, Quality) or not isinstance(quality.resolution, Resolution):
        return []
    blur = max(quality.resolution.blur_km / FWHM / (MOON_RADIUS_KM / a.pose.radius_px), 0.6)
    rows = []
    for m in a.features:
        f = m.feature
        if not is_tried(m):
            continue
        lat, lon = sunward_rim(m, placed)
        reach = max(REACH * f.size_km, LEAST_REACH_KM)
        got = rim_shadow(linear, placed, m, blur, sun_sigma)
        row = {
            "number": number,
            "family": family,
            "fine": spec.fine,
            "name": f.name,
            "km_px": MOON_RADIUS_KM / placed.radius_px,
            "sun": m.sun_altitude_deg,
            "size": f.size_km,
            "reason": "",
            "sun_sigma": sun_sigma,
            "blur": blur,
            "true_blur": spec.optics.blur_px,
        }
        if isinstance(got, NotFound):
            rows.append({**row, "reason": got.reason})
            continue
        assert isinstance(got, ShadowHeight)
        line = sun_line(linear, truth, (lat, lon), (1.2 * reach, 4.0 * reach), np.array([0.0]))
        if line is None:
            continue
        start, tip = (float(line.km[np.argmax(line.vectors @ unit_vector(*p))]) for p in (got.start, got.tip))
        real = [t for t in true_shadows(heights, line, sun) if min(t[1], tip) - max(t[0], start) > 0.5 * (tip - start)]
        best = max(real, key=lambda t: t[1] - t[0], default=None)
        rows.append(
            {
                **row,
                "height": got.height_m,
                "sigma": got.sigma_m,
                "length": got.length_km,
                "start": start,
                "tip": tip,
                "at": got.sun_altitude_deg,
                "res": got.resolution_km,
                "true": None if best is None else 1000 * best[2],
                "true_start": best and best[0],
                "true_tip": best and best[1],
                "true_sun": best and float(np.interp(best[1], line.km, line.sun_deg)),
            }
        )
    return rows


def tables(rows: list[dict[str, Any]]) -> str:
    said = []
    kinds = {"all": lambda r: True, "smooth relief": lambda r: not r["fine"], "with small craters": lambda r: r["fine"]}
    table = []
    for name, wanted in kinds.items():
        some = [r for r in rows if wanted(r) and r.get("height") is not None]
        known = [r for r in some if r["true"] is not None]
        if not known:
            continue
        off = np.array([(r["height"] - r["true"]) / r["sigma"] for r in known])
        table.append(
            [
                name,
                len(some),
                len(some) - len(known),
                f"{100 * np.mean(np.abs(off) < 1):.0f}",
                f"{100 * np.mean(np.abs(off) < 2):.1f}",
                f"{np.median(off):+.2f}",
                f"{100 * np.median([r['sigma'] / r['height'] for r in known]):.1f}",
                f"{100 * np.median([abs(r['height'] - r['true']) / r['true'] for r in known]):.1f}",
            ]
        )
    said.append(
        markdown(
            (
                "relief",
                "shadows",
                "no such shadow",
                "in 1 sigma, %",
                "in 2, %",
                "median off, sigma",
                "median sigma, %",
                "median error, %",
            ),
            table,
        )
    )
    reasons = Counter(re.sub(r"\d+(\.\d+)?", "n", r["reason"]).split(":")[0] for r in rows if r["reason"])
    said.append(markdown(("declined", "number"), [list(x) for x in reasons.most_common()]))
    return "\n\n".join(said)


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.shadows", description=(__doc__ or "").splitlines()[0]
    )
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rows", type=Path)
    args = parser.parse_args()
    cv2.setNumThreads(1)
    rows: list[dict[str, Any]] = []
    for n in range(args.count):
        rows += scene_rows(n, FAMILIES[n % len(FAMILIES)], args.seed * 100_000 + n)
        if args.rows:
            args.rows.write_text("\n".join(json.dumps(r) for r in rows) + "\n", encoding="utf-8")
    print(tables(rows))


if __name__ == "__main__":
    main()
