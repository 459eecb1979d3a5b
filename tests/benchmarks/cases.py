"""The single measurements of the bench: one rendered picture each, placed from its bytes, compared with its truth.

Every function takes plain values and gives a flat row (a dict that JSON can hold), so that worker processes can run it.
"right" and "false" are meant as the project's issue of trust puts it: right is annotated with the right hand and a
median error of the lit features of at most 1 %R (small discs 2 %R); false is annotated, sure and not right.
"""

from __future__ import annotations

import io
import math
import statistics
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import skimage
from PIL import Image

from moondesk import Known, annotate_picture
from moondesk.checks.borrowed_pictures import OLD_PICTURE
from moondesk.ephemeris.aspect import aspect_at
from moondesk.records import MOON_RADIUS_KM, Annotation, Pose
from tests.scenes import KINDS, FileTags, Scene, SceneSpec, render, render_other, spec_of, true_pose
from tests.scenes.develop import develop, encode
from tests.scenes.optics import moonlight, with_sky

Row = dict[str, Any]

#: Largest median error of a right placement, %R.
LIMIT_PCT = {"small": 2.0, "minute": 2.0}
#: Errors of the camera's clock, hours; each is tried to one side, by the scene's seed.
OFFSETS_H = (0, 3, 5, 8, 12, 24)
#: Receipt for the clock's scenes: late enough that no clock gives itself away by reading a time after it.
CLOCK_RECEIVED = timedelta(hours=30)
#: When the pictures of other things arrive.
OTHERS_RECEIVED = datetime(2026, 10, 20, 21, 0, tzinfo=UTC)


def placed_row(part: str, family: str, seed: int, data: bytes, known: Known) -> tuple[Row, Annotation | None]:
    """The row that every part shares. An exception is a result too, and the worst."""
    row: Row = {"part": part, "family": family, "seed": seed}
    try:
        annotation = annotate_picture(data, known)
    except Exception as error:
        return {**row, "status": "raised", "sure": False, "reason": repr(error)}, None
    clock, pose = annotation.clock, annotation.pose
    row |= {
        "status": annotation.status, "sure": annotation.sure, "reason": annotation.reason, "clock": clock.verdict,
        "words": clock.words, "clock_sigma_h": clock.sigma_hours, "old": OLD_PICTURE in annotation.flags,
        "score": pose.score if pose else None, "rival": pose.rival_score if pose else None,
    }  # fmt: skip
    return row, annotation


def scene_row(family: str, seed: int, part: str = "scenes") -> Row:
    """One scene of a family: errors of its lit features beside their stated sigmas, all in %R."""
    scene = render(spec_of(family, seed))
    row, annotation = placed_row(part, family, seed, scene.data, Known(received_utc=scene.spec.received_utc))
    tags = scene.spec.tags
    row |= {"clock_right": tags.time and not tags.clock_error_h, "eclipsed": scene.spec.eclipsed}
    return row | compare(scene, annotation)


def compare(scene: Scene, annotation: Annotation | None) -> Row:
    """error, error95: median and 95th percentile, %R; marks: [dx, dy, sigma, half the diameter], all %R, of lit
    features; hours: picture's time. An eclipse told of an eclipsed Moon, with names, is a placement too."""
    radius = scene.spec.radius_px
    row: Row = {"radius_px": radius, "phase_deg": scene.aspect.phase_angle_deg, "error": None, "error95": None,
                "mirror_ok": None, "hours": None, "marks": [], "right": False, "placed": False}  # fmt: skip
    if annotation is None:
        return row
    row["hours"] = hours_off(annotation, scene.spec.when_utc)
    if scene.spec.family == "tiny":
        return row | {"right": annotation.status != "annotated"}
    placed = ("annotated", "eclipse") if scene.spec.eclipsed else ("annotated",)
    if annotation.status not in placed or annotation.pose is None or not annotation.features:
        return row
    row["placed"] = True
    row["mirror_ok"] = annotation.pose.mirrored == scene.spec.mirrored
    got = {mark.feature.name: mark for mark in annotation.features}
    lit = [f for f in scene.truth["features"] if f["sun_alt_deg"] > 2]
    row["marks"] = [
        [100 * (got[f["name"]].x - f["x"]) / radius, 100 * (got[f["name"]].y - f["y"]) / radius,
         100 * got[f["name"]].sigma_px / radius, 50 * f["diameter_km"] / MOON_RADIUS_KM]
        for f in lit if f["name"] in got
    ]  # fmt: skip
    if row["marks"] and len(row["marks"]) >= len(lit) / 2:
        errors = [math.hypot(m[0], m[1]) for m in row["marks"]]
        row["error"], row["error95"] = statistics.median(errors), float(np.percentile(errors, 95))
        row["right"] = bool(row["mirror_ok"]) and row["error"] <= LIMIT_PCT.get(scene.spec.family, 1.0)
    return row


def hours_off(annotation: Annotation, when: datetime) -> float | None:
    """The picture's own time less the true one, hours."""
    found = annotation.clock.picture_utc
    return None if found is None else (found - when) / timedelta(hours=1)


def clock_rows(family: str, seed: int, wrong: bool = True) -> list[Row]:
    """One scene written with every error of the clock, and once without any EXIF (offset None); or, where wrong is
    False, with its right clock alone."""
    spec = spec_of(family, seed)
    aspect = aspect_at(spec.when_utc, spec.place)
    pose, scene_phase = true_pose(spec, aspect), aspect.phase_angle_deg
    pixels = develop(with_sky(moonlight(spec, pose), spec, pose), spec.film, spec.seed)
    rows = []
    for offset, tags, received in _clocks(spec)[: None if wrong else 1]:
        data = encode(pixels, replace(spec, tags=tags))
        row, annotation = placed_row("clock", family, seed, data, Known(received_utc=received))
        hours = None if annotation is None else hours_off(annotation, spec.when_utc)
        mirror_ok = None
        if annotation is not None and annotation.pose is not None:
            mirror_ok = annotation.pose.mirrored == spec.mirrored
        rows.append(
            row
            | {
                "offset": offset,
                "hours": hours,
                "mirror_ok": mirror_ok,
                "place": tags.place,
                "phase_deg": scene_phase,
                "radius_px": spec.radius_px,
                "sky": sky_errors(annotation, pose),
            }
        )
    return rows


def sky_errors(annotation: Annotation | None, truth: Pose) -> list[float] | None:
    """Error and stated sigma of libration in latitude, in longitude and of the sub-solar longitude, degrees."""
    if annotation is None or annotation.pose is None or annotation.terminator is None:
        return None
    pose = annotation.pose
    sigmas = [pose.sigma(name) or float("nan") for name in ("libration_lat_deg", "libration_lon_deg")]
    sun = (pose.sub_solar_lon_deg - truth.sub_solar_lon_deg + 180.0) % 360.0 - 180.0
    return [
        pose.libration_lat_deg - truth.libration_lat_deg,
        sigmas[0],
        pose.libration_lon_deg - truth.libration_lon_deg,
        sigmas[1],
        sun,
        annotation.terminator.sigma_deg,
    ]


def _clocks(spec: SceneSpec) -> list[tuple[int | None, FileTags, datetime | None]]:
    bare = FileTags(quality=spec.tags.quality, time=False, offset=False, place=False, make=None, model=None)
    late = spec.when_utc + CLOCK_RECEIVED
    signs = np.random.default_rng([spec.seed, 17]).choice([-1, 1], len(OFFSETS_H))
    hours = [int(sign) * h for sign, h in zip(signs, OFFSETS_H, strict=True)]
    wrong = [(h, replace(spec.tags, clock_error_h=float(h)), late) for h in hours]
    return [*wrong, (None, bare, spec.received_utc)]


def night_rows(family: str, seed: int) -> list[Row]:
    """One scene of years ago: handed in as fresh (bare, and with its date rewritten; on any date, and where the phase
    is right for it), and without any date, the place unknown and known. told: its age is doubted; rank: of the true
    night among the evenings listed, None where it is not."""
    spec = spec_of(family, seed)
    aspect = aspect_at(spec.when_utc, spec.place)
    pose = true_pose(spec, aspect)
    pixels = develop(with_sky(moonlight(spec, pose), spec, pose), spec.film, spec.seed)
    rng = np.random.default_rng([seed, 29])
    bare = FileTags(quality=spec.tags.quality, time=False, offset=False, place=False, make=None, model=None)
    now = spec.when_utc + timedelta(days=float(rng.uniform(30, 20 * 365)))
    rows = []
    for case, place in (("undated", None), ("undated, place known", spec.place)):
        data = encode(pixels, replace(spec, tags=bare))
        rows.append(_night_row(case, spec, data, Known(place=place, now_utc=now)))
    for phase in ("any phase", "same phase"):
        months = int(rng.integers(3, 12 * 15))
        away = timedelta(days=29.530589 * months if phase == "same phase" else float(rng.uniform(90, 15 * 365)))
        came = spec.when_utc + away + timedelta(hours=float(rng.uniform(0, 60)))
        error = (came - timedelta(hours=float(rng.uniform(1, 48))) - spec.when_utc) / timedelta(hours=1)
        fresh = replace(spec.tags, time=True, clock_error_h=error)
        for name, tags in (("bare", bare), ("rewritten", fresh)):
            data = encode(pixels, replace(spec, tags=tags))
            rows.append(_night_row(f"{name}, {phase}", spec, data, Known(received_utc=came)))
    return [r | {"phase_deg": aspect.phase_angle_deg, "radius_px": spec.radius_px} for r in rows]


def _night_row(case: str, spec: SceneSpec, data: bytes, known: Known) -> Row:
    row, annotation = placed_row("night", spec.family, spec.seed, data, known)
    evenings = annotation.evenings if annotation is not None else ()
    off = [abs(e.utc - spec.when_utc) < timedelta(days=1) for e in evenings]
    return row | {"case": case, "told": bool(row.get("old")), "listed": len(evenings),
                  "rank": off.index(True) if any(off) else None}  # fmt: skip


def tiny_row(seed: int) -> Row:
    """A hand-held wide shot: the Moon is smaller than any feature could be told on."""
    scene = render(spec_of("tiny", seed))
    row, annotation = placed_row("tiny", "tiny", seed, scene.data, Known(received_utc=scene.spec.received_utc))
    return row | compare(scene, annotation)


def other_row(kind: str, seed: int) -> Row:
    """Something that is not the Moon. kind: one of KINDS, with EXIF for even seeds; or see `library_bytes`."""
    data = other_bytes(kind, seed)
    return placed_row("others", kind, seed, data, Known(received_utc=OTHERS_RECEIVED))[0]


def other_bytes(kind: str, seed: int) -> bytes:
    if kind not in KINDS:
        return library_bytes(kind, seed)
    bare = FileTags(quality=85, time=False, offset=False, place=False, make=None, model=None)
    return render_other(kind, seed, tags=None if seed % 2 == 0 else bare)


def library_pictures() -> list[Path]:
    """Photographs and figures that scikit-image ships inside its package; its picture of the Moon is left out."""
    folder = Path(skimage.__file__).parent / "data"
    return sorted(p for p in folder.iterdir() if p.suffix in (".png", ".jpg") and p.stem != "moon")


def library_bytes(kind: str, seed: int) -> bytes:
    """kind "whole:NAME": the file as it is. "round:NAME": a round piece of it alone on black, as a disc in the sky."""
    how, name = kind.split(":")
    path = next(p for p in library_pictures() if p.name == name)
    if how == "whole":
        return path.read_bytes()
    rng = np.random.default_rng([seed, len(name)])
    with Image.open(path) as image:
        grey = np.asarray(image.convert("L"), np.float32)
    side = int(min(grey.shape) * rng.uniform(0.5, 0.95))
    top, left = (int(rng.integers(0, s - side + 1)) for s in grey.shape)
    radius = int(rng.uniform(120, 380))
    piece = cv2.resize(grey[top : top + side, left : left + side], (2 * radius, 2 * radius))
    y, x = np.mgrid[: 2 * radius, : 2 * radius] - (radius - 0.5)
    cover = np.clip(radius - np.hypot(x, y) + 0.5, 0, 1)
    frame = np.full((1200, 1600), 6.0, np.float32)
    at_y, at_x = int(rng.integers(0, 1200 - 2 * radius)), int(rng.integers(0, 1600 - 2 * radius))
    window = frame[at_y : at_y + 2 * radius, at_x : at_x + 2 * radius]
    window[:] = window * (1 - cover) + piece * cover
    frame = cv2.GaussianBlur(frame, (0, 0), float(rng.uniform(0.8, 2.0))) + rng.normal(0, 1.5, frame.shape)
    out = io.BytesIO()
    Image.fromarray(np.clip(frame, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=88)
    return out.getvalue()
