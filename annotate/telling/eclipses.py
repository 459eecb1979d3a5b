"""An eclipse of the Moon in a picture: known by its date, for the shadow's edge passes for a terminator.

Light then says nothing of the time: a partial eclipse looks like another phase, of another day. So every reading of
the clock that is sure to half an hour is asked, also where the light seems to contradict it.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from annotate.moon.geometry import disc_to_pixel
from annotate.moon.relight import disc_model, frame_grid, light
from annotate.records import Clock, Float32Array, Place, Pose, Taken, TimeCandidate
from annotate.sky.ephemeris import aspect_at
from annotate.sky.phases import EclipseState, eclipse_state

#: Readings less certain than this (minutes) could miss an eclipse of some hours.
CERTAIN_MINUTES = 30.0
#: Radius of the frame on which light and prediction are compared, px.
COMPARE_PX = 90.0
#: Share of the disc that is dark though the Sun should light it well, from which on something lies before it (the
#: Moon's own 0.001 at most in 75 pictures, an eclipse that has well begun 0.09); share that is dark or light the wrong
#: way round, and of patches that agree, by which a deep eclipse is told (0.019 and 0.86 against 0.012 and 0.91).
BITTEN, UNLIKE, UNLIKE_AGREE = 0.03, 0.016, 0.88
_DEPTH: dict[EclipseState, int] = {"none": 0, "penumbral": 1, "partial": 2, "total": 3}


def eclipse_by_date(taken: Taken, time: TimeCandidate | None) -> tuple[EclipseState, TimeCandidate | None]:
    """The deepest eclipse that was on at the time gone by or at any recorded reading, and that reading."""
    readings = [*([] if time is None else [time]), *taken.candidates]
    states = [(eclipse_state(r.utc), r) for r in readings if r.sigma_minutes < CERTAIN_MINUTES]
    return max(states, key=lambda s: _DEPTH[s[0]], default=("none", None))


def lit_as_at(pose: Pose, time: TimeCandidate, place: Place | None) -> Pose:
    """The pose with the Sun of that time: what the shadow's edge looked like is no sunrise."""
    aspect = aspect_at(time.utc, place)
    return replace(pose, sub_solar_lat_deg=aspect.sub_solar_lat_deg, sub_solar_lon_deg=aspect.sub_solar_lon_deg)


def clock_in_shadow(taken: Taken) -> Clock:
    recorded = bool(taken.candidates) or taken.local_text is not None
    return Clock("cannot_tell" if recorded else "no_clock", None, None,
                 "In an eclipse the light in the picture gives no time.")


def is_bitten(luminance: Float32Array, pose: Pose) -> bool:
    """True where the light on the disc is not the Sun's as the pose has it: a part that should be lit is dark, or the
    dark part's edge is no terminator's. By the Earth's shadow, or by a cloud, a roof, a tree.

    luminance: (H, W) linear light; pose: in its pixels. False for small discs and what is cut off by the frame.
    """
    height, width = luminance.shape
    if pose.radius_px < 0.5 * COMPARE_PX:
        return False
    u, v, _ = frame_grid(COMPARE_PX)
    u, v = np.broadcast_arrays(u, v)
    x, y = disc_to_pixel(pose, np.ascontiguousarray(u), np.ascontiguousarray(v))
    shown = np.sqrt(np.maximum(luminance, 0.0)).astype(np.float32)
    seen = np.asarray(cv2.remap(shown, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR), np.float32)
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, COMPARE_PX, pose.distance_radii)
    meant = np.sqrt(light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)).astype(np.float32)
    seen, meant = (np.asarray(cv2.GaussianBlur(a, (0, 0), 1.5), np.float32) for a in (seen, meant))
    disc = model.inside & (u * u + v * v < 0.86)
    use = disc & (x > 1) & (y > 1) & (x < width - 2) & (y < height - 2)
    if use.mean() < 0.2:
        return False
    seen, meant = seen[use], meant[use]
    lit = meant > 0.5 * np.percentile(meant, 95)
    full, sky = float(np.median(meant[lit])), float(np.percentile(shown[::7, ::7], 3))
    dark = seen < sky + 0.3 * (float(np.median(seen[lit])) - sky)
    if np.mean(dark & (meant > 0.6 * full)) > BITTEN:
        return True
    if use.sum() < 0.95 * disc.sum():
        return False
    # whichever tone curve: the level of the prediction that divides the disc most alike
    unlike = min(float(np.mean(dark != (meant < part * full))) for part in np.arange(0.1, 0.65, 0.05))
    night = meant < 0.1 * full
    if night.any() and not np.median(seen[night]) < sky + 0.15 * (float(np.median(seen[lit])) - sky):
        return False  # haze or earthlight lies over the night side
    return pose.score < UNLIKE_AGREE and unlike > UNLIKE
