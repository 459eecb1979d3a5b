"""What a picture says for and against its pose, beside the pose itself: measured once, kept together.

From it come the verdict (`checks.verdict`) and what is added to a name's uncertainty where it stands (`extra_pct`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from moondesk.placement.blur_kernel import ONE_SPOT, Smear
from moondesk.placement.second_look import SecondLook
from moondesk.records import FieldStop, FloatArray

#: A patch's own scatter is no smooth shift: the median of a neighbourhood still holds this share of it (neighbouring
#: patches overlap by half).
CHANCE = 0.8
#: A name further than this (radii) from any patch that was found is less certain, by so many %R a radius.
FAR, GROWTH_PCT = 0.25, 4.0
#: What is bent bends further beyond the last patch: a shift counts twice at this distance, radii.
DOUBLED = 0.08
#: Luminance lies by this share of the way from red to blue beside the green, whose place is the truth (weights of red
#: 0.21 and blue 0.07: half their difference; measured 0.07 to 0.1).
COLOUR_SHARE = 0.1


@dataclass(frozen=True, eq=False, kw_only=True)
class Evidence:
    """look: the wider search for every patch, None where it was not made; smear: one exposure or two; colours_pct: how
    far red and blue lie apart, %R; burnt: share of the disc's middle (0.8 of the radius) that is burnt out; bent_pct:
    the smooth shift that a twentieth of the lit disc exceeds, %R; field: of the eyepiece, working
    pixels; edge_side, edge_off_pct: where the sunlit limb departs from the pose's and no patch speaks for the pose."""

    look: SecondLook | None = None
    smear: Smear = ONE_SPOT
    colours_pct: float = 0.0
    burnt: float = 0.0
    bent_pct: float = 0.0
    field: FieldStop | None = None
    edge_side: str = ""
    edge_off_pct: float = 0.0


NOTHING_MEASURED = Evidence()


def extra_pct(evidence: Evidence, uv: FloatArray) -> FloatArray:
    """(M,) one standard deviation per axis, %R, at disc points (M, 2), of what the pose's covariance does not know."""
    whole = np.hypot(evidence.smear.spread_pct, COLOUR_SHARE * evidence.colours_pct)
    if evidence.look is None:
        return np.full(len(uv), whole)
    shift, away = shift_pct(evidence.look, uv)
    far = GROWTH_PCT * np.clip(away - FAR, 0.0, 1.0)
    return np.asarray(np.sqrt(shift**2 + far**2 + whole**2))


def shift_pct(look: SecondLook, uv: FloatArray) -> tuple[FloatArray, FloatArray]:
    """At disc points (M, 2): the smooth shift beyond chance per axis, %R, and radii to the nearest patch found."""
    smooth, away = look.at(uv)
    chance = (CHANCE * look.scatter_pct) ** 2
    beyond = 1.0 + np.minimum(away / DOUBLED, 3.0)
    return np.sqrt(np.maximum((smooth**2).sum(axis=1) / 2 - chance, 0.0)) * beyond, away
