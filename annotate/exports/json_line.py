"""The line of JSON in which a placed picture is told to other programs.

It is a published contract (schema 3): the keys never change, unknown values are null, NaN is never written. Since 2
`evening` is in it; since 3 all that leads from the Moon to a pixel and back, see `pose_of`: `image`, `frame`, centre,
radius, distance and covariance of `pose`, the lens's axis in `shape`.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import Any

from moondesk.checks.statements import lit_fraction
from moondesk.drawing.labels import labels_of
from moondesk.records import Annotation, FeatureMark, Pose, TimeCandidate
from moondesk.visibility.marks import is_listed

#: Body and sphere, by the name of the IAU's reports on cartographic coordinates; longitude east positive, mean Earth.
FRAME = "IAU_2015:30100"
#: Version of the JSON line. A new key raises it; a key never changes its meaning.
SCHEMA = 3
PIXEL_DECIMALS = 2
#: Of pixels that others are computed from: the smallest disc that gets names has a radius of 25 px.
FINE_DECIMALS = 4
SIGMA_DECIMALS = 3
ANGLE_DECIMALS = 4
SHARE_DECIMALS = 4


def json_line(file: str, sha256: str, annotation: Annotation) -> dict[str, Any]:
    """The JSON object of one file, every key present, null where unknown.

    Pixels and angles follow the conventions of `moondesk.records`. `limb` is the disc as finally solved: where a
    pose was found its centre and radius, in agreement with the features' pixels, else the fitted edge. `sure`, `reason`
    and `advice` speak of where the Moon lies, `evening` of when the picture was taken (see `EveningKnowledge`).
    `label_x`, `label_y` are the centre of the label's text box, placed now as the overlay has it.
    Raises ValueError for an empty file name.
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
        "frame": FRAME,
        "image": {"width": a.width, "height": a.height},
        "taken": _time(a.time),
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


def pose_of(line: dict[str, Any]) -> Pose | None:
    """The pose that a line tells, to 0.001 %R over what the frame shows; None where the picture has none.

    line: of schema 3 or later. Raises KeyError for an earlier one, which tells no distance.

    >>> from moondesk.library import annotate
    >>> found = annotate(SAMPLE)
    >>> abs(pose_of(found.json_line()).x - found.pose.x) < 1e-4
    True
    """
    pose, shape = line["pose"], line["shape"]
    if pose is None or shape is None:
        return None
    shares = ("sigma_pct_radius", "score", "rival_score")
    unknown: dict[str, Any] = {name: math.nan for name in shares if pose[name] is None}
    return Pose(
        **{name: pose[name] for name in ("x", "y", "radius_px", "north_screen_deg", "mirrored", "distance_radii")},
        libration_lat_deg=pose["sub_observer"][0],
        libration_lon_deg=pose["sub_observer"][1],
        sub_solar_lat_deg=pose["sub_solar"][0],
        sub_solar_lon_deg=pose["sub_solar"][1],
        **shape,
        parameters=tuple(pose["parameters"]),
        covariance=tuple(value for row in pose["covariance"] for value in row),
        **{**{name: pose[name] for name in shares}, **unknown},
    )


# --- the line's parts -------------------------------------------------------------------------------------------


def _time(time: TimeCandidate | None) -> dict[str, Any]:
    if time is None:
        return {"utc": None, "source": None, "sigma_minutes": None}
    return {"utc": _utc(time.utc), "source": time.source, "sigma_minutes": _number(time.sigma_minutes, 2)}


def _limb(a: Annotation) -> dict[str, Any] | None:
    if a.limb is None and a.pose is None:
        return None
    disc = a.pose or a.limb
    assert disc is not None
    sigma = a.pose.sigma("radius_px") if a.pose else None
    if sigma is None and a.limb is not None:
        sigma = a.limb.sigma_px
    return {
        "x": _number(disc.x, PIXEL_DECIMALS),
        "y": _number(disc.y, PIXEL_DECIMALS),
        "radius": _number(disc.radius_px, PIXEL_DECIMALS),
        "sigma_px": _number(sigma, SIGMA_DECIMALS),
        "arc_deg": _number(a.limb.arc_deg, 1) if a.limb else None,
    }


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
        "axis_x": _number(pose.axis_x, FINE_DECIMALS),
        "axis_y": _number(pose.axis_y, FINE_DECIMALS),
        "axis_scale_px": _number(pose.axis_scale_px, FINE_DECIMALS),
    }


def _pose(pose: Pose | None) -> dict[str, Any] | None:
    if pose is None:
        return None
    n = len(pose.parameters)
    rows = [pose.covariance[k * n : (k + 1) * n] for k in range(n)]
    return {
        "x": _number(pose.x, FINE_DECIMALS),
        "y": _number(pose.y, FINE_DECIMALS),
        "radius_px": _number(pose.radius_px, FINE_DECIMALS),
        "distance_radii": _number(pose.distance_radii, ANGLE_DECIMALS),
        "mirrored": pose.mirrored,
        "north_screen_deg": _number(pose.north_screen_deg, ANGLE_DECIMALS),
        "sub_observer": _pair(pose.libration_lat_deg, pose.libration_lon_deg),
        "sub_solar": _pair(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg),
        "sigma_pct_radius": _number(pose.sigma_pct_radius, SHARE_DECIMALS),
        "score": _number(pose.score, SHARE_DECIMALS),
        "rival_score": _number(pose.rival_score, SHARE_DECIMALS),
        "parameters": list(pose.parameters),
        "covariance": [[float(f"{value:.6g}") for value in row] for row in rows],
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
