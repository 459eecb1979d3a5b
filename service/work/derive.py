"""The pictures made from an original: rebuilt from its pixels, so that nothing of its metadata can come along.

The turn of the EXIF tag is baked in, because the overlay's coordinates are those of the picture as displayed and a
browser that turned the photograph under it would move it away from its labels.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
from PIL import Image

from annotate.records import Annotation, NotFound
from service.work.engine import Engine
from service.work.media import DERIVED, is_drawn, write_whole

THUMBNAIL_PX = 480
PHOTO_QUALITY = 92
THUMBNAIL_QUALITY = 85
#: Longer side of the picture for the screen, and the least of an original that gets one.
SCREEN_PX, SCREEN_FROM_PX = 2000, 2600
SCREEN_QUALITY = 88


def derive_all(engine: Engine, rgb: Any, annotation: Annotation, folder: Path, only_missing: bool = False,
               at_first: bool = False) -> tuple[str, ...]:
    """Write every derived picture into `folder`; sentences about those that could not be made.

    rgb: (H, W, 3) uint8 as displayed. only_missing: what is there already is left as it is. at_first: without the
    labelled and the upright picture, four fifths of the work: few are ever looked at, and the desk has them made then.
    """
    problems: list[str] = []

    def wanted(role: str) -> Path | None:
        path = folder / DERIVED[role]
        return None if only_missing and path.exists() else path

    if (photo := wanted("photo")) is not None:
        _attempt("photograph", problems, lambda: write_jpeg(rgb, photo, PHOTO_QUALITY))
    if max(rgb.shape) > SCREEN_FROM_PX and (screen := wanted("screen")) is not None:
        _attempt("picture for the screen", problems, lambda: write_screen(rgb, screen))
    if (thumbnail := wanted("thumbnail")) is not None:
        _attempt("thumbnail", problems, lambda: write_thumbnail(rgb, annotation, thumbnail))
    if not at_first:
        problems.extend(draw_pictures(engine, rgb, annotation, wanted("labelled"), wanted("upright")))
    if is_drawn(annotation) and (overlay := wanted("overlay")) is not None:
        _attempt("overlay", problems, lambda: write_whole(overlay, engine.overlay_svg(annotation).encode()))
    return tuple(problems)


def draw_pictures(engine: Engine, rgb: Any, annotation: Annotation, labelled: Path | None, upright: Path | None,
                  ) -> tuple[str, ...]:
    """The labelled and the upright picture as PNG files, where the annotation allows them; None: not wanted."""
    if not is_drawn(annotation):
        return ()
    problems: list[str] = []
    if labelled is not None:
        _attempt("labelled picture", problems, lambda: write_png(engine.draw_labelled(rgb, annotation), labelled))

    def upright_picture() -> None:
        turned = engine.draw_upright(rgb, annotation)
        if not isinstance(turned, NotFound) and upright is not None:
            write_png(turned, upright)

    if annotation.pose and upright is not None:
        _attempt("upright picture", problems, upright_picture)
    return tuple(problems)


def write_png(rgb: Any, path: Path) -> None:
    """By OpenCV's own fast settings: 0.5 s for 12 noisy megapixels, Pillow at the same size of file 1.7 s."""
    written, data = cv2.imencode(".png", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))
    if not written:
        raise OSError("the PNG encoder failed")
    write_whole(path, data.tobytes())


def write_jpeg(rgb: Any, path: Path, quality: int) -> None:
    _save(Image.fromarray(rgb), path, format="JPEG", quality=quality)


def write_screen(rgb: Any, path: Path) -> None:
    """The whole picture as large as a screen shows it at once: what the picture's page shows until it is zoomed."""
    factor = SCREEN_PX / max(rgb.shape)
    size = (max(1, round(rgb.shape[1] * factor)), max(1, round(rgb.shape[0] * factor)))
    write_jpeg(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), path, SCREEN_QUALITY)


def write_thumbnail(rgb: Any, annotation: Annotation, path: Path) -> None:
    """The picture small; where the disc is known and lies small in a wide frame, the disc with some sky."""
    picture = Image.fromarray(rgb)
    disc = annotation.pose or annotation.limb
    if disc is not None and 2.8 * disc.radius_px < min(picture.size):
        half = max(1.4 * disc.radius_px, 60.0)
        left = round(min(max(disc.x - 4 / 3 * half, 0.0), max(picture.width - 8 / 3 * half, 0.0)))
        top = round(min(max(disc.y - half, 0.0), max(picture.height - 2 * half, 0.0)))
        right, bottom = min(left + round(8 / 3 * half), picture.width), min(top + round(2 * half), picture.height)
        picture = picture.crop((left, top, right, bottom))
    picture.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX))
    _save(picture, path, format="JPEG", quality=THUMBNAIL_QUALITY)


def _save(picture: Image.Image, path: Path, **how: Any) -> None:
    buffer = io.BytesIO()
    picture.save(buffer, **how)
    write_whole(path, buffer.getvalue())


def _attempt(what: str, problems: list[str], act: Callable[[], None]) -> None:
    try:
        act()
    except Exception as error:  # a drawing that fails must not cost the placement
        problems.append(f"The {what} could not be made ({type(error).__name__}: {error}).")
