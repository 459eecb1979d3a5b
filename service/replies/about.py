"""The sentences about this very picture: what stands out and in which light, when it was taken, how the Moon stood. Pure.

All of it follows from the placement, and is said only where that is sure: a crater is called well seen from the bar on
that the desk calls it so (`words.visibility_words`), in low light where the Sun's height there is low, and of the date
only what may be stated (`evening.time_to_state`). No sentence speaks to anybody, so that each serves all readers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from moondesk.checks.statements import lit_fraction
from moondesk.notes.messages import Listed, Message, Name, say, say_many
from moondesk.quality.measurement import Quality
from moondesk.records import Annotation, FeatureMark
from moondesk.service.programme.words import FORMED, best_seen
from moondesk.service.replies.advice import CLOSE_UP
from moondesk.service.replies.voices import pick

#: From this probability on a feature is called well seen; features looked through, and named in one sentence.
WELL_SEEN, LOOKED_AT, NAMED = 0.7, 24, 3
#: The Sun's height, degrees: up to here its light is called low, and what lies lower than that near the edge of the
#: light; from here on high, where shadows are hardly longer than half of what throws them.
LOW_DEG, EDGE_DEG, HIGH_DEG = 12.0, 6.0, 60.0
#: Lit shares of the disc: a slender crescent up to here; half, from and to; full, or nearly so, from here on.
SLENDER, HALF, FULL = 0.12, (0.45, 0.55), 0.97


@dataclass(frozen=True)
class TakenOn:
    """When a picture was taken, where that may be stated: the local date, and the programme's day of the lunation."""

    date: date
    day_number: int | None = None


def about_picture(a: Annotation, quality: Quality | None, taken: TakenOn | None, seed: int) -> tuple[Message, ...]:
    """Of a placed picture whose names are sure."""
    marks = [m for m in best_seen(a, LOOKED_AT) if m.seen >= WELL_SEEN]
    star = next((m for m in marks if m.feature.kind == "crater" and m.sun_altitude_deg > 0), None)
    said = [_on_star(a, star, seed)] if star else []
    others = [m for m in marks if m is not star]
    edge = [m for m in others if m.feature.kind in FORMED and 0 < m.sun_altitude_deg <= EDGE_DEG]
    edge = [m for m in edge if is_morning(a, m) == is_morning(a, edge[0])][:NAMED]
    if len(edge) > 1:
        said.append(_on_edge(a, edge, seed))
    elif others:
        names = Listed(tuple(Name(m.feature.name) for m in others[:NAMED]))
        said.append(
            say_many("Well seen, too: {names}.", "Well seen, too: {names}.", len(names.parts), names=names)
            if star
            else say_many(
                "Best seen in this picture is {names}.",
                "Best seen in this picture are {names}.",
                len(names.parts),
                names=names,
            )
        )
    if quality is not None and quality.framed_share < CLOSE_UP and _fills(a) and said:
        said.append(say("It takes patience and care to come so close."))
    return (*said, *_on_date(taken), *_on_phase(a))


def _fills(a: Annotation) -> bool:
    """Whether the Moon is larger than the frame: what is cut of a smaller one was no close-up."""
    assert a.pose is not None
    return 2.0 * a.pose.radius_px > min(a.width, a.height)


def is_morning(a: Annotation, mark: FeatureMark) -> bool:
    """Whether the Sun rises at a feature: it comes up over places west of the one that it stands above."""
    assert a.pose is not None  # of a placed picture
    return math.sin(math.radians(a.pose.sub_solar_lon_deg - mark.feature.lon_deg)) > 0


def is_waxing(a: Annotation) -> bool:
    """Whether the lit part grows: the Sun stands east of the disc's middle."""
    assert a.pose is not None
    return math.sin(math.radians(a.pose.sub_solar_lon_deg - a.pose.libration_lon_deg)) > 0


def _on_star(a: Annotation, star: FeatureMark, seed: int) -> Message:
    name = Name(star.feature.name)
    if star.sun_altitude_deg > HIGH_DEG:
        return say(
            "The crater {name} shows clearly in this picture, under a Sun that stands high there and leaves hardly a "
            "shadow.",
            name=name,
        )
    if star.sun_altitude_deg > LOW_DEG:
        return pick(
            (
                say("It is a pleasure to see how clearly the crater {name} shows in this picture.", name=name),
                say("The eye goes at once to the crater {name}, which shows clearly in this picture.", name=name),
            ),
            seed,
        )
    if is_morning(a, star):
        return pick(
            (
                say(
                    "In this picture the eye goes at once to the crater {name}: it lies in the first light of its "
                    "morning, and the low Sun brings out its form.",
                    name=name,
                ),
                say(
                    "In this picture the crater {name} stands out splendidly: morning has come there, and the Sun is "
                    "still low above it.",
                    name=name,
                ),
                say(
                    "The crater {name} is a beautiful sight in this picture, lit from the side by the rising Sun.",
                    name=name,
                ),
            ),
            seed,
        )
    return pick(
        (
            say(
                "In this picture the eye goes at once to the crater {name}: it lies in the last light of its day, and "
                "the low Sun brings out its form.",
                name=name,
            ),
            say(
                "In this picture the crater {name} stands out splendidly: evening is coming there, and the Sun is "
                "already low above it.",
                name=name,
            ),
        ),
        seed,
    )


def _on_edge(a: Annotation, edge: Sequence[FeatureMark], seed: int) -> Message:
    ordered = sorted(edge, key=lambda m: -m.feature.lat_deg)
    names = Listed(tuple(Name(m.feature.name) for m in ordered))
    if not is_morning(a, edge[0]):
        return say("The line between day and night, where the Sun is setting, runs past {names}.", names=names)
    return pick(
        (
            say("The line between night and day, where the Sun is rising, runs past {names}.", names=names),
            say("Day is just breaking at {names}, along the edge of the light.", names=names),
        ),
        seed,
        1,
    )


def _on_date(taken: TakenOn | None) -> tuple[Message, ...]:
    if taken is None:
        return ()
    if taken.day_number is None:
        return (say("The picture was taken on {date}.", date=taken.date),)
    return (say("The picture was taken on {date}, day {day} of the lunation.", date=taken.date, day=taken.day_number),)


def _on_phase(a: Annotation) -> tuple[Message, ...]:
    lit = lit_fraction(a)
    if lit is None:
        return ()
    if lit >= FULL:
        return (say("The Moon was full, or nearly so."),)
    waxing = is_waxing(a)
    if lit < SLENDER:
        return (
            (say("The Moon was a slender young crescent."),)
            if waxing
            else (say("The Moon was a slender old crescent."),)
        )
    if lit < HALF[0]:
        return (say("The Moon was a waxing crescent."),) if waxing else (say("The Moon was a waning crescent."),)
    if lit <= HALF[1]:
        return (say("The waxing Moon was half lit."),) if waxing else (say("The waning Moon was half lit."),)
    return (
        (say("The waxing Moon was more than half lit."),)
        if waxing
        else (say("The waning Moon was more than half lit."),)
    )
