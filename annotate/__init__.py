"""Places photographs of the Moon: where it lies in a picture, what shows there, and how well that is known.

    import moondesk as md

    found = md.annotate("moon.jpg", taken="2026-10-17T19:14:35Z", place=(48.2, 16.4))
    found                                            # a summary; in a notebook with the labelled picture
    x, y = found.pixel(lat_deg=9.62, lon_deg=-20.08) # of Copernicus; `found.surface(x, y)` leads back
    found.table()                                    # every named feature with its place, its light, its uncertainty

Names (each says its units and frames; conventions stand once in `moondesk.records`)

* a picture: `read`, `annotate`, `correct`, `draw`, and what they give: `Photograph`, `Annotated`
* records: `Annotation`, `Known`, `Place`, `NotFound`, `Corrections`, `Pose`, `Aspect`, `Feature`, `FeatureMark`
* from the Moon to pixels and back: `surface_to_pixel`, `pixel_to_surface`, `sun_altitude_deg`, `MOON_RADIUS_KM`
* the Moon itself: `aspect_at` how it stood, `find` and `all_features` of the IAU's list
* as JSON: `json_line` and `pose_of`, the published line; `annotation_to_json`, `annotation_from_json`, the whole record
* underneath: `annotate_picture`, `correct_picture`, bytes and records in, records out

No clock, network, environment, web or database here. A part is imported when it is first asked for (PEP 562).
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from moondesk.codec import annotation_from_json, annotation_to_json
    from moondesk.corrections import Corrections, correct_picture
    from moondesk.ephemeris.aspect import aspect_at
    from moondesk.exports.json_line import json_line, pose_of
    from moondesk.library import Annotated, Photograph, annotate, correct, draw, read
    from moondesk.moon.catalogue import all_features, find
    from moondesk.moon.geometry import pixel_to_surface, sun_altitude_deg, surface_to_pixel
    from moondesk.pipeline import annotate_picture
    from moondesk.records import MOON_RADIUS_KM, Annotation, Aspect, Feature, FeatureMark, Known, NotFound, Place, Pose

    __version__: str

_PARTS = {
    "codec": ("annotation_from_json", "annotation_to_json"),
    "corrections": ("Corrections", "correct_picture"),
    "ephemeris.aspect": ("aspect_at",),
    "exports.json_line": ("json_line", "pose_of"),
    "library": ("Annotated", "Photograph", "annotate", "correct", "draw", "read"),
    "moon.catalogue": ("all_features", "find"),
    "moon.geometry": ("pixel_to_surface", "sun_altitude_deg", "surface_to_pixel"),
    "pipeline": ("annotate_picture",),
    "records": (
        "MOON_RADIUS_KM",
        "Annotation",
        "Aspect",
        "Feature",
        "FeatureMark",
        "Known",
        "NotFound",
        "Place",
        "Pose",
    ),
}
_HOME = {name: part for part, names in _PARTS.items() for name in names}

__all__ = [
    "MOON_RADIUS_KM",
    "Annotated",
    "Annotation",
    "Aspect",
    "Corrections",
    "Feature",
    "FeatureMark",
    "Known",
    "NotFound",
    "Photograph",
    "Place",
    "Pose",
    "all_features",
    "annotate",
    "annotate_picture",
    "annotation_from_json",
    "annotation_to_json",
    "aspect_at",
    "correct",
    "correct_picture",
    "draw",
    "find",
    "json_line",
    "pixel_to_surface",
    "pose_of",
    "read",
    "sun_altitude_deg",
    "surface_to_pixel",
]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("moondesk")
    if name in _HOME:
        return getattr(import_module(f"moondesk.{_HOME[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME, "__version__"])
