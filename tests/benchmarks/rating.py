"""Does the score agree with controlled degradations? Renders scenes, makes them worse, places and scores each from its
bytes alone, prints a table in Markdown. Run by hand.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.rating --count 34 --seed 5
    MOONDESK_SHARED=FOLDER python -m tests.benchmarks.rating --photographs

Of every kind of degradation there are two strengths, so that each scene gives two pairs: as it was against the weaker,
the weaker against the stronger. A pair agrees where the worse picture's score is lower; pairs of which one is not
surely placed are counted apart. What would not be worse is left out: less light on a disc that is burnt out (half a
percent of its own pixels white), a smaller disc where it was cut off by the frame. The scorer sees files, never what
was done to them. Two kinds have another aim: no sharpening and no noise may raise the focus part (by more than
TOLERANCE, and at all), no enlargement the score. Pairs across scenes: blurs whose true widths on the Moon differ by
half or more, whatever phase and scale. `--rows FILE` keeps every measurement as a line of JSON.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from itertools import combinations
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from moondesk import Known, annotate_picture
from moondesk.ephemeris.aspect import aspect_at
from moondesk.files.picture import decode_rgb
from moondesk.quality.measurement import measure_quality
from moondesk.quality.resolution import Resolution
from moondesk.quality.score import Facts, Score, score
from tests.benchmarks.tables import markdown, share
from tests.scenes import FAMILIES, SceneSpec, spec_of, true_pose
from tests.scenes.develop import develop, encode
from tests.scenes.optics import moonlight, with_sky

Row = dict[str, Any]
#: A rise of a part by less than this is none: it shows as the same percent.
TOLERANCE = 0.005
#: Kinds whose worse picture must score lower.
ORDERED = (
    "blur in front of the sensor",
    "blur of the picture",
    "clipping",
    "noise of the sensor",
    "noise of the picture",
    "smaller",
    "smaller disc",
    "compressed",
    "underexposed",
    "cut off",
)
#: Kinds that must not raise the focus part, and the one that must not raise the score.
NO_FOCUS = ("noise of the sensor", "noise of the picture", "sharpened, 1 px", "sharpened, 2 px", "sharpened, 4 px")
NO_GAIN = "enlarged"
#: A Gaussian's full width at half maximum over its sigma.
FWHM = 2.3548


def jpeg(pixels: np.ndarray, quality: int = 90) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=quality, subsampling=2)
    return out.getvalue()


def sharpened(pixels: np.ndarray, amount: float, sigma: float) -> np.ndarray:
    """An unsharp mask on stored values, as editors do it."""
    light = pixels.astype(np.float32)
    return np.clip(light + amount * (light - cv2.GaussianBlur(light, (0, 0), sigma)) + 0.5, 0, 255).astype(np.uint8)


def noisy(pixels: np.ndarray, sigma: float, seed: int) -> np.ndarray:
    grain = np.random.default_rng(seed).normal(0, sigma, pixels.shape)
    return np.clip(pixels + grain + 0.5, 0, 255).astype(np.uint8)


def brightened(pixels: np.ndarray, factor: float) -> np.ndarray:
    """Stored values times a factor, cut off at white: an editor's slider."""
    return np.clip(pixels.astype(np.float32) * factor, 0, 255).astype(np.uint8)


def resized(pixels: np.ndarray, factor: float) -> np.ndarray:
    height, width = pixels.shape[:2]
    how = cv2.INTER_AREA if factor < 1 else cv2.INTER_CUBIC
    return cv2.resize(pixels, (round(width * factor), round(height * factor)), interpolation=how)


def of_picture(pixels: np.ndarray, seed: int, quality: int) -> Iterator[tuple[str, int, bytes]]:
    """(kind, strength, file) of what can be done to any finished picture."""
    for strength, sigma in ((1, 1.3), (2, 2.6)):
        yield "blur of the picture", strength, jpeg(cv2.GaussianBlur(pixels, (0, 0), sigma), quality)
    for strength, sigma in ((1, 8.0), (2, 20.0)):
        yield "noise of the picture", strength, jpeg(noisy(pixels, sigma, seed), quality)
    for strength, factor in ((1, 0.6), (2, 0.36)):
        yield "smaller", strength, jpeg(resized(pixels, factor), quality)
    for strength, low in ((1, 30), (2, 10)):
        yield "compressed", strength, jpeg(pixels, low)
    for mask in (1.0, 2.0, 4.0):
        for strength, amount in ((1, 1.5), (2, 3.0)):
            yield f"sharpened, {mask:.0f} px", strength, jpeg(sharpened(pixels, amount, mask), quality)
    yield NO_GAIN, 1, jpeg(resized(pixels, 1.7), quality)


def of_scene(spec: SceneSpec) -> Iterator[tuple[str, int, bytes, float]]:
    """(kind, strength, file, true width of the blur on the Moon in km or 0) of a rendered scene, itself first."""
    pose = true_pose(spec, aspect_at(spec.when_utc, spec.place))
    moon = moonlight(spec, pose)
    bare = replace(spec, tags=replace(spec.tags, orientation=1))

    def pixels(changed: SceneSpec) -> np.ndarray:
        return develop(with_sky(moon, changed, pose), changed.film, changed.seed)

    def width_km(changed: SceneSpec) -> float:
        return FWHM * changed.optics.blur_px * 1737.4 / changed.radius_px

    base = pixels(bare)
    yy, xx = np.ogrid[: spec.height, : spec.width]
    on = np.hypot(xx - spec.x, yy - spec.y) < spec.radius_px
    burnt = (base[on].min(axis=1) >= 250).mean() > 0.005
    room = min(spec.x, spec.y, spec.width - 1 - spec.x, spec.height - 1 - spec.y)
    yield "", 0, encode(base, bare), width_km(bare)
    for strength, more in ((1, 1.5), (2, 3.0)):
        soft = replace(bare, optics=replace(spec.optics, blur_px=float(np.hypot(spec.optics.blur_px, more))))
        yield "blur in front of the sensor", strength, encode(pixels(soft), soft), width_km(soft)
    for strength, factor in ((1, 2.2), (2, 4.0)):
        over = replace(bare, film=replace(spec.film, gain=spec.film.gain * factor))
        yield "clipping", strength, encode(pixels(over), over), 0.0
        dark = replace(bare, film=replace(spec.film, gain=spec.film.gain / factor**1.5))
        if burnt:  # less light would do it good
            continue
        yield "underexposed", strength, encode(pixels(dark), dark), 0.0
    for strength, factor in ((1, 4.0), (2, 10.0)):
        film = replace(spec.film, shot=spec.film.shot * factor, read=spec.film.read * factor)
        grainy = replace(bare, film=film)
        yield "noise of the sensor", strength, encode(pixels(grainy), grainy), 0.0
    # of a close-up a smaller disc shows more of the Moon
    for strength, factor in ((1, 0.6), (2, 0.36)) if room > spec.radius_px else ():
        small = replace(bare, radius_px=spec.radius_px * factor, seed=spec.seed + strength)
        there = true_pose(small, aspect_at(spec.when_utc, spec.place))
        light = with_sky(moonlight(small, there), small, there)
        yield "smaller disc", strength, encode(develop(light, small.film, small.seed), small), width_km(small)
    for kind, strength, data in of_picture(base, spec.seed, spec.tags.quality):
        yield kind, strength, data, 0.0
    if spec.radius_px < 600:
        for strength, keep in ((1, 0.35), (2, -0.2)):
            edge = int(np.clip(spec.x + keep * spec.radius_px, 60, spec.width))
            yield "cut off", strength, jpeg(np.ascontiguousarray(base[:, :edge]), spec.tags.quality), 0.0


def measured(data: bytes, known: Known) -> Row:
    """Placed and scored from the bytes."""
    annotation = annotate_picture(data, known)
    row: Row = {"status": annotation.status, "sure": annotation.sure}
    rgb = decode_rgb(data)
    assert isinstance(rgb, np.ndarray)
    start = time.process_time()
    quality = measure_quality(rgb, annotation)
    row["ms"] = 1e3 * (time.process_time() - start)
    row["megapixels"] = rgb.size / 3e6
    scored = score(quality, Facts())
    if not isinstance(scored, Score) or not quality:
        return row
    resolution = quality.resolution
    row |= {
        "score": scored.value, "parts": {p.name: p.value for p in scored.parts if p.value is not None},
        "km": None, "source": "", **(asdict(resolution) if isinstance(resolution, Resolution) else {}),
        "burnt": quality.burnt_share, "snr": quality.signal_to_noise, "level": quality.level,
    }  # fmt: skip
    return row


def scene_rows(number: int, family: str, seed: int) -> list[Row]:
    spec = spec_of(family, seed)
    phase = aspect_at(spec.when_utc, spec.place).phase_angle_deg
    return [
        {"number": number, "family": family, "seed": seed, "radius_px": spec.radius_px, "phase": phase, "kind": kind,
         "strength": strength, "true_km": true_km, **measured(data, Known(received_utc=spec.received_utc))}
        for kind, strength, data, true_km in of_scene(spec)
    ]  # fmt: skip


def photograph_rows(number: int, path: Path) -> list[Row]:
    pixels = decode_rgb(path.read_bytes())
    assert isinstance(pixels, np.ndarray)
    head = {"number": number, "family": "photograph", "seed": path.name, "radius_px": 0.0, "phase": 0.0, "true_km": 0.0}
    made = [("", 0, jpeg(pixels, 92)), *of_picture(pixels, number, 92)]
    made += [("clipping", s, jpeg(brightened(pixels, f), 92)) for s, f in ((1, 1.35), (2, 1.9))]
    return [{**head, "kind": kind, "strength": strength, **measured(data, Known())} for kind, strength, data in made]


def photographs() -> list[Path]:
    """Photographs of the Moon (not the first hundreds' eclipses and other things) in the folder that is named."""
    folder = Path(os.environ["MOONDESK_SHARED"]) / "real_photos"
    return sorted(p for p in folder.iterdir() if p.suffix in (".png", ".jpg", ".jpeg") and p.name[:1] == "0")


def pairs(rows: list[Row]) -> dict[str, list[tuple[Row, Row]]]:
    """By kind: (better, worse) neighbours in strength, both scored."""
    by_scene: dict[tuple[str, int], dict[tuple[str, int], Row]] = defaultdict(dict)
    for row in rows:
        by_scene[row["family"], row["number"]][row["kind"], row["strength"]] = row
    found: dict[str, list[tuple[Row, Row]]] = defaultdict(list)
    for made in by_scene.values():
        for (kind, strength), worse in made.items():
            better = made.get((kind, strength - 1)) or made.get(("", strength - 1))
            if kind and better is not None:
                found[kind].append((better, worse))
    return found


def _rated(row: Row) -> bool:
    """Scored on a placing that is called right: what is measured under a wrong one is of another place."""
    return "score" in row and bool(row.get("sure", True))


def tables(rows: list[Row]) -> str:
    both = pairs(rows)
    order = []
    for kind in ORDERED:
        scored = [(a, b) for a, b in both.get(kind, []) if _rated(a) and _rated(b)]
        gone = len(both.get(kind, [])) - len(scored)
        if scored:
            right = sum(a["score"] > b["score"] for a, b in scored)
            fall = np.median([a["score"] - b["score"] for a, b in scored])
            order.append([kind, len(scored), share(right, len(scored)), f"{fall:.3f}", gone])
    said = [markdown(("degradation", "pairs", "worse scores lower, %", "median fall", "one not surely placed"), order)]
    # sharpening and noise are each set beside the picture as it was
    first = {(r["family"], r["number"]): r for r in rows if not r["kind"]}
    focus = []
    for kind in NO_FOCUS:
        some = [(first[r["family"], r["number"]], r) for r in rows if r["kind"] == kind]
        some = [(a, b) for a, b in some if _rated(a) and _rated(b)]
        rises = [
            b["parts"]["focus"] - a["parts"]["focus"]
            for a, b in some
            if "focus" in a.get("parts", {}) and "focus" in b.get("parts", {})
        ]
        if rises:
            focus.append(
                [
                    kind,
                    len(rises),
                    share(sum(r <= TOLERANCE for r in rises), len(rises)),
                    share(sum(r <= 0 for r in rises), len(rises)),
                    f"{max(rises):+.3f}",
                    f"{np.median(rises):+.3f}",
                ]
            )
    said.append(
        markdown(
            (
                "focus part",
                "pictures",
                f"not raised by more than {TOLERANCE}, %",
                "not raised at all, %",
                "largest rise",
                "median",
            ),
            focus,
        )
    )
    gains = [b["score"] - a["score"] for a, b in both.get(NO_GAIN, []) if _rated(a) and _rated(b)]
    if gains:
        said.append(
            f"Enlarged 1.7 times: of {len(gains)} scores {share(sum(g <= 0.01 for g in gains), len(gains))} % "
            f"gain no more than 0.01; largest gain {max(gains):+.3f}, median {np.median(gains):+.3f}."
        )
    said.append(_across(rows))
    times = [r["ms"] for r in rows if r["megapixels"] > 1.5 and "score" in r]
    if times:
        size = np.median([r["megapixels"] for r in rows])
        said.append(
            f"Time to measure, {size:.1f} megapixels in the median: median {np.median(times):.0f} ms, "
            f"95 % within {np.percentile(times, 95):.0f}."
        )
    return "\n\n".join(said)


def _across(rows: list[Row]) -> str:
    """Blurs of different scenes in the order of their true widths on the Moon; and measured over true."""
    known = [r for r in rows if r["true_km"] > 0 and r.get("km") and _rated(r)]
    if len(known) < 2:
        return ""
    right = total = 0
    for a, b in combinations(known, 2):
        if a["number"] != b["number"] and not 1 / 1.5 < a["true_km"] / b["true_km"] < 1.5:
            total += 1
            right += (a["km"] < b["km"]) == (a["true_km"] < b["true_km"])
    ratio = np.log([r["km"] / r["true_km"] for r in known])
    return (
        f"Across scenes, widths on the Moon that differ by half or more: {share(right, total)} % of {total} pairs "
        f"in the true order. Measured over true: median {np.exp(np.median(ratio)):.2f}, 90 % between "
        f"{np.exp(np.percentile(ratio, 5)):.2f} and {np.exp(np.percentile(ratio, 95)):.2f}."
    )


def failures(rows: list[Row]) -> str:
    lines = []
    for kind, both in pairs(rows).items():
        for a, b in both:
            if kind in ORDERED and _rated(a) and _rated(b) and b["score"] >= a["score"]:
                moved = {n: round(b["parts"][n] - v, 3) for n, v in a["parts"].items() if n in b["parts"]}
                lines.append(
                    f"{kind} {b['strength']}: {a['family']} {a['seed']} R {a['radius_px']:.0f} "
                    f"phase {a['phase']:.0f} km {a['km']} -> {b['km']} {b['source']} {moved}"
                )
    return "\n".join(lines)


def _run(work: Callable[..., list[Row]], jobs: list[tuple[Any, ...]], keep: Path | None) -> list[Row]:
    rows: list[Row] = []
    for job in jobs:
        new = work(*job)
        rows += new
        if keep is not None:
            with keep.open("a", encoding="utf-8") as file:
                file.writelines(json.dumps(row) + "\n" for row in new)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.rating", description=(__doc__ or "").splitlines()[0]
    )
    parser.add_argument("--count", type=int, default=34)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--photographs", action="store_true", help="those in the folder that MOONDESK_SHARED names")
    parser.add_argument("--rows", type=Path, help="file to add every measurement to, a line of JSON each")
    parser.add_argument("--tabulate", action="store_true", help="measure nothing: the tables of the file of --rows")
    parser.add_argument("--failures", action="store_true", help="list the pairs in the wrong order")
    args = parser.parse_args()
    cv2.setNumThreads(1)
    families = [f for f in FAMILIES if f != "tiny"]
    if args.tabulate:
        rows = [json.loads(line) for line in args.rows.read_text(encoding="utf-8").splitlines()]
    elif args.photographs:
        rows = _run(photograph_rows, list(enumerate(photographs()[: args.count])), args.rows)
    else:
        jobs = [(n, families[n % len(families)], args.seed * 100_000 + n) for n in range(args.count)]
        rows = _run(scene_rows, jobs, args.rows)
    print(tables(rows))
    if args.failures:
        print("\n" + failures(rows))


if __name__ == "__main__":
    main()
