"""What would help a sender next time: one piece of advice that follows from what was measured of a placed picture.

Of one that is not placed the reasons speak (`draft`). Pure.

Every rule looks at one figure and says it in the sentence, so that nobody is told what was not seen. The worst alone
is told: a mail is no list of faults. The thresholds are common practice, those of the ranking where it has one.
"""

from __future__ import annotations

import math

from moondesk.notes.messages import Message, Number, say, say_many
from moondesk.quality.measurement import Quality
from moondesk.quality.resolution import Resolution
from moondesk.quality.score import UNKNOWN_USUAL_KM, USUAL_KM
from moondesk.records import Annotation, ClockVerdict

MOST = 1
#: Share of the lit disc burnt out; brightness that a tenth of it exceeds; times the usual width; signal to noise.
BURNT, DARK, SOFT, GRAINY = 0.04, 0.3, 1.6, 25.0
#: Diameter in pixels, and share of the picture's shorter side, below which the Moon is small in it.
SMALL_PX, SMALL_SHARE = 500.0, 0.33
#: Share of the lit disc in the frame below which it was cut, and below which a close-up was meant; distance of the
#: disc's centre from the picture's, in shorter sides.
CUT, CLOSE_UP, OFF_CENTRE = 0.97, 0.7, 0.28
#: A clock less wrong than this is not worth a word, hours.
CLOCK_HOURS = 1.5


def advice_for(annotation: Annotation, quality: Quality | None, equipment: str | None) -> tuple[Message, ...]:
    """The most useful sentence, or none. equipment: its class as `quality.score` names it, None unknown."""
    found: list[tuple[float, Message]] = []
    if quality is not None:
        found += _exposure(quality) + _sharpness(quality, equipment) + _noise(quality) + _framing(quality)
    found += _place_in_frame(annotation, equipment) + _clock(annotation)
    found.sort(key=lambda one: -one[0])
    return tuple(said for _, said in found[:MOST])


_Found = list[tuple[float, Message]]


def _exposure(q: Quality) -> _Found:
    if q.burnt_share > BURNT:
        return [
            (
                2.0 + 10 * q.burnt_share,
                say(
                    "About {percent} % of the bright part is pure white: a shorter exposure keeps the craters there; on a "
                    "phone, touch the Moon on the screen and draw the brightness down.",
                    percent=Number(100 * q.burnt_share),
                ),
            )
        ]
    if q.level < DARK:
        return [
            (
                1.5 + 5 * (DARK - q.level),
                say(
                    "The Moon came out dark: its bright parts reach {percent} % of white. A longer exposure shows more.",
                    percent=Number(100 * q.level),
                ),
            )
        ]
    return []


def _sharpness(q: Quality, equipment: str | None) -> _Found:
    if not isinstance(q.resolution, Resolution):
        return []
    usual = USUAL_KM.get(equipment or "", UNKNOWN_USUAL_KM)
    if q.resolution.km < SOFT * usual:
        return []
    weight = 1.0 + 0.5 * math.log(q.resolution.km / usual)
    if equipment not in USUAL_KM:
        return [
            (
                weight,
                say(
                    "Details down to about {km} km can be told apart. Focus on the edge of the Moon at the largest "
                    "magnification, and let a timer release the shutter, so that nothing shakes.",
                    km=Number(q.resolution.km),
                ),
            )
        ]
    return [
        (
            weight,
            say(
                "Details down to about {km} km can be told apart; with such equipment {usual} km are usual. Focus on the edge "
                "of the Moon at the largest magnification, and let a timer release the shutter, so that nothing shakes.",
                km=Number(q.resolution.km),
                usual=Number(usual),
            ),
        )
    ]


def _noise(q: Quality) -> _Found:
    if not math.isfinite(q.signal_to_noise) or q.signal_to_noise > GRAINY:
        return []
    return [
        (
            0.9,
            say(
                "The picture is grainy: the light is {times} times its noise. A lower ISO with a steadier holder "
                "calms it.",
                times=Number(q.signal_to_noise),
            ),
        )
    ]


def _framing(q: Quality) -> _Found:
    if not CLOSE_UP <= q.framed_share < CUT:
        return []
    return [
        (
            0.6,
            say(
                "{percent} % of the bright part is in the picture; with all of it the edge helps to place the names.",
                percent=Number(100 * q.framed_share),
            ),
        )
    ]


def _place_in_frame(a: Annotation, equipment: str | None) -> _Found:
    disc = a.pose or a.limb
    if disc is None:
        return []
    short = min(a.width, a.height)
    across = 2.0 * disc.radius_px
    if across < SMALL_PX and across < SMALL_SHARE * short:
        return [
            (
                1.8 if across < 0.4 * SMALL_PX else 1.1,
                say(
                    "The Moon is {across} pixels wide in a picture of {width}: come closer with the lens, or hold the phone to "
                    "an eyepiece; digital zoom adds nothing.",
                    across=Number(across),
                    width=Number(a.width),
                ),
            )
        ]
    away = math.hypot(disc.x - a.width / 2, disc.y - a.height / 2) / short
    if equipment in ("phone", None) and away > OFF_CENTRE and across < short:
        return [
            (
                0.5,
                say(
                    "The Moon stands {percent} % of the picture's height off its middle: an eyepiece is sharpest "
                    "in its centre, with the lens square to it.",
                    percent=Number(100 * away),
                ),
            )
        ]
    return []


def _clock(a: Annotation) -> _Found:
    if a.clock.verdict != ClockVerdict.DISAGREES or a.clock.picture_utc is None or not a.taken.candidates:
        return []
    off = (a.taken.candidates[0].utc - a.clock.picture_utc).total_seconds() / 3600
    if abs(off) < CLOCK_HOURS:
        return []
    hours = round(abs(off))
    how = (
        say_many("fast by about an hour", "fast by about {count} hours", hours)
        if off > 0
        else say_many("slow by about an hour", "slow by about {count} hours", hours)
    )
    if hours > 36:
        days = round(abs(off) / 24)
        how = (
            say_many("fast by about a day", "fast by about {count} days", days)
            if off > 0
            else say_many("slow by about a day", "slow by about {count} days", days)
        )
    return [
        (
            1.3,
            say("By the Moon's light your camera's clock is {how}: please set its date, time and time zone.", how=how),
        )
    ]
