"""What a night or a month gives together, made in a child and kept: the composite, the poster, the march.

    derived/made/NAME-MARK/     members.json, and the files

MARK stands for all that it was made of (pictures, placings, credits, words) and for the code, so that a picture that is
withdrawn or placed anew never stays in: then another mark is asked for, and the folder under the old one is removed. It
goes too when one of its senders is forgotten (`store.forget`).
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from annotate.records import ByteArray, NotFound, Pose
from service.work.airing import Run, png
from service.work.engine import ROOT, Engine, content_mark
from service.work.media import DERIVED, MADE, MEMBERS, Media, write_whole

if TYPE_CHECKING:
    from annotate.archive.month import Dated
    from service.store.records import ListedPicture
    from service.store.storage import Storage

COMPOSITE, CAPTIONED = "composite.png", "captioned.png"
SHEET, MARCH, FILM = "sheet.png", "march.webp", "march.mp4"
REPORT = "report.json"
#: Pictures that one composite takes at most: each wants some 30 MB.
MOST = 40


@dataclass(frozen=True)
class Input:
    """A picture as a child gets it. photo: the store's own; words: its credit; day: of a month, from 0."""

    id: int
    sha256: str
    derived_key: str
    photo: Path
    pose: Pose
    blur_km: float
    words: str
    day: int = 0


@dataclass(frozen=True)
class Stacked:
    """What is told of a composite. used, left_out: ids, and why; times: how many times lower its noise is than that of
    the middle picture; blur_km: full width at half maximum."""

    folder: Path
    used: tuple[int, ...]
    left_out: tuple[tuple[int, str], ...]
    times: float
    blur_km: float


def input_of(storage: Storage, media: Media, picture: ListedPicture, words: str) -> Input | None:
    """None for a picture whose files or measures are not at hand."""
    from annotate.rating.quality import Quality
    from annotate.rating.resolution import Resolution
    from service.store.measured import quality_of

    stored, sha = storage.annotation(picture.picture.id), picture.picture.enclosure.sha256
    if stored is None or sha is None or stored.annotation.pose is None:
        return None
    try:
        quality = quality_of(stored.quality)
    except (ValueError, KeyError, TypeError):  # written by another release
        return None
    resolution = quality.resolution if isinstance(quality, Quality) else None
    photo = media.derived_folder(sha, stored.derived_key) / DERIVED["photo"]  # drawn before it is used: `at_hand`
    if not isinstance(resolution, Resolution) or not (photo.is_file() or media.has(sha)):
        return None
    return Input(picture.picture.id, sha, stored.derived_key, photo, stored.annotation.pose, resolution.blur_km, words)


def kept(media: Media, name: str, inputs: Sequence[Input], words: Sequence[str]) -> Path | None:
    """The folder of what was made of exactly that; None: it was not made yet. What was made otherwise is removed."""
    folder = _folder(media, name, inputs, words)
    for old in (media.root / "derived" / MADE).glob(f"{name}-*"):
        if old != folder:
            shutil.rmtree(old, ignore_errors=True)
    return folder if (folder / MEMBERS).is_file() else None


def make_composite(media: Media, run: Run, name: str, inputs: Sequence[Input], words: tuple[str, ...],
                   ) -> Stacked | NotFound:
    """words: the head and the credits under it, of the composite with its caption."""
    folder = kept(media, name, inputs, words) or _made(
        media, run, write_composite, _folder(media, name, inputs, words), inputs, words)
    return folder if isinstance(folder, NotFound) else stacked(folder)


def make_month(media: Media, run: Run, name: str, inputs: Sequence[Input], words: tuple[str, ...],
               ) -> Path | NotFound:
    """words: the programme's name, and the words of each of the evenings."""
    return kept(media, name, inputs, words) or _made(
        media, run, write_month, _folder(media, name, inputs, words), inputs, words)


def stacked(folder: Path) -> Stacked:
    told = json.loads((folder / REPORT).read_text())
    return Stacked(folder, tuple(told["used"]), tuple((k, why) for k, why in told["left_out"]), told["times"],
                   told["blur_km"])


def _folder(media: Media, name: str, inputs: Sequence[Input], words: Sequence[str]) -> Path:
    plain = [replace(i, photo=Path()) for i in inputs]
    mark = hashlib.sha256(f"{_code()} {plain!r} {words!r}".encode()).hexdigest()[:16]
    return media.root / "derived" / MADE / f"{name}-{mark}"


def _made(media: Media, run: Run, write: Any, folder: Path, inputs: Sequence[Input], words: tuple[str, ...],
          ) -> Path | NotFound:
    problem = run(write, tuple(inputs), words, folder)
    return problem if isinstance(problem, NotFound) else folder


def write_composite(engine: Engine, inputs: Sequence[Input], words: tuple[str, ...], folder: Path) -> NotFound | None:
    """Runs in a child."""
    from annotate.archive.composite import composite
    from annotate.archive.registered import Member
    from annotate.archive.strip import captioned

    members = [Member(i.id, rgb, i.pose, i.blur_km) for i in inputs
               for rgb in [engine.decode_rgb(i.photo.read_bytes())] if not isinstance(rgb, NotFound)]
    found = composite(members)
    if isinstance(found, NotFound):
        return found
    names = {i.id: i.words for i in inputs}
    under = captioned(found.rgb, words[0], tuple(dict.fromkeys(names[k] for k in found.used)))
    if isinstance(under, NotFound):
        return under
    report = {"used": list(found.used), "left_out": [[k, why] for k, why in found.rejected],
              "times": found.gain.times, "blur_km": found.gain.blur_km}
    _write(folder, inputs, {COMPOSITE: png(found.rgb), CAPTIONED: png(under), REPORT: json.dumps(report).encode()})
    return None


def write_month(engine: Engine, inputs: Sequence[Input], words: tuple[str, ...], folder: Path) -> NotFound | None:
    """Poster and march, the march only from two pictures on, and as MP4 where its encoder is installed. Runs in a
    child."""
    from annotate.archive.month import contact_sheet
    from service.archive.animation import NoEncoderError, animation

    sheet = contact_sheet(_dated(engine, inputs), words[0], words[1:])
    if isinstance(sheet, NotFound):
        return sheet
    files = {SHEET: png(sheet)}
    frames = march_frames(engine, inputs, words)
    if not isinstance(frames, NotFound):
        files[MARCH] = animation(frames, ".webp")
        with contextlib.suppress(NoEncoderError):
            files[FILM] = animation(frames, ".mp4")
    _write(folder, inputs, files)
    return None


def march_frames(engine: Engine, inputs: Sequence[Input], words: tuple[str, ...]) -> list[ByteArray] | NotFound:
    from annotate.archive.month import march

    pictures = _dated(engine, inputs)
    frames = march(pictures, [words[1 + p.day] for p in pictures])
    return frames if isinstance(frames, NotFound) else list(frames)


def _dated(engine: Engine, inputs: Sequence[Input]) -> list[Dated]:
    from annotate.archive.month import Dated

    return [Dated(rgb, i.pose, i.day, i.words) for i in inputs
            for rgb in [engine.decode_rgb(i.photo.read_bytes())] if not isinstance(rgb, NotFound)]


def _write(folder: Path, inputs: Sequence[Input], files: dict[str, bytes]) -> None:
    folder.parent.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=".made-", dir=folder.parent))
    try:
        for name, data in files.items():
            write_whole(aside / name, data)
        write_whole(aside / MEMBERS, json.dumps([i.sha256 for i in inputs]).encode())
        shutil.rmtree(folder, ignore_errors=True)
        os.replace(aside, folder)
    finally:
        shutil.rmtree(aside, ignore_errors=True)


@cache
def _code() -> str:
    return content_mark((ROOT / "annotate" / "archive", ROOT / "annotate" / "frames", Path(__file__)))
