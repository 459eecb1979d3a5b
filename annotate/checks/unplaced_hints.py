"""What else a picture without a placement shows, before it is said what its disc is not.

A disc whose surface is not the Moon's may still be an eyepiece's field with a part of the Moon in it, or a small thing
beside the Moon: nothing is called a plate or a drawing where parts of the Moon's surface are recognised, or where
another circle was never tried.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from moondesk.checks.tiny_discs import BrightSpot
from moondesk.checks.verdict import DRAWN, UnplacedStatement, state
from moondesk.placement.keypoints import UNDATED, match_keypoints
from moondesk.records import Limb, Picture, Status
from moondesk.sentences import sentence

#: So many agreeing keypoints are the Moon's surface. Seen: 64 and more in fields with a cut Moon, none in planets,
#: 15 at most in what is no Moon.
RECOGNISED = 20
#: A circle counts beside the one that was tried with an edge on so many degrees; as larger with so many times its
#: radius, as another with so large a share of it.
LEAST_ARC_DEG, LARGER, ANOTHER = 90.0, 1.3, 0.5
#: A bright spot is the lit part of a disc where it lies so far off that one's middle and reaches so near to its edge,
#: radii of the disc, which is no more than so many times larger: a planet's glow lies evenly about it.
OFF_MIDDLE, NEAR_EDGE, MOST_TIMES = 0.3, 0.75, 3.0


def reconsider(said: UnplacedStatement, picture: Picture, limbs: Sequence[Limb]) -> UnplacedStatement:
    """The same, or "cannot tell, because ..." where something else was seen. limbs: of the picture, the
    one that was tried first."""
    if said.status != Status.NOT_MOON and said is not DRAWN:
        return said
    why = "recognised_parts" if _is_recognised(picture) else "" if said is DRAWN else _other_circles(limbs)
    return state(Status.UNPLACED, sentence(why), sentence("by_hand_or_whole")) if why else said


def disc_about(spot: BrightSpot, limbs: Sequence[Limb]) -> Limb | None:
    """The disc of which a bright spot is the lit part; None where there is none."""
    for limb in limbs:
        off = float(np.hypot(limb.x - spot.x, limb.y - spot.y)) / limb.radius_px
        size = spot.radius / limb.radius_px
        if (
            limb.arc_deg >= LEAST_ARC_DEG
            and OFF_MIDDLE < off < 1.0
            and off + size > NEAR_EDGE
            and size * MOST_TIMES > 1.0
        ):
            return limb
    return None


def _is_recognised(picture: Picture) -> bool:
    display = np.sqrt(np.maximum(picture.luminance, 0.0)).astype(np.float32)
    found = match_keypoints(display, UNDATED)
    return bool(found) and found[0].inliers > RECOGNISED


def _other_circles(limbs: Sequence[Limb]) -> str:
    """The code of what is said of them; "" for none."""
    if not limbs:
        return ""
    first, rest = limbs[0], [k for k in limbs[1:] if k.arc_deg >= LEAST_ARC_DEG]
    if any(k.radius_px > LARGER * first.radius_px for k in rest):
        return "larger_circle"
    apart = [
        k
        for k in rest
        if k.radius_px > ANOTHER * first.radius_px
        and np.hypot(k.x - first.x, k.y - first.y) > max(first.radius_px, k.radius_px)
    ]
    return "other_circles" if apart else ""
