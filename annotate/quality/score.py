"""From measured figures and editorial facts to one score that opens into its parts.

    Quality + Facts + Weights -> Score (parts: value 0..1, weight, a sentence that says why)

The score is the weighted mean of the parts that are known; what is not known is left out and said, so that nobody
gains or loses by a gap. Detail is judged on the Moon, in km; focus against what such equipment usually gives, so that
a phone's picture pays for its small lens once, under detail, and not again. The curves are smooth and never level off:
of two pictures the worse never draws.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Literal

import numpy as np

from moondesk.quality.measurement import PATCH_KM, Quality
from moondesk.quality.resolution import Resolution
from moondesk.quality.weights import Weights
from moondesk.records import NotFound

EquipmentClass = Literal["phone", "compact", "small telescope", "larger telescope"]

#: Detail on the Moon (km) at which the part is one half.
HALF_KM = 14.0
#: What each class usually reaches, km: a phone's or a camera's own lens, 60 to 130 mm, more (common practice; the
#: telescopes' from 2 to 4 arcsec of seeing and handling).
USUAL_KM: dict[str, float] = {"phone": 60.0, "compact": 25.0, "small telescope": 10.0, "larger telescope": 6.0}
UNKNOWN_USUAL_KM = 14.0
#: How much of simple equipment's part a class gets.
SIMPLE: dict[str, float] = {"phone": 1.0, "compact": 0.8, "small telescope": 0.5, "larger telescope": 0.2}
#: Share of the lit disc burnt out, signal to noise of a patch of 40 km, and display value at which a part is halved.
HALF_BURNT, HALF_SIGNAL, FULL_LEVEL, NO_LEVEL = 0.1, 40.0, 0.45, 0.08
#: Share burnt out from which it is the reason that no sharpness can be told; share of completeness that the disc's dark
#: part has.
MUCH_BURNT, DARK_PART = 0.05, 0.1
#: Where fewer pixels than this span the patch for which the noise is told, its craters pass for noise: the part counts
#: the less.
PATCH_PX = 3.0
#: A picture of the days before it came is fresh; one older by so many days more counts half.
FRESH_DAYS, HALF_DAYS = 4.0, 10.0
#: With fewer features in the low light the terminator's part counts in proportion to their number: nothing jumps where
#: it fades out towards full Moon.
MANY = 24


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What is known beside the picture. None: not known, the part is left out.

    first_time: nothing of this sender has been on air. equipment: its class. featured_lately: pictures of this sender
    on air in the last `editions` editions. place_lately: pictures from this place on air in those (any sender).
    days_old: from its evening to its arrival, days; infinite: it is of none of the days before it came.
    """

    first_time: bool | None = None
    equipment: EquipmentClass | None = None
    featured_lately: int | None = None
    place_lately: int | None = None
    editions: int = 10
    days_old: float | None = None


@dataclass(frozen=True)
class ScorePart:
    """name: the field of `Weights`. value: 0 (worst) to 1, None where it cannot be told. reason: one sentence."""

    name: str
    value: float | None
    weight: float
    reason: str


@dataclass(frozen=True)
class Score:
    """value: 0..1, the weighted mean of the parts that are known; nan where none is. parts: in the order of
    `Weights`, those of weight 0 too."""

    value: float
    parts: tuple[ScorePart, ...]

    def part(self, name: str) -> ScorePart:
        """The part of that name; KeyError for an unknown one."""
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)


def score(quality: Quality | NotFound, facts: Facts, weights: Weights | None = None) -> Score | NotFound:
    """The score of one picture; where it is not placed, the NotFound that `measure_quality` gave."""
    if isinstance(quality, NotFound):
        return quality
    weights = weights or Weights()
    told = {**_of_picture(quality, facts), **_of_sender(facts)}
    weights = replace(weights, noise=weights.noise * min(1.0, (PATCH_KM / (PATCH_PX * quality.km_per_px)) ** 2))
    if quality.terminator is not None:
        weights = replace(weights, terminator=weights.terminator * min(1.0, quality.terminator.possible / MANY))
    parts = tuple(
        ScorePart(f.name, told[f.name][0], getattr(weights, f.name), told[f.name][1]) for f in fields(weights)
    )
    known = [(p.value, p.weight) for p in parts if p.value is not None and p.weight > 0]
    total = sum(w for _, w in known)
    return Score(sum(v * w for v, w in known) / total if total else float("nan"), parts)


_Told = dict[str, tuple[float | None, str]]


def _of_picture(q: Quality, facts: Facts) -> _Told:
    detail, focus = _detail_and_focus(q, facts)
    burnt, snr = q.burnt_share, q.signal_to_noise
    lightness = float(np.clip((q.level - NO_LEVEL) / (FULL_LEVEL - NO_LEVEL), 0.0, 1.0))
    exposure = lightness * (1.0 - burnt) / (1.0 + burnt / HALF_BURNT)
    if lightness < 0.8:
        exposed = f"The disc is dark: its brightest tenth begins at {100 * q.level:.0f} % of white."
    elif burnt >= 0.005:
        exposed = f"{100 * burnt:.{0 if burnt >= 0.095 else 1}f} % of the lit disc is burnt out."
    else:
        exposed = "Nothing of note on the disc is burnt out, and it is bright enough."
    noise: float | None = None
    grain = "The noise cannot be told: too little of the disc is smooth and not burnt out."
    if np.isfinite(snr):
        noise = snr**2 / (snr**2 + HALF_SIGNAL**2)  # beyond a few hundred nobody sees it
        grain = f"In a patch of 40 km the light is {snr:.0f} times the noise."
    share = (1.0 - DARK_PART) * q.framed_share + DARK_PART * q.disc_share
    whole = f"{100 * q.framed_share:.0f} % of the lit disc is in the picture."
    if q.framed_share > 0.995:
        whole = (
            "The whole disc is in the picture."
            if q.disc_share > 0.995
            else "The whole lit disc is in the picture; its dark part is cut."
        )
    return {
        "detail": detail, "focus": focus, "exposure": (exposure, exposed), "noise": (noise, grain),
        "completeness": (share, whole), "terminator": _low_light(q), "fresh": _fresh(facts.days_old),
    }  # fmt: skip


def _detail_and_focus(q: Quality, facts: Facts) -> tuple[tuple[float | None, str], tuple[float | None, str]]:
    if not isinstance(q.resolution, Resolution):
        # white hides limb and surface: that is no gap in what is known
        told = 0.0 if q.burnt_share > MUCH_BURNT else None
        return (told, q.resolution.reason), (told, q.resolution.reason)
    km, usual = q.resolution.km, USUAL_KM.get(facts.equipment or "", UNKNOWN_USUAL_KM)
    shows = 1.0 - q.burnt_share  # what is burnt out shows nothing
    said = f"about {km:.{0 if km >= 9.5 else 1}f} km"
    detail = shows / (1.0 + km / HALF_KM)
    focus = shows / (1.0 + (q.resolution.focus_km / (1.5 * usual)) ** 1.5)
    sharpened = f", with a halo of sharpening ({100 * q.sharpened:.0f} % at the limb)" if q.sharpened > 0.08 else ""
    if facts.equipment is None:
        compared = f"{said[0].upper()}{said[1:]} on the Moon, equipment not known{sharpened}."
    else:
        than = "finer than" if km < 0.9 * usual else "coarser than" if km > 1.1 * usual else "just as"
        with_it = f"a {facts.equipment}" if facts.equipment != "compact" else "a camera with its own lens"
        compared = f"{said[0].upper()}{said[1:]}: {than} {with_it} usually gives ({usual:.0f} km){sharpened}."
    return (detail, f"Details down to {said} on the Moon are told apart."), (focus, compared)


def _low_light(q: Quality) -> tuple[float | None, str]:
    if q.terminator is None:
        return None, "Near full Moon too little stands at the terminator to count."
    share, names = q.terminator.share, q.terminator.names
    value = share / (share + 0.3) * 1.3
    if not names:
        return value, "Of what stands in the low light of this evening nothing can be made out well."
    listed = names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
    return value, f"In the low light near the terminator: {listed}."


def _fresh(days: float | None) -> tuple[float | None, str]:
    if days is None:
        return None, "When it was taken is not known."
    value = 1.0 / (1.0 + max(days - FRESH_DAYS, 0.0) / HALF_DAYS)
    if np.isinf(days):
        return value, "An older picture: its light and tilt fit none of the days before it came."
    if days <= FRESH_DAYS:
        return value, "Taken within the days before it came."
    return value, f"Taken {span_of_days(days)} before it came."


def span_of_days(days: float) -> str:
    """A length of time in words, rounded down.

    >>> span_of_days(12.9), span_of_days(400.0)
    ('12 days', '13 months')
    """
    for unit, of, least in (("year", 365.25, 2), ("month", 30.44, 2)):
        if days >= least * of:
            return f"{int(days / of)} {unit}s"
    whole = int(days)
    return f"{whole} day{'' if whole == 1 else 's'}"


def _of_sender(facts: Facts) -> _Told:
    newcomer: tuple[float | None, str] = (None, "Whether the sender has been on air before is not known.")
    if facts.first_time is not None:
        newcomer = (
            (1.0, "Nothing of this sender has been on air yet.")
            if facts.first_time
            else (0.0, "The sender has been on air before.")
        )
    simple: tuple[float | None, str] = (None, "The equipment is not known.")
    if facts.equipment is not None:
        simple = (SIMPLE[facts.equipment], f"Equipment: {facts.equipment}.")
    return {
        "newcomer": newcomer, "simple_equipment": simple,
        "fairness": _seldom(facts.featured_lately, facts.editions, "This sender"),
        "variety": _seldom(facts.place_lately, facts.editions, "This place"),
    }  # fmt: skip


def _seldom(times: int | None, editions: int, who: str) -> tuple[float | None, str]:
    """1 for never, one half for once, a third for twice ..."""
    if times is None:
        return None, f"{who}: how often on air lately is not known."
    often = "not" if times == 0 else "once" if times == 1 else f"{times} times"
    return 1.0 / (1.0 + times), f"{who} was {often} on air in the last {editions} editions."
