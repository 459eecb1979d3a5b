"""An eclipse of the Moon in a picture: the date allows one, the pixels must show it.

    readings, days before it came -> an eclipse with this libration? -> light that no Sun makes, or red?
    -> the shadow that fits best (`shadow_fit`) -> what is said, and when it was

The shadow's edge passes for a terminator, so that light then says nothing of the time: a partial eclipse looks like
another phase, of another day. An ordinary Moon is told from an eclipsed one by how well the disc that its own Sun
lights is like it: correlations of 0.96 or more of nearly full Moons, rendered and photographed, 0.87 or less in shadow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import cv2
import numpy as np

from moondesk.checks.evening import ANY_ZONE
from moondesk.checks.shadow_fit import ShadowFit, disc_light, fit_shadow, is_rounder_than_straight
from moondesk.checks.surroundings import ECLIPSE_REDNESS, redness_of
from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.earth_shadow import (
    UMBRAL,
    EclipseState,
    LunarEclipse,
    cone_at,
    eclipse_of,
    eclipse_state,
    shadow_at,
    umbral_eclipses,
    umbral_share,
)
from moondesk.ephemeris.phases import principal_phases
from moondesk.moon.geometry import disc_to_pixel, phase_angle_deg
from moondesk.moon.relight import disc_model, frame_grid, light
from moondesk.records import (
    Clock,
    ClockVerdict,
    EarthShadowSeen,
    Float32Array,
    Picture,
    Place,
    Pose,
    TimeCandidate,
    TimeReadings,
)
from moondesk.sentences import Sentence, sentence

#: Readings less certain than this (minutes) could miss an eclipse of some hours.
CERTAIN_MINUTES = 30.0
#: The state of an eclipse is named where it stays the same for so many sigmas of the clock, and minutes, either way.
STEADY_SIGMAS, STEADY_MINUTES = 2.0, 3.0
#: Correlation of a picture with the disc lit by its own Sun from which on nothing but the Sun lights it.
SUNLIT = 0.9
#: A disc with more phase than this shows a terminator of its own: where it is sunlit no colour makes it an eclipse.
TERMINATOR_DEG = 3.0
#: A fitted Sun farther from full than this is no measure at an eclipse's date: a shadow's edge may have led it there.
NEARLY_FULL_DEG = 25.0
#: Libration at an eclipse's time and in the picture differ by no more than this: the parallax of an unknown place, one
#: degree (57' at the horizon, Meeus, Astronomical Algorithms, ch. 40), and what an eclipsed disc is placed to.
LIBRATION_DEG = 1.6
#: Largest libration in latitude of an umbral eclipse: the Sun's latitude on the Moon (1.6 degrees), the Moon's distance
#: from the shadow's axis (1.0) and the parallax (1.0).
UMBRAL_LATITUDE_DEG = 3.6
#: Steps in which the days before a picture came are looked through about a full Moon, and how far.
FULL_NEAR = timedelta(days=8)
STEP, REACH = timedelta(minutes=20), timedelta(hours=3)
#: Radius of the frame on which light and prediction are compared, px.
COMPARE_PX = 90.0
#: Share of the disc that is dark though the Sun should light it well, from which on something lies before it (the
#: Moon's own 0.001 at most in 75 pictures, an eclipse that has well begun 0.09); share that is dark or light the wrong
#: way round, and of patches that agree, by which a deep eclipse is told (0.019 and 0.86 against 0.012 and 0.91).
BITTEN, UNLIKE, UNLIKE_AGREE = 0.03, 0.016, 0.88
#: Fewer lit pixels are not compared.
LEAST_LIT = 500
_DEPTH: dict[EclipseState, int] = {"none": 0, "penumbral": 1, "partial": 2, "total": 3}

#: The umbra is seen where its light agrees so well with the picture, so much better than the full Moon's alone, and its
#: ground lies so far down the ranks: of 60 rendered eclipses that are not burnt out all, of 60 ordinary Moons under rays,
#: clouds and vignettes none by half of it. Behind a straight edge the agreement is as good: the edge must be a curved one.
AGREE, GAIN, DARKER = 0.8, 0.15, 0.2
#: Of one whose date is not known, which may be any of 88.
AGREE_UNDATED = 0.9
#: In totality the light varies little: so much is asked of the gain, with a certain clock and without one, beside the
#: colour, and so little phase of the Sun that seems to light it (3.4 degrees of falling light look like 8 at most).
GAIN_WITHIN, GAIN_UNDATED, LITTLE_PHASE_DEG = 0.008, 0.015, 10.0
#: The shadow's instant and a clock's are one within these minutes.
SAME_MINUTES = 25.0
#: One sigma of the shadow's instant: half the stretch over which it fits, and never below this, minutes.
LEAST_SIGMA_MINUTES = 3.0
#: How much better the right eclipse agrees than another that has the picture's libration too.
BETTER = 0.01


@dataclass(frozen=True, kw_only=True)
class Eclipse:
    """What is said of the Earth's shadow. told: the picture shows an eclipse; words: of which, or a doubt; reading: where the date is certain, the one by which an eclipse of any kind was on; doubt:
    the light may be the shadow's, so that it gives no time; unseen: the date says that the umbra was on the Moon, the
    picture that it was not."""

    told: bool = False
    words: Sentence | None = None
    reading: TimeCandidate | None = None
    doubt: bool = False
    unseen: bool = False
    #: The umbra as the picture shows it, and whether it is settled of which eclipse.
    shadow: EarthShadowSeen | None = None


def eclipse_in(picture: Picture, pose: Pose, taken: TimeReadings, place: Place | None) -> Eclipse:
    """What date and pixels together say. pose: in pixels of the picture, with the Sun that its light shows."""
    reading = eclipse_by_date(taken)
    state: EclipseState = "none" if reading is None else eclipse_state(reading.utc)
    if reading is not None and not _same_libration(pose, reading.utc, place):
        reading, state = None, "none"
    red = redness_of(picture.luminance, picture.redness, pose.x, pose.y, pose.radius_px) > ECLIPSE_REDNESS
    allowed = _possible_states(taken, pose, place)
    certain = any(c.source != ANY_ZONE and c.sigma_minutes < CERTAIN_MINUTES for c in taken.candidates)
    bitten = (bool(allowed) or not certain) and is_bitten(picture.luminance, pose)
    if not (red or allowed or bitten):
        return Eclipse()
    phase = phase_angle_deg(
        pose.libration_lat_deg, pose.libration_lon_deg, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
    )
    shaded = bitten or not is_sunlit(picture.luminance, pose)
    umbra = _umbra_in(picture.luminance, pose, taken, place, reading) if shaded or red or reading is not None else None
    if reading is not None and state in UMBRAL:
        if phase > NEARLY_FULL_DEG:
            shaded = not is_sunlit(picture.luminance, sun_at(pose, reading, place))
        near = phase < TERMINATOR_DEG or (umbra is not None and umbra.within and phase < LITTLE_PHASE_DEG)
        if shaded or (red and near) or (umbra is not None and umbra.seen):
            return _told(_state_words(taken, reading, state), umbra, reading)
        return Eclipse(unseen=True)
    if reading is not None and not (umbra is not None and umbra.seen):
        return Eclipse(reading=reading, doubt=True)
    if umbra is not None and (umbra.seen or (red and umbra.settled and umbra.within and phase < LITTLE_PHASE_DEG)):
        return _told(sentence("eclipse_that_night"), umbra, None)
    umbral = any(s in UMBRAL for s, _ in allowed)
    if umbral and shaded and any(c.source == ANY_ZONE for c in taken.candidates):
        return _told(sentence("eclipse_that_night"), umbra if red else None, None)
    possible = umbral or abs(pose.libration_lat_deg) < UMBRAL_LATITUDE_DEG
    if red and possible and shaded:
        return _told(sentence("red_as_shadow"), umbra if umbral else None, None)
    if red and umbral and phase < TERMINATOR_DEG:
        return Eclipse(words=sentence("red_in_light"), doubt=True)
    return Eclipse(doubt=shaded and bool(allowed))


@dataclass(frozen=True, kw_only=True)
class _Umbra:
    """The shadow that fits a picture best. seen: the pixels show it whatever the date; settled: no other eclipse that has
    the picture's libration fits nearly as well; within: the light falls off as deep in the umbra, be it only by little, as
    a red disc's does in totality."""

    fit: ShadowFit
    seen: bool
    settled: bool
    within: bool


def _umbra_in(
    luminance: Float32Array, pose: Pose, taken: TimeReadings, place: Place | None, reading: TimeCandidate | None
) -> _Umbra | None:
    """Of the eclipse of a certain reading; else of those that readings and arrival allow; else of any that has this
    libration. None where too little of the disc shows, or there is none."""
    dated = _eclipses(taken, pose, place) if reading is None else tuple(filter(None, (_eclipse_at(reading.utc),)))
    some = dated or tuple(e for e in umbral_eclipses() if _same_libration(pose, e.greatest, place))
    disc = disc_light(luminance, pose, some[0].greatest) if some else None
    if disc is None:
        return None
    fits = sorted((fit_shadow(disc, e) for e in some), key=lambda f: -f.agreement)
    best = fits[0]
    seen = (
        best.state in UMBRAL and best.dark is not None and best.dark >= DARKER
        and best.agreement >= (AGREE if dated else AGREE_UNDATED) and best.agreement - best.plain >= GAIN
        and (reading is not None or is_rounder_than_straight(disc, best))
    )  # fmt: skip
    settled = bool(dated) and (len(fits) == 1 or best.agreement - fits[1].agreement > BETTER)
    deep = best
    if reading is not None:
        deep = fit_shadow(disc, some[0], reading.utc, SAME_MINUTES + reading.sigma_minutes)
    within = deep.state in UMBRAL and deep.agreement - deep.plain >= (
        GAIN_WITHIN if reading is not None else GAIN_UNDATED
    )
    return _Umbra(fit=best, seen=seen, settled=settled, within=within)


def _told(words: Sentence, umbra: _Umbra | None, reading: TimeCandidate | None) -> Eclipse:
    """An eclipse that is told. The shadow's own instant and state go before a reading that lies elsewhere in it."""
    if umbra is None:
        return Eclipse(told=True, words=words, reading=reading, doubt=True)
    fit = umbra.fit
    sigma = max(fit.sigma_minutes / 2.0, LEAST_SIGMA_MINUTES)
    off = abs(fit.utc - reading.utc) if reading is not None else timedelta(0)
    apart = timedelta(minutes=max(SAME_MINUTES, 3.0 * sigma))
    if fit.state in UMBRAL and (umbra.seen or umbra.settled) and (reading is None or off > apart):
        spare = timedelta(minutes=STEADY_SIGMAS * sigma)
        steady = all(shadow_at(fit.utc + side * spare).state == fit.state for side in (-1, 1))
        if steady:
            words = sentence("eclipse_on", state=fit.state)
        if umbra.settled:
            reading = TimeCandidate(fit.utc, sigma, "picture")
    if fit.state not in UMBRAL:
        return Eclipse(told=True, words=words, reading=reading, doubt=True)
    at = reading.utc if reading is not None and off <= apart else fit.utc
    shadow = shadow_at(at)
    seen = EarthShadowSeen(
        utc=at, sigma_minutes=sigma, state=shadow.state, umbral_magnitude=shadow.umbral_magnitude,
        share=umbral_share(cone_at(at)), settled=umbra.settled,
    )  # fmt: skip
    return Eclipse(told=True, words=words, reading=reading, doubt=True, shadow=seen)


def _eclipse_at(when: datetime) -> LunarEclipse | None:
    """The eclipse of the full Moon nearest to an instant, if the instant lies in it."""
    full = [p.utc for p in principal_phases(when - FULL_NEAR, when + FULL_NEAR) if p.kind == "full"]
    found = eclipse_of(full[0]) if full else None
    return found if found is not None and found.p1 - REACH <= when <= found.p4 + REACH else None


def _eclipses(taken: TimeReadings, pose: Pose, place: Place | None) -> tuple[LunarEclipse, ...]:
    """Umbral eclipses at any reading, or in the days before it came, that have the picture's libration."""
    found = [_eclipse_at(c.utc) for c in taken.candidates]
    if taken.earliest_utc is not None and taken.latest_utc is not None:
        full = principal_phases(taken.earliest_utc - REACH, taken.latest_utc + REACH)
        found += [eclipse_of(p.utc) for p in full if p.kind == "full"]
    return tuple(
        {e.greatest: e for e in found if e is not None and e.state in UMBRAL
         and _same_libration(pose, e.greatest, place)}.values()
    )  # fmt: skip


def eclipse_by_date(taken: TimeReadings) -> TimeCandidate | None:
    """The certain reading at which an eclipse was on, of several the one with the deepest; None where none was. A clock
    whose zone is not known is not certain: some zone of two dozen nearly always finds an eclipse of its night."""
    certain = [c for c in taken.candidates if c.source != ANY_ZONE and c.sigma_minutes < CERTAIN_MINUTES]
    deepest = max(certain, key=lambda c: _DEPTH[eclipse_state(c.utc)], default=None)
    return None if deepest is None or eclipse_state(deepest.utc) == "none" else deepest


def _state_words(taken: TimeReadings, reading: TimeCandidate, state: EclipseState) -> Sentence:
    """The state only where it is the only reading's, and certain; else that there was an eclipse."""
    spare = timedelta(minutes=STEADY_SIGMAS * reading.sigma_minutes + STEADY_MINUTES)
    steady = all(eclipse_state(reading.utc + side * spare) == state for side in (-1, 1))
    sure = steady and len(taken.candidates) == 1
    return sentence("eclipse_on", state=state) if sure else sentence("eclipse_that_night")


def _possible_states(taken: TimeReadings, pose: Pose, place: Place | None) -> tuple[tuple[EclipseState, datetime], ...]:
    """States of eclipses at any reading, or in the days before it came, that have the picture's libration."""
    times = [c.utc for c in taken.candidates]
    if taken.earliest_utc is not None and taken.latest_utc is not None:
        for phase in principal_phases(taken.earliest_utc - REACH, taken.latest_utc + REACH):
            if phase.kind == "full" and eclipse_state(phase.utc) != "none":
                times += [phase.utc + k * STEP for k in range(-(REACH // STEP), REACH // STEP + 1)]
    states = [(eclipse_state(when), when) for when in times]
    return tuple((s, when) for s, when in states if s != "none" and _same_libration(pose, when, place))


def _same_libration(pose: Pose, when: datetime, place: Place | None) -> bool:
    aspect = aspect_at(when, place)
    off = np.hypot(aspect.libration_lat_deg - pose.libration_lat_deg, aspect.libration_lon_deg - pose.libration_lon_deg)
    return bool(off < LIBRATION_DEG)


def sun_at(pose: Pose, time: TimeCandidate, place: Place | None) -> Pose:
    """The pose with the Sun of that time: what the shadow's edge looked like is no sunrise."""
    aspect = aspect_at(time.utc, place)
    return replace(pose, sub_solar_lat_deg=aspect.sub_solar_lat_deg, sub_solar_lon_deg=aspect.sub_solar_lon_deg)


def clock_in_shadow(taken: TimeReadings, words: str = "In an eclipse the light in the picture gives no time.") -> Clock:
    recorded = bool(taken.candidates) or taken.local_text is not None
    return Clock(ClockVerdict.CANNOT_TELL if recorded else ClockVerdict.NO_CLOCK, None, None, words)


def is_sunlit(luminance: Float32Array, pose: Pose) -> bool:
    """True where the disc that the pose's Sun lights is like the picture, or too little shows to tell.

    luminance: (H, W) linear light; pose: in its pixels. The night side does not count, and burnt pixels as they are.
    """
    looked = _disc_pair(luminance, pose)
    if looked is None:
        return True
    seen, meant, use = looked
    lit = use & (meant > 0.3 * np.percentile(meant[use], 90))
    if lit.sum() < LEAST_LIT:
        return True
    a, b = seen[lit] - seen[lit].mean(), meant[lit] - meant[lit].mean()
    return bool((a * b).sum() >= SUNLIT * np.sqrt((a * a).sum() * (b * b).sum()))


def _disc_pair(luminance: Float32Array, pose: Pose) -> tuple[Float32Array, Float32Array, np.ndarray] | None:
    """The disc seen and meant, display values, blurred by 1.5 px, on one frame, and where it lies in the picture; None
    where too little does."""
    height, width = luminance.shape
    if pose.radius_px < 0.5 * COMPARE_PX:
        return None
    u, v, _ = frame_grid(COMPARE_PX)
    u, v = np.broadcast_arrays(u, v)
    x, y = disc_to_pixel(pose, np.ascontiguousarray(u), np.ascontiguousarray(v))
    shown = np.sqrt(np.maximum(luminance, 0.0)).astype(np.float32)
    seen = np.asarray(cv2.remap(shown, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR), np.float32)
    model = disc_model(pose.libration_lat_deg, pose.libration_lon_deg, COMPARE_PX, pose.distance_radii)
    meant = np.sqrt(light(model, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)).astype(np.float32)
    seen, meant = (np.asarray(cv2.GaussianBlur(a, (0, 0), 1.5), np.float32) for a in (seen, meant))
    use = model.inside & (u * u + v * v < 0.86) & (x > 1) & (y > 1) & (x < width - 2) & (y < height - 2)
    return (seen, meant, use) if use.mean() >= 0.2 else None


def is_bitten(luminance: Float32Array, pose: Pose) -> bool:
    """True where the light on the disc is not the Sun's as the pose has it: a part that should be lit is dark, or the
    dark part's edge is no terminator's. By the Earth's shadow, or by a cloud, a roof, a tree.

    luminance: (H, W) linear light; pose: in its pixels. False for small discs and what is cut off by the frame.
    """
    looked = _disc_pair(luminance, pose)
    if looked is None:
        return False
    seen, meant, use = looked
    u, v, _ = frame_grid(COMPARE_PX)
    whole = float(np.mean(use[u * u + v * v < 0.86]))
    seen, meant = seen[use], meant[use]
    lit = meant > 0.5 * np.percentile(meant, 95)
    full, sky = float(np.median(meant[lit])), float(np.percentile(np.sqrt(np.maximum(luminance[::7, ::7], 0.0)), 3))
    dark = seen < sky + 0.3 * (float(np.median(seen[lit])) - sky)
    if np.mean(dark & (meant > 0.6 * full)) > BITTEN:
        return True
    if whole < 0.95:
        return False
    # whichever tone curve: the level of the prediction that divides the disc most alike
    unlike = min(float(np.mean(dark != (meant < part * full))) for part in np.arange(0.1, 0.65, 0.05))
    night = meant < 0.1 * full
    if night.any() and not np.median(seen[night]) < sky + 0.15 * (float(np.median(seen[lit])) - sky):
        return False  # haze or earthlight lies over the night side
    return pose.score < UNLIKE_AGREE and unlike > UNLIKE
