"""What would help a sender next time: one piece of advice that follows from what was measured of a placed picture.

Of one that is not placed the reasons speak (`draft`). Pure.

Every rule looks at one figure, and the sentence says in words what that figure says, so that nobody is told what was not
seen. The worst alone is told: a mail is no list of faults. Nobody is told to buy anything, or how to hold what they do
not hold. The thresholds are common practice, those of the ranking where it has one.
"""

from __future__ import annotations

import math

from moondesk.files.time_taken import LETTER
from moondesk.notes.messages import Message, say, say_many
from moondesk.quality.measurement import Quality
from moondesk.quality.resolution import Resolution
from moondesk.quality.score import UNKNOWN_USUAL_KM, USUAL_KM
from moondesk.records import Annotation, ClockVerdict
from moondesk.service.replies.voices import Voice

#: Share of the lit disc burnt out, a good part of it, and half or more; brightness that a tenth of it exceeds; times the
#: usual width; signal to noise.
BURNT, MUCH_BURNT, MOST_BURNT, DARK, SOFT, GRAINY = 0.04, 0.15, 0.45, 0.3, 1.6, 25.0
#: Diameter in pixels, and share of the picture's shorter side, below which the Moon is small in it.
SMALL_PX, SMALL_SHARE = 500.0, 0.33
#: Share of the lit disc in the frame below which it was cut by chance; below which a part was meant; below which that is
#: called a close-up; distance of the disc's centre from the middle of the eyepiece's field, in its radii.
CUT, PART, CLOSE_UP, OFF_CENTRE = 0.97, 0.85, 0.7, 0.5
#: A clock less wrong than this is not worth a word, hours; from so many hours on it is told in days, and from so many
#: days on the date is simply another.
CLOCK_HOURS, HOURS_TOLD, DAYS_TOLD = 1.5, 20, 45
#: Whoever shares these has no need of a longer lens, nor of being told where the Moon's edge is.
TELESCOPES = ("small telescope", "larger telescope")

_Advice = tuple[float, tuple[Message, ...]]


def advice_for(
    annotation: Annotation, quality: Quality | None, equipment: str | None, voice: Voice = Voice.ADULT
) -> tuple[Message, ...]:
    """The sentences of the most useful piece of advice, or none. equipment: its class as `quality.score` names it, None
    unknown."""
    advices: list[_Advice] = []
    if quality is not None:
        advices += (
            *_exposure(quality, equipment, voice),
            *_sharpness(quality, equipment),
            *_noise(quality),
            *_framing(quality, equipment),
        )
    advices += (*_size(annotation, equipment), *_place_in_field(annotation), *_clock(annotation))
    return max(advices, key=lambda one: one[0])[1] if advices else ()


def shorter_exposure(equipment: str | None, voice: Voice) -> Message:
    """How to keep what is bright from turning white."""
    if equipment != "phone":
        return say("A shorter exposure brings back the seas and craters there.")
    if voice is Voice.CHILD:
        return say("Try this next time: touch the Moon on the screen and slide the brightness down a little.")
    return say("Next time, touch the Moon on the phone's screen and slide the brightness down a little.")


def _exposure(q: Quality, equipment: str | None, voice: Voice) -> list[_Advice]:
    if q.burnt_share > BURNT:
        lead = (
            say("The brightest places in the picture have turned pure white.")
            if q.burnt_share < MUCH_BURNT
            else say("A good part of the bright side has turned pure white in the picture.")
            if q.burnt_share < MOST_BURNT
            else say("Most of the bright side has turned pure white in the picture.")
            if q.burnt_share > 0.55
            else say("About half of the bright side has turned pure white in the picture.")
        )
        return [(2.0 + 10 * q.burnt_share, (lead, shorter_exposure(equipment, voice)))]
    if q.level < DARK:
        return [
            (
                1.5 + 5 * (DARK - q.level),
                (say("The Moon came out rather dark; a longer exposure would show more of it."),),
            )
        ]
    return []


def _sharpness(q: Quality, equipment: str | None) -> list[_Advice]:
    if not isinstance(q.resolution, Resolution):
        return []
    usual = USUAL_KM.get(equipment or "", UNKNOWN_USUAL_KM)
    if q.resolution.km < SOFT * usual:
        return []
    how = (
        say(
            "It often helps to tap the Moon's edge to focus, and to let the phone's timer take the picture, so that nothing shakes."
        )
        if equipment == "phone"
        else say(
            "It often helps to focus on the Moon's edge at the largest magnification, and to let a timer release the "
            "shutter, so that nothing shakes."
        )
    )
    return [(1.0 + 0.5 * math.log(q.resolution.km / usual), (say("The picture could be a little sharper still."), how))]


def _noise(q: Quality) -> list[_Advice]:
    if not math.isfinite(q.signal_to_noise) or q.signal_to_noise > GRAINY:
        return []
    return [(0.9, (say("The picture is a little grainy; a lower ISO setting and a firm support would calm it."),))]


def _framing(q: Quality, equipment: str | None) -> list[_Advice]:
    """Of a small part that is cut off: a larger one was left out on purpose, and a telescope's field may hold no more."""
    if equipment in TELESCOPES or not PART <= q.framed_share < CUT:
        return []
    return [
        (
            0.6,
            (
                say(
                    "A little of the Moon lies outside the picture; with its whole edge in view the names find their places even better."
                ),
            ),
        )
    ]


def _size(a: Annotation, equipment: str | None) -> list[_Advice]:
    disc = a.pose or a.limb
    if disc is None or equipment in TELESCOPES:
        return []
    across = 2.0 * disc.radius_px
    if across >= SMALL_PX or across >= SMALL_SHARE * min(a.width, a.height):
        return []
    return [
        (
            1.8 if across < 0.4 * SMALL_PX else 1.1,
            (say("The Moon is still small in the picture."), larger_moon(equipment)),
        )
    ]


def larger_moon(equipment: str | None) -> Message:
    """How the Moon becomes larger in a picture, with what is at hand."""
    if equipment == "phone":
        return say(
            "Where there are binoculars or a telescope at hand, the phone can look through the eyepiece: there the Moon "
            "becomes large at once."
        )
    return say("The longest optical zoom brings it closer; digital zoom adds nothing.")


def _place_in_field(a: Annotation) -> list[_Advice]:
    """Of the disc in an eyepiece's field, where the picture shows the field's edge."""
    disc, field = a.pose or a.limb, a.field_stop
    if disc is None or field is None or disc.radius_px > field.radius_px:
        return []
    if math.hypot(disc.x - field.x, disc.y - field.y) <= OFF_CENTRE * field.radius_px:
        return []
    return [(0.5, (say("In the middle of the eyepiece's field the Moon would be sharper still."),))]


def _clock(a: Annotation) -> list[_Advice]:
    if a.clock.verdict != ClockVerdict.DISAGREES or a.clock.picture_utc is None or not a.taken.candidates:
        return []
    if a.taken.candidates[0].source == LETTER:
        return []  # no camera's clock
    off = (a.taken.candidates[0].utc - a.clock.picture_utc).total_seconds() / 3600
    if abs(off) < CLOCK_HOURS:
        return []
    return [(1.3, (_clock_words(off), say("A look at its date, time and time zone puts that right.")))]


def _clock_words(off_hours: float) -> Message:
    hours, days = round(abs(off_hours)), round(abs(off_hours) / 24)
    fast = off_hours > 0
    if days > DAYS_TOLD:
        return say("Judging by the light on the Moon, the camera's clock seems to be set to another date.")
    if hours > HOURS_TOLD:
        return (
            say_many(
                "Judging by the light on the Moon, the camera's clock is about a day fast.",
                "Judging by the light on the Moon, the camera's clock is about {count} days fast.",
                days,
            )
            if fast
            else say_many(
                "Judging by the light on the Moon, the camera's clock is about a day slow.",
                "Judging by the light on the Moon, the camera's clock is about {count} days slow.",
                days,
            )
        )
    return (
        say_many(
            "Judging by the light on the Moon, the camera's clock is about an hour fast.",
            "Judging by the light on the Moon, the camera's clock is about {count} hours fast.",
            hours,
        )
        if fast
        else say_many(
            "Judging by the light on the Moon, the camera's clock is about an hour slow.",
            "Judging by the light on the Moon, the camera's clock is about {count} hours slow.",
            hours,
        )
    )
