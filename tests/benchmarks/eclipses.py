"""Full Moons whose clock is set to each hour about an eclipse, and eclipses themselves: what is told of each.

    python -m tests.benchmarks.eclipses --moons 3 --eclipses 3

An ordinary full Moon is rewritten with its camera's clock at each hour from -12 to +14 about the greatest eclipse, its
zone unknown: it must never be told as an eclipse. Photographs named by --photos are tried in the same way. Before that
eclipses are rendered, with a clock, without a zone, and without a clock: how many are told. Run by hand.
"""

from __future__ import annotations

import argparse
import io
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from PIL import Image

from moondesk import Known, annotate_picture
from moondesk.ephemeris.aspect import aspect_at
from moondesk.records import Annotation, Place
from tests.scenes import FileTags, Film, SceneSpec, spec_of, true_pose
from tests.scenes.develop import develop, encode
from tests.scenes.eclipses import render_eclipse
from tests.scenes.optics import moonlight, with_sky

#: Greatest eclipses (NASA's catalogue of lunar eclipses, from memory): total, partial, penumbral, total.
ECLIPSES = {
    "2025-03-14 total": datetime(2025, 3, 14, 6, 59, tzinfo=UTC),
    "2023-10-28 partial": datetime(2023, 10, 28, 20, 14, tzinfo=UTC),
    "2024-03-25 penumbral": datetime(2024, 3, 25, 7, 13, tzinfo=UTC),
    "2022-05-16 total": datetime(2022, 5, 16, 4, 11, tzinfo=UTC),
}
HOURS = range(-12, 15)
PLACE = Place(-20.0, -150.0)
BARE = FileTags(time=False, place=False, make=None, model=None)


def pixels_of(seed: int) -> tuple[SceneSpec, np.ndarray]:
    spec = spec_of("full", seed)
    pose = true_pose(spec, aspect_at(spec.when_utc, spec.place))
    return spec, develop(with_sky(moonlight(spec, pose), spec, pose), spec.film, spec.seed)


def rewritten(photo: Path, local: datetime) -> bytes:
    """A photograph as JPEG whose only date is the camera's clock, without a zone."""
    with Image.open(photo) as image:
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0x9003] = local.strftime("%Y:%m:%d %H:%M:%S")  # DateTimeOriginal (CIPA DC-008)
        out = io.BytesIO()
        image.convert("RGB").save(out, "JPEG", quality=92, exif=exif)
    return out.getvalue()


def says_eclipse(a: Annotation) -> bool:
    return a.status == "eclipse" or "eclipse" in a.reason


def ordinary(moons: int, eclipses: int, photos: list[Path]) -> None:
    print("| full Moon | eclipse | pictures | told as an eclipse | placed | sure |")
    print("| --- | --- | --- | --- | --- | --- |")
    for name, greatest in list(ECLIPSES.items())[:eclipses]:
        for seed in range(moons):
            spec, pixels = pixels_of(700 + seed)
            found = []
            for hour in HOURS:
                error = (greatest + timedelta(hours=hour) - spec.when_utc) / timedelta(hours=1)
                tags = FileTags(clock_error_h=error, offset=False, place=False)
                found.append(annotate_picture(encode(pixels, replace(spec, tags=tags)), Known()))
            _row(f"rendered {seed}", name, found)
        for photo in photos:
            _row(
                photo.name,
                name,
                [
                    annotate_picture(rewritten(photo, greatest.replace(tzinfo=None) + timedelta(hours=h)), Known())
                    for h in HOURS
                ],
            )


def _row(what: str, name: str, found: list[Annotation]) -> None:
    placed = [a for a in found if a.pose is not None]
    print(
        f"| {what} | {name} | {len(found)} | {sum(says_eclipse(a) for a in found)} | {len(placed)} | "
        f"{sum(a.sure for a in placed)} |",
        flush=True,
    )


def eclipsed() -> None:
    """Of 2026 March 3 (greatest 11:33 UT, from memory), each by the exposure that shows it."""
    print("| clock | picture | status |\n| --- | --- | --- |")
    told: Counter[str] = Counter()
    for minutes, exposure in ((-115, 1.0), (-93, 1.0), (-78, 1.0), (-33, 1000.0), (0, 1000.0), (25, 3000.0)):
        when = datetime(2026, 3, 3, 11, 33, tzinfo=UTC) + timedelta(minutes=minutes)
        for clock, tags in (("zone", FileTags()), ("no zone", FileTags(offset=False, place=False)), ("none", BARE)):
            spec = SceneSpec(when, PLACE, x=330.0, y=245.0, radius_px=180.0, width=640, height=480, seed=4,
                             film=Film(contrast=0.1), tags=tags)  # fmt: skip
            a = annotate_picture(render_eclipse(spec, exposure, 30.0), Known(received_utc=when + timedelta(hours=3)))
            told[f"{clock} {a.status}"] += 1
            said = f"{a.status}, {a.clock.verdict}: {a.reason}"
            print(f"| {clock} | {minutes:+d} min x{exposure:.0f} | {said} |", flush=True)
    print(dict(told))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.eclipses", description=__doc__.splitlines()[0])
    parser.add_argument("--moons", type=int, default=2)
    parser.add_argument("--eclipses", type=int, default=len(ECLIPSES))
    parser.add_argument("--photos", type=Path, nargs="*", default=[])
    args = parser.parse_args()
    eclipsed()
    ordinary(args.moons, args.eclipses, args.photos)


if __name__ == "__main__":
    main()
