"""One picture, start to end: the order of the steps, and nothing else.

bytes -> Picture -> Limbs -> Placed (pose, Sun) -> Clock, Terminator -> FeatureMarks
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from itertools import islice

import numpy as np

from moondesk.checks.borrowed_pictures import with_nights
from moondesk.checks.drawings import is_drawing
from moondesk.checks.evening import judge_evening, time_without_light
from moondesk.checks.hidden_features import without_hidden
from moondesk.checks.surroundings import has_frame_of_lines, has_pixel_grid, repeats
from moondesk.checks.time_of_picture import one_sun, time_of_picture
from moondesk.checks.tiny_discs import brightest_spot
from moondesk.checks.uncertainty import with_evidence, with_uncertainty
from moondesk.checks.unplaced_hints import disc_about, reconsider
from moondesk.checks.verdict import (
    DRAWN,
    FRAMED,
    GRIDDED,
    LEAST_RADIUS_PX,
    SMALL_RADIUS_PX,
    TINY_SPOT_PX,
    Trust,
    is_well_agreed,
    judge_placement,
    judge_surroundings,
    without_placement,
)
from moondesk.ephemeris.aspect import aspect_at
from moondesk.files.formats import open_picture
from moondesk.files.picture import decode
from moondesk.files.picture_file import PictureFile
from moondesk.files.screenshot import cut_out, decode_part, photograph_in, put_back, without_own_clock
from moondesk.files.time_taken import read_taken
from moondesk.moon.geometry import bright_limb_screen_deg, phase_angle_deg
from moondesk.placement.discs import look_at
from moondesk.placement.even_light import even_light
from moondesk.placement.limb import find_circles
from moondesk.placement.refinement import Placement
from moondesk.placement.search import Limbs, find_pose
from moondesk.records import (
    Annotation,
    FieldStop,
    Known,
    Limb,
    NotFound,
    Picture,
    Place,
    Pose,
    Status,
    Terminator,
    TimeReadings,
)
from moondesk.sentences import sentence
from moondesk.visibility.marks import mark_features

#: Longest side at which a picture is looked at first, and at which small discs are; a disc of this radius (working px)
#: is placed from the first look as well as it could be: patches are matched on frames of 140 px radius.
QUICK_PX, FINE_PX, QUICK_RADIUS_PX = 1110, 2048, 130.0
#: A limb is long enough from here on that only a shadow can have hidden how its disc lies.
LONG_LIMB_DEG = 90.0


def annotate_picture(data: bytes | PictureFile, known: Known | None = None, mirrored: bool | None = None) -> Annotation:
    """Places one picture. data: the file's bytes, or the file opened; known: what the mail or form says beside it; mirrored: the hand where
    somebody has settled it, None to find it.

    Never raises for a bad picture: the annotation then carries a status, a reason and advice.
    """
    known = known or Known()
    file = open_picture(data)
    taken = read_taken(file, known)
    picture = decode(file, QUICK_PX)
    if isinstance(picture, NotFound):
        clock, time = time_without_light(taken)
        return Annotation(
            status=Status.UNREADABLE,
            sure=False,
            reasons=picture.reasons,
            advices=picture.advices,
            width=0,
            height=0,
            taken=taken,
            time=time,
            clock=clock,
            dated=judge_evening(taken, clock, time, False),
        )
    box = photograph_in(picture)
    if box is None:
        return _of_photograph(partial(decode, file), picture, known, taken, mirrored)
    part = decode_part(file, box, QUICK_PX, picture)
    cut = part if isinstance(part, Picture) else cut_out(picture, box)
    found = _of_photograph(
        partial(decode_part, file, box), cut, known, without_own_clock(taken) if box.drawn else taken, mirrored
    )
    return replace(found, flags=(*found.flags, "screenshot" if box.drawn else "border"))


def _of_photograph(
    look: Callable[[int], Picture | NotFound],
    picture: Picture,
    known: Known,
    taken: TimeReadings,
    mirrored: bool | None,
) -> Annotation:
    """look: decodes it anew, its longer side as given; picture: the first look."""
    place = known.place or taken.place
    circles = find_circles(picture.luminance)
    limbs = Limbs(picture.luminance, circles, LEAST_RADIUS_PX)
    if picture.shrink > 1.3 and not any(limb.radius_px > QUICK_RADIUS_PX for limb in islice(limbs, 1)):
        # a small disc, or none found: look at it as finely as the file allows
        finer = look(FINE_PX)
        picture = finer if isinstance(finer, Picture) else picture
        circles = find_circles(picture.luminance)
        limbs = Limbs(picture.luminance, circles, LEAST_RADIUS_PX)
    spot = brightest_spot(picture.luminance, redness=picture.redness)
    if spot is not None and spot.largest * picture.shrink < TINY_SPOT_PX:
        return annotate_unplaced(picture, taken, list(limbs), NotFound("limb", sentence("disc_too_small"), ""))
    found = _place(picture, limbs, taken, place, mirrored)
    evened = False
    if isinstance(found, NotFound):
        again = _place_evened(picture, limbs, taken, place, mirrored)
        if again is None:
            return annotate_unplaced(picture, taken, list(limbs), found)
        found, evened = again, True
    placed, trust = found
    if has_frame_of_lines(picture.luminance, placed.pose.x, placed.pose.y, placed.pose.radius_px):
        return annotate_unplaced(picture, taken, list(limbs), FRAMED)
    if has_pixel_grid(picture.luminance, placed.pose.x, placed.pose.y, picture.shrink):
        return annotate_unplaced(picture, taken, list(limbs), GRIDDED)
    discs = repeats(picture.luminance, circles, placed.limb)
    whole = annotate_placed(picture, taken, place, placed, trust, discs, evened)
    return with_nights(whole, known)


def _place(
    picture: Picture, limbs: Iterable[Limb], taken: TimeReadings, place: Place | None, mirrored: bool | None
) -> tuple[Placement, Trust] | NotFound:
    """The Moon placed by what is seen of its surface, if that may be shown."""
    placed = find_pose(picture.luminance, limbs, taken, place, mirrored)
    if isinstance(placed, NotFound):
        return placed
    placed = with_evidence(placed, picture)
    trust = judge_placement(placed)
    if not trust.accepted or placed.pose.radius_px < LEAST_RADIUS_PX:
        return NotFound("pose", trust.reasons, sentence("send_sharper"))
    return placed, trust


def _place_evened(
    picture: Picture, limbs: Iterable[Limb], taken: TimeReadings, place: Place | None, mirrored: bool | None
) -> tuple[Placement, Trust] | None:
    """Placed once more with the light on its disc made even, as for one that lies deep in the Earth's shadow."""
    for limb in islice(limbs, 1):
        even = even_light(picture.luminance, limb) if limb.arc_deg >= LONG_LIMB_DEG else None
        if even is not None:
            found = _place(replace(picture, luminance=even), [limb], taken, place, mirrored)
            if not isinstance(found, NotFound) and is_well_agreed(found[0]):
                return found
    return None


def annotate_placed(
    picture: Picture,
    taken: TimeReadings,
    place: Place | None,
    placed: Placement,
    trust: Trust,
    discs: int,
    evened: bool = False,
) -> Annotation:
    """All that follows from a placement. placed: as `with_evidence`; discs: how often the Moon shows; evened: placed with
    its light made even, which then says nothing of the Sun."""
    when = time_of_picture(picture, placed, taken, place, trust.sure and discs == 1, evened)
    said = judge_surroundings(trust, discs, when.eclipse, when.bitten)
    evening = when.dated(taken, said.sure)
    sky = None if when.time is None else aspect_at(when.time.utc, place)
    placed, light_deg = one_sun(when, evening, sky)
    pose = _to_full(placed.pose, picture.shrink)
    limb = None if placed.limb is None else _limb_to_full(placed.limb, picture.shrink)
    blur = 2.5 * picture.shrink if limb is None else limb.edge_width_px
    marks = mark_features(pose, placed.pose, picture.luminance, picture.width, picture.height, blur)
    marks = without_hidden(
        with_uncertainty(marks, pose, placed.evidence), placed.pose, picture.luminance, placed.evidence.field
    )
    stop = _stop_to_full(placed.evidence.field, picture.shrink)
    phase = phase_angle_deg(
        pose.libration_lat_deg, pose.libration_lon_deg, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
    )
    terminator = Terminator(phase, float((1 + np.cos(np.radians(phase))) / 2), bright_limb_screen_deg(pose), light_deg)
    return put_back(
        Annotation(
            status=said.status,
            sure=said.sure,
            reasons=said.reasons,
            advices=said.advices,
            width=picture.width,
            height=picture.height,
            taken=taken,
            time=when.time,
            clock=when.clock,
            limb=limb,
            pose=pose,
            terminator=None if said.status == Status.ECLIPSE else terminator,
            aspect=sky,
            features=marks,
            flags=said.flags,
            field_stop=stop,
            dated=evening,
            shadow=when.eclipse.shadow,
        ),
        picture,
    )


def annotate_unplaced(picture: Picture, taken: TimeReadings, limbs: list[Limb], why: NotFound) -> Annotation:
    """What a picture without a placement still tells. limbs: of the working picture, best first."""
    spot = brightest_spot(picture.luminance, redness=picture.redness)
    limbs = [
        limb for limb in limbs if limb.radius_px * picture.shrink >= SMALL_RADIUS_PX
    ]  # what smaller ones are, none can tell
    look = look_at(picture.luminance, picture.redness, limbs[0]) if limbs and why.stage == "pose" else None
    disc = disc_about(spot, limbs) if spot is not None else None
    said = without_placement(look, spot, picture.shrink, why, disc)
    if why.stage == "pose" and said.status != Status.DISC_ONLY and is_drawing(picture):
        said = DRAWN
    if why.stage == "pose":
        said = reconsider(said, picture, limbs)
    clock, time = time_without_light(taken)
    limb = _limb_to_full(limbs[0], picture.shrink) if limbs and said.status != Status.DISC_ONLY else None
    return put_back(
        Annotation(
            status=said.status,
            sure=False,
            reasons=said.reasons,
            advices=said.advices,
            width=picture.width,
            height=picture.height,
            taken=taken,
            time=time,
            clock=clock,
            limb=limb,
            dated=judge_evening(taken, clock, time, False),
        ),
        picture,
    )


def _to_full(pose: Pose, shrink: float) -> Pose:
    if shrink == 1.0:
        return pose
    n = len(pose.parameters)
    factor = np.array([shrink if p in ("x", "y", "radius_px") else 1.0 for p in pose.parameters])
    covariance = np.array(pose.covariance).reshape(n, n) * np.outer(factor, factor)

    def pixel(value: float) -> float:
        return (value + 0.5) * shrink - 0.5

    return replace(
        pose,
        x=pixel(pose.x),
        y=pixel(pose.y),
        radius_px=pose.radius_px * shrink,
        axis_x=pixel(pose.axis_x),
        axis_y=pixel(pose.axis_y),
        axis_scale_px=pose.axis_scale_px * shrink,
        covariance=tuple(float(c) for c in covariance.ravel()),
    )


def _stop_to_full(field: FieldStop | None, shrink: float) -> FieldStop | None:
    if field is None:
        return None
    return FieldStop((field.x + 0.5) * shrink - 0.5, (field.y + 0.5) * shrink - 0.5, field.radius_px * shrink)


def _limb_to_full(limb: Limb, shrink: float) -> Limb:
    return replace(
        limb,
        x=(limb.x + 0.5) * shrink - 0.5,
        y=(limb.y + 0.5) * shrink - 0.5,
        radius_px=limb.radius_px * shrink,
        sigma_px=limb.sigma_px * shrink,
        covariance=tuple(c * shrink**2 for c in limb.covariance),
        rms_px=limb.rms_px * shrink,
        edge_width_px=limb.edge_width_px * shrink,
    )
