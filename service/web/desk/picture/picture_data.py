"""What the scripts of a picture's page need of its annotation, in values that JSON has. Pure."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from moondesk.records import MOON_RADIUS_KM, Annotation, FeatureMark, Status
from moondesk.service.programme.words import light_words, visibility_words

#: What a feature's row holds, in this order. x, y, radius: pixels of the picture as displayed.
COLUMNS = ("name", "meaning", "kind", "size_km", "x", "y", "radius", "seen", "light", "seen_words", "sun_deg")
#: Less lit than this it is in the dark, and how well it would be seen is no question.
DARK = 0.05


def features_json(a: Annotation | None) -> dict[str, Any]:
    """Every feature that has a place in the picture, those best to point at first."""
    drawn = a is not None and a.status.facts.is_named and a.pose is not None
    marks = sorted(a.features, key=lambda m: -m.seen * m.prominence) if a is not None and drawn else []
    return {"columns": COLUMNS, "rows": [_row(m) for m in marks]}


def _row(m: FeatureMark) -> list[Any]:
    f = m.feature
    what = f"{f.kind}, beside {f.parent}" if f.parent else f.kind
    seen = "cannot be seen" if m.lit_fraction < DARK else visibility_words(m.seen)
    return [
        f.name,
        f.meaning or "",
        what,
        f.size_km,
        round(m.x, 1),
        round(m.y, 1),
        round(m.radius_px, 1),
        round(m.seen, 2),
        light_words(m),
        seen,
        round(m.sun_altitude_deg, 1),
    ]


def surface_json(a: Annotation | None) -> dict[str, Any]:
    """The pose by which a script finds the place on the Moon under a pixel; "pose" is null without one."""
    pose = a.pose if a is not None and a.status in (Status.ANNOTATED, Status.DISC_ONLY) else None
    if pose is None:
        return {"radius_km": MOON_RADIUS_KM, "pose": None, "sure": False}
    told = {k: v for k, v in asdict(pose).items() if not isinstance(v, float) or v == v}  # nan is no JSON
    return {"radius_km": MOON_RADIUS_KM, "pose": told, "sure": bool(a and a.sure)}


def well_known() -> list[str]:
    """Names that a person may set on a picture: what is named and large enough to be pointed at, on the near side."""
    from moondesk.moon.catalogue import all_features

    return sorted(
        f.name
        for f in all_features()
        if f.parent is None and abs(f.lon_deg) < 95 and (f.size_km >= 25 or f.kind != "crater")
    )
