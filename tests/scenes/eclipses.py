"""The Moon in the Earth's shadow, as a photograph: the umbra's edge lies across the disc and is no terminator."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from annotate.moon.geometry import bright_limb_screen_deg
from annotate.sky.ephemeris import aspect_at
from annotate.sky.phases import shadow_at
from tests.scenes.develop import develop, encode
from tests.scenes.optics import moonlight, with_sky
from tests.scenes.rendering import north_on_screen, true_pose
from tests.scenes.spec import SceneSpec

#: Light deep in the umbra as a share of the full Moon's, red, green, blue: a middling eclipse (from memory: Danjon's
#: L = 2 to 3; the Moon 10 to 14 magnitudes fainter in the middle, coppery).
UMBRA = (2.5e-4, 0.6e-4, 0.2e-4)


def render_eclipse(spec: SceneSpec, exposure: float = 1.0, roll_deg: float = 0.0) -> bytes:
    """A photograph at spec.when_utc; exposure: of the full Moon (1) or longer, as totality wants (1,000 to 3,000).

    ValueError where no part of the disc lies in the umbra or penumbra.
    """
    aspect = aspect_at(spec.when_utc, spec.place)
    spec = replace(spec, north_screen_deg=north_on_screen(aspect, roll_deg, spec.mirrored))
    pose, shadow = true_pose(spec, aspect), shadow_at(spec.when_utc)
    if shadow.separation_deg - shadow.semidiameter_deg > shadow.penumbra_deg:
        raise ValueError(f"no eclipse at {spec.when_utc}")
    # the Sun lies beyond the bright limb, the shadow's middle on the other side; seen from the Earth's centre, which
    # moves the shadow over the disc by less than the renderer's umbra is soft
    away = np.radians(bright_limb_screen_deg(pose) + 180.0)
    scale = spec.radius_px / shadow.semidiameter_deg
    x = spec.x - np.sin(away) * shadow.separation_deg * scale
    y = spec.y - np.cos(away) * shadow.separation_deg * scale
    jj, ii = np.meshgrid(np.arange(spec.width, dtype=np.float32), np.arange(spec.height, dtype=np.float32))
    gap = np.hypot(jj - x, ii - y) / scale
    depth = np.clip((shadow.penumbra_deg - gap) / (shadow.penumbra_deg - shadow.umbra_deg), 0.0, 1.0)
    # light fades through the penumbra as the Sun's disc is covered, about linearly in its area
    sun = np.where(gap < shadow.umbra_deg, 0.0, (1.0 - depth) ** 1.3)
    lift = 1.0 + 6.0 * np.clip(gap / shadow.umbra_deg, 0.0, 1.0) ** 6
    moon = moonlight(spec, pose)
    lit = moon[..., None] * (sun[..., None] + lift[..., None] * np.array(UMBRA, np.float32)) * exposure
    sky = with_sky(np.zeros_like(moon), spec, pose)
    return encode(develop((lit + sky).astype(np.float32), spec.film, spec.seed), spec)
