"""An idea, its sources, what is spoken of it tonight and what is shown meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from moondesk.ideas.tonight import Tonight
from moondesk.notes.messages import Message
from moondesk.records import NotFound

#: What the screen shows under some sentences. "lines": directions, equator and zero meridian; "spotlight": one feature.
Screen = Literal["as sent", "turned", "lines", "spotlight"]


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where an idea's facts stand."""

    author: str
    title: str
    year: int


@dataclass(frozen=True)
class Part:
    """Sentences, and what is shown while they are spoken. feature: what the spotlight lies on; "" otherwise."""

    screen: Screen
    said: tuple[Message, ...]
    feature: str = ""


@dataclass(frozen=True, kw_only=True)
class Telling:
    """An idea as it is told tonight. short: about 30 seconds; long: 60 to 75, the short telling and what goes on from it.

    merit: how well this evening serves it, 0..1, comparable between the evenings of one idea and between ideas.
    """

    merit: float
    short: tuple[Part, ...]
    more: tuple[Part, ...]

    @property
    def long(self) -> tuple[Part, ...]:
        return self.short + self.more


@dataclass(frozen=True, kw_only=True)
class Idea:
    """One idea. days: ages of the Moon, in days, between which a picture may show it; tell: what is said of it tonight,
    or why nothing can be; whole: it wants the whole disc in the frame."""

    key: str
    title: Message
    days: tuple[float, float]
    tell: Callable[[Tonight], Telling | NotFound]
    sources: tuple[Source, ...]
    whole: bool = False


def part(screen: Screen, *said: Message) -> Part:
    return Part(screen, said)


def spot(feature: str, *said: Message) -> Part:
    return Part("spotlight", said, feature)


def cannot(reason: str, advice: str = "Keep it for another evening.") -> NotFound:
    """Why tonight's picture cannot carry an idea."""
    return NotFound("idea", reason, advice)
