"""The pictures made from an original: rebuilt from its pixels, so that nothing of its metadata can come along.

The turn of the EXIF tag is baked in, because the overlay's coordinates are those of the picture as displayed and a
browser that turned the photograph under it would move it away from its labels. Bytes come out: a child makes them, and
who asked it writes them.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

import cv2
from PIL import Image

from moondesk.records import Annotation, NotFound
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.engine import Engine
from moondesk.service.store.media import is_drawn

THUMBNAIL_PX = 480
PHOTO_QUALITY = 92
THUMBNAIL_QUALITY = 85
#: Longer side of the picture for the screen, and the least of an original that gets one.
SCREEN_PX, SCREEN_FROM_PX = 2000, 2600
SCREEN_QUALITY = 88


@dataclass(frozen=True)
class DerivedPictures:
    """Pictures by their role, and sentences about those that could not be made."""

    files: dict[str, Picture]
    problems: tuple[str, ...] = ()


def draw_roles(engine: Engine, rgb: Any, annotation: Annotation, wanted: Collection[str]) -> DerivedPictures:
    """Those of the wanted roles that such a picture has.

    rgb: (H, W, 3) uint8 as displayed.
    """
    files: dict[str, Picture] = {}
    problems: list[str] = []
    for role, (what, draw) in _PENS.items():
        if role in wanted:
            try:
                data = draw(engine, rgb, annotation)
            except Exception as error:  # a drawing that fails must not cost the placement
                problems.append(f"The {what} could not be made ({type(error).__name__}: {error}).")
            else:
                if data is not None:
                    files[role] = Picture(data)
    return DerivedPictures(files, tuple(problems))


def _photo(engine: Engine, rgb: Any, annotation: Annotation) -> bytes:
    return jpeg(rgb, PHOTO_QUALITY)


def _screen(engine: Engine, rgb: Any, annotation: Annotation) -> bytes | None:
    """The whole picture as large as a screen shows it at once: what the picture's page shows until it is zoomed."""
    if max(rgb.shape) <= SCREEN_FROM_PX:
        return None
    factor = SCREEN_PX / max(rgb.shape)
    size = (max(1, round(rgb.shape[1] * factor)), max(1, round(rgb.shape[0] * factor)))
    return jpeg(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), SCREEN_QUALITY)


def _draw_labelled(engine: Engine, rgb: Any, annotation: Annotation) -> bytes | None:
    return png(engine.draw_labelled(rgb, annotation)) if is_drawn(annotation) else None


def _upright(engine: Engine, rgb: Any, annotation: Annotation) -> bytes | None:
    turned = engine.draw_upright(rgb, annotation) if is_drawn(annotation) and annotation.pose else None
    return None if turned is None or isinstance(turned, NotFound) else png(turned)


def _overlay(engine: Engine, rgb: Any, annotation: Annotation) -> bytes | None:
    return engine.overlay_svg(annotation).encode() if is_drawn(annotation) else None


def png(rgb: Any) -> bytes:
    """By OpenCV's own fast settings: 0.5 s for 12 noisy megapixels, Pillow at the same size of file 1.7 s."""
    written, data = cv2.imencode(".png", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))
    if not written:
        raise OSError("the PNG encoder failed")
    return data.tobytes()


def jpeg(rgb: Any, quality: int) -> bytes:
    return _encode(Image.fromarray(rgb), format="JPEG", quality=quality)


def _thumbnail(engine: Engine, rgb: Any, annotation: Annotation) -> bytes:
    """The picture small; where the Moon is placed and lies small in a wide frame, its disc with some sky. A limb by itself
    may be a fence's or a lamp's."""
    picture = Image.fromarray(rgb)
    disc = annotation.pose
    if disc is not None and 2.8 * disc.radius_px < min(picture.size):
        half = max(1.4 * disc.radius_px, 60.0)
        left = round(min(max(disc.x - 4 / 3 * half, 0.0), max(picture.width - 8 / 3 * half, 0.0)))
        top = round(min(max(disc.y - half, 0.0), max(picture.height - 2 * half, 0.0)))
        right, bottom = min(left + round(8 / 3 * half), picture.width), min(top + round(2 * half), picture.height)
        picture = picture.crop((left, top, right, bottom))
    picture.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX))
    return _encode(picture, format="JPEG", quality=THUMBNAIL_QUALITY)


def _encode(picture: Image.Image, **how: Any) -> bytes:
    buffer = io.BytesIO()
    picture.save(buffer, **how)
    return buffer.getvalue()


_PENS: dict[str, tuple[str, Callable[[Engine, Any, Annotation], bytes | None]]] = {
    "photo": ("photograph", _photo),
    "screen": ("picture for the screen", _screen),
    "thumbnail": ("thumbnail", _thumbnail),
    "labelled": ("labelled picture", _draw_labelled),
    "upright": ("upright picture", _upright),
    "overlay": ("overlay", _overlay),
}
