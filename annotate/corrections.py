"""By hand: the presenter's corrections go through the same solver; what is set by hand is kept, and said.

    pins -> similarity under each sky -> solver -> patches -> held to the pins?   circle -> limb -> find_pose

A pin names a feature and its pixel. Two pins or more (one, with a circle) fix the pose; the surface then refines it as
long as it leaves every pin in its place. Where it does not, the pins stand, and the annotation is not sure.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import cv2
import numpy as np

from moondesk.checks.borrowed_pictures import with_nights
from moondesk.checks.surroundings import has_frame_of_lines
from moondesk.checks.uncertainty import widening_factor, with_evidence, with_sigma
from moondesk.checks.verdict import Trust, judge_placement
from moondesk.ephemeris.sky_hypotheses import SkyHypothesis, any_time, by_clock, by_window
from moondesk.files.formats import open_picture
from moondesk.files.picture import decode
from moondesk.files.picture_file import PictureFile
from moondesk.files.time_taken import read_taken
from moondesk.moon.catalogue import find
from moondesk.moon.geometry import disc_axes, project, surface_to_pixel, unit_vector
from moondesk.moon.relight import disc_model, light
from moondesk.pipeline import FINE_PX, QUICK_PX, QUICK_RADIUS_PX, annotate_picture, annotate_placed, annotate_unplaced
from moondesk.placement.limb import Circle, fit_limb
from moondesk.placement.matching import Matches, Pyramid, flatten_frame, to_frame
from moondesk.placement.refinement import Placement
from moondesk.placement.search import find_pose, place_as_given, refine_starts
from moondesk.placement.solver import Constraints, Prior, solve
from moondesk.records import (
    MOON_RADIUS_KM,
    Annotation,
    Feature,
    Known,
    Limb,
    NotFound,
    Picture,
    Place,
    Pose,
    TimeReadings,
)
from moondesk.sentences import Sentence, sentence

#: One standard deviation of a pin per axis: a hand's click, as a share of the picture's longer side (two screen pixels
#: on a desk 1000 px wide) and of the feature's radius (the middle of a sea is a matter of taste). Common practice.
CLICK_SHARE, MIDDLE_SHARE, LEAST_CLICK_PX = 0.002, 0.12, 1.5
#: The surface contradicts a pin that it moves by more than this many of its standard deviations.
KEPT_SIGMA = 4.0
#: Two pins nearer than this (radii) do not fix size and turn.
LEAST_APART = 0.05
#: A circle by hand, one standard deviation of centre and radius as a share of the radius (common practice).
CIRCLE_SHARE = 0.01
#: The fitted limb is that of a circle by hand, or of the pins, if it is no further away than this share of the radius.
LIMB_NEAR = 0.04
#: Radius of the frames on which skies and hands are compared, px.
LOOK_PX = 70.0


@dataclass(frozen=True)
class Corrections:
    """What the presenter has set; None or empty where nothing. Pixels at full resolution, as displayed.

    limb_circle: (x, y, radius). pins: (feature name, x, y) each. Numbers that are not finite, a radius of 0 or less and
    a time without a zone are wrong calls (ValueError).
    """

    limb_circle: tuple[float, float, float] | None = None
    pins: tuple[tuple[str, float, float], ...] = ()
    mirrored: bool | None = None
    taken_utc: datetime | None = None

    def __post_init__(self) -> None:
        numbers = [*(self.limb_circle or ()), *(v for _, x, y in self.pins for v in (x, y))]
        if not np.isfinite(numbers).all():
            raise ValueError(f"circle and pins must be finite pixels, not {numbers}")
        if self.limb_circle is not None and self.limb_circle[2] <= 0:
            raise ValueError(f"the circle's radius must be above 0 px, not {self.limb_circle[2]}")
        if self.taken_utc is not None and self.taken_utc.tzinfo is None:
            raise ValueError(f"taken_utc must be timezone-aware, not {self.taken_utc.isoformat()}")


@dataclass(frozen=True, eq=False, kw_only=True)
class _Pins:
    """Pins in working pixels: names, surface (N, 3) unit vectors, xy (N, 2), size_km (N,), click_px of the picture."""

    names: tuple[str, ...]
    surface: np.ndarray
    xy: np.ndarray
    size_km: np.ndarray
    click_px: float

    def sigma(self, radius_px: float) -> np.ndarray:
        return np.hypot(self.click_px, MIDDLE_SHARE * self.size_km / 2 / MOON_RADIUS_KM * radius_px)

    def matches(self, radius_px: float) -> Matches:
        # the solver's noise floor is 0.03 of frame_px and a match's weight is its sharpness' root: made the pins' sigma
        sigma = self.sigma(radius_px)
        return Matches(
            surface=self.surface,
            xy=self.xy,
            correlation=np.ones(len(sigma)),
            sharpness=1 / sigma**2,
            tried=len(sigma),
            frame_px=float(np.median(sigma)) / 0.03,
        )

    def off(self, pose: Pose) -> tuple[np.ndarray, np.ndarray]:
        """(N,) distance of each pin from where the pose has its feature: px, and in the pins' standard deviations."""
        lat = np.degrees(np.arcsin(np.clip(self.surface[:, 2], -1, 1)))
        at = surface_to_pixel(pose, lat, np.degrees(np.arctan2(self.surface[:, 1], self.surface[:, 0])))
        off = np.hypot(at.x - self.xy[:, 0], at.y - self.xy[:, 1])
        return off, off / self.sigma(pose.radius_px)


@dataclass(frozen=True)
class _Start:
    """A pose through the pins under one sky: worst pin in standard deviations, likeness (-1..1) to the picture."""

    pose: Pose
    sky: SkyHypothesis
    worst: float
    likeness: float


def correct_picture(
    data: bytes | PictureFile, known: Known, corrections: Corrections, earlier: Annotation | None = None
) -> Annotation | NotFound:
    """Places a picture again with what the presenter has set. earlier: the annotation that is corrected, if any.

    NotFound where the corrections cannot be used (an unknown name, one pin alone, pins that coincide): nothing has been
    placed then, and its sentence says what to set instead. A wrong call raises ValueError (see `Corrections`).
    """
    if corrections.taken_utc is not None:
        known = replace(known, taken_utc=corrections.taken_utc)
    found = _correct(open_picture(data), known, corrections, earlier)
    return found if isinstance(found, NotFound) else with_nights(found, known)


def _correct(
    file: PictureFile, known: Known, corrections: Corrections, earlier: Annotation | None
) -> Annotation | NotFound:
    if not corrections.pins and corrections.limb_circle is None:
        return annotate_picture(file, known, corrections.mirrored)
    named = [find(name) for name, _, _ in corrections.pins]
    wrong = _unusable(corrections, named)
    if wrong is not None:
        return wrong
    picture = decode(file, QUICK_PX)
    if isinstance(picture, NotFound):
        return annotate_picture(file, known)
    if picture.shrink > 1.3 and _radius_px(corrections, named) < QUICK_RADIUS_PX * picture.shrink:
        finer = decode(file, FINE_PX)
        picture = finer if isinstance(finer, Picture) else picture
    taken = read_taken(file, known)
    place = known.place or taken.place
    circle = None if corrections.limb_circle is None else _limb_of(picture, corrections.limb_circle)
    if corrections.pins:
        pins = _pins_of(picture, corrections, named)
        return _by_pins(
            _Pinned(picture=picture, taken=taken, place=place, pins=pins, circle=circle), corrections, earlier
        )
    assert circle is not None
    placed = find_pose(picture.luminance, [circle], taken, place, corrections.mirrored)
    if isinstance(placed, NotFound):
        return annotate_unplaced(picture, taken, [circle], placed)
    placed = with_evidence(placed, picture)
    trust = judge_placement(placed)
    if not trust.accepted:
        return annotate_unplaced(picture, taken, [circle], NotFound("pose", trust.reasons, sentence("check_circle")))
    away = np.hypot(placed.pose.x - circle.x, placed.pose.y - circle.y) + abs(placed.pose.radius_px - circle.radius_px)
    if away > 2 * LIMB_NEAR * circle.radius_px:
        trust = Trust(True, False, (sentence("circle_elsewhere"),))
    return annotate_placed(picture, taken, place, placed, _judge_surroundings(picture, placed, trust), 1)


def _radius_px(corrections: Corrections, named: list[Feature | NotFound]) -> float:
    """About the disc's radius in full-resolution pixels: of the circle, or from the widest pair of pins."""
    if corrections.limb_circle is not None:
        return corrections.limb_circle[2]
    at = [
        (unit_vector(f.lat_deg, f.lon_deg), np.array([x, y]))
        for f, (_, x, y) in zip(named, corrections.pins, strict=True)
        if isinstance(f, Feature)
    ]
    return max(
        float(np.linalg.norm(p - q)) / max(float(np.linalg.norm(a - b)), LEAST_APART) for a, p in at for b, q in at
    )


def _unusable(corrections: Corrections, named: list[Feature | NotFound]) -> NotFound | None:
    for found in named:
        if isinstance(found, NotFound):
            return NotFound("by hand", found.reasons, found.advices)
    names = [f.name for f in named if isinstance(f, Feature)]
    if len(set(names)) < len(names):
        return NotFound("by hand", sentence("named_twice"), sentence("one_name_a_point"))
    for f in named:
        # libration shows at most ten degrees beyond the edge of the near side (Meeus, Astronomical Algorithms, ch. 53)
        if isinstance(f, Feature) and unit_vector(f.lat_deg, f.lon_deg)[0] < np.cos(np.radians(100.0)):
            return NotFound("by hand", sentence("far_side", name=f.name), sentence("name_visible"))
    if len(names) == 1 and corrections.limb_circle is None:
        return NotFound("by hand", sentence("one_point"), sentence("second_point"))
    vectors = np.array([unit_vector(f.lat_deg, f.lon_deg) for f in named if isinstance(f, Feature)])
    apart = max((float(np.linalg.norm(a - b)) for a in vectors for b in vectors), default=1.0)
    pixels = np.array([(x, y) for _, x, y in corrections.pins])
    spread = max((float(np.hypot(*(a - b))) for a in pixels for b in pixels), default=9.0)
    if len(names) > 1 and (apart < LEAST_APART or spread < 2 * LEAST_CLICK_PX):
        return NotFound("by hand", sentence("points_near"), sentence("opposite_points"))
    return None


def _pins_of(picture: Picture, corrections: Corrections, named: list[Feature | NotFound]) -> _Pins:
    found = [f for f in named if isinstance(f, Feature)]
    xy = (np.array([(x, y) for _, x, y in corrections.pins]) + 0.5) / picture.shrink - 0.5
    click = max(LEAST_CLICK_PX, CLICK_SHARE * max(picture.width, picture.height)) / picture.shrink
    surface = np.array([unit_vector(f.lat_deg, f.lon_deg) for f in found])
    return _Pins(
        names=tuple(f.name for f in found),
        surface=surface,
        xy=xy,
        size_km=np.array([f.size_km for f in found]),
        click_px=click,
    )


def _limb_of(picture: Picture, full: tuple[float, float, float]) -> Limb:
    """The limb near a circle by hand (full-resolution pixels), else that circle itself with a hand's uncertainty."""
    x, y, radius = (full[0] + 0.5) / picture.shrink - 0.5, (full[1] + 0.5) / picture.shrink - 0.5, full[2]
    radius /= picture.shrink
    near = _limb_near(picture, x, y, radius)
    if near is not None:
        return near
    variance = (CIRCLE_SHARE * radius) ** 2
    return Limb(
        x=x,
        y=y,
        radius_px=radius,
        sigma_px=CIRCLE_SHARE * radius,
        covariance=tuple(variance * float(v) for v in np.eye(3).ravel()),
        rms_px=CIRCLE_SHARE * radius,
        arc_deg=0.0,
        n_points=0,
        edge_width_px=2.5,
    )


def _limb_near(picture: Picture, x: float, y: float, radius: float) -> Limb | None:
    limb = fit_limb(picture.luminance, Circle(x=x, y=y, radius=radius, support_deg=0.0, step=0.0))
    if isinstance(limb, NotFound):
        return None
    away = np.hypot(limb.x - x, limb.y - y) + abs(limb.radius_px - radius)
    return limb if away < LIMB_NEAR * radius + 2 else None


@dataclass(frozen=True, eq=False, kw_only=True)
class _Pinned:
    """A picture with what is known of it, the points set in it, and the circle where one was."""

    picture: Picture
    taken: TimeReadings
    place: Place | None
    pins: _Pins
    circle: Limb | None


def _by_pins(
    work: _Pinned, corrections: Corrections, earlier: Annotation | None, dated: bool = True
) -> Annotation | NotFound:
    picture, taken, place, pins, circle = work.picture, work.taken, work.place, work.pins, work.circle
    starts = _starts(work, corrections.mirrored, dated)
    if not starts:
        return NotFound("by hand", sentence("no_disc_fits"), sentence("check_points"))
    # two pins fit either hand; more rule one out, and then the texture must not bring it back
    least = min(s.worst for s in starts)
    starts = [s for s in starts if s.worst <= max(KEPT_SIGMA, 1.5 * least)]
    starts.sort(key=lambda s: -s.likeness)
    best = starts[0]
    limb = circle or _limb_near(picture, best.pose.x, best.pose.y, best.pose.radius_px)
    ordered = [(s.pose, s.sky) for s in starts]
    placed = refine_starts(picture.luminance, ordered, limb, taken, corrections.mirrored)
    found: Annotation | None = None
    if isinstance(placed, Placement) and not pins.off(placed.pose)[1].max() > max(KEPT_SIGMA, 1.5 * best.worst):
        placed = with_evidence(placed, picture)
        trust = judge_placement(placed)
        if trust.accepted:
            if best.worst > KEPT_SIGMA:
                trust = Trust(True, False, (_astray(pins, placed.pose),))
            found = annotate_placed(picture, taken, place, placed, _judge_surroundings(picture, placed, trust), 1)
    if best.sky.utc is not None and not (found and found.sure):  # none of its dates' skies: an old picture's?
        free = _by_pins(work, corrections, earlier, dated=False)
        if isinstance(free, Annotation) and free.sure:
            return free
    if found is not None:
        return found
    held = _best_start(starts, corrections, earlier)
    if held.worst > KEPT_SIGMA:
        reason = _astray(pins, held.pose)
    elif isinstance(placed, Placement) and judge_placement(with_evidence(placed, picture)).accepted:
        off = pins.off(placed.pose)[0] * picture.shrink
        reason = sentence("points_contradict", name=pins.names[int(off.argmax())], pixels=f"{off.max():.0f}")
    else:
        reason = sentence("points_alone")
    # with_sigma widens what patches promise; a pin's sigma is meant as it stands
    honest = replace(held.pose, covariance=tuple(c / widening_factor(held.pose) for c in held.pose.covariance))
    given = place_as_given(picture.luminance, with_sigma(honest), held.sky, circle, taken)
    return annotate_placed(picture, taken, place, given, Trust(True, False, (reason,)), 1)


def _best_start(starts: list[_Start], corrections: Corrections, earlier: Annotation | None) -> _Start:
    """The start that is kept where the surface does not help: of the hand set, else the likelier, else as before."""
    if corrections.mirrored is None and earlier is not None and earlier.pose is not None:
        hands = {h: max((s.likeness for s in starts if s.pose.mirrored is h), default=-1.0) for h in (False, True)}
        if abs(hands[True] - hands[False]) < 0.05:
            same = [s for s in starts if s.pose.mirrored is earlier.pose.mirrored]
            return same[0] if same else starts[0]
    return starts[0]


def _astray(pins: _Pins, pose: Pose) -> Sentence:
    return sentence("points_astray", name=pins.names[int(pins.off(pose)[1].argmax())])


def _judge_surroundings(picture: Picture, placed: Placement, trust: Trust) -> Trust:
    if not has_frame_of_lines(picture.luminance, placed.pose.x, placed.pose.y, placed.pose.radius_px):
        return trust
    return Trust(True, False, (sentence("frame_about_placed"),))


def _starts(work: _Pinned, hand: bool | None, dated: bool) -> list[_Start]:
    picture, taken, place, pins, circle = work.picture, work.taken, work.place, work.pins, work.circle
    skies = ((by_clock(taken, place) or by_window(taken, place, 24.0)) if dated else ()) or any_time(24.0)
    display = np.sqrt(np.maximum(picture.luminance, 0.0)).astype(np.float32)
    scale = min(1.0, 600.0 / max(display.shape))
    small = cv2.resize(display, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else display
    found: list[_Start] = []
    for sky in skies:
        for mirrored in (False, True) if hand is None else (hand,):
            start = _similar(picture, pins, circle, sky, mirrored)
            priors = (
                Prior("libration_lat_deg", sky.libration_lat_deg, sky.sigma_deg),
                Prior("libration_lon_deg", sky.libration_lon_deg, sky.sigma_deg),
            )
            if start is None:
                continue
            pose = solve(start, pins.matches(start.radius_px), Constraints(circle, 0.0, priors)).pose
            if 5.0 < pose.radius_px < 20 * max(display.shape):
                like = _likeness(np.asarray(small, np.float32), pose, small.shape[1] / display.shape[1])
                found.append(_Start(pose, sky, float(pins.off(pose)[1].max()), like))
    return found


def _similar(picture: Picture, pins: _Pins, circle: Limb | None, sky: SkyHypothesis, mirrored: bool) -> Pose | None:
    """The pose that takes the pins' disc points to their pixels by least squares, or one pin about a circle."""
    disc = project(pins.surface, disc_axes(sky.libration_lat_deg, sky.libration_lon_deg), sky.distance_radii)
    # with up as the imaginary axis a turn by t is a factor exp(it), the other hand u -> -u (see geometry.screen_axes)
    flat = (-disc.u if mirrored else disc.u) + 1j * disc.v
    seen = pins.xy[:, 0] - 1j * pins.xy[:, 1]
    if len(flat) == 1:
        assert circle is not None
        middle = circle.x - 1j * circle.y
        factor = circle.radius_px * np.exp(1j * (np.angle(seen[0] - middle) - np.angle(flat[0])))
    else:
        a, b = flat - flat.mean(), seen - seen.mean()
        spread = float((np.abs(a) ** 2).sum())
        if spread < 0.5 * LEAST_APART**2:
            return None
        factor = (np.conj(a) * b).sum() / spread
        middle = seen.mean() - factor * flat.mean()
    height, width = picture.luminance.shape
    return Pose(
        x=float(middle.real),
        y=float(-middle.imag),
        radius_px=max(float(abs(factor)), 1.0),
        north_screen_deg=float(np.degrees(np.angle(factor)) % 360),
        mirrored=mirrored,
        libration_lat_deg=sky.libration_lat_deg,
        libration_lon_deg=sky.libration_lon_deg,
        sub_solar_lat_deg=sky.sub_solar_lat_deg,
        sub_solar_lon_deg=sky.sub_solar_lon_deg,
        distance_radii=sky.distance_radii,
        axis_x=(width - 1) / 2,
        axis_y=(height - 1) / 2,
        axis_scale_px=float(np.hypot(width, height) / 2),
    )


def _likeness(small: np.ndarray, pose: Pose, scale: float) -> float:
    """Correlation (-1..1) of a reduced display-valued picture with the disc that a pose and its Sun predict, both
    flattened, where that disc is lit and inside the frame."""
    reduced = replace(
        pose, x=(pose.x + 0.5) * scale - 0.5, y=(pose.y + 0.5) * scale - 0.5, radius_px=pose.radius_px * scale
    )
    model = disc_model(round(pose.libration_lat_deg, 1), round(pose.libration_lon_deg, 1), LOOK_PX, pose.distance_radii)
    predicted = np.sqrt(light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg))
    frame = to_frame(Pyramid(small), reduced, model)
    weight = (model.inside & frame.inside).astype(np.float32)
    use = (weight > 0) & (predicted > 0.05)
    if use.sum() < 100:
        return -1.0
    a, b = flatten_frame(frame.values, weight, 21)[use], flatten_frame(predicted, weight, 21)[use]
    spread = float(a.std() * b.std())
    return float(((a - a.mean()) * (b - b.mean())).mean() / spread) if spread > 1e-9 else -1.0
