"""The records that flow through the pure core, and the one statement of its conventions.

    bytes -> Picture -> Limb -> Pose (+ Aspect) -> Terminator -> FeatureMark ... -> Annotation

Conventions (said here once; every docstring of the package refers to them)

* Pixels are those of the picture as displayed, its EXIF turn applied, at full resolution: x right, y down,
  (0, 0) the centre of the top-left pixel. Arrays are indexed ``[y, x]``, points are written ``(x, y)``.
* Screen angles count from up, counter-clockwise as displayed, in degrees: 0 is up, 90 left, 180 down, 270 right.
* Position angles count from celestial north through east, in degrees.
* Selenographic latitude and longitude are planetocentric, mean-Earth frame, longitude east positive (towards the
  Sea of Crises), -180 < longitude <= 180.
* Times are timezone-aware UTC datetimes. Lengths on the Moon are kilometres, its radius is 1737.4 km (IAU).
* The *radius of the disc* is that of the undistorted disc: the longer semi-axis where refraction flattens it,
  lens distortion removed. Errors are quoted in %R, percent of that radius.
* *Mirrored* means that no turn brings the picture to what the eye sees: east and west are exchanged.

An expected failure is a `NotFound` (falsy, with a reason and advice); a wrong call raises ValueError.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Literal, assert_never

import numpy as np
from numpy.typing import NDArray

from moondesk.sentences import Explained, Sentence, Words, sentences_of

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]
ByteArray = NDArray[np.uint8]

#: IAU mean radius of the Moon, km (Archinal et al. 2018, the sphere the gazetteer's coordinates refer to).
MOON_RADIUS_KM = 1737.4


class Status(StrEnum):
    """How far a picture could be placed. What follows from it stands in its `facts`."""

    #: The Moon's surface was found in it.
    ANNOTATED = "annotated"
    #: A bright disc, too small for its markings.
    DISC_ONLY = "disc_only"
    UNPLACED = "unplaced"
    NOT_MOON = "not_moon"
    #: Placed, and the edge of light in it is the Earth's shadow.
    ECLIPSE = "eclipse"
    #: The file cannot be opened as a picture.
    UNREADABLE = "unreadable"

    @property
    def facts(self) -> StatusFacts:
        match self:
            case Status.ANNOTATED:
                return StatusFacts(opens=True, usable=True, shows_disc=True, is_named=True)
            case Status.DISC_ONLY | Status.ECLIPSE:
                return StatusFacts(opens=True, usable=True, shows_disc=True, is_named=False)
            case Status.UNPLACED:
                return StatusFacts(opens=True, usable=True, shows_disc=False, is_named=False)
            case Status.NOT_MOON:
                return StatusFacts(opens=True, usable=False, shows_disc=False, is_named=False)
            case Status.UNREADABLE:
                return StatusFacts(opens=False, usable=False, shows_disc=False, is_named=False)
        assert_never(self)


@dataclass(frozen=True, kw_only=True)
class StatusFacts:
    """opens: there are pixels to show; usable: it can be a picture of the Moon, and so be picked for air; shows_disc:
    the disc of the Moon is where its limb or pose says; is_named: names may be drawn on it."""

    opens: bool
    usable: bool
    shows_disc: bool
    is_named: bool


class ClockVerdict(StrEnum):
    """The recorded time against what light and libration in the picture say."""

    AGREES = "agrees"
    DISAGREES = "disagrees"
    CANNOT_TELL = "cannot_tell"
    NO_CLOCK = "no_clock"


class EveningVerdict(StrEnum):
    """How well it is known when a picture was taken, see `EveningKnowledge`."""

    SURE = "sure"
    TOLD = "told"
    UNSURE = "unsure"
    UNKNOWN = "unknown"


Kind = Literal[
    "crater",
    "sea",
    "ocean",
    "lake",
    "bay",
    "marsh",
    "plain",
    "mountain",
    "mountain range",
    "valley",
    "rille",
    "ridge",
    "scarp",
    "cape",
    "crater chain",
    "landing site",
    "bright patch",
]


@dataclass(frozen=True, init=False)
class NotFound(Explained):
    """An expected failure: what could not be had, why, and what the sender or presenter can do next."""

    stage: str
    reasons: tuple[Sentence, ...]
    advices: tuple[Sentence, ...]

    def __init__(self, stage: str, reason: Words, advice: Words) -> None:
        for name, value in (("stage", stage), ("reasons", sentences_of(reason)), ("advices", sentences_of(advice))):
            object.__setattr__(self, name, value)

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True)
class Place:
    """Where the observer stood. Geodetic latitude and longitude in degrees (WGS 84, east positive), height in m."""

    latitude_deg: float
    longitude_deg: float
    height_m: float = 0.0

    def __post_init__(self) -> None:
        if not (-90 <= self.latitude_deg <= 90 and -180 <= self.longitude_deg <= 180):
            raise ValueError(f"latitude {self.latitude_deg} or longitude {self.longitude_deg} is outside the Earth")


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of a picture besides its bytes; each value beats what the file itself says."""

    #: When the picture reached the programme: nothing in it can be later.
    received_utc: datetime | None = None
    #: When it was taken, if somebody who knows has said so.
    taken_utc: datetime | None = None
    place: Place | None = None
    #: Zones to try first for a local time without offset (sender's, programme's), IANA names.
    zones: tuple[str, ...] = ()
    #: No picture can be later than this; searched backwards from here where no date at all is known.
    now_utc: datetime | None = None
    #: Name that the file came with; only a day that it may hold is read from it (see `filenames`).
    given_name: str = ""
    #: One standard deviation of `taken_utc`: a stated time is rounded (common practice); of a night that somebody named
    #: without its hour it is some hours.
    taken_sigma_minutes: float = 2.0
    #: When it was taken as its sender's letter says, read by a rule: judged by the Moon's light, never taken for told.
    letter: TimeCandidate | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class Picture:
    """A decoded picture, reduced for measuring.

    luminance: (H, W) float32, linear light (the display's tone curve undone as sRGB), 0..1, read-only.
    shrink: full-resolution pixels per working pixel (1 where nothing was reduced);
    full = (working + 0.5) * shrink - 0.5.
    width, height: of the displayed picture at full resolution.
    """

    luminance: Float32Array
    #: (H, W) float32: (red - blue) / (red + green + blue) of linear light, 0 for grey; None for a grey file.
    redness: Float32Array | None
    shrink: float
    width: int
    height: int
    orientation_applied: int
    media_type: str
    #: Where this is a part cut out of a larger picture (see `screenshot`): the place of its pixel (0, 0) in that, and that
    #: one's width and height, all full-resolution pixels.
    cut_from: tuple[float, float, int, int] | None = None


@dataclass(frozen=True)
class TimeCandidate:
    """One reading of when the picture was taken. sigma_minutes: one standard deviation of that reading."""

    utc: datetime
    sigma_minutes: float
    #: "told", "gps", "fits", "exif+offset", "xmp+offset", "exif+gps zone", "exif+place zone" (of the place told),
    #: "exif+zone" (of those to try first), "exif+any zone"; "letter"; "picture" where light and
    #: libration gave it.
    source: str
    #: UTC offset assumed, hours; None where the source is UTC itself.
    offset_hours: float | None = None


@dataclass(frozen=True, kw_only=True)
class TimeReadings:
    """When the picture can have been taken: ranked readings, and the window that the received date allows.

    candidates is empty where there is no clock. earliest_utc and latest_utc bound the search when the clock is
    missing or wrong; both None where no date at all is known. local_text is the clock's own reading.
    """

    candidates: tuple[TimeCandidate, ...]
    earliest_utc: datetime | None
    latest_utc: datetime | None
    local_text: str | None = None
    #: Sentences about contradictions (a time after receipt, a year of 1970, a zero date ...).
    remarks: tuple[str, ...] = ()
    #: Place read from the file's GPS fields.
    place: Place | None = None
    camera: str | None = None
    #: Source of a reading in the file that says the same, to half an hour, as the time that was told; "" for none.
    confirmed_by: str = ""


@dataclass(frozen=True, kw_only=True)
class Aspect:
    """How the Moon stands for one instant and observer (angles in degrees, see the module's conventions).

    libration_lat_deg, libration_lon_deg are the sub-observer point. place None: geocentric.
    """

    when_utc: datetime
    place: Place | None
    libration_lat_deg: float
    libration_lon_deg: float
    sub_solar_lat_deg: float
    sub_solar_lon_deg: float
    #: Position angle of the Moon's north pole, true equator and equinox of date.
    axis_pa_deg: float
    bright_limb_pa_deg: float
    #: Position angle of the zenith as seen at the Moon, of date; None without a place.
    parallactic_deg: float | None
    #: Sun-Moon-observer angle: 0 full, 180 new.
    phase_angle_deg: float
    illuminated_fraction: float
    #: Angle Sun-observer-Moon.
    elongation_deg: float
    semidiameter_arcsec: float
    #: Observer to Moon's centre.
    distance_km: float
    #: Of the Moon's centre, without refraction; None without a place.
    altitude_deg: float | None
    azimuth_deg: float | None
    colongitude_deg: float


@dataclass(frozen=True, kw_only=True)
class Limb:
    """The edge of the disc as a circle, from the picture's edge alone. Pixels at full resolution."""

    x: float
    y: float
    radius_px: float
    #: One standard deviation of the radius.
    sigma_px: float
    #: 3x3 covariance of (x, y, radius), row by row, px^2.
    covariance: tuple[float, ...]
    rms_px: float
    #: Degrees of the circle on which the limb itself was measured.
    arc_deg: float
    n_points: int
    #: Measured Width of the edge, px: 0.8 of its step over its steepest slope (a Gaussian blur of sigma s gives 2.0 s).
    edge_width_px: float


@dataclass(frozen=True)
class FieldStop:
    """An eyepiece's field as a circle, pixels, its soft edge left out: outside it there is neither Moon nor sky."""

    x: float
    y: float
    radius_px: float


@dataclass(frozen=True, kw_only=True)
class Pose:
    """How the Moon lies in the picture: everything that `geometry` needs to go from the Moon to pixels.

    covariance is the square covariance of `parameters`, row by row, in their units; parameters is a subset of
    x, y, radius_px, north_screen_deg, libration_lat_deg, libration_lon_deg, radial_k1, and of pairs (flattening, tilt,
    tangential, each a vector: see `placement.solver`).
    """

    x: float
    y: float
    radius_px: float
    #: Screen angle of the Moon's north (the projected pole) at the disc's centre.
    north_screen_deg: float
    mirrored: bool
    #: Sub-observer point.
    libration_lat_deg: float
    libration_lon_deg: float
    sub_solar_lat_deg: float
    sub_solar_lon_deg: float
    #: Observer's distance from the Moon's centre in lunar radii (perspective).
    distance_radii: float = 221.3
    #: 1 - (shorter / longer semi-axis), and the screen direction (0..180) of the shorter one.
    flattening: float = 0.0
    flattening_screen_deg: float = 0.0
    #: Radial lens distortion about (axis_x, axis_y): r_seen = r (1 + k1 (r / axis_scale_px)^2).
    radial_k1: float = 0.0
    axis_x: float = 0.0
    axis_y: float = 0.0
    axis_scale_px: float = 1.0
    #: Taken askew: with q the place on the disc in radii from its centre, q_seen = q / (1 - tilt q_along), q_along that
    #: along the screen direction given, in which the scale grows.
    tilt: float = 0.0
    tilt_screen_deg: float = 0.0
    #: A lens off its axis, or looked through off the picture's middle: q_seen = q (1 + 2 p.q) + p |q|^2, p of this size
    #: in the screen direction given (the tangential terms of D. C. Brown, Photogrammetric Engineering 32, 1966).
    tangential: float = 0.0
    tangential_screen_deg: float = 0.0
    parameters: tuple[str, ...] = ()
    covariance: tuple[float, ...] = ()
    #: Median over the disc's lit features of one standard deviation per axis, percent of the radius.
    sigma_pct_radius: float = float("nan")
    #: Share of the measured patches that agree with this pose (0..1), and that of the best rival hypothesis
    #: (other hand or other turn).
    score: float = float("nan")
    rival_score: float = float("nan")
    n_matches: int = 0

    def sigma(self, parameter: str) -> float | None:
        """One standard deviation of a solved parameter, in its unit; None where the pose carries none.

        >>> replace(pose, parameters=("x", "y"), covariance=(0.04, 0.0, 0.0, 0.09)).sigma("y")
        0.3
        """
        n = len(self.parameters)
        if parameter not in self.parameters or len(self.covariance) != n * n:
            return None
        k = self.parameters.index(parameter)
        variance = self.covariance[k * n + k]
        return math.sqrt(variance) if variance >= 0 else None


@dataclass(frozen=True)
class Terminator:
    """The boundary of light. sigma_deg: one standard deviation of phase_angle_deg as the picture shows it."""

    phase_angle_deg: float
    illuminated_fraction: float
    bright_limb_screen_deg: float
    sigma_deg: float


@dataclass(frozen=True)
class Clock:
    """The recorded time against what light and libration in the picture say."""

    verdict: ClockVerdict
    picture_utc: datetime | None
    sigma_hours: float | None
    #: One sentence for the presenter.
    words: str = ""


@dataclass(frozen=True)
class EveningKnowledge:
    """How well it is known when a picture was taken, whatever is known of where the Moon lies in it.

    sure: a source that the picture had no part in (camera's clock, GPS, the days before it came) agrees with its
    light and libration. told: a person or the file says so and nothing contradicts it, but nothing proves it either:
    a date that a person types may have come from the picture's own candidates (`Annotation.evenings`). unsure: there
    is a time, with a doubt. unknown: there is none.
    """

    verdict: EveningVerdict
    #: Why it is not sure, one sentence; empty where it is.
    reason: str = ""
    #: What the sender or presenter can do.
    advice: str = ""


@dataclass(frozen=True)
class Evening:
    """An instant at which the Moon looked as in a picture without a date (see `evenings`).

    misfit: chi square of light and libration there. probability (0..1): among all evenings that fit.
    """

    utc: datetime
    misfit: float
    sigma_hours: float
    probability: float


@dataclass(frozen=True, kw_only=True)
class Feature:
    """A named feature of the Moon as the IAU lists it. size_km: diameter, or length of a long feature."""

    name: str
    kind: Kind
    lat_deg: float
    lon_deg: float
    size_km: float
    #: English meaning of a Latin name of a sea and its like ("Sea of Rains"); None for others.
    meaning: str | None = None
    #: Name of the crater that a lettered satellite belongs to; None for named features.
    parent: str | None = None
    #: How many lettered satellites bear its name: a stand-in for fame.
    satellites: int = 0


@dataclass(frozen=True, kw_only=True)
class FeatureMark:
    """A feature at its pixel in one picture."""

    feature: Feature
    x: float
    y: float
    #: One standard deviation per axis.
    sigma_px: float
    #: Half the size, unforeshortened, at the disc's scale.
    radius_px: float
    #: Height of the Sun at the feature's centre, degrees.
    sun_altitude_deg: float
    #: Cosine of the angle between line of sight and the vertical there: 1 at the disc's centre, 0 at the limb.
    cos_view: float
    #: Share of the feature's whole extent in sunlight.
    lit_fraction: float
    #: Probability (0..1) that it can be made out in this very picture.
    seen: float
    #: What a presenter would point at first in this light (0..1, see `prominence`).
    prominence: float


@dataclass(frozen=True)
class PictureRegion:
    """A rectangle of a picture: the place of its pixel (0, 0) in that, its width and height, full-resolution pixels."""

    x: float
    y: float
    width: int
    height: int


@dataclass(frozen=True, kw_only=True)
class EarthShadowSeen:
    """The Earth's shadow as the picture's own light has it, at the instant at which it fits best.

    sigma_minutes: one standard deviation of that instant. state: "partial" or "total". umbral_magnitude: share of the
    Moon's diameter in the umbra then, above 1 in totality; share: of the disc's area, 0..1. settled: it is certain which
    eclipse it was; else the instant is of one that has this libration.
    """

    utc: datetime
    sigma_minutes: float
    state: str
    umbral_magnitude: float
    share: float
    settled: bool


@dataclass(frozen=True, kw_only=True)
class Annotation(Explained):
    """All that is known of one picture; an annotation with only a limb, or with only a reason, is still a good one."""

    status: Status
    #: The verdict on where the Moon lies, and on nothing else: true only where every name would be right on air. When
    #: it was taken is `dated`: a picture without a date, or an old one, can be sure.
    sure: bool
    #: Why something is missing or uncertain in that, for the presenter; empty otherwise.
    reasons: tuple[Sentence, ...] = ()
    #: What the sender or presenter can do.
    advices: tuple[Sentence, ...] = ()
    width: int
    height: int
    taken: TimeReadings
    #: The reading of `taken` that was used, or the picture's own time; None where unknown.
    time: TimeCandidate | None
    clock: Clock
    limb: Limb | None = None
    pose: Pose | None = None
    terminator: Terminator | None = None
    aspect: Aspect | None = None
    features: tuple[FeatureMark, ...] = ()
    flags: tuple[str, ...] = field(default=())
    #: Where the picture shows the edge of an eyepiece's field.
    field_stop: FieldStop | None = None
    #: Where the photograph is no more than a part of the picture: a screenshot, a border.
    photograph: PictureRegion | None = None
    #: Where no date is known, or none that fits: when the Moon looked like this, the best first.
    evenings: tuple[Evening, ...] = ()
    #: The verdict on when it was taken. What depends on the time is said only where `evening.time_to_state` gives one.
    dated: EveningKnowledge = EveningKnowledge(EveningVerdict.UNKNOWN)
    #: Where the picture shows the Earth's umbra, how it lies.
    shadow: EarthShadowSeen | None = None
