"""The notes of one picture, put together: cautions first, then the Moon as a whole, then feature by feature.

    Annotation, time -> where the Sun stands -> how much of each feature shows -> sentences, themes

Where the time is known the ephemeris says where the Sun stands, else the picture's own light does, and nothing is said
that would need the clock. Nothing is said of a feature of which less than a twentieth is in the light and in the frame.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from moondesk.checks.evening import DEG_AN_HOUR, EPHEMERIS_DEG, time_to_state
from moondesk.drawing.style import AREA_KINDS
from moondesk.notes import moon_notes
from moondesk.notes.feature_notes import AT_ALL, FeatureLight, notes_on
from moondesk.notes.messages import Number, say
from moondesk.notes.records import Note, Notes, NotesNight, Showing
from moondesk.notes.sunlit_ground import is_shown, showing_of
from moondesk.notes.sunrise_times import crossings_of
from moondesk.notes.themes import themes_of
from moondesk.records import Annotation, ClockVerdict, NotFound, Pose, Status
from moondesk.shadows.heights import ShadowHeight

#: Features that are spoken of one by one.
FEATURES = 24
#: Of an uncertain placement nothing smaller than this is spoken of, km.
LARGE_KM = 200.0
#: A light that the picture tells without a sigma is taken as known to this, degrees.
UNTOLD_DEG = 1.0


@dataclass(frozen=True)
class Sun:
    """Where the Sun stands in the Moon's zenith, degrees, and how well that and the time are known."""

    lat_deg: float
    lon_deg: float
    known: FeatureLight


def sun_of(annotation: Annotation, when: datetime | None) -> Sun:
    """The Sun at the picture's time, or as its own light shows it. ValueError for a picture that is not placed."""
    pose = annotation.pose
    if pose is None:
        raise ValueError("only a placed picture has a light")
    if when is not None:
        hours = annotation.time.sigma_minutes / 60 if annotation.time is not None else 0.0
        light = moon_notes.light_at(when)
        return Sun(light.lat_deg, light.lon_deg, FeatureLight(math.hypot(EPHEMERIS_DEG, DEG_AN_HOUR * hours), hours))
    sigma = annotation.terminator.sigma_deg if annotation.terminator is not None else UNTOLD_DEG
    return Sun(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg,
               FeatureLight(sigma if math.isfinite(sigma) else UNTOLD_DEG, None))  # fmt: skip


def time_for_notes(annotation: Annotation, when: datetime | None) -> datetime | None:
    """The time, where it is known well enough for notes; else None."""
    return when if time_to_state(annotation) is not None else None


def list_showing(annotation: Annotation, sun: Sun) -> tuple[Showing, ...]:
    """What the picture shows in the light, the most striking and best seen first; of an unsure placement the large."""
    marks = [
        m
        for m in annotation.features
        if m.feature.parent is None
        and (annotation.sure or (m.feature.kind in AREA_KINDS and m.feature.size_km >= LARGE_KM))
    ]
    found = [s for s in showing_of(annotation, marks, sun.lat_deg, sun.lon_deg) if is_shown(s)]
    return tuple(sorted(found, key=lambda s: (-s.mark.seen * s.mark.prominence, s.mark.feature.name)))


def notes_of(
    annotation: Annotation,
    when: datetime | None,
    earlier: NotesNight | None = None,
    following: NotesNight | None = None,
    most: int = FEATURES,
    heights: Mapping[str, ShadowHeight] = MappingProxyType({}),
) -> Notes | NotFound:
    """What can be said of a placed picture; NotFound for one that is not placed, or shows an eclipse.

    when: when it was taken, None where nobody knows: then only the picture's own light speaks. earlier: the evening
    from which it is counted what has newly come into the light; following: the next evening; most: features that are
    spoken of one by one, of those that can be made out the most striking; heights: from shadows, by crater (see
    `moondesk.shadows`).
    """
    pose = annotation.pose
    if pose is None or annotation.terminator is None:
        if annotation.status == Status.ECLIPSE:
            return NotFound(
                "notes",
                "The Earth's shadow is on the Moon: what is dark here is not the Moon's night.",
                "Speak of the eclipse; the notes know nothing of it.",
            )
        return NotFound(
            "notes",
            annotation.reason or "The picture is not placed.",
            annotation.advice or "Place it by hand on its page.",
        )
    when = time_for_notes(annotation, when)
    sun = sun_of(annotation, when)
    shown = list_showing(annotation, sun)
    notes = [
        *cautions(annotation, when, sun),
        *moon_notes.phase(annotation, when),
        *moon_notes.edge(pose, sun.lat_deg, sun.lon_deg, sun.known),
    ]
    made_out = [s for s in shown if s.mark.seen >= AT_ALL]
    notes += moon_notes.along_edge(made_out)
    if when is not None:
        notes += _nights(pose, when, earlier, following, shown)
    notes += on_features(made_out[:most], sun, when, heights)
    return Notes(tuple(notes), shown, themes_of(annotation, shown, sun.lat_deg, sun.lon_deg))


def cautions(annotation: Annotation, when: datetime | None, sun: Sun) -> tuple[Note, ...]:
    """What is not sure, before anything is said."""
    said = []
    if not annotation.sure:
        said.append(say("It is not certain how the Moon lies in this picture: nothing is said of small features.",
                        least_km=Number(LARGE_KM)))  # fmt: skip
    if when is None:
        said.append(say("It is not known well enough when this picture was taken: nothing here depends on the time.",
                        sigma=Number(sun.known.sun_sigma_deg, 2)))  # fmt: skip
    elif annotation.time is not None and annotation.time.source == "picture":
        said.append(say("The time is worked out from the picture's own light, to about {minutes} minutes.",
                        minutes=Number(annotation.time.sigma_minutes)))  # fmt: skip
    elif annotation.clock.verdict == ClockVerdict.CANNOT_TELL:
        said.append(say("The time is as it was told or recorded; the picture cannot confirm it."))
    return tuple(Note("caution", s) for s in said)


def _nights(pose: Pose, when: datetime, earlier: NotesNight | None, following: NotesNight | None, shown: Sequence[Showing],
            ) -> list[Note]:  # fmt: skip
    notes = list(moon_notes.newly_lit(pose, when, earlier, shown)) if earlier is not None else []
    return notes + (list(moon_notes.say_next_evening(pose, when, following)) if following is not None else [])


def on_features(
    some: Sequence[Showing], sun: Sun, when: datetime | None, heights: Mapping[str, ShadowHeight] = MappingProxyType({})
) -> tuple[Note, ...]:
    """The sentences on each of these features, in their order."""
    crossings = (
        crossings_of([s.mark.feature.lat_deg for s in some], [s.mark.feature.lon_deg for s in some], when)
        if when is not None and some
        else (None,) * len(some)
    )
    return tuple(
        note
        for s, c in zip(some, crossings, strict=True)
        for note in notes_on(s, sun.known, c, heights.get(s.mark.feature.name))
    )
