"""What a rendered photograph is made of: frozen records with defaults that give a plain, good picture."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from moondesk.records import Aspect, Place, Pose
from tests.scenes.bending import Bend

Colour = tuple[float, float, float]
GREY: Colour = (1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Optics:
    """blur_px: Gaussian sigma of the whole chain. dispersion_px: red and blue that far apart, green between them, red
    towards dispersion_screen_deg (below, as the air's spectrum has it).

    flattening and its screen direction, radial_k1 (about the frame's middle, scale half the frame's diagonal): as Pose.
    motion_px, motion_screen_deg: a straight shake of that length.
    """

    blur_px: float = 1.0
    radial_k1: float = 0.0
    flattening: float = 0.0
    flattening_screen_deg: float = 0.0
    dispersion_px: float = 0.0
    dispersion_screen_deg: float = 180.0
    motion_px: float = 0.0
    motion_screen_deg: float = 0.0


@dataclass(frozen=True)
class FieldStop:
    """The edge of an eyepiece's field: a circle in pixels, its softness, the light inside it (linear)."""

    x: float
    y: float
    radius_px: float
    edge_px: float = 2.0
    level: float = 0.012


@dataclass(frozen=True)
class Sky:
    """Light that is not the Moon's, linear, where the sunlit Moon's bright parts are near 1.

    gradient: rise of the background across the frame, as a share of it, towards gradient_screen_deg. haze: share of
    the Moon's light scattered into a glow of haze_radius (in radii). earthshine: of the mean albedo in full earthlight.
    skyline: height of a dark foreground as a share of the frame, 0 for none. ghost: strength of a lens reflection.
    """

    background: float = 0.0015
    tint: Colour = GREY
    gradient: float = 0.0
    gradient_screen_deg: float = 0.0
    haze: float = 0.0
    haze_radius: float = 0.6
    field_stop: FieldStop | None = None
    earthshine: float = 0.0
    skyline: float = 0.0
    ghost: float = 0.0
    stars: int = 0


@dataclass(frozen=True)
class Disturbance:
    """What changes the Moon's light on its way to the picture, but not where its features lie.

    twice_px: (right, down) from one exposure to a second, the truth lying midway; first_share: of the light in the
    first. rays: number of spikes through the light's middle, ray_share: their brightness there, ray_screen_deg: the
    direction of the first. vignette: light lost in the farthest corner, about (vignette_x, vignette_y), shares of the
    frame. clouds: greatest optical depth of bands along clouds_screen_deg. invented: strength of a made-up fine texture
    on the disc. pasted: share of the fine detail that is taken from the Moon under a Sun pasted_sun_deg farther east.
    """

    twice_px: tuple[float, float] = (0.0, 0.0)
    first_share: float = 0.5
    rays: int = 0
    ray_share: float = 0.0
    ray_screen_deg: float = 0.0
    vignette: float = 0.0
    vignette_x: float = 0.5
    vignette_y: float = 0.5
    clouds: float = 0.0
    clouds_screen_deg: float = 0.0
    invented: float = 0.0
    pasted: float = 0.0
    pasted_sun_deg: float = 0.0


@dataclass(frozen=True)
class Film:
    """From light to 8 bits. gain: 1 puts the brightest half percent of the Moon just under white.

    bloom: share of the light above white that spills over. contrast: -1..1, an S curve after the sRGB one. sharpen:
    amount of an unsharp mask of sharpen_px. shot, read: noise, one standard deviation at white and at black (linear).
    grain_px: size of a noise grain (phones smooth their noise). cast: colour of the Moon. local: amount of a wide
    unsharp mask of local_px on the shown tones: it lifts the disc's edge (phones' high dynamic range).
    """

    gain: float = 1.0
    bloom: float = 0.0
    contrast: float = 0.1
    sharpen: float = 0.3
    sharpen_px: float = 1.5
    shot: float = 0.012
    read: float = 0.0008
    grain_px: float = 0.6
    cast: Colour = GREY
    local: float = 0.0
    local_px: float = 60.0


@dataclass(frozen=True)
class FileTags:
    """How the picture is written. media: jpeg, png or webp. orientation: 1, 3, 6, 8; the pixels are stored turned so
    that they display upright. zone_hours: the camera's offset from UTC. The clock is clock_error_h ahead.
    """

    media: str = "jpeg"
    quality: int = 90
    orientation: int = 1
    time: bool = True
    offset: bool = True
    place: bool = True
    zone_hours: float = 0.0
    clock_error_h: float = 0.0
    make: str | None = "Corvane"
    model: str | None = "C7"
    software: str | None = None


@dataclass(frozen=True)
class SceneSpec:
    """One photograph. x, y, radius_px, north_screen_deg, mirrored as in `Pose`, in the displayed frame.

    law: "lunar-lambert" (the share lambert of Lambert's law, the rest Lommel-Seeliger) or "hapke". beacons: (lat, lon)
    of bright dots for tests. limb_relief: mountains on the limb. fine: craters below the maps' resolution.
    aspect: overrides the ephemeris (time and place then only go into the file). bend: distorts the whole view after all
    that `Pose` knows of. eclipsed: the Earth's shadow of that time lies on the Moon.
    """

    when_utc: datetime
    place: Place
    x: float
    y: float
    radius_px: float
    north_screen_deg: float = 0.0
    mirrored: bool = False
    width: int = 1600
    height: int = 1200
    family: str = "clean"
    seed: int = 0
    law: str = "hapke"
    lambert: float = 0.25
    optics: Optics = Optics()
    sky: Sky = Sky()
    film: Film = Film()
    tags: FileTags = FileTags()
    beacons: tuple[tuple[float, float], ...] = ()
    limb_relief: bool = True
    fine: bool = True
    aspect: Aspect | None = None
    bend: Bend | None = None
    disturbance: Disturbance = Disturbance()
    eclipsed: bool = False
    received_utc: datetime | None = None


@dataclass(frozen=True, eq=False)
class Scene:
    """data: the file's bytes. pose, aspect: the truth. truth: a row of truth.json with each feature's pixel."""

    spec: SceneSpec
    data: bytes
    pose: Pose
    aspect: Aspect
    truth: dict[str, Any] = field(repr=False)
