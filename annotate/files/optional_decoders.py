"""HEIC and camera raw by libraries that come as extras of the installation, imported when the first such file comes.

They are extras for their licences (the wheel of the HEIC library bundles a GPL encoder) and their size. Without them
the original is kept and the sentence says what to install. Both libraries turn the picture themselves.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import importlib.util
import io
import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

from moondesk.files.filetypes import refuse
from moondesk.records import NotFound

#: Older releases of the HEIC library bundle a decoder that hostile files can make write out of bounds (CVE-2026-84383,
#: fixed in 1.6.0; another hole of 1.6.0 in 1.7.0).
HEIC_AT_LEAST = (1, 7)
_HEIC_OTHERWISE = "or ask for it as JPEG: phones export it so, or are set to their most compatible format."
_RAW_OTHERWISE = "or ask for it developed, as JPEG or 16-bit TIFF."


def missing(what: str, extra: str, otherwise: str, why: str = "needs an extra that is not installed") -> NotFound:
    """The refusal that says what to install."""
    return refuse(
        f"The file is {what}, which {why}; the original is kept.",
        f"Run pip install 'moondesk[{extra}]', then moondesk retry, which places it; {otherwise}",
    )


def is_usable(extra: str) -> bool:
    """Whether what an extra ("heic", "raw") brings is installed, and new enough to be safe; it is not loaded."""
    name = {"heic": "pillow_heif", "raw": "rawpy"}[extra]
    if importlib.util.find_spec(name) is None:
        return False
    return extra != "heic" or _release(importlib.metadata.version("pillow-heif")) >= HEIC_AT_LEAST


def open_heic(data: bytes) -> Any | NotFound:
    """A HEIC as an image of Pillow's, turned as displayed, its pixels not yet decoded."""
    what = "a HEIC picture, as phones store them"
    try:
        library = importlib.import_module("pillow_heif")
    except ImportError:
        return missing(what, "heic", _HEIC_OTHERWISE)
    if _release(library.__version__) < HEIC_AT_LEAST:
        return missing(
            what,
            "heic",
            _HEIC_OTHERWISE,
            f"the installed pillow-heif {library.__version__} opens unsafely (1.7 is needed)",
        )
    return library.HeifImageFile(io.BytesIO(data))


def _release(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", version)[:2])


def open_raw(data: bytes) -> Any | NotFound:
    """A camera raw file opened, its pixels not yet unpacked; `sizes.width` and `sizes.height` are known then."""
    try:
        library = importlib.import_module("rawpy")
    except ImportError:
        return missing("a camera raw file", "raw", _RAW_OTHERWISE)
    raw = library.RawPy()
    raw.open_buffer(io.BytesIO(data))
    return raw


def develop(raw: Any, half: bool) -> NDArray[np.uint16]:
    """(H, W, 3) uint16 in sRGB values: daylight as the camera saw it, the brightest 0.001 % white. half: four sensor
    pixels to one, each in its own colours."""
    raw.unpack()
    library = importlib.import_module("rawpy")
    pixels: NDArray[np.uint16] = raw.postprocess(
        half_size=half,
        use_camera_wb=True,
        output_bps=16,
        gamma=(2.4, 12.92),
        auto_bright_thr=1e-5,
        highlight_mode=library.HighlightMode.Clip,
    )
    return pixels
