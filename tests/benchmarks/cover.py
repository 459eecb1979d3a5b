"""What lies over the Moon on air: sixty frames, made and measured on their own pixels, shapes and boxes.

    MOONDESK_SHARED=FOLDER python -m tests.benchmarks.cover [--out FOLDER] [--cache FOLDER] [--only PART-OF-A-NAME]

Twenty rendered scenes, twenty photographs and twenty close-ups of them, in three formats and four languages. A row a
frame:

covered   share of the lit Moon (brighter than 40 of 255 in the picture's layer) that lies under other layers
astray    names that stand on the ground of a feature that they do not name (a named crater's rim, a sea)
overlaps  pairs of names, or of a name and another's ring, that touch
crossings pairs of leader lines that cross, by exact comparison of orientations
cap       least height of a capital letter, lines of 1080; contrast: least, as the tests of frames measure it
"""

from __future__ import annotations

import argparse
import itertools
import os
import pickle
import statistics
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from moondesk import annotate_picture
from moondesk.drawing.broadcast import flatten, frame_layers, layer_rgba
from moondesk.drawing.frame import AirFrame, FrameLayer, TextBox
from moondesk.drawing.frame_names import LEADING
from moondesk.drawing.paint import paint, rgb_of
from moondesk.drawing.seas import sea_map
from moondesk.drawing.shapes import Fill, Shape
from moondesk.drawing.shapes import Path as Line
from moondesk.files.picture import decode_rgb
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import pixel_to_surface, sun_altitude_deg, surface_to_pixel
from moondesk.records import MOON_RADIUS_KM, Annotation, Known, NotFound
from moondesk.service.languages import REPLY_LANGUAGES
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.frame_request import FrameOptions, request_of

FORMATS = ("hd", "vertical", "hd", "hd", "uhd", "vertical", "hd")
LANGUAGES = ("en", "bg", "ar", "en", "ja", "bg", "en", "ja", "en", "ar")
#: Left out: no Moon, or several.
NOT_ONE_MOON = ("jupiter", "mars", "saturn", "sun", "four_panel")
CREDITS = {
    "en": ("Þórunn Hallam-Vale", ("102 mm achromat, 25 mm eyepiece", "Day 8 of the lunation, 17 October 2026")),
    "bg": ("Снежана Връбчева", ("130 мм рефлектор и телефон", "Ден 8 от лунацията, 17 октомври 2026 г.")),
    "ar": ("ليلى المرزوقي", ("تلسكوب عاكس ١٣٠ مم وهاتف", "اليوم ٨ من الشهر القمري، ١٧ أكتوبر ٢٠٢٦")),
    "ja": ("柏原 みのり", ("口径80ミリ屈折望遠鏡とスマートフォン", "月齢8日、2026年10月17日")),
}


@dataclass(frozen=True)
class Case:
    """A frame that is made: of which file, how."""

    path: Path
    annotation: Annotation
    format: str
    language: str
    zoom: str = ""

    @property
    def name(self) -> str:
        about = f"-{self.zoom.replace(' ', '-')}" if self.zoom else ""
        return f"{self.path.parent.name[:6]}-{self.path.stem}{about}-{self.format}-{self.language}"


@dataclass(frozen=True, kw_only=True)
class Row:
    name: str
    covered: float
    names: int
    astray: tuple[str, ...]
    overlaps: tuple[str, ...]
    crossings: int
    cap: float
    contrast: float


def place(path: Path, cache: Path | None) -> Annotation:
    kept = cache / f"{path.parent.name}-{path.name}.pickle" if cache else None
    if kept and kept.is_file():
        found: Annotation = pickle.loads(kept.read_bytes())  # written by this bench
        return found
    annotation = annotate_picture(path.read_bytes(), Known())
    if kept:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_bytes(pickle.dumps(annotation))
    return annotation


def cases(shared: Path, cache: Path | None) -> list[Case]:
    """Sixty: of each folder as many as are placed, and a close-up of every other."""

    def placed(*folders: str) -> list[tuple[Path, Annotation]]:
        found: list[tuple[Path, Annotation]] = []
        for path in (p for folder in folders for p in sorted((shared / folder).iterdir())):
            if path.suffix not in (".jpg", ".jpeg", ".png") or any(word in path.name for word in NOT_ONE_MOON):
                continue
            annotation = place(path, cache)
            if annotation.pose is not None and annotation.status.facts.is_named:
                found.append((path, annotation))
            if len(found) == 20:
                break
        return found

    pictures = [*placed("scenes"), *placed("real_photos", "scenes_more")]
    whole = [
        Case(path, annotation, FORMATS[k % len(FORMATS)], LANGUAGES[k % len(LANGUAGES)])
        for k, (path, annotation) in enumerate(pictures)
    ]
    close: list[Case] = []
    kinds = (("crater",), ("sea", "bay"), ("mountain range",), ("crater",))
    large = [(path, a) for path, a in pictures if a.pose is not None and a.pose.radius_px > 250]
    for k, (path, annotation) in enumerate(itertools.islice(itertools.cycle(large), 3 * len(large))):
        if len(close) == 20:
            break
        wanted = kinds[k % len(kinds)]
        marks = sorted(
            (m for m in annotation.features if m.feature.kind in wanted and m.seen > 0.4 and m.lit_fraction > 0.4),
            key=lambda m: (-m.prominence * m.seen, m.feature.name),
        )
        inside = [m for m in marks if 0 <= m.x < annotation.width and 0 <= m.y < annotation.height and m.cos_view > 0.3]
        taken = {c.zoom for c in close}
        name = next((m.feature.name for m in inside if m.feature.name not in taken), "")
        if name:
            close.append(Case(path, annotation, FORMATS[k % 3], LANGUAGES[k % len(LANGUAGES)], name))
    return [*whole, *close]


def make(case: Case) -> AirFrame | NotFound:
    credit, lines = CREDITS[case.language]
    asked = FrameOptions(case.format, "upright", case.zoom)
    said = (lines[0], lines[1].replace("8" if "8" in lines[1] else "٨", _day_of(case.annotation), 1))
    wanted = request_of(case.annotation, credit, said, asked, None, Language(case.language))
    if isinstance(wanted, NotFound):
        return wanted
    return frame_layers(decode_rgb(case.path.read_bytes()), case.annotation, wanted)


def _day_of(annotation: Annotation) -> str:
    """The day of the lunation that the light tells: no caption says another phase than the one that is seen."""
    longitude = annotation.pose.sub_solar_lon_deg if annotation.pose else 90.0
    return str(1 + int((180.0 - longitude) % 360.0 / 360.0 * 29.53))


# --- measures ---------------------------------------------------------------------------------------------------------


def measure(case: Case, frame: AirFrame) -> Row:
    texts = [(layer, text) for layer in frame.layers for text in layer.texts]
    lines = min(frame.format.width, frame.format.height) / 1080
    return Row(
        name=case.name,
        covered=covered(frame),
        names=sum(bool(layer.texts) for layer in frame.layers if layer.kind == "feature")
        + sum(len(layer.texts) for layer in frame.layers if layer.kind == "seas"),
        astray=tuple(astray(frame, case.annotation)),
        overlaps=tuple(overlaps(texts)),
        crossings=crossings(frame),
        cap=min(text.cap_px for _, text in texts) / lines,
        contrast=contrast_of(frame),
    )


def covered(frame: AirFrame) -> float:
    """Percent of the lit Moon."""
    picture, *others = (layer_rgba(frame, layer) for layer in frame.layers)
    lit = cv2.cvtColor(np.ascontiguousarray(picture[..., :3]), cv2.COLOR_RGB2GRAY) > 40
    if frame.pose is not None:
        y, x = np.mgrid[0 : frame.format.height, 0 : frame.format.width]
        lit &= np.hypot(x - frame.pose.x, y - frame.pose.y) <= frame.pose.radius_px
    over = np.zeros(lit.shape, bool)
    for pixels in others:
        over |= pixels[..., 3] > 100
    return 100.0 * float((over & lit).sum()) / max(1, int(lit.sum()))


def _feature_of(layer: FrameLayer, text: TextBox) -> str:
    """Whose name a text is, as far as layer and words tell."""
    return f"{layer.title} {text.text}"


def astray(frame: AirFrame, annotation: Annotation) -> list[str]:
    """Names of which more than a twelfth stands on lit ground of a sea, or on the rim of a crater, that is named in the
    frame or is one of the thirty foremost of the picture, and is not theirs."""
    pose = frame.pose
    if pose is None:
        return []
    marks = sorted(annotation.features, key=lambda m: -m.prominence * m.seen)
    craters = [m.feature for m in marks if m.feature.kind == "crater" and m.lit_fraction > 0.3][:30]
    seas = sea_map()
    by_number = {number: name for name, number in seas.number.items()}
    known = {f.name for f in all_features()}
    shown = " ".join(t.text for layer in frame.layers if layer.kind == "seas" for t in layer.texts)
    found = []
    for layer in frame.layers:
        if layer.kind not in ("seas", "feature"):  # a key names the line whose sample stands beside it
            continue
        for text in layer.texts:
            b = text.box
            own = owners(frame, layer, text, known)
            beside = layer.kind == "feature" and not any(
                isinstance(k, Line) and k.layer == LEADING for k in layer.shapes
            )
            x, y = np.meshgrid(np.linspace(b.x0, b.x1, 24), np.linspace(b.y0, b.y1, 8))
            lat, lon = pixel_to_surface(pose, x - 0.5, y - 0.5)
            on = ~np.isnan(lat)
            if not on.any():
                continue
            sun = sun_altitude_deg(
                np.where(on, lat, 0), np.where(on, lon, 0), pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
            )
            ground = np.where(on & (sun > 1.0), seas.ground_at(lat, lon), -1)
            for number in np.unique(ground[ground >= 0]).tolist():
                name = by_number[number]
                home = [f for f in all_features() if f.name in own]
                in_it = any(seas.ground_at(np.array([f.lat_deg]), np.array([f.lon_deg]))[0] == number for f in home)
                if beside and (in_it or name not in shown):
                    continue  # next to its ring, in the sea that holds that, or in one that is not named there
                if name not in own and (ground == number).mean() > 1 / 12:
                    found.append(f"{text.text} on {name}")
            for crater in craters:
                at = surface_to_pixel(pose, crater.lat_deg, crater.lon_deg)
                r = 0.8 * crater.size_km / 2 / MOON_RADIUS_KM * pose.radius_px * float(np.sqrt(max(at.mu, 0.0)))
                near = np.hypot(
                    np.clip(at.x + 0.5, b.x0, b.x1) - at.x - 0.5, np.clip(at.y + 0.5, b.y0, b.y1) - at.y - 0.5
                )
                if at.mu > 0 and crater.name not in own and near < r:
                    found.append(f"{text.text} on {crater.name}")
    return found


def owners(frame: AirFrame, layer: FrameLayer, text: TextBox, known: set[str]) -> set[str]:
    """Features that a text may name: by its layer's title; in the layer of seas by its words."""
    if layer.kind == "feature":
        slugs = {name for name in known if layer.name.startswith("feature-") and layer.title.startswith(name)}
        return slugs | getattr(layer, "features", frozenset(()))
    if layer.kind == "seas":
        told = {name for name in known if text.text in name or text.text.removesuffix("-") in name}
        for code in REPLY_LANGUAGES[1:]:
            told |= {iau for iau in known if text.text and text.text in Language(code).local_name(iau)}
        return told
    return set()


def overlaps(texts: list[tuple[FrameLayer, TextBox]]) -> list[str]:
    found = []
    for (_, a), (_, b) in itertools.combinations(texts, 2):
        if a.box.touches(b.box):
            found.append(f"{a.text} / {b.text}")
    for layer, text in texts:
        for other in {id(k): k for k, _ in texts}.values():
            if other is layer or other.kind not in ("feature", "seas"):
                continue
            for shape in other.shapes:
                if isinstance(shape, Line) and shape.closed:
                    p = np.array(shape.points) + 0.5
                    if text.box.around(p[:, 0], p[:, 1]).any():
                        found.append(f"{text.text} on the ring of {other.title}")
    return found


def leaders(frame: AirFrame) -> list[np.ndarray]:
    """Lines that lead from a name to what it names."""
    return [
        np.array(s.points) for layer in frame.layers for s in layer.shapes if isinstance(s, Line) and s.layer == LEADING
    ]


def _turn(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def crossings(frame: AirFrame) -> int:
    count = 0
    for one, other in itertools.combinations(leaders(frame), 2):
        for a, b in itertools.pairwise(one):
            for c, d in itertools.pairwise(other):
                if _turn(a, b, c) * _turn(a, b, d) < 0 and _turn(c, d, a) * _turn(c, d, b) < 0:
                    count += 1
    return count


def _luminance(colour: np.ndarray) -> np.ndarray:
    c = np.asarray(colour, float) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4) @ np.array([0.2126, 0.7152, 0.0722])


def without_ink(shape: Shape) -> Shape:
    """Letters with an edge as that edge alone."""
    return replace(shape, colour=shape.halo) if isinstance(shape, Fill) and shape.halo else shape


def contrast_of(frame: AirFrame) -> float:
    """Least contrast of a text against the worst pixel next to its letters (in its box, where it stands on a plate)."""
    canvas = np.zeros((frame.format.height, frame.format.width, 4), np.uint8)
    least = 21.0
    for layer in frame.layers:
        paint(canvas, [without_ink(s) for s in layer.shapes if not (isinstance(s, Fill) and s.says and not s.halo)])
        for text in layer.texts:
            b = text.box
            part = np.s_[max(int(b.y0), 0) : int(np.ceil(b.y1)), max(int(b.x0), 0) : int(np.ceil(b.x1))]
            ground = canvas[part][..., :3].reshape(-1, 3)
            if text.halo:  # next to the letters, not between them
                letters = np.zeros((*canvas.shape[:2], 4), np.uint8)
                paint(
                    letters, [replace(s, halo="") for s in layer.shapes if isinstance(s, Fill) and s.says == text.text]
                )
                ink_near = cv2.dilate((letters[part][..., 3] > 127).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
                ground = canvas[part][..., :3][ink_near]
            ink, under = float(_luminance(np.array(rgb_of(text.colour)))), _luminance(ground)
            ratio = (np.maximum(ink, under) + 0.05) / (np.minimum(ink, under) + 0.05)
            least = min(least, float(np.percentile(ratio, 0.5)) if len(ratio) else 21.0)
    return least


# --- output -----------------------------------------------------------------------------------------------------------


def sheet(pictures: list[np.ndarray], columns: int = 4, width: int = 640, height: int = 400) -> np.ndarray:
    """Pictures in rows, each in a cell of its own."""
    rows = -(-len(pictures) // columns)
    canvas = np.full((rows * height, columns * width, 3), 40, np.uint8)
    for k, picture in enumerate(pictures):
        scale = min((width - 8) / picture.shape[1], (height - 8) / picture.shape[0])
        small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        y = (k // columns) * height + (height - small.shape[0]) // 2
        x = (k % columns) * width + (width - small.shape[1]) // 2
        canvas[y : y + small.shape[0], x : x + small.shape[1]] = small
    return canvas


def write(path: Path, rgb: np.ndarray) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(path), cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", type=Path)
    parser.add_argument("--cache", type=Path)
    parser.add_argument("--only", default="")
    parser.add_argument("--every", type=int, default=1, help="Every so many of the frames.")
    told = parser.parse_args(arguments)
    shared = os.environ.get("MOONDESK_SHARED")
    if not shared:
        print("Set MOONDESK_SHARED to the folder of shared test data.", file=sys.stderr)
        return 2
    rows, small = [], []
    print("| frame | covered % | names | astray | overlaps | crossings | cap | contrast |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for case in cases(Path(shared), told.cache)[:: told.every]:
        if told.only not in case.name:
            continue
        frame = make(case)
        if isinstance(frame, NotFound):
            print(f"| {case.name} | {frame.reason} | | | | | | |", flush=True)
            continue
        row = measure(case, frame)
        rows.append(row)
        print(
            f"| {row.name} | {row.covered:.1f} | {row.names} | {'; '.join(row.astray) or 0} | "
            f"{'; '.join(row.overlaps) or 0} | {row.crossings} | {row.cap:.1f} | {row.contrast:.1f} |",
            flush=True,
        )
        if told.out:
            whole = flatten(frame)
            write(told.out / f"{case.name}.png", whole)
            scale = 640 / max(whole.shape[:2])
            small.append(cv2.resize(whole, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))
    if rows:
        print(
            f"| {len(rows)} frames: median (most) | {statistics.median(r.covered for r in rows):.1f} "
            f"({max(r.covered for r in rows):.1f}) | {statistics.median(r.names for r in rows):.0f} | "
            f"{sum(len(r.astray) for r in rows)} | {sum(len(r.overlaps) for r in rows)} | "
            f"{sum(r.crossings for r in rows)} | {min(r.cap for r in rows):.1f} | {min(r.contrast for r in rows):.1f} |"
        )
    if told.out and small:
        for k in range(0, len(small), 20):
            write(told.out / f"sheet-{k // 20 + 1}.png", sheet(small[k : k + 20]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
