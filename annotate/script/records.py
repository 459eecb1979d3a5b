"""What an episode is made from, the passages that may be said in it, and the script that comes of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from moondesk.ideas.tonight import Tonight
from moondesk.notes.messages import Message
from moondesk.notes.records import NotesNight
from moondesk.records import Annotation, NotFound, Place

#: The items of an episode, in the order in which most evenings have them.
ItemKind = Literal[
    "opening", "recap", "pictures", "directions", "idea", "tour", "hidden", "tomorrow", "call", "farewell"
]

#: What a mark in the text puts on air. "light": one feature, the rest dimmed; "close": a close-up of it; "name": its name
#: is revealed; "tomorrow": the picture in tomorrow's light, said to be a rendering; "nothing": the output goes blank.
Show = Literal["as sent", "turned", "named", "lines", "light", "close", "name", "tomorrow", "credit", "nothing"]


@dataclass(frozen=True, kw_only=True)
class Cue:
    """A mark in the text. picture: its number in the episode, 1, 2 ...; 0: the one that stands. feature: what it is
    about, the IAU's name; "" for none."""

    show: Show
    picture: int = 0
    feature: str = ""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One sentence, what it tells, and what is put on air as it begins.

    facts: keys by which it is remembered what was told, "topic:subject" ("size:Clavius", "idea:rays", "new:Tycho",
    "people:Plato"), so that nothing is told as new twice; none for courtesies.
    """

    said: Message
    facts: tuple[str, ...] = ()
    cue: Cue | None = None


@dataclass(frozen=True, kw_only=True)
class Passage:
    """Lines that are spoken together or not at all.

    ways: the same content in other words, the best first; each way tells the same facts. worth: 0..1, how much the
    episode loses without it; must: it is never left out. key: what it is, unique within the episode ("tour:Clavius");
    after: key of the passage without which it makes no sense.
    """

    key: str
    ways: tuple[tuple[Line, ...], ...]
    worth: float = 0.5
    must: bool = False
    after: str = ""


@dataclass(frozen=True, kw_only=True)
class EpisodePicture:
    """One of the evening's pictures, in the order in which they go on air.

    credit: as its sender wishes to be named; "" where no name is to be said. about: what it shows, or why that cannot be
    told. simple: made with a phone alone, binoculars, or a telescope that a beginner has; instrument: in words as
    "90 mm Maksutov", "" unknown. newcomer: nothing of this sender was on air before. story: what the presenter may tell,
    in the sender's or the presenter's own words. chosen: why it was picked, in whole sentences.
    """

    number: int
    credit: str
    about: Tonight | NotFound
    annotation: Annotation
    when: datetime | None
    place: Place | None = None
    place_name: str = ""
    instrument: str = ""
    simple: bool = False
    phone: bool = False
    newcomer: bool = False
    child: bool = False
    story: str = ""
    chosen: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Told:
    """An episode that was on air. facts: of all its lines; sentences and templates: as spoken, and their wording;
    shown: names of the features that a light, a close-up or a name pointed at; idea: key of the idea told; "" none."""

    number: int
    day: date
    utc: datetime | None
    facts: frozenset[str] = frozenset()
    sentences: frozenset[str] = frozenset()
    templates: frozenset[str] = frozenset()
    shown: frozenset[str] = frozenset()
    idea: str = ""


@dataclass(frozen=True, kw_only=True)
class Episode:
    """What is known of an episode before a word of it is written.

    number: the edition's; day, utc: its evening, and the instant at which its Moon is looked at; sky: the Moon then, with
    or without a picture (`predict_tonight`); lead: number of the picture that carries the tour, 0 where none can;
    before, following: the programme's evenings around it; history: episodes on air so far, the oldest first; programme:
    its name; country: whose distances are compared with.
    """

    number: int
    programme: str
    day: date
    utc: datetime
    sky: Tonight
    pictures: tuple[EpisodePicture, ...] = ()
    lead: int = 0
    before: NotesNight | None = None
    following: NotesNight | None = None
    history: tuple[Told, ...] = ()
    idea: str = ""

    @property
    def lead_picture(self) -> EpisodePicture | None:
        return next((p for p in self.pictures if p.number == self.lead), None)

    @property
    def about(self) -> Tonight:
        """The Moon that is spoken of: as the lead picture shows it, else as it is that evening."""
        lead = self.lead_picture
        return lead.about if lead is not None and isinstance(lead.about, Tonight) else self.sky

    def told(self, fact: str, last: int | None = None) -> Told | None:
        """The newest episode that told a fact, of the last so many; None where none did."""
        some = self.history if last is None else self.history[-last:] if last else ()
        return next((t for t in reversed(some) if fact in t.facts), None)


@dataclass(frozen=True, kw_only=True)
class ScriptItem:
    """One item of the running order with its text. seconds: by its words at the rate that the script was made for."""

    kind: ItemKind
    title: Message
    paragraphs: tuple[tuple[Line, ...], ...]
    words: int
    seconds: float

    @property
    def lines(self) -> tuple[Line, ...]:
        return tuple(line for paragraph in self.paragraphs for line in paragraph)


@dataclass(frozen=True, kw_only=True)
class Script:
    """items: in order; left: keys of passages for which there was no time, the most worth first."""

    items: tuple[ScriptItem, ...]
    left: tuple[str, ...] = ()
    idea: str = ""

    @property
    def lines(self) -> tuple[Line, ...]:
        return tuple(line for item in self.items for line in item.lines)

    @property
    def words(self) -> int:
        return sum(item.words for item in self.items)

    @property
    def seconds(self) -> float:
        return sum(item.seconds for item in self.items)


@dataclass(frozen=True, kw_only=True)
class OrderTemplate:
    """A running order. shares: each item's part of the time, 0..1, in the order of the items; days: ages of the Moon in
    days between which it is the usual one."""

    name: str
    days: tuple[float, float]
    shares: Mapping[ItemKind, float] = field(default_factory=dict)
