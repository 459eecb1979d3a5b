"""Annotations as JSON: the stable line that other programs read, and the full record that the store keeps.

`json_line` is the published contract (schema 2): the keys never change, unknown values are null, NaN is never
written. `annotation_to_json` and `annotation_from_json` keep every field of the frozen records and read back what
an older version wrote: fields that came later take their defaults.
"""

from __future__ import annotations

import dataclasses
import json
import math
import types
import typing
from datetime import UTC, datetime
from functools import cache
from typing import Any, TypeVar

from moondesk.checks.statements import lit_fraction
from moondesk.drawing.labels import labels_of
from moondesk.records import Annotation, FeatureMark, Pose, TimeCandidate

#: Version of the JSON line. A new key raises it; a key never changes its meaning.
SCHEMA = 2
#: Smallest named feature listed, km; the one exception is the crater that defines the coordinates.
SMALLEST_LISTED_KM = 15.0
ALWAYS_LISTED = "Mösting A"

PIXEL_DECIMALS = 2
SIGMA_DECIMALS = 3
ANGLE_DECIMALS = 4
SHARE_DECIMALS = 4

R = TypeVar("R")


def json_line(file: str, sha256: str, annotation: Annotation) -> dict[str, Any]:
    """The JSON object of one file, every key present, null where unknown.

    Pixels and angles follow the conventions of `moondesk.records`. `limb` is the disc as finally solved: where a
    pose was found its centre and radius, in agreement with the features' pixels, else the fitted edge. `sure`, `reason`
    and `advice` speak of where the Moon lies, `evening` of when the picture was taken (see `Dated`; since schema 2).
    `label_x`, `label_y` are the centre of the label's text box, placed now as the overlay has it. Raises ValueError for an empty file name.
    """
    if not file:
        raise ValueError("json_line needs the name of the file")
    a = annotation
    labels = {label.name: label for label in labels_of(a)}
    return {
        "schema": SCHEMA,
        "file": file,
        "sha256": sha256,
        "status": a.status,
        "sure": a.sure,
        "reason": a.reason or None,
        "advice": a.advice or None,
        "taken": _taken(a.time),
        "clock": {
            "verdict": a.clock.verdict,
            "picture_utc": _utc(a.clock.picture_utc),
            "sigma_hours": _number(a.clock.sigma_hours, SIGMA_DECIMALS),
        },
        "evening": {"verdict": a.dated.verdict, "reason": a.dated.reason or None, "advice": a.dated.advice or None},
        "limb": _limb(a),
        "shape": _shape(a.pose),
        "field": None
        if a.field_stop is None
        else {
            "x": _number(a.field_stop.x, PIXEL_DECIMALS),
            "y": _number(a.field_stop.y, PIXEL_DECIMALS),
            "radius": _number(a.field_stop.radius_px, PIXEL_DECIMALS),
        },
        "terminator": None
        if a.terminator is None
        else {
            "phase_angle_deg": _number(a.terminator.phase_angle_deg, ANGLE_DECIMALS),
            "illuminated_fraction": _number(lit_fraction(a), SHARE_DECIMALS),
            "bright_limb_screen_deg": _number(a.terminator.bright_limb_screen_deg, ANGLE_DECIMALS),
            "sigma_deg": _number(a.terminator.sigma_deg, ANGLE_DECIMALS),
        },
        "pose": _pose(a.pose),
        "features": [_feature(mark, labels.get(mark.feature.name)) for mark in a.features if is_listed(mark, a)],
    }


def is_listed(mark: FeatureMark, annotation: Annotation) -> bool:
    """True for what the JSON line lists: named features of 15 km or more, on the visible hemisphere, in the frame."""
    if mark.feature.name == ALWAYS_LISTED:
        return True
    inside = -0.5 <= mark.x < annotation.width - 0.5 and -0.5 <= mark.y < annotation.height - 0.5
    named = mark.feature.parent is None and mark.feature.size_km >= SMALLEST_LISTED_KM
    return named and inside and mark.cos_view > 0


def annotation_to_json(annotation: Annotation) -> str:
    """The whole record as compact JSON text; nothing is rounded.

    A nan is written as null and read back as nan, or as None where the field may be None.
    """
    return json.dumps(_encode(annotation), ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def annotation_from_json(text: str) -> Annotation:
    """The record that `annotation_to_json` wrote. Raises ValueError where the text is not such a record."""
    return record_from_plain(Annotation, json.loads(text))


def record_from_plain(cls: type[R], plain: Any) -> R:
    """A frozen record of class `cls` from dicts, lists and numbers; unknown keys are passed over."""
    try:
        return typing.cast(R, _decode(cls, plain))
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"this is not a stored {cls.__name__}: {error}") from error


# --- the line's parts -------------------------------------------------------------------------------------------


def _taken(time: TimeCandidate | None) -> dict[str, Any]:
    if time is None:
        return {"utc": None, "source": None, "sigma_minutes": None}
    return {"utc": _utc(time.utc), "source": time.source, "sigma_minutes": _number(time.sigma_minutes, 2)}


def _limb(a: Annotation) -> dict[str, Any] | None:
    if a.limb is None and a.pose is None:
        return None
    disc = a.pose or a.limb
    assert disc is not None
    sigma = pose_sigma(a.pose, "radius_px") if a.pose else None
    if sigma is None and a.limb is not None:
        sigma = a.limb.sigma_px
    return {
        "x": _number(disc.x, PIXEL_DECIMALS),
        "y": _number(disc.y, PIXEL_DECIMALS),
        "radius": _number(disc.radius_px, PIXEL_DECIMALS),
        "sigma_px": _number(sigma, SIGMA_DECIMALS),
        "arc_deg": _number(a.limb.arc_deg, 1) if a.limb else None,
    }


def pose_sigma(pose: Pose, parameter: str) -> float | None:
    """One standard deviation of a solved parameter, in its unit; None where the pose carries none."""
    n = len(pose.parameters)
    if parameter not in pose.parameters or len(pose.covariance) != n * n:
        return None
    k = pose.parameters.index(parameter)
    variance = pose.covariance[k * n + k]
    return math.sqrt(variance) if variance >= 0 else None


def _shape(pose: Pose | None) -> dict[str, Any] | None:
    if pose is None:
        return None
    return {
        "flattening": _number(pose.flattening, 6),
        "flattening_screen_deg": _number(pose.flattening_screen_deg, ANGLE_DECIMALS),
        "tilt": _number(pose.tilt, 6),
        "tilt_screen_deg": _number(pose.tilt_screen_deg, ANGLE_DECIMALS),
        "tangential": _number(pose.tangential, 6),
        "tangential_screen_deg": _number(pose.tangential_screen_deg, ANGLE_DECIMALS),
        "radial_k1": _number(pose.radial_k1, 8),
    }


def _pose(pose: Pose | None) -> dict[str, Any] | None:
    if pose is None:
        return None
    return {
        "mirrored": pose.mirrored,
        "north_screen_deg": _number(pose.north_screen_deg, ANGLE_DECIMALS),
        "sub_observer": _pair(pose.libration_lat_deg, pose.libration_lon_deg),
        "sub_solar": _pair(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg),
        "sigma_pct_radius": _number(pose.sigma_pct_radius, SHARE_DECIMALS),
        "score": _number(pose.score, SHARE_DECIMALS),
        "rival_score": _number(pose.rival_score, SHARE_DECIMALS),
    }


def _feature(mark: FeatureMark, label: Any) -> dict[str, Any]:
    return {
        "name": mark.feature.name,
        "kind": mark.feature.kind,
        "lat": _number(mark.feature.lat_deg, ANGLE_DECIMALS),
        "lon": _number(mark.feature.lon_deg, ANGLE_DECIMALS),
        "diameter_km": _number(mark.feature.size_km, 2),
        "x": _number(mark.x, PIXEL_DECIMALS),
        "y": _number(mark.y, PIXEL_DECIMALS),
        "sigma_px": _number(mark.sigma_px, SIGMA_DECIMALS),
        "radius_px": _number(mark.radius_px, PIXEL_DECIMALS),
        "sun_altitude_deg": _number(mark.sun_altitude_deg, 3),
        "lit_fraction": _number(mark.lit_fraction, SHARE_DECIMALS),
        "seen": _number(mark.seen, SHARE_DECIMALS),
        "labelled": label is not None,
        "label_x": _number(label.x, PIXEL_DECIMALS) if label else None,
        "label_y": _number(label.y, PIXEL_DECIMALS) if label else None,
    }


def _pair(a: float, b: float) -> list[float | None]:
    return [_number(a, ANGLE_DECIMALS), _number(b, ANGLE_DECIMALS)]


def _number(value: float | None, decimals: int) -> float | None:
    """A plain rounded float; None for None, nan and infinities (JSON has no word for them)."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0  # + 0.0: never "-0.0"


def _utc(when: datetime | None) -> str | None:
    if when is None:
        return None
    if when.tzinfo is None:
        raise ValueError(f"a time without zone: {when}")
    return when.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


# --- the generic codec ------------------------------------------------------------------------------------------


def _encode(value: Any) -> Any:
    if type(value) in (float, str, bool, int) and value == value and value not in (math.inf, -math.inf):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {name: _encode(getattr(value, name)) for name, _ in _fields(type(value))}
    if isinstance(value, tuple | list):
        return [_encode(item) for item in value]
    if isinstance(value, datetime):
        if value.tzinfo is None:
            raise ValueError(f"a time without zone: {value}")
        return value.isoformat()
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, int):
        return int(value)
    number = float(value)  # numpy scalars too
    if math.isnan(number):
        return None
    return number if math.isfinite(number) else repr(number)  # "inf" and "-inf", which float() reads back


@cache
def _fields(cls: type) -> tuple[tuple[str, Any], ...]:
    """Names and resolved types of a record's fields (looked up once: an annotation holds some thousand records)."""
    hints = typing.get_type_hints(cls)
    return tuple((f.name, hints[f.name]) for f in dataclasses.fields(cls))


def _decode(kind: Any, value: Any) -> Any:
    if kind is float:
        return math.nan if value is None else float(value)
    if kind in (str, bool, int):
        return value
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        if value is None:
            return None
        return _decode(next(k for k in typing.get_args(kind) if k is not type(None)), value)
    if origin is tuple:
        args = typing.get_args(kind)
        if len(args) == 2 and args[1] is Ellipsis:
            return tuple(_decode(args[0], item) for item in value)
        return tuple(_decode(k, item) for k, item in zip(args, value, strict=True))
    if kind is datetime:
        return datetime.fromisoformat(value)
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return kind(**{name: _decode(of, value[name]) for name, of in _fields(kind) if name in value})
    return value
