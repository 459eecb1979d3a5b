"""Pictures for the pages that compare and look ahead: a photograph in a common frame, and the Moon to come.

They are made once and kept, and may be deleted at any time. A photograph's frame lies in that photograph's own derived
folder, so that it goes when its sender is forgotten; the Moons to come are nobody's and lie in derived/sky. What is
decoded is the store's own photo.jpg, rebuilt from pixels when the picture was placed, and that by a child.
"""

from __future__ import annotations

import contextlib
import hashlib
import re
from collections.abc import Callable
from datetime import UTC
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from moondesk.comparison.common_frame import Framed, into_frame
from moondesk.comparison.levels import level
from moondesk.comparison.predicted import Orientation, predicted_moon
from moondesk.records import Aspect, Pose
from moondesk.revisions import COMPARISON
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.engine import Engine
from moondesk.service.store.media import DERIVED, Media, write_whole

#: How a function of the core is run in a child.
Run = Callable[..., Any]
FRAME_PX = 1000
QUALITY = 90
#: Kept frames of one picture, and kept Moons; the oldest go first.
MOST_FRAMES, MOST_MOONS = 12, 400
_MARK = re.compile(r"[0-9a-f]{16}")
#: Reading a JPEG at a half, a quarter or an eighth is the decoder's own averaging, and takes a fraction of the time.
_REDUCED = {
    1: cv2.IMREAD_COLOR,
    2: cv2.IMREAD_REDUCED_COLOR_2,
    4: cv2.IMREAD_REDUCED_COLOR_4,
    8: cv2.IMREAD_REDUCED_COLOR_8,
}


def photo_in_frame(media: Media, run: Run, sha256: str, derived_key: str, picture: Framed, frame: Pose) -> Path | None:
    """The file of a photograph in the frame of that pose, FRAME_PX wide; None where its photo.jpg is not there.

    run: `WarmPool.run`."""
    folder = media.derived_folder(sha256, derived_key)
    photo = folder / DERIVED["photo"]
    if not photo.is_file():
        return None
    target = folder / f"frame-{frame_mark(picture, frame)}.jpg"
    return _keep(target, "frame-*.jpg", MOST_FRAMES, lambda: run(frame_bytes, photo.read_bytes(), picture, frame))


def frame_mark(picture: Framed, frame: Pose) -> str:
    """What a photograph's frame hangs on, as sixteen hex digits."""
    return _mark(f"{COMPARISON} {frame!r} {picture!r}")


def find_frame(media: Media, sha256: str, derived_key: str, mark: str) -> Path | None:
    """The file of that mark, if it is there already."""
    if not _MARK.fullmatch(mark):
        return None
    target = media.derived_folder(sha256, derived_key) / f"frame-{mark}.jpg"
    return target if target.is_file() else None


def moon_file(media: Media, aspect: Aspect, size_px: int, orientation: Orientation) -> Path:
    """The file of the predicted Moon of an aspect."""
    target = media.root / "derived" / "sky" / f"{moon_mark(aspect, size_px, orientation)}.png"
    return _keep(target, "*.png", MOST_MOONS, lambda: _encode(".png", predicted_moon(aspect, size_px, orientation)))


def moon_mark(aspect: Aspect, size_px: int, orientation: Orientation) -> str:
    """What the drawing hangs on, as sixteen hex digits: another place or hour is another drawing."""
    when = aspect.when_utc.astimezone(UTC).isoformat()
    return _mark(f"{COMPARISON} {when} {aspect.place!r} {size_px} {orientation}")


def _mark(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _keep(target: Path, pattern: str, most: int, make: Callable[[], bytes]) -> Path:
    if not target.is_file():
        write_whole(target, make())
        _thin_out(target, pattern, most)
    return target


def _thin_out(target: Path, pattern: str, most: int) -> None:
    with contextlib.suppress(OSError):  # another request may remove the same ones
        files = sorted(target.parent.glob(pattern), key=lambda p: p.stat().st_mtime, reverse=True)
        for old in files[most:]:
            if old != target:
                old.unlink(missing_ok=True)


def frame_bytes(engine: Engine, photo: bytes, picture: Framed, frame: Pose) -> Picture:
    """Runs in a child: OSError for what is no JPEG."""
    ratio = picture.pose.radius_px / frame.radius_px
    shrink = next(k for k in (8, 4, 2, 1) if k == 1 or ratio >= 1.3 * k)  # never below the frame's own resolution
    packed = np.frombuffer(photo, np.uint8)
    bgr = cv2.imdecode(packed, _REDUCED[shrink] | cv2.IMREAD_IGNORE_ORIENTATION)
    if bgr is None:
        raise OSError("the kept photograph is not a whole JPEG; delete its folder and place the picture anew")
    rgb = cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB)
    framed = into_frame(level(np.asarray(rgb, np.uint8), picture.pose, shrink), picture, frame, FRAME_PX, shrink)
    return Picture(_encode(".jpg", cv2.cvtColor(framed.rgb, cv2.COLOR_RGB2BGR)))


def _encode(kind: str, array: cv2.typing.MatLike) -> bytes:
    """array: grey, or blue-green-red as OpenCV has it."""
    done, data = cv2.imencode(kind, array, [cv2.IMWRITE_JPEG_QUALITY, QUALITY] if kind == ".jpg" else [])
    if not done:
        raise OSError(f"the {kind} encoder failed")
    return data.tobytes()
