"""What is handed over of the notes to speak from: sentences with what each is about, and themes with their features."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from moondesk.notes.messages import Message
from moondesk.records import FeatureMark

#: What a sentence tells. "caution": to be read before all others.
Topic = Literal[
    "caution",
    "phase",
    "edge",
    "new",
    "coming",
    "size",
    "share",
    "sun",
    "risen",
    "sets",
    "shadow",
    "rank",
    "namesake",
    "seen",
]


@dataclass(frozen=True)
class Note:
    """One sentence to speak. about: the feature's name as the IAU writes it; "" for the Moon as a whole."""

    topic: Topic
    said: Message
    about: str = ""


@dataclass(frozen=True)
class NotesNight:
    """An evening of the programme: its date, and the instant at which its Moon is looked at."""

    day: date
    utc: datetime


@dataclass(frozen=True, kw_only=True)
class Showing:
    """A feature that this picture shows in the light.

    Shares of its ground, 0..1, by area on the mean sphere: lit, where the Sun's upper edge is up; framed, inside the
    frame and on the side that is seen; shown, both. sun_deg: height of the Sun's centre at its centre.
    """

    mark: FeatureMark
    lit: float
    framed: float
    shown: float
    sun_deg: float


@dataclass(frozen=True)
class Theme:
    """A choice of what a picture shows.

    key: "group:choice" ("people:explorer"). places: name, latitude and longitude (degrees, east positive) of each
    member, in a good order for revealing them one by one on air. sentences: one on the whole, then on each in turn.
    """

    key: str
    title: Message
    places: tuple[tuple[str, float, float], ...]
    sentences: tuple[Message, ...]

    @property
    def features(self) -> tuple[str, ...]:
        """Names of the members in their order; landing sites are called by their missions."""
        return tuple(name for name, _, _ in self.places)


@dataclass(frozen=True)
class Notes:
    """All notes of one picture: those on the Moon as a whole, then feature by feature, the most striking first."""

    notes: tuple[Note, ...]
    showing: tuple[Showing, ...] = ()
    themes: tuple[Theme, ...] = ()

    @property
    def features(self) -> tuple[str, ...]:
        """Names of the features that something is said about, in their order."""
        return tuple(dict.fromkeys(n.about for n in self.notes if n.about))

    def about(self, name: str = "") -> tuple[Message, ...]:
        """The sentences on a feature; "": on the Moon as a whole."""
        return tuple(n.said for n in self.notes if n.about == name)
