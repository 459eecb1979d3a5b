"""What a night or a month gives together, made in a child and kept: the composite, the poster, the march.

    derived/made/NAME-MARK/     members.json, and the files

MARK stands for all that it was made of (pictures, placings, credits, words) and for the number of how it is made, so that a picture that is
withdrawn or placed anew never stays in: then another mark is asked for, and the folder under the old one is removed. It
goes too when one of its senders is forgotten (`store.forget`).
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from moondesk.records import ByteArray, NotFound, Pose
from moondesk.revisions import STACKING
from moondesk.service.errors import BadInputError
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.engine import Engine
from moondesk.service.jobs.frame_files import Run, png
from moondesk.service.jobs.warm_pool import WarmPoolError
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.media import DERIVED, MADE, MEMBERS, Media, write_folder
from moondesk.stacking.month import MonthWords

if TYPE_CHECKING:
    from moondesk.service.store.records import ListedPicture
    from moondesk.service.store.storage import Storage
    from moondesk.stacking.month import DatedFrame

#: What is written on what is made.
Words = Sequence[str] | MonthWords

COMPOSITE, CAPTIONED = "composite.png", "captioned.png"
#: Posters: for paper, a feed, a story. The march: small and still without an encoder, level and upright with one.
SHEET, FEED, STORY = "sheet.png", "feed.png", "story.png"
MARCH, FILM, UPRIGHT = "march.webp", "march.mp4", "march-upright.mp4"
MONTH_FILES = (SHEET, FEED, STORY, MARCH, FILM, UPRIGHT)
#: Steps between two evenings of a small animation, and what it is of the film's size.
SMALL_STEPS, SMALL = 3, 0.4
REPORT = "report.json"
#: Pictures that one composite takes at most: each wants some 30 MB.
MOST = 40


@dataclass(frozen=True, kw_only=True)
class Input:
    """One of several pictures. photo: the store's own, whose bytes a child gets beside this; words: its credit; day: of
    a month, from 0."""

    id: int
    sha256: str
    derived_key: str
    photo: Path
    pose: Pose
    blur_km: float
    words: str
    day: int = 0


@dataclass(frozen=True, kw_only=True)
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
    from moondesk.quality.resolution import Resolution
    from moondesk.service.store.measured import measured_quality

    stored, sha = read_annotation(storage, picture.picture.id), picture.picture.enclosure.sha256
    if stored is None or sha is None or stored.annotation.pose is None:
        return None
    quality = measured_quality(stored.quality)
    resolution = quality.resolution if quality else None
    photo = media.derived_folder(sha, stored.derived_key) / DERIVED["photo"]  # drawn before it is used: `at_hand`
    if not isinstance(resolution, Resolution) or not (photo.is_file() or media.has(sha)):
        return None
    return Input(
        id=picture.picture.id,
        sha256=sha,
        derived_key=stored.derived_key,
        photo=photo,
        pose=stored.annotation.pose,
        blur_km=resolution.blur_km,
        words=words,
    )


def find_folder(media: Media, name: str, inputs: Sequence[Input], words: Words) -> Path | None:
    """The folder of what was made of exactly that; None: it was not made yet. What was made otherwise is removed."""
    folder = _folder(media, name, inputs, words)
    for old in (media.root / "derived" / MADE).glob(f"{name}-*"):
        if old != folder:
            shutil.rmtree(old, ignore_errors=True)
    return folder if (folder / MEMBERS).is_file() else None


def make_composite(
    media: Media, run: Run, name: str, inputs: Sequence[Input], words: tuple[str, ...]
) -> Stacked | NotFound:
    """words: the head and the credits under it, of the composite with its caption."""
    folder = find_folder(media, name, inputs, words)
    if folder is None:
        found = run(compose, *for_child(inputs), words)
        if isinstance(found, NotFound):
            return found
        if not {*found.used, *(k for k, _ in found.left_out)} <= {i.id for i in inputs}:
            raise WarmPoolError("The composite tells of pictures that are not in it.", "Try again.")
        report = {"used": found.used, "left_out": found.left_out, "times": found.times, "blur_km": found.blur_km}
        folder = _write_made(
            _folder(media, name, inputs, words),
            inputs,
            {COMPOSITE: found.plain, CAPTIONED: found.captioned, REPORT: json.dumps(report).encode()},
        )
    return read_stacked(folder)


def make_month(media: Media, run: Run, name: str, inputs: Sequence[Input], words: MonthWords) -> Path | NotFound:
    folder = find_folder(media, name, inputs, words)
    if folder is not None:
        return folder
    files: dict[str, bytes] = {}
    for make in (posters, marches):
        made = run(make, *for_child(inputs), words)
        if isinstance(made, NotFound):
            return made
        files |= made
    return _write_made(
        _folder(media, name, inputs, words), inputs, {name: files[name] for name in MONTH_FILES if name in files}
    )


def read_stacked(folder: Path) -> Stacked:
    told = json.loads((folder / REPORT).read_text())
    return Stacked(
        folder=folder,
        used=tuple(told["used"]),
        left_out=tuple((k, why) for k, why in told["left_out"]),
        times=told["times"],
        blur_km=told["blur_km"],
    )


def _folder(media: Media, name: str, inputs: Sequence[Input], words: Words) -> Path:
    plain = [replace(i, photo=Path()) for i in inputs]
    mark = hashlib.sha256(f"{STACKING} {plain!r} {words!r}".encode()).hexdigest()[:16]
    return media.root / "derived" / MADE / f"{name}-{mark}"


def _write_made(folder: Path, inputs: Sequence[Input], files: Mapping[str, bytes]) -> Path:
    shutil.rmtree(folder, ignore_errors=True)
    members = json.dumps([i.sha256 for i in inputs]).encode()
    write_folder(folder, {**files, MEMBERS: members}, ".made-")
    return folder


def for_child(inputs: Sequence[Input]) -> tuple[tuple[Input, ...], tuple[bytes, ...]]:
    """The inputs without paths, and the bytes of their photographs."""
    return tuple(replace(i, photo=Path()) for i in inputs), tuple(i.photo.read_bytes() for i in inputs)


# --- in a child ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Composed:
    """See `Stacked`."""

    plain: Picture
    captioned: Picture
    used: tuple[int, ...]
    left_out: tuple[tuple[int, str], ...]
    times: float
    blur_km: float


def compose(
    engine: Engine, inputs: tuple[Input, ...], photos: tuple[bytes, ...], words: tuple[str, ...]
) -> Composed | NotFound:
    from moondesk.stacking.captions import add_captions
    from moondesk.stacking.composite import composite
    from moondesk.stacking.registered import StackMember

    members = [
        StackMember(i.id, rgb, i.pose, i.blur_km)
        for i, photo in zip(inputs, photos, strict=True)
        for rgb in [engine.decode_rgb(photo)]
        if not isinstance(rgb, NotFound)
    ]
    found = composite(members)
    if isinstance(found, NotFound):
        return found
    names = {i.id: i.words for i in inputs}
    under = add_captions(found.rgb, words[0], tuple(dict.fromkeys(names[k] for k in found.used)))
    if isinstance(under, NotFound):
        return under
    return Composed(
        plain=Picture(png(found.rgb)),
        captioned=Picture(png(under)),
        used=tuple(found.used),
        left_out=tuple((k, why) for k, why in found.rejected),
        times=found.gain.times,
        blur_km=found.gain.blur_km,
    )


def posters(
    engine: Engine, inputs: tuple[Input, ...], photos: tuple[bytes, ...], words: MonthWords
) -> dict[str, Picture] | NotFound:
    from moondesk.stacking.poster import FEED as FEED_SHAPE
    from moondesk.stacking.poster import PAPER, poster
    from moondesk.stacking.poster import STORY as STORY_SHAPE

    pictures, files = _dated_frames(engine, inputs, photos), {}
    for name, shape in ((SHEET, PAPER), (FEED, FEED_SHAPE), (STORY, STORY_SHAPE)):
        made = poster(pictures, words, shape)
        if isinstance(made, NotFound):
            return made
        files[name] = Picture(png(made))
    return files


def marches(
    engine: Engine, inputs: tuple[Input, ...], photos: tuple[bytes, ...], words: MonthWords
) -> dict[str, Picture] | NotFound:
    """From two pictures on: level and upright as MP4, or small as WebP where no encoder is installed."""
    from moondesk.service.exports.animation import NoEncoderError

    if len(inputs) < 2:
        return {}
    try:
        return _films(engine, inputs, photos, words, (FILM, UPRIGHT))
    except NoEncoderError:
        made = march_file(engine, inputs, photos, words, ".webp", False)
        return made if isinstance(made, NotFound) else {MARCH: made}


def march_file(
    engine: Engine, inputs: tuple[Input, ...], photos: tuple[bytes, ...], words: MonthWords, suffix: str, upright: bool
) -> Picture | NotFound:
    """Raises BadInputError where the encoder is not installed."""
    from moondesk.service.exports.animation import NoEncoderError, animation
    from moondesk.stacking.march import LEVEL, march
    from moondesk.stacking.march import UPRIGHT as UPRIGHT_LAYOUT

    if suffix == ".mp4":
        name = UPRIGHT if upright else FILM
        try:
            made = _films(engine, inputs, photos, words, (name,))
        except NoEncoderError as error:
            raise BadInputError(str(error), error.advice) from error
        return made if isinstance(made, NotFound) else made[name]
    layout = UPRIGHT_LAYOUT if upright else LEVEL
    frames = march(_dated_frames(engine, inputs, photos), words, (layout,), SMALL_STEPS)
    if isinstance(frames, NotFound):
        return frames
    return Picture(animation(((_shrink(frame.rgb[0]), frame.true) for frame in frames), suffix))


def _films(
    engine: Engine, inputs: Sequence[Input], photos: Sequence[bytes], words: MonthWords, names: tuple[str, ...]
) -> dict[str, Picture] | NotFound:
    """Raises NoEncoderError."""
    from moondesk.service.exports.animation import Film
    from moondesk.stacking.march import LEVEL, march
    from moondesk.stacking.march import UPRIGHT as UPRIGHT_LAYOUT

    layouts = [UPRIGHT_LAYOUT if name == UPRIGHT else LEVEL for name in names]
    films = [Film(layout.width, layout.height) for layout in layouts]
    frames = march(_dated_frames(engine, inputs, photos), words, layouts)
    if isinstance(frames, NotFound):
        return frames
    for frame in frames:
        for film, rgb in zip(films, frame.rgb, strict=True):
            film.add(rgb, frame.count)
    return {name: Picture(film.finish()) for name, film in zip(names, films, strict=True)}


def _shrink(rgb: ByteArray) -> ByteArray:
    import cv2

    return np.asarray(cv2.resize(rgb, None, fx=SMALL, fy=SMALL, interpolation=cv2.INTER_AREA), np.uint8)


def _dated_frames(engine: Engine, inputs: Sequence[Input], photos: Sequence[bytes]) -> list[DatedFrame]:
    from moondesk.stacking.month import DatedFrame

    return [
        DatedFrame(rgb, i.pose, i.day, i.words)
        for i, photo in zip(inputs, photos, strict=True)
        for rgb in [engine.decode_rgb(photo)]
        if not isinstance(rgb, NotFound)
    ]
