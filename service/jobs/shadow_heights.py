"""Heights from the shadows of a stored picture: measured once in a child process, kept beside its derived files."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any

from moondesk.quality.texture import FWHM
from moondesk.records import MOON_RADIUS_KM, Annotation
from moondesk.revisions import SHADOWS
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.jobs.engine import Engine
from moondesk.service.jobs.missing_pictures import at_hand
from moondesk.service.store.media import Media, write_whole
from moondesk.shadows.heights import ShadowHeight

#: Narrower blurs than this are the pixels' own, pixels (one standard deviation).
LEAST_BLUR_PX = 0.6


def heights_of(
    media: Media,
    sha256: str,
    derived_key: str,
    annotation: Annotation,
    blur_km: float | None,
    run: Callable[..., Any] | None,
) -> Mapping[str, ShadowHeight]:
    """By the crater's name. run: `WarmPool.run`; None: only what was measured before. blur_km: full width at half
    maximum of the picture's blur on the Moon, None where it is not known: then nothing is measured."""
    kept = media.derived_folder(sha256, derived_key) / f"shadows-{SHADOWS}.json"
    if not kept.is_file():
        if run is None or blur_km is None or annotation.pose is None:
            return {}
        try:
            photo = at_hand(media, run, sha256, derived_key, annotation)
        except (NotStoredError, BadInputError):  # the notes do without
            return {}
        if photo is None:
            return {}
        blur_px = max(blur_km / FWHM * annotation.pose.radius_px / MOON_RADIUS_KM, LEAST_BLUR_PX)
        found = run(measure, photo.read_bytes(), annotation, blur_px)
        write_whole(kept, json.dumps({name: asdict(one) for name, one in found.items()}).encode())
    return {name: _height(told) for name, told in json.loads(kept.read_text(encoding="utf-8")).items()}


def measure(engine: Engine, photo: bytes, annotation: Annotation, blur_px: float) -> dict[str, ShadowHeight]:
    """Runs in a child."""
    import cv2
    import numpy as np

    from moondesk.shadows.craters import crater_shadows

    rgb = engine.decode_rgb(photo)
    grey = cv2.cvtColor(np.ascontiguousarray(rgb), cv2.COLOR_RGB2GRAY).astype(np.float32) / 255.0
    linear = np.where(grey <= 0.04045, grey / 12.92, ((grey + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return dict(crater_shadows(linear, annotation, blur_px))


def _height(told: dict[str, Any]) -> ShadowHeight:
    return ShadowHeight(**{**told, "start": tuple(told["start"]), "tip": tuple(told["tip"])})
