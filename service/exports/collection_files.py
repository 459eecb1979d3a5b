"""What a night or a month gives together, made in a child and kept: the composite, the poster, the march.

    derived/made/NAME-MARK/     members.json, and the files

MARK stands for all that it was made of (pictures, placings, credits, words) and for the number of how it is made, so that a picture that is
withdrawn or placed anew never stays in: then another mark is asked for, and the folder under the old one is removed. It
goes too when one of its senders is forgotten (`store.forget`).
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from moondesk.records import ByteArray, NotFound, Pose
from moondesk.revisions import STACKING
from moondesk.service.errors import BadInputError
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.engine import Engine
from moondesk.service.jobs.frame_files import Run, png
from moondesk.service.jobs.warm_pool import WarmPoolError
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.media import DERIVED, MADE, MEMBERS, Media, write_folder

if TYPE_CHECKING:
    from moondesk.service.store.records import ListedPicture
    from moondesk.service.store.storage import Storage
    from moondesk.stacking.month import DatedFrame

COMPOSITE, CAPTIONED = "composite.png", "captioned.png"
SHEET, MARCH, FILM = "sheet.png", "march.webp", "march.mp4"
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


def find_folder(media: Media, name: str, inputs: Sequence[Input], words: Sequence[str]) -> Path | None:
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


def make_month(media: Media, run: Run, name: str, inputs: Sequence[Input], words: tuple[str, ...]) -> Path | NotFound:
    """words: the programme's name, and the words of each of the evenings."""
    folder = find_folder(media, name, inputs, words)
    if folder is not None:
        return folder
    files = run(poster_and_march, *for_child(inputs), words)
    if isinstance(files, NotFound):
        return files
    return _write_made(
        _folder(media, name, inputs, words),
        inputs,
        {name: files[name] for name in (SHEET, MARCH, FILM) if name in files},
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


def _folder(media: Media, name: str, inputs: Sequence[Input], words: Sequence[str]) -> Path:
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


def poster_and_march(
    engine: Engine, inputs: tuple[Input, ...], photos: tuple[bytes, ...], words: tuple[str, ...]
) -> dict[str, Picture] | NotFound:
    """Poster and march, the march only from two pictures on, and as MP4 where its encoder is installed."""
    from moondesk.service.exports.animation import NoEncoderError, animation
    from moondesk.stacking.month import contact_sheet

    sheet = contact_sheet(_dated_frames(engine, inputs, photos), words[0], words[1:])
    if isinstance(sheet, NotFound):
        return sheet
    files = {SHEET: Picture(png(sheet))}
    frames = _march_frames(engine, inputs, photos, words)
    if not isinstance(frames, NotFound):
        files[MARCH] = Picture(animation(frames, ".webp"))
        with contextlib.suppress(NoEncoderError):
            files[FILM] = Picture(animation(frames, ".mp4"))
    return files


def march_file(
    engine: Engine, inputs: tuple[Input, ...], photos: tuple[bytes, ...], words: tuple[str, ...], suffix: str
) -> Picture | NotFound:
    """Raises BadInputError where the encoder is not installed."""
    from moondesk.service.exports.animation import NoEncoderError, animation

    frames = _march_frames(engine, inputs, photos, words)
    try:
        return frames if isinstance(frames, NotFound) else Picture(animation(frames, suffix))
    except NoEncoderError as error:
        raise BadInputError(str(error), error.advice) from error


def _march_frames(
    engine: Engine, inputs: Sequence[Input], photos: Sequence[bytes], words: tuple[str, ...]
) -> list[ByteArray] | NotFound:
    from moondesk.stacking.month import march

    pictures = _dated_frames(engine, inputs, photos)
    frames = march(pictures, [words[1 + p.day] for p in pictures])
    return frames if isinstance(frames, NotFound) else list(frames)


def _dated_frames(engine: Engine, inputs: Sequence[Input], photos: Sequence[bytes]) -> list[DatedFrame]:
    from moondesk.stacking.month import DatedFrame

    return [
        DatedFrame(rgb, i.pose, i.day, i.words)
        for i, photo in zip(inputs, photos, strict=True)
        for rgb in [engine.decode_rgb(photo)]
        if not isinstance(rgb, NotFound)
    ]
