"""What is said of the Moon as a whole: its phase, the edge of the light, what is newly in it, what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from moondesk.checks.statements import lit_fraction
from moondesk.comparison.changed_light import DARK, GAIN, LightAtPlace, changes
from moondesk.ephemeris.aspect import aspect_at
from moondesk.ephemeris.phases import phases_around
from moondesk.notes.feature_notes import FeatureLight as Known
from moondesk.notes.feature_notes import span
from moondesk.notes.messages import Listed, Message, Name, Number, Part, Term, say
from moondesk.notes.records import Note, NotesNight, Showing
from moondesk.notes.sunlit_ground import RELIEF_DIP_DEG, has_ground, sunlit_share
from moondesk.records import Annotation, Feature, Pose

#: Features named in one sentence.
NAMED = 8
#: Near the edge of the light: the Sun at most this high, degrees.
NEAR_DEG = 8.0
#: Between two evenings of which it is said what is new: hours. After longer ones it is another lunation's light.
LEAST_HOURS, MOST_HOURS = 3.0, 14 * 24.0


def phase(annotation: Annotation, when: datetime | None) -> tuple[Note, ...]:
    """How much is lit, and how long after the last principal phase this is.

    No age in days: the programme counts the days of the lunation by its own rule (`phases.day_number`), and two counts
    beside each other look like a fault.
    """
    lit = lit_fraction(annotation)
    assert lit is not None  # of a placed picture that shows no eclipse
    notes = [Note("phase", say("{percent} % of the Moon's disc is lit.", percent=Number(100 * lit)))]
    if when is not None:
        around = phases_around(when)
        last, coming = ((abs((when - p.utc).total_seconds()) / 3600) for p in (around.last, around.next))
        parts: dict[str, Part] = {
            "age": Number(around.age_days, 1), "last": Term(PHASES[around.last.kind]), "ago": span(last),
            "next": Term(PHASES[around.next.kind]), "soon": span(coming), "last_hours": Number(last, 2),
            "next_hours": Number(coming, 2)}  # fmt: skip
        notes.append(Note("phase", say("It is {ago} past {last}; {next} comes in {soon}.", **parts)))
    return tuple(notes)


PHASES = {"new": "new Moon", "first quarter": "first quarter", "full": "full Moon", "last quarter": "last quarter"}


def edge(pose: Pose, sun_lat_deg: float, sun_lon_deg: float, known: Known) -> tuple[Note, ...]:
    """Where the edge of the light crosses the equator, and whether the Sun rises or sets there.

    Of the two edges the one on the side that is seen; nothing where neither is well on it, as near full Moon.
    """
    best = min((sun_lon_deg - 90.0, sun_lon_deg + 90.0), key=lambda lon: abs(_turn(lon - pose.libration_lon_deg)))
    lon = _turn(best)
    if abs(_turn(lon - pose.libration_lon_deg)) > 80.0:
        return ()
    parts: dict[str, Part] = {
        "degrees": Number(abs(lon), 0 if known.sun_sigma_deg > 0.1 else 1),
        "colongitude": Number((90.0 - sun_lon_deg) % 360.0, 2), "sigma": Number(known.sun_sigma_deg, 2)}  # fmt: skip
    rising = _turn(lon - sun_lon_deg) < 0
    where = Term("east") if lon >= 0 else Term("west")
    if abs(lon) < 0.5:
        said = (
            say("The edge of the light runs along the zero meridian; the Sun is rising there.", **parts)
            if rising
            else say("The edge of the light runs along the zero meridian; the Sun is setting there.", **parts)
        )
    elif rising:
        said = say("On the equator the Sun is rising {degrees} degrees {side} of the zero meridian.", side=where,
                   **parts)  # fmt: skip
    else:
        said = say("On the equator the Sun is setting {degrees} degrees {side} of the zero meridian.", side=where,
                   **parts)  # fmt: skip
    return (Note("edge", said),)


def along_edge(showing: Sequence[Showing]) -> tuple[Note, ...]:
    """The most striking features near the edge of the light, from north to south."""
    near = [s for s in showing if abs(s.sun_deg) <= NEAR_DEG and s.mark.feature.size_km][:NAMED]
    if len(near) < 2:
        return ()
    near.sort(key=lambda s: -s.mark.feature.lat_deg)
    names = Listed(tuple(Name(s.mark.feature.name) for s in near))
    return (Note("edge", say("Near the edge of the light, from north to south: {names}.", names=names,
                             count=len(near))),)  # fmt: skip


def newly_lit(pose: Pose, when: datetime, earlier: NotesNight, showing: Sequence[Showing]) -> tuple[Note, ...]:
    """What of this picture has come into the light since an earlier evening."""
    hours = (when - earlier.utc).total_seconds() / 3600
    if not LEAST_HOURS <= hours <= MOST_HOURS:
        return ()
    shown = {s.mark.feature.name for s in showing}
    before, now = light_at(earlier.utc), light_at(when)
    gained, _ = changes(before, now, pose)
    mine = [c.feature for c in gained if c.feature.name in shown and _gains(c.feature, before, now)]
    fresh = [f for f in mine if _all_dark(f, before)][:NAMED]
    grown = sorted((f for f in mine if not _all_dark(f, before)), key=lambda f: _share(f, before) <= DARK)[:NAMED]
    evidence: dict[str, Part] = {"hours": Number(hours, 1)}
    notes = []
    if fresh:
        notes.append(say("On the evening of {day} all this was still in the dark, and has come into the light since: "
                         "{names}.", day=earlier.day, names=_names(fresh), **evidence))  # fmt: skip
    if grown:
        notes.append(say("Since the evening of {day} the light has spread over {names}.", day=earlier.day,
                         names=_names(grown), **evidence))  # fmt: skip
    return tuple(Note("new", said) for said in notes)


def say_next_evening(pose: Pose, when: datetime, following: NotesNight) -> tuple[Note, ...]:
    """What the next evening's Moon brings: its lit part, and what comes into the light until then, or leaves it."""
    hours = (following.utc - when).total_seconds() / 3600
    if not LEAST_HOURS <= hours <= MOST_HOURS:
        return ()
    lit = aspect_at(following.utc, None).illuminated_fraction
    said: list[Message] = [say("On the evening of {day} {percent} % of the disc will be lit.", day=following.day,
                            percent=Number(100 * lit), hours=Number(hours, 1))]  # fmt: skip
    now, then = light_at(when), light_at(following.utc)
    gained, lost = changes(now, then, pose)
    reached = [c.feature for c in gained if _gains(c.feature, now, then)][:NAMED]
    left = [c.feature for c in lost if _gains(c.feature, then, now) and _all_dark(c.feature, then)][:NAMED]
    if reached:
        said.append(say("By then the light will have spread over {names}.", names=_names(reached)))
    if left:
        said.append(say("By then the light will have left {names}.", names=_names(left)))
    return tuple(Note("coming", s) for s in said)


def _share(feature: Feature, light: LightAtPlace) -> float:
    return sunlit_share(feature, light.lat_deg, light.lon_deg)


def _all_dark(feature: Feature, light: LightAtPlace) -> bool:
    """Whether all of it is dark, its rim too; of what has no ground nobody knows."""
    return has_ground(feature) and sunlit_share(feature, light.lat_deg, light.lon_deg, RELIEF_DIP_DEG) <= DARK


def _gains(feature: Feature, before: LightAtPlace, after: LightAtPlace) -> bool:
    """Whether the ground itself gains light, not only the circle about it that `changes` asks."""
    return _share(feature, after) - _share(feature, before) >= GAIN


def light_at(when: datetime) -> LightAtPlace:
    """Where the Sun stands over the Moon at an instant."""
    sky = aspect_at(when, None)
    return LightAtPlace(sky.sub_solar_lat_deg, sky.sub_solar_lon_deg)


def _names(found: Sequence[Feature]) -> Listed:
    return Listed(tuple(Name(f.name) for f in found))


def _turn(degrees: float) -> float:
    return (degrees + 180.0) % 360.0 - 180.0
