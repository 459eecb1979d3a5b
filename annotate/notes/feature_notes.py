"""What is said of one feature: its size and what compares with it, its rank, its light, its namesake, how it shows."""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.comparison.changed_light import SUN_HALF_DEG
from moondesk.drawing.style import AREA_KINDS, LONG_KINDS
from moondesk.notes.comparisons import comparable
from moondesk.notes.messages import Message, Name, Number, Part, Term, say, say_many
from moondesk.notes.namesake_sentences import namesake_note
from moondesk.notes.ranks import ORDINALS, rank_of
from moondesk.notes.records import Note, Showing, Topic
from moondesk.notes.sunlit_ground import has_ground
from moondesk.notes.sunrise_times import Crossings
from moondesk.records import Feature
from moondesk.shadows.heights import ShadowHeight

#: A share is called whole from here, and the nearest common fraction between these.
WHOLE, LITTLE, NEARLY = 0.97, 0.07, 0.94
FRACTIONS = ((0.1, "a tenth"), (0.2, "a fifth"), (0.25, "a quarter"), (1 / 3, "a third"), (0.4, "two fifths"),
             (0.5, "half"), (0.6, "three fifths"), (2 / 3, "two thirds"), (0.75, "three quarters"),
             (0.8, "four fifths"), (0.9, "nine tenths"))  # fmt: skip
#: With the Sun lower than this, degrees, a crater's rim may shade its floor (common practice).
SHADED_DEG = 15.0
#: Within this of sunrise or sunset, hours, the hours are told, else days.
HOURS = 48.0
#: What can be made out: probabilities from which it shows clearly, well, and at all.
CLEARLY, WELL, AT_ALL = 0.9, 0.7, 0.5
#: The last rank that is spoken: nobody remembers the sixth.
LAST_SPOKEN = 3
#: Craters so long and narrow that the size in the IAU's list is a length: Schiller is 179 by 71 km (from
#: memory).
LONG_CRATERS = frozenset({"Schiller"})


@dataclass(frozen=True)
class FeatureLight:
    """How well the light of a picture is known: one standard deviation of the Sun's place there in degrees, and of the
    time in hours; None where the time is not known."""

    sun_sigma_deg: float
    sigma_hours: float | None


def notes_on(
    one: Showing, light: FeatureLight, crossings: Crossings | None, height: ShadowHeight | None = None
) -> tuple[Note, ...]:
    """Everything that is said of a feature; crossings None: the time is not known; height: from its rim's shadow."""
    feature = one.mark.feature
    found: list[tuple[Topic, Message | None]] = [
        ("size", size(feature)), ("size", compare_sizes(feature)), ("rank", rank_size(feature)), ("share", share(one)),
        ("share", part_framed(one)), ("sun", sun_height(one, light))]  # fmt: skip
    if crossings is not None and light.sigma_hours is not None:
        found += [("risen", sunrise_note(crossings, light.sigma_hours)), ("sets", sets(crossings, light.sigma_hours))]
    if height is not None:
        found.append(("shadow", shadow(height)))
    found += [("namesake", namesake_note(feature)), ("seen", visibility_note(one))]
    return tuple(Note(topic, said, feature.name) for topic, said in found if said is not None)


def shadow(height: ShadowHeight) -> Message:
    """The height to the step that its uncertainty allows: 50 or 100 metres."""
    step = 100 if height.sigma_m > 150 else 50
    return say("Its rim towards the Sun throws a shadow {km} km long: by that it stands about {height} metres, give or "
               "take {sigma}, above the ground where the shadow ends.", km=Number(height.length_km),
               height=Number(step * round(height.height_m / step)),
               sigma=Number(step * max(round(height.sigma_m / step), 1)), sun=Number(height.sun_altitude_deg, 2),
               exact=Number(height.height_m, 1))  # fmt: skip


def size(feature: Feature) -> Message | None:
    """What it is and how large; None where the IAU's list has no size."""
    if not feature.size_km:
        return None
    parts: dict[str, Part] = {"name": Name(feature.name), "kind": Term(feature.kind),
                              "km": Number(feature.size_km, 0 if feature.size_km >= 10 else 1)}  # fmt: skip
    if feature.kind in LONG_KINDS:
        if feature.meaning:
            return say("{name}, “{meaning}”: {kind}, {km} km long.", meaning=Term(feature.meaning), **parts)
        return say("{name}: {kind}, {km} km long.", **parts)
    if feature.kind in AREA_KINDS:
        return say("{name}, “{meaning}”: {kind}, {km} km from end to end.",
                   meaning=Term(feature.meaning or feature.kind), **parts)  # fmt: skip
    if feature.name in LONG_CRATERS:
        return say("{name}: {kind}, {km} km long.", **parts)
    return say("{name}: {kind}, {km} km across.", **parts)


def compare_sizes(feature: Feature) -> Message | None:
    found = comparable(feature.size_km)
    if found is None:
        return None
    return say("That is about as far as from {here} to {there} ({earth_km} km).", here=Term(found.here),
               there=Term(found.there), earth_km=Number(found.km), km=Number(feature.size_km))  # fmt: skip


def rank_size(feature: Feature) -> Message | None:
    rank = rank_of(feature.name)
    if rank is None or rank > LAST_SPOKEN:
        return None
    parts: dict[str, Part] = {"kind": Term(feature.kind), "ordinal": Term(ORDINALS[rank]), "rank": rank,
                              "km": Number(feature.size_km, 1)}  # fmt: skip
    if feature.kind in AREA_KINDS or feature.kind in LONG_KINDS:  # the list has how far they reach, not their areas
        if rank == 1:
            return say("Measured from end to end it is the longest {kind} of the near side.", **parts)
        return say("Measured from end to end it is the {ordinal} longest {kind} of the near side.", **parts)
    if rank == 1:
        return say("By the sizes in the IAU's list it is the largest {kind} of the near side.", **parts)
    return say("By the sizes in the IAU's list it is the {ordinal} largest {kind} of the near side.", **parts)


def fraction(value: float) -> Term | None:
    """The common fraction that a share is about, within 0.05; None near nothing and near all."""
    if not LITTLE <= value <= NEARLY:
        return None
    return Term(min(FRACTIONS, key=lambda f: abs(f[0] - value))[1])


def share(one: Showing) -> Message | None:
    """How much of it is in sunlight; nothing is said of what has no ground."""
    if not has_ground(one.mark.feature):
        return None
    percent = Number(100 * one.lit)
    if one.lit >= WHOLE:
        if one.mark.feature.kind == "crater" and one.sun_deg < SHADED_DEG:
            return say("The Sun is up over all of it, but so low that its rim may shade the floor.",
                       percent=percent, sun=Number(one.sun_deg, 1))  # fmt: skip
        return say("The Sun is up over all of it.", percent=percent)
    about = fraction(one.lit)
    if about is not None:
        return say("The Sun is up over about {fraction} of it ({percent} %).", fraction=about, percent=percent)
    if one.lit > 0.5:
        return say("The Sun is up over nearly all of it ({percent} %).", percent=percent)
    return say("The Sun is up over only a little of it ({percent} %).", percent=percent)


def part_framed(one: Showing) -> Message | None:
    if not has_ground(one.mark.feature) or one.framed >= WHOLE:
        return None
    percent = Number(100 * one.framed)
    about = fraction(one.framed)
    if about is not None:
        return say(
            "The picture has about {fraction} of it in the frame ({percent} %).", fraction=about, percent=percent
        )
    if one.framed > 0.5:
        return say("The picture has nearly all of it in the frame ({percent} %).", percent=percent)
    return say("The picture has only a little of it in the frame ({percent} %).", percent=percent)


def sun_height(one: Showing, light: FeatureLight) -> Message:
    decimals = 1 if abs(one.sun_deg) < 10 and light.sun_sigma_deg < 0.1 else 0
    sun, sigma = Number(abs(one.sun_deg), decimals), Number(light.sun_sigma_deg, 2)
    if abs(one.sun_deg) <= SUN_HALF_DEG or round(abs(one.sun_deg), decimals) == 0:  # part of it is up, part down
        return say("At its middle the Sun is on the horizon.", sun=sun, sigma=sigma)
    if one.sun_deg < 0:
        return say("At its middle the Sun is {sun} degrees below the horizon.", sun=sun, sigma=sigma)
    return say("At its middle the Sun stands {sun} degrees high.", sun=sun, sigma=sigma)


def sunrise_note(crossings: Crossings, sigma_hours: float) -> Message | None:
    """How long ago the Sun rose on its middle, or how soon it will, whichever this light is about."""
    ago, soon = -crossings.last_rise, crossings.next_rise
    up = _is_up(crossings)
    if up and _is_known(ago, sigma_hours):
        return say("Over level ground the Sun rose at its middle {span} ago.", **_span_parts(ago, sigma_hours))
    if not up and soon < HOURS and _is_known(soon, sigma_hours):
        return say("Over level ground the Sun will rise at its middle in {span}.", **_span_parts(soon, sigma_hours))
    return None


def sets(crossings: Crossings, sigma_hours: float) -> Message | None:
    """How soon the Sun sets on its middle, or how long ago it did."""
    up, ago, soon = _is_up(crossings), -crossings.last_set, crossings.next_set
    if up and _is_known(soon, sigma_hours):
        return say("It will set there in {span}.", **_span_parts(soon, sigma_hours))
    if not up and ago < HOURS and _is_known(ago, sigma_hours):
        return say("Over level ground the Sun set at its middle {span} ago.", **_span_parts(ago, sigma_hours))
    return None


def _is_up(crossings: Crossings) -> bool:
    rise = crossings.last_rise if crossings.last_rise == crossings.last_rise else float("-inf")
    down = crossings.last_set if crossings.last_set == crossings.last_set else float("-inf")
    if rise == down:  # neither within the span searched: what comes next tells
        return crossings.next_set == crossings.next_set
    return rise > down


def _is_known(hours: float, sigma_hours: float) -> bool:
    """Whether a stretch of time can be told: it exists, and the time is known to an hour or a fifth of it."""
    return hours == hours and sigma_hours <= max(1.0, hours / 5)


def _span_parts(hours: float, sigma_hours: float) -> dict[str, Part]:
    return {"span": span(hours), "hours": Number(hours, 2), "sigma": Number(sigma_hours, 1)}


def span(hours: float) -> Message:
    """A stretch of time as a clause: "less than an hour", "about 7 hours", "3.4 days"."""
    if hours >= HOURS:
        return say("{days} days", days=Number(hours / 24, 1))
    if hours < 0.5:
        return say("less than an hour")
    return say_many("about an hour", "about {hours} hours", round(hours), hours=Number(round(hours)))


def visibility_note(one: Showing) -> Message | None:
    """How well it shows in this very picture."""
    value = Number(one.mark.seen, 2)
    if one.mark.seen >= CLEARLY:
        return say("In this picture it is clearly seen.", seen=value)
    if one.mark.seen >= WELL:
        return say("In this picture it is well seen.", seen=value)
    if one.mark.seen >= AT_ALL:
        return say("In this picture it can just be made out.", seen=value)
    return None
