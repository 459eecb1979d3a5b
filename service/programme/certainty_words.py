"""What the tool is sure of in a picture and what not, one sentence each. Pure.

Nothing is said here that the annotation does not hold: a thing that was not measured is open, never sure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, assert_never

from moondesk.files.time_taken import LETTER
from moondesk.records import MOON_RADIUS_KM, Annotation, ClockVerdict, EveningVerdict
from moondesk.service.programme.words import sigma_words, source_words, time_judged, time_source, time_words

Tone = Literal["sure", "unsure", "open"]


@dataclass(frozen=True)
class Statement:
    """tone: "sure", "unsure" (there is an answer, but look at it) or "open" (there is none)."""

    tone: Tone
    about: str
    words: str


def certainty(a: Annotation, teller: str = "the sender", zone: str = "UTC") -> tuple[Statement, ...]:
    """In the order in which a presenter asks: where, which way round, when, what is seen.

    teller: who has told the time, where somebody has; zone: of the programme.
    """
    if not a.status.facts.usable:
        return ()
    return (_names_statement(a), *_hand(a), *_clock(a), _evening(a, teller, zone), *_visibility(a))


def _names_statement(a: Annotation) -> Statement:
    if a.pose is None:
        return Statement("open", "Names", a.reason or "The picture is not placed, so nothing in it can be named.")
    sigma = a.pose.sigma_pct_radius
    within = f"within {max(sigma / 100 * MOON_RADIUS_KM, 0.1):.1f} km on the Moon (one standard deviation)"
    if a.sure:
        return Statement(
            "sure", "Names", f"They stand at their features{', ' + within if math.isfinite(sigma) else ''}."
        )
    return Statement("unsure", "Names", a.reason or "They may stand beside their features: have a look.")


def _hand(a: Annotation) -> tuple[Statement, ...]:
    if a.pose is None:
        return ()
    way = "Left and right are exchanged" if a.pose.mirrored else "Left and right are as the eye sees them"
    ours, rival = a.pose.score, a.pose.rival_score
    against = ""
    if math.isfinite(ours) and math.isfinite(rival):
        against = f": {ours:.0%} of the places compared agree, {max(rival, 0):.0%} with the likeliest other way"
    return (Statement("sure" if a.sure else "unsure", "Which way round", f"{way}{against}."),)


def _clock(a: Annotation) -> tuple[Statement, ...]:
    """Of the time that the picture came with, or that was told: what light and tilt say of it; nothing where the
    evening says the same already."""
    if a.dated.verdict is EveningVerdict.UNKNOWN and a.clock.words and a.clock.words == a.dated.reason:
        return ()
    source = a.time.source if a.time is not None else ""
    words, about = a.clock.words, {"told": "Time told", LETTER: "Letter"}.get(source, "Clock")
    match a.clock.verdict:
        case ClockVerdict.AGREES:
            within = f" (± {a.clock.sigma_hours:.1f} h)" if a.clock.sigma_hours is not None else ""
            what = {"told": "the time told", LETTER: "the letter"}.get(source, "the clock")
            return (Statement("sure", about, f"The picture's light and libration agree with {what}{within}."),)
        case ClockVerdict.DISAGREES:
            return (Statement("unsure", about, words or "The clock disagrees with what the picture shows."),)
        case ClockVerdict.CANNOT_TELL:
            return (Statement("open", about, time_judged(a)),)
        case ClockVerdict.NO_CLOCK:
            return (Statement("open", about, words or "No clock came with the picture."),)
    assert_never(a.clock.verdict)


def _evening(a: Annotation, teller: str, zone: str) -> Statement:
    """When it was taken, and who says so. A person's word stays a person's word."""
    if a.time is None or a.dated.verdict is EveningVerdict.UNKNOWN:
        return Statement("open", "Evening", f"Unknown. {a.dated.reason}".strip())
    when, within = time_words(a.time.utc, zone), sigma_words(a.time.sigma_minutes)
    if a.dated.verdict is EveningVerdict.UNSURE:
        doubt = f" {a.dated.reason}" if a.dated.reason and a.dated.reason != a.clock.words else ""
        return Statement("unsure", "Evening", f"Not sure: {source_words(a.time.source)}, {within}.{doubt}")
    if a.time.source == "told":
        proof = (
            " and borne out"
            if a.dated.verdict is EveningVerdict.SURE
            else "; nothing but the picture's light bears it out"
        )
        return Statement("unsure", "Evening", f"Told by {teller}{proof}: {when}, {within}.")
    if a.dated.verdict is EveningVerdict.TOLD:
        return Statement("unsure", "Evening", f"As its file says: {when}. {a.dated.reason}".strip())
    return Statement("sure", "Evening", f"{when}, {time_source(a)}, {within}.")


def _visibility(a: Annotation) -> tuple[Statement, ...]:
    named = [m for m in a.features if m.feature.parent is None and m.lit_fraction >= 0.1]
    if not named or not a.status.facts.is_named:
        return ()
    clear, hard = sum(m.seen >= 0.9 for m in named), sum(m.seen < 0.5 for m in named)
    return (
        Statement(
            "sure" if a.sure else "unsure",
            "To be seen",
            f"Of {len(named)} named features in the light {clear} are clearly seen here; {hard} can hardly be "
            "made out: do not point at those.",
        ),
    )
