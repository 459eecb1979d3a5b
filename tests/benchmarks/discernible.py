"""Stated against observed: can a feature be made out? On rendered scenes, by hand or from the slow test.

    python -m tests.benchmarks.discernible --count 48 --seed 777 [--noisy]

The truth comes from the renderer alone. T is the sharp Moon (no blur, sky, noise or tone curve), S the same picture as
the camera shows it but without noise, N what noise and JPEG add; all on some 700 points over 1.25 radii of the feature,
in display values, mean and slope taken off. A feature is visible where S keeps of the pattern T at least 1 % of the
display's range (the eye; common practice) and where, over all its pixels, that is five times the deviation of N (Rose,
J. Opt. Soc. Am. 38, 1948). Long features are left out: their circle holds more than themselves. --noisy: three to ten
times the usual noise.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np

from moondesk.ephemeris.aspect import aspect_at
from moondesk.files.picture import decode
from moondesk.moon.geometry import disc_axes, disc_to_pixel, project, unit_vector
from moondesk.placement.limb import Circle, fit_limb
from moondesk.records import MOON_RADIUS_KM, FeatureMark, Limb, Picture, Pose
from moondesk.visibility.marks import mark_features
from tests.scenes import FAMILIES, SceneSpec, spec_of
from tests.scenes.develop import develop, encode
from tests.scenes.optics import moonlight, with_sky
from tests.scenes.rendering import true_pose

KINDS = frozenset({"crater", "sea", "ocean", "lake", "bay", "marsh", "mountain"})
BINS = (0.0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.98, 1.0)
#: Longest side of the working picture, as for a first look.
WORK_PX = 1110
NOISE = ((0.03, 0.003), (0.06, 0.006), (0.1, 0.012))


@dataclass(frozen=True)
class Verdict:
    """One feature of one scene: what was stated, whether it is visible, whether any of it is lit."""

    family: str
    mark: FeatureMark
    visible: bool


def _grid() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Offsets in units of the radius, (K,) each, and an orthonormal basis of mean and slope, (K, 3)."""
    a, b = (g.ravel() for g in np.meshgrid(np.linspace(-1.25, 1.25, 31), np.linspace(-1.25, 1.25, 31)))
    keep = np.hypot(a, b) <= 1.25
    a, b = a[keep], b[keep]
    return a, b, np.linalg.qr(np.column_stack([np.ones(len(a)), a, b]))[0]


def _places(pose: Pose, marks: list[FeatureMark]) -> tuple[np.ndarray, np.ndarray]:
    """Pixels (N, K) of the grid over each feature."""
    a, b, _ = _grid()
    centre = unit_vector([m.feature.lat_deg for m in marks], [m.feature.lon_deg for m in marks])
    reach = np.array([m.feature.size_km / 2 / MOON_RADIUS_KM for m in marks])[:, None, None]
    east = np.cross([0.0, 0.0, 1.0], centre)
    east /= np.linalg.norm(east, axis=1, keepdims=True)
    north = np.cross(centre, east)
    points = centre[:, None] + reach * (a[:, None] * east[:, None] + b[:, None] * north[:, None])
    points /= np.linalg.norm(points, axis=2, keepdims=True)
    disc = project(points, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
    x, y = disc_to_pixel(pose, disc.u, disc.v)
    return x.astype(np.float32), y.astype(np.float32)


def visible(
    pose: Pose, marks: list[FeatureMark], sharp: np.ndarray, quiet: np.ndarray, shown: np.ndarray
) -> np.ndarray:
    """(N,) by the two thresholds. sharp: linear light of the Moon alone; quiet, shown: display values 0..1 without and
    with noise; all (H, W)."""
    x, y = _places(pose, marks)
    plane = _grid()[2]

    def pattern(image: np.ndarray) -> np.ndarray:
        values = cv2.remap(image.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return values - (values @ plane) @ plane.T

    whole = pattern(np.sqrt(np.maximum(sharp, 0)))
    unit = whole / np.maximum(np.linalg.norm(whole, axis=1, keepdims=True), 1e-9)
    kept = (pattern(quiet) * unit).sum(axis=1) / np.sqrt(x.shape[1])
    noise = np.maximum((pattern(shown) - pattern(quiet)).std(axis=1), 1 / 255 / np.sqrt(12))
    pixels = np.array([np.pi * (1.25 * m.radius_px) ** 2 * max(m.cos_view, 0.05) for m in marks])
    return (kept >= 0.01) & (kept * np.sqrt(pixels) >= 5 * noise)


def _display(linear: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055)


def verdicts(spec: SceneSpec) -> list[Verdict]:
    """Every feature of one scene, its pose taken as known."""
    pose = replace(true_pose(spec, aspect_at(spec.when_utc, spec.place)), parameters=("x",), covariance=(0.01,))
    moon = moonlight(spec, pose)
    light = with_sky(moon, spec, pose)
    quiet = develop(light, replace(spec.film, shot=0.0, read=0.0), spec.seed).astype(np.float32).mean(axis=2) / 255
    data = encode(develop(light, spec.film, spec.seed), spec)
    full, work = decode(data, 100_000), decode(data, WORK_PX)
    assert isinstance(full, Picture)
    assert isinstance(work, Picture)
    s = work.shrink

    def small(value: float) -> float:
        return (value + 0.5) / s - 0.5

    inner = replace(
        pose,
        x=small(pose.x),
        y=small(pose.y),
        radius_px=pose.radius_px / s,
        axis_x=small(pose.axis_x),
        axis_y=small(pose.axis_y),
        axis_scale_px=pose.axis_scale_px / s,
    )
    limb = fit_limb(work.luminance, Circle(x=inner.x, y=inner.y, radius=inner.radius_px, support_deg=0.0, step=0.0))
    blur = limb.edge_width_px * s if isinstance(limb, Limb) else 2.5 * s
    found = mark_features(pose, inner, work.luminance, spec.width, spec.height, blur)
    marks = [
        m
        for m in found
        if m.feature.kind in KINDS
        and m.feature.size_km >= 15
        and 0 <= m.x <= spec.width - 1
        and 0 <= m.y <= spec.height - 1
    ]
    truth = visible(pose, marks, moon, quiet, _display(full.luminance))
    return [Verdict(spec.family, m, bool(v)) for m, v in zip(marks, truth, strict=True)]


def scenes(count: int, seed: int, noisy: bool) -> Iterator[SceneSpec]:
    families = [f for f in FAMILIES if f != "tiny"]
    for n in range(count):
        spec = spec_of(families[n % len(families)], seed * 100_000 + n)
        shot, read = NOISE[n % 3]
        yield replace(spec, film=replace(spec.film, shot=shot, read=read)) if noisy else spec


def table(found: list[Verdict]) -> str:
    """Reliability of what has some light on it, and one line for what has none."""
    lit = [v for v in found if v.mark.lit_fraction > 0]
    stated, seen = np.array([v.mark.seen for v in lit]), np.array([v.visible for v in lit])
    lines = ["| stated | features | mean stated | visible |", "|---|---|---|---|"]
    for low, high in pairwise(BINS):
        k = (stated >= low) & ((stated < high) | (high == 1.0))
        if k.any():
            lines.append(f"| {low:.2f} to {high:.2f} | {k.sum()} | {stated[k].mean():.3f} | {seen[k].mean():.3f} |")
    dark = [v for v in found if v.mark.lit_fraction == 0]
    most, share = max((v.mark.seen for v in dark), default=0.0), np.mean([v.visible for v in dark] or [0.0])
    lines.append(
        f"\nBrier score {np.mean((stated - seen) ** 2):.3f}; of {len(dark)} in shadow at most "
        f"{most:.2f} stated, {share:.3f} visible"
    )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.discernible", description=__doc__)
    parser.add_argument("--count", type=int, default=32)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--noisy", action="store_true")
    args = parser.parse_args()
    found = [v for spec in scenes(args.count, args.seed, args.noisy) for v in verdicts(spec)]
    print(f"{args.count} scenes, {len(found)} features\n\n{table(found)}")


if __name__ == "__main__":
    main()
